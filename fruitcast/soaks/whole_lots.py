"""Rows that tell the bound that lots are soaked whole: of one flush a sale takes what it wants.

A third of a soak brings a third of the flush, and a linear program sells all of it; of the whole
flush at once a sale takes no more than its target, and the rest keeps only so long. So what a run
of sales takes in one member is at most what it could take of each soak alone, added up, and all
that comes besides. Lots of one stack that go in together are one soak, with its price of a visit.

There are too many such rows. Those that the optimum breaks are added, and the program is solved
again, a few times.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from fruitcast.arrays import BoolArray, FloatArray, IntArray
from fruitcast.soaks.linear import LinearProgram
from fruitcast.soaks.problem import Crops, Problem
from fruitcast.soaks.supply import CheckDays

RUNS = (1, 2, 3, 4, 6, 9, 14, 20)
"""Sales in a row that one row looks at."""

ROUNDS = 4
"""Times that rows are added: each brings less than the one before. A bound of the calculation."""

MOST_LOTS = 60
"""With more stacks and lots than these it takes too long."""

LEAST_BROKEN = 1e-3
"""A row that is broken by less is left out. [kg]"""

SHARED_BY = 3
"""Members that break the same row are dealt out to so many rows, each the sum of theirs."""

BESIDES = -1
"""The place of what comes whatever is soaked."""


class _Picks(NamedTuple):
    """What columns bring, one entry for each pick: column, place, member, day, weight. [kg]"""

    column: IntArray
    place: IntArray
    member: IntArray
    day: IntArray
    kg: FloatArray

    def of(self, which: BoolArray | IntArray | slice) -> _Picks:
        """Return some of them."""
        column, place, member, day, kg = self
        return _Picks(column[which], place[which], member[which], day[which], kg[which])


@dataclass(frozen=True)
class _Joint:
    """One stack's lots: how many of them go in together on a soak day."""

    columns: IntArray  # (lots, soak day): whether so many do
    places: slice  # its soak days among all places
    # (lots, soak day, run, member): most that a run of sales takes of their flush alone [kg]
    sells: FloatArray


