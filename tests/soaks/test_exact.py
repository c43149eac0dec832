"""The mixed-integer program against every plan of tiny problems, and against hand figures."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest

from fruitcast.errors import SolverError
from fruitcast.soaks.problem import OutletDay, Problem
from tests.soaks.brute_force import all_paths, brute_force, plans_of
from tests.soaks.exact import Exact, relaxed_bound, solve_exact
from tests.soaks.hand import PRICES, hand_problem, table
from tests.soaks.instances import small_problem, yard_like
from tests.soaks.judge import judge

TINY = 600  # plans
TINY_SEEDS = [seed for seed in range(60) if plans_of(small_problem(seed)) <= TINY]


def test_paths_of_the_hand_problem() -> None:
    # A may start on any of days 1, 8, 64, 71; arcs 1-64, 1-71, 8-71 add three longer paths.
    assert sorted(all_paths(hand_problem(), 0)) == [
        (),
        (0,),
        (0, 2),
        (0, 3),
        (1,),
        (1, 3),
        (2,),
        (3,),
    ]
    assert len(all_paths(hand_problem(), 1)) == 5
    assert plans_of(hand_problem()) == 40


def test_the_hand_problem() -> None:
    # Worth soaking at once: A on day 1 serves day 12 (the only soak that can), B on day 8 day
    # 19 or 26. Later soaks find no outlet: they only cost. So the plan judged in test_judge.
    exact = solve_exact(hand_problem())
    assert exact.plan == ((0,), (1,))
    assert exact.objective == pytest.approx(1.392)
    assert exact.proven


@pytest.mark.parametrize("seed", TINY_SEEDS)
def test_agrees_with_brute_force(seed: int) -> None:
    problem = small_problem(seed)
    exact = solve_exact(problem)
    assert exact.proven
    assert exact.objective == pytest.approx(brute_force(problem)[0], abs=1e-6)
    verdict = judge(problem, exact.plan)
    assert verdict.legal
    assert verdict.objective_kg == pytest.approx(exact.objective)


def test_enough_tiny_problems_were_compared() -> None:
    assert len(TINY_SEEDS) >= 25
    assert any(small_problem(seed).prices.certainty > 0 for seed in TINY_SEEDS)
    assert any(small_problem(seed).hours_a_day is not None for seed in TINY_SEEDS)


@pytest.mark.parametrize(
    "seed", [*range(60, 68), *(pytest.param(n, marks=pytest.mark.long) for n in range(68, 90))]
)
def test_first_in_first_out_is_the_best_allocation_at_equal_weights(seed: int) -> None:
    problem = small_problem(seed)
    problem = replace(problem, prices=replace(problem.prices, certainty=0.0))
    exact = solve_exact(problem)
    assert exact.rounds == 1
    assert exact.bound == pytest.approx(exact.objective, abs=1e-6)
    assert relaxed_bound(problem) <= exact.objective + 1e-6


def test_unequal_weights_are_proven_by_ruling_plans_out() -> None:
    # Stock of 1 kg, wanted on day 5 (weight 1) and on day 6 (weight 3). The program would
    # keep it for day 6; as judged, day 5 comes first. No soak helps on those days.
    problem = replace(
        hand_problem(),
        stock=((-1, 1.0),),
        cold_days=8,
        outlets=(OutletDay("Stall", 5, 1.0, 1.0), OutletDay("Wedding", 6, 1.0, 3.0)),
    )
    exact = solve_exact(problem)
    assert exact.proven
    assert exact.rounds > 1
    assert exact.objective == pytest.approx(brute_force(problem)[0])
    assert exact.plan == ((), ())


@pytest.mark.parametrize("seed", [s for s in TINY_SEEDS if s < 30])
def test_unequal_weights_agree_with_brute_force(seed: int) -> None:
    problem = small_problem(seed, equal_weights=False)
    exact = solve_exact(problem, seconds=3.0)
    best = brute_force(problem)[0]
    assert exact.bound - 1e-6 <= best <= exact.objective + 1e-6
    if exact.proven:
        assert exact.objective == pytest.approx(best, abs=1e-5)


def test_certainty_prices_the_worst_members() -> None:
    # One sale of 2 kg on day 19. Soaking A on day 8 brings 2.2 kg in member 0 by then, none
    # in member 1; the worst half is short of 2 kg whatever is done, so certainty adds 2 x its
    # price to every plan and the plan stays the same.
    problem = replace(hand_problem(), outlets=(OutletDay("Stall", 19, 2.0, 1.0),), promise=0.5)
    sure = replace(problem, prices=replace(PRICES, certainty=1.0))
    plain, asked = solve_exact(problem), solve_exact(sure)
    assert asked.plan == plain.plan
    assert asked.objective == pytest.approx(plain.objective + 2.0)


def test_a_pull_of_today_s_tank_takes_its_hours_from_other_soaks() -> None:
    # A comes out on day 1: 20 logs, 0.8 h. C, like A, is wanted for day 12 and can only go in on
    # day 1 for it: 1.0 h. In a day of 1.5 h it has to wait, in one of 1.8 h it need not.
    hand = hand_problem()
    held = replace(hand.stacks[0], fixed_nights=1, first=hand.stacks[1].first, published=None)
    third = replace(hand.stacks[0], name="C")
    wanted = (OutletDay("Stall", 12, 2.0, 1.0),)
    problem = replace(hand, stacks=(held, third), outlets=wanted, hours_a_day=1.5)
    for hours, waits in ((1.5, True), (1.79, True), (1.8, False)):
        day = replace(problem, hours_a_day=hours)
        exact = solve_exact(day)
        best, _ = brute_force(day)
        assert exact.objective == pytest.approx(best, abs=1e-6)
        assert (0 in exact.plan[1]) is not waits
    # Work that cannot be done any more does not forbid everything else.
    assert solve_exact(replace(problem, hours_a_day=0.5)).plan == ((), ())
    early = replace(problem, stacks=(held, replace(third, fixed_nights=2)), hours_a_day=None)
    assert 0 not in solve_exact(early).plan[1]


def test_a_stack_rested_to_the_day_may_be_soaked_again() -> None:
    # A on days 1 and 64, just 63 days apart, is the only one to serve days 12 and 80 both.
    hand = hand_problem()
    outlets = (OutletDay("Stall", 12, 2.0, 1.0), OutletDay("Stall", 78, 2.0, 1.0))
    problem = replace(hand, stacks=hand.stacks[:1], outlets=outlets)
    exact = solve_exact(problem)
    assert exact.plan == ((0, 2),)
    assert exact.objective == pytest.approx(brute_force(problem)[0], abs=1e-6)


@pytest.mark.parametrize("seed", range(100, 104))
def test_every_price_together_agrees_with_brute_force(seed: int) -> None:
    problem = small_problem(seed, stacks=2, weeks=6, members=3)
    problem = replace(
        problem,
        prices=replace(PRICES, expired=0.3, soak=0.02, change=0.4, certainty=0.7),
        promise=0.5,
    )
    exact = solve_exact(problem)
    assert exact.proven
    assert exact.objective == pytest.approx(brute_force(problem)[0], abs=1e-5)


def test_the_relaxation_prices_the_worst_members_as_the_judge_does() -> None:
    # No place in the tank, so that nothing can be soaked: member 0 has nothing for day 31, and
    # member 1 its 0.6 kg of day 30. The worst half is short of 2 kg.
    hand = hand_problem()
    problem = replace(
        hand,
        tank_logs=0,
        stock=(),
        outlets=(OutletDay("Stall", 31, 2.0, 1.0),),
        promise=0.5,
        prices=replace(hand.prices, certainty=3.0),
    )
    told = judge(problem, ((), ()))
    assert told.objective["certainty"] == pytest.approx(3.0 * 2.0)
    assert relaxed_bound(problem) == pytest.approx(told.objective_kg, abs=1e-6)


def test_short_of_time_it_says_so() -> None:
    problem = yard_like(20, members=6)
    with pytest.raises(SolverError, match="no plan for 20 stacks in 0 s"):
        solve_exact(problem, seconds=0.0)


def test_nothing_reaches_standard_output() -> None:
    code = (
        "from tests.soaks.instances import small_problem\n"
        "from tests.soaks.exact import relaxed_bound, solve_exact\n"
        "solve_exact(small_problem(3)); relaxed_bound(small_problem(3)); print('done')\n"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout == "done\n"


def test_relaxation_lies_below_the_optimum_and_gives_no_more_for_less() -> None:
    for seed in range(5):
        problem = small_problem(seed, stacks=3)
        roomy = replace(problem, tank_logs=10 * problem.tank_logs, hours_a_day=None)
        assert relaxed_bound(roomy) <= relaxed_bound(problem) + 1e-6
        assert np.isfinite(relaxed_bound(problem))


def choosy(*soaks: int) -> Problem:
    """One stack that brings 1 kg on day 9 when soaked on day 1 and on day 17 when on day 8.

    Wanted is 1 kg on day 12, on day 14 at weight 3 and on day 20 at weight 1.5. Kept for day 14
    the first would be worth 3; as judged, day 12 comes first, and the second is worth more.
    """
    hand = hand_problem()
    crops = {0: (9, 1.0), 1: (17, 1.0)}
    first = replace(
        hand.stacks[0].first,
        soak=np.array(soaks, dtype=np.int64),
        crops=table(*((row, 0, *crops[soak]) for row, soak in enumerate(soaks))),
        none_crops=table(),
    )
    none = np.zeros(0, dtype=np.int64)
    kind = replace(hand.types[0], start=none, stop=none, crops=table(), end_crops=table())
    stack = replace(hand.stacks[0], first=first, was_published=False, end_flush=0.0)
    return replace(
        hand,
        years=(2001,),
        types=(kind,),
        stacks=(stack,),
        stock=(),
        prices=replace(PRICES, expired=0.0, soak=0.0),
        outlets=(
            OutletDay("Stall", 12, 1.0, 1.0),
            OutletDay("Wedding", 14, 1.0, 3.0),
            OutletDay("Shop", 20, 1.0, 1.5),
        ),
    )


def test_the_plan_that_sells_best_as_judged_is_found_behind_the_one_that_could() -> None:
    exact = solve_exact(choosy(0, 1))
    assert exact.plan == ((1,),)
    assert exact.objective == pytest.approx(4.0)
    assert exact.bound == pytest.approx(4.0, abs=1e-5)
    assert exact.proven and exact.rounds == 2
    # One round is not enough to know.
    once = solve_exact(choosy(0, 1), rounds=1)
    assert (once.plan, once.rounds) == (((0,),), 1)
    assert (once.objective, once.bound) == pytest.approx((4.5, 2.5), abs=1e-5)
    assert not once.proven


def test_when_every_plan_has_been_looked_at_the_best_is_proven() -> None:
    # No soak and 1 kg of stock: kept for day 14 it would cost 2.5, as judged it costs 4.5.
    problem = replace(choosy(), stock=((-1, 1.0),), cold_days=16)
    exact = solve_exact(problem)
    assert exact.plan == ((),)
    assert (exact.objective, exact.bound) == pytest.approx((4.5, 4.5))
    assert exact.proven and exact.rounds == 2


def test_a_plan_is_proven_to_a_hundred_thousandth() -> None:
    for objective, apart, proven in (
        (0.1, 0.9e-5, True),
        (0.1, 1.1e-5, False),
        (500.0, 0.0049, True),
        (500.0, 0.0051, False),
        (-500.0, 0.0049, True),
        (-500.0, 0.0051, False),
        (2.0, -1.0, True),
    ):
        assert Exact(objective, objective - apart, ((),), 1).proven is proven
