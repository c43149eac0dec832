"""What the search looks up: the crop of each arc by check day and member, prices, limits, sales.

Every arc, closing arc and first arc is a row with a few entries: what is picked from one check day
to the next in one member. A stack's supply on a path is the sum of its rows.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from fruitcast.arrays import FloatArray, IntArray
from fruitcast.soaks.problem import (
    HAIR,
    NO_LIMIT,
    Crops,
    Occupancy,
    Problem,
    SoakPath,
    rising,
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

Index = npt.NDArray[np.uint16] | npt.NDArray[np.uint32]
"""Unsigned: the compiled loop asks of any other index whether it counts from the end."""

Units = npt.NDArray[np.int32]
"""Weights as whole numbers of a unit."""

MOST_UNITS = 2**29
"""No total of the search is more: it and what a move takes off fit into 32 bits."""

LANES = 8
"""Members are padded to a multiple of this, which is quicker to reckon with."""

AT_A_TIME = 20_000
"""So many picks at least are gathered at a time. A bound of the calculation."""

NEVER = 1e9
"""Price of leaving out a soak that the grower has fixed. [kg]"""


class Arrays(NamedTuple):
    """A problem as arrays, for the compiled search."""

    # (row, 4): of each row its first entry in `cell` and `kg` and the one past its last, and the
    # first and last check day on which it brings anything
    row: npt.NDArray[np.uint32]
    cell: Index  # (entry,): check day times padded members, plus member
    # (entry,): picked since the check day before [kg, per effective log for arcs and ends]
    kg: npt.NDArray[np.float32]
    # (type, soak day, soak day): row of each interior arc, -1 where there is none
    arc_row: npt.NDArray[np.int32]
    end_row: npt.NDArray[np.int32]  # (type, soak day): row of what follows a last soak
    # (stack, soak day + 1): row of each first arc, -1 where there is none; the last is for never
    # soaking
    start_row: npt.NDArray[np.int32]
    kind: IntArray  # (stack,): type of each stack
    effective_logs: FloatArray  # (stack,): what the rows of its type are multiplied by
    logs: IntArray  # (stack,): logs
    # (stack,): price of each soak, less its own part of a visit that all lots would share [kg]
    soak_cost: FloatArray
    visit: IntArray  # (stack,): see `Problem.visits`
    handling: FloatArray  # (stack,): price of a visit [kg]
    # start_cost, end_cost, (stack, soak day + 1): change by first soak, and negative end value by
    # last; the last place is for never [kg]
    start_cost: FloatArray
    end_cost: FloatArray
    soak_day: IntArray  # (soak day,): days from today
    pull_day: IntArray  # (type, soak day): day of the pull by day of the soak
    # (type, soak day): day on which the logs have left their place to fruit; that of the pull where
    # nothing limits the places
    clear_day: IntArray
    # tank, hours, fruiting, (day,): logs in the tank, hours of work and logs that fruit, from soaks
    # already begun
    tank: IntArray
    hours: FloatArray
    fruiting: IntArray
    # (4,): logs in the tank, logs that fruit, hours to soak a log, hours to pull one
    limits: FloatArray
    hours_on: FloatArray  # (day,): hours of work [h]
    # reach, stale, (sale + 1,): see `CheckDays`. After the last sale one more takes nothing: by
    # then all has been picked, and what is older than `CheckDays.final` has expired.
    reach: IntArray
    stale: IntArray
    first_sale: IntArray  # (check,): first sale that a pick before the check day can reach
    target: Units  # (sale + 1,): see `CheckDays` [units]
    weight: FloatArray  # (sale + 1,): see `CheckDays`
    # (3,): of expiry and of certainty, and the share of members that counts as its worst
    prices: FloatArray
    stock: FloatArray  # (check,): picked total of the stock [kg]
    unit: FloatArray  # (2,): weight of one unit, and units in a kilogram [kg, 1/kg]


def padded(members: int) -> int:
    """Return how many members arrays have room for."""
    return max(1, -(-members // LANES)) * LANES


@dataclass(frozen=True)
class SearchTables:
    """A problem ready to be searched, and any plan of it quickly reckoned."""

    problem: Problem
    checks: CheckDays  # its check days and sales
    arrays: Arrays  # the problem as arrays

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
        arrays, members = self.arrays, self.problem.members
        cells, kg = [np.zeros(0, dtype=arrays.cell.dtype)], [np.zeros(0)]
        for stack, path in paths:
            for step, row in enumerate(self.rows(stack, path)):
                entries = slice(arrays.row[row, 0], arrays.row[row, 1])
                cells.append(arrays.cell[entries])
                kg.append(arrays.kg[entries] * (arrays.effective_logs[stack] if step else 1.0))
        shape = (len(self.checks.days), padded(members))
        picked = np.bincount(np.concatenate(cells), np.concatenate(kg), shape[0] * shape[1])
        return np.asarray(picked.reshape(shape)[:, :members].cumsum(axis=0))

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
        return np.asarray(self.arrays.stock[:, None] + self._picked(enumerate(plan)))

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
        visits -= float(problem.spared[self.stack]) * len(path)
        return sum(sales) + sum(path_cost(own, problem, path)) + visits


class _Rows:
    """Rows gathered from crops, one after the other."""

    def __init__(self, checks: CheckDays, width: int) -> None:
        # By day of the pick the first check that sees it; none does past the last one's day.
        days = np.arange(max(checks.days[-1], 0) + 2)
        self._place = np.searchsorted(checks.days, days).astype(np.int32)
        self._checks, self._width = len(checks.days), width
        # Twice as many entries stay in the processor's cache as with four bytes each.
        self._index = np.uint16 if self._checks * width <= 2**16 else np.uint32
        self._counts, self._kg = [np.zeros(0, dtype=np.int64)], [np.zeros(0, dtype=np.float32)]
        self._cells, self._most = [np.zeros(0, dtype=self._index)], list[float]()
        self._rows, self._waiting, self._crops = 0, 0, list[tuple[Crops, int]]()

    def add(self, crops: Crops, rows: int) -> int:
        """Add the rows of some crops and return the first one's number."""
        self._crops.append((crops, rows))
        self._rows += rows
        self._waiting += len(crops.row)
        if self._waiting > AT_A_TIME:
            self._take_in()
        return self._rows - rows

    def _take_in(self) -> None:
        """Take in the crops that wait: of many small ones each step is made but once."""
        *first, rows = np.cumsum([0, *(rows for _, rows in self._crops)]).tolist()
        parts = [
            (np.add(crops.row, at, dtype=np.int32), crops.member, crops.day, crops.kg)
            for (crops, _), at in zip(self._crops, first, strict=True)
        ]
        row, member, day, kg = map(np.concatenate, zip(*parts, strict=True))
        self._crops, self._waiting = [], 0
        if (row[1:] < row[:-1]).any():
            order = rising(row)
            row, member, day, kg = row[order], member[order], day[order], kg[order]
        at = self._place.take(day, mode="clip")
        if at.max(initial=0) == self._checks:
            seen = at < self._checks
            row, member, at, kg = row[seen], member[seen], at[seen], kg[seen]
        cell = at * self._width + member
        # Picks of one flush between the same check days stand side by side and become one entry.
        new = np.ones(len(row), dtype=bool)
        new[1:] = (row[1:] != row[:-1]) | (cell[1:] != cell[:-1])
        begin = np.flatnonzero(new)
        row, kg = row[begin], kg.astype(np.float32, copy=False)
        kg = np.add.reduceat(kg, begin) if len(kg) else kg
        self._counts.append(np.bincount(row, minlength=rows))
        self._cells.append(cell[begin].astype(self._index))
        self._kg.append(kg)
        totals = np.bincount(row * self._width + member[begin], kg, rows * self._width)
        for each in np.split(totals, [at * self._width for at in first[1:]]):
            self._most.append(float(each.max(initial=0.0)))

    def arrays(self) -> tuple[dict[str, npt.NDArray], FloatArray]:
        """Return `Arrays.row`, `cell` and `kg`, and of all crops the most of a row and member."""
        if self._crops:
            self._take_in()
        cell, past = np.concatenate(self._cells), np.cumsum(np.concatenate(self._counts))
        row = np.zeros((len(past), 4), dtype=np.uint32)
        row[1:, 0], row[:, 1], row[:, 2] = past[:-1], past, self._checks
        filled = np.flatnonzero(row[:, 0] < row[:, 1])
        if len(filled):
            check = cell // self._index(self._width)
            row[filled, 2] = np.minimum.reduceat(check, row[filled, 0])
            row[filled, 3] = np.maximum.reduceat(check, row[filled, 0])
        return {"row": row, "cell": cell, "kg": np.concatenate(self._kg)}, np.array(self._most)


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
    rows = _Rows(checks, padded(problem.members))
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
    kind_of = np.array([stack.type_index for stack in stacks], dtype=np.int64)
    effective_logs = np.array([stack.effective_logs for stack in stacks], dtype=np.float64)
    stock = stock_at_checks(problem, checks)[:, 0]
    of_rows, most = rows.arrays()
    # Of each two the first is of arcs or first soaks, the other of what no soak follows.
    most = np.maximum(most[::2], most[1::2])
    most_kg = stock[-1] + most[len(types) :].sum()
    most_kg += problem.most_soaks * (effective_logs @ most[kind_of])
    unit = _unit(most_kg, checks.target, problem.members)
    ends = [*problem.soak_days.tolist(), None]
    shape = (len(stacks), days + 1)
    change = [change_cost(stack, problem, day) for stack in stacks for day in ends]
    rest = [-end_value(stack, problem, day) for stack in stacks for day in ends]
    start_cost = np.array(change, dtype=np.float64).reshape(shape)
    start_cost[[place for place, stack in enumerate(stacks) if stack.must is not None], -1] = NEVER
    return Arrays(
        **of_rows,
        arc_row=arc_row,
        end_row=end_row,
        start_row=start_row,
        kind=kind_of,
        effective_logs=effective_logs,
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
        reach=np.append(checks.reach, len(checks.days) - 1),
        stale=np.append(checks.stale, checks.final),
        first_sale=np.searchsorted(checks.reach, np.arange(len(checks.days))),
        target=np.append(checks.target / unit, 0).round().astype(np.int32),
        weight=np.append(checks.weight, 0.0),
        prices=np.array([problem.prices.expired, problem.prices.certainty, 1 - problem.promise]),
        stock=stock,
        unit=np.array([unit, 1 / unit]),
    )


def _unit(most_kg: float, target: FloatArray, members: int) -> float:
    """Return the weight of a unit, a power of two, for a greatest total of a member. [kg]"""
    # What one sale takes from all members is added up too.
    most_kg = max(most_kg, padded(members) * float(target.max(initial=0.0)), 1e-3)
    return float(2.0 ** np.ceil(np.log2(most_kg / MOST_UNITS)))
