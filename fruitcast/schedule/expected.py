"""What a plan is expected to bring, soak by soak and week by week."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from fruitcast.forecast.flushes import Following
from fruitcast.schedule.build import BuiltProblem, TypeWork
from fruitcast.schedule.problem import BoolArray, FloatArray, IntArray, Path, Plan

LEAST_CHANCE_SHOWN = 0.05
"""Natural flushes less likely than this in a week are not listed."""


@dataclass(frozen=True)
class SoakOutcome:
    """What one planned soak brings, member by member.

    Attributes
    ----------
    kg : (member,) float array
        Forced crop before saleable loss; 0 where nothing comes. [kg]
    pick_row : (member,) int array
        Row of the first pick, meaningful where something comes.
    comes : (member,) bool array
        Whether anything comes.
    """

    kg: FloatArray
    pick_row: IntArray
    comes: BoolArray

    def first_pick(self, chance: float) -> int:
        """Return the row of the first pick by which so many of the bearing members have it."""
        rows = self.pick_row[self.comes]
        return int(np.quantile(rows, chance, method="inverted_cdf"))


@dataclass(frozen=True)
class NaturalWeek:
    """The chance that a stack starts a natural flush in one week.

    Attributes
    ----------
    stack : str
        Stack or lot.
    week : date
        Its Monday.
    chance : float
        Share of members with a first pick in that week.
    kg : float
        Mean over members of the flush's weight, before saleable loss. [kg]
    """

    stack: str
    week: date
    chance: float
    kg: float


def place_of(built: BuiltProblem, stack_index: int) -> tuple[TypeWork, int]:
    """Return the type's work and the stack's place in it."""
    work = built.types[built.problem.stacks[stack_index].type_index]
    return work, work.stacks.index(stack_index)


def soak_outcome(built: BuiltProblem, stack_index: int, path: Path, step: int) -> SoakOutcome:
    """Return what the soak number `step` of a stack's path brings."""
    work, place = place_of(built, stack_index)
    soak = path[step]
    factor = work.first_factor[place, soak] if step == 0 else work.factor[path[step - 1], soak]
    forced, at = work.fruiting.forced, soak
    kg = forced.kg[at] * factor * built.problem.stacks[stack_index].scale
    return SoakOutcome(kg, forced.pick_row[at], kg > 0)


def natural_weeks(built: BuiltProblem, plan: Plan) -> list[NaturalWeek]:
    """Return the weeks in which each stack may flush by itself under a plan."""
    found: list[NaturalWeek] = []
    for index, path in enumerate(plan):
        found.extend(_stack_weeks(built, index, path))
    return found


def _stack_weeks(built: BuiltProblem, index: int, path: Path) -> list[NaturalWeek]:
    problem, futures = built.problem, built.outlook.futures
    work, place = place_of(built, index)
    scale, members = problem.stacks[index].scale, problem.members
    rows = built.outlook.soak_rows
    limits = [*(int(rows[k]) for k in path), futures.days]
    parts: list[tuple[Following, int, int]] = [(work.first, place, limits[0])]
    parts += [(work.following, k, limits[n + 1]) for n, k in enumerate(path)]
    kg: dict[date, FloatArray] = defaultdict(lambda: np.zeros(members))
    seen: dict[date, BoolArray] = defaultdict(lambda: np.zeros(members, dtype=bool))
    end = futures.lookback + problem.horizon_days
    for following, start, limit in parts:
        for flush in range(len(following.trigger)):
            there = following.trigger[flush, start] < limit
            there &= (following.kg[flush, start] > 0) & (following.pick[flush, start] < end)
            for member in np.flatnonzero(there):
                monday = _monday(futures.date(int(following.pick[flush, start, member])))
                kg[monday][member] += following.kg[flush, start, member] * scale
                seen[monday][member] = True
    flush_now = built.outlook.flushes.get(problem.stacks[index].name)
    if flush_now is not None and flush_now.kind == "natural":
        for member in np.flatnonzero(flush_now.pick >= futures.lookback):
            monday = _monday(futures.date(int(flush_now.pick[member])))
            kg[monday][member] += flush_now.kg[member] * scale
            seen[monday][member] = True
    return [
        NaturalWeek(
            problem.stacks[index].name, week, float(seen[week].mean()), float(kg[week].mean())
        )
        for week in sorted(kg)
        if seen[week].mean() >= LEAST_CHANCE_SHOWN
    ]


def _monday(day: date) -> date:
    return day - timedelta(days=day.weekday())
