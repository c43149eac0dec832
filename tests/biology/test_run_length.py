"""Run-length algebra against counting by hand."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fruitcast.biology.run_length import (
    cumulate,
    first_reached,
    lag,
    next_true,
    rolling_mean,
    rolling_sum,
    true_at,
)

FLAGS = st.lists(st.booleans(), min_size=1, max_size=40)
AMOUNTS = st.lists(st.integers(0, 9), min_size=1, max_size=40)


def column(values, kind=float):
    return np.array(values, dtype=kind)[:, None]


def test_rolling_sum_takes_the_day_and_those_before_it():
    assert rolling_sum(column([1, 2, 4, 8, 16]), 3)[:, 0].tolist() == [1, 3, 7, 14, 28]


def test_rolling_mean_averages_what_there_is():
    assert rolling_mean(column([1, 3, 5, 7]), 2)[:, 0].tolist() == [1, 2, 4, 6]


@given(AMOUNTS, st.integers(1, 50))
def test_rolling_sum_is_the_sum_of_slices(values, days):
    expected = [sum(values[max(0, i - days + 1) : i + 1]) for i in range(len(values))]
    assert rolling_sum(column(values), days)[:, 0].tolist() == expected


def test_lag_fills_the_days_before_the_table():
    assert lag(column([1, 2, 3]), 2, fill=-1)[:, 0].tolist() == [-1, -1, 1]
    assert lag(column([1, 2, 3]), 5, fill=-1)[:, 0].tolist() == [-1, -1, -1]


@given(FLAGS)
def test_next_true_finds_the_first_flag_on_or_after(flags):
    expected = [
        next((j for j in range(i, len(flags)) if flags[j]), len(flags))
        for i in range(len(flags) + 1)
    ]
    assert next_true(column(flags, bool))[:, 0].tolist() == expected


@given(AMOUNTS, st.data())
def test_first_reached_adds_up_day_by_day(values, data):
    start = data.draw(st.integers(0, len(values)))
    need = data.draw(st.integers(0, 60))
    day, total = start, 0
    while day < len(values) and total < need:
        total += values[day]
        day += 1
    assert first_reached(cumulate(column(values)), start, 0, need) == day


def test_equal_on_paper_counts_as_reached():
    # Ten times a tenth is a little under one in binary.
    assert first_reached(cumulate(column([0.1] * 12)), 0, 0, 1.0) == 10


def test_first_reached_broadcasts_starts_against_columns():
    total = cumulate(np.array([[1.0, 2.0]] * 6))
    found = first_reached(total, np.array([[0], [3]]), np.array([[0, 1]]), 4.0)
    assert found.tolist() == [[4, 2], [6, 5]]


def test_rolling_sum_does_not_depend_on_what_came_long_before():
    tail = np.array([[0.1], [0.2], [24.7]])
    long = np.vstack([np.full((4000, 1), 1e6), np.zeros((3, 1)), tail])
    assert rolling_sum(long, 3)[-1, 0] == pytest.approx(rolling_sum(tail, 3)[-1, 0], abs=0)


def test_where_flags_are_up_is_as_numpy_finds_it():
    flags = np.random.default_rng(1).random((7, 3, 5)) < 0.3
    assert np.array_equal(true_at(flags), np.nonzero(flags))
    assert [len(place) for place in true_at(flags[:0])] == [0, 0, 0]
