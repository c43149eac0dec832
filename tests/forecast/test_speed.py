"""What the whole model costs: moisture, spawn run and flushes of every column."""

from __future__ import annotations

from dataclasses import replace
from time import process_time

import numpy as np
import pytest

from fruitcast.biology.moisture import simulate_moisture
from fruitcast.numbers import default_numbers
from tests.biology.invented_weather import weather
from tests.biology.test_limits import whole_biology

NUMBERS = default_numbers()
DAYS = 400


def whole_model(columns: int) -> float:
    """Seconds of processor time for all rules over `DAYS` days.

    The forecast asks for fruiting kind by kind, some thirty columns at a time; here a thousand.
    """
    sky = weather(DAYS, columns, 2)
    begun = process_time()
    run = simulate_moisture(
        np.full(columns, 0.6),
        tmin=sky.tmin,
        tmax=sky.tmax,
        tmean=sky.tmean,
        rain=sky.rain,
        rh=None,
        latitude=42.0,
        day_of_year=np.arange(DAYS)[:, None] % 365 + 1,
        shade=0.8,
        diameter=0.125,
        specific_gravity=0.58,
        balance=NUMBERS.moisture,
        watering=NUMBERS.watering,
        shade_effect=NUMBERS.log.shade_effect,
        keep_above_wet=0.35,
    )
    sky = replace(sky, moisture=run.moisture)
    for first in range(0, columns, 1_000):
        whole_biology("wide-range", sky.columns(slice(first, first + 1_000)))
    return process_time() - begun


@pytest.mark.benchmark
def test_three_thousand_columns_take_less_than_a_second_and_cost_is_linear():
    seconds = {n: min(whole_model(n) for _ in range(3)) for n in (300, 3_000, 30_000)}
    for columns, used in seconds.items():
        print(f"\nwhole model, {DAYS} days x {columns} columns: {used:.2f} s of processor time")
    assert seconds[3_000] < 1.0
    # Few columns pay for the loop over days besides; from there on it is linear, and no worse.
    few, some, many = (used / columns for columns, used in seconds.items())
    assert max(some, many) < 1.2 * few
    assert many < 1.5 * some
