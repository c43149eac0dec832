"""Stacks that bear too much at once, and the lots that would suit the targets."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from math import ceil

import numpy as np

from fruitcast.soaks.problem import Problem, StackProblem
from fruitcast.topics import ScheduleNumbers
from fruitcast.yard.lots import SEPARATOR, lots_of

LEAST_LOGS, LEAST_KG = 10, 1.0
"""No smaller lot is proposed: handling a few logs at a time is no one's wish."""

MOST_LOTS = 3
"""More parts of one stack are hard to tell apart in the yard, unless the tank asks for them."""


@dataclass(frozen=True)
class ProposedLots:
    """A stack that would better be soaked in lots.

    Attributes
    ----------
    stack : str
        The stack.
    logs : int
        Its living logs.
    flush : float
        What one flush of all of them gives, after the plan's weeks. [kg]
    lots : int
        How many lots.
    """

    stack: str
    logs: int
    flush: float
    lots: int

    def parts(self) -> tuple[tuple[str, int], ...]:
        """Return name and logs of each lot."""
        return lots_of(self.stack, self.logs, -(-self.logs // self.lots))


@dataclass(frozen=True)
class LotProposal:
    """Lots for a yard.

    Attributes
    ----------
    stacks : tuple of ProposedLots
        The largest flush first; at least one.
    week_target : float
        What the outlets want in a usual week. [kg]
    """

    stacks: tuple[ProposedLots, ...]
    week_target: float


def lot_proposal(
    problem: Problem, schedule: ScheduleNumbers, accepted: Collection[str] = ()
) -> LotProposal | None:
    """Return the lots to propose, or None when no stack bears too much at once.

    A stack whose lots were accepted before is left as it is. Where the tank parts a stack already,
    each part counts as a stack.

    Parameters
    ----------
    problem : Problem
        The scheduling problem.
    schedule : ScheduleNumbers
        Numbers of the schedule.
    accepted : collection of str
        Lots that the grower accepted before.
    """
    target = _usual_week(problem)
    if target <= 0:
        return None
    found = []
    for name, lots in _by_stack(problem).items():
        logs, flush = sum(lot.logs for lot in lots), sum(lot.end_flush for lot in lots)
        asked = len(lots)
        taken = any(lot.name in accepted for lot in lots)
        if taken or flush <= schedule.lot_flush * target * asked:
            continue
        most = min(MOST_LOTS * asked, logs // LEAST_LOGS, int(flush / LEAST_KG))
        number = min(ceil(flush / (schedule.lot_flush * target)), most, 9)
        if number > asked:
            found.append(ProposedLots(name, logs, flush, number))
    found.sort(key=lambda each: (-each.flush, each.stack))
    return LotProposal(tuple(found), target) if found else None


def _by_stack(problem: Problem) -> Mapping[str, list[StackProblem]]:
    lots: dict[str, list[StackProblem]] = {}
    for stack in problem.stacks:
        if stack.logs:
            lots.setdefault(stack.name.partition(SEPARATOR)[0], []).append(stack)
    return lots


def _usual_week(problem: Problem) -> float:
    """Return the median of the weeks' targets, weeks without any left out. [kg/week]"""
    weeks = np.zeros(problem.weeks)
    for sale in problem.outlets:
        if 0 <= sale.day < problem.horizon_days:
            weeks[sale.day // 7] += sale.target
    asked = weeks[weeks > 0]
    return float(np.median(asked)) if len(asked) else 0.0
