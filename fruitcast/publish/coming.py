"""What is on its way whatever the plan: flushes of soaks already made, rests, spawn runs.

These lists join the plan's document, so that the calendar and the week know of them.
"""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np

from fruitcast.forecast.outlook import YardOutlook
from fruitcast.forecast.stacks import StackOutlook
from fruitcast.forecast.under_way import UnderWay, pulled_on
from fruitcast.publish.words import count_words, day_words
from fruitcast.yard.state import Soak

_RESTS = {"rest", "tank", "natural rest"}
"""Causes that keep a stack from the tank until it is rested."""


def coming(outlook: YardOutlook, *, usual_hours: float) -> dict[str, list[dict[str, Any]]]:
    """Return the lists `under_way`, `rest_ends` and `ready` of a plan's document.

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
    return {"under_way": under_way, "rest_ends": rest_ends, "ready": ready}


def _under_way(
    stack: StackOutlook, soak: Soak, flush: UnderWay, outlook: YardOutlook, *, usual_hours: float
) -> dict[str, Any] | None:
    """A soak of the diary in the form of a plan's soaks; None when it bears in no member."""
    rows = flush.pick[flush.kg > 0]
    if not rows.size:
        return None
    days = {
        f"p{share}": outlook.futures.date(
            int(np.quantile(rows, share / 100, method="inverted_cdf"))
        ).isoformat()
        for share in (10, 50, 90)
    }
    return {
        "stack": stack.name,
        "logs": soak.logs,
        "soak_on": soak.on.isoformat(),
        "hours": soak.hours or usual_hours,
        "pull_on": pulled_on(soak, usual_hours).isoformat(),
        "pick": days,
        "expected_kg": float(flush.kg.mean() * stack.scale),
        "reasons": [],
    }


def _rest_end(stack: StackOutlook, on: date) -> dict[str, Any]:
    soak = stack.state.last_soak
    last = f"last soaked on {day_words(soak.on)}" if soak is not None else "flushed by itself"
    return {"stack": stack.name, "on": on.isoformat(), "reason": last}


def _ready(stack: StackOutlook, on: date, year_up: date | None) -> dict[str, Any]:
    wait = year_up is not None and year_up > on
    reason = (
        f"first soak from {day_words(year_up)} on, a full year from inoculation"
        if wait and year_up is not None
        else f"{count_words((on - stack.stack.inoculated).days, 'day')} from inoculation"
    )
    return {"stack": stack.name, "on": on.isoformat(), "reason": reason}
