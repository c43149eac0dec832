"""Shared limits: tank, hours of work and places to fruit, and which soaks still fit into them."""

from __future__ import annotations

import numpy as np

from fruitcast.soaks.problem import BoolArray, FloatArray, IntArray, Path, Problem

HAIR = 1e-9
"""Hours of work may exceed the limit by so much, from adding up. [h]"""

NO_LIMIT = 10**6
"""More logs than any tank holds, or can stand anywhere."""


class Occupancy:
    """Logs in the tank, hours of work and logs that fruit, by day, of all stacks' present paths."""

    def __init__(self, problem: Problem) -> None:
        self._problem = problem
        self.tank: IntArray = np.zeros(problem.limit_days, dtype=np.int64)
        self.hours: FloatArray = np.zeros(problem.limit_days)
        self.fruiting: IntArray = np.zeros(problem.limit_days, dtype=np.int64)
        for stack in problem.stacks:
            out = stack.fixed_nights
            if out:
                self.tank[:out] += stack.logs
                self.hours[out] += stack.logs * problem.pull_hours_per_log
            if problem.places is not None:
                self.fruiting[out : out + stack.fixed_standing] += stack.logs

    def add(self, stack_index: int, path: Path, sign: int = 1) -> None:
        """Add (or with sign -1 take away) the soaks of one stack."""
        problem, stack = self._problem, self._problem.stacks[stack_index]
        kind = problem.types[stack.type_index]
        nights = kind.nights
        for k in path:
            day, pulled = int(problem.soak_days[k]), int(problem.soak_days[k] + nights[k])
            self.tank[day:pulled] += sign * stack.logs
            self.hours[day] += sign * stack.logs * problem.soak_hours_per_log
            self.hours[pulled] += sign * stack.logs * problem.pull_hours_per_log
            if problem.places is not None:
                self.fruiting[pulled : pulled + kind.standing[k]] += sign * stack.logs

    def fits(self, stack_index: int) -> BoolArray:
        """Return for each soak day whether the stack could be soaked beside all others.

        Parameters
        ----------
        stack_index : int
            A stack whose own soaks were taken away before.

        Returns
        -------
        (soak day,) bool array
            Whether tank, hours of work and places to fruit allow it.
        """
        problem, stack = self._problem, self._problem.stacks[stack_index]
        kind = problem.types[stack.type_index]
        days, nights = problem.soak_days, kind.nights
        fits = _most(self.tank, days, nights) + stack.logs <= problem.tank_logs
        if problem.hours_a_day is not None:
            limit = problem.hours_on + HAIR
            soak = stack.logs * problem.soak_hours_per_log
            pull = stack.logs * problem.pull_hours_per_log
            fits &= self.hours[days] + soak <= limit[days]
            fits &= self.hours[days + nights] + pull <= limit[days + nights]
        if problem.places is not None:
            there = _most(self.fruiting, days + nights, kind.standing)
            fits &= (there + stack.logs <= problem.places) | (kind.standing == 0)
        return fits


def _most(logs: IntArray, first: IntArray, stay: IntArray) -> IntArray:
    """Return the most logs on any of some days in a row, for each first day and length of stay."""
    most = np.zeros(len(first), dtype=np.int64)
    for day in range(int(stay.max(initial=0))):
        there = day < stay
        most[there] = np.maximum(most[there], logs[first[there] + day])
    return most
