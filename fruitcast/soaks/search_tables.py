"""What the search looks up: the crop of each arc by check day and member, prices, limits, sales.

Every arc, closing arc and first arc is a row with a few entries: what is picked from one check day
to the next in one member. A stack's supply on a path is the sum of its rows. Beside it stands the
room that the search works in.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from fruitcast.soaks.problem import (
    HAIR,
    NO_LIMIT,
    Crops,
    FloatArray,
    IntArray,
    Occupancy,
    Problem,
    SoakPath,
)
from fruitcast.soaks.supply import (
    CheckDays,
    Ledger,
    allocate,
    change_cost,
    check_days,
    end_value,
    path_cost,
    sales_parts,
    stock_at_checks,
    visits_cost,
)

Index = npt.NDArray[np.uint32]
"""Unsigned: the compiled loop asks of any other index whether it counts from the end."""

LANES = 8
"""Members are padded to a multiple of this, which is quicker to reckon with."""


NEVER = 1e9
"""Price of leaving out a soak that the grower has fixed. [kg]"""


class Arrays(NamedTuple):
    """A problem as arrays, for the compiled search.

    Attributes
    ----------
    first_entry : (row + 1,) uint64 array
        Where each row's entries start in `cell` and `kg`.
    first_check : (row,) int array
        Earliest check day on which a row brings anything.
    cell : (entry,) uint32 array
        Check day times padded members, plus member.
    kg : (entry,) float array
        Picked since the check day before. [kg, per effective log for arcs and ends]
    arc_row : (type, soak day, soak day) int32 array
        Row of each interior arc, -1 where there is none.
    end_row : (type, soak day) int32 array
        Row of what follows a last soak.
    start_row : (stack, soak day + 1) int32 array
        Row of each first arc, -1 where there is none; the last is for never soaking.
    kind : (stack,) int array
        Type of each stack.
    effective_logs : (stack,) float array
        What the rows of its type are multiplied by.
    logs : (stack,) int array
        Logs.
    soak_cost : (stack,) float array
        Price of each soak, less its own part of a visit that all lots would share. [kg]
    visit : (stack,) int array
        See `Problem.visits`.
    handling : (stack,) float array
        Price of a visit. [kg]
    start_cost, end_cost : (stack, soak day + 1) float array
        Change by first soak, and negative end value by last; the last place is for never. [kg]
    soak_day : (soak day,) int array
        Days from today.
    pull_day : (type, soak day) int array
        Day of the pull by day of the soak.
    clear_day : (type, soak day) int array
        Day on which the logs have left their place to fruit; that of the pull where nothing
        limits the places.
    tank, hours, fruiting : (day,) int, float, int array
        Logs in the tank, hours of work and logs that fruit, from soaks already begun.
    limits : (4,) float array
        Logs in the tank, logs that fruit, hours to soak a log, hours to pull one.
    hours_on : (day,) float array
        Hours of work. [h]
    reach, stale : (sale,) int array
        See `CheckDays`; `stale` ends with `CheckDays.final`.
    first_sale : (check,) int array
        First sale that a pick before the check day can reach.
    target, weight : (sale,) float array
        See `CheckDays`.
    prices : (3,) float array
        Of expiry and of certainty, and the share of members that counts as its worst.
    stock : (check, padded member) float array
        Picked total of the stock. [kg]
    """

    first_entry: npt.NDArray[np.uint64]
    first_check: IntArray
    cell: Index
    kg: FloatArray
    arc_row: npt.NDArray[np.int32]
    end_row: npt.NDArray[np.int32]
    start_row: npt.NDArray[np.int32]
    kind: IntArray
    effective_logs: FloatArray
    logs: IntArray
    soak_cost: FloatArray
    visit: IntArray
    handling: FloatArray
    start_cost: FloatArray
    end_cost: FloatArray
    soak_day: IntArray
    pull_day: IntArray
    clear_day: IntArray
    tank: IntArray
    hours: FloatArray
    fruiting: IntArray
    limits: FloatArray
    hours_on: FloatArray
    reach: IntArray
    stale: IntArray
    first_sale: IntArray
    target: FloatArray
    weight: FloatArray
    prices: FloatArray
    stock: FloatArray


class Work(NamedTuple):
    """The plan under construction and room to work in; `tried_` is what a move would make of it.

    Attributes
    ----------
    paths, best_paths : (stack, soak) int array
        Soaks of each stack, in the plan and in the best one seen.
    counts, best_counts : (stack,) int array
        Number of its soaks.
    tank, hours, fruiting : (day,) int, float, int array
        In use.
    visits : (stack, soak day) int array
        Lots that go in, by `Arrays.visit`.
    picked, tried_picked : (check, padded member) float array
        Picked total. [kg]
    gone, tried_gone : (sale + 1, padded member) float array
        Sold or expired before each sale, and after the last. [kg]
    cost, tried_cost : (sale + 1, padded member) float array
        Cost of the sales before. [kg]
    sure, tried_sure : (sale + 1,) float array
        Certainty term of the sales before. [kg]
    change : (check * padded member,) float array
        Nought between moves.
    run, short : (padded member,) float array
        Room.
    new : (2, soak) int array
        The paths of a move.
    size, stack : (2,) int array
        Number of soaks and stack of each path of a move.
    value : (4,) float array
        Objective of the plan, its part from the stacks' own costs and visits, the best objective,
        and the visits alone. [kg]
    random : (1,) uint64 array
        State of chance.
    cursor : (4,) int array
        The change to be tried next when all are: place in `free`, soak (-1: one more), soak day
        (-1: none); and stacks gone through since the last gain.
    """

    paths: IntArray
    best_paths: IntArray
    counts: IntArray
    best_counts: IntArray
    tank: IntArray
    hours: FloatArray
    fruiting: IntArray
    visits: IntArray
    picked: FloatArray
    tried_picked: FloatArray
    gone: FloatArray
    tried_gone: FloatArray
    cost: FloatArray
    tried_cost: FloatArray
    sure: FloatArray
    tried_sure: FloatArray
    change: FloatArray
    run: FloatArray
    short: FloatArray
    new: IntArray
    size: IntArray
    stack: IntArray
    value: FloatArray
    random: npt.NDArray[np.uint64]
    cursor: IntArray


def room(arrays: Arrays, paths: IntArray, counts: IntArray, seed: int) -> Work:
    """Return room for a plan, to be reckoned."""
    (checks, width), sales = arrays.stock.shape, len(arrays.target)

    def booked() -> FloatArray:
        return np.zeros((sales + 1, width))

    state = (seed * 2_654_435_769 + 88_172_645_463_325_252) % 2**64
    return Work(
        paths=paths,
        best_paths=paths.copy(),
        counts=counts,
        best_counts=counts.copy(),
        tank=arrays.tank.copy(),
        hours=arrays.hours.copy(),
        fruiting=arrays.fruiting.copy(),
        visits=np.zeros(arrays.start_cost.shape, dtype=np.int64),
        picked=arrays.stock.copy(),
        tried_picked=arrays.stock.copy(),
        gone=booked(),
        tried_gone=booked(),
        cost=booked(),
        tried_cost=booked(),
        sure=np.zeros(sales + 1),
        tried_sure=np.zeros(sales + 1),
        change=np.zeros(checks * width),
        run=np.zeros(width),
        short=np.zeros(width),
        new=np.zeros((2, paths.shape[1]), dtype=np.int64),
        size=np.zeros(2, dtype=np.int64),
        stack=np.zeros(2, dtype=np.int64),
        value=np.array([0.0, 0.0, np.inf, 0.0]),
        random=np.array([state], dtype=np.uint64),
        cursor=np.array([0, -1, -1, 0]),
    )


@dataclass(frozen=True)
class SearchTables:
    """A problem ready to be searched, and any plan of it quickly reckoned.

    Attributes
    ----------
    problem : Problem
        The problem.
    checks : CheckDays
        Its check days and sales.
    arrays : Arrays
        The problem as arrays.
    """

    problem: Problem
    checks: CheckDays
    arrays: Arrays

    @classmethod
    def of(cls, problem: Problem) -> SearchTables:
        """Return the tables of a problem."""
        checks = check_days(problem)
        return cls(problem, checks, _arrays(problem, checks))

    def with_limits(self, problem: Problem) -> SearchTables:
        """Return the tables of a problem that differs in tank, hours and places alone."""
        limits = _limits(problem, self.arrays.pull_day)
        return replace(self, problem=problem, arrays=self.arrays._replace(**limits))

    def supply(self, stack: int, path: SoakPath) -> FloatArray:
        """Return the picked total of one stack on one path: (check, member). [kg]

        Raises
        ------
        KeyError
            If the stack's arcs do not allow the path.
        """
        return self._picked([(stack, path)])

    def _picked(self, paths: Iterable[tuple[int, SoakPath]]) -> FloatArray:
        """Return the picked total of some stacks, each on its path."""
        arrays = self.arrays
        cells, kg = [np.zeros(0, dtype=np.uint32)], [np.zeros(0)]
        for stack, path in paths:
            for step, row in enumerate(self.rows(stack, path)):
                entries = slice(arrays.first_entry[row], arrays.first_entry[row + 1])
                cells.append(arrays.cell[entries])
                kg.append(arrays.kg[entries] * (arrays.effective_logs[stack] if step else 1.0))
        picked = np.bincount(np.concatenate(cells), np.concatenate(kg), arrays.stock.size)
        by_check = picked.reshape(arrays.stock.shape)[:, : self.problem.members]
        return np.asarray(by_check.cumsum(axis=0))

    def rows(self, stack: int, path: SoakPath) -> list[int]:
        """Return the rows of one stack's path: first arc, inner arcs, end.

        Raises
        ------
        KeyError
            If the stack's arcs do not allow the path.
        """
        arrays = self.arrays
        kind = int(arrays.kind[stack])
        rows = [int(arrays.start_row[stack, path[0] if path else -1])]
        rows += [int(arrays.arc_row[kind, i, j]) for i, j in pairwise(path)]
        if min(rows) < 0:
            raise KeyError(path)
        return [*rows, int(arrays.end_row[kind, path[-1]])] if path else rows

    def allows(self, stack: int, path: SoakPath) -> bool:
        """Return whether a stack's arcs allow a path."""
        try:
            return bool(self.rows(stack, path))
        except KeyError:
            return False

    def refuse_other_paths(self, paths: IntArray, counts: IntArray) -> None:
        """Refuse paths of all stacks, (stack, soak), of which one isn't allowed: see `rows`."""
        arrays, stacks = self.arrays, np.arange(len(paths))
        start = arrays.start_row[stacks, np.where(counts > 0, paths[:, 0], -1)]
        inner = arrays.arc_row[arrays.kind[:, None], paths[:, :-1], paths[:, 1:]]
        later = np.arange(1, paths.shape[1]) < counts[:, None]
        wrong = (start < 0) | (later & (inner < 0)).any(axis=1)
        if wrong.any():
            stack = int(wrong.argmax())
            raise KeyError(tuple(paths[stack, : counts[stack]].tolist()))

    def total(self, plan: Sequence[SoakPath]) -> FloatArray:
        """Return the picked total of a plan and the stock: (check, member). [kg]"""
        stock = self.arrays.stock[:, : self.problem.members]
        return np.asarray(stock + self._picked(enumerate(plan)))

    def cost(self, plan: Sequence[SoakPath]) -> float:
        """Return the objective of a plan. [kg]"""
        problem = self.problem
        sales = sales_parts(allocate(self.total(plan), self.checks), problem, self.checks)
        paths = zip(problem.stacks, plan, strict=True)
        own = sum(sum(path_cost(stack, problem, path)) for stack, path in paths)
        return sum(sales) + own + visits_cost(problem, plan)

    def has_room(self, plan: Sequence[SoakPath]) -> bool:
        """Return whether tank, hours and places hold all soaks of a plan and those begun."""
        arrays = self.arrays
        stack = np.repeat(np.arange(len(plan)), [len(path) for path in plan])
        k = np.array([k for path in plan for k in path], dtype=np.int64)
        kind, logs = arrays.kind[stack], arrays.logs[stack]
        day, pull, clear = arrays.soak_day[k], arrays.pull_day[kind, k], arrays.clear_day[kind, k]

        def on(days: IntArray, weights: npt.NDArray) -> FloatArray:
            return np.asarray(np.bincount(days, weights, len(arrays.tank) + 1)[:-1])

        tank = arrays.tank + np.cumsum(on(day, logs) - on(pull, logs))
        fruiting = arrays.fruiting + np.cumsum(on(pull, logs) - on(clear, logs))
        hours = arrays.hours + on(day, logs * arrays.limits[2]) + on(pull, logs * arrays.limits[3])
        return bool(
            (tank <= arrays.limits[0]).all()
            and (fruiting <= arrays.limits[1]).all()
            and (hours <= arrays.hours_on).all()
        )


