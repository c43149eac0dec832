"""How a weather forecast passes over into past years: day by day ahead it is worth less.

A forecast's departure from what is usual keeps only the share that such forecasts have been
right about; what stays open is filled with each past year's own departure, so that errors last
for days as weather does, and a member that knows nothing more of the forecast is its past year.
Where the forecast ends its last departure fades out over some days, and where there is none
that of yesterday does, from its past year in each member.

With a usual value c, spread s and skill r, a day is c + r (forecast - c) + sqrt(1 - r^2) (past
year - c): where forecasts depart as widely as years do, its spread is s at every lead. Rain has
no such middle. A share of the members has the forecast's rain, the others that of their year;
each turns from the one to the other once.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt

from fruitcast.topics import ForecastNumbers

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

USUAL_DAYS = 31
"""What is usual is a straight line through the past years' first days ahead. Judgement. [day]"""

LEAST_SKILL = 0.02
"""A forecast worth less than this is left out. A bound of the calculation."""


PERFECT = ForecastNumbers()
"""Forecasts are taken at their word."""


def temperature_skill(
    days: int, spread: float, *, temperature_error: float, temperature_growth: float
) -> FloatArray:
    """Return the correlation of a forecast with what comes, day by day ahead.

    Parameters
    ----------
    days : int
        Days ahead, the first one today. [day]
    spread : float
        Standard deviation of daily means about what is usual. [degC]
    temperature_error : float
        Standard deviation of the first day's error. [degC]
    temperature_growth : float
        What each day adds to it. [degC/day]

    Returns
    -------
    (day,) float array
        1 where the error is 0, 0 where it is as wide as the years differ. [unitless]
    """
    error = temperature_error + temperature_growth * np.arange(days)
    share = np.where(error > 0, error / max(spread, 1e-9), 0.0)
    return np.asarray(np.sqrt(1.0 - np.minimum(share, 1.0) ** 2))


def rain_skill(days: int, *, rain_error: float, rain_growth: float) -> FloatArray:
    """Return the share of the members that have the forecast's rain, day by day ahead.

    Parameters
    ----------
    days : int
        Days ahead, the first one today. [day]
    rain_error : float
        Share that has not, on the first day.
    rain_growth : float
        What each day adds to it. [1/day]

    Returns
    -------
    (day,) float array
        [0..1]
    """
    return np.asarray(1.0 - np.minimum(rain_error + rain_growth * np.arange(days), 1.0))


def pass_over(
    told: Mapping[str, FloatArray],
    rain_told: BoolArray,
    years: Mapping[str, FloatArray],
    threshold: FloatArray,
    error: ForecastNumbers,
) -> dict[str, FloatArray]:
    """Return every member's weather: the forecast, ever less of it, then its past year.

    Parameters
    ----------
    told : mapping of str to (forecast day,) float array
        The forecast's tmin, tmax, tmean, rain and rh. [degC, degC, degC, mm/day, %]
    rain_told : (forecast day,) bool array
        Days whose rain it tells; elsewhere rain and humidity are the past year's.
    years : mapping of str to (day, member) float array
        Each member's past year over the days from today on, the same variables.
    threshold : (member,) float array
        From 0 to 1, evenly spread: a member has the forecast's rain while the share that has it
        is above this.
    error : ForecastNumbers
        How wrong forecasts are.

    Returns
    -------
    dict of str to (day, member) float array
    """
    known, days = len(told["tmean"]), len(years["tmean"])
    if not known or not days:
        return {name: column.copy() for name, column in years.items()}
    usual, spread = _usual(years["tmean"])
    skill = temperature_skill(
        days,
        spread,
        temperature_error=error.temperature_error,
        temperature_growth=error.temperature_growth,
    )
    fade = error.persistence ** np.maximum(np.arange(days) - known + 1, 0)
    skill = skill * np.where(np.arange(days) < known, 1.0, fade)
    used = skill >= LEAST_SKILL
    wet = rain_skill(known, rain_error=error.rain_error, rain_growth=error.rain_growth)
    follows = (wet[:, None] > threshold) & rain_told[:, None]
    made = {name: column.copy() for name, column in years.items()}
    for name, column in made.items():
        column[:known] = np.where(follows, told[name][:, None], column[:known])
    departure = np.zeros(days)
    departure[:known] = told["tmean"] - usual[:known]
    departure[known:] = departure[known - 1]
    own = years["tmean"] - usual[:, None]
    left = np.sqrt(1.0 - skill**2)
    # What the day's lowest and highest are beside its mean goes with the rain: a wet day is even.
    shift = (usual + skill * departure)[:, None] + left[:, None] * own - made["tmean"]
    exact = np.zeros(made["tmean"].shape, dtype=bool)
    exact[:known] = follows & (skill[:known, None] == 1.0)
    shift = np.where(used[:, None] & ~exact, shift, 0.0)
    for name in ("tmin", "tmax", "tmean"):
        made[name] += shift
    return made


def follow_on(
    yesterday: float, before: FloatArray, years: Mapping[str, FloatArray], persistence: float
) -> dict[str, FloatArray]:
    """Return every member's weather without a forecast: warm days follow on a warm one.

    A past year put behind what was observed would jump on the first day, which sets off
    flushes that no real weather would. By how much yesterday was warmer than the same day of
    the past year, so much warmer, less and less, are the days that follow.

    Parameters
    ----------
    yesterday : float
        Mean temperature. [degC]
    before : (member,) float array
        The same of each member's past year. [degC]
    years : mapping of str to (day, member) float array
        Each member's past year over the days from today on, see `pass_over`.
    persistence : float
        Share of a departure that lasts for a day. [1/day]

    Returns
    -------
    dict of str to (day, member) float array
    """
    lasts = persistence ** (np.arange(len(years["tmean"])) + 1.0)
    lasts[lasts < LEAST_SKILL] = 0.0
    shift = lasts[:, None] * (yesterday - before)
    made = {name: column.copy() for name, column in years.items()}
    for name in ("tmin", "tmax", "tmean"):
        made[name] += shift
    return made


def _usual(tmean: FloatArray) -> tuple[FloatArray, float]:
    """Return the course of the past years' mean, and how widely daily means lie about it."""
    days = len(tmean)
    span = min(USUAL_DAYS, days)
    mean = tmean[:span].mean(axis=1)
    if span < 2:
        usual = np.full(days, float(mean[0]))
    else:
        slope, level = np.polyfit(np.arange(span), mean, 1)
        usual = level + slope * np.arange(days)
    return usual, float((tmean[:span] - usual[:span, None]).std())
