"""Natural flushes: what sets one off by itself, when it can be picked, when its buds die.

The rules read no calendar: the same weather gives the same flush in either hemisphere.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from fruitcast.arrays import BoolArray, FloatArray, IntArray
from fruitcast.biology.run_length import (
    first_reached,
    lag,
    next_true,
    rolling_mean,
    rolling_sum,
    true_at,
)
from fruitcast.biology.wood import dry_from_wet
from fruitcast.topics import NaturalNumbers, StrainNatural

Days = npt.NDArray[np.int32]
"""Narrow: days are few, columns many."""


class NaturalPick(NamedTuple):
    """What becomes of the buds set off on each day."""

    # (day, column): day of the first pick; the number of days where nothing was set off, the buds
    # aborted, or the table ends too soon
    first_pick: Days
    aborted: BoolArray  # (day, column): buds that were set off and die in the cold, unripe


def rain_after_drier_weather(
    rain: FloatArray, *, wet_days: float, wet_rain: float, dry_days: float, dry_rain: float
) -> BoolArray:
    """Return where enough rain fell in one to three days, after drier weather: (day, column).

    Parameters
    ----------
    rain : (day, column) float array
        Rain and watering; before the table the weather counts as dry. [mm/day]
    wet_days, wet_rain : float
        Days over which the wetting is added up, and the sum that is enough. [day, mm]
    dry_days, dry_rain : float
        Days before the wetting, and the sum that they stay below. [day, mm]
    """
    wetted = rolling_sum(rain, int(wet_days)) >= wet_rain
    before = lag(rolling_sum(rain, int(dry_days)), int(wet_days), fill=0.0)
    return wetted & (before < dry_rain)


def cooler_than_before(
    tmean: FloatArray, drop: float, *, wet_days: float, change_days: float
) -> BoolArray:
    """Return where the days of the wetting were cooler, by `drop` [degC], than those before them.

    `tmean` is (day, column) [degC]; the mean of `wet_days` is held against that of the
    `change_days` before. False while the table has no days before the wetting.
    """
    now = rolling_mean(tmean, int(wet_days))
    before = lag(rolling_mean(tmean, int(change_days)), int(wet_days), fill=-np.inf)
    return before - now >= drop


def moves_into_range(
    tmean: FloatArray, lower: float, upper: float, *, spell_days: float, change_days: float
) -> BoolArray:
    """Return where the temperature has just fallen or risen into a range [degC].

    `tmean` is (day, column) [degC]. The mean of the last `spell_days` lies inside, that of the
    `change_days` before outside. False while the table has no days before.
    """
    spell = int(spell_days)
    now = rolling_mean(tmean, spell)
    before = lag(rolling_mean(tmean, int(change_days)), spell, fill=(lower + upper) / 2)
    return (now >= lower) & (now <= upper) & ((before < lower) | (before > upper))


def trigger_days(
    strain: StrainNatural,
    tmin: FloatArray,
    tmean: FloatArray,
    rain: FloatArray,
    moisture: FloatArray,
    natural: NaturalNumbers,
    *,
    urgent_below: float,
) -> BoolArray:
    """Return the days whose weather sets off a natural flush on a ready, rested log.

    Classes with a `drop`, such as wide-range and warm-weather strains: enough rain in one to
    three days after drier weather, cooler than before, at a temperature in the class's range,
    on a moist log. Classes with limits on the nights, such as cold-weather strains: the
    temperature falls or rises into the class's range, with nights neither too warm nor too
    cold, on a moist log.

    Parameters
    ----------
    tmin, tmean : (day, column) float array
        Daily minimum and mean temperature. [degC]
    rain : (day, column) float array
        Rain and watering. [mm/day]
    moisture : (day, column) float array
        Log moisture. [kg/kg dry wood]
    urgent_below : float
        Drier logs form no buds. [kg/kg wet]

    Returns
    -------
    (day, column) bool array
        Readiness and rest are the stack's own affair, see `flush_chain`.
    """
    moist = moisture >= float(dry_from_wet(urgent_below))
    if strain.nights is not None:
        coldest, warmest = strain.nights
        nights = rolling_mean(tmin, int(natural.spell_days))
        fresh = (nights >= coldest) & (nights <= warmest)
        moved = moves_into_range(
            tmean,
            strain.lower,
            strain.upper,
            spell_days=natural.spell_days,
            change_days=natural.before_days,
        )
        return moved & fresh & moist
    mild = rolling_mean(tmean, int(natural.wet_days))
    in_range = (mild >= strain.lower) & (mild <= strain.upper)
    cooler = cooler_than_before(
        tmean, strain.drop or 0.0, wet_days=natural.wet_days, change_days=natural.before_days
    )
    return (
        rain_after_drier_weather(
            rain,
            wet_days=natural.wet_days,
            wet_rain=natural.rain,
            dry_days=natural.before_days,
            dry_rain=natural.dry_rain,
        )
        & cooler
        & in_range
        & moist
    )


def natural_first_pick(
    requirement: npt.ArrayLike,
    cumulative_thermal: FloatArray,
    trigger: BoolArray,
    natural: NaturalNumbers,
    lead_factor: npt.ArrayLike = 1.0,
    column: IntArray | None = None,
) -> NaturalPick:
    """Return when the buds set off on each trigger day can first be picked, or that they die.

    Buds ripen by warmth above the class's base temperature. They abort when they
    are still unripe after the longest time allowed, as in the cold; they don't wait for spring.

    Parameters
    ----------
    requirement : float or (column,) float array
        Warmth from pull to first pick of the class of each column. [degC day]
    cumulative_thermal : (day + 1, column) float array
        See `forced.thermal_time`. [degC day]
    trigger : (day, column) bool array
        Trigger days, see `trigger_days`.
    lead_factor : (column,) float array, default 1
        The yard's own lead time over the table's. [unitless]
    column : (column,) int array, optional
        Column of `cumulative_thermal` for each of `trigger`; else the same one.

    Returns
    -------
    NaturalPick
        First pick and aborted buds of each trigger day.
    """
    days, columns = trigger.shape
    first_pick = np.full(trigger.shape, days, dtype=np.int32)
    aborted = np.zeros(trigger.shape, dtype=bool)
    day, of = true_at(trigger)
    need = np.asarray(requirement, dtype=float) * natural.requirement_factor
    own = np.broadcast_to(need * np.asarray(lead_factor, dtype=float), columns)
    ripe = first_reached(cumulative_thermal, day, of if column is None else column[of], own[of])
    dead = ripe > day + int(natural.longest_days)
    aborted[day, of] = dead
    first_pick[day, of] = np.where(dead, days, ripe)
    return NaturalPick(first_pick, aborted)


def set_off_row(
    thermal_time: FloatArray,
    first_pick: npt.ArrayLike,
    *,
    requirement: float,
    requirement_factor: float,
) -> IntArray:
    """Return the row on which weather must have set off a flush first picked on a given one.

    `thermal_time` is the running total of warmth above the class's base, (day + 1,), of which a
    natural flush needs a share of what the class does from pull to first pick [degC day]. 0 where
    the table begins too late.
    """
    need = requirement * requirement_factor
    begun = (
        np.searchsorted(thermal_time, thermal_time[np.asarray(first_pick)] - need, side="right") - 1
    )
    return np.asarray(np.maximum(begun, 0), dtype=np.int64)


def flush_chain(
    trigger: BoolArray,
    pick: NaturalPick,
    rest_days: int,
    start: npt.ArrayLike,
    most: int,
    column: IntArray | None = None,
) -> IntArray:
    """Return the trigger days of the natural flushes that follow one another in each column.

    After a first pick a log rests before weather can set off the next flush. Aborted buds
    cost no rest.

    Parameters
    ----------
    trigger : (day, column) bool array
        Trigger days.
    rest_days : int
        From a first pick to the next trigger. [day]
    start : int or (..., column) int array
        First day on which the log is ready and rested; leading axes are alternatives.
    most : int
        Flushes to follow.
    column : (..., start) int array, optional
        Column of each place on the last axis of `start`; else they are the columns.

    Returns
    -------
    (flush, ..., column) int array
        Day index; the number of days where there is no further flush.
    """
    days, columns = trigger.shape
    following = next_true(trigger & ~pick.aborted)
    padded = np.vstack([pick.first_pick, np.full(columns, days, dtype=np.int32)])
    every = np.arange(columns) if column is None else column
    begin = np.asarray(start, dtype=np.int64)
    ready = np.broadcast_to(begin, np.broadcast_shapes(begin.shape, every.shape))
    chain = np.full((most, *ready.shape), days, dtype=np.int64)
    for flush in range(most):
        chain[flush] = following[np.clip(ready, 0, days), every]
        if (chain[flush] == days).all():
            break
        ready = padded[chain[flush], every] + rest_days
    return chain
