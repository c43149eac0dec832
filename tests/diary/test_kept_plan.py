"""Plans kept in the diary: a whole one is read, of a damaged one it is said what is wrong."""

from __future__ import annotations

import json
from datetime import date

import pytest

from fruitcast.diary.kept_plan import Background, DamagedPlanError, kept_background, kept_plan
from fruitcast.diary.plan import Plan
from tests.outputs.sample_plan import document, plan


def test_a_plan_is_read_as_it_was_kept():
    assert kept_plan(json.dumps(document())) == plan()


def test_a_plan_that_lacks_what_came_later_is_read_and_written_whole():
    read = Plan.model_validate_json(json.dumps(document()))
    assert read.soaks[0].soak_on == date.fromisoformat(document()["soaks"][0]["soak_on"])
    written = json.loads(read.json_text())
    assert set(written) == set(Plan.json_schema()["required"])
    assert "cover" not in written["soaks"][0]
    assert Plan.model_validate_json(read.json_text()) == read


def changed(place: str, value: object) -> str:
    changed = document()
    holder = changed
    *way, last = [int(part) if part.isdigit() else part for part in place.split()]
    for key in way:
        holder = holder[key]
    holder[last] = value
    return json.dumps(changed)


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("{", r"it: invalid JSON: .* line 1"),
        ("[" * 5000, r"it: invalid JSON: recursion limit exceeded"),
        ("[]", r"it: input should be an object"),
        ("{}", r"today is missing"),
        (changed("soaks", 3), r"soaks: input should be a valid array"),
        (changed("soaks 1 pick p50", None), r"soaks 2 pick p50: input should be a valid date"),
        (
            changed("soaks 0 soak_on", "9999-12-31"),
            r"soaks 1 soak_on: input should be less than 2300-01-01",
        ),
        (changed("soaks 0 logs", True), r"soaks 1 logs: input should be a valid integer"),
        (changed("soaks 0 hours", float("nan")), r"soaks 1 hours is not a number, or too"),
        (changed("soaks 0 cover", {"from": "2027-05-10"}), r"soaks 1 cover to is missing"),
        (changed("outlets 1 chance", "x"), r"outlets 2 chance is not a number, or too"),
        (
                changed("goes_by", {"soaks": [{"stack": "A"}], "stacks": ["A"]}),
                r"goes_by soaks 1 soak_on is missing",
            ),
            (changed("goes_by", {"soaks": []}), r"goes_by stacks is missing"),
        (changed("seed", float("inf")), r"seed: input should be a valid integer"),
        (changed("seed", "\ud800"), r"it: invalid JSON: unexpected end of hex escape"),
    ],
)  # fmt: skip
def test_what_is_wrong_with_a_damaged_plan_is_said_with_the_remedy(text, problem):
    with pytest.raises(
        DamagedPlanError,
        match=rf"^The published plan kept in the diary cannot be read \(({problem}).*\)\. "
        "'fruitcast plan' publishes a new one",
    ):
        kept_plan(text)


def test_a_damaged_background_is_none():
    whole = {"stacks": [{"stack": "A", "state": "resting"}], "years": [1990]}
    found = kept_background(json.dumps(whole))
    assert (found.stacks[0].state, found.years) == ("resting", (1990,))
    for damaged in ("{", "[]", '{"stacks": 1}', '{"plan_made_at": "2027-05-03"}', '{"years": "x"}'):
        assert kept_background(damaged) == Background()
