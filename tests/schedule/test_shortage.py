"""Why a sale goes short, on a problem in which one limit at a time stands in its way."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fruitcast.schedule.objective import evaluate
from fruitcast.schedule.problem import OutletDay, Plan, Problem
from fruitcast.schedule.scoring import Scorer
from fruitcast.schedule.shortage import ShortSale, short_sales
from tests.schedule.hand import hand_problem

ONLY_B: Plan = ((), (1,))
BOTH: Plan = ((1,), (1,))


def wanting(day: int, target: float, **changed: object) -> Problem:
    """Stacks A and B can be soaked on day 8; a sale later wants so much."""
    outlets = (OutletDay("Stall", day, target, 1.0),)
    return replace(hand_problem(), outlets=outlets, stock=(), **changed)


def found(problem: Problem, plan: Plan) -> list[ShortSale]:
    scorer = Scorer(problem)
    _, ledger = evaluate(problem, plan, scorer.checks)
    return short_sales(problem, plan, ledger, scorer)


# Soaked on day 8, B picks 3.0 on day 17 in member 0 and 2.0 on day 19 in member 1; A 2.2 and 1.2.


@pytest.mark.parametrize(
    ("limits", "cause"),
    [
        ({"tank_logs": 30}, "tank"),
        ({"tank_logs": 60, "hours_a_day": 1.6}, "hours"),
    ],
)
def test_what_keeps_the_other_stack_out_is_to_blame(limits: dict, cause: str) -> None:
    # Of 4.0 wanted on day 20 member 0 lacks 1.0 and member 1 2.0.
    (sale,) = found(wanting(20, 4.0, **limits), ONLY_B)
    assert (sale.sale, sale.cause) == (0, cause)
    assert sale.missing == pytest.approx(1.5)


def test_crops_that_do_not_keep_until_the_sale_blame_the_cold_store() -> None:
    # Day 30 is 13 and 11 days after the picks; the cold store keeps 7, and 21 eased.
    (sale,) = found(wanting(30, 2.0, tank_logs=60), BOTH)
    assert sale.cause == "cold store"
    assert sale.missing == pytest.approx(2.0)


def test_when_all_are_soaked_there_are_too_few_logs() -> None:
    (sale,) = found(wanting(20, 100.0, tank_logs=60, hours_a_day=24.0), BOTH)
    assert sale.cause == "too few logs"
    assert sale.missing == pytest.approx(100 - (5.2 + 3.2) / 2)


def test_before_the_first_possible_pick_it_is_too_early() -> None:
    # A soaked on day 1 is picked on day 9 at the earliest, so that day 10 could be served.
    assert [s.cause for s in found(wanting(9, 1.0), ONLY_B)] == ["too early"]
    assert [s.cause for s in found(wanting(10, 1.0), ONLY_B)] != ["too early"]


def test_a_sale_is_short_from_a_tenth_on_and_within_the_horizon_only() -> None:
    # B brings 3.0 and 2.0, and nothing is short of 2.5 but 0.5 in member 1: a mean of 0.25.
    assert found(wanting(20, 2.5), ONLY_B) == []
    assert [s.missing for s in found(wanting(20, 2.6), ONLY_B)] == [pytest.approx(0.3)]
    problem = wanting(20, 100.0)
    last = replace(problem, outlets=(OutletDay("Stall", problem.horizon_days - 1, 1.0, 1.0),))
    assert len(found(last, ONLY_B)) == 1
    past = replace(problem, outlets=(OutletDay("Stall", problem.horizon_days, 1.0, 1.0),))
    assert found(past, ONLY_B) == []
