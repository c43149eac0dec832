"""The rule of hand on the problem worked by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fruitcast.hindcast.policies import _Means, rule_of_hand
from fruitcast.soaks.problem import OutletDay, Problem
from fruitcast.soaks.search_tables import SearchTables
from tests.soaks.hand import hand_problem, table
from tests.soaks.instances import small_problem
from tests.soaks.judge import judge

NEVER = ()


def selling(*sales: tuple[int, float], **changes: object) -> Problem:
    outlets = tuple(OutletDay("Stall", day, kg, 1.0) for day, kg in sales)
    return replace(hand_problem(), outlets=outlets, stock=(), **changes)  # type: ignore[arg-type]


def test_the_biggest_rested_stack_goes_in_for_the_week_that_is_short() -> None:
    # Soaked on day 8, A and B are picked on day 18 in the mean; B is the larger.
    assert rule_of_hand(selling((19, 1.0))) == (NEVER, (1,))
    # On day 64 both are picked once more, B on day 72.
    assert rule_of_hand(selling((19, 1.0), (75, 1.0))) == ((2,), (1,))


def test_it_goes_by_the_mean_pick_day() -> None:
    # Of A soaked on day 1 a third comes on day 11, the rest on day 9: day 9.7 in the mean.
    assert rule_of_hand(selling((10, 1.0))) == ((0,), NEVER)
    assert rule_of_hand(selling((9, 1.0))) == (NEVER, NEVER)
    assert rule_of_hand(selling((16, 1.0))) == ((0,), NEVER)
    assert rule_of_hand(selling((17, 1.0))) == (NEVER, NEVER)


def test_what_one_stack_leaves_missing_the_next_brings_while_the_tank_holds() -> None:
    # B brings 2.5 kg, A 1.7 kg; the tank holds one of them at a time.
    assert rule_of_hand(selling((20, 2.4))) == (NEVER, (1,))
    assert rule_of_hand(selling((20, 4.0))) == (NEVER, (1,))
    assert rule_of_hand(selling((20, 4.0), tank_logs=50)) == ((1,), (1,))


def test_stock_on_hand_counts() -> None:
    problem = replace(selling((5, 1.0), (10, 1.0)), stock=((4, 2.0),))
    assert rule_of_hand(problem) == (NEVER, NEVER)


def test_what_a_soak_brings_counts_for_later_sales() -> None:
    # B's 2.5 kg feed both sales, though there is room for A beside it.
    assert rule_of_hand(selling((19, 0.5), (21, 1.0), tank_logs=50)) == (NEVER, (1,))
    # What it leaves missing later A brings, whose place in the tank is free.
    assert rule_of_hand(selling((19, 0.5), (21, 2.5), tank_logs=50)) == ((1,), (1,))


def first_crops(problem: Problem, stack: int, *picks: tuple[int, int, float]) -> Problem:
    """Give a stack's first soaks one crop each, the same in both members: (soak, day, kg)."""
    crops = table(*((row, n, day, kg) for row, (_, day, kg) in enumerate(picks) for n in (0, 1)))
    soak = np.array([soak for soak, _, _ in picks], dtype=np.int64)
    first = replace(problem.stacks[stack].first, soak=soak, crops=crops)
    stacks = list(problem.stacks)
    stacks[stack] = replace(stacks[stack], first=first)
    return replace(problem, stacks=tuple(stacks))


def test_a_soak_takes_away_the_flush_that_would_have_come_by_itself() -> None:
    # Left alone A gives 0.3 kg in the mean on day 30; soaked on day 1 it gives 1 kg on day 9.
    # B, soaked on day 8, is picked on day 27.
    problem = first_crops(selling((10, 1.0), (31, 0.3)), 1, (1, 27, 1.0))
    assert rule_of_hand(problem) == ((0,), (1,))
    assert rule_of_hand(replace(problem, outlets=problem.outlets[1:])) == (NEVER, NEVER)


@pytest.mark.parametrize(
    ("first", "second", "chosen"),
    [(10, 12, 1), (12, 10, 0), (14, 12, 1), (13, 9, 0), (8, 15, 0), (7, 14, 1), (7, 15, None)],
)
def test_of_several_days_that_one_is_taken_whose_pick_lies_in_the_middle_of_the_week(
    first: int, second: int, chosen: int | None
) -> None:
    # For the sale on day 15 the week from day 8 to day 14; its middle is day 11.5.
    problem = first_crops(selling((15, 0.5)), 0, (0, first, 1.0), (1, second, 1.0))
    problem = first_crops(problem, 1, (3, 90, 1.0))
    assert rule_of_hand(problem) == (NEVER if chosen is None else (chosen,), NEVER)


def test_a_path_brings_in_the_mean_what_its_first_inner_and_last_crops_add_up_to() -> None:
    means = _Means(hand_problem())

    def brings(stack: int, path: tuple[int, ...]) -> dict[int, float]:
        kg = means.supply(stack, path)
        return {int(day): pytest.approx(float(kg[day])) for day in np.flatnonzero(kg)}

    # A has 20 effective logs, B 30; each member counts half.
    assert brings(0, ()) == {30: 0.3}
    assert brings(0, (0, 2)) == {9: 1.0, 11: 0.5, 72: 20 * 0.05, 74: 20 * 0.03}
    assert brings(0, (1,)) == {17: 1.1, 19: 0.6, 50: 20 * 0.02}
    assert brings(1, (1, 3)) == {
        17: 1.5, 19: 1.0, 40: 30 * 0.025, 79: 30 * 0.05, 81: 30 * 0.01, 110: 30 * 0.025,
    }  # fmt: skip
    assert brings(1, ()) == {}


def test_sales_past_the_horizon_are_not_planned_for() -> None:
    # Soaked on day 71 both are picked on day 79; the horizon is 84 days.
    assert any(rule_of_hand(selling((83, 1.0))))
    assert rule_of_hand(selling((84, 1.0))) == (NEVER, NEVER)


def test_a_gram_is_no_flush() -> None:
    for kg, expected in ((0.0009, NEVER), (0.0011, (0,))):
        problem = first_crops(selling((15, 0.5)), 0, (0, 11, kg))
        problem = first_crops(problem, 1, (3, 90, 1.0))
        assert rule_of_hand(problem)[0] == expected


@pytest.mark.parametrize("seed", range(1, 6))
def test_it_keeps_every_rule(seed: int) -> None:
    problem = small_problem(seed, stacks=4)
    plan = rule_of_hand(problem)
    assert judge(problem, plan).violations == ()
    # Somebody who does that goes less short than one who soaks nothing.
    tables = SearchTables.of(problem)
    assert not any(plan) or tables.cost(plan) < tables.cost(((),) * len(problem.stacks)) + 1
