"""Shared limits: tank places and hours of work, and which soaks still fit into them."""

from __future__ import annotations

import numpy as np

from fruitcast.schedule.problem import BoolArray, FloatArray, IntArray, Path, Problem

HAIR = 1e-9


class Occupancy:
    """Logs in the tank and hours of work, day by day, of all stacks' present paths."""

    def __init__(self, problem: Problem) -> None:
        self._problem = problem
        self.tank: IntArray = np.zeros(problem.limit_days, dtype=np.int64)
        self.hours: FloatArray = np.zeros(problem.limit_days)
        for stack in problem.stacks:
            if stack.fixed_nights:
                self.tank[: stack.fixed_nights] += stack.logs
                self.hours[stack.fixed_nights] += stack.logs * problem.pull_hours_per_log

    def add(self, stack_index: int, path: Path, sign: int = 1) -> None:
        """Add (or with sign -1 take away) the soaks of one stack."""
        problem, stack = self._problem, self._problem.stacks[stack_index]
        nights = problem.types[stack.type_index].nights
        for k in path:
            day, pulled = int(problem.soak_days[k]), int(problem.soak_days[k] + nights[k])
            self.tank[day:pulled] += sign * stack.logs
            self.hours[day] += sign * stack.logs * problem.soak_hours_per_log
            self.hours[pulled] += sign * stack.logs * problem.pull_hours_per_log

    def fits(self, stack_index: int) -> BoolArray:
        """Return for each soak day whether the stack could be soaked beside all others.

        Parameters
        ----------
        stack_index : int
            A stack whose own soaks were taken away before.

        Returns
        -------
        (soak day,) bool array
            Whether tank and hours of work allow it.
        """
        problem, stack = self._problem, self._problem.stacks[stack_index]
        nights = problem.types[stack.type_index].nights
        days = problem.soak_days
        most_in = np.zeros(len(days), dtype=np.int64)
        for night in range(int(nights.max(initial=0))):
            there = night < nights
            most_in[there] = np.maximum(most_in[there], self.tank[days[there] + night])
        fits = most_in + stack.logs <= problem.tank_logs
        if problem.hours_a_day is not None:
            limit = problem.hours_a_day + HAIR
            soak = stack.logs * problem.soak_hours_per_log
            pull = stack.logs * problem.pull_hours_per_log
            fits &= self.hours[days] + soak <= limit
            fits &= self.hours[days + nights] + pull <= limit
        return fits
