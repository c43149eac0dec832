"""Who decides each week beside the plan: a rotation on paper, a sensible one, a rule of hand."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise
from math import ceil
from typing import ClassVar, Protocol

import numpy as np

from fruitcast.arrays import FloatArray
from fruitcast.hindcast.diary import sell
from fruitcast.soaks.problem import (
    Crops,
    Occupancy,
    OutletDay,
    Plan,
    Problem,
    SoakPath,
)

# What a grower would do instead: the fixed rotation on paper, a sensible one, a rule of hand.
#
# They are baselines for the schedule. The rotations look at no target, no weather and no crop; one
# who goes by the rule of hand knows what a flush weighs and how long it takes in the mean, but
# no luck. All keep what can't be broken: soak days, tank, hours, places to fruit, rest, and that a
# stack must be ready.


CYCLE_WEEKS = 9
"""From a log's soak to its next. So far ahead the rule of hand has dates, too: it is longer than
from a soak to the last sale that its flush could be meant for. [week]"""


def logs_a_week(logs: int, weeks: int = CYCLE_WEEKS) -> int:
    """Return how many logs a week are soaked where each of so many is every `weeks` weeks.

    A hundred wanted in nine weeks are 12 a week, 108 to keep: Hill, D.B. 2011, University of
    Kentucky Cooperative Extension, FOR-85.
    """
    return ceil(logs / weeks)


@dataclass(frozen=True)
class Turns:
    """Whose turn it is in a fixed rotation, so that it can go on from week to week."""

    groups: tuple[tuple[int, ...], ...]  # positions of the stacks of each group
    # Weeks with a soak day gone by; the group is the remainder by the number of groups
    turn: int = 0
    late: tuple[int, ...] = ()  # stacks whose turn has come and who wait for room or rest


def first_turns(problem: Problem, weeks: int = CYCLE_WEEKS) -> Turns:
    """Return the groups of a fixed rotation that begins today, one for each of so many weeks.

    The stacks are put in order of their last soak (longest ago first) and cut into groups of
    equal logs.
    """
    a_week = _logs_a_week(problem, weeks)
    groups: list[list[int]] = [[] for _ in range(weeks)]
    logs = 0
    rested = [stack.rested_from for stack in problem.stacks]
    for stack in sorted(range(len(rested)), key=rested.__getitem__):
        groups[min(logs // max(a_week, 1), weeks - 1)].append(stack)
        logs += problem.stacks[stack].logs
    return Turns(tuple(tuple(group) for group in groups))


def take_turns(problem: Problem, turns: Turns) -> tuple[Plan, Turns]:
    """Return the fixed rotation from this week on, and the turns left after this week.

    Each week with a soak day is one group's turn. A stack whose turn comes while it may not be
    soaked (not ready, not its class's season) waits for its next turn; one that only lacks room in
    the tank, hours or rest since its last soak goes as soon as it can. The problem, as it stands
    today, has the stacks that the groups were made of.
    """
    room = _Room(problem)
    groups, late = turns.groups, list(turns.late)
    number = turns.turn
    after = turns
    for soaks in _weeks(problem):
        turn = groups[number % len(groups)]
        due = [*turn, *(stack for stack in late if stack not in turn)]
        late = []
        for stack in due:
            if not any(room.soak(stack, soak) for soak in soaks) and room.only_waits(stack, soaks):
                late.append(stack)
        number += 1
        if problem.soak_days[soaks[0]] < 7:
            after = Turns(groups, number, tuple(late))
    return room.plan, after


def sensible(problem: Problem, weeks: int = CYCLE_WEEKS, *, overdrawn: int = 0) -> Plan:
    """Return the sensible rotation: each week the longest rested stacks that may be soaked.

    As many logs a week as the fixed cycle, over the season to within one stack; a stack that
    isn't ready, has just flushed or is of the wrong class for the season lets the next pass.
    `overdrawn` are logs soaked in the weeks before beyond what these allowed.
    """
    room = _Room(problem)
    a_week = _logs_a_week(problem, weeks)
    allowance = -overdrawn
    for soaks in _weeks(problem):
        # What a week of few ready stacks left over isn't made up for later.
        allowance = min(allowance, 0) + a_week
        for soak in soaks:
            for stack in sorted(range(len(problem.stacks)), key=room.last_soak):
                logs = problem.stacks[stack].logs
                # A stack is soaked whole: it may overdraw by up to half of its logs.
                if logs <= 2 * allowance and room.soak(stack, soak):
                    allowance -= logs
    return room.plan


GRAM = 0.001
"""Less than this is no flush. [kg]"""

SALE_WEEK = 7
"""By the rule of hand what is picked in so many days before a sale is meant for it. [day]"""


def rule_of_hand(problem: Problem) -> Plan:
    """Return what a careful person would do who knows the targets and what flushes are like.

    Sale by sale: where it goes short in the mean, the biggest rested stack goes in so that its mean
    pick day falls into the week before it. Stock and natural flushes count as expected.
    """
    room, means = _Room(problem), _Means(problem)
    biggest = sorted(range(len(problem.stacks)), key=lambda s: -problem.stacks[s].logs)
    supply = np.array([means.supply(stack, ()) for stack in biggest]).sum(axis=0)

    def missing(place: int, sale: OutletDay) -> float:
        picks = [*problem.stock, *enumerate(supply.tolist())]
        sold = sell(picks, problem.outlets, problem.cold_days, sale.day + 1)
        return sale.target - sold.delivered[place]

    for place, sale in enumerate(problem.outlets):
        if sale.day >= problem.horizon_days:
            continue
        short = missing(place, sale)
        for stack in biggest:
            if short <= 0:
                break
            before = room.plan[stack]
            for soak in means.soaks_for(stack, before, sale.day):
                if room.soak(stack, soak):
                    supply += means.supply(stack, (*before, soak)) - means.supply(stack, before)
                    short = missing(place, sale)
                    break
    return room.plan


class _Means:
    """What each arc brings in the mean over the members, day by day."""

    def __init__(self, problem: Problem) -> None:
        self._problem = problem
        self._first = [
            self._by_day(stack.first.crops, len(stack.first.soak)) for stack in problem.stacks
        ]
        self._none = [self._by_day(stack.first.none_crops, 1)[0] for stack in problem.stacks]
        self._inner = [self._by_day(kind.crops, len(kind.start)) for kind in problem.types]
        self._end = [self._by_day(kind.end_crops, len(problem.soak_days)) for kind in problem.types]

    def supply(self, stack: int, path: SoakPath) -> FloatArray:
        """Return what a stack brings on each day on a path. [kg]"""
        if not path:
            never: FloatArray = self._none[stack]
            return never
        problem = self._problem.stacks[stack]
        kind = self._problem.types[problem.type_index]
        first = int(np.searchsorted(problem.first.soak, path[0]))
        picked: FloatArray = self._first[stack][first].copy()
        after = self._end[problem.type_index][path[-1]]
        for arc in pairwise(path):
            after = after + self._inner[problem.type_index][kind.pairs[arc]]
        picked += problem.effective_logs * after
        return picked

    def soaks_for(self, stack: int, path: SoakPath, day: int) -> list[int]:
        """Return the next soaks of a stack whose flush is meant for a sale, the best day first.

        `path` are its soaks so far, `day` that of the sale.
        """
        problem = self._problem.stacks[stack]
        kind = self._problem.types[problem.type_index]
        soaks, rows, scale = problem.first.soak, self._first[stack], 1.0
        if path:
            mine = kind.start == path[-1]
            soaks, scale = kind.stop[mine], problem.effective_logs
            rows = self._inner[problem.type_index][mine]
        days = np.arange(self._problem.days)
        flush = scale * rows * (days >= self._problem.soak_days[soaks][:, None])
        kg = flush.sum(axis=1)
        middle = flush @ days / np.maximum(kg, GRAM)
        fit = (kg > GRAM) & (middle < day) & (middle >= day - SALE_WEEK)
        off = np.abs(middle - (day - SALE_WEEK / 2))
        return [int(soaks[n]) for n in np.argsort(off, kind="stable") if fit[n]]

    def _by_day(self, crops: Crops, rows: int) -> FloatArray:
        days = self._problem.days
        seen = crops.day < days
        flat = crops.row[seen] * days + crops.day[seen]
        picked = np.bincount(flat, crops.kg[seen], rows * days).astype(np.float64)
        return picked.reshape(rows, days) / self._problem.members


def _weeks(problem: Problem) -> list[list[int]]:
    """Return the soaks of each week that has any, in order."""
    by_week: dict[int, list[int]] = defaultdict(list)
    for soak, day in enumerate(problem.soak_days.tolist()):
        by_week[day // 7].append(soak)
    return [by_week[week] for week in sorted(by_week)]


def _logs_a_week(problem: Problem, weeks: int = CYCLE_WEEKS) -> int:
    return logs_a_week(sum(stack.logs for stack in problem.stacks), weeks)


class _Room:
    """The plan so far, and what it leaves of tank, hours and places to fruit."""

    def __init__(self, problem: Problem) -> None:
        self._problem = problem
        self._paths: list[list[int]] = [[] for _ in problem.stacks]
        self._arcs = [kind.pairs for kind in problem.types]
        self._first = [set(stack.first.soak.tolist()) for stack in problem.stacks]
        self._taken = Occupancy(problem)

    @property
    def plan(self) -> Plan:
        return tuple(tuple(path) for path in self._paths)

    def last_soak(self, stack: int) -> int:
        """Return the day of a stack's last soak, planned or recorded."""
        path = self._paths[stack]
        if path:
            return int(self._problem.soak_days[path[-1]])
        return self._problem.stacks[stack].rested_from

    def soak(self, stack: int, soak: int) -> bool:
        """Soak a stack when an arc leads there and there is room; return whether it was."""
        path = self._paths[stack]
        arcs = self._arcs[self._problem.stacks[stack].type_index]
        leads = (path[-1], soak) in arcs if path else soak in self._first[stack]
        if not leads or not self._taken.fits(stack)[soak]:
            return False
        self._taken.add(stack, (soak,))
        path.append(soak)
        return True

    def only_waits(self, stack: int, soaks: list[int]) -> bool:
        """Return whether a stack left out of a week lacks only room, or rest since its soak."""
        path = self._paths[stack]
        if not path:
            return any(soak in self._first[stack] for soak in soaks)
        arcs = self._arcs[self._problem.stacks[stack].type_index]
        gap = self._problem.soak_days[soaks[-1]] - self._problem.soak_days[path[-1]]
        return gap < self._problem.rest_days or any((path[-1], soak) in arcs for soak in soaks)


# Who decides each week in a hindcast beside the plan; and what a plan is worth a week later.

PathDates = dict[str, tuple[date, ...]]
"""Planned soaks of each stack."""


LONGEST_SEASON = 52
"""[week]"""


THIS_WEEK = 1
"""A rotation has no dates beyond the week whose turn it is. [week]"""


class Policy(Protocol):
    """One who decides week by week; how far ahead, and whether crops, are looked at for that.

    Who looks at no crops learns nothing of them and foresees none.
    """

    weeks: ClassVar[int]
    crops: ClassVar[bool]

    def plan(self, problem: Problem) -> Plan:
        """Return the plan from this week on; called once a week, in order."""
        ...


@dataclass
class FixedRotation:
    """The rotation on paper: groups made once, each week one group's turn."""

    turns: Turns | None = None
    weeks: ClassVar[int] = THIS_WEEK
    crops: ClassVar[bool] = False

    def plan(self, problem: Problem) -> Plan:
        """Return the rotation from this week on."""
        turns = self.turns or first_turns(problem)
        plan, self.turns = take_turns(problem, turns)
        return plan


@dataclass
class SensibleRotation:
    """The sensible rotation: each week the longest rested stacks that may be soaked."""

    overdrawn: int = 0
    weeks: ClassVar[int] = THIS_WEEK
    crops: ClassVar[bool] = False

    def plan(self, problem: Problem) -> Plan:
        """Return the rotation from this week on."""
        plan = sensible(problem, overdrawn=self.overdrawn)
        if (problem.soak_days < 7).any():
            a_week = _logs_a_week(problem)
            soaked = sum(
                stack.logs
                for stack, path in zip(problem.stacks, plan, strict=True)
                if path and problem.soak_days[path[0]] < 7
            )
            self.overdrawn = max(self.overdrawn + soaked - a_week, 0)
        return plan


class RuleOfHand:
    """A careful person: a stack goes in for the week that is short."""

    weeks: ClassVar[int] = CYCLE_WEEKS
    crops: ClassVar[bool] = True

    def plan(self, problem: Problem) -> Plan:
        """Return what the rule says from this week on."""
        return rule_of_hand(problem)


def plan_dates(problem: Problem, plan: Plan) -> PathDates:
    """Return a plan as dates by stack."""
    return {
        stack.name: tuple(problem.soaked_on(soak) for soak in path)
        for stack, path in zip(problem.stacks, plan, strict=True)
    }


def last_plan(problem: Problem, dates: PathDates) -> Plan:
    """Return what is left of an earlier plan today: what is past or not legal now falls out."""
    room = Occupancy(problem)
    soak_at = {problem.on(day): soak for soak, day in enumerate(problem.soak_days.tolist())}
    arcs = [kind.pairs for kind in problem.types]
    plan: list[SoakPath] = []
    for index, stack in enumerate(problem.stacks):
        first, fits = set(stack.first.soak.tolist()), room.fits(index)
        path: list[int] = []
        for soak in (soak_at[on] for on in dates.get(stack.name, ()) if on in soak_at):
            legal = (path[-1], soak) in arcs[stack.type_index] if path else soak in first
            if legal and fits[soak]:
                path.append(soak)
        plan.append(tuple(path))
        room.add(index, plan[-1])
    return tuple(plan)


def only_member(problem: Problem, member: int) -> Problem:
    """Return a problem in which one possible future is the only one."""

    def of(crops: Crops) -> Crops:
        mine = np.flatnonzero(crops.member == member)
        return Crops(
            crops.row[mine], np.zeros_like(crops.member[mine]), crops.day[mine], crops.kg[mine]
        )

    return replace(
        problem,
        years=(problem.years[member],),
        types=tuple(
            replace(kind, crops=of(kind.crops), end_crops=of(kind.end_crops))
            for kind in problem.types
        ),
        stacks=tuple(
            replace(
                stack,
                first=replace(
                    stack.first,
                    crops=of(stack.first.crops),
                    none_crops=of(stack.first.none_crops),
                ),
            )
            for stack in problem.stacks
        ),
    )
