"""What a plan says where nothing is sold."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from fruitcast.outputs.plan_words import table_words
from tests.outputs.sample_plan import TODAY, plan, yard


def week(number: int, mean: float, low: float, high: float) -> dict[str, Any]:
    first = TODAY + timedelta(weeks=number)
    return {
        "first": first.isoformat(),
        "last": (first + timedelta(days=6)).isoformat(),
        "expected_kg": mean,
        "p10_kg": low,
        "p90_kg": high,
        "most_kg": 0.45,
    }


def told(*weeks: dict[str, Any], **parts: Any) -> dict[str, tuple[str, ...]]:
    found = table_words(plan(table=weeks, **parts), yard(units="metric"))
    return {each.title: each.lines for each in found}


def test_small_chances_spread_over_weeks_are_not_said_to_be_nothing() -> None:
    weeks = [week(0, 0.3, 0.1, 0.4), week(1, 0.09, 0.0, 0.3), week(2, 0.05, 0.0, 0.1)]
    (_, others) = told(*weeks)["For the table"]
    assert others.startswith("The other weeks to Sun 23 May bring less than 100 g each on average")
    (only,) = told(*weeks[1:])["For the table"]
    assert only.startswith("All weeks to Sun 23 May bring less than 100 g each on average")
    assert len(told(weeks[0])["For the table"]) == 1


def test_the_most_that_is_counted_is_named_as_the_plan_s_own() -> None:
    full = "The plan counts no more than 450 g for one week"
    assert told(week(0, 0.3, 0.1, 0.45))["For the table"][-1].startswith(full)
    assert not any("counts" in line for line in told(week(0, 0.3, 0.1, 0.4))["For the table"])


def test_stock_is_what_of_it_is_good() -> None:
    # Of a pick that tells of no loss, the saleable share is on hand.
    assert told(week(0, 0.3, 0.3, 0.3))["For the table"] == (
        "3 to 9 May: 300 g of good ones, on hand.",
    )


def test_one_year_of_ten_is_one_year() -> None:
    season = {
        "season": "autumn",
        "strain_class": "wide-range",
        "stacks": ["A"],
        "chance": 0.04,
        "first_pick": dict.fromkeys(("p10", "p50", "p90"), "2027-09-28"),
        "expected_kg": 1.0,
    }
    (line,) = told(natural_seasons=[season])["What comes by itself"]
    assert line.startswith("An autumn flush of A (wide-range) comes in 1 year of 10, ")
