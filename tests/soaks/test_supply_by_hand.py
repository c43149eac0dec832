"""Picks, check days and sales on small tables, each worked out by hand."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from types import SimpleNamespace

import numpy as np
import pytest

from fruitcast.soaks.problem import OutletDay
from fruitcast.soaks.supply import (
    CheckDays,
    allocate,
    check_days,
    evaluate,
    expected_shortfall,
    picked_between_checks,
    plan_crops,
    stock_at_checks,
    tail_mean,
)
from tests.soaks.brute_force import all_paths
from tests.soaks.hand import hand_problem, table
from tests.soaks.judge import judge


def test_the_picked_total_is_asked_for_before_each_sale_when_it_gets_stale_and_at_the_end() -> None:
    # Twelve weeks and 35 days are 119 counted; what is picked on day 111 keeps seven days and
    # expires with day 118, the last.
    outlets = (OutletDay("Stall", 5, 1.0, 1.0), OutletDay("Fair", 12, 2.0, 3.0))
    checks = check_days(replace(hand_problem(), outlets=outlets))
    assert checks.days.tolist() == [-3, 4, 11, 111]
    assert checks.reach.tolist() == [1, 2]
    assert checks.stale.tolist() == [0, 1]
    assert checks.final == 3
    assert (checks.target.tolist(), checks.weight.tolist()) == ([1.0, 2.0], [1.0, 3.0])
    assert checks.sale_day.tolist() == [5, 12]


def test_without_outlets_only_what_expires_is_asked_for() -> None:
    checks = check_days(replace(hand_problem(), outlets=()))
    assert (checks.days.tolist(), checks.final) == ([111], 0)


def test_what_is_picked_counts_at_the_first_check_on_or_after_its_day() -> None:
    checks = check_days(replace(hand_problem(), outlets=(OutletDay("Stall", 12, 1.0, 1.0),)))
    assert checks.days.tolist() == [4, 11, 111]
    crops = table(
        (0, 0, 4, 1.0), (0, 1, 5, 2.0), (1, 0, 11, 4.0), (1, 0, 11, 8.0), (1, 1, 112, 9.0)
    )
    kg = picked_between_checks(crops, 3, checks, 2)
    assert kg.shape == (3, 3, 2)
    assert kg[0].tolist() == [[1.0, 0.0], [0.0, 0.0], [0.0, 0.0]]
    assert kg[1].tolist() == [[0.0, 2.0], [12.0, 0.0], [0.0, 0.0]]
    assert kg[2].tolist() == [[0.0, 0.0]] * 3  # picked too late to expire in time, or to be sold
    problem = replace(hand_problem(), stock=((-1, 0.5), (4, 1.0), (5, 2.0)))
    assert stock_at_checks(problem, checks).tolist() == [[1.5], [3.5], [3.5]]


def test_the_picked_total_of_a_plan_adds_up_first_inner_and_last_crops() -> None:
    # A on days 1 and 64: 2.0 and 1.0 on days 9 and 11, 20 x 0.10 and 0.06 on days 72 and 74. B,
    # 30 logs, on day 8 only: 3.0 and 2.0 on days 17 and 19, 30 x 0.04 of member 0 on day 50.
    problem = replace(hand_problem(), outlets=(OutletDay("Stall", 60, 1.0, 1.0),))
    checks = check_days(problem)
    assert checks.days.tolist() == [52, 59, 111]
    total = plan_crops(problem, ((0, 2), (1,)), checks)
    early = np.array([2.0 + 3.0 + 1.2, 1.0 + 2.0]) + 0.5
    assert total == pytest.approx(np.array([early, early, early + np.array([2.0, 1.2])]))
    # Never soaked, A brings 0.6 in member 1, B nothing.
    assert plan_crops(problem, ((), ()), checks)[-1] == pytest.approx([0.5, 1.1])


def test_the_oldest_are_sold_first_and_what_is_left_too_long_expires() -> None:
    # Of the 3.0 picked before the first sale 1.0 is left, of which 0.5 are too old for the second;
    # that finds 1.5 more. What it leaves is too old for the third, which takes 2.5 picked since.
    checks = CheckDays(
        days=np.array([0, 2, 5, 9, 12, 20]),
        reach=np.array([2, 3, 4]),
        stale=np.array([0, 1, 3]),
        final=5,
        target=np.array([2.0, 1.0, 5.0]),
        weight=np.ones(3),
        sale_day=np.array([6, 10, 13]),
    )
    picked = np.array([[0.0], [2.5], [3.0], [4.5], [7.0], [8.0]])
    ledger = allocate(picked, checks)
    assert ledger.available[:, 0] == pytest.approx([3.0, 2.0, 2.5])
    assert ledger.delivered[:, 0] == pytest.approx([2.0, 1.0, 2.5])
    # 0.5 before the second sale, the 1.0 left of it before the third, and the last kilogram.
    assert ledger.expired == pytest.approx([0.5 + 1.0 + 1.0])


@pytest.mark.parametrize(
    ("share", "expected"),
    [(0.25, 8.0), (0.5, 6.0), (0.375, (8.0 + 0.5 * 4.0) / 1.5), (1.0, 3.75), (0.0, 0.0)],
)
def test_the_worst_members_count_in_parts_too(share: float, expected: float) -> None:
    shortfall = np.array([[1.0, 8.0, 4.0, 2.0], [0.0, 0.0, 0.0, 0.0]])
    assert tail_mean(shortfall, share) == pytest.approx([expected, 0.0])


def test_what_goes_short_is_what_is_wanted_inside_the_horizon_less_what_is_sold_there() -> None:
    # Twelve weeks are 84 days: the sale of day 84 is another season's matter.
    outlets = tuple(
        OutletDay("Stall", day, kg, 1.0) for day, kg in ((5, 2.0), (83, 3.0), (84, 9.0))
    )
    problem = replace(hand_problem(), outlets=outlets)
    delivered = np.array([[2.0, 1.0], [0.0, 3.0], [9.0, 4.0]])
    # Of 5 kg 2 are sold in one future and 4 in the other: 3 and 1 go short.
    ledger = SimpleNamespace(delivered=delivered)
    assert expected_shortfall(problem, ledger) == pytest.approx(2.0)
    none = SimpleNamespace(delivered=np.zeros((3, 2)))
    assert expected_shortfall(problem, none) == pytest.approx(5.0)


def test_the_parts_of_the_objective_are_the_judge_s_lots_and_their_visits_among_them() -> None:
    hand = hand_problem()
    named = zip(hand.stacks, ("A/1", "A/2"), strict=True)
    stacks = tuple(replace(stack, name=name, handling=0.5) for stack, name in named)
    prices = replace(hand.prices, certainty=0.7, expired=0.3)
    problem = replace(hand, stacks=stacks, prices=prices)
    checks = check_days(problem)
    seen = set()
    for plan in product(*(all_paths(problem, stack) for stack in (0, 1))):
        parts, wanted = evaluate(problem, plan, checks)[0], judge(problem, plan).objective
        assert {name: getattr(parts, name) for name in wanted} == pytest.approx(wanted)
        assert parts.total == pytest.approx(sum(wanted.values()))
        seen.add(round(parts.soaks, 6))
    # Both together cost what their 50 logs do, once or twice; one alone costs half a visit more.
    assert {0.0, 0.5, 0.2 + 0.25, 0.3 + 0.25, 1.0} <= seen
