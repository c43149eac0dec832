"""The weather that a plan rests on: past weeks, forecast, and the fan of past years."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import numpy.typing as npt

from fruitcast.forecast.members import Futures
from fruitcast.topics import StrainRange
from fruitcast.weather.daily import DailyWeather, Source

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

PAST_WEEKS = 8
"""Weeks before today that are shown."""

FAN = (0.1, 0.5, 0.9)
"""Shares of the weather years below the fan's lower edge, middle and upper edge."""


@dataclass(frozen=True)
class WeatherCourse:
    """The weather around today; rows count days from `first`.

    Attributes
    ----------
    first, today : date
        The first day, and today.
    tmean : (day,) float array
        Daily mean temperature up to yesterday, then of the forecast. [degC]
    filled : (day,) bool array
        Days of `tmean` whose temperature or rain was put in where the record has a gap.
    fan_tmean : (3, week) float array
        Means of the weeks from today on: lower edge, middle and upper edge over the weather
        years. [degC]
    rain : (week,) float array
        Total of each of the weeks before today, the earliest first. [mm]
    fan_rain : (3, week) float array
        Totals of the same weeks, likewise. [mm]
    forecast_days : int
        Days from today on that are forecast.
    years : int
        Weather years in the fan.
    """

    first: date
    today: date
    tmean: FloatArray
    filled: BoolArray
    fan_tmean: FloatArray
    rain: FloatArray
    fan_rain: FloatArray
    forecast_days: int
    years: int

    @property
    def last(self) -> date:
        """The last day of the fan."""
        return self.today + timedelta(days=7 * self.fan_tmean.shape[1] - 1)


def weather_course(
    weather: DailyWeather, futures: Futures, weeks: int, past_weeks: int = PAST_WEEKS
) -> WeatherCourse:
    """Return the weather of the past weeks, the forecast and the fan of past years.

    Parameters
    ----------
    weather : DailyWeather
        As known today, gaps filled.
    futures : Futures
        The possible futures.
    weeks : int
        Weeks from today on for the fan.
    past_weeks : int
        Weeks before today, fewer where the weather is not known so far back.
    """
    here = futures.lookback
    before = 7 * min(past_weeks, here // 7)
    past = futures.tmean[here - before : here, 0]
    start = weather.index(futures.today)
    codes = np.stack(
        [weather.sources[name][start - before : start] for name in ("tmin", "tmax", "rain")]
    )
    ahead = 7 * min(weeks, (futures.days - here) // 7)
    coming = slice(here, here + ahead)
    past_rain = futures.rain[here - before : here, 0].reshape(-1, 7).sum(axis=1)
    members = len(futures.years)
    warmth = futures.tmean[coming].reshape(-1, 7, members).mean(axis=1)
    rain = futures.rain[coming].reshape(-1, 7, members).sum(axis=1)
    return WeatherCourse(
        futures.today - timedelta(days=before),
        futures.today,
        np.concatenate([past, futures.forecast["tmean"]]),
        (codes == Source.FILLED).any(axis=0),
        np.quantile(warmth, FAN, axis=1),
        past_rain,
        np.quantile(rain, FAN, axis=1),
        futures.known_days,
        sum(year > 0 for year in futures.years),
    )


@dataclass(frozen=True)
class FruitingRange:
    """Temperatures between which a strain class fruits. [degC]"""

    strain_class: str
    lower: float
    best_low: float
    best_high: float
    upper: float


def fruiting_range(strain_class: str, fruits: StrainRange) -> FruitingRange:
    """Return the fruiting range of a strain class."""
    return FruitingRange(
        strain_class, fruits.lower, fruits.best_low, fruits.best_high, fruits.upper
    )
