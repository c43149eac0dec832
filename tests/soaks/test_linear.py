"""The linear program against optima found with pencil and paper."""

from __future__ import annotations

import os
import sys
from itertools import product

import numpy as np
import pytest

from fruitcast.errors import SolverError
from fruitcast.soaks.linear import LinearProgram, silent_stdout


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
    assert 9.0 - 1e-5 < program.interior() < 9.0
    program.constant = 10.0
    assert 19.0 - 1e-5 < program.interior() < 19.0


def test_whole_numbers_where_they_are_asked_for() -> None:
    # 2x + 2y >= 5: 2.5 in parts, 3 in whole numbers.
    program = LinearProgram()
    columns = program.columns(2, cost=1.0)
    row = program.rows(np.array([5.0]), np.array([np.inf]))
    program.entries(np.repeat(row, 2), columns, 2.0)
    assert program.solution().sum() == pytest.approx(2.5, abs=1e-6)
    assert program.solution(whole=columns).sum() == pytest.approx(3.0, abs=1e-6)
    assert program.solution(exact=False).sum() == pytest.approx(2.5, abs=1e-6)


def test_a_program_without_a_limit_may_take_its_time(monkeypatch) -> None:
    # A slow machine made the bound fail after a minute.
    made, solver = [], LinearProgram._solver
    monkeypatch.setattr(LinearProgram, "_solver", lambda of: made.append(solver(of)) or made[-1])
    diet().solution(exact=False)
    diet().solution(seconds=7.0)
    assert [each.getOptionValue("time_limit")[1] for each in made] == [np.inf, 7.0]


def test_what_cannot_be_met_is_an_error_that_says_so() -> None:
    with pytest.raises(SolverError, match="without an optimum"):
        diet(limit=0.5).interior()
    with pytest.raises(SolverError):
        diet(limit=0.5).solution()


def test_what_a_library_prints_is_kept_off_standard_output(capfd, monkeypatch) -> None:
    for out in (sys.__stdout__, None):
        monkeypatch.setattr(sys, "__stdout__", out)
        with silent_stdout():
            os.write(1, b"banner")
        os.write(1, b"answer")
        assert capfd.readouterr().out == "answer"


def test_output_comes_back_after_an_error(capfd) -> None:
    with pytest.raises(KeyError), silent_stdout():
        os.write(1, b"banner")
        raise KeyError
    os.write(1, b"answer")
    assert capfd.readouterr().out == "answer"


def test_where_standard_output_is_no_file_work_goes_on(monkeypatch, capfd) -> None:
    class Nowhere:
        def fileno(self) -> int:
            raise OSError("no file")

    monkeypatch.setattr(sys, "__stdout__", Nowhere())
    with silent_stdout():
        os.write(1, b"banner")
    assert capfd.readouterr().out == "banner"


def test_columns_and_rows_are_numbered_in_the_order_in_which_they_come() -> None:
    program = LinearProgram()
    assert program.columns(2, cost=1.0).tolist() == [0, 1]
    assert program.columns(0).tolist() == []
    assert program.columns(3, cost=np.array([2.0, 3.0, 4.0]), lower=0.5).tolist() == [2, 3, 4]
    assert program.rows(np.zeros(2), np.ones(2)).tolist() == [0, 1]
    assert program.rows(np.zeros(1), np.ones(1)).tolist() == [2]
    assert program.cost.tolist() == [1.0, 1.0, 2.0, 3.0, 4.0]
    assert (program.column_count, program.row_count) == (5, 3)


def test_limits_of_columns_and_rows_hold_on_both_sides() -> None:
    # Most of x + y + z, each to its own limit, x + y between 1 and 3.
    program = LinearProgram()
    columns = program.columns(
        3, cost=-1.0, lower=np.array([0.0, 0.5, 0.0]), upper=np.array([1.0, 9.0, 4.0])
    )
    row = program.rows(np.array([1.0]), np.array([3.0]))
    program.entries(np.repeat(row, 2), columns[:2], 1.0)
    found = program.solution()
    assert found[:2].sum() == pytest.approx(3.0, abs=1e-6)
    assert found[2] == pytest.approx(4.0, abs=1e-6)
    least = LinearProgram()
    columns = least.columns(2, cost=np.array([1.0, 2.0]), lower=np.array([0.0, 0.5]))
    row = least.rows(np.array([1.0]), np.array([3.0]))
    least.entries(np.repeat(row, 2), columns, 1.0)
    assert least.solution() == pytest.approx([0.5, 0.5], abs=1e-6)


def test_a_program_without_entries_is_its_columns_at_their_cheapest() -> None:
    program = LinearProgram()
    program.columns(2, cost=np.array([1.0, -1.0]), lower=2.0, upper=5.0)
    program.rows(np.array([0.0]), np.array([1.0]))
    program.entries(np.zeros(0), np.zeros(0), np.zeros(0))
    assert program.solution() == pytest.approx([2.0, 5.0], abs=1e-6)


def test_whole_numbers_are_the_best_of_all_that_would_do() -> None:
    program = LinearProgram()
    columns = program.columns(3, cost=np.array([7.1, 5.0, 4.2]), upper=3.0)
    row = program.rows(np.array([23.0]), np.array([np.inf]))
    program.entries(np.repeat(row, 3), columns, np.array([7.0, 5.0, 4.0]))
    every = [
        7.1 * x + 5.0 * y + 4.2 * z
        for x, y, z in product(range(4), repeat=3)
        if 7 * x + 5 * y + 4 * z >= 23
    ]
    assert float(program.solution(whole=columns) @ program.cost) == pytest.approx(min(every))
