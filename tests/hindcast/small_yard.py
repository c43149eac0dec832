"""A small yard under invented weather, quick enough to live through seasons in a test."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from functools import lru_cache

from fruitcast.app.hindcast import HindcastParams, season_days
from fruitcast.app.known import KnownYard
from fruitcast.numbers import default_numbers
from fruitcast.soaks.search import SearchParams
from fruitcast.weather.known import known_weather
from tests.benchmarks.yards import invented_yard
from tests.weather.invented import invented_weather

TODAY = date(2018, 5, 1)
QUICK = SearchParams(moves=1000, moves_a_stack=0)
PARAMS = HindcastParams(weeks=10, search=QUICK, foresight=QUICK)


@lru_cache(maxsize=4)
def small_yard(stacks: int = 5, weeks: int = PARAMS.weeks) -> KnownYard:
    """Return what is known of a yard of a few stacks on the first day of its season."""
    numbers = default_numbers()
    yard, state = invented_yard(stacks, logs_per_pound_a_week=45, tank_share=0.5)
    weather = invented_weather(date(2004, 1, 1), date(2018, 4, 30), seed=5)
    weather, years = known_weather(
        weather, TODAY, season_days(weeks, tail_days=numbers.schedule.tail_days), {}
    )
    return KnownYard(TODAY, yard, state, weather, years, numbers, ())


def with_yard(known: KnownYard, **changes: object) -> KnownYard:
    """Return the same with settings of the yard changed."""
    return replace(known, yard=replace(known.yard, **changes))  # type: ignore[arg-type]
