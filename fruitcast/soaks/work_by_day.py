"""Hours of work day by day: soaking, pulling, and what it takes to pick what comes.

Soaking and pulling are limits of the plan; picking is not, since mushrooms come when they come. It
is told beside them, so that a day with too much of it is seen ahead.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from itertools import pairwise

import numpy as np

from fruitcast.diary.plan import WorkDay
from fruitcast.soaks.limits import Occupancy
from fruitcast.soaks.problem import BoolArray, Crops, FloatArray, Path, Plan, Problem
from fruitcast.topics import WorkNumbers

LEAST_HOURS = 0.1
"""Days with less work than this are not listed. [h]"""

NEAR_DAYS = 28
"""Of later days only those are listed that have too much: on which of them what is ripe nobody can
know. [day]"""


def work_by_day(
    problem: Problem, plan: Plan, twice: BoolArray, *, saleable: float, work: WorkNumbers
) -> tuple[WorkDay, ...]:
    """Return the near days that have some work, and the later ones that have too much, in order.

    Parameters
    ----------
    problem, plan : Problem, Plan
        The plan.
    twice : (day, member) bool array
        Days from today on which caps open so fast that they are picked twice.
    saleable : float
        Share of the crop that can be sold: the rest is picked too. [0..1]
    work : WorkNumbers
        Hours of work.
    """
    days = problem.horizon_days
    picking = picking_hours(problem, plan, twice, saleable=saleable, work=work)[:days]
    begun = Occupancy(problem)
    soaking = np.zeros(problem.limit_days)
    for stack, path in enumerate(plan):
        begun.add(stack, path)
        logs = problem.stacks[stack].logs
        for soak in path:
            soaking[problem.soak_days[soak]] += logs * problem.soak_hours_per_log
    found = []
    for day in range(days):
        pulling = max(float(begun.hours[day] - soaking[day]), 0.0)
        allowed = float(problem.hours_on[day])
        work_day = WorkDay(
            on=problem.today + timedelta(days=day),
            soaking_hours=float(soaking[day]),
            pulling_hours=pulling,
            picking_hours=float(picking[day]),
            allowed_hours=allowed if np.isfinite(allowed) else None,
            twice=float(twice[day].mean()),
        )
        if work_day.hours >= LEAST_HOURS and (day < NEAR_DAYS or work_day.over):
            found.append(work_day)
    return tuple(found)


def picking_hours(
    problem: Problem, plan: Plan, twice: BoolArray, *, saleable: float, work: WorkNumbers
) -> FloatArray:
    """Return the hours of picking on each day, mean over the members. Parameters as above.

    Every log in flush is looked over once a day, twice in heat; what is ripe is cut.

    Returns
    -------
    (day,) float array
        [h]
    """
    looked = np.zeros((problem.days, problem.members))
    picked = np.zeros((problem.days, problem.members))
    for stack, path in enumerate(plan):
        kg = np.zeros_like(picked)
        for crops, row, scale in _legs(problem, stack, path):
            mine = np.asarray(crops.row) == row
            day = np.asarray(crops.day)[mine]
            inside = (day >= 0) & (day < problem.days)
            member = np.asarray(crops.member)[mine][inside]
            weight = scale * np.asarray(crops.kg, dtype=np.float64)[mine][inside]
            np.add.at(kg, (day[inside], member), weight)
        picked += kg
        looked += problem.stacks[stack].logs * (kg > 0)
    rounds = 1 + twice[: problem.days]
    hours = looked * rounds * work.look_hours_per_log + picked / saleable * work.pick_hours_per_kg
    return np.asarray(hours.mean(axis=1))


def _legs(problem: Problem, stack: int, path: Path) -> Iterator[tuple[Crops, int, float]]:
    """Yield the crops of one path: the table they stand in, their row, and the scale."""
    mine = problem.stacks[stack]
    kind = problem.types[mine.type_index]
    if not path:
        yield mine.first.none_crops, 0, 1.0
        return
    yield mine.first.crops, int(np.searchsorted(mine.first.soak, path[0])), 1.0
    for before, after in pairwise(path):
        arc = np.flatnonzero((kind.start == before) & (kind.stop == after))
        yield kind.crops, int(arc[0]), mine.scale
    yield kind.end_crops, path[-1], mine.scale
