"""An earlier plan carried on, and the one future that is known, on the hand-made problem."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from fruitcast.schedule.hindcast_policies import last_plan, only_member, plan_dates
from fruitcast.schedule.judge import judge
from tests.schedule.hand import hand_problem


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
