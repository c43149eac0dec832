"""How good any plan could be: a linear program that no plan can beat.

Soaks may be split into fractions, stacks of one type may swap places after their first
soak, each member may sell as it likes within the days its mushrooms keep, and visits cost
nothing. All four only help, so the program's optimum is a lower bound on the objective. Rows of
`whole_lots.py` then take back some of the first and the last.

Variables: first[s, a] the share of stack s on its first arc a (or never soaked);
flow[g, arc] and last[g, k] in effective logs for a group g of stacks of one type with about
the same number of logs per effective log; picked[c, m] the picked total at each check;
gone[o, m] and sold[o, m] at each sale.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from fruitcast.arrays import FloatArray, IntArray
from fruitcast.soaks.linear import LinearProgram
from fruitcast.soaks.problem import Crops, Occupancy, Problem
from fruitcast.soaks.supply import (
    CheckDays,
    change_cost,
    check_days,
    end_value,
    picked_between_checks,
    stock_at_checks,
)
from fruitcast.soaks.whole_lots import MOST_LOTS, ROUNDS, WholeLots

BANDS = (0.02, 0.05, 0.1, 0.25, 1.0, 1e9)
"""Widths tried for the bands of logs per effective log, narrowest first."""

MOST_GROUPS = 130


@dataclass(frozen=True)
class Group:
    """Stacks that share interior arcs in the bound."""

    type_index: int  # their type
    stacks: tuple[int, ...]  # indices of the stacks
    # Fewest logs per effective log among them, so that tank and soak price stay a bound
    logs_per_scale: float
    # Smallest end flush per effective log among them, for what a late last soak takes from the end
    # value [kg]
    end_per_scale: float


def group_stacks(problem: Problem, most: int = MOST_GROUPS) -> list[Group]:
    """Return groups of stacks of one type and about the same logs per effective log."""
    groups: list[Group] = []
    for band in BANDS:
        groups = _groups(problem, band)
        if len(groups) <= max(most, len(problem.types)):
            break
    return groups


def _groups(problem: Problem, band: float) -> list[Group]:
    def ratio(stack: int) -> float:
        return problem.stacks[stack].logs / problem.stacks[stack].effective_logs

    groups = []
    for index in range(len(problem.types)):
        mine = [
            s
            for s, stack in enumerate(problem.stacks)
            if stack.type_index == index and stack.effective_logs > 0
        ]
        mine.sort(key=lambda s: (ratio(s), s))
        while mine:
            limit = ratio(mine[0]) * (1 + band)
            members = [s for s in mine if ratio(s) <= limit]
            mine = mine[len(members) :]
            ends = [problem.stacks[s].end_flush / problem.stacks[s].effective_logs for s in members]
            groups.append(Group(index, tuple(members), ratio(members[0]), min(ends)))
    return groups


def relax(problem: Problem, *, rounds: int = ROUNDS) -> float:
    """Return the objective of the best plan with parts of stacks: no plan can be below. [kg]

    Rows of whole lots are added so many times, where stacks are few enough. Raises SolverError if
    the solver ends without an optimum.
    """
    checks = check_days(problem)
    program = LinearProgram()
    supply = _SupplyRows(problem, checks, program)
    limits = _LimitRows(problem, program)
    groups = group_stacks(problem)
    some = rounds > 0 and len(problem.stacks) <= MOST_LOTS
    lots = WholeLots(problem, checks, program) if some else None
    if lots is not None:
        groups = [part for group in groups for part in _by_visit(problem, group)]
    for index in range(len(problem.types)):
        mine = [group for group in groups if group.type_index == index]
        if mine:
            _add_type(problem, program, supply, limits, mine, lots)
    for index, stack in enumerate(problem.stacks):
        if stack.effective_logs <= 0:
            _add_barren(problem, program, supply, index, lots)
    sold = supply.sell()
    if lots is not None:
        for _ in range(rounds):
            if not lots.add(program.solution(exact=False), sold):
                break
    return program.interior()


def _by_visit(problem: Problem, group: Group) -> list[Group]:
    """Return a group parted into the lots of each stack."""
    visits = [int(problem.visits[stack]) for stack in group.stacks]
    return [
        replace(
            group,
            stacks=tuple(s for s, of in zip(group.stacks, visits, strict=True) if of == visit),
        )
        for visit in dict.fromkeys(visits)
    ]


class _SupplyRows:
    """The picked total of every member, check by check, and what is sold from it."""

    def __init__(self, problem: Problem, checks: CheckDays, program: LinearProgram) -> None:
        self.problem, self.checks, self.program = problem, checks, program
        count, members = len(checks.days), problem.members
        stock = np.repeat(stock_at_checks(problem, checks), members, axis=1)
        step = np.diff(stock, axis=0, prepend=0.0)
        self.picked = program.columns(count * members).reshape(count, members)
        self.rows = program.rows(step.ravel(), step.ravel()).reshape(count, members)
        program.entries(self.rows.ravel(), self.picked.ravel(), 1.0)
        program.entries(self.rows[1:].ravel(), self.picked[:-1].ravel(), -1.0)

    def bring(self, columns: IntArray, crops: Crops, scale: float = 1.0) -> None:
        """Let column i bring crop row i times `scale`."""
        kg = picked_between_checks(crops, len(columns), self.checks, self.problem.members)
        check, row, member = np.nonzero(kg)
        values = -scale * kg[check, row, member]
        self.program.entries(self.rows[check, member], columns[row], values)

    def sell(self) -> IntArray:
        """Add the sales with their cost; return what is sold: (sale, member) columns."""
        problem, checks, program = self.problem, self.checks, self.program
        members, sales = problem.members, len(checks.sale_day)
        share, dear = 1.0 / members, problem.prices.expired
        before: IntArray | None = None
        sold = np.zeros(0, dtype=np.int64)
        found = np.zeros((sales, members), dtype=np.int64)
        for sale in range(sales):
            target, weight = float(checks.target[sale]), float(checks.weight[sale])
            gone = program.columns(members)
            self._not_below(gone, self.picked[checks.stale[sale]])
            if before is not None:
                self._not_below(gone, before, sold)
            sold = program.columns(members, cost=-share * (weight + dear), upper=target)
            found[sale] = sold
            reach = program.rows(np.full(members, -np.inf), np.zeros(members))
            program.entries(reach, gone, 1.0)
            program.entries(reach, sold, 1.0)
            program.entries(reach, self.picked[checks.reach[sale]], -1.0)
            program.constant += weight * target
            if problem.prices.certainty > 0:
                self._tail(sold, target)
            before = gone
        end = program.columns(members, cost=share * dear)
        self._not_below(end, self.picked[checks.final])
        if before is not None:
            self._not_below(end, before, sold)
        return found

    def _not_below(self, larger: IntArray, *smaller: IntArray) -> None:
        rows = self.program.rows(np.zeros(len(larger)), np.full(len(larger), np.inf))
        self.program.entries(rows, larger, 1.0)
        for columns in smaller:
            self.program.entries(rows, columns, -1.0)

    def _tail(self, sold: IntArray, target: float) -> None:
        """Price the mean of the worst share of shortfalls (a linear tail mean)."""
        members = self.problem.members
        worst = (1 - self.problem.promise) * members
        price = self.problem.prices.certainty
        level = self.program.columns(1, cost=price, lower=-np.inf)
        above = self.program.columns(members, cost=price / worst)
        rows = self.program.rows(np.full(members, target), np.full(members, np.inf))
        self.program.entries(rows, above, 1.0)
        self.program.entries(rows, np.repeat(level, members), 1.0)
        self.program.entries(rows, sold, 1.0)


class _LimitRows:
    """Logs in the tank, hours of work and logs that fruit, on every day."""

    def __init__(self, problem: Problem, program: LinearProgram) -> None:
        self.problem, self.program = problem, program
        begun = Occupancy(problem)

        def rows(left: FloatArray) -> IntArray:
            # What is already done may exceed a limit; then nothing more is allowed.
            return program.rows(np.full(len(left), -np.inf), np.maximum(left, 0.0))

        self.tank = rows(problem.tank_logs - begun.tank.astype(np.float64))
        self.hours = None if problem.hours_a_day is None else rows(problem.hours_on - begun.hours)
        self.fruiting = (
            None
            if problem.places is None
            else rows(problem.places - begun.fruiting.astype(np.float64))
        )

    def soak(self, columns: IntArray, soak: IntArray, type_index: int, logs: float) -> None:
        """Let column i soak `logs` logs on soak day `soak[i]`."""
        problem = self.problem
        kind = problem.types[type_index]
        nights, day = kind.nights[soak], problem.soak_days[soak]
        self._stay(self.tank, columns, day, nights, logs)
        if self.fruiting is not None:
            self._stay(self.fruiting, columns, day + nights, kind.standing[soak], logs)
        if self.hours is not None:
            self.program.entries(self.hours[day], columns, logs * problem.soak_hours_per_log)
            pulled = self.hours[day + nights]
            self.program.entries(pulled, columns, logs * problem.pull_hours_per_log)

    def _stay(
        self, rows: IntArray, columns: IntArray, first: IntArray, stay: IntArray, logs: float
    ) -> None:
        """Let column i take room for `logs` logs on `stay[i]` days from `first[i]` on."""
        for day in range(int(stay.max(initial=0))):
            there = day < stay
            self.program.entries(rows[first[there] + day], columns[there], logs)


def _add_type(
    problem: Problem,
    program: LinearProgram,
    supply: _SupplyRows,
    limits: _LimitRows,
    groups: list[Group],
    lots: WholeLots | None,
) -> None:
    """Add the groups of one type; their flows add up to the type's, which brings the crops."""
    arcs = problem.types[groups[0].type_index]
    arc_sum = program.columns(len(arcs.start))
    end_sum = program.columns(len(problem.soak_days))
    supply.bring(arc_sum, arcs.crops)
    supply.bring(end_sum, arcs.end_crops)
    if lots is not None:
        lots.besides(end_sum, arcs.end_crops)
    arc_row = program.rows(np.zeros(len(arc_sum)), np.zeros(len(arc_sum)))
    end_row = program.rows(np.zeros(len(end_sum)), np.zeros(len(end_sum)))
    program.entries(arc_row, arc_sum, -1.0)
    program.entries(end_row, end_sum, -1.0)
    for group in groups:
        flow, last = _add_group(problem, program, supply, limits, group, lots)
        program.entries(arc_row, flow, 1.0)
        program.entries(end_row, last, 1.0)


