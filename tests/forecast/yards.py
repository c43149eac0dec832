"""Small yards for the tests of the forecast, and the sample yard as the planner sees it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time
from functools import cache
from pathlib import Path
from typing import Literal
from zoneinfo import ZoneInfo

import numpy as np

from fruitcast.app.demo import TODAY as SAMPLE_DAY
from fruitcast.app.demo import sample_folder
from fruitcast.app.known import KnownYard
from fruitcast.diary.state import StackState, YardState
from fruitcast.diary.state_from_diary import yard_state
from fruitcast.diary.tables import import_csv
from fruitcast.forecast.learned import YardLearning, nothing_learned
from fruitcast.forecast.outlook import YardOutlook, days_ahead, outlook
from fruitcast.forecast.parts import Luck
from fruitcast.numbers import Numbers, default_numbers
from fruitcast.soaks.soak_days import soak_dates
from fruitcast.weather.daily import DailyWeather
from fruitcast.weather.known import known_weather
from fruitcast.yard.model import Outlet, Site, Soaking, Stack, WeatherSource, Yard
from fruitcast.yard.reading import read_yard
from tests.weather.invented import invented_weather, sample_weather

NUMBERS = default_numbers()
UNTAUGHT: Literal["nothing"] = "nothing"
TODAY = date(2027, 5, 3)
WEEKS = 12


def stack(name: str = "A", inoculated: date = date(2025, 4, 5), **changes) -> Stack:
    row = Stack(name, "wide-range", "", "red oak", 24, 0.125, 1.0, inoculated, "sawdust")
    return replace(row, **changes)


def yard(*stacks: Stack, latitude: float = 42.6, **changes) -> Yard:
    made = Yard(
        folder=Path("/nowhere"),
        name="Larkspur Hollow",
        units="metric",
        site=Site(latitude, -73.4, 240.0, ZoneInfo("America/New_York"), 0.8),
        weather=WeatherSource(None, None, 30),
        soaking=Soaking((1, 4), 60, time(8), (4, 15), (10, 20), None),
        keep_above=0.35,
        cold_store_days=10,
        saleable=0.85,
        promise=0.8,
        outlets=(Outlet("Saturday market", 5, 3.0, None, None, None, 1.0, frozenset()),),
        orders=(),
        away=(),
        stacks=stacks or (stack(),),
    )
    return replace(made, **changes)


def state_of(yard: Yard, *states: StackState) -> YardState:
    given = {state.name: state for state in states}
    stacks = {s.name: given.get(s.name, StackState(s.name, s.logs)) for s in yard.stacks}
    return YardState(stacks=stacks, lot_of={s.name: s.name for s in yard.stacks})


@cache
def years_of_weather() -> DailyWeather:
    """Sixteen years of invented weather, up to the day before `TODAY`."""
    return invented_weather(date(2011, 1, 1), date(2027, 5, 2), seed=5)


def known(
    yard: Yard,
    *states: StackState,
    today: date = TODAY,
    weather: DailyWeather | None = None,
    weeks: int = WEEKS,
    numbers: Numbers = NUMBERS,
) -> KnownYard:
    table, years = known_weather(
        weather or years_of_weather(),
        today,
        days_ahead(weeks, tail_days=numbers.schedule.tail_days),
        {},
    )
    return KnownYard(today, yard, state_of(yard, *states), table, years, numbers, ())


def look(
    yard: Yard,
    *states: StackState,
    today: date = TODAY,
    weather: DailyWeather | None = None,
    weeks: int = WEEKS,
    seed: int = 1,
    numbers: Numbers = NUMBERS,
    years: tuple[int, ...] | None = None,
    learned: YardLearning | Literal["nothing"] | None = None,
    before: YardOutlook | None = None,
) -> YardOutlook:
    """The outlook of a yard."""
    now = known(yard, *states, today=today, weather=weather, weeks=weeks, numbers=numbers)
    return outlook(
        yard,
        now.state,
        now.weather,
        today,
        now.years if years is None else years,
        soak_dates(yard, today, weeks),
        weeks=weeks,
        seed=seed,
        numbers=numbers,
        learned=nothing_learned(today, yard.site, numbers.spread)
        if learned == UNTAUGHT
        else learned,
        before=before,
    )


@cache
def sample_known(weeks: int = 26) -> KnownYard:
    """The sample yard with its diary and its invented weather."""
    yard = read_yard(sample_folder(), SAMPLE_DAY)
    events = import_csv((sample_folder() / "diary.csv").read_bytes(), "diary.csv")
    state = yard_state(yard, events, SAMPLE_DAY)
    weather, years = known_weather(
        sample_weather(),
        SAMPLE_DAY,
        days_ahead(weeks, tail_days=NUMBERS.schedule.tail_days),
        state.rain_gauge,
    )
    years = years[-yard.weather.years :]
    return KnownYard(SAMPLE_DAY, yard, state, weather, years, NUMBERS, ())


def luck(members: int, fails: float = 0.0) -> Luck:
    """Usual luck without anything shared."""
    return Luck(np.ones(members), 0.33, 0.13, 0.0, fails)
