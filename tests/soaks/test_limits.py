"""Places in the tank and hours of work, day by day, on the hand problem."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fruitcast.soaks.problem import Occupancy, Problem, SoakPath
from tests.soaks.brute_force import all_paths
from tests.soaks.hand import hand_problem
from tests.soaks.instances import small_problem
from tests.soaks.judge import judge, violations_of

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


def test_of_a_part_that_is_in_today_only_its_own_logs_take_places():
    hand = hand_problem()
    part = replace(hand.stacks[0], fixed_nights=2, fixed_standing=3, fixed_logs=12)
    problem = replace(hand, stacks=(part, hand.stacks[1]), places=60)
    room = Occupancy(problem)
    assert nonzero(room.tank) == {0: 12, 1: 12}
    assert nonzero(room.hours) == {2: 12 * 0.04}
    assert nonzero(room.fruiting) == {2: 12, 3: 12, 4: 12}
    # B's 30 logs go in on day 1: 42 are too many for 40 places, 39 are not.
    for logs, kept in ((12, False), (9, True)):
        tried = replace(problem, stacks=(replace(part, fixed_logs=logs), hand.stacks[1]))
        assert Occupancy(tried).fits(1).tolist() == [kept, True, True, True]
        rules = [broken.rule for broken in judge(tried, ((), (0,))).violations]
        assert ("tank" in rules) is not kept


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


# Against the judge, on small problems drawn by chance.

SEEDS = range(1, 9)


def some_plan(problem: Problem, seed: int) -> tuple[SoakPath, ...]:
    rng = np.random.default_rng(seed)
    choices = [all_paths(problem, index) for index in range(len(problem.stacks))]
    return tuple(paths[int(rng.integers(len(paths)))] for paths in choices)


def narrow(seed: int) -> Problem:
    """A small problem in which tank and hours both bind now and then."""
    problem = small_problem(seed, stacks=4)
    first = replace(problem.stacks[0], fixed_nights=2)
    most = max(stack.logs for stack in problem.stacks)
    return replace(
        problem,
        stacks=(first, *problem.stacks[1:]),
        tank_logs=most + 8,
        hours_a_day=0.05 * (most + 12),
    )


@pytest.mark.parametrize("seed", SEEDS)
def test_a_soak_fits_just_where_the_judge_finds_tank_and_hours_kept(seed: int) -> None:
    problem = narrow(seed)
    legal = 0
    for turn in range(4):
        plan = some_plan(problem, 100 * seed + turn)
        for index in range(4):
            others = tuple(path if n != index else () for n, path in enumerate(plan))
            there = {v.day for v in violations_of(problem, others)}
            occupancy = Occupancy(problem)
            for other, path in enumerate(others):
                occupancy.add(other, path)
            fits = occupancy.fits(index)
            for soak in range(len(problem.soak_days)):
                tried = (*others[:index], (soak,), *others[index + 1 :])
                # Days on which the others alone break a limit are none of this stack's.
                new = [
                    v
                    for v in violations_of(problem, tried)
                    if v.rule in ("tank", "hours") and v.day not in there
                ]
                if fits[soak]:
                    assert not new
                    legal += 1
                elif not there:
                    assert new
    assert legal


def test_taking_a_soak_away_leaves_tank_and_hours_as_they_were() -> None:
    problem = narrow(3)
    occupancy = Occupancy(problem)
    tank, hours = occupancy.tank.copy(), occupancy.hours.copy()
    path = max(all_paths(problem, 1), key=len)
    occupancy.add(1, path)
    assert occupancy.tank.sum() > tank.sum()
    occupancy.add(1, path, -1)
    assert occupancy.tank.tolist() == tank.tolist()
    assert occupancy.hours == pytest.approx(hours)


def test_logs_still_in_the_tank_hold_their_place_and_the_hours_of_their_pull() -> None:
    hand = hand_problem()
    problem = replace(hand, stacks=(replace(hand.stacks[0], fixed_nights=2), hand.stacks[1]))
    occupancy = Occupancy(problem)
    assert occupancy.tank[:4].tolist() == [20, 20, 0, 0]
    assert occupancy.hours[:4] == pytest.approx([0.0, 0.0, 20 * 0.04, 0.0])
    # Stack B's soaks last a night from day 1 and two from day 8; the tank holds 40.
    occupancy.add(1, (1,))
    assert occupancy.tank[7:11].tolist() == [0, 30, 30, 0]
    assert occupancy.hours[[8, 10]] == pytest.approx([30 * 0.05, 30 * 0.04])
    assert occupancy.fits(0).tolist() == [True, False, True, True]


def test_every_night_in_the_water_needs_a_place_the_last_too() -> None:
    # Soaked on day 1 for eight nights a stack is still in on day 8, when B goes in for two.
    hand = hand_problem()
    slow = replace(hand.types[0], nights=np.array([8, 2, 2, 1]))
    occupancy = Occupancy(replace(hand, types=(slow,)))
    occupancy.add(1, (1,))
    assert occupancy.fits(0).tolist() == [False, False, True, True]
    seven = replace(hand.types[0], nights=np.array([7, 2, 2, 1]))
    occupancy = Occupancy(replace(hand, types=(seven,)))
    occupancy.add(1, (1,))
    assert occupancy.fits(0).tolist() == [True, False, True, True]


@pytest.mark.parametrize("seed", range(6))
def test_a_soak_fits_just_where_the_judge_finds_a_place_to_fruit(seed: int) -> None:
    random = np.random.default_rng(seed)
    made = small_problem(seed, stacks=3)
    # Where nothing bears logs stand on no day, and need no place.
    kinds = tuple(
        replace(kind, standing=random.choice([0, 3, 9, 20], size=len(made.soak_days)))
        for kind in made.types
    )
    under_way = replace(made.stacks[0], fixed_nights=0, fixed_standing=int(random.integers(9)))
    most = max(stack.logs for stack in made.stacks)
    made = replace(
        made,
        types=kinds,
        stacks=(under_way, *made.stacks[1:]),
        tank_logs=10**4,
        hours_a_day=None,
        places=int(random.integers(most, 2 * most)),
    )
    room = Occupancy(made)
    plan: list[SoakPath] = [(), (), ()]
    for stack in (1, 2, 0):
        fits = room.fits(stack)
        for soak in made.stacks[stack].first.soak.tolist():
            tried = (*plan[:stack], (soak,), *plan[stack + 1 :])
            assert bool(fits[soak]) is (violations_of(made, tried) == [])
        open_days = [k for k in made.stacks[stack].first.soak.tolist() if fits[k]]
        if open_days:
            plan[stack] = (int(random.choice(open_days)),)
            room.add(stack, plan[stack])
