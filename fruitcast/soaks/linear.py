"""A linear program put together piece by piece and solved by HiGHS, in silence."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import numpy as np
import numpy.typing as npt

from fruitcast.arrays import FloatArray, IntArray
from fruitcast.errors import SolverError

INTERIOR_TOLERANCE = 1e-7
"""Relative accuracy that the interior-point method is trusted with."""


@contextmanager
def silent_stdout() -> Iterator[None]:
    """Keep what a C library prints off standard output, which belongs to our answers."""
    try:
        target = sys.__stdout__.fileno() if sys.__stdout__ else 1
        kept = os.dup(target)
    except (OSError, ValueError, AttributeError):
        yield
        return
    sys.stdout.flush()
    with open(os.devnull, "w") as nowhere:  # noqa: PTH123 - a device, not a path of ours
        os.dup2(nowhere.fileno(), target)
    try:
        yield
    finally:
        os.dup2(kept, target)
        os.close(kept)


class LinearProgram:
    """Columns, rows and entries in the making; minimises."""

    def __init__(self) -> None:
        self.constant = 0.0
        self._cost: list[FloatArray] = []
        self._lower: list[FloatArray] = []
        self._upper: list[FloatArray] = []
        self._row_lower: list[FloatArray] = []
        self._row_upper: list[FloatArray] = []
        self._entries: list[tuple[IntArray, IntArray, FloatArray]] = []
        self.column_count = 0
        self.row_count = 0

    @property
    def cost(self) -> FloatArray:
        """Cost of each column."""
        return np.concatenate(self._cost)

    def columns(
        self,
        count: int,
        *,
        cost: float | FloatArray = 0.0,
        lower: float | FloatArray = 0.0,
        upper: float | FloatArray = np.inf,
    ) -> IntArray:
        """Add columns and return their indices."""
        self._cost.append(np.broadcast_to(np.asarray(cost, dtype=float), (count,)))
        self._lower.append(np.full(count, lower))
        self._upper.append(np.full(count, upper))
        self.column_count += count
        return np.arange(self.column_count - count, self.column_count)

    def rows(self, lower: FloatArray, upper: FloatArray) -> IntArray:
        """Add rows with their limits and return their indices."""
        self._row_lower.append(lower)
        self._row_upper.append(upper)
        self.row_count += len(lower)
        return np.arange(self.row_count - len(lower), self.row_count)

    def entries(
        self, rows: npt.ArrayLike, columns: npt.ArrayLike, values: float | FloatArray
    ) -> None:
        """Add matrix entries; several at one place add up."""
        row = np.asarray(rows, dtype=np.int64)
        value = np.broadcast_to(np.asarray(values, dtype=float), row.shape)
        self._entries.append((row, np.asarray(columns, dtype=np.int64), value))

    def interior(self) -> float:
        """Return the least value, a hair too low rather than too high.

        The interior-point method without crossover ends within about 1e-8 of the optimum and takes
        half the time of the simplex method on our programs; what may be missing is taken off.
        Raises SolverError if the solver ends without an optimum.
        """
        with silent_stdout():
            import highspy

            highs = self._solver()
            highs.setOptionValue("solver", "ipm")
            highs.setOptionValue("run_crossover", "off")
            highs.run()
            status = highs.getModelStatus()
            least = float(highs.getInfo().objective_function_value)
        if status != highspy.HighsModelStatus.kOptimal:
            raise SolverError(
                f"The solver ended without an optimum ({highs.modelStatusToString(status)}). "
                "Plan without --bound; the plan itself does not need the solver."
            )
        return least - INTERIOR_TOLERANCE * (1.0 + abs(least)) + self.constant

    def solution(
        self,
        *,
        whole: IntArray | None = None,
        seconds: float = np.inf,
        exact: bool = True,
    ) -> FloatArray:
        """Return the columns' values at the optimum.

        Columns of `whole` must be whole numbers. The time limit is by the clock [s]. Unless
        `exact`, the interior-point method's own end is taken in place of a corner of the feasible
        set: within about 1e-8 of the optimum, with small values in the place of noughts. Raises
        SolverError if the solver ends without an optimum.
        """
        with silent_stdout():
            import highspy

            highs = self._solver()
            highs.setOptionValue("time_limit", seconds)
            if whole is None:
                highs.setOptionValue("solver", "ipm")
                highs.setOptionValue("run_crossover", "on" if exact else "off")
            else:
                highs.setOptionValue("mip_rel_gap", 0.0)
                kinds = [highspy.HighsVarType.kInteger] * len(whole)
                highs.changeColsIntegrality(len(whole), whole.astype(np.int32), kinds)
            highs.run()
            status = highs.getModelStatus()
            values = np.array(highs.getSolution().col_value)
        if status != highspy.HighsModelStatus.kOptimal:
            raise SolverError(
                f"The solver ended without an optimum ({highs.modelStatusToString(status)}) in a "
                f"program of {self.column_count} columns and {self.row_count} rows."
            )
        return values

    def _solver(self) -> Any:
        """Return a silent solver that holds the program."""
        import highspy

        model = highspy.HighsLp()
        model.num_col_, model.num_row_ = self.column_count, self.row_count
        model.col_cost_ = np.concatenate(self._cost)
        model.col_lower_ = np.concatenate(self._lower)
        model.col_upper_ = np.concatenate(self._upper)
        model.row_lower_ = np.concatenate(self._row_lower)
        model.row_upper_ = np.concatenate(self._row_upper)
        start, index, value = self._columnwise()
        model.a_matrix_.format_ = highspy.MatrixFormat.kColwise
        model.a_matrix_.num_col_, model.a_matrix_.num_row_ = self.column_count, self.row_count
        model.a_matrix_.start_ = start
        model.a_matrix_.index_ = index
        model.a_matrix_.value_ = value
        highs = highspy.Highs()
        highs.setOptionValue("output_flag", False)
        # The solver keeps one pool of threads for the whole process and refuses another size.
        highs.setOptionValue("threads", 1)
        highs.passModel(model)
        return highs

    def _columnwise(self) -> tuple[IntArray, IntArray, FloatArray]:
        row = np.concatenate([r for r, _, _ in self._entries])
        column = np.concatenate([c for _, c, _ in self._entries])
        value = np.concatenate([v for _, _, v in self._entries])
        order = np.lexsort((row, column))
        row, column, value = row[order], column[order], value[order]
        fresh = np.ones(len(row), dtype=bool)
        fresh[1:] = (np.diff(row) != 0) | (np.diff(column) != 0)
        first = np.flatnonzero(fresh)
        value = np.add.reduceat(value, first) if len(first) else value
        row, column = row[first], column[first]
        start = np.searchsorted(column, np.arange(self.column_count + 1))
        return start.astype(np.int32), row.astype(np.int32), value
