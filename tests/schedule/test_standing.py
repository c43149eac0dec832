"""The plan under construction: its cost, supply and shared limits against the judge's."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fruitcast.schedule.limits import Occupancy
from fruitcast.schedule.problem import Path, Problem
from fruitcast.schedule.scoring import Scorer
from fruitcast.schedule.standing import Standing
from fruitcast.schedule.supply import check_days, plan_crops
from tests.schedule.brute_force import all_paths
from tests.schedule.hand import hand_problem
from tests.schedule.instances import small_problem
from tests.schedule.judge import judge

SEEDS = range(1, 9)


def some_plan(problem: Problem, seed: int) -> tuple[Path, ...]:
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
def test_a_standing_plan_costs_what_the_judge_says_whatever_was_moved(seed: int) -> None:
    problem = small_problem(seed, equal_weights=False)
    standing = Standing.empty(problem, Scorer(problem))
    plan = some_plan(problem, seed)
    for index, path in enumerate(plan):
        standing.take_out(index)
        standing.put(index, path)
    apart = standing.copy()
    assert standing.cost() == pytest.approx(judge(problem, plan).objective_kg, abs=1e-6)
    expected = plan_crops(problem, plan, check_days(problem))
    assert standing.supply == pytest.approx(expected, abs=1e-6)
    before = standing.occupancy.tank.copy()
    apart.take_out(0)
    without = Occupancy(problem)
    for index, path in enumerate(plan[1:], 1):
        without.add(index, path)
    assert apart.occupancy.tank.tolist() == without.tank.tolist()
    assert apart.occupancy.hours == pytest.approx(without.hours)
    apart.put(0, ())
    assert standing.paths[0] == plan[0]
    assert standing.occupancy.tank.tolist() == before.tolist()
    bare = ((), *plan[1:])
    assert apart.cost() == pytest.approx(judge(problem, bare).objective_kg, abs=1e-6)


def test_a_stack_is_taken_out_once() -> None:
    problem = hand_problem()
    standing = Standing.empty(problem, Scorer(problem))
    standing.take_out(0)
    with pytest.raises(ValueError, match="stack 0 is out already"):
        standing.take_out(0)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_soak_fits_just_where_the_judge_finds_tank_and_hours_kept(seed: int) -> None:
    problem = narrow(seed)
    legal = 0
    for turn in range(4):
        plan = some_plan(problem, 100 * seed + turn)
        for index in range(4):
            others = tuple(path if n != index else () for n, path in enumerate(plan))
            there = {v.day for v in judge(problem, others).violations}
            occupancy = Occupancy(problem)
            for other, path in enumerate(others):
                occupancy.add(other, path)
            fits = occupancy.fits(index)
            for soak in range(len(problem.soak_days)):
                tried = (*others[:index], (soak,), *others[index + 1 :])
                # Days on which the others alone break a limit are none of this stack's.
                new = [
                    v
                    for v in judge(problem, tried).violations
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
