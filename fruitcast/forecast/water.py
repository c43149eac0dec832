"""Moisture of the logs, size by size, so far and through every possible future."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import numpy.typing as npt

from fruitcast.forecast.members import Futures, day_of_year, same_day_in
from fruitcast.logs.moisture import MoistureRun, simulate_moisture
from fruitcast.logs.wood import fresh_moisture
from fruitcast.numbers import Numbers
from fruitcast.weather.daily import VARIABLES, DailyWeather
from fruitcast.yard.model import Site, Stack
from fruitcast.yard.state import StackState

FloatArray = npt.NDArray[np.float64]

BAND_WIDTH = 0.025
"""Logs within an inch of diameter dry and wet alike. [m]"""

COMMON_WOOD = "other hardwood"


@dataclass(frozen=True)
class Band:
    """Stacks whose logs are about equally thick share one account of moisture.

    Attributes
    ----------
    diameter, length : float
        Of the logs in the middle of the band. [m]
    """

    diameter: float
    length: float


def band_of(stack: Stack) -> Band:
    """Return the band of a stack's logs."""
    return Band(round(round(stack.diameter / BAND_WIDTH) * BAND_WIDTH, 4), 1.0)


@dataclass(frozen=True)
class PastWater:
    """Moisture of each band on the days before today.

    Attributes
    ----------
    first : date
        Date of the first row.
    bands : tuple of Band
        The bands.
    tmean : (day,) float array
        Daily mean temperature. [degC]
    moisture : (day, band) float array
        At the end of each day. [kg/kg dry wood]
    """

    first: date
    bands: tuple[Band, ...]
    tmean: FloatArray
    moisture: FloatArray


@dataclass(frozen=True)
class FutureWater:
    """Moisture and water of each band in every member; rows as in `Futures`.

    Attributes
    ----------
    bands : tuple of Band
        The bands.
    moisture : (day, band, member) float array
        At the end of each day. [kg/kg dry wood]
    water : (day, band, member) float array
        Rain and watering: what the triggers see. [mm/day]
    """

    bands: tuple[Band, ...]
    moisture: FloatArray
    water: FloatArray


def past_water(
    weather: DailyWeather,
    site: Site,
    bands: Sequence[Band],
    first: date,
    today: date,
    *,
    keep_above: float | None,
    numbers: Numbers,
) -> PastWater:
    """Return the moisture of each band from a day on to yesterday.

    Where the weather begins later than `first`, the same calendar days of its first full
    year stand in for what is missing.

    Parameters
    ----------
    weather : DailyWeather
        Complete up to yesterday.
    site : Site
        Latitude and shade.
    bands : sequence of Band
        The bands.
    first, today : date
        First day, and the day after the last.
    keep_above : float or None
        Moisture below which logs are watered. [kg/kg wet]
    numbers : Numbers
        The numbers in use.
    """
    rows = _rows_from(weather, first, today)
    table = {name: weather.values[name][rows][:, None] for name in VARIABLES}
    gravity = numbers.of_tree(COMMON_WOOD, "specific_gravity")
    density = numbers.of_tree(COMMON_WOOD, "density")
    run = simulate_moisture(
        np.full(len(bands), float(fresh_moisture(density, gravity))),
        **table,
        latitude=site.latitude,
        day_of_year=day_of_year(first, len(rows))[:, None],
        shade=site.shade,
        diameter=np.array([band.diameter for band in bands]),
        length=np.array([band.length for band in bands]),
        specific_gravity=gravity,
        numbers=numbers,
        keep_above_wet=keep_above,
    )
    return PastWater(first, tuple(bands), table["tmean"][:, 0], run.moisture)


def _rows_from(weather: DailyWeather, first: date, today: date) -> npt.NDArray[np.int64]:
    begin, end = weather.index(first), weather.index(today)
    if begin >= 0:
        return np.arange(begin, end)
    stand_in = weather.index(same_day_in(first, weather.start.year + 1))
    missing = stand_in + np.arange(-begin)
    return np.concatenate([missing % max(end, 1), np.arange(end)])


