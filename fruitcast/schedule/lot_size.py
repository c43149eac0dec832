"""Stacks that bear too much at once, and the size of the lots that would suit the targets."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fruitcast.schedule.problem import Problem
from fruitcast.topics import ScheduleNumbers

LEAST_LOGS = 6
"""No smaller lot is advised: handling a few logs at a time is no one's wish."""


@dataclass(frozen=True)
class LotAdvice:
    """Advice to soak stacks in smaller lots.

    Attributes
    ----------
    stacks : tuple of str
        Stacks or lots whose flush is large beside a week's targets, the largest first.
    flush : float
        Weight of the largest one's flush. [kg]
    week_target : float
        What the outlets want in a usual week. [kg]
    lot_logs : int
        Logs whose flush is about the share of a week's targets that suits them.
    """

    stacks: tuple[str, ...]
    flush: float
    week_target: float
    lot_logs: int


def lot_advice(problem: Problem, schedule: ScheduleNumbers) -> LotAdvice | None:
    """Return the advice, or None when no stack bears too much at once.

    Parameters
    ----------
    problem : Problem
        The scheduling problem.
    schedule : ScheduleNumbers
        Numbers of the schedule.
    """
    target = _usual_week(problem)
    if target <= 0:
        return None
    large = sorted(
        (
            stack
            for stack in problem.stacks
            if stack.end_flush > schedule.large_flush * target and stack.logs >= 2 * LEAST_LOGS
        ),
        key=lambda stack: (-stack.end_flush, stack.name),
    )
    if not large:
        return None
    per_log = float(np.median([stack.end_flush / stack.logs for stack in large]))
    logs = int(schedule.lot_flush * target / per_log)
    return LotAdvice(
        tuple(stack.name for stack in large), large[0].end_flush, target, max(logs, LEAST_LOGS)
    )


def _usual_week(problem: Problem) -> float:
    """Return the median of the weeks' targets, weeks without any left out. [kg/week]"""
    weeks = np.zeros(problem.weeks)
    for sale in problem.outlets:
        if 0 <= sale.day < problem.horizon_days:
            weeks[sale.day // 7] += sale.target
    asked = weeks[weeks > 0]
    return float(np.median(asked)) if len(asked) else 0.0
