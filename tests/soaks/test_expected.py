"""What a plan is expected to bring by itself, on a small yard under invented weather."""

from __future__ import annotations

from datetime import timedelta
from functools import cache

import numpy as np
import pytest

from fruitcast.app.choosing import build
from fruitcast.diary.plan import NaturalFlush
from fruitcast.soaks.build import BuiltProblem
from fruitcast.soaks.expected import natural_weeks, soak_outcome
from fruitcast.soaks.problem import Plan, SoakPath
from tests.hindcast.small_yard import TODAY, small_yard
from tests.soaks.brute_force import all_paths

WEEKS = 22


@cache
def built() -> BuiltProblem:
    return build(small_yard(5, WEEKS), weeks=WEEKS, seed=1, promise=0.8)


def weeks_of(index: int, path: SoakPath) -> list[NaturalFlush]:
    plan: list[SoakPath] = [()] * len(built().problem.stacks)
    plan[index] = path
    name = built().problem.stacks[index].name
    return [week for week in natural_weeks(built(), tuple(plan)) if week.stack == name]


def twice_soaked() -> list[tuple[int, SoakPath]]:
    """For each stack that can be soaked twice, the path with the longest pause."""
    problem = built().problem
    found = []
    for index in range(len(problem.stacks)):
        twice = [path for path in all_paths(problem, index) if len(path) == 2]
        if twice:
            found.append((index, max(twice, key=lambda path: (path[1] - path[0], path))))
    return found


def soak_date(soak: int):
    return TODAY + timedelta(days=int(built().problem.soak_days[soak]))


def before(weeks: list[NaturalFlush], soak: int) -> list[NaturalFlush]:
    return [week for week in weeks if week.week + timedelta(days=7) <= soak_date(soak)]


def test_a_later_soak_takes_no_natural_flush_from_before_it() -> None:
    seen = 0
    assert twice_soaked()
    for index, (first, second) in twice_soaked():
        none, one, two = (weeks_of(index, path) for path in ((), (first,), (first, second)))
        assert before(one, first) == before(none, first)
        assert before(two, second) == before(one, second)
        seen += sum(week.week > soak_date(first) for week in before(one, second))
    assert seen > 0


def test_weeks_are_mondays_in_order_within_the_horizon_with_a_real_chance() -> None:
    problem = built().problem
    nobody: Plan = ((),) * len(problem.stacks)
    found = natural_weeks(built(), nobody)
    assert found
    end = TODAY + timedelta(days=problem.horizon_days)
    for week in found:
        assert week.week.weekday() == 0
        assert week.week <= week.first_pick < week.week + timedelta(days=7)
        assert week.first_pick < end
        assert 0.05 <= week.chance <= 1
        assert week.chance * problem.members == pytest.approx(round(week.chance * problem.members))
        assert week.expected_kg > 0 and week.days >= 1
    assert max(week.week for week in found) > end - timedelta(weeks=WEEKS // 2)


def test_natural_flushes_weigh_no_more_than_an_unsoaked_stack_s_picks() -> None:
    # The problem's picks go on past the horizon, and rare weeks are not shown.
    problem, yard = built().problem, built().outlook.yard
    for index, stack in enumerate(problem.stacks):
        picked = float(np.sum(stack.first.none_crops.kg)) / problem.members
        shown = sum(week.expected_kg for week in weeks_of(index, ())) * yard.saleable
        assert shown <= picked + 1e-6


def test_a_soak_brings_its_first_pick_after_the_pull_and_pins_before_that() -> None:
    rows = built().outlook.soak_rows
    for index, path in twice_soaked():
        for step in (0, 1):
            found = soak_outcome(built(), index, path, step)
            assert found.comes.any()
            assert (found.kg[~found.comes] == 0).all()
            early, late = found.first_pick(0.1), found.first_pick(0.9)
            assert rows[path[step]] < early <= found.first_pick(0.5) <= late
            picks = np.sort(found.pick_row[found.comes])
            assert (picks <= late).mean() >= 0.9 > (picks < late).mean()
            assert found.pins(0.5) <= found.first_pick(0.5)
            assert (found.past_row > found.pick_row)[found.comes].all()
