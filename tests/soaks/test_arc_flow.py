"""The program over arcs, plan by plan: what each costs and whether it may be, as the judge has it.

Every plan of the hand problem is held fast in the program, so that only the sales are left to be
chosen. At equal weights and without a price on certainty the judge's first in, first out is the
best of them.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import highspy
import numpy as np
import pytest

from fruitcast.soaks.problem import OutletDay, Plan, Problem
from tests.soaks.arc_flow import ArcFlow
from tests.soaks.brute_force import all_paths
from tests.soaks.hand import PRICES, hand_problem, table
from tests.soaks.judge import judge

EQUAL = tuple(replace(outlet, weight=1.0) for outlet in hand_problem().outlets)


def arcs_of(plan: Plan) -> set[tuple[int, int, int]]:
    return {
        (stack, before, after)
        for stack, path in enumerate(plan)
        for before, after in zip((-1, *path), (*path, -1), strict=True)
    }


def held_fast(model: ArcFlow, solver: highspy.Highs, plan: Plan) -> float | None:
    """What the program says of one plan: its cost, or None when it may not be."""
    steps = arcs_of(plan)
    taken = np.array([arc in steps for arc in model._arc_kind], dtype=float)
    columns = (model._arcs + np.arange(len(taken))).astype(np.int32)
    upper = np.concatenate(model._upper)[model._arcs :]
    if (taken > upper).any():
        return None
    solver.changeColsBounds(len(columns), columns, taken, taken)
    solver.run()
    if solver.getModelStatus() == highspy.HighsModelStatus.kInfeasible:
        return None
    assert solver.getModelStatus() == highspy.HighsModelStatus.kOptimal
    return float(solver.getInfo().objective_function_value)


def plans_of(problem: Problem) -> list[Plan]:
    return list(product(*(all_paths(problem, s) for s in range(len(problem.stacks)))))


def agreed(problem: Problem, *plans: Plan) -> tuple[int, int]:
    """Hold the program to the judge, plan by plan (every one if none is named).

    Returns how many plans may be, and may not.
    """
    model = ArcFlow(problem)
    solver = model.solver(integer=False)
    may, may_not = 0, 0
    for plan in plans or plans_of(problem):
        told, judged = held_fast(model, solver, plan), judge(problem, plan)
        if judged.legal:
            assert told == pytest.approx(judged.objective_kg, abs=1e-6), plan
            may += 1
        else:
            assert told is None, plan
            may_not += 1
    return may, may_not


def nights(problem: Problem, *held: int) -> Problem:
    kind = replace(problem.types[0], nights=np.array(held, dtype=np.int64))
    return replace(problem, types=(kind,))


def with_stacks(problem: Problem, *changes: dict) -> Problem:
    stacks = tuple(replace(s, **c) for s, c in zip(problem.stacks, changes, strict=True))
    return replace(problem, stacks=stacks)


def test_the_hand_problem_plan_by_plan():
    # Of 40 plans the tank for 40 forbids those in which A and B go in on the same day.
    may, may_not = agreed(replace(hand_problem(), outlets=EQUAL))
    assert may + may_not == 40
    assert may_not == sum(bool(set(a) & set(b)) for a, b in plans_of(hand_problem()))


def test_prices_of_all_kinds_and_more_stock():
    problem = replace(
        hand_problem(),
        outlets=EQUAL,
        prices=replace(PRICES, expired=0.7, soak=0.03, change=0.4),
        stock=((-1, 0.5), (-3, 0.25), (-1, 0.2), (-9, 3.0)),
        tank_logs=60,
    )
    assert agreed(problem) == (40, 0)


def test_picks_sell_as_long_as_they_keep():
    outlets = tuple(OutletDay("Stall", day, 1.5, 1.0) for day in (0, 1, 18, 20, 21, 80, 118))
    late = table((0, 0, 9, 2.0), (0, 1, 106, 1.0), (0, 0, 110, 1.0), (0, 0, 117, 0.5))
    stack = replace(hand_problem().stacks[1], name="B")
    stack = replace(stack, first=replace(stack.first, none_crops=late), was_published=False)
    problem = replace(
        hand_problem(),
        outlets=outlets,
        stacks=(hand_problem().stacks[0], stack),
        tank_logs=60,
        prices=replace(PRICES, expired=0.3),
    )
    some = [((0,), path) for path in all_paths(problem, 1)]
    for cold_days in (1, 3, 12):
        assert agreed(replace(problem, cold_days=cold_days), *some) == (len(some), 0)


def test_a_tank_is_full_until_the_morning_of_the_pull():
    # A on day 1, B on day 8; then both on other days of their own.
    one, other, free = ((0,), (1,)), ((2,), (3,)), ((0,), (3,))
    for held, legal in (
        ((7, 2, 2, 1), [one, other, free]),
        ((8, 2, 2, 1), [other, free]),
        ((7, 2, 7, 1), [one, other, free]),
        ((7, 2, 8, 1), [one, free]),
    ):
        problem = nights(replace(hand_problem(), outlets=EQUAL), *held)
        assert agreed(problem, one, other, free) == (len(legal), 3 - len(legal))
        assert [plan for plan in (one, other, free) if judge(problem, plan).legal] == legal


def test_hours_to_soak_and_to_pull():
    # A takes 1.0 h in and 0.8 h out, B 1.5 h in and 1.2 h out; pulled on day 8, A leaves B less.
    problem = replace(hand_problem(), outlets=EQUAL, tank_logs=60)
    problem = nights(problem, 7, 2, 7, 1)
    plans = [((0,), ()), ((), (1,)), ((0,), (1,)), ((1,), (1,)), ((2,), (3,))]
    legal = {0.5: 0, 0.99: 0, 1.0: 1, 1.49: 1, 1.5: 2, 2.29: 2, 2.3: 4, 2.49: 4, 2.5: 5}
    for hours, may in legal.items():
        assert agreed(replace(problem, hours_a_day=hours), *plans) == (may, 5 - may), hours


def test_what_is_in_the_tank_today_takes_its_place_and_its_pull():
    # A is held until the morning of its pull, 0.8 h; from that day on it could go in again, 1.0 h.
    hand = replace(hand_problem(), outlets=EQUAL)
    none, first, second, other = ((), ()), ((0,), ()), ((1,), ()), ((), (1,))
    for fixed, hours, may in (
        (1, None, [none, first, second, other]),
        (1, 1.8, [none, first, second, other]),
        (1, 1.79, [none, second, other]),
        (2, None, [none, second, other]),
        (8, None, [none, second, other]),
        (8, 1.8, [none, second]),  # B would take 1.5 h on day 8
        (8, 1.79, [none]),
        (8, 2.3, [none, second, other]),
        (9, None, [none]),  # and the tank is full on day 8
        (100, 9.0, [none]),  # longer than soaks are looked at
    ):
        problem = with_stacks(replace(hand, hours_a_day=hours), {"fixed_nights": fixed}, {})
        model = ArcFlow(problem)
        solver = model.solver(integer=False)
        for plan in (none, first, second, other):
            told = held_fast(model, solver, plan)
            if plan in may:
                assert told == pytest.approx(judge(problem, plan).objective_kg, abs=1e-6)
            else:
                assert told is None, (fixed, hours, plan)


def test_more_in_the_tank_than_it_holds_forbids_no_waiting():
    # 20 logs in a tank for 10: nothing more goes in, but the plan of no soaks stands.
    hand = replace(hand_problem(), outlets=EQUAL, tank_logs=10, hours_a_day=0.3)
    problem = with_stacks(hand, {"fixed_nights": 3}, {"logs": 1, "effective_logs": 30.0})
    model = ArcFlow(problem)
    solver = model.solver(integer=False)
    assert held_fast(model, solver, ((), ())) == pytest.approx(
        judge(problem, ((), ())).objective_kg
    )
    # B's single log fits once A is out, not before: 0.05 h on day 8.
    assert held_fast(model, solver, ((), (1,))) is not None
    early = replace(problem, soak_days=np.array([1, 2, 64, 71]))
    model = ArcFlow(early)
    assert held_fast(model, model.solver(integer=False), ((), (1,))) is None


def test_each_type_has_its_own_nights_however_long():
    # B's kind stays in for twenty nights after day 71, past the horizon of 84 days.
    hand = replace(hand_problem(), outlets=EQUAL, hours_a_day=2.0, tank_logs=60)
    long = replace(hand.types[0], nights=np.array([1, 2, 2, 20]))
    two = replace(hand, types=(hand.types[0], long))
    problem = with_stacks(two, {}, {"type_index": 1})
    may, may_not = agreed(problem)
    assert may and may_not


def test_the_last_pull_has_its_hours():
    # Soaked on day 83, the last of the horizon, and pulled on day 86: 0.8 and 1.2 h.
    hand = replace(hand_problem(), outlets=EQUAL, tank_logs=60, pull_hours_per_log=0.06)
    last = nights(replace(hand, soak_days=np.array([1, 8, 64, 83])), 1, 2, 2, 3)
    for hours, may in ((1.19, 0), (1.2, 1), (1.79, 1), (1.8, 2), (2.99, 2), (3.0, 3)):
        problem = replace(last, hours_a_day=hours)
        plans = [((3,), ()), ((), (3,)), ((3,), (3,))]
        assert agreed(problem, *plans) == (may, 3 - may), hours


def test_soaks_that_are_not_allowed_or_come_too_soon_carry_nothing():
    hand = replace(hand_problem(), outlets=EQUAL, tank_logs=60)
    kind = replace(hand.types[0], allowed=np.array([True, True, False, True]))
    problem = replace(hand, types=(kind,), rest_days=64)
    model = ArcFlow(problem)
    solver = model.solver(integer=False)
    assert held_fast(model, solver, ((2,), ())) is None
    assert held_fast(model, solver, ((0, 2), ())) is None
    assert held_fast(model, solver, ((1, 3), ())) is None  # 63 days
    assert held_fast(model, solver, ((0, 3), ())) == pytest.approx(
        judge(problem, ((0, 3), ())).objective_kg
    )


def test_certainty_and_unequal_weights_leave_the_judge_no_cheaper():
    problem = replace(
        hand_problem(),
        promise=0.5,
        tank_logs=60,
        prices=replace(PRICES, certainty=1.5, expired=0.4),
    )
    model = ArcFlow(problem)
    solver = model.solver(integer=False)
    for plan in plans_of(problem):
        told = held_fast(model, solver, plan)
        assert told is not None and told <= judge(problem, plan).objective_kg + 1e-6


def test_one_sale_of_a_member_s_own_is_priced_by_hand():
    # No soak; member 1 picks 0.6 kg on day 30, wanted on day 31: 2 kg at weight 3. Short of 2.0
    # and 1.4 kg, 3 x 1.7 in the mean; the worst half is short of 2.0 kg, at 1.5; A dropped: 0.1.
    # Rest: half of 2 and of 3 kg.
    problem = replace(
        hand_problem(),
        stock=(),
        outlets=(OutletDay("Stall", 31, 2.0, 3.0),),
        promise=0.5,
        prices=replace(PRICES, certainty=1.5),
    )
    model = ArcFlow(problem)
    told = held_fast(model, model.solver(integer=False), ((), ()))
    assert told == pytest.approx(5.1 + 3.0 + 0.1 - 2.5, abs=1e-6)


def test_a_plan_is_read_from_its_arcs_and_nothing_else():
    model = ArcFlow(hand_problem())
    for plan in plans_of(hand_problem()):
        steps = arcs_of(plan)
        arcs = [float(arc in steps) for arc in model._arc_kind]
        assert model.read_plan(np.array([0.0] * model._arcs + arcs)) == plan
        # What is sold says nothing, and a hair of a flow is none.
        near = [abs(value - 1e-7) for value in arcs]
        assert model.read_plan(np.array([7.0] * model._arcs + near)) == plan
    assert model.read_plan(np.zeros(0)) is None
    assert model.read_plan(np.zeros(model._columns)) is None
    only_a = arcs_of(((0,), ())) - {(1, -1, -1)}
    arcs = [float(arc in only_a) for arc in model._arc_kind]
    assert model.read_plan(np.array([0.0] * model._arcs + arcs)) is None


def test_ruling_out_one_plan_leaves_all_others():
    problem = replace(hand_problem(), outlets=EQUAL, tank_logs=60)
    model = ArcFlow(problem)
    solver = model.solver(integer=True)
    gone = ((0,), ())
    model.rule_out(solver, gone)
    for plan in plans_of(problem):
        assert (held_fast(model, solver, plan) is None) is (plan == gone), plan
    another = ((0, 2), (1,))
    model.rule_out(solver, another)
    for plan in plans_of(problem):
        assert (held_fast(model, solver, plan) is None) is (plan in (gone, another)), plan