class WholeLots:
    """The rows of one program, and what they are made from.

    A place is a soak day of one stack's lots.
    """

    def __init__(self, problem: Problem, checks: CheckDays, program: LinearProgram) -> None:
        self._problem, self._checks, self._program = problem, checks, program
        self._picks: list[_Picks] = []
        self._joint: list[_Joint] = []
        self._places = 0
        days, sales = checks.sale_day, len(checks.sale_day)
        self._runs = [(first, first + n) for n in RUNS for first in range(sales - n + 1)]
        firsts = np.array([days[first] for first, _ in self._runs], dtype=np.int64)
        lasts = np.array([days[past - 1] for _, past in self._runs], dtype=np.int64)
        # Picks from the one day on and before the other can reach a run.
        self._begin = np.clip(firsts - problem.cold_days, 0, problem.days)
        self._end = np.clip(lasts, 0, problem.days)
        self._stock = np.zeros(len(self._runs))
        for day, kg in problem.stock:
            self._stock += kg * ((day >= firsts - problem.cold_days) & (day < lasts))

    def besides(self, columns: IntArray, crops: Crops) -> None:
        """Let column i bring crop row i, whatever is soaked."""
        self._bring(columns, crops, np.full(len(columns), BESIDES), np.zeros(len(columns)))

    def soaks(
        self, stacks: Sequence[int], flow: IntArray, firsts: Sequence[tuple[int, IntArray]]
    ) -> None:
        """Add what soaks bring to stacks of one type.

        Where they are not lots of one stack, what they bring is taken as it comes. `flow`, (arc,),
        has the columns of the type's interior arcs, in effective logs, `firsts` each stack and the
        columns of its first arcs.
        """
        problem = self._problem
        kind = problem.types[problem.stacks[stacks[0]].type_index]
        arcs = [(kind.crops, flow, kind.stop, 1.0)]
        for index, columns in firsts:
            stack = problem.stacks[index]
            arcs.append((stack.first.crops, columns, stack.first.soak, stack.effective_logs))
        if len({int(problem.visits[index]) for index in stacks}) > 1:
            for crops, columns, *_ in arcs:
                self.besides(columns, crops)
            return
        soaks, begin = len(problem.soak_days), self._places
        pulled = problem.soak_days + kind.nights
        most = np.zeros((soaks, problem.members, problem.days))
        for crops, columns, soak, scale in arcs:
            self._bring(columns, crops, begin + soak, pulled[soak])
            _raise_to(most, crops, soak, pulled, scale)
        together = self._together(stacks, [each[1:] for each in arcs])
        lots = np.sort([problem.stacks[index].effective_logs for index in stacks])[::-1].cumsum()
        sells = np.array([self._alone(most * each) for each in lots])
        self._places += soaks
        self._joint.append(_Joint(together, slice(begin, self._places), sells))

    def _bring(
        self, columns: IntArray, crops: Crops, place: IntArray, since: IntArray | FloatArray
    ) -> None:
        """Let column i bring crop row i; picks from day `since[i]` on belong to its place."""
        row, day = crops.row, crops.day
        its = np.where(day >= since[row], place[row], BESIDES)
        seen = day < self._problem.days
        whole = _Picks(columns[row], its, crops.member, day, crops.kg)
        self._picks.append(whole.of(seen))

    def _together(
        self, stacks: Sequence[int], arcs: Sequence[tuple[IntArray, IntArray, float]]
    ) -> IntArray:
        """Add columns for the number of lots that go in on each soak day, and their price."""
        problem, program = self._problem, self._program
        first = problem.stacks[stacks[0]]
        soaks = len(problem.soak_days)
        of_visit = int((problem.visits == problem.visits[stacks[0]]).sum())
        # Where others of the visit are elsewhere, they may share its price: none is asked then.
        price = first.handling if of_visit == len(stacks) else 0.0
        logs = np.sort([problem.stacks[index].effective_logs for index in stacks])
        columns = np.array(
            [
                program.columns(soaks, cost=price * (1 - lots / of_visit))
                for lots in range(1, len(logs) + 1)
            ]
        )
        none, free = np.zeros(soaks), np.full(soaks, np.inf)
        enough, few = program.rows(none, free), program.rows(-free, none)
        once = program.rows(-free, np.ones(soaks))
        for its, soak, scale in arcs:
            program.entries(enough[soak], its, -scale)
            program.entries(few[soak], its, -scale)
        most, least = logs[::-1].cumsum(), logs.cumsum()
        for lots, its in enumerate(columns):
            program.entries(enough, its, float(most[lots]))
            program.entries(few, its, float(least[lots]))
            program.entries(once, its, 1.0)
        return columns

    def _alone(self, picked: FloatArray) -> FloatArray:
        """Return the most that each run takes of picks alone: (soak day, run, member). [kg]"""
        soaks, members, _ = picked.shape
        checks, keeps = self._checks, self._problem.cold_days
        found = np.zeros((soaks, len(self._runs), members))
        for run, (first, past) in enumerate(self._runs):
            begin, end = int(self._begin[run]), int(self._end[run])
            some = np.flatnonzero(picked[:, :, begin:end].any(axis=(1, 2)))
            store = picked[some, :, begin:end]
            for sale in range(first, past):
                day = int(checks.sale_day[sale])
                fresh = store[:, :, max(day - keeps - begin, 0) : max(day - begin, 0)]
                taken = np.minimum(fresh.cumsum(axis=2), checks.target[sale])
                if taken.shape[2]:
                    found[some, run] += taken[:, :, -1]
                    fresh -= np.diff(taken, axis=2, prepend=0.0)  # the oldest go first
        return found

    def add(self, values: FloatArray, sold: IntArray) -> bool:
        """Add the rows that the columns' values break; return whether there are any.

        `values`, (column,), are an optimum of the program as it stands; `sold`, (sale, member), has
        the columns of what is sold.
        """
        problem, rows = self._problem, self._program.row_count
        picks = self._in_order()
        shape = (self._places + 1, problem.members, problem.days + 1)
        place = np.where(picks.place == BESIDES, self._places, picks.place)
        at = np.ravel_multi_index((place, picks.member, picks.day + 1), shape)
        kg = values[picks.column] * picks.kg
        picked = np.bincount(at, kg, int(np.prod(shape))).reshape(shape).cumsum(axis=2)
        for run, (first, past) in enumerate(self._runs):
            come = picked[:, :, self._end[run]] - picked[:, :, self._begin[run]]
            sells = come[:-1].copy()
            for each in self._joint:
                together = values[each.columns][:, :, None]
                sells[each.places] = (together * each.sells[:, :, run]).sum(axis=0)
            alone = sells < come[:-1]
            most = self._stock[run] + come[-1] + np.minimum(come[:-1], sells).sum(axis=0)
            broken = values[sold[first:past]].sum(axis=0) - most
            members = np.flatnonzero(broken > LEAST_BROKEN)
            for share in range(min(SHARED_BY, len(members))):
                self._row(run, members[share::SHARED_BY], alone, picks, sold[first:past])
        return self._program.row_count > rows

    def _row(
        self,
        run: int,
        members: IntArray,
        alone: BoolArray,
        picks: _Picks,
        sold: IntArray,
    ) -> None:
        """Add what one run takes in some members together.

        `alone` says of which places it takes no more than of their flush alone.
        """
        program = self._program
        row = program.rows(np.array([-np.inf]), np.array([self._stock[run] * len(members)]))

        def put(columns: IntArray, kg: FloatArray) -> None:
            some = np.flatnonzero(kg)
            program.entries(np.repeat(row, len(some)), columns[some], kg[some])

        mine = np.zeros(self._problem.members, dtype=bool)
        mine[members] = True
        reach = slice(*np.searchsorted(picks.day, [self._begin[run], self._end[run]]).tolist())
        column, place, member, _, kg = picks.of(reach)
        # What comes besides is at no place: the last of these, always whole.
        as_it_comes = np.concatenate([~alone, np.ones((1, alone.shape[1]), dtype=bool)])
        counts = mine[member] & as_it_comes[place, member]
        most = int(column.max(initial=0)) + 1
        put(np.arange(most), -np.bincount(column[counts], kg[counts], most).astype(np.float64))
        for each in self._joint:
            sells = each.sells[:, :, run][:, :, members] * alone[each.places][:, members]
            put(each.columns.ravel(), -sells.sum(axis=2).ravel())
        taken = sold[:, members].ravel()
        put(taken, np.ones(len(taken)))

    def _in_order(self) -> _Picks:
        """Return all picks by day."""
        if len(self._picks) > 1:
            joined = _Picks(*map(np.concatenate, zip(*self._picks, strict=True)))
            self._picks = [joined.of(np.argsort(joined.day, kind="stable"))]
        return self._picks[0]


def _raise_to(
    most: FloatArray, crops: Crops, soak: IntArray, pulled: IntArray, scale: float
) -> None:
    """Raise the weight of a flush to that of each arc into its soak. [kg per effective log]"""
    _, members, days = most.shape
    to = soak[crops.row]
    flush = (crops.day < days) & (crops.day >= pulled[to])
    row, member, day = crops.row[flush], crops.member[flush], crops.day[flush]
    pick, which = np.unique((row * members + member) * days + day, return_inverse=True)
    kg = np.bincount(which, crops.kg[flush], len(pick)) / scale
    place = soak[pick // (members * days)]
    np.maximum.at(most, (place, pick // days % members, pick % days), kg)
