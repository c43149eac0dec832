"""Why stacks wait: without the causes the soak is possible, and what it costs is reckoned."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from fruitcast.app.choosing import choose
from fruitcast.forecast.stacks import CAUSES, Hold
from fruitcast.soaks.build import BuiltProblem, build_problem
from fruitcast.soaks.expected import place_of
from fruitcast.soaks.problem import Occupancy
from fruitcast.soaks.reasons import Explainer
from fruitcast.soaks.waiting import WEEK_DAYS, Wait, _forbids, wait_of
from tests.app.test_random_words import QUICK, WEEKS, worded
from tests.hindcast.small_yard import small_yard

LIMITS = ("tank full", "costs")


def explained(seed: int) -> Explainer:
    """Plan a random yard whose grower has said something."""
    draw = np.random.default_rng(seed)
    known = worded(small_yard(int(draw.integers(2, 7)), WEEKS), draw, idle=True)
    built, plan, tables = choose(known, weeks=WEEKS, params=QUICK, seed=int(draw.integers(1, 50)))
    return Explainer(built, plan, tables)


def without_holds(built: BuiltProblem, index: int) -> BuiltProblem:
    outlook = built.outlook
    stacks = list(outlook.stacks)
    stacks[index] = replace(stacks[index], holds=())
    return build_problem(
        replace(outlook, stacks=tuple(stacks)),
        weeks=built.problem.weeks,
        seed=built.problem.seed,
        promise=built.problem.promise,
    )


def check(explainer: Explainer, index: int, wait: Wait) -> str:
    """Hold one reason to what it says; return which kind it is."""
    built, plan = explainer.built, explainer.plan
    problem = built.problem
    week = np.flatnonzero(problem.soak_days < WEEK_DAYS)
    assert wait.words and wait.causes
    if wait.tried is None:
        assert not set(problem.stacks[index].first.soak) & set(week.tolist())
        if set(wait.causes) <= set(CAUSES) - {"spawn run"}:
            free = without_holds(built, index).problem.stacks[index].first.soak
            assert set(free) & set(week.tolist()), (wait, problem.stacks[index].name)
            return "holds"
        if wait.causes[-1] == "weak":
            work, place = place_of(built, index)
            kg = work.fruiting.forced.kg[week] * work.first_factor[place, week]
            logs = problem.stacks[index].logs
            # Drawn luck beside the even luck by which a soak is open or not.
            least = 1.25 * built.outlook.numbers.schedule.weak_soak
            assert kg.mean(axis=1).min() * problem.stacks[index].effective_logs / logs < least
        return wait.causes[-1]
    path = wait.tried.path
    assert path[0] in week
    others = (*plan[:index], path, *plan[index + 1 :])
    gain = explainer.tables.cost(plan) - explainer.tables.cost(others)
    assert wait.tried.gain_kg == pytest.approx(gain, abs=1e-6)
    occupancy = Occupancy(problem)
    for other, soaks in enumerate(plan):
        if other != index:
            occupancy.add(other, soaks)
    fits = occupancy.fits(index)[path[0]]
    assert bool(fits) == (wait.causes == ("costs",))
    assert wait.causes[0] in LIMITS
    return wait.causes[0]


def kinds(seeds: range) -> dict[str, int]:
    found: dict[str, int] = {}
    for seed in seeds:
        explainer = explained(seed)
        for index, path in enumerate(explainer.plan):
            wait = wait_of(explainer, index)
            soon = bool(path) and explainer.built.problem.soak_days[path[0]] < WEEK_DAYS
            assert (wait is None) == soon
            if wait is not None:
                kind = check(explainer, index, wait)
                found[kind] = found.get(kind, 0) + 1
    return found


def test_every_stack_without_a_soak_this_week_says_why_and_it_holds() -> None:
    assert {"holds", "costs"} <= set(kinds(range(6)))


@pytest.mark.long
def test_reasons_of_150_yards_hold() -> None:
    found = kinds(range(150))
    print(found)
    assert {"holds", "costs", "weak", "fixed", "spawn run"} <= set(found)


def test_a_day_that_is_closed_has_a_reason_though_a_hold_is_over_by_then() -> None:
    """Else it would pass for open, and be tried with arcs that are not there."""
    built = explained(3).built
    problem, outlook = built.problem, built.outlook
    soak = int(np.flatnonzero(problem.soak_days < WEEK_DAYS)[-1])
    on = problem.today + timedelta(days=int(problem.soak_days[soak]))
    for index, stack in enumerate(problem.stacks):
        first = replace(stack.first, soak=stack.first.soak[stack.first.soak > soak])
        stacks = list(problem.stacks)
        stacks[index] = replace(stack, first=first)
        looks = list(outlook.stacks)
        looks[index] = replace(looks[index], holds=(Hold("spawn run", on),))
        closed = replace(
            built,
            problem=replace(problem, stacks=tuple(stacks)),
            outlook=replace(outlook, stacks=tuple(looks)),
        )
        assert _forbids(closed, index, soak)
