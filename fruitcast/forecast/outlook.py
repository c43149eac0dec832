"""The whole yard through every possible future: what the schedule is made from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import numpy.typing as npt

from fruitcast.errors import NoPlanError
from fruitcast.forecast.fruiting import Fruiting, Kind, fruiting
from fruitcast.forecast.members import Futures, make_futures
from fruitcast.forecast.spawn import spawn_run
from fruitcast.forecast.stacks import Learning, StackOutlook, outlook_of
from fruitcast.forecast.under_way import UnderWay, pulled_on, recent_soak, under_way
from fruitcast.forecast.water import (
    COMMON_WOOD,
    FutureWater,
    band_of,
    future_water,
    past_water,
    stack_moisture,
)
from fruitcast.logs.moisture import MoistureRun, presumed_dead
from fruitcast.numbers import Numbers
from fruitcast.weather.daily import DailyWeather
from fruitcast.yard.model import Yard
from fruitcast.yard.state import YardState

IntArray = npt.NDArray[np.int64]

LOOKBACK_DAYS = 120
"""Observed days in front of the members: longer than any flush or rest under way."""

AFTER_LAST_PICK_DAYS = 45
"""Days looked at past the last outlet day, so that late picks are seen to come."""

OLDEST_DAYS = 6 * 366
"""Moisture is followed so far back for spawn runs; older stacks are long through theirs."""


@dataclass(frozen=True)
class YardOutlook:
    """The yard through every possible future.

    Attributes
    ----------
    yard, state : Yard, YardState
        What there is, and what was done.
    futures : Futures
        The members' weather.
    water : FutureWater
        Moisture by size band.
    stacks : tuple of StackOutlook
        Every stack and lot.
    kinds : dict of Kind to Fruiting
        What each kind of logs does.
    flushes : dict of str to UnderWay
        Flushes under way, by stack.
    moisture_so_far : MoistureRun
        Moisture of each stack on the observed days, in the order of `stacks`.
    soak_rows : (soak,) int array
        Rows on which a soak could be wanted: what `Fruiting.forced` holds after its done ones.
    done_counts : dict of Kind to int
        Soaks already begun that stand in front of the others in `Fruiting.forced`.
    """

    yard: Yard
    state: YardState
    futures: Futures
    water: FutureWater
    stacks: tuple[StackOutlook, ...]
    kinds: dict[Kind, Fruiting]
    flushes: dict[str, UnderWay]
    moisture_so_far: MoistureRun
    soak_rows: IntArray
    done_counts: dict[Kind, int]


def days_ahead(weeks: int, numbers: Numbers) -> int:
    """Return how many days from today must be looked at for a horizon. [day]"""
    return 7 * weeks + int(numbers["schedule.tail_days"]) + AFTER_LAST_PICK_DAYS


def outlook(
    yard: Yard,
    state: YardState,
    weather: DailyWeather,
    today: date,
    years: tuple[int, ...],
    soak_dates: Sequence[date],
    *,
    weeks: int,
    seed: int,
    numbers: Numbers,
    learned: Mapping[tuple[str, str], Learning] | None = None,
) -> YardOutlook:
    """Return the outlook of a yard.

    Parameters
    ----------
    yard, state : Yard, YardState
        What there is, and what was done.
    weather : DailyWeather
        Complete up to yesterday; later rows are forecasts.
    today : date
        Day 0.
    years : tuple of int
        Weather years of the members.
    soak_dates : sequence of date
        Days on which a soak may start.
    weeks : int
        Horizon. [week]
    seed : int
        Seed of the scatter.
    numbers : Numbers
        The numbers in use.
    learned : mapping of (strain class, tree) to Learning, optional
        The yard's own factors.
    """
    rows = {stack.name: stack for stack in yard.stacks}
    lots = [(name, rows[state.lot_of[name]]) for name in state.stacks]
    if not lots:
        raise NoPlanError(
            "stacks.csv lists no stacks, so there is nothing to plan. Add one row for each stack."
        )
    futures = make_futures(
        weather,
        today,
        years,
        lookback=min(LOOKBACK_DAYS, weather.index(today)),
        days_ahead=days_ahead(weeks, numbers),
        seed=seed,
    )
    bands = sorted({band_of(stack) for _, stack in lots}, key=lambda band: band.diameter)
    oldest = min([stack.inoculated for _, stack in lots] + [futures.first - timedelta(days=30)])
    past = past_water(
        weather,
        yard.site,
        bands,
        max(oldest, today - timedelta(days=OLDEST_DAYS)),
        today,
        keep_above=yard.keep_above,
        numbers=numbers,
    )
    water = future_water(futures, yard.site, past, keep_above=yard.keep_above, numbers=numbers)
    so_far = stack_moisture(
        futures,
        yard.site,
        past,
        [(stack, state.stacks[name]) for name, stack in lots],
        keep_above=yard.keep_above,
        numbers=numbers,
    )
    stacks = []
    for column, (name, stack) in enumerate(lots):
        moisture = float(so_far.moisture[-1, column])
        stacks.append(
            outlook_of(
                name,
                stack,
                state.stacks[name],
                spawn_run(stack, state.stacks[name], past, futures, water, numbers),
                moisture,
                bool(presumed_dead(moisture, numbers)),
                futures,
                yard.site,
                (learned or {}).get((stack.strain_class, stack.tree), Learning()),
                numbers,
            )
        )
    soak_rows = np.array(
        [futures.lookback + (day - today).days for day in soak_dates], dtype=np.int64
    )
    return _with_kinds(yard, state, futures, water, stacks, so_far, soak_rows, seed, numbers)


def _with_kinds(
    yard: Yard,
    state: YardState,
    futures: Futures,
    water: FutureWater,
    stacks: list[StackOutlook],
    so_far: MoistureRun,
    soak_rows: IntArray,
    seed: int,
    numbers: Numbers,
) -> YardOutlook:
    done: dict[Kind, list[tuple[int, int]]] = {stack.kind: [] for stack in stacks}
    places: dict[str, int] = {}
    for stack in stacks:
        soak = recent_soak(stack.state, futures, numbers)
        if soak is not None:
            pair = tuple(
                max(futures.lookback + (day - futures.today).days, 0)
                for day in (soak.on, pulled_on(soak, numbers))
            )
            places[stack.name] = len(done[stack.kind])
            done[stack.kind].append((pair[0], pair[1]))
    kinds: dict[Kind, Fruiting] = {}
    for kind, begun in done.items():
        band = next(n for n, b in enumerate(water.bands) if b.diameter == kind.diameter)
        kinds[kind] = fruiting(
            kind,
            futures,
            water.moisture[:, band],
            water.water[:, band],
            soak_rows,
            done=begun,
            seed=seed,
            numbers=numbers,
            specific_gravity=numbers.of_tree(COMMON_WOOD, "specific_gravity"),
        )
    flushes = {}
    for stack in stacks:
        flush = under_way(stack, kinds[stack.kind], places.get(stack.name), futures, numbers)
        if flush is not None:
            flushes[stack.name] = flush
    return YardOutlook(
        yard,
        state,
        futures,
        water,
        tuple(stacks),
        kinds,
        flushes,
        so_far,
        soak_rows,
        {kind: len(begun) for kind, begun in done.items()},
    )
