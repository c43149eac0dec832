"""What a log gives: its bearing life, year by year, and one flush, cause by cause.

kg per log = base x tree x size x bearing year x rest x temperature x moisture x kind x wear
x learning x scatter. Each factor is 1 in the reference case: an oak log of 12.7 x 102 cm in
its best bearing year, soaked on the nine-week cycle, moist, at the best temperature.
"""

from __future__ import annotations

from datetime import date, timedelta
from functools import cache, lru_cache
from typing import Literal

import numpy as np
import numpy.typing as npt

from fruitcast.arrays import BoolArray, FloatArray
from fruitcast.topics import StrainRange, TreeNumbers, YieldsNumbers

# The bearing life of a log: its years, its seasons, what each year gives, when to retire it.


Hemisphere = Literal["north", "south"]


def hemisphere(latitude: float) -> Hemisphere:
    """Return 'north' or 'south' for a latitude. [degree, north positive]"""
    return "north" if latitude >= 0 else "south"


def season(on: date, where: Hemisphere) -> int:
    """Return the growing season a day belongs to, by the year in which it starts.

    Seasons turn at midwinter: in the north on 1 January, in the south on 1 July.
    """
    return on.year if where == "north" or on.month >= 7 else on.year - 1


def season_begins(number: int, where: Hemisphere) -> date:
    """Return the first day of a growing season, see `season`."""
    return date(number, 1 if where == "north" else 7, 1)


def season_gone(on: date, where: Hemisphere) -> float:
    """Return the share of its growing season that has passed on a day: 0 at midwinter."""
    month = 1 if where == "north" else 7
    begin = date(season(on, where), month, 1)
    return (on - begin).days / (date(begin.year + 1, month, 1) - begin).days


def first_bearing_season(ready: date, where: Hemisphere, *, late_ready_days: float) -> int:
    """Return the season that counts as the first bearing year of a stack ready on a day.

    Logs ready in the last `late_ready_days` of a season bear from the next on.
    """
    return season(ready + timedelta(days=int(late_ready_days)), where)


def bearing_year(ready: date, on: date, where: Hemisphere, *, late_ready_days: float) -> int:
    """Return which bearing year of a stack a day falls in: 1 the first, below 1 not bearing yet."""
    return (
        season(on, where) - first_bearing_season(ready, where, late_ready_days=late_ready_days) + 1
    )


@lru_cache(maxsize=4096)
def years_borne(ready: date, season_: int, where: Hemisphere, *, late_ready_days: float) -> float:
    """Return the bearing years that a stack has behind it at the end of a season. [year]

    The first season counts by the share of it that was left when the stack became ready, so a
    stack ready a day later is a little younger, never a whole year. 0 while it does not bear,
    which it doesn't in the `late_ready_days` before and after midwinter.
    """
    idle = late_ready_days / 365
    first = season(ready, where)
    left = (1 - idle - season_gone(ready, where)) / (1 - 2 * idle)
    return max(season_ - first + min(max(left, 0.0), 1.0), 0.0) if season_ >= first else 0.0


def years_gone(ready: date, on: date, where: Hemisphere, *, late_ready_days: float) -> float:
    """Return the bearing years behind a stack on a day, with the part of this season. [year]"""
    now = season(on, where)
    before, after = (
        years_borne(ready, s, where, late_ready_days=late_ready_days) for s in (now - 1, now)
    )
    return before + (after - before) * season_gone(on, where)


def bearing_life(diameter: float, tree: TreeNumbers, yields: YieldsNumbers) -> float:
    """Return how many seasons a log bears: about one for each inch of dense hardwood. [year]

    Whole seasons, at least 1; the diameter is over bark [m].
    """
    years = diameter / yields.life_diameter * tree.life
    return max(float(round(years)), 1.0)


def share_given(years: npt.ArrayLike, life: float, yields: YieldsNumbers) -> FloatArray:
    """Return the share of its life's crop that a log has given after so many bearing years. [0..1]

    The four published shares are those of the four quarters of the life, whatever its length.
    """
    quarters = np.arange(5) * life / 4
    return np.asarray(np.interp(np.asarray(years, dtype=float), quarters, _by_quarter(yields)))


@cache
def _by_quarter(yields: YieldsNumbers) -> FloatArray:
    """Return the share given by the end of each quarter of a life, and none at its begin."""
    shares = np.array([yields.share_1, yields.share_2, yields.share_3, yields.share_4])
    return np.asarray(np.concatenate([[0.0], np.cumsum(shares)]) / shares.sum())


def year_share_factor(years: npt.ArrayLike, life: float, yields: YieldsNumbers) -> FloatArray:
    """Return what a season gives relative to the best bearing year of the log's life. [unitless]

    1/2, 1, 1, 1/2 for a life of four whole years; 0 before the first. A season in which a log
    began to bear gives by the day what the beginning of its life does. Past its life a log fades
    by a fixed factor each year rather than stopping dead. `years` are those behind the log at the
    end of the season, see `years_borne`: whole numbers are whole bearing years, 1 the first.
    """
    end = np.asarray(years, dtype=float)
    begin = np.maximum(end - 1, 0.0)
    crop = _given_by(end, life, yields) - _given_by(begin, life, yields)
    bearing = end > 0
    rate = np.divide(crop, end - begin, out=np.zeros(end.shape), where=bearing)
    return np.asarray(rate / _best_year(life, yields))


