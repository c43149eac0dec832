"""Hours of soaking, pulling and picking day by day, worked out by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fruitcast.diary.plan import Plan, WorkDay
from fruitcast.numbers import default_numbers
from fruitcast.outputs.week import work_lines
from fruitcast.soaks.answer_parts import picking_hours, work_by_day
from fruitcast.soaks.problem import Problem
from tests.soaks.hand import hand_problem

WORK = default_numbers().work._replace(look_hours_per_log=0.01, pick_hours_per_kg=0.2)
PLAN = ((0,), (1,))


def work(problem: Problem, hot: tuple[int, ...] = ()) -> dict[int, WorkDay]:
    twice = np.zeros((problem.days, problem.members), dtype=bool)
    twice[list(hot)] = True
    found = work_by_day(problem, PLAN, twice, saleable=0.5, work=WORK)
    return {(day.on - problem.today).days: day for day in found}


def test_soaking_pulling_and_picking_by_hand() -> None:
    # A, 20 logs, goes in on day 1 and comes out on day 2; B, 30 logs, on day 8 and on day 10. Of
    # A one year picks 2 kg to sell on day 9, the other 1 kg on day 11: 4 and 2 kg in the basket.
    # Of B, 3 kg on day 17 or 2 kg on day 19: 6 and 4 kg. After B's soak one year has 30 x 0.04 kg
    # of a natural flush on day 50: 2.4 kg; that lies past the four weeks told.
    days = work(hand_problem())
    assert {day: round(found.hours, 9) for day, found in days.items()} == {
        1: 1.0,  # 20 x 0.05
        2: 0.8,  # 20 x 0.04
        8: 1.5,
        9: 0.5,  # half of 20 x 0.01 + 4 x 0.2
        10: 1.2,
        11: 0.3,  # half of 20 x 0.01 + 2 x 0.2
        17: 0.75,  # half of 30 x 0.01 + 6 x 0.2
        19: 0.55,
    }
    assert days[1].soaking_hours == pytest.approx(1.0) and days[1].picking_hours == 0.0
    assert days[10].pulling_hours == pytest.approx(1.2)
    # In allowance logs are looked over twice; what is ripe is the same.
    hot = work(hand_problem(), hot=(9,))
    assert hot[9].picking_hours == pytest.approx(0.6)
    assert (hot[9].twice, hot[11].twice) == (1.0, 0.0)
    cool = np.zeros((hand_problem().days, 2), dtype=bool)
    picking = picking_hours(hand_problem(), PLAN, cool, saleable=0.5, work=WORK)
    assert picking[50] == pytest.approx(0.5 * (30 * 0.01 + 2.4 * 0.2))


def test_picking_of_a_stack_left_alone_and_of_a_second_soak_by_hand() -> None:
    def picking(*plan: tuple[int, ...]) -> np.ndarray:
        cool = np.zeros((hand_problem().days, 2), dtype=bool)
        return picking_hours(hand_problem(), plan, cool, saleable=0.5, work=WORK)

    # By itself A gives one year 0.6 kg to sell on day 30; B gives nothing.
    alone = picking((), ())
    assert np.flatnonzero(alone).tolist() == [30]
    assert alone[30] == pytest.approx(0.5 * (20 * 0.01 + 1.2 * 0.2))
    # Soaked again on day 64 it gives 20 x 0.10 kg on day 72, or 20 x 0.06 on day 74.
    twice = picking((0, 2), ())
    assert np.flatnonzero(twice).tolist() == [9, 11, 72, 74]
    assert twice[72] == pytest.approx(0.5 * (20 * 0.01 + 4.0 * 0.2))


def test_what_is_in_the_tank_today_is_pulled_too() -> None:
    problem = hand_problem()
    wet = replace(problem, stacks=(problem.stacks[0], replace(problem.stacks[1], fixed_nights=3)))
    assert work(wet)[3].pulling_hours == pytest.approx(1.2)


def test_days_with_too_much_are_told_however_far_ahead() -> None:
    # Day 0 is a Monday; day 50 a Tuesday.
    hours = (1.0, 0.3, 1.0, 1.0, 0.5, 1.0, 1.0)
    days = work(replace(hand_problem(), hours_a_day=hours))
    assert {day for day, found in days.items() if found.over} == {1, 8, 10, 50}
    assert days[50].hours == pytest.approx(0.39)
    assert days[1].allowed_hours == 0.3 and days[4 + 7].allowed_hours == 0.5
    assert not days[11].over


def test_four_weeks_are_told_and_no_day_with_less_than_six_minutes() -> None:
    # A goes in on the last of 28 days or on the day after: 20 x 0.05 hours.
    for first, told in ((27, True), (28, False)):
        problem = replace(hand_problem(), soak_days=np.array([first, 40, 64, 71]))
        assert (first in work(problem)) is told
    # Two logs' pull takes a little less than a tenth of an hour, or a little more.
    for a_log, told in ((0.0499, False), (0.0501, True)):
        few = replace(hand_problem().stacks[0], logs=2)
        stacks = (few, hand_problem().stacks[1])
        problem = replace(hand_problem(), stacks=stacks, pull_hours_per_log=a_log)
        assert (2 in work(problem)) is told


def lines(*days: WorkDay) -> tuple[str, ...]:
    plan = Plan.model_construct(work=days)
    return work_lines(plan, hand_problem().today)


def day(number: int, soaking: float, picking: float, allowed: float | None) -> WorkDay:
    on = hand_problem().today.fromordinal(hand_problem().today.toordinal() + number)
    return WorkDay(
        on=on,
        soaking_hours=soaking,
        pulling_hours=0.0,
        picking_hours=picking,
        allowed_hours=allowed,
        twice=0.0,
    )


def test_the_words() -> None:
    assert lines() == ()
    assert lines(day(1, 2.0, 0.0, None)) == ()
    assert lines(day(1, 2.0, 1.4, 3.0), day(2, 0.0, 0.7, 3.0), day(8, 2.0, 1.5, 3.0)) == (
        "Picking takes about 20 min a day; most on Tue 4 May, 1.4 h.",
        "Tue 4 May: about 3.4 h of work (soaking 2 h, picking 1.4 h); you have 3 h.",
        "With the picking there is more work than hours on Tue 11 May.",
    )
    many = [day(n, 2.0, 1.5, 3.0) for n in (8, 9, 10, 11, 12)]
    assert lines(*many)[-1].endswith("on Tue 11 May, Wed 12 May, Thu 13 May and 2 more days.")
