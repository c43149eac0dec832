"""Places in the tank and hours of work, day by day, on the hand problem."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fruitcast.schedule.limits import Occupancy
from fruitcast.schedule.problem import Problem
from tests.schedule.hand import hand_problem

# A has 20 logs (1.0 h in, 0.8 h out), B has 30 (1.5 h in, 1.2 h out); the tank holds 40.


def nonzero(values: np.ndarray) -> dict[int, float]:
    return {int(day): pytest.approx(float(values[day])) for day in np.flatnonzero(values)}


def nights(problem: Problem, *held: int) -> Problem:
    kind = replace(problem.types[0], nights=np.array(held, dtype=np.int64))
    return replace(problem, types=(kind,))


def test_soaks_take_places_until_the_pull_and_hours_on_both_days():
    room = Occupancy(hand_problem())
    room.add(0, (0, 2))
    assert nonzero(room.tank) == {1: 20, 64: 20, 65: 20}
    assert nonzero(room.hours) == {1: 1.0, 2: 0.8, 64: 1.0, 66: 0.8}
    room.add(1, (1,))
    assert nonzero(room.tank) == {1: 20, 8: 30, 9: 30, 64: 20, 65: 20}
    assert nonzero(room.hours) == {1: 1.0, 2: 0.8, 8: 1.5, 10: 1.2, 64: 1.0, 66: 0.8}
    room.add(0, (0, 2), sign=-1)
    assert nonzero(room.tank) == {8: 30, 9: 30}
    room.add(1, (1,), sign=-1)
    assert nonzero(room.tank) == {}
    assert room.hours == pytest.approx(np.zeros(len(room.hours)))


def test_what_is_in_today_comes_out_on_its_day():
    hand = hand_problem()
    stacks = (replace(hand.stacks[0], fixed_nights=2), replace(hand.stacks[1], fixed_nights=1))
    room = Occupancy(replace(hand, stacks=stacks))
    assert nonzero(room.tank) == {0: 50, 1: 20}
    assert nonzero(room.hours) == {1: 1.2, 2: 0.8}


def fits(problem: Problem, index: int, *others: tuple[int, tuple[int, ...]]) -> list[bool]:
    room = Occupancy(problem)
    for other, path in others:
        room.add(other, path)
    return room.fits(index).tolist()


def test_a_stack_fits_where_the_tank_has_room_on_every_night():
    hand = hand_problem()
    assert fits(hand, 1) == [True] * 4
    assert fits(hand, 1, (0, (1, 3))) == [True, False, True, False]
    assert fits(replace(hand, tank_logs=50), 1, (0, (1, 3))) == [True] * 4
    assert fits(replace(hand, tank_logs=49), 1, (0, (1, 3))) == [True, False, True, False]
    assert fits(replace(hand, tank_logs=29), 1) == [False] * 4
    assert fits(replace(hand, tank_logs=30), 1) == [True] * 4


def test_the_night_before_the_pull_counts_and_the_next_does_not():
    # A goes in on day 8. B, in on day 1, is in its way from eight nights on; A, in on day 1
    # for eight, is in B's way on day 8.
    for held, free in ((7, True), (8, False)):
        problem = nights(hand_problem(), held, 2, 2, 1)
        assert fits(problem, 1, (0, (1,))) == [free, False, True, True]
        assert fits(problem, 1, (0, (0,)))[:2] == [False, free]
    # A long stay on another day makes this one no longer.
    problem = nights(hand_problem(), 7, 2, 9, 1)
    assert fits(problem, 1, (0, (1,))) == [True, False, True, True]
    assert fits(problem, 1, (0, (2,))) == [True, True, False, False]
    assert fits(problem, 1, (0, (3,))) == [True, True, False, False]


def test_hours_of_the_soak_and_of_the_pull_must_be_free():
    # Nobody in: 1.5 h to put B in are the most.
    for hours, free in ((1.5, True), (1.49, False)):
        assert fits(replace(hand_problem(), hours_a_day=hours), 1) == [free] * 4
    # A is pulled on day 8, 0.8 h, or put in and pulled as B is: 1.0 and 0.8 h.
    roomy = replace(nights(hand_problem(), 7, 2, 2, 1), tank_logs=60)
    for hours, free in ((2.3, True), (2.29, False)):
        problem = replace(roomy, hours_a_day=hours)
        assert fits(problem, 1, (0, (0,))) == [hours >= 2.5, free, True, True]
    for hours, free in ((2.5, True), (2.49, False)):
        problem = replace(roomy, hours_a_day=hours)
        assert fits(problem, 1, (0, (1,))) == [hours >= 2.2, free, True, True]
    # B comes out on day 8 when A goes in: 1.2 and 1.0 h; it goes in itself in 1.5 h.
    for hours, free in ((2.2, True), (2.19, False)):
        assert fits(replace(roomy, hours_a_day=hours), 1, (0, (1,)))[0] is free


def test_pulls_of_one_day_share_its_hours():
    # A in on day 1 and B on day 8 both come out on day 10: 0.8 and 1.2 h.
    for hours, free in ((2.0, True), (1.99, False)):
        problem = replace(nights(hand_problem(), 9, 2, 2, 1), tank_logs=60, hours_a_day=hours)
        assert fits(problem, 1, (0, (0,)))[1] is free


def test_there_is_a_place_for_the_last_pull():
    hand = hand_problem()
    late = replace(hand, soak_days=np.array([1, 8, 64, 83]))
    problem = replace(nights(late, 1, 2, 2, 3), hours_a_day=9.0)
    room = Occupancy(problem)
    room.add(0, (3,))
    assert nonzero(room.tank) == {83: 20, 84: 20, 85: 20}
    assert nonzero(room.hours) == {83: 1.0, 86: 0.8}
    assert room.fits(1).tolist() == [True, True, True, False]


def test_limits_reach_to_the_last_pull_and_to_that_of_what_is_in_today():
    hand = hand_problem()
    assert hand.limit_days == 84 + 2  # soaked on day 83 at the latest, for two nights
    assert nights(hand, 1, 9, 2, 1).limit_days == 84 + 9
    for held, days in ((85, 86), (86, 87), (200, 201)):
        stacks = (replace(hand.stacks[0], fixed_nights=held), hand.stacks[1])
        problem = replace(hand, stacks=stacks)
        assert problem.limit_days == days
        room = Occupancy(problem)
        assert nonzero(room.tank) == dict.fromkeys(range(held), 20)
        assert nonzero(room.hours) == {held: 0.8}
        # Beside A's 20 logs B's 30 find no place in the tank for 40.
        assert room.fits(1).tolist() == [False] * 4
    assert replace(hand, types=(), stacks=()).limit_days == 84