class Beside:
    """One stack's paths tried beside a plan: all other stacks do as it has them.

    Parameters
    ----------
    tables : SearchTables
        The problem's.
    plan : Plan
        The plan.
    supply : (check, member) float array
        Its picked total, see `SearchTables.total`. [kg]
    stack : int
        Place of the stack.
    """

    def __init__(
        self, tables: SearchTables, plan: Sequence[SoakPath], supply: FloatArray, stack: int
    ) -> None:
        self.plan, self.stack, self._tables = plan, stack, tables
        self._others = supply - tables.supply(stack, plan[stack])
        self._told: dict[SoakPath, Ledger] = {}
        visits = tables.problem.visits
        lots = np.flatnonzero(visits == visits[stack]).tolist()
        self._visited = {k for lot in lots if lot != stack for k in plan[lot]}

    def ledger(self, path: SoakPath) -> Ledger:
        """Return what the whole yard sells with the stack on a path."""
        if path not in self._told:
            picked = self._others + self._tables.supply(self.stack, path)
            self._told[path] = allocate(picked, self._tables.checks)
        return self._told[path]

    def cost(self, path: SoakPath) -> float:
        """Return the objective with the stack on a path, but for the others' own costs. [kg]"""
        tables, problem = self._tables, self._tables.problem
        own = problem.stacks[self.stack]
        sales = sales_parts(self.ledger(path), problem, tables.checks)
        visits = own.handling * sum(k not in self._visited for k in path)
        return sum(sales) + sum(path_cost(own, problem, path)) + visits


