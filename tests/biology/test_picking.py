"""The days of picking."""

import numpy as np
import pytest

from fruitcast.biology.picking import (
    clear_row,
    cover_wanted,
    dry_cap_share,
    flush_days,
    pick_shape,
    pick_twice,
    shape_table,
    start_weights,
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
    assert dry_cap_share(rain, NUMBERS.picking) == pytest.approx([1, 1, 0.8, 0.6, 0.6])
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


@pytest.mark.parametrize(
    ("peak", "shares"),
    [
        (0.5, [1 / 8, 3 / 8, 3 / 8, 1 / 8]),
        # Up to the peak a quarter is picked; then the triangle's rest, which falls by squares.
        (0.25, [3 / 12, 5 / 12, 3 / 12, 1 / 12]),
        (0.75, [1 / 12, 3 / 12, 5 / 12, 3 / 12]),
    ],
)
def test_a_flush_s_days_are_a_triangle_s(peak: float, shares: list[float]) -> None:
    assert pick_shape(4, peak=peak) == pytest.approx(shares)


def test_a_place_is_clear_when_so_many_of_those_that_bear_are_picked_out() -> None:
    # Five members in no order; the third soak bears in two of them, the last in none.
    past = np.array([[30, 10, 50, 20, 40], [3, 1, 5, 2, 4], [9, 8, 7, 6, 5], [1, 1, 1, 1, 1]])
    comes = np.ones((4, 5), dtype=bool)
    comes[2] = [False, True, False, True, False]
    comes[3] = False
    for chance, rows in (
        (0.2, [10, 1, 6, 0]),
        (0.21, [20, 2, 6, 0]),
        (0.5, [30, 3, 6, 0]),
        (0.8, [40, 4, 8, 0]),
        (1.0, [50, 5, 8, 0]),
        (0.0, [10, 1, 6, 0]),
    ):
        assert clear_row(past, comes, chance).tolist() == rows
        assert clear_row(past[0], comes[0], chance) == rows[0]


def test_a_start_is_likelier_the_nearer_to_the_table_s_warmth_and_to_the_first_basket() -> None:
    # By the table 100 degree days, with a spread of 0.2 and a mean factor of one.
    middle, sd = 100 * np.exp(-(0.2**2) / 2), 0.2
    starts, spreads = np.array([0, -2, 2, 0]), np.array([0, 0, 0, 1])
    warmth = (middle * np.exp(sd * spreads))[:, None]
    found = start_weights(starts, warmth, np.array([100.0]), log_sd=sd, near_days=2.0, doubt=0.1)[
        :, 0
    ]
    one_off = 0.1 + 0.9 * np.exp(-1 / 2)
    assert found == pytest.approx([1.0, np.exp(-1), np.exp(-1), one_off])
    # Far from the table what is left is the doubt, and the nearness.
    far = start_weights(
        starts[1:2], np.array([[1.0]]), np.array([100.0]), log_sd=sd, near_days=2.0, doubt=0.1
    )
    assert far == pytest.approx(0.1 * np.exp(-1))
