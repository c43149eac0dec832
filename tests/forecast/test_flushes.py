"""What natural flushes leave of a soak, and flushes that are all but sure: rows set by hand."""

from __future__ import annotations

import numpy as np
import pytest

from fruitcast.biology.yields import rest_factor
from fruitcast.forecast.flushes import Following, _count_as_coming, soak_factor
from fruitcast.numbers import default_numbers

NUMBERS = default_numbers()
DAYS = 300


def following(*flushes: tuple[int, int, int, float], last: float = -np.inf) -> Following:
    """One flush or none of each member after one start: (trigger, pick, past, kg)."""
    trigger, pick, past, kg = (
        np.array(column).reshape(1, 1, -1) for column in zip(*flushes, strict=True)
    )
    return Following(np.full((1, len(flushes)), last), trigger, pick, past, kg.astype(float))


NONE = (DAYS, DAYS, DAYS, 0.0)


def left(rest: float) -> float:
    return float(rest_factor(rest, NUMBERS.yields))


def test_a_soak_rests_since_the_last_first_pick_and_gives_nothing_while_a_flush_stands() -> None:
    # Last picked on row 10; set off on row 40, picked from row 50 on and no more on row 55.
    course, rows = following((40, 50, 55, 0.1), NONE, last=10.0), [8, 40, 41, 50, 54, 55, 120]
    expected = [left(0), left(30), 0.0, 0.0, 0.0, left(5), left(70)]
    found = soak_factor(course, np.array(rows), NUMBERS.yields)
    assert found.shape == (1, 7, 2)
    assert found[0, :, 0] == pytest.approx(expected)
    # Without one the rest goes on.
    assert found[0, :, 1] == pytest.approx([left(max(row - 10, 0)) for row in rows])
    pairs = soak_factor(course, np.array(rows), NUMBERS.yields, np.zeros(7, dtype=np.int64))
    assert pairs == pytest.approx(found[0])


def test_of_two_flushes_the_rest_counts_from_the_later_one() -> None:
    rows = np.array([[[40]], [[110]]])
    course = Following(np.array([[-np.inf]]), rows, rows + 10, rows + 15, np.full((2, 1, 1), 0.1))
    found = soak_factor(course, np.array([30, 100, 110, 112, 130]), NUMBERS.yields)
    assert found[0, :, 0] == pytest.approx([left(np.inf), left(50), left(60), 0.0, left(10)])


def test_each_start_keeps_its_own_flushes_and_a_bearing_year_is_that_of_the_trigger() -> None:
    rows = np.array([[[40], [90]]])
    course = Following(np.array([[1.0], [2.0]]), rows, rows + 9, rows + 14, np.ones((1, 2, 1)))
    second = course.of_starts([1])
    assert (second.last_pick[0, 0], second.trigger[0, 0, 0], second.past[0, 0, 0]) == (2.0, 90, 104)
    bearing = np.where(np.arange(DAYS) < 90, 0.5, 2.0)
    assert course.times_bearing(bearing).kg[0, :, 0].tolist() == [0.5, 2.0]
    never = Following(course.last_pick, rows + DAYS, rows, rows, course.kg)
    assert never.times_bearing(bearing).kg[0, :, 0].tolist() == [2.0, 2.0]


COMING = ((40, 50, 55, 0.1), (41, 52, 58, 0.2), (45, 60, 66, 0.3))


def last_member(*flushes: tuple[int, int, int, float], chance: float, days: int = 10) -> list[int]:
    """Rows that the last member has then; the others keep theirs."""
    course = following(*flushes)
    before = course.trigger.copy()
    _count_as_coming(course, NUMBERS.natural._replace(sure_chance=chance, longest_flush=days))
    assert (course.trigger[..., :-1] == before[..., :-1]).all()
    assert course.kg[0, 0].tolist() == [kg for *_, kg in flushes]
    return [int(rows[0, 0, -1]) for rows in (course.trigger, course.pick, course.past)]


def test_a_flush_that_all_but_a_few_members_have_stands_in_those_too_without_weight() -> None:
    # Three of four have it: by the middle rows of those three.
    assert last_member(*COMING, NONE, chance=0.74) == [41, 52, 58]
    assert last_member(*COMING, NONE, chance=0.75) == [DAYS] * 3
    # Picked more than so many days from the middle one it is another flush.
    assert last_member(*COMING, NONE, chance=0.74, days=8) == [41, 52, 58]
    assert last_member(*COMING, NONE, chance=0.74, days=7) == [DAYS] * 3


def test_the_middle_of_two_is_half_way_down_to_a_whole_day() -> None:
    assert last_member(COMING[0], COMING[2], NONE, chance=0.6) == [42, 55, 60]


def test_what_all_members_have_or_none_stays_as_it_is() -> None:
    assert last_member(*COMING, chance=0.1) == [45, 60, 66]
    assert last_member(NONE, NONE, chance=0.1) == [DAYS] * 3
