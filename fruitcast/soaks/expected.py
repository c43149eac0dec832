"""What a plan is expected to bring, soak by soak and week by week."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import NamedTuple

import numpy as np

from fruitcast.forecast.flushes import Following
from fruitcast.forecast.picking_jobs import pins_rows
from fruitcast.soaks.build import BuiltProblem, TypeWork
from fruitcast.soaks.problem import BoolArray, FloatArray, IntArray, Path, Plan

MOST_CHANCE_SAID = 0.95
"""No natural flush is surer than this: the rules that set one off are judgement."""

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
    past_row : (member,) int array
        Row after the last pick.
    pins_row : (member,) int array
        Row on which pins show.
    """

    kg: FloatArray
    pick_row: IntArray
    comes: BoolArray
    past_row: IntArray
    pins_row: IntArray

    def first_pick(self, chance: float) -> int:
        """Return the row of the first pick by which so many of the bearing members have it."""
        return self._row(self.pick_row, chance)

    def last_pick(self, chance: float) -> int:
        """Return the row after the last pick by which so many of the bearing members have it."""
        return self._row(self.past_row, chance)

    def pins(self, chance: float) -> int:
        """Return the row by which pins show in so many of the bearing members."""
        return self._row(self.pins_row, chance)

    def _row(self, rows: IntArray, chance: float) -> int:
        # A soak that the grower has fixed may bear in no member: then the days it would have had.
        come = rows[self.comes] if self.comes.any() else rows
        return int(np.quantile(come, chance, method="inverted_cdf"))


def likely_kg(kg: FloatArray, fails: float) -> tuple[float, float]:
    """Return between which weights a soak's flush lies in 8 of 10 cases in which it comes.

    Parameters
    ----------
    kg : (member,) float array
        Forced crop, less the share that fails; 0 where nothing comes. [kg]
    fails : float
        That share. [0..1]
    """
    low, high = np.quantile(kg[kg > 0], (0.1, 0.9), method="inverted_cdf") / (1 - fails)
    return float(low), float(high)


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
        Share of members with a first pick in that week, `MOST_CHANCE_SAID` at most.
    kg : float
        Mean over members of the flush's weight, before saleable loss. [kg]
    first_pick : date
        Day of the first pick, the middle of the members that have it in that week.
    days : int
        Days of picking, the middle of those members. [day]
    """

    stack: str
    week: date
    chance: float
    kg: float
    first_pick: date
    days: int


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
    pick = forced.pick_row[at]
    numbers = work.fruiting.weather.numbers
    pins = pins_rows(
        work.fruiting.weather.warmth,
        int(forced.pull_row[at]),
        pick,
        pins_share=numbers.forced.pins_share,
    )
    return SoakOutcome(kg, pick, kg > 0, pick + forced.length[at], pins)


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
    found: list[_Start] = []
    end = futures.lookback + problem.horizon_days
    for following, start, limit in parts:
        for flush in range(len(following.trigger)):
            kg, pick = following.kg[flush, start], following.pick[flush, start]
            there = (following.trigger[flush, start] < limit) & (kg > 0) & (pick < end)
            days = following.past[flush, start] - pick
            found += _starts(there, pick, days, kg * scale)
    flush_now = built.outlook.flushes.get(problem.stacks[index].name)
    if flush_now is not None and flush_now.kind == "natural":
        coming = (flush_now.pick >= futures.lookback) & (flush_now.kg > 0)
        days = flush_now.past - flush_now.pick
        found += _starts(coming, flush_now.pick, days, flush_now.kg * scale)
    by_week: dict[date, list[_Start]] = defaultdict(list)
    for entry in found:
        by_week[_monday(futures.date(entry.row))].append(entry)
    return [
        NaturalWeek(
            problem.stacks[index].name,
            week,
            min(chance, MOST_CHANCE_SAID),
            sum(entry.kg for entry in entries) / members,
            futures.date(_middle(entry.row for entry in entries)),
            _middle(entry.days for entry in entries),
        )
        for week, entries in sorted(by_week.items())
        if (chance := len({entry.member for entry in entries}) / members) >= LEAST_CHANCE_SHOWN
    ]


class _Start(NamedTuple):
    """The start of one natural flush in one member."""

    member: int
    row: int
    days: int
    kg: float


def _starts(there: BoolArray, row: IntArray, days: IntArray, kg: FloatArray) -> list[_Start]:
    at = np.flatnonzero(there)
    columns = (at.tolist(), row[at].tolist(), days[at].tolist(), kg[at].tolist())
    return [_Start(*entry) for entry in zip(*columns, strict=True)]


def _middle(values: Iterable[int]) -> int:
    ordered = sorted(values)
    return ordered[(len(ordered) - 1) // 2]


def _monday(day: date) -> date:
    return day - timedelta(days=day.weekday())
