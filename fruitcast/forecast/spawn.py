"""When each stack is through its spawn run: seen, modelled, or in every possible future."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property, partial

import numpy as np

from fruitcast.arrays import FloatArray, IntArray
from fruitcast.biology.run_length import cumulate, first_reached
from fruitcast.biology.spawn_run import (
    moisture_factor,
    mycelium_speed,
    required_progress,
    required_quantile,
    slowed_by,
)
from fruitcast.biology.spread import log_scatter
from fruitcast.diary.events import COMPETITOR_MOULDS
from fruitcast.diary.plan import LikelyDays
from fruitcast.diary.state import StackState
from fruitcast.forecast.members import Ensemble, day_of_year
from fruitcast.forecast.parts import standard_normals
from fruitcast.forecast.water import Band, FutureWater, PastWater
from fruitcast.numbers import Numbers
from fruitcast.weather.daily import DailyWeather
from fruitcast.yard.model import Stack

WOOD_CHANCES = tuple((n + 0.5) / 11 for n in range(11))
"""Logs differ: the requirement is taken at the middle of each eleventh of its range."""

_Rule = Callable[..., FloatArray]

_TOLERANCE = 1e-9  # progress that is enough on paper must count


@dataclass(frozen=True)
class SpawnRun:
    """How far a stack's spawn run is."""

    # Share of the requirement, at the chance planned on, that has built up; 1 when done
    progress: float
    ready_on: date | None  # day it was done, when that has passed in the middle case or was seen
    seen: bool  # whether the grower saw it done (white ends all over, or mushrooms)
    # (member,): row of `Ensemble` on which it is done; the number of rows when later
    rows: IntArray
    ready: LikelyDays  # when it is done, over weather and wood
    sure_row: int  # row of `Ensemble` by which it is done with the chance planned on
    # What slows it, see `biology.spawn_run.slowed_by`; empty once it is done
    slowed_by: tuple[str, ...] = ()
    # Whether it was seen done, or even slow logs are: it stays done since `ready_on`
    over: bool = False


def spawn_runs(
    stacks: Sequence[tuple[Stack, StackState]],
    bands: Sequence[Band],
    weather: DailyWeather,
    past: PastWater,
    futures: Ensemble,
    water: FutureWater,
    *,
    shade: float,
    seed: int,
    numbers: Numbers,
    earlier: Mapping[str, SpawnRun],
) -> list[SpawnRun]:
    """Return the spawn run of each stack; what the grower saw overrules the model.

    Where a stack is older than the weather or than the account of moisture, the mean course of
    the years that are known stands in, day by day of the year. So the ready day follows from the
    day of inoculation without a jump, wherever weather and account begin.

    The stacks are in the order of `past`, with the band of each in `water`; the weather is complete
    up to yesterday. The seed is that of the scatter between logs. `earlier` has what was known on
    an earlier day, by stack: a run that was over then still is.
    """
    speed = partial(mycelium_speed, mycelium=numbers.mycelium, shade=shade)
    damp = partial(moisture_factor, balance=numbers.moisture, spawn_run=numbers.spawn_run)
    built, ahead = _Built(weather, past, speed, damp), _Ahead(futures, water, speed, damp)
    runs = []
    for column, (stack, state) in enumerate(stacks):
        known = earlier.get(state.name)
        if known is not None and known.over and known.ready_on is not None:
            runs.append(_done(known.ready_on, known.seen, futures))
            continue
        first, so_far = built.by_morning(column, stack.inoculated)
        account = _Account(stack, state, past, first, so_far, shade, numbers)
        if account.seen_on is not None or account.surely_done:
            days = (account.modelled, account.seen_on)
            ready_on = min(day for day in days if day is not None)
            run = _done(ready_on, account.seen_on is not None, futures)
        else:
            run = _uncertain(account, ahead, bands[column], seed, past.by_stack[:, column])
        runs.append(run)
    return runs


