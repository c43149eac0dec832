"""More of anything never makes the optimum worse where surplus costs nothing.

Each optimum is proven by HiGHS on the same model as a mixed-integer program.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from fruitcast.soaks.problem import Crops, Problem
from fruitcast.soaks.search import Search
from tests.soaks.exact import solve_exact
from tests.soaks.hand import PRICES
from tests.soaks.instances import small_problem

SEEDS = [0, 1, *(pytest.param(seed, marks=pytest.mark.long) for seed in range(2, 6))]


def free_surplus(seed: int) -> Problem:
    problem = small_problem(seed, stacks=3, weeks=9, members=2)
    return replace(problem, prices=replace(PRICES, expired=0.0, soak=0.01, change=0.0))


@cache
def optimum_of(seed: int) -> float:
    """Return the optimum that all are compared with."""
    return optimum(free_surplus(seed))


def optimum(problem: Problem) -> float:
    exact = solve_exact(problem, seconds=30)
    assert exact.proven
    return exact.objective


@pytest.mark.parametrize("seed", SEEDS)
def test_a_larger_tank_never_hurts(seed: int) -> None:
    problem = free_surplus(seed)
    larger = replace(problem, tank_logs=problem.tank_logs + 15)
    assert optimum(larger) <= optimum_of(seed) + 1e-5


@pytest.mark.parametrize("seed", SEEDS)
def test_longer_keeping_never_hurts(seed: int) -> None:
    problem = free_surplus(seed)
    assert optimum(replace(problem, cold_days=problem.cold_days + 2)) <= optimum_of(seed) + 1e-5


@pytest.mark.parametrize("seed", SEEDS)
def test_one_more_stack_never_hurts(seed: int) -> None:
    problem = free_surplus(seed)
    fewer = replace(problem, stacks=problem.stacks[:-1])
    assert optimum_of(seed) <= optimum(fewer) + 1e-5


@pytest.mark.parametrize("seed", SEEDS)
def test_one_more_soak_day_never_hurts(seed: int) -> None:
    problem = free_surplus(seed)
    weekday = problem.soak_days % 7 == problem.soak_days[0] % 7
    types = []
    for arcs in problem.types:
        allowed = arcs.allowed & weekday
        keep = np.flatnonzero(allowed[arcs.start] & allowed[arcs.stop])
        crops = arcs.crops
        mine = np.isin(crops.row, keep)
        types.append(
            replace(
                arcs,
                allowed=allowed,
                start=arcs.start[keep],
                stop=arcs.stop[keep],
                crops=Crops(
                    np.searchsorted(keep, crops.row[mine]),
                    crops.member[mine],
                    crops.day[mine],
                    crops.kg[mine],
                ),
            )
        )
    stacks = []
    for stack in problem.stacks:
        keep = np.flatnonzero(types[stack.type_index].allowed[stack.first.soak])
        crops = stack.first.crops
        mine = np.isin(crops.row, keep)
        first = replace(
            stack.first,
            soak=stack.first.soak[keep],
            crops=Crops(
                np.searchsorted(keep, crops.row[mine]),
                crops.member[mine],
                crops.day[mine],
                crops.kg[mine],
            ),
        )
        stacks.append(replace(stack, first=first))
    once_a_week = replace(problem, types=tuple(types), stacks=tuple(stacks))
    assert optimum_of(seed) <= optimum(once_a_week) + 1e-5


@pytest.mark.parametrize("seed", SEEDS)
def test_the_order_of_the_weather_years_changes_no_plan(seed: int) -> None:
    problem = small_problem(seed, stacks=3, weeks=9, members=3)
    order = np.array([2, 0, 1])
    place = np.argsort(order)

    def moved(crops: Crops) -> Crops:
        return replace(crops, member=place[crops.member])

    turned = replace(
        problem,
        years=tuple(problem.years[n] for n in order),
        types=tuple(
            replace(t, crops=moved(t.crops), end_crops=moved(t.end_crops)) for t in problem.types
        ),
        stacks=tuple(
            replace(
                s,
                first=replace(
                    s.first, crops=moved(s.first.crops), none_crops=moved(s.first.none_crops)
                ),
            )
            for s in problem.stacks
        ),
    )
    assert Search(turned).run() == Search(problem).run()
