"""Possible futures: past years' weather over the coming calendar days, behind what is known.

Each member is one past year. Up to yesterday all members share what is known; through a
forecast, or from yesterday on, they part as its error grows, until each follows its own year.
Where past years are fewer than members, further ones are put together from blocks of days drawn
from them: a plan made for few futures suits their luck, and brings less in any other.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

import numpy as np
import numpy.typing as npt

from fruitcast.errors import WeatherGapError
from fruitcast.forecast.forecast_error import PERFECT, follow_on, pass_over
from fruitcast.topics import ForecastNumbers
from fruitcast.weather.daily import VARIABLES, DailyWeather, FloatArray, Source

ENOUGH_YEARS = 10
"""Fewer past years than this do not show a trustworthy range by themselves."""

LEAST_MEMBERS = 30
"""So many members at least. On held-out weather of three sites a plan made for so many left about a
point less missing than one for ten. A bound of the calculation."""

BLOCK_DAYS = 10
"""Length of the blocks that further members are put together from: a spell of weather."""

BLOCKS_SEED = 1
"""By which blocks are drawn: the weather is the same whatever seeds the luck."""

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
    forecast : mapping of str to (forecast day,) float array
        What was forecast from today on, by variable; members depart from it. NaN where today's
        own forecast is missing. [units as above]
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
    forecast: Mapping[str, FloatArray] = field(
        default_factory=lambda: {name: np.zeros(0) for name in VARIABLES}
    )
    notes: tuple[str, ...] = ()

    @property
    def known_days(self) -> int:
        """Days from today on that a forecast tells something of. [day]"""
        return len(self.forecast["tmean"])

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

    def in_columns(self, columns: npt.NDArray[np.int64], rows: int | None = None) -> Futures:
        """Return the first rows, or all, with a column for each of some members, again or not."""
        return replace(
            self,
            years=tuple(self.years[member] for member in columns.tolist()),
            **{name: getattr(self, name)[:rows, columns] for name in VARIABLES},
        )

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
    error: ForecastNumbers = PERFECT,
    members: int = LEAST_MEMBERS,
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
        Seed for who follows the forecast's rain how long.
    error : ForecastNumbers
        How wrong forecasts are; without it they are taken at their word.
    members : int
        How many at least; of a single year, however often it is given, nothing is put together.

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
    rows = np.stack([_rows(weather, today, days_ahead, year) for year in years], axis=1)
    notes: tuple[str, ...] = ()
    if len(set(years)) > 1 and len(years) < members:
        in_order = rows[:, np.argsort(years)]
        extra = _block_rows(in_order, members - len(years), today)
        if len(years) < ENOUGH_YEARS:
            notes = (
                f"Only {len(years)} past years of weather: {extra.shape[1]} more possible futures "
                "are put together from blocks of their days, so the ranges are less sure.",
            )
        rows = np.concatenate([rows, extra], axis=1)
        years = (*years, *(-1 - n for n in range(extra.shape[1])))
    past = slice(start, weather.index(today))
    told, rain_told = _forecast(weather, today, days_ahead)
    ahead = {name: weather.values[name][rows] for name in VARIABLES}
    if len(rain_told):
        ahead = pass_over(told, rain_told, ahead, _thresholds(years, seed), error)
    elif lookback and error.persistence:
        mean = weather.values["tmean"]
        yesterday = float(mean[weather.index(today) - 1])
        before = mean[np.maximum(rows[0] - 1, 0)]
        ahead = follow_on(yesterday, before, ahead, error.persistence)
    table = {
        name: np.concatenate(
            [np.repeat(weather.values[name][past, None], len(years), axis=1), ahead[name]]
        )
        for name in VARIABLES
    }
    return Futures(today, lookback, years, forecast=told, notes=notes, **table)


def _rows(weather: DailyWeather, today: date, days: int, year: int) -> npt.NDArray[np.int64]:
    begin = same_day_in(today, year)
    rows = weather.index(begin) + np.arange(days)
    if rows[0] < 0 or rows[-1] >= weather.index(today):
        raise WeatherGapError(
            f"{weather.origin}: the weather of {year} does not cover the {days} days from "
            f"{begin}. Leave that year out."
        )
    return rows


def _forecast(
    weather: DailyWeather, today: date, days_ahead: int
) -> tuple[dict[str, FloatArray], npt.NDArray[np.bool_]]:
    """Return what is forecast from today on, and on which of those days rain is.

    A forecast fetched during the day begins tomorrow: of today then only the temperature counts,
    where it was put in between yesterday's and tomorrow's.
    """
    first = weather.index(today)
    codes = np.stack([weather.sources[name][first:] for name in ("tmin", "tmax", "rain")])
    forecast = (codes == Source.FORECAST).all(axis=0)
    run = forecast.copy()
    if len(run) > 1 and run[1] and not run[0]:
        run[0] = bool(np.isin(codes[:2, 0], (Source.FILLED, Source.FORECAST)).all())
    days = min(len(run) if run.all() else int(np.argmin(run)), days_ahead)
    span = slice(first, first + days)
    return {name: weather.values[name][span] for name in VARIABLES}, forecast[:days]


def _thresholds(years: tuple[int, ...], seed: int) -> FloatArray:
    """Return evenly spread numbers from 0 to 1, one for each member, fixed by seed and years."""
    drawn = np.array([uniform(f"{seed}|forecast|{year}") for year in years])
    return np.asarray((np.argsort(np.argsort(drawn)) + 0.5) / len(years))


def _block_rows(rows: npt.NDArray[np.int64], count: int, today: date) -> npt.NDArray[np.int64]:
    """Return further members: at each block of days, the days of one year drawn at random.

    Blocks stand on the calendar, so that planning on another day draws the same years.
    """
    days, years = rows.shape
    block = (today.toordinal() + np.arange(days)) // BLOCK_DAYS
    drawn = [
        [uniform(f"{BLOCKS_SEED}|block|{member}|{b}") for member in range(count)]
        for b in range(int(block[0]), int(block[-1]) + 1)
    ]
    chosen = (np.array(drawn) * years).astype(np.int64)[block - block[0]]
    return np.take_along_axis(rows, chosen, axis=1)


def uniform(key: str) -> float:
    """Return a number from 0 to below 1 that is fixed by the key."""
    word = hashlib.blake2b(key.encode(), digest_size=8).digest()
    return (int.from_bytes(word) >> 11) / (1 << 53)
