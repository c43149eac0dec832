"""What each stack could bring, tabled once so that the search only looks up."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from fruitcast.schedule.arc_crops import ArcCrops, BoundedCache, first_crops
from fruitcast.schedule.objective import path_cost
from fruitcast.schedule.options import ArcOptions, Options, TableOptions
from fruitcast.schedule.paths import NO_SOAK, PathTable, enumerate_paths
from fruitcast.schedule.problem import BoolArray, Crops, FloatArray, IntArray, Path, Problem
from fruitcast.schedule.row_costs import RowOrder, Single
from fruitcast.schedule.shortlist import AlternativeSales, Shortlist
from fruitcast.schedule.supply import CheckDays, check_days, picked_between_checks

PATHS_WORTH_A_TABLE = 5000
"""More paths than this are searched by dynamic programming over arcs instead."""

TABLE_BYTES = 180_000_000
"""Tables of types are kept up to this size together; the longest unused goes first. [byte]"""

OWN_BYTES = 100_000_000
"""The same for the stacks' tables up to their first soak. [byte]"""

SALES_BYTES = 20_000_000
"""The same for the memory in which shortlists are scored, one piece for each length. [byte]"""


@dataclass(frozen=True)
class TypeTable:
    """What all stacks of one type share when their paths are scored.

    Attributes
    ----------
    arc_of : dict of (int, int) to int
        Interior arc from one soak day to another.
    arc_kg : (check, arc, member) float32 array
        Picked total of each interior arc, per unit of scale; empty when `paths` serves. [kg]
    end_kg : (check, soak day, member) float32 array
        Picked total of the flushes after a last soak, per unit of scale. [kg]
    paths : PathTable or None
        All paths; None when there are too many.
    path_kg : (check, row, member) float32 array
        Picked total of each path after its first soak, per unit of scale. [kg]
    row_of : dict of Path to int
        Row of each path.
    first_row : (row,) int array
        Row of `Scorer.own` at which each path starts: its first soak, or the last for none.
    order : RowOrder
        When each path comes alive.
    """

    arc_of: dict[tuple[int, int], int]
    arc_kg: npt.NDArray[np.float32]
    end_kg: npt.NDArray[np.float32]
    paths: PathTable | None
    path_kg: npt.NDArray[np.float32]
    row_of: dict[Path, int]
    first_row: IntArray
    order: RowOrder

    def after_first(self, path: Path) -> npt.NDArray[np.float32]:
        """Return the picked total of a path after its first soak: (check, member). [kg]"""
        if self.paths is not None:
            total: npt.NDArray[np.float32] = self.path_kg[:, self.row_of[path]]
            return total
        arcs = [self.arc_of[pair] for pair in pairwise(path)]
        inner: npt.NDArray[np.float32] = self.arc_kg[:, arcs].sum(axis=1)
        return inner + self.end_kg[:, path[-1]]

    @property
    def nbytes(self) -> int:
        """Size of the large arrays. [byte]"""
        return self.arc_kg.nbytes + self.end_kg.nbytes + self.path_kg.nbytes


