"""The sample yard as of its day, and the same place hotter, with programmes made once."""

from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path
from unittest import mock

from fruitcast.diary.state import StackState, YardState
from fruitcast.forecast.outlook import days_ahead, outlook
from fruitcast.inoculation import build
from fruitcast.inoculation.problem import Asked
from fruitcast.inoculation.programme import (
    OUTLOOK_WEEKS,
    available_kinds,
    plan_programme,
)
from fruitcast.numbers import default_numbers
from fruitcast.weather.formats import read_weather_file
from fruitcast.weather.known import known_weather
from fruitcast.yard.model import Costs
from fruitcast.yard.reading import read_yard
from tests.weather.invented import Climate, invented_weather

NUMBERS = default_numbers()
TODAY = date(2027, 5, 3)
SAMPLE = Path(__file__).parents[2] / "sample_data"


@cache
def sample_yard():
    return read_yard(SAMPLE)


@cache
def sample_weather():
    weather = read_weather_file(SAMPLE / "weather.csv")
    return known_weather(
        weather, TODAY, days_ahead(OUTLOOK_WEEKS, tail_days=NUMBERS.schedule.tail_days), {}
    )


@cache
def long_weather(warmer=0.0):
    """Thirty-three invented years: thirty weather members and more."""
    climate = Climate(mean=Climate.mean + warmer)
    weather = invented_weather(date(1994, 1, 1), date(2027, 5, 2), seed=11, climate=climate)
    return known_weather(
        weather, TODAY, days_ahead(OUTLOOK_WEEKS, tail_days=NUMBERS.schedule.tail_days), {}
    )


def fresh_state(yard):
    """A diary without an entry."""
    stacks = {stack.name: StackState(stack.name, stack.logs) for stack in yard.stacks}
    return YardState(stacks, {name: name for name in stacks})


def outlook_of(yard, weather=None, numbers=NUMBERS):
    known, years = weather or sample_weather()
    return outlook(
        *(yard, fresh_state(yard), known, TODAY, years, ()),
        weeks=OUTLOOK_WEEKS,
        seed=1,
        numbers=numbers,
    )


def programme(yard, weather=None, kinds=None, numbers=NUMBERS, **options):
    known, _ = weather or sample_weather()
    return plan_programme(
        outlook_of(yard, weather, numbers),
        known,
        Asked(
            **{
                "kinds": available_kinds(yard) if kinds is None else kinds,
                "outlets": yard.outlets,
                "wanted_from": TODAY,
                "chance": yard.promise,
                **options,
            }
        ),
        numbers=numbers,
    )


@cache
def sample_programme():
    return programme(sample_yard(), chance=0.8)


@cache
def without_inoculation():
    with few_scenarios():
        return programme(sample_yard(), inoculate=False)


def few_scenarios():
    """Let a programme look at few weather years, so that it is made in a second."""
    return mock.patch.multiple(build, SCENARIOS=3, LEAST_SCENARIOS=2, SALE_WEEKS=300)


@cache
def quick_yard():
    """The sample yard's oaks of one class only, with the market alone."""
    yard = sample_yard()
    return replace(
        yard,
        stacks=tuple(s for s in yard.stacks if s.name in ("D", "G")),
        outlets=yard.outlets[:1],
        orders=(),
        weather=replace(yard.weather, years=10),
        costs=Costs(log=2.0, plug=0.03, wage=20.0),
    )


def quick(yard=None, kinds=None, **options):
    """A programme of that yard, or of one like it, over few weather years."""
    with few_scenarios():
        return programme(yard or quick_yard(), kinds=kinds or quick_kinds(), **options)


@cache
def quick_programme():
    return quick(years=2, chance=0.5)


def quick_kinds():
    return [
        replace(kind, spawn="plug")
        for kind in available_kinds(quick_yard())
        if (kind.strain_class, kind.wood) == ("wide-range", 0)
    ]
