"""Invented steady summers for the tests of log moisture."""

from __future__ import annotations

from typing import Any

import numpy as np

from fruitcast.biology.moisture import MoistureRun, simulate_moisture
from fruitcast.biology.spawn_run import moisture_factor, mycelium_speed
from fruitcast.numbers import Numbers, default_numbers

JUNE = 152  # day of the year


def weekly_rain(total: float, on: tuple[int, ...], weeks: int) -> np.ndarray:
    """Rain that comes on the same days of every week. [mm/day]"""
    week = np.zeros(7)
    week[list(on)] = total / len(on)
    return np.tile(week, weeks)[:, None]


def steady(
    initial: Any,
    days: int,
    *,
    tmin: float = 17.0,
    tmax: float = 29.0,
    rain: Any = 0.0,
    rh: float | None = None,
    shade: Any = 0.8,
    diameter: Any = 0.125,
    specific_gravity: Any = 0.58,
    numbers: Numbers | None = None,
    **events: Any,
) -> MoistureRun:
    """Log moisture in a summer of equal days, latitude 38 north from 1 June."""
    column = np.ones((days, 1))
    return simulate_moisture(
        initial,
        tmin=tmin * column,
        tmax=tmax * column,
        tmean=(tmin + tmax) / 2 * column,
        rain=rain * column if np.ndim(rain) == 0 else rain,
        rh=None if rh is None else rh * column,
        latitude=38.0,
        day_of_year=np.arange(JUNE, JUNE + days),
        shade=shade,
        diameter=diameter,
        specific_gravity=specific_gravity,
        balance=(numbers or default_numbers()).moisture,
        watering=(numbers or default_numbers()).watering,
        shade_effect=(numbers or default_numbers()).log.shade_effect,
        **events,
    )


def daily_progress(tmin, tmax, moisture, numbers, *, shade):
    """How far the spawn run gets each day, (day, column). [day at the optimum]"""
    speed = mycelium_speed(tmin, tmax, numbers.mycelium, shade=shade)
    return speed * moisture_factor(moisture, numbers.moisture, numbers.spawn_run)
