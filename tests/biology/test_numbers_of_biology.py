"""The biology survives any override that the ranges allow."""

import numpy as np
import pytest

from fruitcast.biology.picking import flush_days, shape_table
from fruitcast.biology.spawn_run import moisture_factor, mycelium_speed
from fruitcast.biology.spread import learn
from fruitcast.biology.yields import rest_factor, stack_factor, temperature_factor
from fruitcast.numbers import default_numbers

NUMBERS = default_numbers()
CLASSES = ("cold-weather", "wide-range", "warm-weather")
T = np.linspace(-20, 45, 500)


def pushed(end):
    """All numbers at the low or high end of their ranges."""
    return NUMBERS.with_overrides({n.key: getattr(n, end) for n in NUMBERS.entries()})


@pytest.mark.parametrize("end", ["low", "high"])
def test_numbers_pushed_to_an_end_keep_their_order(end):
    numbers = pushed(end)
    for c in CLASSES:
        fruits = numbers.strain(c).range
        points = [fruits.lower, fruits.best_low, fruits.best_high, fruits.upper]
        assert points == sorted(points)


@pytest.mark.parametrize("first", ["low", "high"])
def test_each_pair_of_limits_can_be_overridden_without_crossing(first):
    other = {"low": "high", "high": "low"}[first]
    order = ("lower", "best_low", "best_high", "upper")
    entries = {n.key: n for n in NUMBERS.entries()}
    for c in CLASSES:
        for i, point in enumerate(order):
            changes = {f"{c}.range.{point}": getattr(entries[f"{c}.range.{point}"], first)}
            if i:
                key = f"{c}.range.{order[i - 1]}"
                changes[key] = getattr(entries[key], other)
            own = NUMBERS.with_overrides(changes)
            factor = temperature_factor(own.strain(c).range, T, own.yields)
            assert np.isfinite(factor).all() and factor.max() <= 1


def _learned(numbers):
    prior = np.array([numbers.spread.yield_yard**2, numbers.spread.yield_stack**2])
    flush = numbers.spread.yield_flush**2
    found = learn(
        np.ones((2, 2)),
        [0.3, 9.0],
        [0.2, 0.1],
        False,
        prior_variance=prior,
        flush_variance=flush,
        question_at=numbers.learning.question_at,
    )
    return np.exp(found.mean.sum())


@pytest.mark.parametrize("end", ["low", "high"])
def test_no_rule_breaks_at_the_ends_of_the_ranges(end):
    numbers = pushed(end)
    for values in (
        mycelium_speed(T - 6, T + 6, numbers.mycelium, shade=0.8),
        moisture_factor(np.linspace(0, 2, 50), numbers.moisture, numbers.spawn_run),
        rest_factor(np.linspace(0, 400, 50), numbers.yields),
        *(temperature_factor(numbers.strain(c).range, T, numbers.yields) for c in CLASSES),
        stack_factor(numbers.tree("red oak"), 0.127, 1.02, np.arange(-1, 30), numbers.yields),
        [_learned(numbers)],
    ):
        assert np.isfinite(values).all() and np.min(values) >= 0
    for kind in ("forced", "natural"):
        lengths = flush_days(kind, T, numbers.picking, numbers.natural)
        assert shape_table(kind, numbers.picking, numbers.natural)[lengths].sum(
            axis=1
        ) == pytest.approx(1)