@cache
def _best_year(life: float, yields: YieldsNumbers) -> float:
    """Return what the best bearing year of a life gives. [share of the life's]"""
    return float(np.diff(_given_by(np.arange(round(life) + 1), life, yields)).max())


def _given_by(years: npt.ArrayLike, life: float, yields: YieldsNumbers) -> FloatArray:
    """Return the crop given after so many years, fading past the life. [share of the life's]"""
    count = np.maximum(np.asarray(years, dtype=float), 0.0)
    last_year = 1 - float(share_given(life - 1, life, yields))
    beyond = np.maximum(count - life, 0.0)
    fade = yields.past_life_factor
    full = np.floor(beyond)
    # Of the years past the life each gives `fade` times what the one before it gave.
    powers = np.cumsum(np.concatenate([[0.0], fade ** np.arange(1, full.max(initial=0.0) + 2)]))
    index = full.astype(np.int64)
    faded = powers[index] + (powers[index + 1] - powers[index]) * (beyond - full)
    return np.asarray(share_given(np.minimum(count, life), life, yields) + last_year * faded)


def should_retire(
    season_kg_per_log: npt.ArrayLike, bark_off: npt.ArrayLike, *, retire_below: float
) -> BoolArray:
    """Return whether logs are worth keeping no longer: bark falls off, or they give too little.

    By the fresh weight that a log gave in a whole bearing season; NaN when there was none yet.
    [kg/log]
    """
    poor = np.asarray(season_kg_per_log, dtype=float) < retire_below
    return np.asarray(poor | np.asarray(bark_off, dtype=bool))


# What a log gives in one flush: a base weight times one factor for each cause.

REFERENCE_DIAMETER, REFERENCE_LENGTH = 0.127, 1.02
"""The log that `yield.base` is given for: 5 by 40 inches. [m]"""


def size_factor(diameter: float, length: float) -> float:
    """Return a log's crop for one flush against the reference log's, by its sizes over bark [m].

    Grows with diameter times length. The life grows with diameter as well, so the crop of a whole
    life grows with the volume of wood.
    """
    return diameter / REFERENCE_DIAMETER * length / REFERENCE_LENGTH


def rest_factor(rest_days: npt.ArrayLike, yields: YieldsNumbers) -> FloatArray:
    """Return what the rest since the last first pick [day] makes of a flush. [unitless]

    Nothing while the log is still being picked, then a recovery that slows down; 1 on the
    nine-week cycle, somewhat more after a longer rest. The rest, to this soak or trigger, is
    infinite when there was no pick yet.
    """
    none, time = yields.rest_none, yields.rest_time
    rest = np.maximum(np.asarray(rest_days, dtype=float) - none, 0.0)
    reference = -np.expm1(-(yields.rest_reference - none) / time)
    return np.asarray(-np.expm1(-rest / time) / reference)


def temperature_factor(
    fruits: StrainRange, temperature: npt.ArrayLike, yields: YieldsNumbers
) -> FloatArray:
    """Return how well the temperature up to the first pick suits the class. [0..1]

    By the mean from pull or trigger to the first pick [degC]: 1 in the best range, 0 a
    `range_margin` beyond the class's limits.
    """
    margin = yields.range_margin
    points = (fruits.lower - margin, fruits.best_low, fruits.best_high, fruits.upper + margin)
    return np.asarray(np.interp(np.asarray(temperature, dtype=float), points, (0.0, 1.0, 1.0, 0.0)))


def wear_factor(
    given_share: npt.ArrayLike, years_gone: npt.ArrayLike, life: float, yields: YieldsNumbers
) -> FloatArray:
    """Return what hard picking so far has taken from the flushes to come.

    The share left over the share that age leaves, between `yield.wear_least` and 1. A log that
    has given more of its life's crop than its age would have it has less left; one that has given
    less is taken at its age (learning may raise it, wear doesn't). By the share of the life's
    crop already picked, see `lifetime_yield`, NaN when nobody weighed, and the bearing years gone
    by today, with the part of this season that has passed.
    """
    due = 1 - share_given(np.maximum(np.asarray(years_gone, dtype=float), 0.0), life, yields)
    left = 1 - np.asarray(given_share, dtype=float)
    ratio = np.divide(left, due, out=np.ones(np.broadcast(left, due).shape), where=due > 0)
    return np.where(np.isnan(ratio), 1.0, np.clip(ratio, yields.wear_least, 1.0))


def stack_factor(
    tree: TreeNumbers, diameter: float, length: float, years: npt.ArrayLike, yields: YieldsNumbers
) -> FloatArray:
    """Return the factors that don't depend on weather: tree, size and bearing year. [unitless]

    Sizes are over bark [m]; `years` as in `year_share_factor`.
    """
    life = bearing_life(diameter, tree, yields)
    return (
        tree.yield_factor * size_factor(diameter, length) * year_share_factor(years, life, yields)
    )


@cache
def lifetime_yield(
    base: float, tree: TreeNumbers, diameter: float, length: float, yields: YieldsNumbers
) -> float:
    """Return the fresh weight that a log can be expected to give in its life, forced. [kg/log]

    `base` is one flush of the strain class from the reference log [kg/log], sizes are over bark
    [m]. Times what was learned of the yard (`spread.learn`), where something was.
    """
    years = np.arange(1, round(bearing_life(diameter, tree, yields)) + 1)
    best_year = base * yields.flushes_a_year
    whole = stack_factor(tree, diameter, length, years, yields).sum()
    return float(best_year * yields.usual_share * whole)
