"""What another circumstance would change, in words."""

from __future__ import annotations

import json
from typing import Any

from fruitcast.outputs.what_if_words import WIDTH, TriedOut, what_if_text


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
