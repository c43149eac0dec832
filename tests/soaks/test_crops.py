"""From flushes to the picks of arcs, entry by entry, on figures small enough to add up by hand."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from fruitcast.soaks.crops import (
    Entries,
    PickDays,
    as_crops,
    forced_entries,
    joined,
    natural_entries,
    only_rows,
    until_soak,
)

SHAPES = np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.75, 0.25, 0.0], [0.5, 0.25, 0.25]])
"""Share of a flush on each of its days, by its length."""


def entries(*rows: tuple[int, int, int, float, int]) -> Entries:
    """Entries from (row, member, day, kg, set_off)."""
    row, member, day, kg, set_off = zip(*rows, strict=True) if rows else ((), (), (), (), ())
    whole = [np.array(column, dtype=np.int64) for column in (row, member, day, set_off)]
    return Entries(*whole[:3], np.array(kg, dtype=float), whole[3])


def listed(made: Entries) -> list[tuple[int, int, int, float, int]]:
    """Entries as (row, member, day, kg, set_off), in order."""
    columns = (made.row, made.member, made.day, made.kg.round(6), made.set_off)
    return sorted(zip(*(column.tolist() for column in columns), strict=True))


def days(*away: int, sold: float = 0.8, count: int = 20, members: int = 2) -> PickDays:
    """Twenty days from row 10 on; what is picked on rows away is lost."""
    share = np.full((40, members), sold)
    share[list(away)] = 0.0
    return PickDays(today_row=10, days=count, sold_share=share)


def forced(**changes) -> SimpleNamespace:
    """Two soaks: on row 8 of 1 and 2 kg, on row 11 of 3 kg and nothing."""
    made = {
        "soak_row": np.array([8, 11]),
        "pick_row": np.array([[12, 13], [15, 15]]),
        "length": np.array([[2, 3], [1, 1]]),
        "kg": np.array([[1.0, 2.0], [3.0, 0.0]]),
    }
    return SimpleNamespace(forced=SimpleNamespace(**{**made, **changes}), forced_shape=SHAPES)


def natural(kg, trigger, pick, past) -> tuple[SimpleNamespace, SimpleNamespace]:
    logs = SimpleNamespace(natural_shape=SHAPES)
    arrays = (np.array(a) for a in (kg, trigger, pick, past))
    return logs, SimpleNamespace(
        **dict(zip(("kg", "trigger", "pick", "past"), arrays, strict=True))
    )


def test_forced_crops_fall_on_the_days_of_picking_that_somebody_is_there_for():
    factor = np.array([[0.5, 1.0], [1.0, 0.5], [0.0, 1.0]])
    made = forced_entries(forced(), np.array([1, 0, 0]), factor, days(14))
    assert listed(made) == [
        (0, 0, 5, 1.2, 11),  # 3 kg at half, on one day; member 1 brings nothing
        (1, 0, 2, 0.6, 8),  # 1 kg as 3 to 1
        (1, 0, 3, 0.2, 8),
        (1, 1, 3, 0.4, 8),  # 2 kg at half; row 14 is away
        (1, 1, 5, 0.2, 8),
        (2, 1, 3, 0.8, 8),
        (2, 1, 5, 0.4, 8),
    ]


def test_picks_count_from_today_to_the_last_day_both_included():
    early = forced(pick_row=np.array([[9, 8], [28, 29]]), length=np.array([[2, 3], [3, 2]]))
    early.forced.kg = np.ones((2, 2))
    made = forced_entries(early, np.array([0, 1]), np.ones((2, 2)), days(sold=1.0))
    assert listed(made) == [
        (0, 0, 0, 0.25, 8),
        (0, 1, 0, 0.25, 8),
        (1, 0, 18, 0.5, 11),
        (1, 0, 19, 0.25, 11),
        (1, 1, 19, 0.75, 11),
    ]


def test_natural_crops_are_those_of_each_start_with_their_trigger():
    # Two flushes, three starts, one member: the second flush comes after the last start only.
    logs, following = natural(
        kg=[[[2.0], [0.0], [4.0]], [[0.0], [0.0], [1.0]]],
        trigger=[[[11], [99], [12]], [[99], [99], [20]]],
        pick=[[[14], [99], [16]], [[99], [99], [25]]],
        past=[[[17], [99], [17]], [[99], [99], [27]]],
    )
    made = natural_entries(logs, following, days(sold=0.5, members=1))
    assert listed(made) == [
        (0, 0, 4, 0.5, 11),
        (0, 0, 5, 0.25, 11),
        (0, 0, 6, 0.25, 11),
        (2, 0, 6, 2.0, 12),
        (2, 0, 15, 0.375, 20),
        (2, 0, 16, 0.125, 20),
    ]


def test_an_arc_has_the_natural_flushes_set_off_before_its_soak():
    # Start 0 has arcs to rows 20 and 30, start 1 none, start 2 one to row 30.
    picks = entries(
        (0, 0, 5, 1.0, 19),  # before both
        (0, 1, 6, 2.0, 20),  # on the first soak's day: the soak stands
        (0, 0, 7, 3.0, 29),
        (0, 0, 8, 4.0, 30),  # after both
        (1, 0, 9, 5.0, 3),
        (2, 0, 10, 6.0, 0),
        (2, 1, 11, 7.0, 500),
    )
    arcs = until_soak(picks, np.array([0, 0, 2]), np.array([20, 30, 30]), starts=3)
    assert listed(arcs) == [
        (0, 0, 5, 1.0, 19),
        (1, 0, 5, 1.0, 19),
        (1, 0, 7, 3.0, 29),
        (1, 1, 6, 2.0, 20),
        (2, 0, 10, 6.0, 0),
    ]


def test_an_arc_s_soak_on_a_neighbouring_row_of_another_start_is_told_apart():
    # Late triggers of start 0 must not fall on the arcs of start 1, whose soak is early.
    picks = entries((0, 0, 5, 1.0, 40), (0, 0, 6, 2.0, 41), (1, 0, 7, 3.0, 0))
    arcs = until_soak(picks, np.array([0, 1, 1]), np.array([41, 0, 1]), starts=2)
    assert listed(arcs) == [(0, 0, 5, 1.0, 40), (2, 0, 7, 3.0, 0)]


def test_a_flush_set_off_past_all_soaks_is_on_no_arc():
    picks = entries(*((0, 0, 5, 1.0, set_off) for set_off in (40, 41, 42, 83, 84, 85, 500)))
    arcs = until_soak(picks, np.array([0, 1, 1, 2]), np.array([41, 0, 41, 41]), starts=3)
    assert listed(arcs) == [(0, 0, 5, 1.0, 40)]


def test_without_arcs_or_picks_there_is_nothing():
    none = np.zeros(0, dtype=np.int64)
    picks = entries((0, 0, 5, 1.0, 3))
    assert listed(until_soak(picks, none, none, starts=1)) == []
    assert listed(until_soak(entries(), np.array([0]), np.array([9]), starts=1)) == []


MIXED = entries(
    (2, 0, 1, 1.0, 5), (0, 1, 2, 2.0, 6), (2, 1, 3, 3.0, 7), (1, 0, 4, 4.0, 8), (0, 0, 9, 5.0, 6)
)


def test_by_row_keeps_the_order_within_a_row():
    made = MIXED.by_row()
    assert made.row.tolist() == [0, 0, 1, 2, 2]
    assert made.kg.tolist() == [2.0, 5.0, 4.0, 1.0, 3.0]
    assert made.member.tolist() == [1, 0, 0, 0, 1]
    assert made.day.tolist() == [2, 9, 4, 1, 3]
    assert made.set_off.tolist() == [6, 6, 8, 5, 7]


def test_between_takes_a_run_of_rows_and_counts_them_from_nought():
    run = MIXED.by_row()
    assert listed(run.between(1, 3)) == [(0, 0, 4, 4.0, 8), (1, 0, 1, 1.0, 5), (1, 1, 3, 3.0, 7)]
    assert listed(run.between(0, 1)) == [(0, 0, 9, 5.0, 6), (0, 1, 2, 2.0, 6)]
    assert listed(run.between(3, 3)) == []


def test_only_rows_takes_them_in_the_order_given():
    made = only_rows(MIXED, np.array([2, 0]), 3)
    assert listed(made) == [
        (0, 0, 1, 1.0, 5),
        (0, 1, 3, 3.0, 7),
        (1, 0, 9, 5.0, 6),
        (1, 1, 2, 2.0, 6),
    ]
    assert listed(only_rows(MIXED, np.array([1]), 3)) == [(0, 0, 4, 4.0, 8)]
    assert listed(only_rows(MIXED, np.zeros(0, dtype=np.int64), 3)) == []


def test_a_course_multiplies_by_the_year_in_which_a_flush_was_set_off():
    course = np.array([0, 0, 0, 0, 0, 2.0, 0.5, 1.0, 0.0])
    assert MIXED.times_bearing(course).kg.tolist() == [2.0, 1.0, 3.0, 0.0, 2.5]


def test_joined_puts_one_behind_the_other_in_compact_types():
    made = joined(entries(), entries((7, 1, 2, 0.5, 300)), entries((3, 0, -4, 1.5, 9)))
    assert listed(made) == [(3, 0, -4, 1.5, 9), (7, 1, 2, 0.5, 300)]
    assert made.row.tolist() == [7, 3]
    assert made.row.dtype == np.int32
    assert {made.member.dtype, made.day.dtype, made.set_off.dtype} == {np.dtype(np.int16)}
    assert made.kg.dtype == np.float64
    assert len(joined().row) == len(joined().kg) == 0


@pytest.mark.parametrize("scale", [1.0, 20.0, 0.5])
def test_crops_of_a_problem_are_weights_times_the_scale(scale):
    crops = as_crops(MIXED, scale)
    assert crops.kg.tolist() == [scale * kg for kg in (1.0, 2.0, 3.0, 4.0, 5.0)]
    assert crops.row.tolist() == [2, 0, 2, 1, 0]
    assert crops.member.tolist() == [0, 1, 1, 0, 0]
    assert crops.day.tolist() == [1, 2, 3, 4, 9]
