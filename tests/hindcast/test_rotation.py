"""The two rotations: their arithmetic, their order, and that they keep what can't be broken."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from fruitcast.hindcast.policies import logs_a_week, sensible
from fruitcast.soaks.problem import Problem
from tests.hindcast.rotations import nine_week
from tests.soaks.hand import hand_problem
from tests.soaks.instances import small_problem, yard_like
from tests.soaks.judge import judge


def test_nine_week_arithmetic() -> None:
    # Hill 2011, University of Kentucky FOR-85: 100 logs wanted becomes 108 = 9 x 12.
    assert logs_a_week(100) == logs_a_week(108) == 108 / 9 == 12
    # Eight-week rotation of 32 logs, common practice: 4 a week.
    assert logs_a_week(32, 8) == 4
    assert logs_a_week(1, 9) == 1


def even_yard(stacks: int = 9, weeks: int = 26) -> Problem:
    """Return a yard of equal stacks of 12 logs, all rested, the first listed rested longest."""
    problem = yard_like(stacks, weeks, members=2)
    first = replace(problem.stacks[0], type_index=0)
    soak = np.flatnonzero(problem.types[first.type_index].allowed)
    ready = replace(first.first, soak=soak, crops=replace(first.first.crops, **EMPTY))
    return replace(
        problem,
        stacks=tuple(
            replace(
                first,
                name=f"N{index}",
                logs=12,
                first=ready,
                rested_from=index - 100,
                fixed_nights=0,
            )
            for index in range(stacks)
        ),
    )


EMPTY = {
    "row": np.zeros(0, dtype=np.int64),
    "member": np.zeros(0, dtype=np.int64),
    "day": np.zeros(0, dtype=np.int64),
    "kg": np.zeros(0),
}


def soak_weeks(problem: Problem, path: tuple[int, ...]) -> list[int]:
    return [int(problem.soak_days[soak]) // 7 for soak in path]


def test_one_ninth_of_the_logs_each_week_in_turn() -> None:
    problem = even_yard()
    plan = nine_week(problem)
    assert judge(problem, plan).legal
    # Stack 0 rested longest: it goes in weeks 0, 9, 18; stack 8 in weeks 8, 17. The class may
    # be soaked up to week 23.
    assert [soak_weeks(problem, path) for path in plan] == [
        list(range(index, 24, 9)) for index in range(9)
    ]


def test_a_shorter_cycle_waits_for_the_rest_it_lacks() -> None:
    # Eight weeks are 56 days and 63 are needed: each turn slips by a week.
    problem = even_yard(stacks=8)
    plan = nine_week(problem, weeks=8)
    assert judge(problem, plan).legal
    assert soak_weeks(problem, plan[0]) == [0, 9, 18]


def test_the_logs_of_a_week_are_a_ninth() -> None:
    problem = even_yard(stacks=18)
    for plan in (nine_week(problem), sensible(problem)):
        weeks = Counter(week for path in plan for week in soak_weeks(problem, path))
        assert set(weeks.values()) == {2}  # two stacks of 12: 24 of 216 logs


def test_who_misses_the_turn_waits_for_the_next() -> None:
    problem = even_yard()
    unready = replace(
        problem.stacks[0],
        first=replace(problem.stacks[0].first, soak=problem.stacks[0].first.soak[6:]),
    )
    problem = replace(problem, stacks=(unready, *problem.stacks[1:]))
    assert soak_weeks(problem, nine_week(problem)[0]) == [9, 18]
    # The sensible rotation takes it as soon as it is ready.
    assert soak_weeks(problem, sensible(problem)[0])[0] == 3


def test_a_full_tank_sends_the_second_stack_to_the_next_soak_day() -> None:
    problem = replace(even_yard(stacks=18), tank_logs=12)
    plan = nine_week(problem)
    assert judge(problem, plan).legal
    week_0 = [int(problem.soak_days[path[0]]) for path in plan[:2]]
    assert week_0 == [1, 4]  # Tuesday and Friday


def test_tank_and_hours_by_hand() -> None:
    # A (20 logs) and B (30) don't fit the tank of 40 together. In a cycle of one week both
    # are due at once: A goes on day 1, B on day 8 when it is rested, both again on day 71
    # at the earliest, where there is room for B only after A has taken day 64.
    problem = hand_problem()
    assert nine_week(problem, weeks=1) == ((0, 2), (1, 3))
    assert nine_week(replace(problem, hours_a_day=1.0), weeks=1) == ((0, 2), ())  # B: 1.5 h


@pytest.mark.parametrize("rotation", [nine_week, sensible])
@pytest.mark.parametrize("seed", range(60))
def test_rotations_keep_every_rule(rotation, seed: int) -> None:  # type: ignore[no-untyped-def]
    problem = small_problem(seed)
    for weeks in (3, 9):
        assert [str(v) for v in judge(problem, rotation(problem, weeks)).violations] == []


@pytest.mark.parametrize("rotation", [nine_week, sensible])
def test_a_yard_in_rotation(rotation) -> None:  # type: ignore[no-untyped-def]
    problem = yard_like(40)
    plan = rotation(problem)
    verdict = judge(problem, plan)
    assert verdict.legal
    logs = sum(stack.logs for stack in problem.stacks)
    weeks = len({int(day) // 7 for day in problem.soak_days})
    assert sum(soak.logs for soak in verdict.soaks) == pytest.approx(weeks * logs / 9, rel=0.12)


def test_no_cold_weather_stack_in_summer() -> None:
    problem = yard_like(40)
    for path, stack in zip(sensible(problem), problem.stacks, strict=True):
        assert problem.types[stack.type_index].allowed[list(path)].all()
