"""Forced flushes: how long to soak, when to pick after the pull, what heat and frost take.

A log pulled on the morning of day p feels the warmth of the days p, p+1, ...; the first
pick is on the first morning by which the class's requirement has built up.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fruitcast.arrays import BoolArray, FloatArray, IntArray
from fruitcast.biology.run_length import cumulate, degree_days, first_reached, rolling_mean
from fruitcast.biology.yields import Hemisphere
from fruitcast.topics import DoubtNumbers, ForcedNumbers, StrainForced, StrainNumbers


def soak_hours(tmean_ahead: npt.ArrayLike, forced: ForcedNumbers) -> FloatArray:
    """Return how long to leave the logs in water: overnight in heat, a day, two days when cool. [h]

    By the mean temperature of the days ahead [degC]. The water should be clean and clearly colder
    than the air; how much colder, nobody has published.
    """
    temperature = np.asarray(tmean_ahead, dtype=float)
    return np.where(
        temperature >= forced.hot_from,
        forced.overnight_hours,
        np.where(temperature < forced.cool_below, forced.cool_hours, forced.usual_hours),
    )


def thermal_time(strain: StrainNumbers, tmean: FloatArray) -> FloatArray:
    """Return the warmth built up by the morning of each day, above the class's base. [degC day]

    From the first day of the table, (day + 1, column): differences between rows count. Heat
    beyond the cap brings no mushrooms sooner.
    """
    return cumulate(degree_days(tmean, strain.forced.base_temperature, strain.cap_temperature))


def first_pick(
    cumulative_thermal: FloatArray,
    pull_day: IntArray,
    requirement: npt.ArrayLike,
    column: IntArray | None = None,
) -> IntArray:
    """Return the day of the first pick after each pull, (start, column).

    The number of days where the table ends too soon. By the warmth of `thermal_time`, the
    mornings on which logs leave the tank, (start,), at most the number of days, and the class's
    requirement times its scatter, one or (start, column) [degC day]. `column` is the column of
    the warmth for each, (start, column), where that is not the same one.
    """
    if column is None:
        column = np.arange(cumulative_thermal.shape[1])[None, :]
    start = np.asarray(pull_day, dtype=np.int64)[:, None]
    return first_reached(cumulative_thermal, start, column, requirement)


def mean_between(
    cumulated: FloatArray, first: IntArray, past: IntArray, column: IntArray | None = None
) -> FloatArray:
    """Return the mean of a daily value over the days from `first` up to, not including, `past`.

    By its running totals, see `run_length.cumulate`. `first` and `past` are days, (start,
    column); where they are equal the day itself is taken. `column` as in `first_pick`.
    """
    begin, end = np.broadcast_arrays(first, past)
    if column is None:
        column = np.arange(cumulated.shape[1])
    begin = np.minimum(begin, len(cumulated) - 2)
    end = np.maximum(end, begin + 1)
    return np.asarray((cumulated[end, column] - cumulated[begin, column]) / (end - begin))


def bears(pull_day: IntArray, pick_day: IntArray, days: int, *, longest_days: float) -> BoolArray:
    """Return whether a forced flush comes at all: where it is too cold, it takes too long.

    By the morning of the pull, (start,), and the first pick, (start, column); a pick that lies
    past the days of the table is not seen, and past the longest nothing comes.
    """
    lead = pick_day - np.asarray(pull_day)[:, None]
    return (lead <= int(longest_days)) & (pick_day < days)


def daily_loss(
    strain: StrainForced, tmin: FloatArray, tmax: FloatArray, forced: ForcedNumbers
) -> FloatArray:
    """Return how hard each day's heat and frost is on pins and caps, for `surviving_share`. [1/day]

    By the day's extremes, (day, column). [degC]
    """
    heat = np.maximum(tmax - strain.heat_from, 0.0)
    frost = np.maximum(strain.frost_from - tmin, 0.0)
    return forced.heat_loss * heat + forced.frost_loss * frost


def surviving_share(
    cumulated_loss: FloatArray, first: IntArray, past: IntArray, column: IntArray | None = None
) -> FloatArray:
    """Return the share of a flush that heat and frost leave between pull and last pick. [0..1]

    exp(-sum of the daily losses), by the `run_length.cumulate` of `daily_loss`, from the day of
    the pull to the day after the last pick, (start, column); days past the table don't count.
    `column` as in `first_pick`.
    """
    days = len(cumulated_loss) - 1
    begin, end = np.broadcast_arrays(np.minimum(first, days), np.minimum(past, days))
    if column is None:
        column = np.arange(cumulated_loss.shape[1])
    return np.asarray(np.exp(cumulated_loss[begin, column] - cumulated_loss[end, column]))


def summer(months: npt.ArrayLike, where: Hemisphere) -> BoolArray:
    """Return whether months are summer: June to August, in the south December to February."""
    return np.asarray(np.asarray(months) % 12 // 3 == (2 if where == "north" else 0))


def season_allows(
    strain: StrainForced,
    tmean: FloatArray,
    pull_day: IntArray,
    *,
    season_days: float,
    in_summer: npt.ArrayLike,
) -> BoolArray:
    """Return whether the class may be soaked for a pull on each day, over all members at once.

    Cold-weather strains answer a summer soak poorly (Bruhn, Mihail & Pickens 2009): they are
    refused in summer, however cool the site, and whenever the median over members of the mean
    temperature of the `season_days` after the pull is above the class's limit. By the daily mean
    of every member, (day, member) [degC], and the mornings of the pulls, (start,), inside the
    table: near its end the days that are left count. `in_summer` tells which soaks start then,
    see `summer`.
    """
    start = np.asarray(pull_day, dtype=np.int64)
    limit = strain.refused_above
    if limit is None:
        return np.ones(start.shape, dtype=bool)
    past = np.minimum(start + int(season_days), len(tmean))
    ahead = mean_between(cumulate(tmean), start[:, None], past[:, None])
    return np.asarray((np.median(ahead, axis=1) <= limit) & ~np.asarray(in_summer, dtype=bool))


# The tank in winter.


def is_frozen(tmean: FloatArray, doubt: DoubtNumbers) -> BoolArray:
    """Return on which days of mean air temperature [degC] an open tank is likely to carry ice."""
    mean = rolling_mean(tmean, int(doubt.ice_days))
    return np.asarray(mean < doubt.ice_below)