class _Rows:
    """Rows gathered from crops, one after the other."""

    def __init__(self, checks: CheckDays, width: int) -> None:
        # By day of the pick the first check that sees it; none does past the last one's day.
        days = np.arange(max(checks.days[-1], 0) + 2)
        self._place = np.searchsorted(checks.days, days).astype(np.int32)
        self._checks, self._width = len(checks.days), width
        self.counts: list[IntArray] = []
        self.cells: list[Index] = []
        self.kg: list[FloatArray] = []
        self._rows = 0

    def add(self, crops: Crops, rows: int) -> int:
        """Add the rows of some crops and return the first one's number."""
        row, member = np.asarray(crops.row), np.asarray(crops.member)
        day, kg = np.asarray(crops.day), np.asarray(crops.kg)
        if (np.diff(row) < 0).any():
            order = np.argsort(row, kind="stable")
            row, member, day, kg = row[order], member[order], day[order], kg[order]
        at = self._place[np.minimum(day, len(self._place) - 1)]
        seen = at < self._checks
        row, cell, kg = row[seen], at[seen] * self._width + member[seen], kg[seen]
        # Picks of one flush between the same check days stand side by side and become one entry.
        new = np.ones(len(row), dtype=bool)
        new[1:] = (row[1:] != row[:-1]) | (cell[1:] != cell[:-1])
        first = np.flatnonzero(new)
        self.counts.append(np.bincount(row[first], minlength=rows))
        self.cells.append(cell[first].astype(np.uint32))
        self.kg.append(np.add.reduceat(kg, first) if len(first) else np.zeros(0))
        self._rows += rows
        return self._rows - rows


