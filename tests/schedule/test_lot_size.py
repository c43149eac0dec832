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
    advice = lot_advice(wanting(problem, 6.0), NUMBERS)
    assert advice.stacks == tuple(stack.name for stack in problem.stacks[:2])
    assert advice.flush == pytest.approx(4.8)
    assert advice.week_target == pytest.approx(6.0)
    assert advice.lot_logs == int(NUMBERS["schedule.lot_flush"] * 6.0 / 0.12)


def test_small_flushes_and_yards_without_outlets_get_none(problem):
    assert lot_advice(wanting(problem, 60.0), NUMBERS) is None
    assert lot_advice(replace(problem, outlets=()), NUMBERS) is None


def test_no_lot_of_a_few_logs_is_advised_and_none_for_what_cannot_be_parted(problem):
    advice = lot_advice(wanting(problem, 0.5), NUMBERS)
    assert advice.lot_logs == 6
    assert problem.stacks[3].name not in advice.stacks  # 10 logs
