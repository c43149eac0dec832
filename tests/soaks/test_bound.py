"""The linear bound: below every plan, and not too far below."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from fruitcast.hindcast.policies import rule_of_hand, sensible
from fruitcast.soaks.bound import group_stacks, relax
from fruitcast.soaks.problem import Crops, OutletDay, Problem
from fruitcast.soaks.search import Search, SearchParams
from fruitcast.soaks.supply import check_days, evaluate
from tests.hindcast.rotations import nine_week
from tests.soaks.exact import relaxed_bound, solve_exact
from tests.soaks.hand import hand_problem, table
from tests.soaks.instances import hemmed_in, small_problem, yard_like


def lower_bound(problem: Problem) -> float:
    return relax(problem)


@pytest.fixture(scope="module")
def yard() -> Problem:
    return yard_like(6, weeks=10, members=4)


@pytest.fixture(scope="module")
def least_of_yard(yard: Problem) -> float:
    """Its bound, which takes a second."""
    return lower_bound(yard)


@pytest.mark.parametrize(
    "seed", [0, 1, 2, *(pytest.param(seed, marks=pytest.mark.long) for seed in range(3, 8))]
)
def test_no_optimum_lies_below_the_bound(seed: int) -> None:
    problem = small_problem(seed, stacks=3, weeks=9, members=2)
    exact = solve_exact(problem, seconds=30)
    assert lower_bound(problem) <= exact.bound + 1e-4


@pytest.mark.parametrize("seed", range(8))
def test_no_optimum_of_stacks_in_lots_lies_below_the_bound(seed: int) -> None:
    problem = hemmed_in(small_problem(seed, stacks=2, weeks=8, members=2), seed)
    # Visits are dear: a plan that lets lots go in alone pays for it.
    dear = replace(problem, stacks=tuple(replace(s, handling=0.3) for s in problem.stacks))
    assert lower_bound(dear) <= solve_exact(dear, seconds=30).bound + 1e-4


def test_sharing_arcs_only_loosens_the_linear_program_a_little(yard: Problem) -> None:
    # The same relaxation with every stack's arcs its own, built by other code.
    own = relaxed_bound(yard)
    shared = relax(yard, rounds=0)
    assert shared <= own + 1e-4
    assert own - shared <= 0.02 * yard.demand


def test_every_policy_is_above_the_bound(yard: Problem, least_of_yard: float) -> None:
    for plan in (
        nine_week(yard),
        sensible(yard),
        rule_of_hand(yard),
        Search(yard, SearchParams(moves=20_000, moves_a_stack=0)).run(),
    ):
        assert evaluate(yard, plan, check_days(yard))[0].total >= least_of_yard


def test_certainty_is_part_of_the_bound(yard: Problem, least_of_yard: float) -> None:
    priced = replace(yard, prices=replace(yard.prices, certainty=2.0))
    plan = Search(priced, SearchParams(moves=20_000, moves_a_stack=0)).run()
    total = evaluate(priced, plan, check_days(priced))[0].total
    assert least_of_yard < lower_bound(priced) <= total


def test_wider_bands_make_fewer_groups_and_a_lower_bound(
    yard: Problem, least_of_yard: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    fine = len(group_stacks(yard))
    monkeypatch.setattr("fruitcast.soaks.bound.BANDS", (1e9,))
    assert len(group_stacks(yard)) <= fine
    assert lower_bound(yard) <= least_of_yard + 1e-4


def test_a_solver_says_nothing_on_standard_output(capfd: pytest.CaptureFixture[str]) -> None:
    lower_bound(small_problem(0, stacks=3, weeks=9, members=2))
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
            effective_logs=effective_logs,
            end_flush=0.1 * effective_logs,
            first=replace(stack.first, soak=none, crops=empty),
        )
        for stack, effective_logs in zip(problem.stacks, (20.0, 0.5, 0.0), strict=True)
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


def test_stacks_are_lumped_only_as_far_as_needed() -> None:
    # Two of a type with much more wood for what they bear than the others.
    yard = yard_like(10, weeks=16, members=6)
    few = replace(yard.stacks[0], name="few", effective_logs=0.3 * yard.stacks[0].effective_logs)
    stacks = tuple(replace(stack, type_index=0) for stack in (*yard.stacks, few))
    spread = replace(yard, stacks=stacks)
    close, wide = group_stacks(spread, most=100), group_stacks(spread, most=1)
    assert len(close) > len(wide)
    for groups in (close, wide):
        assert sorted(s for group in groups for s in group.stacks) == list(range(len(stacks)))
        for group in groups:
            for index in group.stacks:
                stack = stacks[index]
                assert group.logs_per_scale <= stack.logs / stack.effective_logs + 1e-9
                assert group.end_per_scale <= stack.end_flush / stack.effective_logs + 1e-9


def still(problem: Problem, **changes: Any) -> Problem:
    """The hand problem without a soak: what is never soaked costs what it costs."""
    none = np.zeros(0, dtype=np.int64)
    stacks = tuple(
        replace(stack, first=replace(stack.first, soak=none, crops=table()), was_published=False)
        for stack in problem.stacks
    )
    return replace(problem, **{"stacks": stacks, **changes})


def least(problem: Problem) -> Any:
    return pytest.approx(lower_bound(problem), abs=1e-4)


def test_the_groups_may_be_as_many_as_allowed() -> None:
    # Logs per effective log of 1, 1.03 and 1.2: two lie in one band of a twentieth, all three in
    # one of a quarter.
    hand = hand_problem()
    stacks = tuple(
        replace(hand.stacks[0], name=str(n), logs=100, effective_logs=100 / ratio, end_flush=flush)
        for n, (ratio, flush) in enumerate(((1.03, 5.0), (1.2, 3.0), (1.0, 2.0)))
    )
    problem = replace(hand, stacks=stacks)

    def members(most: int) -> list[tuple[int, ...]]:
        return [group.stacks for group in group_stacks(problem, most=most)]

    assert members(3) == members(100) == [(2,), (0,), (1,)]
    assert members(2) == [(2, 0), (1,)]
    assert members(1) == members(0) == [(2, 0, 1)]
    (wide,) = group_stacks(problem, most=1)
    assert wide.logs_per_scale == pytest.approx(1.0)
    assert wide.end_per_scale == pytest.approx(2.0 / 100)
    (close, far) = group_stacks(problem, most=2)
    assert (close.type_index, far.type_index) == (0, 0)
    assert far.end_per_scale == pytest.approx(3.0 * 1.2 / 100)


def test_types_are_never_lumped_nor_are_stacks_that_bear_nothing() -> None:
    hand = hand_problem()
    stacks = (*hand.stacks, replace(hand.stacks[0], name="C", effective_logs=0.0))
    problem = replace(
        hand,
        types=(hand.types[0], hand.types[0]),
        stacks=tuple(replace(s, type_index=n % 2) for n, s in enumerate(stacks)),
    )
    assert [(g.type_index, g.stacks) for g in group_stacks(problem, most=1)] == [
        (0, (0,)),
        (1, (1,)),
    ]


def test_what_is_sold_at_the_very_end_saves_no_expiry_of_other_mushrooms() -> None:
    # 0.6 kg of day 115 keep past the last of 119 days; 0.4 kg of them are wanted on day 117, in
    # one member of two. 1 kg of day 30 expires in the other: 0.5 kg in the mean at 0.5.
    hand = still(hand_problem(), stock=(), cold_days=7)
    late = replace(
        hand.stacks[0],
        first=replace(hand.stacks[0].first, none_crops=table((0, 1, 115, 0.6), (0, 0, 30, 1.0))),
    )
    problem = replace(
        hand,
        stacks=(late, hand.stacks[1]),
        outlets=(OutletDay("Stall", 117, 0.4, 1.0),),
        prices=replace(hand.prices, expired=0.5),
    )
    assert least(problem) == 0.2 + 0.25 - 2.5
    both = (OutletDay("Stall", 40, 0.4, 1.0), OutletDay("Stall", 117, 0.4, 1.0))
    assert least(replace(problem, outlets=both)) == 0.2 + 0.25 + 0.4 - 2.5


def test_a_stack_that_bears_nothing_changes_for_nothing_where_it_can_stay() -> None:
    # Never soaked it would be a change, on its published day it is none; soaks cost it nothing.
    hand = hand_problem()
    barren = replace(hand.stacks[0], effective_logs=0.0, published=8)
    for soaks, change in (((0, 1), 0.0), ((0, 2), 0.4), ((), 0.4)):
        first = replace(barren.first, soak=np.array(soaks, dtype=np.int64), crops=table())
        problem = replace(
            hand,
            stacks=(replace(barren, first=first),),
            outlets=(OutletDay("Stall", 31, 2.0, 1.0),),
            stock=(),
            prices=replace(hand.prices, change=0.4, expired=0.0),
        )
        # 2 kg and 1.4 kg short, half of its flush of 2 kg at the end.
        assert 1.7 + change - 1.0 == least(problem)


def test_a_long_stay_on_one_day_makes_no_other_longer() -> None:
    # A goes in on day 1 for seven nights and B on day 8; only day 64 holds logs for nine.
    hand = hand_problem()
    outlets = (OutletDay("Stall", 12, 2.0, 1.0), OutletDay("Stall", 20, 3.0, 1.0))

    def bound(*held: int, tank: int = 40) -> float:
        kind = replace(hand.types[0], nights=np.array(held, dtype=np.int64))
        return lower_bound(replace(hand, types=(kind,), outlets=outlets, tank_logs=tank))

    assert bound(7, 2, 9, 1) == pytest.approx(bound(7, 2, 2, 1), abs=1e-4)
    assert bound(7, 2, 9, 1) == pytest.approx(bound(7, 2, 9, 1, tank=1000), abs=1e-4)
    assert bound(8, 2, 9, 1) > bound(7, 2, 9, 1) + 0.1


def test_hours_are_those_of_the_soak_and_of_the_pull_and_of_what_is_in_today() -> None:
    # A alone, wanted for day 12 at a high price: 1.0 h on day 1 and 0.8 h on day 2.
    hand = hand_problem()
    problem = replace(
        hand, stacks=hand.stacks[:1], outlets=(OutletDay("Stall", 12, 1.0, 9.0),), stock=()
    )

    def bound(hours: float | None, **work: float) -> float:
        return lower_bound(replace(problem, hours_a_day=hours, **work))

    free = bound(None)
    assert bound(1.0) == pytest.approx(free, abs=1e-4)
    half = bound(0.5)
    # Half of A goes in: 0.5 kg in member 1 and all that is wanted in member 0, at weight 9.
    assert half > free + 1.0
    assert bound(1.0, pull_hours_per_log=0.1) == pytest.approx(half, abs=1e-4)
    assert bound(0.75, pull_hours_per_log=0.075) == pytest.approx(half, abs=1e-4)
    # What comes out on day 1 leaves less: B's 30 logs take 1.2 h of 1.7.
    out = replace(hand.stacks[1], fixed_nights=1, was_published=False)
    out = replace(out, first=replace(out.first, soak=np.zeros(0, dtype=np.int64), crops=table()))
    held = replace(problem, stacks=(problem.stacks[0], out), tank_logs=1000)
    alone = lower_bound(replace(held, hours_a_day=None))
    assert lower_bound(replace(held, hours_a_day=2.2)) == pytest.approx(alone, abs=1e-4)
    less = lower_bound(replace(held, hours_a_day=1.7))
    assert less - alone == pytest.approx(half - free, abs=1e-4)
    # Hours that are overdrawn already leave none, and forbid nothing else.
    none = lower_bound(replace(held, hours_a_day=1.0))
    assert none > less + 1.0
    assert lower_bound(replace(held, hours_a_day=1.2)) == pytest.approx(none, abs=1e-4)


def test_a_tank_filled_today_leaves_what_is_over() -> None:
    hand = hand_problem()
    out = replace(hand.stacks[1], fixed_nights=2, was_published=False)
    out = replace(out, first=replace(out.first, soak=np.zeros(0, dtype=np.int64), crops=table()))
    problem = replace(
        hand, stacks=(hand.stacks[0], out), outlets=(OutletDay("Stall", 12, 1.0, 9.0),), stock=()
    )

    def bound(tank: int, nights: int) -> float:
        held = replace(out, fixed_nights=nights)
        return lower_bound(replace(problem, stacks=(hand.stacks[0], held), tank_logs=tank))

    # Day 1 has 30 of B's logs until they are out on day 1, or on day 2.
    free = bound(1000, 1)
    assert bound(20, 1) == pytest.approx(free, abs=1e-4)
    assert bound(50, 2) == pytest.approx(free, abs=1e-4)
    assert bound(40, 2) == pytest.approx(bound(10, 1), abs=1e-4)
    assert bound(30, 2) == pytest.approx(bound(20, 2), abs=1e-4)
    assert free + 1.0 < bound(40, 2) < bound(30, 2) - 1.0


def test_a_soak_that_ends_late_takes_from_the_end_what_its_rest_lacks() -> None:
    # Soaked on day 64, 21 of 63 days before the next soak day: a third of half its flush of 2 kg
    # is left. Nothing else is wanted, so that the sale of day 73 pays for it.
    hand = hand_problem()
    for weight, soaked in ((9.0, True), (0.1, False)):
        sale = (OutletDay("Stall", 73, 2.4, weight),)
        only = replace(
            hand.stacks[0],
            first=replace(
                hand.stacks[0].first,
                soak=np.array([2]),
                crops=table((0, 0, 72, 2.4), (0, 1, 72, 2.4)),
                none_crops=table(),
            ),
            published=None,
        )
        prices = replace(hand.prices, change=0.3, soak=0.02, expired=0.0)
        problem = replace(hand, stacks=(only,), outlets=sale, stock=(), prices=prices)
        cost = 0.02 * 20 + 0.3 - 1.0 / 3 if soaked else 2.4 * weight - 1.0
        assert cost == least(problem)


def test_the_worst_share_of_shortfalls_is_priced_sale_by_sale() -> None:
    # Members have 0.6 and 0 kg for day 31 and 0 and 1 kg for day 41; 2 kg are wanted each time.
    # The worst half is short of 2 and 2 kg, at 1.5; weights 3 and 1 on 1.7 and 1.5 kg.
    hand = still(hand_problem(), stock=(), promise=0.5)
    crops = table((0, 0, 30, 0.6), (0, 1, 40, 1.0))
    stack = replace(hand.stacks[0], first=replace(hand.stacks[0].first, none_crops=crops))
    problem = replace(
        hand,
        stacks=(stack, replace(hand.stacks[1], first=replace(stack.first, none_crops=table()))),
        outlets=(OutletDay("Stall", 31, 2.0, 3.0), OutletDay("Stall", 41, 2.0, 1.0)),
        prices=replace(hand.prices, certainty=1.5),
    )
    assert least(problem) == 3 * 1.7 + 1.5 + 1.5 * 4.0 - 2.5
    assert least(replace(problem, promise=0.0)) == 3 * 1.7 + 1.5 + 1.5 * (1.7 + 1.5) - 2.5


def test_a_soak_of_today_may_last_longer_than_soaks_are_planned() -> None:
    # Twelve weeks are planned; B comes out on day 100, and A, 20 logs, finds 10 places till then.
    hand = hand_problem()
    held = replace(hand.stacks[1], fixed_nights=100, was_published=False)
    held = replace(held, first=replace(held.first, soak=held.first.soak[:0], crops=table()))
    problem = replace(
        hand, stacks=(hand.stacks[0], held), outlets=(OutletDay("Stall", 12, 1.0, 9.0),), stock=()
    )
    free = replace(problem, stacks=(hand.stacks[0], replace(held, fixed_nights=0)), tank_logs=10)
    assert lower_bound(problem) == pytest.approx(lower_bound(free), abs=1e-4)
    assert relax(problem, rounds=0) == pytest.approx(relaxed_bound(problem), abs=1e-4)
