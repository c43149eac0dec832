"""What a grower would do instead: the fixed rotation on paper, and a sensible one.

Both are baselines for the schedule. They look at no target, no weather and no crop; they
keep what can't be broken: soak days, tank, hours, rest, and that a stack must be ready.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from math import ceil

import numpy as np

from fruitcast.schedule.problem import Path, Plan, Problem


def cycle_logs(wanted: int, weeks: int = 9) -> tuple[int, int]:
    """Return the logs to keep, and to soak a week, when each log is soaked every `weeks` weeks.

    Parameters
    ----------
    wanted : int
        Logs wanted at least.
    weeks : int, default 9
        Length of the cycle. [week]

    Returns
    -------
    tuple of int
        Logs in all, a whole multiple of `weeks`, and logs a week.

    Notes
    -----
    One ninth of the logs each week; 100 wanted becomes 108 = 9 x 12 [1].

    References
    ----------
    [1] Hill, D.B. 2011. University of Kentucky Cooperative Extension, FOR-85.
    """
    a_week = ceil(wanted / weeks)
    return a_week * weeks, a_week


@dataclass(frozen=True)
class Turns:
    """Whose turn it is in a fixed rotation, so that it can go on from week to week.

    Attributes
    ----------
    groups : tuple of (tuple of int)
        Positions of the stacks of each group.
    turn : int
        Weeks with a soak day gone by; the group is the remainder by the number of groups.
    late : tuple of int
        Stacks whose turn has come and who wait for room or rest.
    """

    groups: tuple[tuple[int, ...], ...]
    turn: int = 0
    late: tuple[int, ...] = ()


def first_turns(problem: Problem, weeks: int = 9) -> Turns:
    """Return the groups of a fixed rotation that begins today; see `nine_week`."""
    a_week = cycle_logs(sum(stack.logs for stack in problem.stacks), weeks)[1]
    groups: list[list[int]] = [[] for _ in range(weeks)]
    logs = 0
    for stack in _longest_rested(problem):
        groups[min(logs // max(a_week, 1), weeks - 1)].append(stack)
        logs += problem.stacks[stack].logs
    return Turns(tuple(tuple(group) for group in groups))


def nine_week(problem: Problem, weeks: int = 9) -> Plan:
    """Return the fixed rotation: one `weeks`-th of the logs each week, in a set order.

    The stacks are put in order of their last soak (longest ago first) and cut into groups of
    equal logs. Each week with a soak day is one group's turn. A stack whose turn comes while
    it may not be soaked (not ready, not its class's season) waits for its next turn; one that
    only lacks room in the tank, hours or rest since its last soak goes as soon as it can.

    Parameters
    ----------
    problem : Problem
        The problem.
    weeks : int, default 9
        Length of the cycle. [week]
    """
    return take_turns(problem, first_turns(problem, weeks))[0]


def take_turns(problem: Problem, turns: Turns) -> tuple[Plan, Turns]:
    """Return the fixed rotation from this week on, and the turns left after this week.

    Parameters
    ----------
    problem : Problem
        The problem as it stands today, of the same stacks as when the groups were made.
    turns : Turns
        Whose turn it is.
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


def sensible(problem: Problem, weeks: int = 9, *, overdrawn: int = 0) -> Plan:
    """Return the sensible rotation: each week the longest rested stacks that may be soaked.

    As many logs a week as the fixed cycle, over the season to within one stack; a stack that
    isn't ready, has just flushed or is of the wrong class for the season lets the next pass.

    Parameters
    ----------
    problem : Problem
        The problem.
    weeks : int, default 9
        Length of the cycle that sets the logs a week. [week]
    overdrawn : int
        Logs soaked in the weeks before beyond what these allowed.
    """
    room = _Room(problem)
    a_week = cycle_logs(sum(stack.logs for stack in problem.stacks), weeks)[1]
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


def _weeks(problem: Problem) -> list[list[int]]:
    """Return the soaks of each week that has any, in order."""
    by_week: dict[int, list[int]] = defaultdict(list)
    for soak, day in enumerate(problem.soak_days.tolist()):
        by_week[day // 7].append(soak)
    return [by_week[week] for week in sorted(by_week)]


def _longest_rested(problem: Problem) -> list[int]:
    return sorted(range(len(problem.stacks)), key=lambda s: problem.stacks[s].rested_from)


class _Room:
    """The plan so far, with what is left of tank and hours on each day."""

    def __init__(self, problem: Problem) -> None:
        self._problem = problem
        self._paths: list[list[int]] = [[] for _ in problem.stacks]
        self._arcs = [
            set(zip(kind.start.tolist(), kind.stop.tolist(), strict=True)) for kind in problem.types
        ]
        self._first = [set(stack.first.soak.tolist()) for stack in problem.stacks]
        days = problem.limit_days
        self._tank = np.full(days, problem.tank_logs, dtype=np.int64)
        hours = np.inf if problem.hours_a_day is None else problem.hours_a_day
        self._hours = np.full(days, hours, dtype=np.float64)
        for stack in problem.stacks:
            if stack.fixed_nights > 0:
                self._tank[: stack.fixed_nights] -= stack.logs
                self._hours[stack.fixed_nights] -= stack.logs * problem.pull_hours_per_log

    @property
    def plan(self) -> Plan:
        return tuple(tuple(path) for path in self._paths)

    def last_soak(self, stack: int) -> int:
        """Return the day of a stack's last soak, planned or recorded."""
        path: Path = tuple(self._paths[stack])
        if path:
            return int(self._problem.soak_days[path[-1]])
        return self._problem.stacks[stack].rested_from

    def soak(self, stack: int, soak: int) -> bool:
        """Soak a stack when an arc leads there and there is room; return whether it was."""
        path = self._paths[stack]
        type_index = self._problem.stacks[stack].type_index
        if path and (path[-1], soak) not in self._arcs[type_index]:
            return False
        if not path and soak not in self._first[stack]:
            return False
        if not self._take(stack, soak):
            return False
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

    def _take(self, stack: int, soak: int) -> bool:
        problem = self._problem
        logs = problem.stacks[stack].logs
        day = int(problem.soak_days[soak])
        nights = int(problem.types[problem.stacks[stack].type_index].nights[soak])
        work = {day: logs * problem.soak_hours_per_log}
        work[day + nights] = work.get(day + nights, 0.0) + logs * problem.pull_hours_per_log
        held = slice(day, day + nights)
        if (self._tank[held] < logs).any():
            return False
        if any(self._hours[on] < hours - 1e-9 for on, hours in work.items()):
            return False
        self._tank[held] -= logs
        for on, hours in work.items():
            self._hours[on] -= hours
        return True
