"""When an upgrade or the grower's own numbers change the model, 'plan' says so and what it does."""

from __future__ import annotations

import json
from datetime import date

import pytest

import fruitcast
from fruitcast.app.changed_model import MODEL
from fruitcast.diary.book import Diary
from tests.cli.running import TODAY, done

QUICK = ("--weeks", 4)
KEY = "schedule.rest_days"


def plan(folder, *words, today=TODAY):
    return done("--yard", folder, "--today", today, "plan", *QUICK, *words)


def override(folder, value):
    file = folder / "yard.toml"
    text = file.read_text(encoding="utf-8").split("\n[numbers]")[0]
    file.write_text(f'{text}\n[numbers]\n"{KEY}" = {value}\n', encoding="utf-8")


@pytest.fixture
def planned(small):
    assert json.loads(plan(small, "--json").out)["model_change"] is None
    return small


def test_nothing_is_said_while_the_model_is_the_same(planned):
    done("--yard", planned, "--today", TODAY, "record", "note", "A", "bark", "peels")
    assert plan(planned, "--json", today="2027-05-04").document["model_change"] is None
    assert "model has changed" not in plan(planned, today="2027-05-04").out


def test_numbers_of_the_growers_own_are_named_with_what_they_do(planned):
    before = json.loads((planned / "out" / "plan.json").read_text("utf-8"))
    override(planned, 49)
    after = plan(planned, "--json").document
    change = after["model_change"]
    assert change["numbers"] == [{"key": KEY, "before": 63.0, "after": 49.0, "own": True}]
    for name, document in (("before", before), ("after", after)):
        whole = sum(soak["expected_kg"] for soak in document["soaks"])
        assert change[f"expected_kg_{name}"] == pytest.approx(whole)
    firsts = [
        {stack: min(s["soak_on"] for s in p["soaks"] if s["stack"] == stack) for stack in stacks}
        for p in (before, after)
        for stacks in [{s["stack"] for s in p["soaks"]}]
    ]
    differ = {
        s for s in firsts[0].keys() | firsts[1].keys() if firsts[0].get(s) != firsts[1].get(s)
    }
    assert {soak["stack"] for soak in change["next_soaks"]} == differ


def test_planning_again_says_it_again_to_the_letter_and_recording_ends_it(planned):
    override(planned, 49)
    first = plan(planned)
    kept = (planned / "out" / "plan.json").read_bytes()
    assert f"{KEY} is 49, was 63" in " ".join(first.out.split())
    assert plan(planned).out == first.out
    assert (planned / "out" / "plan.json").read_bytes() == kept
    done("--yard", planned, "--today", TODAY, "record", "note", "A", "bark", "peels")
    assert "model has changed" not in plan(planned).out


def test_an_upgrade_is_named_even_on_the_day_of_the_plan(planned, monkeypatch):
    monkeypatch.setattr("fruitcast.app.changed_model.__version__", "9.1.0")
    monkeypatch.setattr("fruitcast.app.publication.__version__", "9.1.0")
    said = " ".join(plan(planned).out.split())
    assert f"The program was upgraded from {fruitcast.__version__} to 9.1.0." in said
    assert "Every next soak is as it was." in said


def test_numbers_that_came_with_the_program_are_named_as_its_own(planned):
    with Diary(planned / "diary.db") as diary:
        model = json.loads(diary.latest_document(MODEL))
    model["numbers"] |= {KEY: 56.0, "forced.gone": 3.0}
    del model["numbers"]["natural.longest_days"]
    keep(planned, json.dumps(model))
    change = plan(planned, "--json", today="2027-05-04").document["model_change"]
    changed = {number["key"]: (number["before"], number["after"]) for number in change["numbers"]}
    assert changed.pop("natural.longest_days")[0] is None
    assert changed == {KEY: (56.0, 63.0), "forced.gone": (3.0, None)}
    assert not any(number["own"] for number in change["numbers"])
    assert change["since"] == TODAY


@pytest.mark.parametrize("text", ["[]", '{"version": 3}'])
def test_a_kept_model_that_cannot_be_read_is_passed_over(planned, text):
    keep(planned, text)
    assert plan(planned, "--json", today="2027-05-04").document["model_change"] is None


def keep(folder, text):
    with Diary(folder / "diary.db") as diary:
        diary.save_document(MODEL, date.fromisoformat(TODAY), text)