def _limits(problem: Problem, pull_day: IntArray) -> dict[str, npt.NDArray]:
    """Return what of the arrays hangs on tank, hours of work and places to fruit."""
    begun = Occupancy(problem)
    places, clear_day = NO_LIMIT, pull_day
    if problem.places is not None:
        places = problem.places
        clear_day = pull_day + np.array([kind.standing for kind in problem.types])
    per_log = (problem.soak_hours_per_log, problem.pull_hours_per_log)
    return {
        "clear_day": clear_day,
        "tank": begun.tank,
        "hours": begun.hours,
        "fruiting": begun.fruiting,
        "limits": np.array([problem.tank_logs, places, *per_log], dtype=np.float64),
        "hours_on": problem.hours_on + HAIR,
    }


def _arrays(problem: Problem, checks: CheckDays) -> Arrays:
    stacks, types, days = problem.stacks, problem.types, len(problem.soak_days)
    width = max(1, -(-problem.members // LANES)) * LANES
    rows = _Rows(checks, width)
    arc_row = np.full((len(types), days, days), -1, dtype=np.int32)
    end_row = np.zeros((len(types), days), dtype=np.int32)
    pull_day = np.zeros((len(types), days), dtype=np.int64)
    for place, kind in enumerate(types):
        count = len(kind.start)
        arc_row[place, kind.start, kind.stop] = rows.add(kind.crops, count) + np.arange(count)
        end_row[place] = rows.add(kind.end_crops, days) + np.arange(days)
        pull_day[place] = problem.soak_days + kind.nights
    start_row = np.full((len(stacks), days + 1), -1, dtype=np.int32)
    for place, stack in enumerate(stacks):
        soaks = stack.first.soak
        start_row[place, soaks] = rows.add(stack.first.crops, len(soaks)) + np.arange(len(soaks))
        start_row[place, days] = rows.add(stack.first.none_crops, 1)
    counts = np.concatenate([np.zeros(1, dtype=np.int64), *rows.counts])
    first_entry = np.cumsum(counts)
    cell = np.concatenate([np.zeros(0, dtype=np.uint32), *rows.cells])
    first_check = np.full(len(counts) - 1, len(checks.days), dtype=np.int64)
    filled = np.flatnonzero(counts[1:])
    if len(filled):
        first_check[filled] = np.minimum.reduceat(cell // width, first_entry[filled])
    ends = [*problem.soak_days.tolist(), None]
    shape = (len(stacks), days + 1)
    change = [change_cost(stack, problem, day) for stack in stacks for day in ends]
    rest = [-end_value(stack, problem, day) for stack in stacks for day in ends]
    start_cost = np.array(change, dtype=np.float64).reshape(shape)
    start_cost[[place for place, stack in enumerate(stacks) if stack.must is not None], -1] = NEVER
    return Arrays(
        first_entry=first_entry.astype(np.uint64),
        first_check=first_check,
        cell=cell,
        kg=np.concatenate([np.zeros(0), *rows.kg]),
        arc_row=arc_row,
        end_row=end_row,
        start_row=start_row,
        kind=np.array([stack.type_index for stack in stacks], dtype=np.int64),
        effective_logs=np.array([stack.effective_logs for stack in stacks], dtype=np.float64),
        logs=np.array([stack.logs for stack in stacks], dtype=np.int64),
        soak_cost=problem.prices.soak * np.array([stack.logs for stack in stacks], dtype=np.float64)
        - problem.spared,
        visit=problem.visits,
        handling=np.array([stack.handling for stack in stacks], dtype=np.float64),
        start_cost=start_cost,
        end_cost=np.array(rest, dtype=np.float64).reshape(shape),
        soak_day=np.asarray(problem.soak_days, dtype=np.int64),
        pull_day=pull_day,
        **_limits(problem, pull_day),
        reach=checks.reach,
        stale=np.append(checks.stale, checks.final),
        first_sale=np.searchsorted(checks.reach, np.arange(len(checks.days))),
        target=checks.target,
        weight=checks.weight,
        prices=np.array([problem.prices.expired, problem.prices.certainty, 1 - problem.promise]),
        stock=np.repeat(stock_at_checks(problem, checks), width, axis=1),
    )