class _Built:
    """Progress of every day up to yesterday, back to any day of inoculation."""

    def __init__(self, weather: DailyWeather, past: PastWater, speed: _Rule, damp: _Rule) -> None:
        self._past, self._weather = past, weather.cut(weather.start, past.first)
        self._speed, self._damp = speed, damp

    @cached_property
    def _account(self) -> FloatArray:
        """Speed on the days of the account."""
        return self._speed(self._past.tmin, self._past.tmax)

    @cached_property
    def _earlier(self) -> FloatArray:
        """Speed on the days that are known before the account."""
        return self._speed(self._weather.tmin, self._weather.tmax)

    @cached_property
    def _usual_speed(self) -> FloatArray:
        every = np.concatenate([self._earlier, self._account])
        return mean_by_day_of_year(self._weather.start, every)

    def by_morning(self, column: int, inoculated: date) -> tuple[date, FloatArray]:
        """Return progress by the morning of each day up to today, and the date of its first row.

        Rows before the day of inoculation are 0. [day at the optimum]
        """
        past = self._past
        first = min(past.first, inoculated)
        daily = self._account * self._damp(past.by_stack[:, column])
        if first < past.first:
            daily = np.concatenate([self._before_account(first, column), daily])
        so_far = np.concatenate([[0.0], np.cumsum(daily)])
        born = min((inoculated - first).days, len(daily))
        return first, np.maximum(so_far - so_far[born], 0.0)

    def _before_account(self, first: date, column: int) -> FloatArray:
        """Return progress of the days before the account, in usual moisture."""
        past = self._past
        of_year = day_of_year(first, (past.first - first).days)
        speed = self._usual_speed[of_year - 1]
        known = (self._weather.start - first).days
        speed[max(known, 0) :] = self._earlier[max(-known, 0) :]
        factor = self._damp(past.by_stack[:, column])
        return np.asarray(speed * mean_by_day_of_year(past.first, factor)[of_year - 1])


def mean_by_day_of_year(first: date, values: FloatArray) -> FloatArray:
    """Return the mean of each day of the year over all years that have it: (366,).

    `values` are one a day from `first` on; days that no year has take the mean of all.
    """
    place = day_of_year(first, len(values)) - 1
    count = np.bincount(place, minlength=366)
    total = np.bincount(place, values, minlength=366)
    return np.where(count > 0, total / np.maximum(count, 1), values.mean())


class _Ahead:
    """Progress from today on in every member, band by band."""

    def __init__(self, futures: Ensemble, water: FutureWater, speed: _Rule, damp: _Rule) -> None:
        self.futures, self._water, self._rule, self._damp = futures, water, speed, damp
        self._by_band: dict[Band, FloatArray] = {}

    @cached_property
    def _speed(self) -> FloatArray:
        futures = self.futures
        return self._rule(futures.tmin[futures.lookback :], futures.tmax[futures.lookback :])

    def progress(self, band: Band) -> FloatArray:
        """Return (day, member) progress from today on. [day at the optimum]"""
        if band not in self._by_band:
            column = self._water.bands.index(band)
            moisture = self._water.moisture[self.futures.lookback :, column]
            self._by_band[band] = self._speed * self._damp(moisture)
        return self._by_band[band]


@dataclass(frozen=True)
class _Account:
    """Progress of one stack by the morning of each day up to today, and its inspections."""

    stack: Stack
    state: StackState
    past: PastWater
    first: date
    so_far: FloatArray
    shade: float
    numbers: Numbers

    @cached_property
    def required(self) -> float:
        """Middle requirement; competitor moulds raise it. [day at the optimum]"""
        stack, numbers = self.stack, self.numbers
        need = required_progress(
            stack.spawn,
            stack.diameter,
            numbers.spawn_run,
            class_factor=numbers.strain(stack.strain_class).spawn_run.factor,
            tree_factor=numbers.tree(stack.tree).starts,
        )
        moulds = COMPETITOR_MOULDS in self.state.findings
        return need * (numbers.spawn_run.moulds_factor if moulds else 1.0)

    @property
    def surely_done(self) -> bool:
        """Whether even slow logs are done by today."""
        most = required_quantile(self.required, 0.999, scatter=self.numbers.spawn_run.scatter)
        return bool(self.rows_in_past(np.array([most]))[0] < len(self.so_far))

    @property
    def seen_on(self) -> date | None:
        """First day on which the grower saw it done, or says that it was."""
        days = (self.state.natural_seen_on, self.state.spawn_run_seen_on, self.said_since)
        return min((day for day in days if day is not None), default=None)

    @property
    def said_since(self) -> date | None:
        """Day since which it bears by the grower's list; None while that is still to come."""
        since = self.stack.bearing_since
        today = self.first + timedelta(days=len(self.so_far) - 1)
        return since if since is not None and since <= today else None

    @property
    def modelled(self) -> date | None:
        """Day on which the middle case was done; None when later, or where the list says."""
        if self.said_since is not None:
            return None
        met = int(self.rows_in_past(np.array([self.required]))[0])
        return self.first + timedelta(days=met) if met < len(self.so_far) else None

    @cached_property
    def ends_row(self) -> int | None:
        """Row of the inspection that first found white ends."""
        on = self.state.white_ends_on
        return None if on is None else min(max((on - self.first).days, 0), len(self.so_far) - 1)

    def head_start(self, required: FloatArray) -> FloatArray:
        """Return what white ends prove beyond the modelled progress. [day at the optimum]"""
        if self.ends_row is None:
            return np.zeros_like(required)
        share = self.numbers.spawn_run.white_ends_share
        return np.asarray(np.maximum(share * required - self.so_far[self.ends_row], 0.0))

    def rows_in_past(self, required: FloatArray) -> IntArray:
        """Return the row by whose morning each requirement is met; the length + 1 if it isn't."""
        rows = np.searchsorted(self.so_far, required - _TOLERANCE)
        if self.ends_row is not None:
            left = required - self.head_start(required) - _TOLERANCE
            rows = np.minimum(rows, np.maximum(np.searchsorted(self.so_far, left), self.ends_row))
        return np.asarray(rows, dtype=np.int64)

    def slow(self, moisture: FloatArray) -> tuple[str, ...]:
        """Return what has slowed it of late."""
        days = len(self.past.tmean)
        window = int(self.numbers.spawn_run.weather_days)
        begin = max(days - window, self.past.row(self.stack.inoculated))
        if days - begin < self.numbers.spawn_run.least_days:
            return ()
        stack = self.stack
        return slowed_by(
            self.past.tmin[begin:],
            self.past.tmax[begin:],
            moisture[begin:],
            stack.spawn,
            stack.diameter,
            self.numbers.mycelium,
            self.numbers.moisture,
            self.numbers.spawn_run,
            shade=self.shade,
        )


