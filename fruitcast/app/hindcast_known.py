"""What is known on each morning of a season lived through with a past year's weather."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

import numpy as np

from fruitcast.app.choosing import DEFAULT_SEED
from fruitcast.app.known import DEFAULT_WEEKS, KnownYard
from fruitcast.forecast.forecast_error import PERFECT, USUAL_DAYS
from fruitcast.forecast.members import make_futures, uniform
from fruitcast.forecast.outlook import days_ahead
from fruitcast.hindcast.diary import SimulatedYard, SoakDone
from fruitcast.hindcast.policies import PathDates
from fruitcast.hindcast.truth import Truth
from fruitcast.soaks.search import QUICK, SearchParams
from fruitcast.topics import ForecastNumbers
from fruitcast.weather.daily import DailyWeather, Source, same_day

PLAN, NINE_WEEK, SENSIBLE, BY_HAND, WEATHER, FORESIGHT = POLICIES = (
    "plan",
    "nine-week rotation",
    "sensible rotation",
    "rule of hand",
    "weather foresight",
    "perfect foresight",
)
"""Weather foresight is the planner with a perfect forecast of the whole season; perfect foresight
knows lead times and yields too, scatter and all."""

LEAP_DAYS = 2
"""Days by which a past year's days may slip against the calendar. [day]"""


@dataclass(frozen=True)
class HindcastParams:
    """How a season is lived through.

    Attributes
    ----------
    weeks : int
        Length of the season. [week]
    seed : int
        Seed of the plans.
    forecast_days : int
        Days of weather ahead that a forecast tells, as wrong as the numbers say. [day]
    truth : Truth
        How the true season differs from what the planner believes.
    search : SearchParams
        How long to search each week.
    foresight : SearchParams
        How long the one who knows all searches, once.
    learning : bool
        Whether the planner goes on learning from what is picked; else it keeps to what the
        diary had taught it when the season began.
    policies : tuple of str
        Who is to live through the season, of `POLICIES`.
    """

    weeks: int = DEFAULT_WEEKS
    seed: int = DEFAULT_SEED
    forecast_days: int = 0
    truth: Truth = field(default_factory=Truth)
    search: SearchParams = QUICK
    foresight: SearchParams = field(default_factory=SearchParams)
    learning: bool = True
    policies: tuple[str, ...] = POLICIES


def season_days(weeks: int, *, tail_days: float) -> int:
    """Return how many days from today past years must have weather for. [day]"""
    return days_ahead(weeks, tail_days=tail_days) + LEAP_DAYS


def with_sure_forecast(known: KnownYard) -> KnownYard:
    """Return the same knowledge of one whose forecasts are never wrong."""
    return replace(known, numbers=replace(known.numbers, forecast=PERFECT))


def known_in(
    known: KnownYard,
    true: SimulatedYard,
    done: Sequence[SoakDone],
    published: PathDates,
    week: int,
    params: HindcastParams,
) -> KnownYard:
    """Return what is known on the first morning of a week of the true season."""
    day = known.today + timedelta(days=7 * week)
    soaked = {soak.stack: soak.soak.on for soak in done}
    coming = {
        stack: next((on for on in dates if on > soaked.get(stack, date.min)), None)
        for stack, dates in published.items()
    }
    later = day.year - known.today.year
    ahead = min(
        params.forecast_days,
        season_days(params.weeks, tail_days=known.numbers.schedule.tail_days) - 7 * week,
    )
    weather = weather_by(known.weather, known.today, true.season.year, day, ahead)
    years = tuple(year + later for year in known.years if year != true.season.year)
    error = known.numbers.forecast
    return replace(
        known,
        today=day,
        state=true.state_on(done, {s: on for s, on in coming.items() if on}, day),
        weather=as_forecast(weather, day, years, ahead, error, params.truth.seed),
        years=years,
    )


def as_forecast(
    weather: DailyWeather,
    today: date,
    years: tuple[int, ...],
    days: int,
    error: ForecastNumbers,
    seed: int,
) -> DailyWeather:
    """Return the weather with a forecast that is as wrong as forecasts are.

    What is forecast and what comes depart from one another alike whichever is the given one: so
    the forecast is one of the possible futures of a planner who was told the truth.

    Parameters
    ----------
    weather : DailyWeather
        What was, and what will truly be in its last days.
    today : date
        The first of these days.
    years : tuple of int
        Past years to take the errors from.
    days : int
        How many days are forecast. [day]
    error : ForecastNumbers
        How wrong forecasts are.
    seed : int
        Of the season that comes true.
    """
    if not days or error == PERFECT:
        return weather
    futures = make_futures(
        weather, today, years, lookback=0, days_ahead=max(days, USUAL_DAYS), seed=seed, error=error
    )
    drawn = int(uniform(f"{seed}|forecast made on {today}") * len(futures.years))
    values = {name: column.copy() for name, column in weather.values.items()}
    for name, column in values.items():
        column[weather.index(today) :] = getattr(futures, name)[:days, drawn]
    return replace(weather, values=values)


def weather_by(
    weather: DailyWeather, today: date, year: int, day: date, forecast_days: int
) -> DailyWeather:
    """Return the weather known on a day of the season with a past year's weather.

    Parameters
    ----------
    weather : DailyWeather
        Complete up to the day before `today`.
    today : date
        First day of the season.
    year : int
        The past year, whose days follow on from then.
    day : date
        The day of planning.
    forecast_days : int
        Days from then on that a perfect forecast tells. [day]
    """
    past = weather.cut(weather.start, today)
    begin = weather.index(same_day(today, year))
    rows = begin + np.arange((day - today).days + forecast_days)
    values = {
        name: np.concatenate([past.values[name], column[rows]])
        for name, column in weather.values.items()
    }
    sources = {
        name: np.concatenate([past.sources[name], codes[rows]])
        for name, codes in weather.sources.items()
    }
    for codes in sources.values():
        codes[len(codes) - forecast_days :] = Source.FORECAST
    return replace(past, values=values, sources=sources)
