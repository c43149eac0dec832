"""Advice to soak large stacks in lots."""

from dataclasses import replace

import pytest

from fruitcast.numbers import default_numbers
from fruitcast.schedule.lot_size import lot_advice
from tests.schedule.instances import small_problem

NUMBERS = default_numbers()


@pytest.fixture(scope="module")
def problem():
    made = small_problem(3, stacks=4)
    return replace(
        made,
        stacks=tuple(
            replace(stack, logs=logs, end_flush=0.12 * logs)
            for stack, logs in zip(made.stacks, (40, 30, 20, 10), strict=False)
        ),
    )


def wanting(problem, weekly):
    """The problem with the same weight wanted once each week, but for a week of plenty."""
    one = problem.outlets[0]
    days = range(2, problem.horizon_days, 7)
    sales = [replace(one, day=day, target=weekly if day > 7 else 9 * weekly) for day in days]
    return replace(problem, outlets=tuple(sales))


def test_a_flush_larger_than_half_a_usual_week_is_too_much_at_once(problem):
    # Half of 6 kg is 3 kg, 25 logs at 0.12 kg: the stacks of 40 and 30 logs give more.
    advice = lot_advice(wanting(problem, 6.0), NUMBERS.schedule)
    assert advice.stacks == tuple(stack.name for stack in problem.stacks[:2])
    assert advice.flush == pytest.approx(4.8)
    assert advice.week_target == pytest.approx(6.0)
    assert advice.lot_logs == int(NUMBERS.schedule.lot_flush * 6.0 / 0.12)


def test_small_flushes_and_yards_without_outlets_get_none(problem):
    assert lot_advice(wanting(problem, 60.0), NUMBERS.schedule) is None
    assert lot_advice(replace(problem, outlets=()), NUMBERS.schedule) is None


def test_no_lot_of_a_few_logs_is_advised_and_none_for_what_cannot_be_parted(problem):
    advice = lot_advice(wanting(problem, 0.5), NUMBERS.schedule)
    assert advice.lot_logs == 6
    assert problem.stacks[3].name not in advice.stacks  # 10 logs


def of_stacks(problem, *stacks):
    """Stacks of (logs, flush)."""
    one = problem.stacks[0]
    made = [
        replace(one, name=f"S{n}", logs=logs, end_flush=flush)
        for n, (logs, flush) in enumerate(stacks)
    ]
    return replace(problem, stacks=tuple(made))


def selling(problem, *sales):
    """Sales of (day, kg)."""
    one = problem.outlets[0]
    return replace(problem, outlets=tuple(replace(one, day=day, target=kg) for day, kg in sales))


def test_two_lots_can_be_made_of_twelve_logs_and_half_a_week_is_not_too_much(problem):
    numbers = NUMBERS.with_overrides({"schedule.large_flush": 0.5, "schedule.lot_flush": 0.4})
    yard = selling(of_stacks(problem, (12, 5.0), (11, 9.0), (30, 4.0)), (1, 8.0))
    advice = lot_advice(yard, numbers.schedule)
    assert advice.stacks == ("S0",)
    assert advice.lot_logs == 7  # 0.4 x 8 kg at 5/12 kg a log
    assert lot_advice(of_stacks(yard, (30, 4.0)), numbers.schedule) is None
    assert lot_advice(of_stacks(yard, (30, 4.001)), numbers.schedule) is not None


def test_the_largest_comes_first_then_the_name_and_the_middle_log_counts(problem):
    numbers = NUMBERS.with_overrides({"schedule.large_flush": 0.5, "schedule.lot_flush": 0.4})
    yard = selling(of_stacks(problem, (20, 8.0), (40, 10.0), (20, 8.0)), (1, 10.0))
    advice = lot_advice(yard, numbers.schedule)
    assert advice.stacks == ("S1", "S0", "S2")
    assert advice.flush == 10.0
    assert advice.lot_logs == 10  # 0.4 x 10 kg at 0.4 kg a log, the middle of 0.25, 0.4, 0.4


def test_a_usual_week_is_the_middle_of_those_that_want_something(problem):
    numbers = NUMBERS.with_overrides({"schedule.large_flush": 0.5, "schedule.lot_flush": 0.4})
    yard = of_stacks(replace(problem, weeks=4), (40, 100.0))

    def week(*sales):
        return lot_advice(selling(yard, *sales), numbers.schedule).week_target

    assert week((0, 3.0)) == 3.0
    assert week((6, 3.0), (7, 5.0)) == 4.0
    assert week((0, 1.0), (6, 2.0), (7, 5.0), (14, 9.0)) == 5.0
    assert week((27, 3.0), (28, 50.0), (29, 50.0)) == 3.0  # past the horizon
    assert week((-1, 9.0), (3, 2.0)) == 2.0
    assert lot_advice(selling(yard, (28, 50.0)), numbers.schedule) is None
    assert lot_advice(selling(yard, (3, 0.0)), numbers.schedule) is None