def _done(ready_on: date, seen: bool, futures: Ensemble) -> SpawnRun:
    """Return a spawn run that is over: by the model, or since it was seen if that was sooner."""
    row = max(futures.row(ready_on), 0)
    rows = np.full(len(futures.years), row, dtype=np.int64)
    ready = LikelyDays(p10=ready_on, p50=ready_on, p80=ready_on, p90=ready_on)
    return SpawnRun(1.0, ready_on, seen, rows, ready, row, over=True)


def _uncertain(
    account: _Account, ahead: _Ahead, band: Band, seed: int, moisture: FloatArray
) -> SpawnRun:
    """Return a spawn run that may still be going on, over weather and wood."""
    futures, numbers, stack = ahead.futures, account.numbers, account.stack
    scatter, planned_on = numbers.spawn_run.scatter, numbers.schedule.ready_chance
    *grid, sure = (
        required_quantile(account.required, chance, scatter=scatter)
        for chance in (*WOOD_CHANCES, planned_on)
    )
    name = f"{account.state.name} wood"
    wood = standard_normals(seed, futures.years, name, stack.inoculated, [0])[0]
    own = account.required * np.exp(log_scatter(scatter) * wood)
    members = len(futures.years)
    progress = ahead.progress(band).copy()
    progress[: max((stack.inoculated - futures.today).days, 0)] = 0.0
    total = cumulate(progress)

    def rows_for(required: FloatArray) -> IntArray:
        """Rows of `Ensemble` for (..., member) requirements."""
        met = account.rows_in_past(required)
        left = required - account.head_start(required) - account.so_far[-1]
        coming = first_reached(total, 0, np.arange(members), np.maximum(left, 0.0))
        before = futures.lookback + met - (len(account.so_far) - 1)
        return np.where(met < len(account.so_far), before, futures.lookback + coming)

    every = rows_for(np.repeat(np.array(grid)[:, None], members, axis=1))
    chances = [0.1, 0.5, 0.8, 0.9, planned_on]
    rows = np.quantile(every, chances, method="inverted_cdf").astype(np.int64)
    days = [None if row >= futures.days else futures.date(row) for row in rows[:4].tolist()]
    ready = LikelyDays(**dict(zip(("p10", "p50", "p80", "p90"), days, strict=True)))
    built = account.so_far[-1] + float(account.head_start(np.array(sure)))
    return SpawnRun(
        progress=float(min(built / sure, 1.0)),
        ready_on=ready.p50 if ready.p50 is not None and ready.p50 <= futures.today else None,
        seen=False,
        rows=np.maximum(rows_for(own), 0),
        ready=ready,
        sure_row=int(rows[4]),
        slowed_by=account.slow(moisture),
    )
