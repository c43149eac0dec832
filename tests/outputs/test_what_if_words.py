"""What another circumstance would change, in words."""

from __future__ import annotations

import json
from typing import Any

import pytest

from fruitcast.outputs.what_if_words import (
    WIDTH,
    Compared,
    TriedOut,
    is_better,
    verdict_words,
    what_if_text,
)


def compared(before: list[str], after: list[str], width: int = WIDTH) -> str:
    side: dict[str, Any] = {
        "tank_logs": 60,
        "places": None,
        "demand_kg": 10.0,
        "missing_kg": 2.0,
        "soaks": 1,
        "logs_soaked": 20,
    }
    outlets = [{"outlet": "Market", "present_kg": 8.0, "other_kg": 8.5}]
    soaks = [{"stack": "A", "present": before, "other": after}]
    found = {"present": side, "other": side, "outlets": outlets, "soaks": soaks}
    tried = {"today": "2027-05-03", "units": "metric", "compared": found, "worth": None}
    return what_if_text(TriedOut.model_validate_json(json.dumps(tried)), width)


def test_lots_that_go_in_on_one_day_are_counted() -> None:
    text = compared(["2027-06-22"], ["2027-06-22", "2027-06-22", "2027-06-25"])
    assert "  A: Tue 22 Jun -> Tue 22 Jun (2 lots), Fri 25 Jun\n" in text


def test_a_long_list_is_broken_between_days_and_set_in() -> None:
    days = [f"2027-07-{day:02d}" for day in range(1, 29)]
    text = compared([], days)
    first, *more = text.partition("Soaks that would move:\n")[2].partition("\n\n")[0].splitlines()
    assert first.startswith("  A: none -> Thu 1 Jul, Fri 2 Jul")
    assert more and all(line.startswith("      ") for line in more)
    assert all(len(line) <= WIDTH for line in (first, *more))
    # Each day stands whole on one line, and no blank is left that isn't an ordinary one.
    for line in more:
        name, number, month = line.split(",")[0].split()
        assert name.isalpha() and number.isdigit() and month == "Jul"
    assert "\N{NO-BREAK SPACE}" not in text


def test_in_a_narrow_window_nothing_is_wider_than_it() -> None:
    text = compared([], [f"2027-07-{day:02d}" for day in range(1, 29)], width=48)
    assert max(map(len, text.splitlines())) <= 48
    assert "Missing, mean of years" in text


@pytest.mark.parametrize(
    ("tank", "demand", "missing", "better", "words"),
    [
        (120, 100.0, 20.0, True, "Better: 10.0 kg more is sold over the season."),
        (60, 100.0, 40.0, False, "Worse: 10.0 kg less is sold over the season."),
        (
            *(120, 100.0, 30.3, False),
            "Next to no difference: 300 g less is sold over the season, and two plans for one yard "
            "may differ by as much. It is not the tank that holds the yard back.",
        ),
        (60, 100.0, 30.0, False, "No difference: as much is sold as now."),
        (
            *(60, 140.0, 60.0, True),
            "10.0 kg more is sold over the season, where 40.0 kg more is wanted.",
        ),
    ],
)
def test_whether_it_is_better_is_said(
    tank: int, demand: float, missing: float, better: bool, words: str
) -> None:
    side: dict[str, Any] = {"tank_logs": 60, "places": None, "soaks": 1, "logs_soaked": 20}
    found = Compared.model_validate_json(
        json.dumps(
            {
                "present": {**side, "demand_kg": 100.0, "missing_kg": 30.0},
                "other": {**side, "tank_logs": tank, "demand_kg": demand, "missing_kg": missing},
                "outlets": [],
                "soaks": [],
            }
        )
    )
    assert verdict_words(found, "metric") == words
    assert is_better(found) is better
