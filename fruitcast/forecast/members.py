"""Possible futures: past years' weather behind what is known, and what a forecast is worth.

Each member is one past year. As far as anything is known all members share it, mostly up to
yesterday; through a forecast, or from there on, they part as its error grows, until each follows
its own year.
Where past years are fewer than members, further ones are put together from blocks of days drawn
from them: a plan made for few futures suits their luck, and brings less in any other.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from typing import Any

import numpy as np

from fruitcast.arrays import BoolArray, FloatArray, IntArray
from fruitcast.errors import WeatherGapError
from fruitcast.topics import ForecastNumbers
from fruitcast.weather.daily import VARIABLES, DailyWeather, Source, awaited_days, same_day
from fruitcast.weather.known import ENOUGH_YEARS

# How a weather forecast passes over into past years: day by day ahead it is worth less.
#
# A forecast's departure from what is usual keeps only the share that such forecasts have been
# right about; what stays open is filled with each past year's own departure, so that errors last
# for days as weather does, and a member that knows nothing more of the forecast is its past year.
# Where the forecast ends its last departure fades out over some days, and where there is none
# that of yesterday does, from its past year in each member.
#
# With a usual value c, spread s and skill r, a day is c + r (forecast - c) + sqrt(1 - r^2) (past
# year - c): where forecasts depart as widely as years do, its spread is s at every lead. Rain has
# no such middle. A share of the members has the forecast's rain, the others that of their year;
# each turns from the one to the other once.


USUAL_DAYS = 31
"""What is usual is a straight line through the past years' first days ahead. Judgement. [day]"""

LEAST_SKILL = 0.02
"""A forecast worth less than this is left out. A bound of the calculation."""


PERFECT = ForecastNumbers()
"""Forecasts are taken at their word."""


def temperature_skill(days: int, spread: float, error: ForecastNumbers) -> FloatArray:
    """Return the correlation of a forecast with what comes, day by day from today on.

    1 where there is no error, 0 where it is as wide as the spread of daily means about what is
    usual, their standard deviation. [degC]
    """
    off = error.temperature_error + error.temperature_growth * np.arange(days)
    share = np.where(off > 0, off / max(spread, 1e-9), 0.0)
    return np.asarray(np.sqrt(1.0 - np.minimum(share, 1.0) ** 2))


def rain_skill(days: int, error: ForecastNumbers) -> FloatArray:
    """Return the share of the members that have the forecast's rain, day by day from today on."""
    return np.asarray(1.0 - np.minimum(error.rain_error + error.rain_growth * np.arange(days), 1.0))


def pass_over(
    told: Mapping[str, FloatArray],
    rain_told: BoolArray,
    years: Mapping[str, FloatArray],
    threshold: FloatArray,
    error: ForecastNumbers,
) -> dict[str, FloatArray]:
    """Return every member's weather: the forecast, ever less of it, then its past year.

    By variable, (day, member), as in `Ensemble`. `told` is the forecast, (forecast day,), and
    `rain_told` the days whose rain it tells: elsewhere rain and humidity are the past year's.
    `years` has each member's past year over the days from today on, (day, member). A member has the
    forecast's rain while the share that has it is above its threshold, (member,), evenly spread
    from 0 to 1.
    """
    known, days = len(told["tmean"]), len(years["tmean"])
    if not known or not days:
        return {name: column.copy() for name, column in years.items()}
    usual, spread = _usual(years["tmean"])
    skill = temperature_skill(days, spread, error)
    fade = error.persistence ** np.maximum(np.arange(days) - known + 1, 0)
    skill = skill * np.where(np.arange(days) < known, 1.0, fade)
    used = skill >= LEAST_SKILL
    wet = rain_skill(known, error)
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

    `before` is the same day's mean temperature in each member's past year, (member,) [degC],
    `years` as in `pass_over`; of a departure a share lasts for a day, `persistence`.
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


# Possible futures: past years' weather over the coming calendar days, behind what is known.

LEAST_MEMBERS = 30
"""So many members at least. On held-out weather of three sites a plan made for so many left about a
point less missing than one for ten. A bound of the calculation."""

BLOCK_DAYS = 10
"""Length of the blocks that further members are put together from: a spell of weather."""

BLOCKS_SEED = 1
"""By which blocks are drawn: the weather is the same whatever seeds the luck."""

AFTER_LAST_PICK_DAYS = 45
"""Days looked at past the last outlet day, so that late picks are seen to come."""


Day = date  # which `Ensemble` has a method of


