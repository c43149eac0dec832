"""Possible futures: past years' weather over the coming calendar days, behind what is known.

Each member is one past year. Up to yesterday, and through the forecast, all members share
what is known; from there each follows its own year. With few past years, further members
are put together from blocks of days drawn from them.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import numpy.typing as npt

from fruitcast.errors import WeatherGapError
from fruitcast.weather.daily import VARIABLES, DailyWeather, FloatArray, Source

ENOUGH_YEARS = 10
"""Fewer past years than this do not show a trustworthy range by themselves."""

BLOCK_DAYS = 10
"""Length of the blocks that further members are put together from: a spell of weather."""

AFTER_LAST_PICK_DAYS = 45
"""Days looked at past the last outlet day, so that late picks are seen to come."""


@dataclass(frozen=True)
class Futures:
    """Daily weather of every member, from some days before today to the last day looked at.

    Attributes
    ----------
    today : date
        The first day not known.
    lookback : int
        Days before today; row `lookback` is today.
    years : tuple of int
        The weather year of each member; made-up members count down from -1.
    tmin, tmax, tmean, rain, rh : (day, member) float array
        [degC, degC, degC, mm/day, %]; `rh` may be NaN.
    known_days : int
        Days from today on which all members follow the forecast.
    notes : tuple of str
        What the grower should know of them.
    """

    today: date
    lookback: int
    years: tuple[int, ...]
    tmin: FloatArray
    tmax: FloatArray
    tmean: FloatArray
    rain: FloatArray
    rh: FloatArray
    known_days: int
    notes: tuple[str, ...] = ()

    @property
    def days(self) -> int:
        """Number of rows."""
        return len(self.tmean)

    @property
    def first(self) -> date:
        """Date of the first row."""
        return self.today - timedelta(days=self.lookback)

    @property
    def day_of_year(self) -> npt.NDArray[np.int64]:
        """Day of the year of each row. [day]"""
        return day_of_year(self.first, self.days)

    def date(self, row: int) -> date:
        """Return the date of a row."""
        return self.first + timedelta(days=row)


def day_of_year(first: date, days: int) -> npt.NDArray[np.int64]:
    """Return the day of the year of each day of a run. [day]"""
    run = np.datetime64(first, "D") + np.arange(days)
    new_year = run.astype("datetime64[Y]").astype("datetime64[D]")
    return np.asarray((run - new_year).astype(np.int64) + 1)


def same_day_in(day: date, year: int) -> date:
    """Return a calendar day in another year; 29 February becomes 28 where there is none."""
    try:
        return day.replace(year=year)
    except ValueError:
        return day.replace(year=year, day=28)


def make_futures(
    weather: DailyWeather,
    today: date,
    years: tuple[int, ...],
    *,
    lookback: int,
    days_ahead: int,
    seed: int,
) -> Futures:
    """Return the possible futures of a site.

    Parameters
    ----------
    weather : DailyWeather
        Complete up to yesterday and in the days of `years`; later rows only where they are
        a forecast.
    today : date
        The first day not known.
    years : tuple of int
        Past years to follow, one member each.
    lookback : int
        Known days before today to put in front. [day]
    days_ahead : int
        Days from today. [day]
    seed : int
        Seed for members put together from blocks.

    Raises
    ------
    WeatherGapError
        If the weather does not reach back far enough or to yesterday.
    """
    start = weather.index(today) - lookback
    if start < 0 or weather.index(today) > weather.days:
        raise WeatherGapError(
            f"{weather.origin}: the weather runs from {weather.start} to {weather.end}; planning "
            f"on {today} needs it from {today - timedelta(days=lookback)} to "
            f"{today - timedelta(days=1)}. Add the missing days or choose another day with --today."
        )
    known = _known_days(weather, today, days_ahead)
    rows = np.stack([_rows(weather, today, days_ahead, year) for year in years], axis=1)
    notes: tuple[str, ...] = ()
    if len(years) < ENOUGH_YEARS:
        extra = _block_rows(rows, ENOUGH_YEARS - len(years), today, seed)
        notes = (
            f"Only {len(years)} past years of weather: {extra.shape[1]} more possible futures are "
            "put together from blocks of their days, so the ranges are less sure.",
        )
        rows = np.concatenate([rows, extra], axis=1)
        years = (*years, *(-1 - n for n in range(extra.shape[1])))
    here = weather.index(today)
    rows[:known] = here + np.arange(known)[:, None]
    past = np.repeat(np.arange(start, here)[:, None], len(years), axis=1)
    every = np.concatenate([past, rows])
    table = {name: weather.values[name][every] for name in VARIABLES}
    return Futures(today, lookback, years, known_days=known, notes=notes, **table)


def _rows(weather: DailyWeather, today: date, days: int, year: int) -> npt.NDArray[np.int64]:
    begin = same_day_in(today, year)
    rows = weather.index(begin) + np.arange(days)
    if rows[0] < 0 or rows[-1] >= weather.index(today):
        raise WeatherGapError(
            f"{weather.origin}: the weather of {year} does not cover the {days} days from "
            f"{begin}. Leave that year out."
        )
    return rows


def _known_days(weather: DailyWeather, today: date, days_ahead: int) -> int:
    first = weather.index(today)
    codes = np.stack([weather.sources[name][first:] for name in ("tmin", "tmax", "rain")])
    forecast = (codes == Source.FORECAST).all(axis=0)
    run = len(forecast) if forecast.all() else int(np.argmin(forecast))
    return min(run, days_ahead)


def _block_rows(
    rows: npt.NDArray[np.int64], count: int, today: date, seed: int
) -> npt.NDArray[np.int64]:
    """Return further members: at each block of days, the days of one year drawn at random.

    Blocks stand on the calendar, so that planning on another day draws the same years.
    """
    days, years = rows.shape
    block = (today.toordinal() + np.arange(days)) // BLOCK_DAYS
    drawn = [
        [_uniform(f"{seed}|block|{member}|{b}") for member in range(count)]
        for b in range(int(block[0]), int(block[-1]) + 1)
    ]
    chosen = (np.array(drawn) * years).astype(np.int64)[block - block[0]]
    return np.take_along_axis(rows, chosen, axis=1)


def _uniform(key: str) -> float:
    """Return a number from 0 to below 1 that is fixed by the key."""
    word = hashlib.blake2b(key.encode(), digest_size=8).digest()
    return (int.from_bytes(word) >> 11) / (1 << 53)
