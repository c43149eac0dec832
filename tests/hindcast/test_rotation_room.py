"""What is left of tank, hours and rest while a rotation is made, on the problem worked by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from fruitcast.hindcast.policies import (
    FixedRotation,
    RuleOfHand,
    SensibleRotation,
    _Room,
    _weeks,
    first_turns,
    logs_a_week,
    sensible,
    take_turns,
)
from fruitcast.soaks.problem import Problem
from tests.hindcast.rotations import nine_week
from tests.soaks.hand import hand_problem
from tests.soaks.instances import small_problem
from tests.soaks.judge import judge

A, B = 0, 1


def problem(**changes: Any) -> Problem:
    return replace(hand_problem(), **changes)


def with_nights(nights: list[int], **changes: Any) -> Problem:
    """Soaks on the days 1, 8, 64 and 71, in the tank for so many nights."""
    found = problem(**changes)
    return replace(found, types=(replace(found.types[0], nights=np.array(nights)),))


@pytest.mark.parametrize(("hours", "room"), [(2.3, True), (2.29, False)])
def test_pulling_one_stack_and_soaking_another_share_the_hours_of_a_day(
    hours: float, room: bool
) -> None:
    # A, 20 logs, goes in on day 1 and comes out on day 8: 0.8 h. B, 30 logs, goes in: 1.5 h.
    week = with_nights([7, 2, 2, 1], hours_a_day=hours)
    first = _Room(week)
    assert first.soak(A, 0)
    assert first.soak(B, 1) is room
    # The other way round it is the pull that finds the hours taken.
    second = _Room(week)
    assert second.soak(B, 1)
    assert second.soak(A, 0) is room


def test_what_was_refused_takes_neither_hours_nor_places() -> None:
    tight = _Room(with_nights([7, 2, 2, 1], hours_a_day=1.6))
    assert tight.soak(A, 0)
    assert not tight.soak(B, 1)
    assert tight.plan == ((0,), ())
    assert tight.soak(B, 3)  # day 71: 1.5 h, as on any other


@pytest.mark.parametrize(("hours", "room"), [(2.2, True), (2.19, False)])
def test_logs_in_the_tank_from_before_come_out_in_the_hours_of_their_day(
    hours: float, room: bool
) -> None:
    # B is in the tank for eight nights more, and its pull on day 8 takes 30 x 0.04 = 1.2 h.
    made = problem(hours_a_day=hours, tank_logs=50)
    made = replace(made, stacks=(made.stacks[A], replace(made.stacks[B], fixed_nights=8)))
    assert _Room(made).soak(A, 1) is room


@pytest.mark.parametrize(("nights", "free"), [(1, False), (2, False), (8, False), (0, True)])
def test_logs_in_the_tank_from_before_hold_their_places(nights: int, free: bool) -> None:
    # With B's 30 logs in it there is no room for A's 20 in a tank of 40, until B is out.
    made = problem()
    made = replace(made, stacks=(made.stacks[A], replace(made.stacks[B], fixed_nights=nights)))
    day_1 = _Room(made).soak(A, 0)
    assert day_1 is (free or nights == 1)
    assert _Room(made).soak(A, 1)  # on day 8


def test_a_stack_fills_the_tank_to_its_last_place_on_every_day_it_lies_in_it() -> None:
    # Days 8 and 9; B goes in on day 8 as well, or finds 10 places of 30.
    for places, room in ((50, True), (49, False)):
        full = _Room(problem(tank_logs=places))
        assert full.soak(A, 1)
        assert full.soak(B, 1) is room
    # A lies in the tank until the morning of day 8: the places are free for B.
    assert [_follows(nights) for nights in (7, 8)] == [True, False]


def _follows(nights: int) -> bool:
    room = _Room(with_nights([nights, 2, 2, 1]))
    assert room.soak(A, 0)
    return room.soak(B, 1)


def test_logs_may_lie_in_the_tank_past_the_horizon() -> None:
    # Of two types one lies three weeks from day 71 on, past the 84 days of the horizon.
    made = problem(hours_a_day=9.0)
    long = replace(made.types[0], nights=np.array([1, 2, 2, 21]))
    stacks = (made.stacks[A], replace(made.stacks[B], type_index=1))
    for types in ((made.types[0], long), (long, made.types[0])):
        room = _Room(replace(made, types=types, stacks=stacks))
        assert room.soak(A, 3)
        assert not room.soak(B, 3)  # the tank of 40 holds A's 20
        assert room.soak(B, 2)


def test_a_stack_follows_only_the_arcs_that_lead_on() -> None:
    room = _Room(problem())
    assert not room.soak(B, 0)  # rested on day 8 only
    assert room.soak(B, 1)
    assert not room.soak(B, 2)
    assert room.soak(B, 3)
    assert room.plan == ((), (1, 3))
    assert (room.last_soak(A), room.last_soak(B)) == (-62, 71)


def test_who_only_waits_for_rest_or_room_comes_next_and_who_may_not_loses_the_turn() -> None:
    room = _Room(problem())
    assert room.only_waits(B, [0, 1])  # day 8 is one of its first
    assert not room.only_waits(B, [0])
    assert room.soak(A, 0)
    assert room.only_waits(A, [1])  # a week after day 1, of 63 days
    assert room.only_waits(A, [1, 2])  # day 64 can be reached
    assert room.soak(A, 2)
    assert room.only_waits(A, [3])  # a week after day 64, not ten after day 1
    # Were a week enough, it would still not be led on from day 64, only from day 1.
    short = _Room(problem(rest_days=7))
    assert short.soak(A, 0) and short.soak(A, 2)
    assert not short.only_waits(A, [3])


def test_a_stack_rested_enough_but_not_allowed_does_not_wait() -> None:
    # Without arcs nothing leads on; the rest counts to the week's last soak day.
    made = problem()
    arcs = replace(made.types[0], start=np.zeros(0, dtype=int), stop=np.zeros(0, dtype=int))
    room = _Room(replace(made, types=(arcs,)))
    assert room.soak(A, 0)
    assert room.only_waits(A, [1])
    assert not room.only_waits(A, [1, 2])  # day 64 is the sixty-third day
    assert not room.only_waits(A, [3])
    patient = _Room(replace(made, types=(arcs,), rest_days=64))
    assert patient.soak(A, 0)
    assert patient.only_waits(A, [1, 2])


def test_weeks_count_from_today() -> None:
    days = np.array([0, 6, 7, 13, 21])
    assert _weeks(problem(soak_days=days)) == [[0, 1], [2, 3], [4]]


def test_groups_hold_a_week_s_logs_and_the_last_what_is_left() -> None:
    # 50 logs in two weeks are 25 a week. A rested longest: its 20 logs and B's first five make
    # the first week, and B, begun before the 25 are full, goes with it.
    assert first_turns(problem(), 2).groups == ((A, B), ())
    # In five weeks ten a week: B begins at log 20, in the third.
    assert first_turns(problem(), 5).groups == ((A,), (), (B,), (), ())
    made = problem()
    later = replace(made, stacks=(replace(made.stacks[A], rested_from=-50), made.stacks[B]))
    assert first_turns(later, 5).groups == ((B,), (), (), (A,), ())
    many = replace(made, stacks=(*made.stacks, *made.stacks))
    assert first_turns(many, 3).groups == ((A, 2), (B,), (3,))


def test_the_turn_goes_on_from_week_to_week() -> None:
    # The first soak day of the problem is in its first week: that turn is over after it.
    made = problem()
    turns = first_turns(made, 5)
    plan, after = take_turns(made, turns)
    assert plan[A][0] == 0
    assert (after.turn, after.late) == (1, ())
    _, second = take_turns(made, after)
    assert second.turn == 2
    # B's turn, the third, finds it not ready on day 1; it is not late, it may not be soaked.
    _, third = take_turns(made, second)
    assert (third.turn, third.late) == (3, ())
    # Rested on day 1 it would only have lacked the room that A's logs of before hold.
    ready = replace(made.stacks[B].first, soak=np.array([0, 1, 2]))
    stacks = (replace(made.stacks[A], fixed_nights=3), replace(made.stacks[B], first=ready))
    _, crowded = take_turns(replace(made, stacks=stacks), second)
    assert (crowded.turn, crowded.late) == (3, (B,))
    # A week without a soak day is nobody's turn.
    later = replace(made, soak_days=made.soak_days + 6)
    assert take_turns(later, turns)[1] == turns


def test_the_sensible_rotation_overdraws_by_half_a_stack_at_most() -> None:
    # 50 logs in two weeks are 25 a week. A, longest rested, takes 20 of the first; the other 5
    # are not made up for later. On day 8 B's 30 logs are within twice 25.
    assert sensible(problem(), 2) == ((0, 2), (1, 3))
    # In three weeks 17 a week: A's 20 are within 34 and leave 3 overdrawn. On day 8 that makes 14,
    # whose double is short of B's 30; on day 64 it is 17 again, and B, longest rested, leaves 13
    # overdrawn, so that A finds 4 on day 71.
    assert sensible(problem(), 3) == ((0,), (2,))
    # With 50 logs in B three weeks are 24 a week. What A's 20 leave of the first is not added to
    # the second, so that twice 24 are short of B's 50.
    made = problem(tank_logs=100)
    large = replace(made, stacks=(made.stacks[A], replace(made.stacks[B], logs=50)))
    assert sensible(large, 3) == ((0, 2), ())
    # In five weeks ten a week, of which a stack of exactly twice as many may be soaked.
    assert sensible(problem(), 5)[A][0] == 0
    # In four weeks 13 a week: B is never within 26.
    assert sensible(problem(), 4) == ((0, 2), ())
    # Overdrawn before by 4, nine are left: not half of A.
    assert sensible(problem(), 4, overdrawn=3)[A][0] == 0
    assert 0 not in sensible(problem(), 4, overdrawn=4)[A]


def test_hours_bind_the_fixed_rotation_as_they_bind_the_judge() -> None:
    assert nine_week(problem(hours_a_day=1.5), weeks=1) == ((0, 2), (1, 3))
    assert nine_week(problem(hours_a_day=1.49), weeks=1) == ((0, 2), ())


def test_logs_that_are_in_no_tank_take_no_hours_today() -> None:
    # Soaked on day 0, A's 20 logs take the hour that there is, whatever logs B has.
    today = with_nights([1, 1, 1, 1], soak_days=np.array([0, 8, 64, 71]), hours_a_day=1.0)
    assert _Room(today).soak(A, 0)
    short = replace(today, hours_a_day=0.99)
    assert not _Room(short).soak(A, 0)


@pytest.mark.parametrize("logs", [(9, 11, 70), (10, 10, 70), (11, 9, 70), (1, 19, 70)])
def test_a_group_is_full_when_it_has_a_ninth_of_the_logs(logs: tuple[int, ...]) -> None:
    # Of 90 logs ten are a week's; who begins before the tenth log is in the first group.
    made = problem()
    stacks = tuple(
        replace(made.stacks[A], name=str(n), logs=count, rested_from=n - 99)
        for n, count in enumerate(logs)
    )
    groups = first_turns(replace(made, stacks=stacks)).groups
    first = (0, 1) if logs[0] < 10 else (0,)
    assert groups == (first, (0, 1)[len(first) :], (2,), *[()] * 6)


def test_a_rotation_looks_at_its_week_and_who_plans_by_hand_a_whole_cycle_ahead() -> None:
    cycle = len(first_turns(problem()).groups)
    rivals = (FixedRotation, SensibleRotation, RuleOfHand)
    assert [rival.weeks for rival in rivals] == [1, 1, cycle]
    assert logs_a_week(cycle * 12) == 12


@pytest.mark.parametrize("seed", range(12))
def test_a_rival_may_soak_just_where_the_judge_allows_it(seed: int) -> None:
    random = np.random.default_rng(seed)
    made = small_problem(seed, stacks=3)
    made = replace(
        made,
        tank_logs=int(1.3 * max(stack.logs for stack in made.stacks)),
        hours_a_day=float(random.choice([1.0, 2.0, 9.0])),
        places=int(sum(stack.logs for stack in made.stacks) * 0.7),
    )
    room = _Room(made)
    for _ in range(30):
        stack, soak = int(random.integers(3)), int(random.integers(len(made.soak_days)))
        if room.plan[stack] and room.plan[stack][-1] >= soak:
            continue
        plan = list(room.plan)
        plan[stack] = (*plan[stack], soak)
        already = judge(made, room.plan).violations
        legal = set(judge(made, tuple(plan)).violations) <= set(already)
        assert room.soak(stack, soak) is legal
        assert (room.plan == tuple(plan)) is legal
