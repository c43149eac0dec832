"""Yards drawn at random at three sites with real daily weather, and what is true of them.

The weather comes with the package aquacrop (aquacrop/data/NAME_climate.txt), read from the
installed package: Champion in Nebraska, Brussels, Northumberland.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, time, timedelta
from functools import cache
from math import ceil
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from fruitcast.app.known import KnownYard
from fruitcast.diary.state import StackState, YardState
from fruitcast.numbers import default_numbers
from fruitcast.weather.daily import DailyWeather, same_day
from fruitcast.weather.formats import read_weather_file
from fruitcast.weather.known import known_weather
from fruitcast.yard.model import Outlet, Site, Soaking, Stack, WeatherSource, Yard
from tests.requires import need_file

LATITUDES = {"champion": 40.4, "brussels": 50.8, "northumberland": 55.2}
SITES = tuple(LATITUDES)
LAST_YEARS = {"champion": 2018, "brussels": 2005, "northumberland": 2021}

CLASSES = ("wide-range", "warm-weather", "cold-weather")
HOW_MANY = (0.6, 0.25, 0.15)
TREES = ("red oak", "white oak", "sugar maple", "beech", "red maple", "sweetgum")
SIZES = (0.1, 0.125, 0.15)

YEAR_DAYS = 365


@dataclass(frozen=True)
class Drawn:
    """A yard on the first day of its first season, and the weather of the two to come.

    Attributes
    ----------
    known : KnownYard
        What is known; its years without the two held out.
    held_out : (int, int)
        Past years whose weather comes true in the first season and in the second.
    """

    known: KnownYard
    held_out: tuple[int, int]


@cache
def weather_of(site: str) -> DailyWeather:
    return read_weather_file(need_file("aquacrop", f"data/{site}_climate.txt"))


def drawn_yard(site: str, number: int, *, ahead: int, members: int) -> Drawn:
    """Return a yard: 5 to 20 stacks of any class, tree, size and age, nothing written down yet.

    Parameters
    ----------
    site : str
        One of `SITES`.
    number : int
        Which yard of that site.
    ahead : int
        Days for which each past year must have weather. [day]
    members : int
        Past years that stand for the possible futures, at most.
    """
    random = np.random.default_rng([SITES.index(site), number])
    year = LAST_YEARS[site]
    today = date(year, 4, 1) + timedelta(days=int(random.integers(14, 31)))
    rows = [_stack(f"S{n + 1}", year, random) for n in range(int(random.integers(5, 21)))]
    logs = sum(row.logs for row in rows)
    weekly = logs / float(random.uniform(55, 100)) * 0.45359237
    share = float(random.uniform(0.5, 0.8))
    days = tuple(int(day) for day in np.sort(random.permutation(5)[: random.integers(1, 4)]))
    yard = Yard(
        folder=Path("/nowhere"),
        name="Larkspur Hollow",
        units="metric",
        site=Site(LATITUDES[site], 0.0, 150.0, ZoneInfo("UTC"), float(random.uniform(0.7, 0.9))),
        weather=WeatherSource(None, None, 30),
        soaking=Soaking(
            days,
            max(40, ceil(logs * float(random.uniform(0.1, 0.25)))),
            time(8),
            (4, 15),
            (10, 20),
            None,
        ),
        keep_above=0.35,
        cold_store_days=int(random.integers(6, 12)),
        saleable=float(random.uniform(0.8, 0.95)),
        promise=0.8,
        outlets=(
            Outlet("Saturday market", 5, share * weekly, (5, 1), (10, 31), None, 1.0, frozenset()),
            Outlet(
                "Village shop", 2, (1 - share) * weekly, (5, 1), (10, 31), None, 1.0, frozenset()
            ),
        ),
        orders=(),
        away=(),
        stacks=tuple(rows),
    )
    state = YardState(
        stacks={row.name: StackState(row.name, row.logs) for row in rows},
        lot_of={row.name: row.name for row in rows},
    )
    weather, years = known_weather(weather_of(site), today, ahead, {})
    # The first held out must have a whole year of its own days behind it.
    whole = [y for y in years if same_day(today, y) + timedelta(YEAR_DAYS + 2) < weather.end]
    first = int(random.choice(whole))
    second = int(random.choice([y for y in years if abs(y - first) > 1]))
    left = [y for y in years if y not in (first, second)]
    chosen = tuple(sorted(int(y) for y in random.permutation(left)[:members]))
    return Drawn(
        KnownYard(today, yard, state, weather, chosen, default_numbers(), ()), (first, second)
    )


def _stack(name: str, year: int, random: np.random.Generator) -> Stack:
    return Stack(
        name,
        str(random.choice(CLASSES, p=HOW_MANY)),
        "",
        str(random.choice(TREES)),
        int(random.integers(12, 41)),
        float(random.choice(SIZES)),
        1.0,
        date(year - int(random.integers(1, 5)), int(random.integers(3, 6)), 10),
        "sawdust",
    )
