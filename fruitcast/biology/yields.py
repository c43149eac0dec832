"""What a log gives in one flush: a base weight times one factor for each cause.

kg per log = base x tree x size x bearing year x rest x temperature x moisture x kind x wear
x learning x scatter. Each factor is 1 in the reference case: an oak log of 12.7 x 102 cm in
its best bearing year, soaked on the nine-week cycle, moist, at the best temperature.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import numpy.typing as npt

from fruitcast.biology.bearing import bearing_life, share_given, year_share_factor
from fruitcast.biology.temperature import range_fit
from fruitcast.topics import StrainRange, TreeNumbers, YieldsNumbers

FloatArray = npt.NDArray[np.float64]

REFERENCE_DIAMETER, REFERENCE_LENGTH = 0.127, 1.02
"""The log that `yield.base` is given for: 5 by 40 inches. [m]"""


def size_factor(diameter: float, length: float) -> float:
    """Return a log's crop for one flush against the reference log's.

    Grows with diameter times length. The life grows with diameter as well, so the crop of a
    whole life grows with the volume of wood.

    Parameters
    ----------
    diameter, length : float
        Over bark. [m]

    Returns
    -------
    float
        [unitless]
    """
    return diameter / REFERENCE_DIAMETER * length / REFERENCE_LENGTH


def rest_factor(rest_days: npt.ArrayLike, yields: YieldsNumbers) -> FloatArray:
    """Return what the rest since the last first pick makes of a flush.

    Nothing while the log is still being picked, then a recovery that slows down; 1 on the
    nine-week cycle, somewhat more after a longer rest.

    Parameters
    ----------
    rest_days : float array
        Days from the last first pick to this soak or trigger; infinite when there was none
        yet. [day]
    yields : YieldsNumbers
        Numbers of the crop.

    Returns
    -------
    float array
        Never falls as rest grows. [unitless]
    """
    none, time = yields.rest_none, yields.rest_time
    rest = np.maximum(np.asarray(rest_days, dtype=float) - none, 0.0)
    reference = -np.expm1(-(yields.rest_reference - none) / time)
    return np.asarray(-np.expm1(-rest / time) / reference)


def temperature_factor(
    fruits: StrainRange, temperature: npt.ArrayLike, *, margin: float
) -> FloatArray:
    """Return how well the temperature up to the first pick suits the class.

    Parameters
    ----------
    fruits : StrainRange
        The strain class's fruiting range.
    temperature : float array
        Mean temperature from pull or trigger to the first pick. [degC]
    margin : float
        Crops come so far outside the class's limits. [degC]

    Returns
    -------
    float array
        1 in the best range, 0 a margin beyond the class's limits. [unitless]
    """
    return range_fit(
        temperature,
        fruits.lower - margin,
        fruits.best_low,
        fruits.best_high,
        fruits.upper + margin,
    )


def wear_factor(
    given_share: npt.ArrayLike, years_gone: npt.ArrayLike, life: float, yields: YieldsNumbers
) -> FloatArray:
    """Return what hard picking so far has taken from the flushes to come.

    A log that has given more of its life's crop than its age would have it has less left;
    one that has given less is taken at its age (learning may raise it, wear doesn't).

    Parameters
    ----------
    given_share : float array
        Share of the life's crop already picked, see `lifetime_yield`; NaN when nobody
        weighed. [unitless]
    years_gone : float array
        Bearing years gone by today, with the part of this season that has passed. [year]
    life : float
        See `bearing.bearing_life`. [year]
    yields : YieldsNumbers
        Numbers of the crop.

    Returns
    -------
    float array
        Share left over the share that age leaves, between `yield.wear_least` and 1.
        [unitless]
    """
    due = 1 - share_given(np.maximum(np.asarray(years_gone, dtype=float), 0.0), life, yields)
    left = 1 - np.asarray(given_share, dtype=float)
    ratio = np.divide(left, due, out=np.ones(np.broadcast(left, due).shape), where=due > 0)
    return np.where(np.isnan(ratio), 1.0, np.clip(ratio, yields.wear_least, 1.0))


def stack_factor(
    tree: TreeNumbers, diameter: float, length: float, years: npt.ArrayLike, yields: YieldsNumbers
) -> FloatArray:
    """Return the factors that don't depend on weather: tree, size and bearing year.

    Parameters
    ----------
    tree : TreeNumbers
        The tree species' numbers.
    diameter, length : float
        Over bark. [m]
    years : float array
        Bearing years behind the log at the end of the season, 1 after the first whole one. [year]
    yields : YieldsNumbers
        Numbers of the crop.

    Returns
    -------
    float array
        [unitless]
    """
    life = bearing_life(diameter, tree, yields)
    return (
        tree.yield_factor * size_factor(diameter, length) * year_share_factor(years, life, yields)
    )


@cache
def lifetime_yield(
    base: float, tree: TreeNumbers, diameter: float, length: float, yields: YieldsNumbers
) -> float:
    """Return the fresh weight that a log can be expected to give in its life, forced.

    Times what was learned of the yard (`learning.learn`), where something was.

    Parameters
    ----------
    base : float
        One flush of the strain class from the reference log. [kg/log]
    tree : TreeNumbers
        The tree species' numbers.
    diameter, length : float
        Over bark. [m]
    yields : YieldsNumbers
        Numbers of the crop.

    Returns
    -------
    float
        [kg/log]
    """
    years = np.arange(1, round(bearing_life(diameter, tree, yields)) + 1)
    best_year = base * yields.flushes_a_year
    whole = stack_factor(tree, diameter, length, years, yields).sum()
    return float(best_year * yields.usual_share * whole)
