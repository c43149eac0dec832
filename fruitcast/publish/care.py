"""The care of young logs as entries of a plan, so that calendar and week know of it."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from fruitcast.forecast.tree_seasons import DayRange, TreeSeasons, growing_season
from fruitcast.numbers import Numbers
from fruitcast.publish.words import day_words
from fruitcast.schedule.batch import BatchPlan, batch_to_stack
from fruitcast.shiitake.batch import turning_days
from fruitcast.yard.model import Stack

_INOCULATE, _FIRST_SOAK, _NATURAL, _TURN = 0, 1, 2, 10
"""Ordinals: what they name stays the same reminder when its day moves. Turnings count on."""


def young_care(
    stack: Stack, ready: date, trees: TreeSeasons, today: date, numbers: Numbers
) -> list[dict[str, Any]]:
    """Return the days from today on to turn and restack a stack in its spawn run.

    Parameters
    ----------
    stack : Stack
        The stack.
    ready : date
        The day by which its spawn run should be done.
    trees : TreeSeasons
        The site's growing season.
    today : date
        Earlier days are left out.
    numbers : Numbers
        The numbers in use.
    """
    growing = growing_season(trees, stack.inoculated)
    days = turning_days(stack.inoculated, ready, growing, numbers)
    return [
        _entry(
            stack.name,
            _TURN + place,
            day,
            day,
            "turn and restack the logs",
            "so that they dry and grow through evenly; look for white growth at the ends",
        )
        for place, day in enumerate(days)
        if day >= today
    ]


def batch_care(plan: BatchPlan, today: date, numbers: Numbers) -> list[dict[str, Any]]:
    """Return all care dates of a batch from today on: inoculating, turning, first crop.

    Parameters
    ----------
    plan : BatchPlan
        The batch.
    today : date
        Earlier days are left out.
    numbers : Numbers
        The numbers in use.
    """
    name, found = plan.spec.name, []
    if plan.inoculated >= today:
        last = plan.window[1] if plan.window else plan.inoculated
        found.append(
            _entry(
                name,
                _INOCULATE,
                plan.inoculated,
                max(last, plan.inoculated),
                f"inoculate {plan.spec.logs} logs",
                f"{plan.materials.holes:,} holes; wood felled no more than two weeks before",
            )
        )
    middle = plan.ready[1] or plan.inoculated + timedelta(days=365)
    found += young_care(batch_to_stack(plan), middle, plan.trees, today, numbers)
    if plan.earliest_soak is not None and plan.earliest_soak >= today:
        found.append(
            _entry(
                name,
                _FIRST_SOAK,
                plan.earliest_soak,
                plan.earliest_soak,
                "may be soaked for the first time",
                "a year after inoculation, and the spawn run is likely done",
            )
        )
    span = _span(plan.first_natural)
    if span is not None and span[1] >= today:
        found.append(
            _entry(
                name,
                _NATURAL,
                *span,
                "a first natural flush may come",
                f"about {day_words(plan.first_natural[1])}" if plan.first_natural[1] else "",
            )
        )
    return sorted(found, key=lambda entry: (entry["from"], entry["ordinal"]))


def _span(days: DayRange) -> tuple[date, date] | None:
    early, middle, late = days
    first, last = early or middle, late or middle or early
    return None if first is None or last is None else (first, last)


def _entry(
    stack: str, ordinal: int, first: date, last: date, what: str, reason: str
) -> dict[str, Any]:
    return {
        "stack": stack,
        "ordinal": ordinal,
        "from": first.isoformat(),
        "to": last.isoformat(),
        "what": what,
        "reason": reason,
    }
