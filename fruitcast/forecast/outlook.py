"""The whole yard through every possible future: what the schedule is made from."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from fruitcast.arrays import FloatArray, IntArray
from fruitcast.biology.yields import hemisphere
from fruitcast.diary.state import YardState
from fruitcast.errors import NoPlanError
from fruitcast.forecast.fruiting import Fruiting, fruiting
from fruitcast.forecast.learned import YardLearning, learn_from_diary
from fruitcast.forecast.log_weather import LogKind
from fruitcast.forecast.members import AFTER_LAST_PICK_DAYS, PERFECT, Ensemble, make_futures
from fruitcast.forecast.parts import Luck, YardParts
from fruitcast.forecast.spawn import spawn_runs
from fruitcast.forecast.stacks import StackOutlook, outlook_of, season_rows, seasons_of
from fruitcast.forecast.under_way import UnderWay, under_way
from fruitcast.forecast.water import (
    FutureWater,
    PastWater,
    bands_of_stacks,
    dampness_of,
    future_water,
    past_water,
)
from fruitcast.numbers import Numbers
from fruitcast.weather.daily import DailyWeather
from fruitcast.yard.model import Yard

LOOKBACK_DAYS = 120
"""Observed days in front of the members: longer than any flush or rest under way."""

OLDEST_DAYS = 6 * 366
"""Moisture is followed so far back. The spawn run of an older stack is reckoned from the
temperatures of its time and the moisture usual by the season. [day]"""


TOGETHER = 40
"""Kinds are reckoned side by side up to so many stacks: with more it is no quicker and takes
memory. A bound of the calculation."""


class FlushesUnderWay(Mapping[str, UnderWay]):
    """Flushes under way today by stack, each worked out where it is asked for first.

    `season` is the place of each row's season in the factors of a stack, (day,).
    """

    def __init__(
        self, stacks: dict[str, StackOutlook], kinds: dict[LogKind, Fruiting], season: IntArray
    ) -> None:
        self._stacks, self._kinds, self._season = stacks, kinds, season
        self._found: dict[str, UnderWay | None] = {}

    def __getitem__(self, name: str) -> UnderWay:
        if name not in self._found:
            stack = self._stacks[name]
            bearing = np.array(stack.season_factors)[self._season]
            self._found[name] = under_way(stack, self._kinds[stack.kind], bearing)
        flush = self._found[name]
        if flush is None:
            raise KeyError(name)
        return flush

    def __iter__(self) -> Iterator[str]:
        return (name for name in self._stacks if self.get(name) is not None)

    def __len__(self) -> int:
        return sum(1 for _ in self)


@dataclass(frozen=True)
class YardOutlook:
    """The yard through every possible future."""

    # yard, state: what there is, and what was done
    yard: Yard
    state: YardState
    futures: Ensemble  # the members' weather
    past: PastWater  # moisture of each stack so far, in the order of `stacks`
    water: FutureWater  # moisture by size band in every member
    stacks: tuple[StackOutlook, ...]  # every stack and lot
    together: tuple[Fruiting, ...]  # what logs do, kinds side by side
    kinds: dict[LogKind, Fruiting]  # the same of each kind of logs
    flushes: FlushesUnderWay  # flushes under way, by stack
    # (soak,): rows on which a soak could be wanted: what `Fruiting.forced` holds
    soak_rows: IntArray
    learned: YardLearning  # what the diary's flushes said, or what was given
    parts: YardParts  # the same for its stacks and the seasons looked at
    numbers: Numbers  # the numbers it was made with


def days_ahead(weeks: int, *, tail_days: float) -> int:
    """Return how many days from today must be looked at for a horizon. [day]"""
    return 7 * weeks + int(tail_days) + AFTER_LAST_PICK_DAYS


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
    learned: YardLearning | None = None,
    before: YardOutlook | None = None,
    beside: YardOutlook | None = None,
    comes_true: bool = False,
) -> YardOutlook:
    """Return the outlook of a yard, `weeks` ahead.

    Parameters
    ----------
    weather : DailyWeather
        Complete up to yesterday; later rows are forecasts.
    years : tuple of int
        Weather years of the members.
    soak_dates : sequence of date
        Days on which a soak may start.
    seed : int
        Seed of the scatter.
    learned : YardLearning, optional
        What is known of the yard's own yields and lead times; None learns it from the diary.
    before : YardOutlook, optional
        One of the same yard on an earlier day, since when its diary has only gone on: its
        moisture is gone on from, and the spawn runs that were over then still are.
    beside : YardOutlook, optional
        One of the same site, day and weather that looks as far or further, whatever has been
        done there: its members' weather is this one's, and so is the moisture of the same sizes
        of logs.
    comes_true : bool, default False
        Whether this is one future that comes true, in members that are all copies of a year:
        they have one luck, and some soaks fail while the others give it all. Else every soak
        gives less by the share that fails.
    """
    states = [(yard.by_name[state.lot_of[name]], own) for name, own in state.stacks.items()]
    rows = [stack for stack, _ in states]
    if not rows:
        raise NoPlanError(
            "stacks.csv lists no stacks, so there is nothing to plan. Add one row for each stack."
        )
    ahead = days_ahead(weeks, tail_days=numbers.schedule.tail_days)
    futures = (
        beside.futures.looking(ahead)
        if beside
        else make_futures(
            weather,
            today,
            years,
            lookback=min(LOOKBACK_DAYS, weather.index(today) - 1),
            days_ahead=ahead,
            seed=seed,
            # What comes true is the past year itself.
            error=PERFECT if comes_true else numbers.forecast,
        )
    )
    oldest = min([stack.inoculated for stack in rows] + [futures.first - timedelta(days=30)])
    past = past_water(
        weather,
        yard,
        states,
        max(oldest, today - timedelta(days=OLDEST_DAYS)),
        today,
        numbers,
        before.past if before else None,
    )
    bands = bands_of_stacks(past, states, today, numbers.moisture.evidence_days)
    sizes = sorted(set(bands), key=lambda band: (band.diameter, band.moisture_today or 0.0))
    if beside and beside.water.bands == tuple(sizes):
        water = beside.water.first_rows(futures.days)
    else:
        water = future_water(futures, yard, past, sizes, numbers)
    runs = spawn_runs(
        states,
        bands,
        weather,
        past,
        futures,
        water,
        shade=yard.site.shade,
        seed=seed,
        numbers=numbers,
        earlier={one.name: one.spawn for one in before.stacks} if before else {},
    )
    learning = learned or learn_from_diary(
        states, runs, past, today, yard.site, numbers, before.learned if before else None
    )
    seasons = seasons_of(futures, yard.site)
    logs = np.array([float(own.logs) for _, own in states])
    parts = YardParts(
        learning.yields,
        learning.leads,
        learning.failure,
        tuple(rows),
        logs / logs.sum() if logs.any() else np.full(len(rows), 1 / len(rows)),
        (*seasons, seasons[-1] + 1),
    )
    taught = learning.of(rows)
    stacks = [
        outlook_of(
            stack,
            own,
            runs[column],
            dampness_of(column, stack, own, past, today, numbers.moisture, numbers.care),
            bands[column],
            futures,
            yard.site,
            taught[stack.name],
            numbers,
            seasons,
            learning.doubted(stack.name),
        )
        for column, (stack, own) in enumerate(states)
    ]
    if comes_true:
        stacks = [replace(one, kind=replace(one.kind, stack=one.name)) for one in stacks]
    soak_rows = np.array([futures.row(day) for day in soak_dates], dtype=np.int64)
    # Hours that the grower has fixed change nobody's luck.
    usual = {stack.kind: replace(stack.kind, own=None) for stack in stacks}
    drawn = parts.lucks([usual[stack.kind] for stack in stacks], futures.years, seed)
    lucks = {kind: drawn[like] for kind, like in usual.items()}
    if comes_true:
        lucks = {kind: luck.of_first_member() for kind, luck in lucks.items()}
    together = [
        _side_by_side(kinds, lucks, futures, water, soak_rows, yard.site.latitude, seed, numbers)
        for kinds in _together(Counter(stack.kind for stack in stacks))
    ]
    shared = _shared_yields(together, stacks, parts, seed)
    if comes_true:
        shared = np.repeat(shared[:, :1], shared.shape[1], axis=1)
    season = season_rows(futures, yard.site)
    of_row = shared[season]
    together = [logs.sharing(of_row) for logs in together]
    if comes_true:
        together = [logs.failing() for logs in together]
    each = {one.kind: one for logs in together for one in logs.each}
    kinds = {kind: each[kind] for kind in lucks}
    return YardOutlook(
        yard,
        state,
        futures,
        past,
        water,
        tuple(stacks),
        tuple(together),
        kinds,
        FlushesUnderWay({one.name: one for one in stacks}, kinds, season),
        soak_rows,
        learning,
        parts,
        numbers,
    )


def _together(stacks: Mapping[LogKind, int]) -> list[list[LogKind]]:
    """Return the kinds that are reckoned side by side, by the number of stacks of each kind."""
    alike: dict[object, list[LogKind]] = {}
    for kind in stacks:
        alike.setdefault((kind.own, kind.strain_class), []).append(kind)
    found: list[list[LogKind]] = []
    for kind in (kind for kinds in alike.values() for kind in kinds):
        last = found[-1] if found else []
        room = sum(stacks[other] for other in last) + stacks[kind] <= TOGETHER
        if last and room and last[0].own == kind.own:
            last.append(kind)
        else:
            found.append([kind])
    return found


def _side_by_side(
    kinds: list[LogKind],
    lucks: dict[LogKind, Luck],
    futures: Ensemble,
    water: FutureWater,
    soak_rows: IntArray,
    latitude: float,
    seed: int,
    numbers: Numbers,
) -> Fruiting:
    """Return what logs of some kinds do."""
    columns = {(band.diameter, band.moisture_today): n for n, band in enumerate(water.bands)}
    bands = [columns[kind.diameter, kind.moisture_today] for kind in kinds]
    return fruiting(
        kinds,
        futures,
        water.moisture[:, bands].reshape(futures.days, -1),
        water.water[:, bands].reshape(futures.days, -1),
        soak_rows,
        lucks=[lucks[kind] for kind in kinds],
        seed=seed,
        numbers=numbers,
        where=hemisphere(latitude),
    )


def _shared_yields(
    together: list[Fruiting], stacks: list[StackOutlook], parts: YardParts, seed: int
) -> FloatArray:
    """Return what all stacks' yields have in common in each member: (season, member)."""
    good = {
        kind: weather
        for logs in together
        for kind, weather in zip(
            logs.kinds, np.split(logs.good_weather(), len(logs.kinds)), strict=True
        )
    }
    of_all = sum(good[stack.kind] * stack.effective_logs for stack in stacks)
    return parts.shared_yields(np.asarray(of_all), seed)
