"""The days of picking."""

import numpy as np
import pytest

from fruitcast.biology.picking import (
    cover_wanted,
    dry_cap_share,
    flush_days,
    pick_shape,
    pick_twice,
    shape_table,
)
from fruitcast.numbers import default_numbers

NUMBERS = default_numbers()


def test_a_forced_flush_lasts_three_to_seven_days_and_a_natural_one_up_to_two_weeks():
    # Common practice, no source.
    celsius = np.arange(-5, 40)
    forced = flush_days("forced", celsius, NUMBERS.picking, NUMBERS.natural)
    natural = flush_days("natural", celsius, NUMBERS.picking, NUMBERS.natural)
    assert (forced.min(), forced.max()) == (3, 7)
    assert (natural.min(), natural.max()) == (10, 14)
    assert np.all(np.diff(forced) <= 0)


@pytest.mark.parametrize("days", range(1, 15))
def test_a_shape_gives_every_day_something_and_adds_up_to_all(days):
    shape = pick_shape(days, peak=NUMBERS.picking.peak)
    assert len(shape) == days
    assert shape.sum() == pytest.approx(1)
    assert np.all(shape > 0)


def test_most_is_picked_early_with_a_tail():
    shape = pick_shape(7, peak=NUMBERS.picking.peak)
    assert np.argmax(shape) in (1, 2)
    assert shape[:4].sum() > 0.6


@pytest.mark.parametrize("kind", ["forced", "natural"])
def test_the_shape_table_is_looked_up_by_length(kind):
    table = shape_table(kind, NUMBERS.picking, NUMBERS.natural)
    lengths = flush_days(kind, np.linspace(-5, 40, 200), NUMBERS.picking, NUMBERS.natural)
    assert table[lengths].sum(axis=1) == pytest.approx(1)
    assert table[0].sum() == 0
    assert table[1:].sum(axis=1) == pytest.approx(1)
    assert table[5, :5] == pytest.approx(pick_shape(5, peak=NUMBERS.picking.peak))


def test_rain_on_open_caps_lowers_what_can_be_sold_and_asks_for_a_cover():
    rain = np.array([0.0, 5.0, 17.5, 30.0, 90.0])
    assert dry_cap_share(
        rain,
        rain_from=NUMBERS.picking.rain_from,
        rain_full=NUMBERS.picking.rain_full,
        rain_loss=NUMBERS.picking.rain_loss,
    ) == pytest.approx([1, 1, 0.8, 0.6, 0.6])
    assert cover_wanted(rain, rain_from=NUMBERS.picking.rain_from).tolist() == [
        False,
        False,
        True,
        True,
        True,
    ]


def test_in_heat_pick_twice_a_day():
    assert pick_twice([20.0, 27.9, 28.0, 35.0], twice_from=NUMBERS.picking.twice_from).tolist() == [
        False,
        False,
        True,
        True,
    ]
