"""Each rule of the water balance by itself, with round numbers worked out by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fruitcast.biology.moisture import (
    drying_rate,
    rewetting_share,
    soak_gain,
    soak_potential,
    taken_up,
    throughfall,
    unused_share,
)
from fruitcast.numbers import default_numbers

MOISTURE = default_numbers().moisture._replace(
    rain_uptake_share=0.6,
    drying_still_share=0.1,
    drying_days=20.0,
    drying_diameter_exponent=2.0,
    danger_below=0.2,
    soak_uptake=0.5,
)
NUMBERS = replace(default_numbers(), moisture=MOISTURE)


def test_half_a_canopy_keeps_half_of_what_a_closed_one_does() -> None:
    found = throughfall([[0.5], [1.0], [4.0]], [0.5, 1.0], canopy_storage=2.0)
    assert found.tolist() == [[0.0, 0.0], [0.0, 0.0], [3.0, 2.0]]


def test_a_day_of_rain_gives_no_more_than_the_bark_lets_in_or_the_pores_hold() -> None:
    # A log of 0.1 m and gravity 0.5 has 4 / (0.1 x 500) = 0.08 m2 of bark a kilogram of dry wood.
    # In 25 hours it takes 0.5 kg a square metre and root of an hour.
    found = soak_potential(25.0, 0.1, 0.5, NUMBERS.moisture)
    assert found == pytest.approx(0.5 * 25**0.5 * 0.08)
    # One of 0.01 m could take ten times as much, and holds 1 / 0.5 - 1 / 1.54.
    found = soak_potential(25.0, 0.01, 0.5, NUMBERS.moisture)
    assert found == pytest.approx(2 - 1 / 1.54)


def test_of_the_first_rain_an_empty_log_takes_its_share_of_what_falls_on_it() -> None:
    # 0.6 of the rain on 1/pi of the bark, of what it could take in 25 hours of soaking.
    little = 1e-4
    assert 1 - unused_share(little, NUMBERS.moisture) == pytest.approx(
        0.6 * little / np.pi / (0.5 * 25**0.5), rel=1e-4
    )
    assert unused_share(0.0, NUMBERS.moisture) == 1.0
    assert unused_share(7.0, NUMBERS.moisture) == pytest.approx(
        unused_share(3.0, NUMBERS.moisture) * unused_share(4.0, NUMBERS.moisture)
    )


def test_drying_in_still_air_at_the_reference_and_beyond() -> None:
    # Twenty days at the reference of 5 mm a day; a tenth of that without any evaporation.
    rate = drying_rate([0.0, 5.0, 10.0], 0.125, NUMBERS.moisture)
    assert rate == pytest.approx([0.1 / 20, 1 / 20, 1.9 / 20])
    # Twice as thick takes four times as long.
    assert drying_rate(5.0, 0.25, NUMBERS.moisture) == pytest.approx(1 / 80)


def test_an_over_dry_log_takes_up_less_on_a_straight_line() -> None:
    # 0.2 on a wet basis is 0.25 on a dry one; oven-dry wood takes up nothing.
    found = rewetting_share([0.0, 0.125, 0.25, 0.8], NUMBERS.moisture)
    assert found == pytest.approx([0.0, 0.5, 1.0, 1.0])


def test_less_is_taken_up_the_fuller_and_the_drier_a_log_is() -> None:
    found = taken_up(0.4, [0.0, 0.125, 0.5, 1.0, 1.1], 1.0, NUMBERS.moisture)
    assert found == pytest.approx([0.0, 0.4 * 0.875 * 0.5, 0.4 * 0.5, 0.0, 0.0])


def test_a_soak_gives_twice_as_much_in_four_times_the_hours_until_the_log_is_full() -> None:
    # 0.5 kg/m2 in the first hour, on 0.08 m2 a kilogram.
    found = soak_potential([0.0, 1.0, 4.0, 10_000.0], 0.1, 0.5, NUMBERS.moisture)
    assert found == pytest.approx([0.0, 0.04, 0.08, 2 - 1 / 1.54])
    full = 2 - 1 / 1.54
    assert soak_gain(0.125, 4.0, 0.1, 0.5, NUMBERS.moisture) == pytest.approx(
        0.08 * (1 - 0.125 / full) * 0.5
    )
