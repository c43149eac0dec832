"""What a little more of each limited thing would bring, on a problem worked out by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fruitcast.soaks.problem import OutletDay, Plan, Problem, StackProblem
from fruitcast.soaks.shortage import MoreOf, _one_of_each_type, gains_of_more, with_more_logs
from tests.soaks.hand import hand_problem


def hungry() -> Problem:
    """Stack A and B both soaked on day 8 would fill two sales; the tank holds one of them."""
    problem = hand_problem()
    outlets = (OutletDay("Stall", 20, 4.0, 1.0),)
    return replace(problem, outlets=outlets, stock=(), tank_logs=30)


def test_a_larger_stack_is_the_same_in_all_else() -> None:
    stack = hand_problem().stacks[0]
    grown = with_more_logs(stack, 10)
    assert (grown.logs, grown.effective_logs, grown.end_flush) == pytest.approx((30, 30.0, 3.0))
    assert grown.first.crops.kg == pytest.approx(1.5 * np.asarray(stack.first.crops.kg))
    assert grown.first.none_crops.kg == pytest.approx(1.5 * np.asarray(stack.first.none_crops.kg))
    assert (grown.published, grown.rested_from) == (stack.published, stack.rested_from)


def test_each_thing_is_worth_the_shortfall_it_takes_away() -> None:
    # B on day 8 picks 3.0 on day 17 (member 0) and 2.0 on day 19 (member 1): short 1.0 and 2.0
    # of the 4.0 on day 20. A beside it, 20 logs more in the tank, picks 2.2 and 1.2: nothing is
    # short in member 0, 0.8 in member 1. Of the 1.5 missing 1.1 go, with 25 places more.
    problem = hungry()
    found = {(w.thing, w.which): w for w in gains_of_more(problem, ((), (1,)), [])}
    tank = found["tank place", ""]
    assert tank.kg == pytest.approx(1.1 / 25)
    # The crop is young enough as it is: a day longer in the cold brings nothing.
    assert found["cold store day", ""].kg == pytest.approx(0.0, abs=1e-9)
    # Ten logs more for A as for B would leave it outside the tank, or make B bring a third
    # more: 4.0 and 2.67 picked, short 0 and 1.33, a mean of 0.67 in place of 1.5. But 40 logs
    # do not go into a tank for 30. A and B are of one type, A first and as good a log.
    assert [w.which for w in found.values() if w.thing == "ten logs"] == ["wide-range (like A)"]


def test_one_more_soak_day_is_worth_what_its_own_plan_no_longer_lacks() -> None:
    problem = hungry()
    larger = replace(problem, tank_logs=60)
    more = [("Wednesday", larger, ((1,), (1,))), ("Saturday", problem, ((), ()))]
    found = gains_of_more(problem, ((), (1,)), more)
    days = [(w.which, w.kg) for w in found if w.thing == "soak day"]
    # Most first; a plan that lacks more than ours is worth nothing, not less than nothing.
    assert days == [("Wednesday", pytest.approx(1.1)), ("Saturday", 0.0)]
    assert [w.thing for w in found] == sorted(w.thing for w in found)


def of_things(problem: Problem, plan: Plan) -> dict[str, MoreOf]:
    return {found.thing: found for found in gains_of_more(problem, plan, [])}


def test_a_day_longer_in_the_cold_store_sells_what_was_a_day_too_old() -> None:
    # Kept seven days, B's 3.0 kg of day 17 are too old for day 25 and its 2.0 of day 19 are not.
    problem = replace(hungry(), outlets=(OutletDay("Stall", 25, 4.0, 1.0),))
    found = of_things(problem, ((), (1,)))["cold store day"]
    assert found.kg == pytest.approx(3.0 / 2)


def test_a_place_to_fruit_is_worth_what_those_of_one_more_stack_bring() -> None:
    # B's 30 logs stand on the 30 places from day 10 to day 20; A's 20 would, had they 25 more.
    problem = replace(hungry(), tank_logs=60, places=30)
    found = of_things(problem, ((), (1,)))
    assert found["place to fruit"].kg == pytest.approx(1.1 / 25)
    assert found["tank place"].kg == pytest.approx(0.0, abs=1e-9)
    assert "place to fruit" not in of_things(replace(problem, places=None), ((), (1,)))


def test_ten_more_logs_are_worth_what_they_bring_where_there_is_room() -> None:
    # Of 10 kg 4.8 and 6.8 are missing; ten logs more make A bring 1.1 and 0.6 more.
    problem = replace(hungry(), tank_logs=60, outlets=(OutletDay("Stall", 20, 10.0, 1.0),))
    found = of_things(problem, ((1,), (1,)))["ten logs"]
    assert found.kg == pytest.approx((1.1 + 0.6) / 2)


def test_the_tank_is_tried_with_the_places_of_a_middling_stack_of_living_logs(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    tanks: list[int] = []

    def gain(now: float, problem: Problem, plan: Plan) -> float:
        tanks.append(problem.tank_logs)
        return 1.0

    monkeypatch.setattr("fruitcast.soaks.shortage._gain", gain)

    def places(*logs: int) -> int:
        tanks.clear()
        stacks = tuple(replace(hungry().stacks[0], logs=count) for count in logs)
        problem = replace(hungry(), stacks=stacks)
        found = of_things(problem, ((),) * len(logs))["tank place"]
        # The tank is tried first; what it gains is shared out to its places.
        more = tanks[0] - problem.tank_logs
        assert found.kg == 1.0 / more
        return more

    assert places(20, 30) == 25
    assert places(10, 40, 0, 14) == 14  # the dead stack does not count
    assert places(0, 0) == 1


def test_the_ten_logs_are_of_the_best_stack_of_each_type_that_can_be_soaked() -> None:
    problem = hand_problem()
    a, b = problem.stacks
    other = replace(a, type_index=1)
    spent = replace(a, logs=0, effective_logs=99.0)
    none = replace(a.first, soak=a.first.soak[:0])

    def chosen(*stacks: StackProblem) -> list[int]:
        return _one_of_each_type(replace(problem, stacks=stacks))

    assert chosen(a, b) == [0]  # as good a log, and first
    assert chosen(a, replace(b, effective_logs=31.0)) == [1]
    assert chosen(replace(a, effective_logs=21.0), replace(b, effective_logs=31.0)) == [
        0
    ]  # 1.05 against 1.03
    assert chosen(replace(a, first=none), b) == [1]
    assert chosen(spent, a, other) == [1, 2]
    assert chosen(spent) == []
