"""The linear program against optima found with pencil and paper."""

from __future__ import annotations

import numpy as np
import pytest

from fruitcast.errors import SolverError
from fruitcast.schedule.linear import LinearProgram


def diet(*, limit: float = 4.0) -> LinearProgram:
    """Least of 2x + 3y with x + y >= 4 (entered in parts), x <= 3, and y <= limit."""
    program = LinearProgram()
    x, y = program.columns(2, cost=np.array([2.0, 3.0]), upper=np.array([3.0, limit]))
    row = program.rows(np.array([4.0]), np.array([np.inf]))
    program.entries(np.repeat(row, 3), [x, y, x], np.array([0.25, 1.0, 0.75]))
    return program


def test_entries_at_one_place_add_up_and_columns_keep_their_order() -> None:
    program = diet()
    z = program.columns(1, cost=1.0, lower=2.0)
    assert (program.column_count, program.row_count, z.tolist()) == (3, 1, [2])
    assert program.cost.tolist() == [2.0, 3.0, 1.0]
    assert program.solution() == pytest.approx([3.0, 1.0, 2.0], abs=1e-6)


def test_entries_of_neighbouring_columns_in_one_row_stay_apart() -> None:
    # Each row asks for one column of its own and both for the last: 1 + 2, 3 + 2.
    program = LinearProgram()
    columns = program.columns(3, cost=np.array([1.0, 1.0, 5.0]))
    rows = program.rows(np.array([3.0, 5.0]), np.array([3.0, 5.0]))
    program.entries(rows, columns[:2], 1.0)
    program.entries(rows, np.repeat(columns[2], 2), 1.0)
    fixed = program.rows(np.array([2.0]), np.array([2.0]))
    program.entries(fixed, columns[2:], 1.0)
    assert program.solution() == pytest.approx([1.0, 3.0, 2.0], abs=1e-6)


def test_the_least_value_is_a_hair_too_low_and_has_its_constant() -> None:
    program = diet()
    assert 9.0 - 1e-5 < program.minimum() < 9.0
    program.constant = 10.0
    assert 19.0 - 1e-5 < program.minimum() < 19.0


def test_whole_numbers_where_they_are_asked_for() -> None:
    # 2x + 2y >= 5: 2.5 in parts, 3 in whole numbers.
    program = LinearProgram()
    columns = program.columns(2, cost=1.0)
    row = program.rows(np.array([5.0]), np.array([np.inf]))
    program.entries(np.repeat(row, 2), columns, 2.0)
    assert program.solution().sum() == pytest.approx(2.5, abs=1e-6)
    assert program.solution(whole=columns).sum() == pytest.approx(3.0, abs=1e-6)
    assert program.solution(exact=False).sum() == pytest.approx(2.5, abs=1e-6)


def test_what_cannot_be_met_is_an_error_that_says_so() -> None:
    with pytest.raises(SolverError, match="without an optimum"):
        diet(limit=0.5).minimum()
    with pytest.raises(SolverError):
        diet(limit=0.5).solution()
