"""The linear bound: below every plan, and not too far below."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fruitcast.schedule.bound import group_stacks, lower_bound
from fruitcast.schedule.exact import relaxed_bound, solve_exact
from fruitcast.schedule.objective import evaluate
from fruitcast.schedule.problem import Crops, OutletDay, Problem
from fruitcast.schedule.rotation import nine_week, sensible
from fruitcast.schedule.search import Search, SearchParams
from fruitcast.schedule.supply import check_days
from tests.schedule.hand import hand_problem
from tests.schedule.instances import small_problem, yard_like


@pytest.fixture(scope="module")
def yard() -> Problem:
    return yard_like(10, weeks=16, members=6)


@pytest.mark.parametrize("seed", range(8))
def test_no_optimum_lies_below_the_bound(seed: int) -> None:
    problem = small_problem(seed, stacks=3, weeks=9, members=2)
    exact = solve_exact(problem, seconds=30)
    assert lower_bound(problem) <= exact.bound + 1e-4


def test_sharing_arcs_only_loosens_the_linear_program_a_little(yard: Problem) -> None:
    # The same relaxation with every stack's arcs its own, built by other code.
    own = relaxed_bound(yard)
    shared = lower_bound(yard)
    assert shared <= own + 1e-4
    assert own - shared <= 0.02 * yard.demand


def test_every_policy_is_above_the_bound(yard: Problem) -> None:
    least = lower_bound(yard)
    for plan in (
        nine_week(yard),
        sensible(yard),
        Search(yard, SearchParams(rounds=10)).run(),
    ):
        assert evaluate(yard, plan, check_days(yard))[0].total >= least


def test_certainty_is_part_of_the_bound(yard: Problem) -> None:
    priced = replace(yard, prices=replace(yard.prices, certainty=2.0))
    plan = Search(priced, SearchParams(rounds=20)).run()
    total = evaluate(priced, plan, check_days(priced))[0].total
    assert lower_bound(yard) < lower_bound(priced) <= total


def test_wider_bands_make_fewer_groups_and_a_lower_bound(
    yard: Problem, monkeypatch: pytest.MonkeyPatch
) -> None:
    close, fine = lower_bound(yard), len(group_stacks(yard))
    monkeypatch.setattr("fruitcast.schedule.bound.BANDS", (1e9,))
    assert len(group_stacks(yard)) <= fine
    assert lower_bound(yard) <= close + 1e-4


def test_a_solver_says_nothing_on_standard_output(
    yard: Problem, capfd: pytest.CaptureFixture[str]
) -> None:
    lower_bound(yard)
    assert capfd.readouterr().out == ""


@pytest.mark.parametrize("certainty", [0.0, 1.5])
@pytest.mark.parametrize("seed", [1, 4, 9, 11])
def test_where_nothing_can_be_soaked_the_bound_is_the_cost_of_that(
    seed: int, certainty: float
) -> None:
    problem = small_problem(seed, stacks=3, weeks=6, members=3)
    none = np.zeros(0, dtype=np.int64)
    empty = Crops(none, none, none, np.zeros(0))
    # One stack hardly bears and one not at all; their natural crops count like any others.
    stacks = tuple(
        replace(
            stack,
            scale=scale,
            end_flush=0.1 * scale,
            first=replace(stack.first, soak=none, crops=empty),
        )
        for stack, scale in zip(problem.stacks, (20.0, 0.5, 0.0), strict=True)
    )
    problem = replace(
        problem,
        stacks=stacks,
        stock=((-1, 3.0), (-2, 1.0)),
        prices=replace(problem.prices, expired=0.5, certainty=certainty),
        promise=0.5,
    )
    plan = ((),) * 3
    total = evaluate(problem, plan, check_days(problem))[0].total
    assert lower_bound(problem) == pytest.approx(total, abs=1e-4)


@pytest.mark.parametrize("hours", [None, 1.8, 1.5])
def test_one_stack_alone_is_bounded_by_its_own_limits(hours: float | None) -> None:
    # B is wanted on day 19 and needs 1.5 h on day 8 and 1.2 h on day 10. A is held until day
    # 1 and never soaked: its places are free by then.
    hand = hand_problem()
    none = hand.stacks[0].first.soak[:0]
    still = replace(
        hand.stacks[0],
        first=replace(hand.stacks[0].first, soak=none, crops=hand.stacks[1].first.none_crops),
        fixed_nights=1,
        was_published=False,
    )
    problem = replace(
        hand,
        stacks=(still, hand.stacks[1]),
        outlets=(OutletDay("Stall", 20, 2.0, 1.0),),
        hours_a_day=hours,
    )
    exact = solve_exact(problem)
    assert exact.plan == ((), (1,))
    # Whole stacks are the best here, so the bound's parts of stacks bring nothing more.
    assert lower_bound(problem) == pytest.approx(exact.objective, abs=1e-4)
    tight = replace(problem, hours_a_day=0.75)
    half = lower_bound(tight)
    assert exact.objective + 0.1 < half <= solve_exact(tight).objective + 1e-4
    narrow = replace(problem, hours_a_day=None, tank_logs=15)
    # Half of B's logs fit; as the hours let in half of them, both bounds are one.
    assert lower_bound(narrow) == pytest.approx(half, abs=1e-4)


def test_logs_take_their_places_until_they_are_pulled() -> None:
    # A, soaked on day 1 for the sale of day 12, is still in on day 8 after eight nights, and B
    # goes in then for the sale of day 20: a tank for 40 does not hold both, 20 and 30.
    hand = hand_problem()
    outlets = (OutletDay("Stall", 12, 2.0, 1.0), OutletDay("Stall", 20, 3.0, 1.0))

    def bound(nights: int) -> float:
        kind = replace(hand.types[0], nights=np.array([nights, 2, 2, 1]))
        return lower_bound(replace(hand, types=(kind,), outlets=outlets))

    assert bound(7) == pytest.approx(bound(1), abs=1e-4)
    assert bound(8) > bound(7) + 0.1


def test_stacks_are_lumped_only_as_far_as_needed(yard: Problem) -> None:
    # Two of a type with much more wood for what they bear than the others.
    few = replace(yard.stacks[0], name="few", scale=0.3 * yard.stacks[0].scale)
    stacks = tuple(replace(stack, type_index=0) for stack in (*yard.stacks, few))
    spread = replace(yard, stacks=stacks)
    close, wide = group_stacks(spread, most=100), group_stacks(spread, most=1)
    assert len(close) > len(wide)
    for groups in (close, wide):
        assert sorted(s for group in groups for s in group.stacks) == list(range(len(stacks)))
        for group in groups:
            for index in group.stacks:
                stack = stacks[index]
                assert group.logs_per_scale <= stack.logs / stack.scale + 1e-9
                assert group.end_per_scale <= stack.end_flush / stack.scale + 1e-9
