"""Many years: in processes, resumed from what is kept, and never from what has changed."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from fruitcast.app import hindcast as hindcast_module
from fruitcast.app import hindcast_years as years_module
from fruitcast.app.hindcast import FORESIGHT, NINE_WEEK, PLAN, POLICIES, WEATHER
from fruitcast.app.hindcast_years import (
    CAUTION,
    OTHER_TRUTHS,
    Workers,
    hindcast_document,
    hindcast_years,
    inputs_digest,
)
from fruitcast.hindcast.scores import SeasonScore
from fruitcast.outputs.evidence_words import Hindcast, hindcast_table
from tests.hindcast.small_yard import PARAMS, small_yard, with_yard

SHORT = replace(PARAMS, weeks=4)
KNOWN = small_yard(3, SHORT.weeks)
YEARS = KNOWN.years[-2:]


@pytest.fixture
def lived(monkeypatch):
    """Return the years that are lived through from now on, with scores of no effort."""
    seen: list[tuple[int, tuple[str, ...]]] = []

    def quick(known, year, params):
        seen.append((year, params.policies))
        return [
            SeasonScore(
                year, policy, 10.0, {PLAN: 8.0, NINE_WEEK: 6.0}.get(policy, 9.0), 0, 0, (), ()
            )
            for policy in params.policies
        ]

    monkeypatch.setattr(years_module, "hold_out", quick)
    return seen


def test_processes_give_what_one_process_gives(tmp_path) -> None:
    told = []
    few = replace(SHORT, policies=(PLAN, NINE_WEEK))
    apart = hindcast_years(KNOWN, YEARS, few, Workers(tmp_path, 2), told.append)
    assert list(apart) == list(YEARS)
    assert told == [0, 1, 2]
    assert hindcast_years(KNOWN, YEARS, few, Workers(processes=1)) == apart
    again = hindcast_years(KNOWN, YEARS, few, Workers(tmp_path, 1))
    assert again == apart


def test_finished_years_are_not_lived_through_again(tmp_path, lived) -> None:
    hindcast_years(KNOWN, YEARS[:1], SHORT, Workers(tmp_path, 1))
    first = hindcast_years(KNOWN, YEARS, SHORT, Workers(tmp_path, 1))
    assert [year for year, _ in lived] == list(YEARS)
    assert hindcast_years(KNOWN, YEARS, SHORT, Workers(tmp_path, 1)) == first
    assert len(lived) == 2


def test_a_stop_keeps_what_was_finished(tmp_path, monkeypatch, lived) -> None:
    quick = years_module.hold_out

    def until(known, year, params):
        if year == YEARS[1]:
            raise KeyboardInterrupt
        return quick(known, year, params)

    monkeypatch.setattr(years_module, "hold_out", until)
    with pytest.raises(KeyboardInterrupt):
        hindcast_years(KNOWN, YEARS, SHORT, Workers(tmp_path, 1))
    monkeypatch.setattr(years_module, "hold_out", quick)
    hindcast_years(KNOWN, YEARS, SHORT, Workers(tmp_path, 1))
    assert [year for year, _ in lived] == list(YEARS)


@pytest.mark.long  # 18 seasons; test_command stops and goes on with three
def test_stopped_and_taken_up_again_it_comes_to_the_same_bytes(tmp_path, monkeypatch) -> None:
    """Seasons read from what was kept and seasons lived through make one document."""
    asked = 2, 1
    whole = hindcast_document(KNOWN, SHORT, *asked, Workers(processes=1)).json_text()
    lives, seen, told = years_module.hold_out, [], []

    def until(stop):
        def hold_out(known, year, params):
            if len(seen) == stop:
                raise KeyboardInterrupt
            seen.append((year, params.truth, params.learning))
            return lives(known, year, params)

        return hold_out

    for stop in (1, 3):
        monkeypatch.setattr(years_module, "hold_out", until(stop))
        with pytest.raises(KeyboardInterrupt):
            hindcast_document(KNOWN, SHORT, *asked, Workers(tmp_path, 1))
        assert len(seen) == stop
    monkeypatch.setattr(years_module, "hold_out", until(-1))
    found = hindcast_document(
        KNOWN, SHORT, *asked, Workers(tmp_path, 1), lambda *news: told.append(news)
    )
    assert found.json_text() == whole
    assert len(seen) == len(set(seen)) == 2 + 7
    assert [(done, total) for _, done, total in told if done] == sorted(
        (done, total) for _, done, total in told if done
    )
    assert told[0][1:] == (2, 9) and told[-1][1:] == (9, 9)


def test_what_changes_the_result_changes_the_digest() -> None:
    digest = inputs_digest(KNOWN, SHORT)
    assert digest == inputs_digest(KNOWN, SHORT)
    values = {name: column.copy() for name, column in KNOWN.weather.values.items()}
    values["rain"][100] += 1.0
    others = [
        inputs_digest(KNOWN, replace(SHORT, forecast_days=3)),
        inputs_digest(KNOWN, replace(SHORT, truth=replace(SHORT.truth, yield_factor=0.7))),
        inputs_digest(with_yard(KNOWN, saleable=0.8), SHORT),
        inputs_digest(replace(KNOWN, weather=replace(KNOWN.weather, values=values)), SHORT),
        inputs_digest(replace(KNOWN, years=KNOWN.years[1:]), SHORT),
        inputs_digest(
            replace(KNOWN, numbers=KNOWN.numbers.with_overrides({"schedule.soak_price": 0.02})),
            SHORT,
        ),
    ]
    assert len({digest, *others}) == 7
    moved = with_yard(KNOWN, folder=KNOWN.yard.folder / "elsewhere", warnings=("other words",))
    assert inputs_digest(moved, SHORT) == digest


def test_kept_seasons_hold_for_the_code_that_lives_through_them() -> None:
    hindcast = Path(str(hindcast_module.__file__)).read_text(encoding="utf-8")
    used = set(re.findall(r"from fruitcast\.(app\.\w+) import", hindcast))
    # What a yard is known to be is looked at itself.
    modules = {name.replace(".", "/") + ".py" for name in used - {"app.known"}}
    assert modules and modules <= set(years_module._MODEL)


def test_the_document_sets_policies_side_by_side_under_every_truth(lived) -> None:
    found = hindcast_document(KNOWN, SHORT, 3, 2, Workers(processes=1))
    assert Hindcast.model_validate_json(found.json_text()) == found
    document = found.plain()
    assert document["caution"] == CAUTION
    assert document["years"] == list(KNOWN.years[-3:])
    assert document["members"] == len(KNOWN.years) - 1
    truths = [(result["truth"], result["learning"]) for result in document["results"]]
    believed = "as the planner believes"
    assert truths == [
        (believed, True),
        (believed, False),
        *((words, learning) for words in OTHER_TRUTHS for learning in (True, False)),
    ]
    for result in document["results"]:
        by_name = {policy["policy"]: policy for policy in result["policies"]}
        expected = [p for p in POLICIES if p != WEATHER or result["truth"] == believed]
        assert list(by_name) == expected
        assert by_name[PLAN]["way_to_foresight"] == pytest.approx(2 / 3)
        assert by_name[NINE_WEEK]["way_to_foresight"] == 0
        assert by_name[FORESIGHT]["way_to_foresight"] == 1
    # With learning off only the planner does something else.
    off = [policies for _, policies in lived if policies == (PLAN,)]
    assert len(off) == 2 * (1 + len(OTHER_TRUTHS))


def test_asking_for_more_years_than_there_are_is_told(lived) -> None:
    document = hindcast_document(KNOWN, SHORT, 99, 0, Workers(processes=1)).plain()
    assert document["years"] == list(KNOWN.years)
    assert any("99 were asked for" in warning for warning in document["warnings"])


def test_the_table_says_what_it_is_worth(lived) -> None:
    from rich.console import Console

    document = hindcast_document(KNOWN, SHORT, 3, 2, Workers(processes=1))
    for width in (60, 160):
        console = Console(width=width)
        with console.capture() as capture:
            console.print(hindcast_table(document))
        text = capture.get()
        assert "the model judges itself" in " ".join(text.split())
        assert "yield 30 % lower, planner not learning" in text
        assert all(len(line) <= width for line in text.splitlines())
        for policy in POLICIES:
            assert text.count(policy) >= (2 if policy == WEATHER else 8)
        assert "67%" in text
