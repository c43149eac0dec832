"""How wet each stack's logs have been, with what was done to them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import numpy.typing as npt

from fruitcast.biology.wood import wet_from_dry
from fruitcast.diary.plan import Plan, WateringChance
from fruitcast.forecast.outlook import YardOutlook
from fruitcast.numbers import default_numbers

FloatArray = npt.NDArray[np.float64]

PAST_DAYS = 84
"""Days before today that are shown. [day]"""

PROBABLY = 0.5
"""A stack whose chance of wanting water reaches this probably will. [0..1]"""


@dataclass(frozen=True)
class MoistureCourse:
    """The moisture of one stack's logs over the past weeks.

    Attributes
    ----------
    stack : str
        The stack.
    first, today : date
        The first day, and the day after the last one.
    wet : (day,) float array
        Log moisture at the end of each day; NaN before inoculation. [kg/kg wet]
    watered : tuple of (date, float)
        Waterings of the diary. [mm]
    assumed : tuple of (date, float)
        Waterings taken to have been given where the diary is silent. [mm]
    soaked : tuple of date
        Days on which the logs went into the tank.
    weighed : tuple of (date, float)
        Moisture by weighed sample logs. [kg/kg wet]
    due : date or None
        Day for which the plan asks for water.
    keep_above : float or None
        Level below which logs are watered; None when nobody waters. [kg/kg wet]
    dead_below : float
        Level below which spawn does not survive. [kg/kg wet]
    """

    stack: str
    first: date
    today: date
    wet: FloatArray
    watered: tuple[tuple[date, float], ...]
    assumed: tuple[tuple[date, float], ...]
    soaked: tuple[date, ...]
    weighed: tuple[tuple[date, float], ...]
    due: date | None
    keep_above: float | None
    dead_below: float

    def wet_on(self, day: date) -> float:
        """Return the moisture at the end of a day; NaN where it is not known. [kg/kg wet]"""
        row = (day - self.first).days
        return float(self.wet[row]) if 0 <= row < len(self.wet) else float("nan")


def moisture_courses(
    plan: Plan, outlook: YardOutlook, dead_below: float, days: int = PAST_DAYS
) -> tuple[MoistureCourse, ...]:
    """Return the moisture of every stack that stands, over the days before today.

    Parameters
    ----------
    plan : Plan
        For the waterings it asks for.
    outlook : YardOutlook
        The yard.
    dead_below : float
        Level below which spawn does not survive. [kg/kg wet]
    days : int
        Days before today. [day]
    """
    past, today = outlook.past, outlook.futures.today
    first = max(today - timedelta(days=days), past.first)
    begin = past.row(first)
    due = {entry.stack: entry.on for entry in reversed(plan.water)}
    found = []
    for column, stack in enumerate(outlook.stacks):
        state = stack.state
        if state.logs <= 0 or stack.stack.inoculated >= today:
            continue
        wet = wet_from_dry(past.by_stack[begin:, column])
        wet[: max((stack.stack.inoculated - first).days, 0)] = np.nan
        recorded = {on for on, _ in state.watered}
        given = past.watered[begin:, column]
        assumed = [
            (first + timedelta(days=int(row)), float(given[row])) for row in np.flatnonzero(given)
        ]
        found.append(
            MoistureCourse(
                stack.name,
                first,
                today,
                wet,
                tuple((on, mm) for on, mm in state.watered if first <= on < today),
                tuple((on, mm) for on, mm in assumed if on not in recorded),
                tuple(soak.on for soak in state.soaks if first <= soak.on < today),
                tuple(
                    (on, float(wet_from_dry(seen)))
                    for on, seen in state.moisture_seen
                    if first <= on < today
                ),
                due.get(stack.name),
                outlook.yard.keep_above,
                dead_below,
            )
        )
    return tuple(found)


def probably_dry(plan: Plan) -> dict[str, WateringChance]:
    """Return the stacks that will probably want water, each with the week in which that is so."""
    found: dict[str, WateringChance] = {}
    for entry in plan.water_chance:
        if entry.chance >= PROBABLY:
            found.setdefault(entry.stack, entry)
    return found


def dry_courses(courses: Sequence[MoistureCourse], plan: Plan) -> tuple[MoistureCourse, ...]:
    """Return the stacks that are dry, or are to be watered, now or probably soon.

    Where nobody waters, dry is what a yard that does would water.

    Parameters
    ----------
    courses : sequence of MoistureCourse
        Of all stacks.
    plan : Plan
        For the waterings it asks for and expects.
    """
    usual, probably = default_numbers().yard.keep_above, probably_dry(plan)
    return tuple(
        course
        for course in courses
        if course.due is not None
        or course.stack in probably
        or course.wet_on(course.today - timedelta(days=1))
        < (usual if course.keep_above is None else course.keep_above)
    )
