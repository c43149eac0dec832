"""The paths open to one stack with their costs: all of them scored, or found over arcs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

import numpy as np
import numpy.typing as npt

from fruitcast.schedule.objective import change_cost, end_value, path_cost
from fruitcast.schedule.paths import NO_SOAK
from fruitcast.schedule.problem import BoolArray, FloatArray, Path, Problem, StackProblem
from fruitcast.schedule.row_costs import RowOrder, Single, score_rows
from fruitcast.schedule.supply import CheckDays

if TYPE_CHECKING:
    from fruitcast.schedule.scoring import TypeTable

LABELS_KEPT = 24
"""Best partial paths kept at each soak day when paths are too many to list."""


class Options(Protocol):
    """The paths open to one stack, given everyone else's supply."""

    def best(self) -> Path:
        """Return the cheapest path."""
        ...

    def cost(self, path: Path) -> float:
        """Return the cost of a path, up to what is the same for all paths. [kg]"""
        ...

    def ranked(self, most: int) -> list[Path]:
        """Return the cheapest paths, best first."""
        ...


class TableOptions:
    """All paths scored exactly."""

    def __init__(
        self,
        problem: Problem,
        checks: CheckDays,
        stack: StackProblem,
        table: TypeTable,
        base: npt.NDArray[np.float32],
        fits: BoolArray,
    ) -> None:
        paths = table.paths
        if paths is None:
            raise ValueError("this type has no table of paths")
        self._table, self._paths = table, paths
        days = [*problem.soak_days.tolist(), None]
        change = np.array([change_cost(stack, problem, day) for day in days])
        end = np.array([end_value(stack, problem, day) for day in days])
        costs = score_rows(
            problem.prices,
            problem.promise,
            checks,
            table.path_kg,
            Single(stack.scale),
            base,
            table.first_row,
            table.order,
        )
        costs += problem.prices.soak * stack.logs * paths.soaks
        costs += change[paths.first] - end[paths.last]
        first_ok = np.zeros(len(problem.soak_days) + 1, dtype=bool)
        first_ok[stack.first.soak] = True
        first_ok[NO_SOAK] = True
        open_now = first_ok[paths.first]
        if not fits.all():
            open_now &= ~paths.uses[:, ~fits].any(axis=1)
        self._open = np.where(open_now, costs, np.inf)
        self._costs = costs

    def best(self) -> Path:
        """Return the cheapest path."""
        return self._paths.path(int(self._open.argmin()))

    def cost(self, path: Path) -> float:
        """Return the cost of a path, up to what is the same for all paths. [kg]"""
        return float(self._costs[self._table.row_of[path]])

    def ranked(self, most: int) -> list[Path]:
        """Return the cheapest paths, best first."""
        order = np.argsort(self._open, kind="stable")[:most]
        return [self._paths.path(int(row)) for row in order if np.isfinite(self._open[row])]


class ArcOptions:
    """Paths found by dynamic programming over arcs, the best of them scored exactly.

    Each arc is valued alone against the supply of the others; the cheapest sums over arcs
    give some candidate paths, whose true cost is then computed. So `best` is good, not
    proven best.
    """

    def __init__(
        self,
        problem: Problem,
        checks: CheckDays,
        stack: StackProblem,
        table: TypeTable,
        base: npt.NDArray[np.float32],
        fits: BoolArray,
    ) -> None:
        self._problem, self._checks, self._stack = problem, checks, stack
        self._table, self._base = table, base
        self._scored: dict[Path, float] = {}
        self._candidates = self._find(fits)

    def best(self) -> Path:
        """Return the cheapest path found."""
        return self.ranked(1)[0]

    def cost(self, path: Path) -> float:
        """Return the exact cost of a path, up to what is the same for all paths. [kg]"""
        if path not in self._scored:
            self._score([path])
        return self._scored[path]

    def ranked(self, most: int) -> list[Path]:
        """Return the cheapest paths found, best first."""
        return sorted(self._candidates, key=lambda path: (self._scored[path], path))[:most]

    def _score(self, paths: list[Path]) -> None:
        none = np.zeros_like(self._base[:, 0])
        inner = np.stack(
            [self._table.after_first(path) if path else none for path in paths], axis=1
        )
        never = len(self._problem.soak_days)
        first = np.array([path[0] if path else never for path in paths])
        costs = self._rows(inner, self._base, first)
        for path, cost in zip(paths, costs.tolist(), strict=True):
            self._scored[path] = cost + sum(path_cost(self._stack, self._problem, path))

    def _rows(
        self,
        inner: npt.NDArray[np.float32],
        base: npt.NDArray[np.float32],
        base_row: npt.NDArray[np.int64],
    ) -> FloatArray:
        return score_rows(
            self._problem.prices,
            self._problem.promise,
            self._checks,
            inner,
            Single(self._stack.scale),
            base,
            base_row,
            RowOrder.all_alive(inner.shape[1], len(self._checks.sale_day)),
        )

    def _find(self, fits: BoolArray) -> list[Path]:
        """Return candidate paths: the cheapest sums of arcs valued alone, scored exactly."""
        problem, stack, table = self._problem, self._stack, self._table
        days = len(problem.soak_days)
        rest = self._base[:, -1:]
        zero = np.zeros(1, dtype=np.int64)
        nothing = float(self._rows(np.zeros_like(rest), rest, zero)[0])
        first_cost = self._rows(np.zeros_like(self._base), self._base, np.arange(days + 1))
        arc_cost = self._rows(table.arc_kg, rest, np.repeat(zero, table.arc_kg.shape[1])) - nothing
        end_cost = self._rows(table.end_kg, rest, np.repeat(zero, days)) - nothing
        soak = problem.prices.soak * stack.logs
        into: list[list[tuple[int, int]]] = [[] for _ in range(days)]
        for (start, stop), arc in table.arc_of.items():
            into[stop].append((start, arc))
        labels: list[list[tuple[float, Path]]] = [[] for _ in range(days)]
        firsts = set(stack.first.soak.tolist())
        done: list[tuple[float, Path]] = [(nothing - end_value(stack, problem, None), ())]
        for k in range(days):
            if not fits[k]:
                continue
            day = int(problem.soak_days[k])
            grown = [
                (cost + float(arc_cost[arc]) + soak, (*path, k))
                for start, arc in into[k]
                for cost, path in labels[start]
            ]
            if k in firsts:
                change = change_cost(stack, problem, day)
                grown.append((float(first_cost[k]) + soak + change, (k,)))
            labels[k] = sorted(grown)[:LABELS_KEPT]
            tail = float(end_cost[k]) - end_value(stack, problem, day)
            done.extend((cost + tail, path) for cost, path in labels[k])
        found = [path for _, path in sorted(done)[: 2 * LABELS_KEPT]]
        if () not in found:
            found.append(())
        self._score(found)
        return found
