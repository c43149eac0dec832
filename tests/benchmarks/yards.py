"""Invented yards of any size on real daily weather, for measuring the schedule.

The weather is Champion, Nebraska, 1982-2018, as shipped with the package aquacrop
(aquacrop/data/champion_climate.txt), read from the installed package.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time, timedelta
from functools import lru_cache
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from fruitcast.app.known import KnownYard
from fruitcast.diary.state import Pick, Soak, StackState, YardState
from fruitcast.forecast.outlook import days_ahead
from fruitcast.numbers import default_numbers
from fruitcast.weather.daily import DailyWeather
from fruitcast.weather.formats import read_weather_file
from fruitcast.weather.known import known_weather
from fruitcast.yard.model import (
    SEPARATOR,
    Outlet,
    Site,
    Soaking,
    Stack,
    WeatherSource,
    Yard,
    lots_of,
)
from tests.requires import need_file

TODAY = date(2018, 5, 1)
CLASSES = ("wide-range", "wide-range", "warm-weather", "wide-range", "cold-weather")
TREES = ("red oak", "white oak", "sugar maple", "beech", "red maple", "sweetgum")


@lru_cache(maxsize=1)
def champion() -> DailyWeather:
    return read_weather_file(need_file("aquacrop", "data/champion_climate.txt"))


def invented_yard(
    stacks: int,
    *,
    logs_per_pound_a_week: float,
    seed: int = 1,
    soaking_season: bool = True,
    tank_share: float = 1 / 9,
    lot_logs: int | None = None,
) -> tuple[Yard, YardState]:
    """Return a yard of mixed classes, trees, sizes and ages, some soaked last season.

    `lot_logs` parts the stacks into lots of at most so many logs; the yard stays the same.
    """
    random = np.random.default_rng(seed)
    rows, states = [], {}
    for number in range(stacks):
        name = f"S{number + 1}"
        logs = int(random.integers(18, 37))
        born = date(int(random.integers(2013, 2018)), int(random.integers(3, 6)), 10)
        row = Stack(
            name,
            CLASSES[number % len(CLASSES)],
            "",
            TREES[int(random.integers(0, len(TREES)))],
            logs,
            float(random.choice([0.1, 0.125, 0.15])),
            1.0,
            born,
            "sawdust",
        )
        rows.append(row)
        soaks, picks = (), ()
        if born.year < 2016:
            on = date(2017, 8, 1) + timedelta(days=int(random.integers(0, 75)))
            soaks = (Soak(on, logs, 24.0, on + timedelta(days=1)),)
            picks = (Pick(on + timedelta(days=9), 0.12 * logs, "forced", on),)
        states[name] = StackState(name, logs, soaks=soaks, picks=picks)
    total = sum(row.logs for row in rows)
    weekly = total / logs_per_pound_a_week * 0.45359237
    yard = Yard(
        folder=Path("/nowhere"),
        name="Larkspur Hollow",
        units="metric",
        site=Site(40.4, -101.7, 1000.0, ZoneInfo("America/Denver"), 0.85),
        weather=WeatherSource(None, None, 30),
        soaking=Soaking(
            (1, 4),
            max(40, int(np.ceil(tank_share * total))),
            time(8),
            (4, 15) if soaking_season else None,
            (10, 20) if soaking_season else None,
            None,
        ),
        keep_above=0.35,
        cold_store_days=10,
        saleable=0.85,
        promise=0.8,
        outlets=(
            Outlet("Saturday market", 5, 0.65 * weekly, (5, 15), (10, 31), None, 1.0, frozenset()),
            Outlet("Village shop", 2, 0.35 * weekly, (5, 15), (10, 31), None, 1.0, frozenset()),
        ),
        orders=(),
        away=(),
        stacks=tuple(rows),
    )
    if lot_logs is None:
        return yard, YardState(stacks=states, lot_of={row.name: row.name for row in rows})
    lots = [
        (name, logs, row) for row in rows for name, logs in lots_of(row.name, row.logs, lot_logs)
    ]
    return yard, YardState(
        stacks={name: _part_of(states[row.name], name, logs) for name, logs, row in lots},
        lot_of={name: row.name for name, _, row in lots},
    )


def in_lots(state: YardState, lots: dict[str, tuple[tuple[str, int], ...]], on: date) -> YardState:
    """Return the state with some stacks in lots, names and logs, that were accepted on a day."""
    parts = {name: part for stack in lots for name, part in _parts(state, stack, lots[stack])}
    whole = {name: stack for name, stack in state.stacks.items() if name not in lots}
    return replace(
        state,
        stacks=whole | parts,
        lot_of={name: name.partition(SEPARATOR)[0] for name in (*whole, *parts)},
        accepted=dict.fromkeys(parts, on),
    )


def _parts(
    state: YardState, stack: str, lots: tuple[tuple[str, int], ...]
) -> list[tuple[str, StackState]]:
    return [(name, _part_of(state.stacks[stack], name, logs)) for name, logs in lots]


def _part_of(stack: StackState, name: str, logs: int) -> StackState:
    share = logs / stack.logs
    return replace(
        stack,
        name=name,
        logs=logs,
        soaks=tuple(replace(soak, logs=logs) for soak in stack.soaks),
        picks=tuple(replace(pick, kg=pick.kg * share) for pick in stack.picks),
    )


def known_yard(
    stacks: int,
    *,
    logs_per_pound_a_week: float,
    weeks: int = 26,
    today: date = TODAY,
    members: int = 30,
    **options: object,
) -> KnownYard:
    """Return an invented yard with what is known of it on a day."""
    yard, state = invented_yard(stacks, logs_per_pound_a_week=logs_per_pound_a_week, **options)  # type: ignore[arg-type]
    numbers = default_numbers()
    weather, years = known_weather(
        champion(), today, days_ahead(weeks, tail_days=numbers.schedule.tail_days), {}
    )
    return KnownYard(today, yard, state, weather, years[-members:], numbers, ())


def with_targets(yard: Yard, factor: float) -> Yard:
    """Return a yard whose outlets want a multiple."""
    outlets = tuple(replace(o, target_kg=o.target_kg * factor) for o in yard.outlets)
    return replace(yard, outlets=outlets)