def _add_group(
    problem: Problem,
    program: LinearProgram,
    supply: _SupplyRows,
    limits: _LimitRows,
    group: Group,
    lots: WholeLots | None,
) -> tuple[IntArray, IntArray]:
    """Add one group; return its columns for interior arcs and for what follows a last soak."""
    arcs = problem.types[group.type_index]
    days = problem.soak_days
    node = program.rows(np.zeros(len(days)), np.zeros(len(days)))
    price = problem.prices.soak * group.logs_per_scale
    flow = program.columns(len(arcs.start), cost=price)
    program.entries(node[arcs.stop], flow, 1.0)
    program.entries(node[arcs.start], flow, -1.0)
    limits.soak(flow, arcs.stop, group.type_index, group.logs_per_scale)
    unrested = 1.0 - np.clip((problem.next_soak_day - days) / problem.rest_days, 0.0, 1.0)
    last = program.columns(len(days), cost=0.5 * group.end_per_scale * unrested)
    program.entries(node, last, -1.0)
    firsts = []
    for index in group.stacks:
        stack = problem.stacks[index]
        day = days[stack.first.soak].tolist()
        change = np.array([change_cost(stack, problem, d) for d in day])
        first = program.columns(len(day), cost=problem.prices.soak * stack.logs + change)
        # Every path has the whole end value, less what a late last soak takes from it.
        whole = 0.5 * stack.end_flush
        program.constant -= whole
        never = program.columns(
            1, cost=change_cost(stack, problem, None) + whole - end_value(stack, problem, None)
        )
        program.entries(node[stack.first.soak], first, stack.effective_logs)
        one = program.rows(np.ones(1), np.ones(1))
        program.entries(np.repeat(one, len(day) + 1), np.concatenate([first, never]), 1.0)
        supply.bring(first, stack.first.crops)
        supply.bring(never, stack.first.none_crops)
        limits.soak(first, stack.first.soak, stack.type_index, float(stack.logs))
        firsts.append((index, first))
        if lots is not None:
            lots.besides(never, stack.first.none_crops)
    if lots is not None:
        lots.soaks(group.stacks, flow, firsts)
    return flow, last


def _add_barren(
    problem: Problem,
    program: LinearProgram,
    supply: _SupplyRows,
    index: int,
    lots: WholeLots | None,
) -> None:
    """Add a stack that gives nothing when soaked: it is best left alone, and costs no tank."""
    stack = problem.stacks[index]
    least = min(
        change_cost(stack, problem, day)
        for day in [None, *problem.soak_days[stack.first.soak].tolist()]
    )
    program.constant += least - 0.5 * stack.end_flush
    column = program.columns(1, lower=1.0, upper=1.0)
    supply.bring(column, stack.first.none_crops)
    if lots is not None:
        lots.besides(column, stack.first.none_crops)
