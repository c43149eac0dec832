"""Which days a yard may soak on, and what its outlets want on which days."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

from fruitcast.schedule.problem import OutletDay
from fruitcast.yard.model import Yard

LONGEST_SEARCH = 800
"""Days past the horizon in which the next permitted soak day is looked for."""


def is_away(yard: Yard, day: date) -> bool:
    """Return whether nobody soaks, pulls or picks on a day."""
    return any(away.covers(day) for away in yard.away)


def may_soak(yard: Yard, day: date) -> bool:
    """Return whether a soak may start on a day, stacks and tank left aside."""
    return yard.soaking.permits(day) and not is_away(yard, day)


def soak_dates(yard: Yard, today: date, weeks: int) -> list[date]:
    """Return the days in the horizon on which a soak may start."""
    days = (today + timedelta(days=n) for n in range(7 * weeks))
    return [day for day in days if may_soak(yard, day)]


def next_soak_date(yard: Yard, today: date, weeks: int) -> date:
    """Return the first permitted soak day past the horizon, or the horizon's end when none is."""
    past = today + timedelta(days=7 * weeks)
    days = (past + timedelta(days=n) for n in range(LONGEST_SEARCH))
    return next((day for day in days if may_soak(yard, day)), past)


def outlet_days(yard: Yard, today: date, days: int) -> tuple[OutletDay, ...]:
    """Return every sale from today on, in order of day, then weight, then name."""
    sales = sorted(_sales(yard, today, days), key=lambda o: (o.day, -o.weight, o.outlet))
    return tuple(sales)


def _sales(yard: Yard, today: date, days: int) -> Iterator[OutletDay]:
    for number in range(days):
        day = today + timedelta(days=number)
        for outlet in yard.outlets:
            if outlet.sells_on(day):
                yield OutletDay(outlet.name, number, outlet.target_kg, outlet.weight)
    for order in yard.orders:
        number = (order.on - today).days
        if 0 <= number < days:
            yield OutletDay(order.outlet, number, order.target_kg, order.weight)
