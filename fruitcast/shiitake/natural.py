"""Natural flushes: what sets one off by itself, when it can be picked, when its buds die.

The rules read no calendar: the same weather gives the same flush in either hemisphere.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from fruitcast.logs.wood import dry_from_wet
from fruitcast.numbers import Numbers
from fruitcast.shiitake.run_length import (
    cumulate,
    first_reached,
    lag,
    next_true,
    rolling_mean,
    rolling_sum,
)
from fruitcast.shiitake.temperature import degree_days

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]


class NaturalPick(NamedTuple):
    """What becomes of the buds set off on each day.

    Attributes
    ----------
    first_pick : (day, column) int array
        Day of the first pick; the number of days where nothing was set off, the buds
        aborted, or the table ends too soon.
    aborted : (day, column) bool array
        Buds that were set off and die in the cold, unripe.
    """

    first_pick: IntArray
    aborted: BoolArray


def rain_after_drier_weather(rain: FloatArray, numbers: Numbers) -> BoolArray:
    """Return where enough rain fell in one to three days, after drier weather.

    Parameters
    ----------
    rain : (day, column) float array
        Rain and watering. [mm/day]
    numbers : Numbers
        The numbers in use.

    Returns
    -------
    (day, column) bool array
        Before the table the weather counts as dry.
    """
    wet_days, dry_days = int(numbers.natural.wet_days), int(numbers.natural.dry_days)
    wetted = rolling_sum(rain, wet_days) >= numbers.natural.rain
    before = lag(rolling_sum(rain, dry_days), wet_days, fill=0.0)
    return wetted & (before < numbers.natural.dry_rain)


def cooler_than_before(tmean: FloatArray, drop: float, numbers: Numbers) -> BoolArray:
    """Return where the days of the wetting were cooler, by `drop`, than the days before them.

    Parameters
    ----------
    tmean : (day, column) float array
        Daily mean temperature. [degC]
    drop : float
        Least difference. [degC]
    numbers : Numbers
        The numbers in use.

    Returns
    -------
    (day, column) bool array
        False while the table has no days before the wetting.
    """
    wet_days = int(numbers.natural.wet_days)
    now = rolling_mean(tmean, wet_days)
    before = lag(rolling_mean(tmean, int(numbers.natural.change_days)), wet_days, fill=-np.inf)
    return before - now >= drop


def moves_into_range(tmean: FloatArray, lower: float, upper: float, numbers: Numbers) -> BoolArray:
    """Return where the temperature has just fallen or risen into a range.

    Parameters
    ----------
    tmean : (day, column) float array
        Daily mean temperature. [degC]
    lower, upper : float
        Ends of the range. [degC]
    numbers : Numbers
        The numbers in use.

    Returns
    -------
    (day, column) bool array
        The mean of the last days ('natural.spell_days') lies inside, that of the days before
        outside. False while the table has no days before.
    """
    spell = int(numbers.natural.spell_days)
    now = rolling_mean(tmean, spell)
    change_days = int(numbers.natural.change_days)
    before = lag(rolling_mean(tmean, change_days), spell, fill=(lower + upper) / 2)
    return (now >= lower) & (now <= upper) & ((before < lower) | (before > upper))


def trigger_days(
    strain_class: str,
    tmin: FloatArray,
    tmean: FloatArray,
    rain: FloatArray,
    moisture: FloatArray,
    numbers: Numbers,
) -> BoolArray:
    """Return the days whose weather sets off a natural flush on a ready, rested log.

    Classes with a `drop`, such as wide-range and warm-weather strains: enough rain in one to
    three days after drier weather, cooler than before, at a temperature in the class's range,
    on a moist log. Classes with limits on the nights, such as cold-weather strains: the
    temperature falls or rises into the class's range, with nights neither too warm nor too
    cold, on a moist log.

    Parameters
    ----------
    strain_class : str
        Strain class.
    tmin, tmean : (day, column) float array
        Daily minimum and mean temperature. [degC]
    rain : (day, column) float array
        Rain and watering. [mm/day]
    moisture : (day, column) float array
        Log moisture. [kg/kg dry wood]
    numbers : Numbers
        The numbers in use.

    Returns
    -------
    (day, column) bool array
        Readiness and rest are the stack's own affair, see `flush_chain`.
    """
    natural = numbers.strain(strain_class).natural
    lower, upper = natural.lower, natural.upper
    moist = moisture >= float(dry_from_wet(numbers.watering.urgent_below))
    if natural.nights is not None:
        coldest, warmest = natural.nights
        nights = rolling_mean(tmin, int(numbers.natural.spell_days))
        fresh = (nights >= coldest) & (nights <= warmest)
        return moves_into_range(tmean, lower, upper, numbers) & fresh & moist
    mild = rolling_mean(tmean, int(numbers.natural.wet_days))
    in_range = (mild >= lower) & (mild <= upper)
    cooler = cooler_than_before(tmean, natural.drop or 0.0, numbers)
    return rain_after_drier_weather(rain, numbers) & cooler & in_range & moist


def natural_first_pick(
    strain_class: str,
    tmean: FloatArray,
    trigger: BoolArray,
    numbers: Numbers,
    lead_factor: float = 1.0,
) -> NaturalPick:
    """Return when the buds set off on each trigger day can first be picked, or that they die.

    Buds ripen by warmth above the class's base temperature. They abort when a cold spell
    comes first, or when they are still unripe after the longest time allowed; they don't
    wait for spring.

    Parameters
    ----------
    strain_class : str
        Strain class.
    tmean : (day, column) float array
        Daily mean temperature. [degC]
    trigger : (day, column) bool array
        Trigger days, see `trigger_days`.
    numbers : Numbers
        The numbers in use.
    lead_factor : float, default 1
        The yard's own lead time over the table's. [unitless]

    Returns
    -------
    NaturalPick
        First pick and aborted buds of each trigger day.
    """
    days = len(tmean)
    first_pick = np.full(tmean.shape, days, dtype=np.int64)
    aborted = np.zeros(tmean.shape, dtype=bool)
    day, column = np.nonzero(trigger)
    warmth = degree_days(
        tmean,
        numbers.strain(strain_class).forced.base_temperature,
        numbers.strain(strain_class).forced.cap_temperature,
    )
    need = numbers.strain(strain_class).forced.requirement * numbers.natural.requirement_factor
    need *= lead_factor
    ripe = first_reached(cumulate(warmth), day, column, need)
    spell = int(numbers.natural.spell_days)
    chill = rolling_mean(tmean, spell) < numbers.strain(strain_class).natural.chill
    latest = day + int(numbers.natural.longest_days)
    dead = (next_true(chill)[day, column] < np.minimum(ripe, latest)) | (ripe > latest)
    aborted[day, column] = dead
    first_pick[day, column] = np.where(dead, days, ripe)
    return NaturalPick(first_pick, aborted)


def set_off_row(
    strain_class: str, warmth: FloatArray, first_pick: npt.ArrayLike, numbers: Numbers
) -> IntArray:
    """Return the day on which weather must have set off a flush first picked on a given day.

    Parameters
    ----------
    strain_class : str
        Strain class.
    warmth : (day + 1,) float array
        Running total of warmth above the class's base. [degC day]
    first_pick : int array
        Day of the first pick.
    numbers : Numbers
        The numbers in use.

    Returns
    -------
    int array
        Day index; 0 where the table begins too late.
    """
    need = numbers.strain(strain_class).forced.requirement * numbers.natural.requirement_factor
    begun = np.searchsorted(warmth, warmth[np.asarray(first_pick)] - need, side="right") - 1
    return np.asarray(np.maximum(begun, 0), dtype=np.int64)


def flush_chain(
    trigger: BoolArray, pick: NaturalPick, rest_days: int, start: npt.ArrayLike, most: int
) -> IntArray:
    """Return the trigger days of the natural flushes that follow one another in each column.

    After a first pick a log rests before weather can set off the next flush. Aborted buds
    cost no rest.

    Parameters
    ----------
    trigger : (day, column) bool array
        Trigger days.
    pick : NaturalPick
        What becomes of them.
    rest_days : int
        From a first pick to the next trigger. [day]
    start : int or (..., column) int array
        First day on which the log is ready and rested; leading axes are alternatives.
    most : int
        Flushes to follow.

    Returns
    -------
    (flush, ..., column) int array
        Day index; the number of days where there is no further flush.
    """
    days, columns = trigger.shape
    following = next_true(trigger & ~pick.aborted)
    padded = np.vstack([pick.first_pick, np.full(columns, days)])
    every = np.arange(columns)
    begin = np.asarray(start, dtype=np.int64)
    ready = np.broadcast_to(begin, np.broadcast_shapes(begin.shape, (columns,)))
    chain = np.empty((most, *ready.shape), dtype=np.int64)
    for flush in range(most):
        chain[flush] = following[np.clip(ready, 0, days), every]
        ready = padded[chain[flush], every] + rest_days
    return chain
