"""Days on which a small yard may soak, and its sales in their order."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from fruitcast.numbers import default_numbers
from fruitcast.soaks.problem import OutletDay
from fruitcast.soaks.sale_days import TABLE, outlet_days, table_days, with_promised
from fruitcast.soaks.soak_days import is_away, may_soak, next_soak_date, soak_dates
from fruitcast.yard.model import Away, Order, Outlet
from tests.soaks.test_rules import YARD

# The yard soaks on Tuesdays and Fridays from 15 April to 20 October, and is away 1 to 5 June.


def soaking(**changes: Any) -> Any:
    return replace(YARD, soaking=replace(YARD.soaking, **changes))


def test_soak_days_are_those_of_the_week_in_season_and_at_home() -> None:
    assert soak_dates(YARD, date(2027, 5, 24), 2) == [
        date(2027, 5, 25),
        date(2027, 5, 28),
    ]
    # Two weeks hold their fourteenth day and not the fifteenth: Friday 11 June, Tuesday 15 June.
    assert soak_dates(YARD, date(2027, 6, 1), 2) == [date(2027, 6, 8), date(2027, 6, 11)]
    assert soak_dates(YARD, date(2027, 6, 2), 2)[-1] == date(2027, 6, 15)
    assert [is_away(YARD, date(2027, 6, day)) for day in (1, 5, 6)] == [True, True, False]
    assert not may_soak(YARD, date(2027, 6, 4))
    assert not may_soak(YARD, date(2027, 6, 9))


def test_the_next_soak_day_is_the_first_past_the_horizon() -> None:
    # Three weeks from Tuesday 4 May end before Tuesday 25 May.
    assert next_soak_date(YARD, date(2027, 5, 4), 3) == date(2027, 5, 25)
    assert next_soak_date(YARD, date(2027, 5, 5), 3) == date(2027, 5, 28)
    # The season's last week is over: the next one begins on 15 April, the first Tuesday is the 18.
    assert next_soak_date(YARD, date(2027, 10, 1), 3) == date(2028, 4, 18)
    # A season that has ended for good has none: the end of the horizon stands for it.
    over = soaking(first=date(2026, 4, 1), last=date(2026, 9, 1))
    assert next_soak_date(over, date(2027, 5, 4), 3) == date(2027, 5, 25)


def test_two_years_on_a_soak_day_is_still_found_and_later_ones_are_not_looked_for() -> None:
    later = soaking(first=date(2029, 7, 1), last=None)
    assert next_soak_date(later, date(2027, 5, 4), 3) == date(2029, 7, 3)
    gone = replace(YARD, away=(Away(date(2027, 1, 1), date(2040, 1, 1)),))
    assert next_soak_date(gone, date(2027, 5, 4), 3) == date(2027, 5, 25)


def test_sales_come_by_day_then_by_weight_then_by_name() -> None:
    def outlet(name: str, weight: float) -> Outlet:
        return Outlet(name, 5, 3.0, None, None, None, weight, frozenset())

    yard = replace(
        YARD,
        outlets=(outlet("Stall", 1.0), outlet("Inn", 2.0), outlet("Cook", 1.0)),
        orders=(
            Order("Wedding", date(2027, 5, 8), 2.0, None, 1.5),
            Order("Today", date(2027, 5, 3), 1.0, None, 1.0),
            Order("Yesterday", date(2027, 5, 2), 1.0, None, 1.0),
            Order("Last", date(2027, 5, 9), 1.0, None, 1.0),
            Order("Too late", date(2027, 5, 10), 1.0, None, 1.0),
        ),
    )
    # Seven days from Monday 3 May; the Saturday is the fifth.
    assert outlet_days(yard, date(2027, 5, 3), 7) == (
        OutletDay("Today", 0, 1.0, 1.0),
        OutletDay("Inn", 5, 3.0, 2.0),
        OutletDay("Wedding", 5, 2.0, 1.5),
        OutletDay("Cook", 5, 3.0, 1.0),
        OutletDay("Stall", 5, 3.0, 1.0),
        OutletDay("Last", 6, 1.0, 1.0),
    )
    assert [sale.outlet for sale in outlet_days(yard, date(2027, 5, 3), 5)] == ["Today"]


def test_the_promised_part_of_a_sale_counts_more_and_the_rest_as_ever() -> None:
    today = date(2027, 5, 3)
    sales = (OutletDay("Stall", 2, 4.0, 1.0), OutletDay("Inn", 5, 3.0, 2.0))

    def promised(*given: tuple[str, int, float]) -> dict[tuple[str, int], tuple[float, float]]:
        told = [(to, today + timedelta(days=day), kg) for to, day, kg in given]
        found = with_promised(sales, told, today, 7, promised_weight=5.0)
        assert list(found) == sorted(found, key=lambda o: (o.day, -o.weight, o.outlet))
        return {(one.outlet, one.day): (one.target, one.weight) for one in found}

    usual = {("Stall", 2): (4.0, 1.0), ("Inn", 5): (3.0, 2.0)}
    assert promised() == usual
    # One of 4 kg counts five times, the other three once: twice in the mean.
    assert promised(("Stall", 2, 1.0)) == usual | {("Stall", 2): (4.0, 2.0)}
    assert promised(("Stall", 2, 4.0)) == usual | {("Stall", 2): (4.0, 5.0)}
    # Who was promised more than is usual wants more; a sale that counts double does so as well.
    assert promised(("Inn", 5, 6.0)) == usual | {("Inn", 5): (6.0, 10.0)}
    assert promised(("Inn", 5, 1.5)) == usual | {("Inn", 5): (3.0, 6.0)}
    # A neighbour is no outlet, and an outlet none on another day.
    assert promised(("Neighbour", 5, 0.5)) == usual | {("Neighbour", 5): (0.5, 5.0)}
    assert promised(("Stall", 3, 2.0)) == usual | {("Stall", 3): (2.0, 5.0)}
    # Today counts, yesterday and what is past the days that count do not.
    assert promised(("A", 0, 1.0), ("B", 6, 1.0)).keys() == usual.keys() | {("A", 0), ("B", 6)}
    assert promised(("Stall", -1, 1.0), ("Stall", 7, 1.0)) == usual
    assert promised(("Stall", 7, 1.0), ("Stall", 2, 4.0)) == usual | {("Stall", 2): (4.0, 5.0)}


def test_sales_with_promises_stand_by_day_then_by_weight_then_by_name() -> None:
    today = date(2027, 5, 3)
    sales = (OutletDay("Inn", 5, 2.0, 1.5), *(OutletDay(n, 5, 2.0, 1.0) for n in ("Cook", "Stall")))
    told = [("Stall", date(2027, 5, 8), 2.0), ("Fair", date(2027, 5, 5), 1.0)]
    found = with_promised(sales, told, today, 7, promised_weight=3.0)
    assert [one.outlet for one in found] == ["Fair", "Stall", "Inn", "Cook"]


@pytest.mark.parametrize(
    ("today", "days"),
    [
        (date(2027, 5, 3), [0, 7, 14]),  # a Monday
        (date(2027, 5, 4), [6, 13, 20]),
        (date(2027, 5, 9), [1, 8, 15]),
    ],
)
def test_a_table_wants_every_monday_what_the_logs_bear_in_a_week_and_thrice_that_at_half(
    today: date, days: list[int]
) -> None:
    # One flush of all is 18 kg; soaked again after 63 days, that is two kilograms a week.
    schedule = (
        default_numbers()
        .with_overrides(
            {
                "schedule.rest_days": 63,
                "schedule.table_more": 3,
                "schedule.table_more_weight": 0.5,
            }
        )
        .schedule
    )
    wanted = ((pytest.approx(2.0), 1.0), (pytest.approx(6.0), 0.5))

    def asked(keeps: int, kg: float = 18.0) -> list[tuple[str, int, float, float]]:
        found = table_days(today, 21, kg, keeps=keeps, schedule=schedule)
        return [(one.outlet, one.day, one.target, one.weight) for one in found]

    assert asked(7) == asked(10) == [(TABLE, day, *each) for day in days for each in wanted]
    # What keeps three days is counted every third day, three sevenths of it, on the same days
    # whichever day it is asked on.
    short = asked(3)
    assert short[0][2:] == (pytest.approx(6 / 7), 1.0)
    on = {today.toordinal() + day for _, day, *_ in short}
    assert {day % 3 for day in on} == {1} and len(on) == 7
    assert asked(7, kg=0.0) == []
