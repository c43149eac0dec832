"""Why a sale goes short, on a problem in which one limit at a time stands in its way."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from fruitcast.diary.plan import Shortage
from fruitcast.soaks.problem import OutletDay, Plan, Problem
from fruitcast.soaks.search_tables import SearchTables
from fruitcast.soaks.shortage import _earliest_sale, _eased, short_sales
from fruitcast.soaks.supply import evaluate
from tests.soaks.hand import hand_problem, table

ONLY_B: Plan = ((), (1,))
BOTH: Plan = ((1,), (1,))


def wanting(day: int, target: float, **changed: object) -> Problem:
    """Stacks A and B can be soaked on day 8; a sale later wants so much."""
    outlets = (OutletDay("Stall", day, target, 1.0),)
    return replace(hand_problem(), outlets=outlets, stock=(), **changed)


def found(problem: Problem, plan: Plan) -> tuple[Shortage, ...]:
    tables = SearchTables.of(problem)
    _, ledger = evaluate(problem, plan, tables.checks)
    return short_sales(problem, plan, ledger, ledger, tables)


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
    assert (sale.outlet, sale.on, sale.cause) == ("Stall", date(2027, 5, 23), cause)
    assert sale.missing_kg == pytest.approx(1.5)


def test_crops_that_do_not_keep_until_the_sale_blame_the_cold_store() -> None:
    # Day 30 is 13 and 11 days after the picks; the cold store keeps 7, and 21 eased.
    (sale,) = found(wanting(30, 2.0, tank_logs=60), BOTH)
    assert sale.cause == "cold store"
    assert sale.missing_kg == pytest.approx(2.0)


def test_when_all_are_soaked_there_are_too_few_logs() -> None:
    (sale,) = found(wanting(20, 100.0, tank_logs=60, hours_a_day=24.0), BOTH)
    assert sale.cause == "too few logs"
    assert sale.missing_kg == pytest.approx(100 - (5.2 + 3.2) / 2)


def test_before_the_first_possible_pick_it_is_too_early() -> None:
    # A soaked on day 1 is picked on day 9 at the earliest, so that day 10 could be served.
    assert [s.cause for s in found(wanting(9, 1.0), ONLY_B)] == ["too early"]
    assert [s.cause for s in found(wanting(10, 1.0), ONLY_B)] != ["too early"]


def test_a_sale_is_short_from_a_tenth_on_and_within_the_horizon_only() -> None:
    # B brings 3.0 and 2.0, and nothing is short of 2.5 but 0.5 in member 1: a mean of 0.25.
    assert found(wanting(20, 2.5), ONLY_B) == ()
    assert [s.missing_kg for s in found(wanting(20, 2.6), ONLY_B)] == [pytest.approx(0.3)]
    problem = wanting(20, 100.0)
    last = replace(problem, outlets=(OutletDay("Stall", problem.horizon_days - 1, 1.0, 1.0),))
    assert len(found(last, ONLY_B)) == 1
    past = replace(problem, outlets=(OutletDay("Stall", problem.horizon_days, 1.0, 1.0),))
    assert found(past, ONLY_B) == ()


@pytest.mark.parametrize(("target", "cause"), [(9.2, "tank"), (9.4, "too few logs")])
def test_a_limit_is_to_blame_when_easing_it_takes_a_quarter_away(target: float, cause: str) -> None:
    # A beside B brings 2.2 and 1.2, a mean of 1.7: a quarter of 6.8, what 9.3 - 2.5 would lack.
    (sale,) = found(wanting(20, target, tank_logs=30), ONLY_B)
    assert sale.cause == cause


def test_of_two_limits_the_one_that_helps_more_is_to_blame() -> None:
    # Kept to day 27 B's 2.0 of day 19 alone are left; eased the cold store adds its 3.0 of day 17,
    # a mean of 1.5, the tank only the 1.2 that A picks on day 19, of 0.6.
    (sale,) = found(wanting(26, 6.0, tank_logs=30), ONLY_B)
    assert (sale.cause, sale.missing_kg) == ("cold store", pytest.approx(6.0 - 1.0))
    # On day 24 all of it is fresh enough, and the tank is what helps.
    (sale,) = found(wanting(24, 6.0, tank_logs=30), ONLY_B)
    assert sale.cause == "tank"


@pytest.mark.parametrize(("day", "cause"), [(40, "cold store"), (41, "too few logs")])
def test_the_cold_store_is_tried_with_fourteen_days_more(day: int, cause: str) -> None:
    # Seven and fourteen are twenty-one: what is picked on day 19 lasts until day 40.
    (sale,) = found(wanting(day, 2.0, tank_logs=60), BOTH)
    assert sale.cause == cause


def test_where_nothing_is_soaked_no_tank_is_in_the_way() -> None:
    nobody: Plan = ((), ())
    problem = wanting(20, 4.0, hours_a_day=24.0)
    tables = SearchTables.of(problem)
    _, ledger = evaluate(problem, nobody, tables.checks)
    assert set(_eased(problem, nobody, ledger)) == {"cold store"}  # 0.6 of A expire by themselves
    _, ledger = evaluate(problem, ONLY_B, tables.checks)
    eased = _eased(problem, ONLY_B, ledger)
    assert set(eased) == {"tank", "hours", "cold store"}
    assert eased["hours"].hours_a_day is None
    assert eased["hours"].tank_logs == problem.tank_logs
    assert eased["tank"].tank_logs >= 10**6
    assert eased["cold store"].cold_days == 7 + 14
    fresh = replace(ledger, expired=ledger.expired * 0)
    free = replace(problem, hours_a_day=None)
    assert set(_eased(free, ONLY_B, fresh)) == {"tank"}


def test_the_earliest_sale_is_the_day_after_the_first_pick_that_follows_a_soak() -> None:
    problem = wanting(20, 4.0)
    a, b = problem.stacks
    assert _earliest_sale(problem) == 10  # A, soaked on day 1, is picked on day 9
    assert _earliest_sale(replace(problem, stacks=(b,))) == 18
    # A natural flush on the way to a soak on day 64, picked on day 30, is no fruit of it.
    late = replace(a.first, soak=np.array([2]), crops=table((0, 0, 30, 1.0), (0, 0, 72, 1.0)))
    assert _earliest_sale(replace(problem, stacks=(replace(a, first=late),))) == 73
    none = replace(a.first, soak=np.zeros(0, dtype=np.int64), crops=table())
    assert _earliest_sale(replace(problem, stacks=(replace(a, first=none),))) == problem.days
