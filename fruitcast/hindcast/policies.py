"""Who decides each week in a hindcast beside the plan; and what a plan is worth a week later."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import ClassVar, Protocol

import numpy as np

from fruitcast.hindcast.rotation import (
    Turns,
    cycle_logs,
    first_turns,
    rule_of_hand,
    sensible,
    take_turns,
)
from fruitcast.soaks.limits import Occupancy
from fruitcast.soaks.problem import Crops, Path, Plan, Problem

PathDates = dict[str, tuple[date, ...]]
"""Planned soaks of each stack."""


LONGEST_SEASON = 52
"""[week]"""

CYCLE_WEEKS = 9
"""So far ahead who plans by hand has dates: a whole cycle, longer than from a soak to the last sale
that its flush could be meant for. [week]"""


class Policy(Protocol):
    """One who decides week by week, and how many weeks ahead must be looked at for that."""

    weeks: ClassVar[int]

    def plan(self, problem: Problem) -> Plan:
        """Return the plan from this week on; called once a week, in order."""
        ...


@dataclass
class FixedRotation:
    """The rotation on paper: groups made once, each week one group's turn."""

    turns: Turns | None = None
    weeks: ClassVar[int] = CYCLE_WEEKS

    def plan(self, problem: Problem) -> Plan:
        """Return the rotation from this week on."""
        turns = self.turns or first_turns(problem)
        plan, self.turns = take_turns(problem, turns)
        return plan


@dataclass
class SensibleRotation:
    """The sensible rotation: each week the longest rested stacks that may be soaked."""

    overdrawn: int = 0
    weeks: ClassVar[int] = CYCLE_WEEKS

    def plan(self, problem: Problem) -> Plan:
        """Return the rotation from this week on."""
        plan = sensible(problem, overdrawn=self.overdrawn)
        if (problem.soak_days < 7).any():
            a_week = cycle_logs(sum(stack.logs for stack in problem.stacks))[1]
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

    def plan(self, problem: Problem) -> Plan:
        """Return what the rule says from this week on."""
        return rule_of_hand(problem)


def plan_dates(problem: Problem, plan: Plan) -> PathDates:
    """Return a plan as dates by stack."""
    return {
        stack.name: tuple(
            problem.today + timedelta(days=int(problem.soak_days[soak])) for soak in path
        )
        for stack, path in zip(problem.stacks, plan, strict=True)
    }


def last_plan(problem: Problem, dates: PathDates) -> Plan:
    """Return what is left of an earlier plan today: what is past, or not legal any more, falls out.

    Parameters
    ----------
    problem : Problem
        The problem as it stands today.
    dates : dict of str to tuple of date
        The earlier plan.
    """
    room = Occupancy(problem)
    soak_at = {
        problem.today + timedelta(days=day): soak
        for soak, day in enumerate(problem.soak_days.tolist())
    }
    arcs = [
        set(zip(kind.start.tolist(), kind.stop.tolist(), strict=True)) for kind in problem.types
    ]
    plan: list[Path] = []
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
