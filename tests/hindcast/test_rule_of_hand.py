"""The rule of hand on the problem worked by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fruitcast.hindcast.policies import rule_of_hand
from fruitcast.soaks.problem import OutletDay, Problem
from fruitcast.soaks.search_tables import SearchTables
from tests.soaks.hand import hand_problem
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


@pytest.mark.parametrize("seed", range(1, 6))
def test_it_keeps_every_rule(seed: int) -> None:
    problem = small_problem(seed, stacks=4)
    plan = rule_of_hand(problem)
    assert judge(problem, plan).violations == ()
    # Somebody who does that goes less short than one who soaks nothing.
    tables = SearchTables.of(problem)
    assert not any(plan) or tables.cost(plan) < tables.cost(((),) * len(problem.stacks)) + 1
