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


def rain_after_drier_weather(rain: FloatArray, natural: NaturalNumbers) -> BoolArray:
    """Return where enough rain fell in one to three days, after drier weather: (day, column).

    By rain and watering [mm/day]: that of the `wet_days` reaches a sum, that of the `before_days`
    stays below one. Before the table the weather counts as dry.
    """
    wet_days = int(natural.wet_days)
    wetted = rolling_sum(rain, wet_days) >= natural.rain
    before = lag(rolling_sum(rain, int(natural.before_days)), wet_days, fill=0.0)
    return wetted & (before < natural.dry_rain)


def cooler_than_before(tmean: FloatArray, drop: float, natural: NaturalNumbers) -> BoolArray:
    """Return where the days of the wetting were cooler, by `drop` [degC], than those before them.

    `tmean` is (day, column) [degC]; the mean of the `wet_days` is held against that of the
    `before_days`. False while the table has no days before the wetting.
    """
    wet_days = int(natural.wet_days)
    before = lag(rolling_mean(tmean, int(natural.before_days)), wet_days, fill=-np.inf)
    return before - rolling_mean(tmean, wet_days) >= drop


def moves_into_range(
    tmean: FloatArray, lower: float, upper: float, natural: NaturalNumbers
) -> BoolArray:
    """Return where the temperature has just fallen or risen into a range [degC].

    `tmean` is (day, column) [degC]. The mean of the last `spell_days` lies inside, that of the
    `before_days` outside. False while the table has no days before.
    """
    spell = int(natural.spell_days)
    now = rolling_mean(tmean, spell)
    before = lag(rolling_mean(tmean, int(natural.before_days)), spell, fill=(lower + upper) / 2)
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
    cold, on a moist log. Readiness and rest are the stack's own affair, see `flush_chain`.

    All are (day, column): temperatures [degC], rain and watering [mm/day], log moisture [kg/kg
    dry wood]. Logs drier than `urgent_below` [kg/kg wet] form no buds.
    """
    moist = moisture >= float(dry_from_wet(urgent_below))
    if strain.nights is not None:
        coldest, warmest = strain.nights
        nights = rolling_mean(tmin, int(natural.spell_days))
        fresh = (nights >= coldest) & (nights <= warmest)
        return moves_into_range(tmean, strain.lower, strain.upper, natural) & fresh & moist
    mild = rolling_mean(tmean, int(natural.wet_days))
    in_range = (mild >= strain.lower) & (mild <= strain.upper)
    cooler = cooler_than_before(tmean, strain.drop or 0.0, natural)
    return rain_after_drier_weather(rain, natural) & cooler & in_range & moist


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

    By the warmth of `forced.thermal_time` and the `trigger_days`, (day, column). The class's
    requirement from pull to first pick [degC day] and the yard's own lead time over the table's
    are one or (column,); `column` is the column of the warmth for each of the triggers', where
    that is not the same one.
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
    thermal_time: FloatArray, first_pick: npt.ArrayLike, requirement: float, natural: NaturalNumbers
) -> IntArray:
    """Return the row on which weather must have set off a flush first picked on a given one.

    `thermal_time` is the running total of warmth above the class's base, (day + 1,), of which a
    natural flush needs a share of what the class does from pull to first pick [degC day]. 0 where
    the table begins too late.
    """
    need = requirement * natural.requirement_factor
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

    (flush, ..., column); the number of days where there is no further one. After a first pick a
    log rests before weather can set off the next flush; aborted buds cost no rest. At `most` so
    many flushes are followed from the first day on which the log is ready and rested, `start`, one
    or (..., column), whose leading axes are alternatives. `column` is the column of each place on
    its last axis, where those are not the columns.
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
