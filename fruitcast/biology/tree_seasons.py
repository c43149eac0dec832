"""The seasons of the trees and of a young batch: leaf-out, leaf fall, frost, thaw, turning.

Arrays are day-first and begin at a season's start (midwinter), one column for each past year.
Temperatures are in degC; what is returned is (year,), in days from the season's start.
"""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np

from fruitcast.arrays import FloatArray, IntArray
from fruitcast.biology.run_length import (
    cumulate,
    degree_days,
    first_reached,
    next_true,
    rolling_mean,
)
from fruitcast.topics import InoculationNumbers, LeafNumbers

_MIDSUMMER = 182  # days from the season's start: spring lies before, autumn after


def leaf_out_day(tmean: FloatArray, leaf: LeafNumbers) -> IntArray:
    """Return the day on which hardwoods leaf out, by warmth since midwinter.

    The number of days when it doesn't come.
    """
    thermal_time = cumulate(degree_days(tmean, leaf.base_temperature, np.inf))
    years = np.arange(tmean.shape[1])
    return first_reached(thermal_time, 0, years, leaf.out_requirement)


def leaf_fall_day(tmean: FloatArray, leaf: LeafNumbers) -> IntArray:
    """Return the day by which leaves are down: the autumn's running mean has fallen low enough.

    The number of days when it doesn't come.
    """
    cool = rolling_mean(tmean, int(leaf.fall_days)) < leaf.fall_below
    return np.asarray(next_true(cool)[min(_MIDSUMMER, len(tmean))])


def last_frost_day(tmin: FloatArray) -> IntArray:
    """Return the last day of spring whose minimum lies below freezing; -1 where there is none."""
    frost = tmin[:_MIDSUMMER] < 0
    last = len(frost) - 1 - np.argmax(frost[::-1], axis=0)
    return np.where(frost.any(axis=0), last, -1).astype(np.int64)


def thawed_day(tmean: FloatArray, inoculation: InoculationNumbers) -> IntArray:
    """Return the day from which logs stay thawed: the first mild week that no cold one follows.

    By the mean of `thaw_days`, which is `thawed_above` then [degC]; 0 where winters are mild.
    """
    mild = rolling_mean(tmean[:_MIDSUMMER], int(inoculation.thaw_days))
    cold = mild < inoculation.thawed_above
    last = len(cold) - 1 - np.argmax(cold[::-1], axis=0)
    return np.where(cold.any(axis=0), last + 1, 0).astype(np.int64)


def turning_days(
    inoculated: date, until: date, growing: tuple[date, date], *, turn_days: float
) -> tuple[date, ...]:
    """Return the days on which to turn and restack a batch during its spawn run.

    Every `turn_days` from inoculation until the spawn run should be done, in the growing season
    (first and last day) of any year.
    """
    step = timedelta(days=int(turn_days))
    begin, end = ((day.month, day.day) for day in growing)
    spans_new_year = begin > end
    days: list[date] = []
    day = inoculated + step
    while day < until:
        now = (day.month, day.day)
        inside = now >= begin or now <= end if spans_new_year else begin <= now <= end
        if inside:
            days.append(day)
        day += step
    return tuple(days)
