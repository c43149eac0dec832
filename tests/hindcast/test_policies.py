"""An earlier plan carried on, and the one future that is known, on the hand-made problem."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from fruitcast.hindcast.policies import (
    FixedRotation,
    SensibleRotation,
    last_plan,
    only_member,
    plan_dates,
)
from fruitcast.soaks.problem import FirstArcs, Problem
from tests.soaks.hand import hand_problem, table
from tests.soaks.judge import judge


def test_a_plan_as_dates_and_back() -> None:
    problem = hand_problem()
    dates = plan_dates(problem, ((0, 2), (1,)))
    days = {name: [(on - problem.today).days for on in found] for name, found in dates.items()}
    assert days == {"A": [1, 64], "B": [8]}
    assert last_plan(problem, dates) == ((0, 2), (1,))


def test_what_is_past_or_not_legal_any_more_falls_out_of_an_earlier_plan() -> None:
    problem = hand_problem()

    def on(*days: int):
        return tuple(problem.today + timedelta(days=day) for day in days)

    assert last_plan(problem, {"A": on(-7, 1, 5, 71)}) == ((0, 3), ())
    assert last_plan(problem, {"A": on(8, 64, 71)}) == ((1, 3), ())  # no arc from 8 to 64
    assert last_plan(problem, {"B": on(1, 64)}) == ((), (2,))  # B is not rested on day 1
    # The tank holds 40: beside A's 20 logs of the same days B's 30 find no place.
    assert last_plan(problem, {"A": on(8), "B": on(8)}) == ((1,), ())
    assert last_plan(problem, {"A": on(1), "B": on(8)}) == ((0,), (1,))


@pytest.mark.parametrize("member", [0, 1])
def test_the_only_future_is_that_member_s(member: int) -> None:
    problem = replace(hand_problem(), tank_logs=60)
    alone = only_member(problem, member)
    assert alone.years == (problem.years[member],)
    for plan in (((0, 2), (1, 3)), ((), ()), ((1, 3), (1,)), ((), (2,))):
        whole, one = judge(problem, plan), judge(alone, plan)
        assert one.delivered.shape[1] == 1
        np.testing.assert_allclose(one.delivered[:, 0], whole.delivered[:, member])
        np.testing.assert_allclose(one.available[:, 0], whole.available[:, member])
        assert one.expired == pytest.approx(whole.expired[[member]])


def weekly(*stacks: tuple[str, int, int], days: tuple[int, ...] = (0, 7, 14)) -> Problem:
    """Stacks of (name, logs, day of the last soak), open on every soak day, soaked once at most."""
    hand = hand_problem()
    soaks = len(days)
    kind = replace(
        hand.types[0],
        start=np.zeros(0, dtype=np.int64),
        stop=np.zeros(0, dtype=np.int64),
        crops=table(),
        end_crops=table(),
        nights=np.ones(soaks, dtype=np.int64),
        standing=np.zeros(soaks, dtype=np.int64),
        hours=np.full(soaks, 24.0),
        allowed=np.ones(soaks, dtype=bool),
    )
    first = FirstArcs(np.arange(soaks), table(), table())
    made = [
        replace(hand.stacks[0], name=name, logs=logs, rested_from=last, first=first)
        for name, logs, last in stacks
    ]
    return replace(
        hand,
        weeks=3,
        soak_days=np.array(days, dtype=np.int64),
        types=(kind,),
        stacks=tuple(made),
        tank_logs=1000,
    )


def test_the_fixed_rotation_goes_on_with_its_own_groups() -> None:
    # Nine stacks of 10 logs are nine groups of one, the longest rested first.
    names = "ABCDEFGHI"
    stacks = [(name, 10, -200 + 10 * n) for n, name in enumerate(names)]
    policy = FixedRotation()
    assert policy.plan(weekly(*stacks)) == ((0,), (1,), (2,)) + ((),) * 6
    assert policy.turns.turn == 1
    # A week later A has been soaked and B's turn has come, whoever is longest rested now.
    turned = [(name, 10, -7 if name == "A" else -500 + n) for n, (name, *_) in enumerate(stacks)]
    assert policy.plan(weekly(*turned)) == ((), (0,), (1,), (2,)) + ((),) * 5
    assert policy.turns.turn == 2
    # A week without a soak day is nobody's turn.
    assert policy.plan(weekly(*turned, days=(7, 14))) == ((), (), (0,), (1,)) + ((),) * 5
    assert policy.turns.turn == 2


def test_the_sensible_rotation_carries_what_it_has_overdrawn() -> None:
    # 90 logs: 10 a week. A stack is soaked whole, and may overdraw by half of its logs.
    stacks = [("A", 19, -300), ("B", 19, -200), ("C", 52, -100)]
    policy = SensibleRotation()
    assert policy.plan(weekly(*stacks)) == ((0,), (2,), ())
    assert policy.overdrawn == 9
    # A week later, of 10 allowed 9 are drawn: B waits for the week after.
    assert policy.plan(weekly(("A", 19, -7), *stacks[1:])) == ((), (1,), ())
    assert policy.overdrawn == 0
    # What a week leaves over is not saved up.
    assert policy.plan(weekly(("A", 19, -14), *stacks[1:]))[1] == (0,)
    assert policy.overdrawn == 9


@pytest.mark.parametrize(("day", "counts"), [(0, True), (6, True), (7, False)])
def test_a_week_is_seven_days_of_soaks(day: int, counts: bool) -> None:
    stacks = [("A", 19, -300), ("B", 71, -100)]
    policy = SensibleRotation(overdrawn=3)
    # In its first week 7 logs are left of 10, so that A waits; without a soak day all stays.
    policy.plan(weekly(*stacks, days=(day, 14)))
    assert policy.overdrawn == (0 if counts else 3)
    policy = SensibleRotation()
    assert policy.plan(weekly(*stacks, days=(day, 14)))[0] == (0,)
    assert policy.overdrawn == (9 if counts else 0)