@dataclass(frozen=True)
class Ensemble:
    """Daily weather of every member, from some days before today to the last day looked at."""

    today: date  # the first day not over
    lookback: int  # days before today; row `lookback` is today
    years: tuple[int, ...]  # the weather year of each member; made-up members count down from -1
    # tmin, tmax, tmean, rain, rh, (day, member): [degC, degC, degC, mm/day, %]; `rh` may be NaN
    tmin: FloatArray
    tmax: FloatArray
    tmean: FloatArray
    rain: FloatArray
    rh: FloatArray
    # What was forecast from today on, by variable; members depart from it. NaN where today's own
    # forecast is missing. [units as above]
    forecast: Mapping[str, FloatArray] = field(
        default_factory=lambda: {name: np.zeros(0) for name in VARIABLES}
    )
    notes: tuple[str, ...] = ()  # what the grower should know of them
    late: int = 0  # days before today that nobody knows yet: members differ in them [day]

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
    def day_of_year(self) -> IntArray:
        """Day of the year of each row. [day]"""
        return day_of_year(self.first, self.days)

    def date(self, row: int) -> date:
        """Return the date of a row."""
        return self.first + timedelta(days=row)

    def row(self, day: Day) -> int:
        """Return the row of a date, which may lie outside."""
        return (day - self.first).days

    def looking(self, days: int) -> Ensemble:
        """Return the same, looking no more than so many days ahead."""
        if self.lookback + days >= self.days:
            return self
        table: dict[str, Any] = {
            name: getattr(self, name)[: self.lookback + days] for name in VARIABLES
        }
        told = {name: values[:days] for name, values in self.forecast.items()}
        return replace(self, forecast=told, **table)


def day_of_year(first: date, days: int) -> IntArray:
    """Return the day of the year of each day of a run. [day]"""
    run = np.datetime64(first, "D") + np.arange(days)
    new_year = run.astype("datetime64[Y]").astype("datetime64[D]")
    return np.asarray((run - new_year).astype(np.int64) + 1)


def make_futures(
    weather: DailyWeather,
    today: date,
    years: tuple[int, ...],
    *,
    lookback: int,
    days_ahead: int,
    seed: int,
    error: ForecastNumbers = PERFECT,
) -> Ensemble:
    """Return the possible futures of a site: so many days ahead, and some before today.

    The weather is complete up to yesterday and in the days of the past `years`, which one member
    each follows; later rows only where they are a forecast. Late days marked as awaited each member
    has from its own year. The seed is for who follows the forecast's rain how long. Raises
    WeatherGapError if the weather does not reach back far enough or to yesterday.
    """
    start = weather.index(today) - lookback
    if start < 0 or weather.index(today) > weather.days:
        raise WeatherGapError(
            f"{weather.origin}: the weather runs from {weather.start} to {weather.end}; planning "
            f"on {today} needs it from {today - timedelta(days=lookback)} to "
            f"{today - timedelta(days=1)}. Add the missing days or choose another day with --today."
        )
    late = min(awaited_days(weather, today), lookback)
    rows = np.stack([_rows(weather, today, days_ahead, year, late) for year in years], axis=1)
    notes: tuple[str, ...] = ()
    if len(set(years)) > 1 and len(years) < LEAST_MEMBERS:
        in_order = rows[:, np.argsort(years)]
        first = today - timedelta(days=late)
        extra = _block_rows(in_order, LEAST_MEMBERS - len(years), first)
        if len(years) < ENOUGH_YEARS:
            notes = (
                f"Only {len(years)} past years of weather: {extra.shape[1]} more possible futures "
                "are put together from blocks of their days, so the ranges are less sure.",
            )
        rows = np.concatenate([rows, extra], axis=1)
        years = (*years, *(-1 - n for n in range(extra.shape[1])))
    known = weather.index(today) - late
    past = slice(start, known)
    told, rain_told = _forecast(weather, today, days_ahead)
    ahead = {name: weather.values[name][rows] for name in VARIABLES}
    if lookback > late and error.persistence and (late or not len(rain_told)):
        mean = weather.values["tmean"]
        before = mean[np.maximum(rows[0] - 1, 0)]
        ahead = follow_on(float(mean[known - 1]), before, ahead, error.persistence)
    since = {name: values[:late] for name, values in ahead.items()}
    if len(rain_told):
        ahead = {name: weather.values[name][rows[late:]] for name in VARIABLES}
        ahead = pass_over(told, rain_told, ahead, _thresholds(years, seed), error)
    else:
        ahead = {name: values[late:] for name, values in ahead.items()}
    table = {
        name: np.concatenate(
            [
                np.repeat(weather.values[name][past, None], len(years), axis=1),
                _as_far_as_known(weather, name, known, since[name]),
                ahead[name],
            ]
        )
        for name in VARIABLES
    }
    return Ensemble(today, lookback, years, forecast=told, notes=notes, late=late, **table)


def _as_far_as_known(weather: DailyWeather, name: str, first: int, own: FloatArray) -> FloatArray:
    """Return each member's own values of late days, (day, member), with what is known of them."""
    span = slice(first, first + len(own))
    told = weather.values[name][span, None]
    unknown = np.isnan(told) | (weather.sources[name][span, None] == Source.AWAITED)
    return np.where(unknown, own, told)


def _rows(weather: DailyWeather, today: date, days: int, year: int, late: int) -> IntArray:
    begin = same_day(today, year)
    rows = weather.index(begin) + np.arange(-late, days)
    if rows[late] < 0 or rows[-1] >= weather.index(today):
        raise WeatherGapError(
            f"{weather.origin}: the weather of {year} does not cover the {days} days from "
            f"{begin}. Leave that year out."
        )
    return np.maximum(rows, 0)


def _forecast(
    weather: DailyWeather, today: date, days_ahead: int
) -> tuple[dict[str, FloatArray], BoolArray]:
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


def _block_rows(rows: IntArray, count: int, today: date) -> IntArray:
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