class Scorer:
    """Scores all paths of one stack against the supply of all others."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.checks: CheckDays = check_days(problem)
        self._arcs = [ArcCrops(arcs) for arcs in problem.types]
        self._tables = BoundedCache(self._type_table, TABLE_BYTES)
        self._own = BoundedCache(self._own_table, OWN_BYTES)
        self._sales = BoundedCache(
            lambda count: AlternativeSales(problem, self.checks, count), SALES_BYTES
        )

    def forget(self) -> None:
        """Drop the tables; they are made anew when wanted."""
        self._tables.clear()
        self._own.clear()

    def table(self, type_index: int) -> TypeTable:
        """Return the table of a type, made anew when it was dropped."""
        return self._tables[type_index]

    def own(self, stack_index: int) -> npt.NDArray[np.float32]:
        """Return a stack's picked totals up to its first soak: (check, soak day + 1, member).

        The last row is for never soaking. [kg]
        """
        return self._own[stack_index]

    def _type_table(self, index: int) -> TypeTable:
        problem, checks, arcs = self.problem, self.checks, self.problem.types[index]
        days, members = len(problem.soak_days), problem.members
        arc_kg = picked_between_checks(arcs.crops, len(arcs.start), checks, members, Single)
        end_kg = picked_between_checks(arcs.end_crops, days, checks, members, Single)
        np.cumsum(arc_kg, axis=0, out=arc_kg)
        np.cumsum(end_kg, axis=0, out=end_kg)
        paths = enumerate_paths(arcs, days, PATHS_WORTH_A_TABLE)
        if paths is None:
            none = np.zeros((len(checks.days), 0, members), dtype=Single)
            order = RowOrder.all_alive(0, 0)
            arc_of = self._arcs[index].arc_of
            return TypeTable(arc_of, arc_kg, end_kg, None, none, {}, np.zeros(0, np.int64), order)
        path_kg = np.zeros((len(checks.days), len(paths), members), dtype=Single)
        for depth in range(2, int(paths.soaks.max(initial=0)) + 1):
            rows = np.flatnonzero(paths.soaks == depth)
            path_kg[:, rows] = path_kg[:, paths.parent[rows]] + arc_kg[:, paths.arc[rows]]
        path_kg[:, 1:] += end_kg[:, paths.last[1:]]
        # A soak changes picks from the next day on at the earliest; they sell a day later.
        last_soak_day = problem.soak_days[paths.last[1:]]
        rows_by_sale = 1 + np.searchsorted(last_soak_day, checks.sale_day - 1, side="left")
        row_of = {paths.path(row): row for row in range(len(paths))}
        order = RowOrder.of(rows_by_sale, paths.parent)
        first = np.where(paths.first == NO_SOAK, days, paths.first)
        none = arc_kg[:, :0].copy()
        return TypeTable({}, none, end_kg, paths, path_kg, row_of, first, order)

    def _own_table(self, stack_index: int) -> npt.NDArray[np.float32]:
        problem, stack = self.problem, self.problem.stacks[stack_index]
        count = len(problem.soak_days)
        crops, none = stack.first.crops, stack.first.none_crops
        joined = Crops(
            np.concatenate([stack.first.soak[crops.row], np.full(len(none.row), count)]),
            np.concatenate([crops.member, none.member]),
            np.concatenate([crops.day, none.day]),
            np.concatenate([crops.kg, none.kg]),
        )
        picked = picked_between_checks(joined, count + 1, self.checks, problem.members, Single)
        np.cumsum(picked, axis=0, out=picked)
        return picked

    def supply(self, stack_index: int, path: Path) -> FloatArray:
        """Return the picked total of one stack on one path: (check, member). [kg]

        Raises
        ------
        KeyError
            If the stack's arcs do not allow the path.
        """
        stack = self.problem.stacks[stack_index]
        table = self._tables.get(stack.type_index)
        own = self._own.get(stack_index)
        if table is not None and own is not None and table.paths is not None:
            if path not in table.row_of or (path and path[0] not in stack.first.soak):
                raise KeyError(path)
            total: FloatArray = own[:, path[0] if path else -1].astype(np.float64)
            if path:
                total += stack.scale * table.after_first(path)
            return total
        picked = first_crops(stack.first, path, self.checks, self.problem.members)
        if path:
            inner = self._arcs[stack.type_index].after_first(path, self.checks, picked.shape[1])
            picked += stack.scale * inner
        return np.asarray(picked.cumsum(axis=0))

    def options(self, stack_index: int, others: FloatArray, fits: BoolArray) -> Options:
        """Return every path of a stack with its cost, given everyone else's supply.

        Parameters
        ----------
        stack_index : int
            The stack.
        others : (check, member) float array
            Picked total of all other stacks and the stock. [kg]
        fits : (soak day,) bool array
            Whether tank and hours of work leave room for the stack.
        """
        stack = self.problem.stacks[stack_index]
        table = self.table(stack.type_index)
        base = self.own(stack_index) + others[:, None, :].astype(Single)
        if table.paths is None:
            return ArcOptions(self.problem, self.checks, stack, table, base, fits)
        return TableOptions(self.problem, self.checks, stack, table, base, fits)

    def shortlist(self, stack_index: int, paths: list[Path]) -> Shortlist:
        """Return some paths of a stack ready to be scored again and again."""
        stack = self.problem.stacks[stack_index]
        own_cost = np.array([sum(path_cost(stack, self.problem, path)) for path in paths])
        table = self.table(stack.type_index)
        if table.paths is None:
            columns = [self.supply(stack_index, path) for path in paths]
            supply = np.stack(columns, axis=1).astype(Single)
        else:
            rows = [table.row_of[path] for path in paths]
            supply = self.own(stack_index)[:, table.first_row[rows]]
            supply += Single(stack.scale) * table.path_kg[:, rows]
        return Shortlist(self.problem, self._sales[len(paths)], paths, supply, own_cost)
