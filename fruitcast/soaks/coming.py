"""What is on its way whatever the plan: flushes of soaks already made, rests, spawn runs.

They are part of the plan, so that the calendar and the week know of them.
"""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np

from fruitcast.diary.plan import FlushUnderWay, Pick, SoakUnderWay, StackDay
from fruitcast.diary.state import Soak
from fruitcast.forecast.outlook import YardOutlook
from fruitcast.forecast.stacks import StackOutlook
from fruitcast.forecast.under_way import UnderWay, pulled_on
from fruitcast.soaks.expected import likely_kg
from fruitcast.units import SHOWN_AS_NONE_KG, Units, format_weight
from fruitcast.words import count_words, day_words

_RESTS = {"rest", "tank", "natural rest"}
"""Causes that keep a stack from the tank until it is rested."""


def coming(
    outlook: YardOutlook, *, usual_hours: float
) -> tuple[tuple[SoakUnderWay, ...], tuple[StackDay, ...], tuple[StackDay, ...]]:
    """Return a plan's `under_way`, `rest_ends` and `ready`.

    Parameters
    ----------
    outlook : YardOutlook
        The yard through every possible future.
    usual_hours : float
        In water, where the diary has none. [h]
    """
    under_way, rest_ends, ready = [], [], []
    for stack in outlook.stacks:
        flush, soak = outlook.flushes.get(stack.name), stack.state.last_soak
        if flush is not None and flush.kind == "forced" and soak is not None:
            entry = _under_way(stack, soak, flush, outlook, usual_hours=usual_hours)
            if entry is not None:
                under_way.append(entry)
        until = {hold.cause: hold.until for hold in stack.holds}
        rested = [day for cause, day in until.items() if cause in _RESTS and day is not None]
        if rested and None not in until.values():
            rest_ends.append(_rest_end(stack, max(rested)))
        ready_on = until.get("spawn run")
        if ready_on is not None:
            ready.append(_ready(stack, ready_on, until.get("first year")))
    return tuple(under_way), tuple(rest_ends), tuple(ready)


def flushes_under_way(outlook: YardOutlook) -> tuple[FlushUnderWay, ...]:
    """Return a plan's `flushes`: those that are being picked, and natural ones that have begun.

    Parameters
    ----------
    outlook : YardOutlook
        The yard through every possible future.
    """
    chance = outlook.numbers.schedule.clear_chance
    found = []
    for stack in outlook.stacks:
        flush = outlook.flushes.get(stack.name)
        if flush is None or not (flush.picked_kg > 0 or flush.kind == "natural"):
            continue
        kg = float(flush.kg.mean() * stack.scale)
        if kg < SHOWN_AS_NONE_KG:
            continue
        last = outlook.futures.date(flush.clear_row(chance)) - timedelta(days=1)
        found.append(
            FlushUnderWay(
                stack=stack.name,
                kind=flush.kind,
                begun=flush.begun,
                pick=_first_pick(flush, outlook),
                last=max(last, outlook.futures.today),
                expected_kg=kg,
                reasons=so_far_words(flush, stack.scale, outlook.yard.units),
            )
        )
    return tuple(found)


def _first_pick(flush: UnderWay, outlook: YardOutlook) -> Pick:
    """Return when it is first picked in the members in which it bears."""
    rows = flush.pick[flush.kg > 0]
    p10, p50, p90 = (
        outlook.futures.date(int(np.quantile(rows, share, method="inverted_cdf")))
        for share in (0.1, 0.5, 0.9)
    )
    return Pick(p10=p10, p50=p50, p90=p90)


def _under_way(
    stack: StackOutlook, soak: Soak, flush: UnderWay, outlook: YardOutlook, *, usual_hours: float
) -> SoakUnderWay | None:
    """A soak of the diary in the form of a plan's soaks; None when it bears in no member."""
    if not (flush.kg > 0).any():
        return None
    kg = flush.kg * stack.scale
    low, high = likely_kg(kg, flush.fails) if kg.any() else (None, None)
    return SoakUnderWay(
        stack=stack.name,
        logs=soak.logs,
        soak_on=soak.on,
        hours=soak.hours or usual_hours,
        pull_on=pulled_on(soak, usual_hours),
        pick=_first_pick(flush, outlook),
        clear_on=None
        if outlook.yard.fruiting.places is None
        else outlook.futures.date(flush.clear_row(outlook.numbers.schedule.clear_chance)),
        expected_kg=float(kg.mean()),
        kg_p10=low,
        kg_p90=high,
        reasons=so_far_words(flush, stack.scale, outlook.yard.units),
    )


def so_far_words(flush: UnderWay, scale: float, units: Units) -> tuple[str, ...]:
    """Return what was picked of a flush beside what it should come to; nothing before a pick."""
    if flush.picked_kg <= 0:
        return ()
    low, middle, high = (
        format_weight(flush.whole_kg(scale, chance), units) for chance in (0.1, 0.5, 0.9)
    )
    said = f"so far {format_weight(flush.picked_kg, units)} of about {middle} ({low} to {high})"
    return (said,)


def _rest_end(stack: StackOutlook, on: date) -> StackDay:
    soak = stack.state.last_soak
    last = f"last soaked on {day_words(soak.on)}" if soak is not None else "flushed by itself"
    return StackDay(stack=stack.name, on=on, reason=last)


def _ready(stack: StackOutlook, on: date, year_up: date | None) -> StackDay:
    wait = year_up is not None and year_up > on
    reason = (
        f"first soak from {day_words(year_up)} on, a full year from inoculation"
        if wait and year_up is not None
        else f"{count_words((on - stack.stack.inoculated).days, 'day')} from inoculation"
    )
    return StackDay(stack=stack.name, on=on, reason=reason)