def future_water(
    futures: Futures,
    site: Site,
    past: PastWater,
    *,
    keep_above: float | None,
    numbers: Numbers,
) -> FutureWater:
    """Return moisture and water of each band in every member.

    Parameters
    ----------
    futures : Futures
        The members' weather.
    site : Site
        Latitude and shade.
    past : PastWater
        Moisture before; its last row is the day before today.
    keep_above : float or None
        Moisture below which logs are watered. [kg/kg wet]
    numbers : Numbers
        The numbers in use.
    """
    before = past.moisture[len(past.moisture) - futures.lookback - 1]
    table = {name: getattr(futures, name)[:, None, :] for name in VARIABLES}
    column = np.array([band.diameter for band in past.bands])[:, None]
    length = np.array([band.length for band in past.bands])[:, None]
    run = simulate_moisture(
        np.repeat(before[:, None], len(futures.years), axis=1),
        **table,
        latitude=site.latitude,
        day_of_year=futures.day_of_year[:, None, None],
        shade=site.shade,
        diameter=column,
        length=length,
        specific_gravity=numbers.of_tree(COMMON_WOOD, "specific_gravity"),
        numbers=numbers,
        keep_above_wet=keep_above,
    )
    return FutureWater(past.bands, run.moisture, futures.rain[:, None, :] + run.watered)


def stack_moisture(
    futures: Futures,
    site: Site,
    past: PastWater,
    stacks: Sequence[tuple[Stack, StackState]],
    *,
    keep_above: float | None,
    numbers: Numbers,
) -> MoistureRun:
    """Return the moisture of each stack on the days before today, with all that was recorded.

    Soaks, waterings and weighed sample logs of the diary count; logs inoculated since then
    start fresh on that day.

    Parameters
    ----------
    futures : Futures
        For the observed days: the first `lookback` rows.
    site : Site
        Latitude and shade.
    past : PastWater
        Moisture by band, to start from.
    stacks : sequence of (Stack, StackState)
        One for each column.
    keep_above : float or None
        Moisture below which logs are watered. [kg/kg wet]
    numbers : Numbers
        The numbers in use.

    Returns
    -------
    MoistureRun
        Arrays of (day, stack).
    """
    days, columns = futures.lookback, len(stacks)
    watered, hours = np.zeros((days, columns)), np.zeros((days, columns))
    weighed = np.full((days, columns), np.nan)
    initial = np.empty(columns)
    gravity = np.array([numbers.of_tree(s.tree, "specific_gravity") for s, _ in stacks])
    density = np.array([numbers.of_tree(s.tree, "density") for s, _ in stacks])
    fresh = fresh_moisture(density, gravity)
    before = past.moisture[len(past.moisture) - days - 1] if len(past.moisture) > days else None
    for column, (stack, state) in enumerate(stacks):
        band = past.bands.index(band_of(stack))
        born = (stack.inoculated - futures.first).days
        initial[column] = fresh[column] if before is None or born >= 0 else before[band]
        if 0 <= born < days:
            weighed[born, column] = fresh[column]
        for on, amount in state.watered:
            _set(watered, futures, on, column, amount)
        for soak in state.soaks:
            _set(hours, futures, soak.on, column, soak.hours or numbers["forced.usual_hours"])
        for on, seen in state.moisture_seen:
            _set(weighed, futures, on, column, seen)
    table = {name: getattr(futures, name)[:days, :1] for name in VARIABLES}
    return simulate_moisture(
        initial,
        **table,
        latitude=site.latitude,
        day_of_year=futures.day_of_year[:days, None],
        shade=site.shade,
        diameter=np.array([s.diameter for s, _ in stacks]),
        length=np.array([s.length for s, _ in stacks]),
        specific_gravity=gravity,
        numbers=numbers,
        keep_above_wet=keep_above,
        watered=watered,
        soak_hours=hours,
        weighed=weighed,
    )


def _set(table: FloatArray, futures: Futures, on: date, column: int, value: float) -> None:
    row = (on - futures.first).days
    if 0 <= row < len(table):
        table[row, column] = value
