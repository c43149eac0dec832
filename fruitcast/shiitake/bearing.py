"""The bearing life of a log: its years, its seasons, what each year gives, when to retire it."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Literal

import numpy as np
import numpy.typing as npt

from fruitcast.topics import TreeNumbers, YieldsNumbers

FloatArray = npt.NDArray[np.float64]

Hemisphere = Literal["north", "south"]


def hemisphere(latitude: float) -> Hemisphere:
    """Return 'north' or 'south' for a latitude. [degree, north positive]"""
    return "north" if latitude >= 0 else "south"


def season(on: date, where: Hemisphere) -> int:
    """Return the growing season a day belongs to: seasons turn at midwinter.

    Parameters
    ----------
    on : date
        Any day.
    where : str
        'north': seasons start on 1 January; 'south': on 1 July.

    Returns
    -------
    int
        The calendar year in which the season starts.
    """
    return on.year if where == "north" or on.month >= 7 else on.year - 1


def season_gone(on: date, where: Hemisphere) -> float:
    """Return the share of its growing season that has passed on a day.

    Parameters
    ----------
    on : date
        Any day.
    where : str
        Hemisphere.

    Returns
    -------
    float
        0 at midwinter, just below 1 on the eve of the next. [unitless]
    """
    month = 1 if where == "north" else 7
    begin = date(season(on, where), month, 1)
    return (on - begin).days / (date(begin.year + 1, month, 1) - begin).days


def first_bearing_season(ready: date, where: Hemisphere, *, late_ready_days: float) -> int:
    """Return the season that counts as the first bearing year of a stack.

    Parameters
    ----------
    ready : date
        Day the spawn run was done.
    where : str
        Hemisphere.
    late_ready_days : float
        Logs ready in the last so many days of a season bear from the next on. [day]

    Returns
    -------
    int
        The season of the ready day, or the next when it is too late in the year to bear.
    """
    return season(ready + timedelta(days=int(late_ready_days)), where)


def bearing_year(ready: date, on: date, where: Hemisphere, *, late_ready_days: float) -> int:
    """Return which bearing year of a stack a day falls in: 1 the first, below 1 not bearing yet.

    Parameters
    ----------
    ready : date
        Day the spawn run was done.
    on : date
        The day asked about.
    where : str
        Hemisphere.
    late_ready_days : float
        Logs ready in the last so many days of a season bear from the next on. [day]

    Returns
    -------
    int
        [year]
    """
    return (
        season(on, where) - first_bearing_season(ready, where, late_ready_days=late_ready_days) + 1
    )


def bearing_life(diameter: float, tree: TreeNumbers, yields: YieldsNumbers) -> float:
    """Return how many seasons a log bears: about one for each inch of dense hardwood.

    Parameters
    ----------
    diameter : float
        Over bark. [m]
    tree : TreeNumbers
        The tree species' numbers.
    yields : YieldsNumbers
        Numbers of the crop.

    Returns
    -------
    float
        Whole seasons, at least 1. [year]
    """
    years = diameter / yields.life_diameter * tree.life
    return max(float(round(years)), 1.0)


def share_given(years: npt.ArrayLike, life: float, yields: YieldsNumbers) -> FloatArray:
    """Return the share of its life's crop that a log has given after so many bearing years.

    The four published shares are those of the four quarters of the life, whatever its length.

    Parameters
    ----------
    years : float array
        Bearing years gone by, never negative. [year]
    life : float
        See `bearing_life`. [year]
    yields : YieldsNumbers
        Numbers of the crop.

    Returns
    -------
    float array
        Between 0 and 1. [unitless]
    """
    shares = np.array([yields.share_1, yields.share_2, yields.share_3, yields.share_4])
    given = np.concatenate([[0.0], np.cumsum(shares)]) / shares.sum()
    quarters = np.arange(5) * life / 4
    return np.asarray(np.interp(np.asarray(years, dtype=float), quarters, given))


def year_share(year: npt.ArrayLike, life: float, yields: YieldsNumbers) -> FloatArray:
    """Return the share of the life's crop that falls in a bearing year.

    Parameters
    ----------
    year : int array
        Bearing year, 1 the first. [year]
    life : float
        See `bearing_life`. [year]
    yields : YieldsNumbers
        Numbers of the crop.

    Returns
    -------
    float array
        1/6, 1/3, 1/3, 1/6 for a life of four years; 0 before the first and after the last.
        [unitless]
    """
    count = np.asarray(year, dtype=float)
    begin, end = np.maximum(count - 1, 0.0), np.maximum(count, 0.0)
    return share_given(end, life, yields) - share_given(begin, life, yields)


def year_share_factor(year: npt.ArrayLike, life: float, yields: YieldsNumbers) -> FloatArray:
    """Return what a bearing year gives relative to the best year of the log's life.

    Parameters
    ----------
    year : int array
        Bearing year, 1 the first. [year]
    life : float
        See `bearing_life`. [year]
    yields : YieldsNumbers
        Numbers of the crop.

    Returns
    -------
    float array
        1 in the best year; 0 before the first; past its life a log fades by a fixed factor
        each year rather than stopping dead. [unitless]
    """
    last = round(life)
    within = year_share(np.arange(1, last + 1), life, yields)
    factors = np.concatenate([[0.0], within / within.max()])
    count = np.asarray(year, dtype=np.int64)
    fading = yields.past_life_factor ** np.maximum(count - last, 0)
    return factors[np.clip(count, 0, last)] * fading


def should_retire(
    season_kg_per_log: npt.ArrayLike, bark_off: npt.ArrayLike, *, retire_below: float
) -> npt.NDArray[np.bool_]:
    """Return whether logs are worth keeping no longer.

    Parameters
    ----------
    season_kg_per_log : float array
        Fresh weight a log gave in a whole bearing season; NaN when there was none yet. [kg]
    bark_off : bool array
        Whether the bark falls off.
    retire_below : float
        A season that gives less is too poor. [kg/log]

    Returns
    -------
    bool array
        [unitless]
    """
    poor = np.asarray(season_kg_per_log, dtype=float) < retire_below
    return np.asarray(poor | np.asarray(bark_off, dtype=bool))
