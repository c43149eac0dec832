"""Flushes that are over: what the diary has seen, and what the model expected of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property, lru_cache

import numpy as np

from fruitcast.arrays import FloatArray
from fruitcast.biology.forced import daily_loss, thermal_time
from fruitcast.biology.moisture import soak_gain
from fruitcast.biology.natural import set_off_row
from fruitcast.biology.picking import flush_days
from fruitcast.biology.run_length import cumulate
from fruitcast.biology.spawn_run import moisture_factor
from fruitcast.biology.yields import (
    Hemisphere,
    bearing_life,
    lifetime_yield,
    rest_factor,
    season,
    stack_factor,
    temperature_factor,
    years_gone,
)
from fruitcast.diary.state import Soak, StackState, picks_by_flush, pulled_on
from fruitcast.forecast.spawn import SpawnRun
from fruitcast.forecast.stacks import AGE_STEP, bearing_ages
from fruitcast.forecast.water import PastWater
from fruitcast.numbers import Numbers
from fruitcast.topics import (
    DiaryNumbers,
    NaturalNumbers,
    PickingNumbers,
    TreeNumbers,
    YieldsNumbers,
)
from fruitcast.yard.model import Stack


@dataclass(frozen=True)
class DiaryFlush:
    """One finished flush of the diary."""

    column: int  # its stack's column in `PastWater.by_stack`
    name: str  # stack or lot; the stack when its lots have one record together
    row: str  # name of the stack's row in stacks.csv
    soak: Soak | None  # its soak; None when it came by itself
    first: date  # first pick
    kg: float  # all that was picked [kg]
    logs: int  # logs that it came from
    # Days from the first pick before to the soak, or to this first pick; infinite when there was
    # none [day]
    rest: float
    given: float  # what each log that still lived had given before [kg/log]
    gave: float  # what each of them gave in this flush [kg/log]
    confirmed: bool  # whether the grower says that a pick of it is right, however odd
    shared: float = 0.0  # share of its weight that is a part of crates from several stacks [0..1]

    @property
    def begun(self) -> date:
        """Day of the soak, or of the first pick of a natural flush."""
        return self.first if self.soak is None else self.soak.on

    def pulled_on(self, usual_hours: float) -> date:
        """Return the day of the pull, or of the first pick of a natural flush."""
        return self.first if self.soak is None else pulled_on(self.soak, usual_hours)

    def hours(self, usual_hours: float) -> float:
        """Return the hours in water; none for a natural flush. [h]"""
        if self.soak is None:
            return 0.0
        return self.soak.hours or usual_hours


def finished_flushes(
    column: int,
    stack: Stack,
    state: StackState,
    past: PastWater,
    today: date,
    diary: DiaryNumbers,
    picking: PickingNumbers,
    natural: NaturalNumbers,
) -> list[DiaryFlush]:
    """Return the flushes of one stack that are picked out, in order of date.

    A soak without any pick is none of them: it may have failed, see `empty_soaks`, or nobody
    wrote down. `column` is that of the stack in `past`, which ends on the day before `today`;
    flushes begun before it are left out.
    """
    soaks = {soak.on: soak for soak in state.soaks}
    found: list[DiaryFlush] = []
    given = 0.0
    previous: date | None = None
    for picks in picks_by_flush(state.picks, flush_days=diary.flush_days):
        first = picks[0]
        logs = state.logs + sum(lost for on, lost in state.lost if on > first.on)
        kg = sum(pick.kg for pick in picks)
        soak = soaks.get(first.soaked_on) if first.soaked_on else None
        longest = (picking if soak else natural).longest_flush
        begun = soak.on if soak else first.on
        over = (today - first.on).days > longest
        if over and kg > 0 and logs > 0 and past.row(begun) > 0:
            flush = DiaryFlush(
                column,
                state.name,
                stack.name,
                soak,
                first.on,
                kg,
                min(soak.logs, logs) if soak else logs,
                np.inf if previous is None else float((begun - previous).days),
                given,
                kg / logs,
                any(pick.confirmed for pick in picks),
                sum(pick.kg for pick in picks if pick.shared) / kg,
            )
            found.append(flush)
        given += kg / max(logs, 1)
        previous = first.on
    return found


def lots_together(flushes: Sequence[DiaryFlush]) -> list[DiaryFlush]:
    """Return flushes with those of the lots of one stack joined where they are one record.

    A pick written down for a whole stack is shared among its lots; it is still one flush.
    """
    joined: dict[tuple[str, date | None, date], DiaryFlush] = {}
    for flush in flushes:
        key = (flush.row, flush.soak.on if flush.soak else None, flush.first)
        other = joined.get(key)
        joined[key] = (
            flush
            if other is None
            else replace(
                other,
                name=other.row,
                kg=other.kg + flush.kg,
                logs=other.logs + flush.logs,
                confirmed=other.confirmed or flush.confirmed,
                shared=(other.shared * other.kg + flush.shared * flush.kg) / (other.kg + flush.kg),
            )
        )
    return list(joined.values())


def empty_soaks(state: StackState, past: PastWater, usual_hours: float) -> list[tuple[Soak, date]]:
    """Return the soaks that brought nothing, with the day of the pull, where `past` reaches."""
    picked = {pick.soaked_on for pick in state.picks if pick.kg > 0}
    return [
        (soak, pulled_on(soak, usual_hours))
        for soak in state.soaks
        if soak.brought_nothing and soak.on not in picked and past.row(soak.on) > 0
    ]


# What the model expected of flushes that are over, in the weather they had.


_MOST_YEARS = 30
"""Bearing years tabled; no log bears so long."""


@lru_cache(maxsize=256)
def _by_age(tree: TreeNumbers, diameter: float, length: float, yields: YieldsNumbers) -> FloatArray:
    """Return tree, size and bearing year of logs by their age, in steps of `AGE_STEP`."""
    return stack_factor(tree, diameter, length, np.arange(0, _MOST_YEARS, AGE_STEP), yields)


@lru_cache(maxsize=1024)
def _age_steps(ready: date, of_season: int, where: Hemisphere, late: float) -> int:
    """Return the bearing years behind a stack at the end of a season, in steps of `AGE_STEP`."""
    return round(float(bearing_ages(ready, [of_season], where, late_ready_days=late)[0]) / AGE_STEP)


class Expectation:
    """What the model expects of flushes that are over."""

    def __init__(
        self,
        stacks: Sequence[tuple[Stack, StackState]],
        runs: Sequence[SpawnRun],
        past: PastWater,
        where: Hemisphere,
        numbers: Numbers,
    ) -> None:
        self.stacks, self.runs, self.past = stacks, runs, past
        self.where, self.numbers = where, numbers
        self._thermal_time: dict[str, FloatArray] = {}
        self._loss: dict[str, FloatArray] = {}

    @cached_property
    def temperature(self) -> FloatArray:
        """Running total of the mean temperature. [degC day]"""
        return cumulate(self.past.tmean)

    def thermal_time(self, strain_class: str) -> FloatArray:
        """Running total of warmth above the class's base. [degC day]"""
        if strain_class not in self._thermal_time:
            self._thermal_time[strain_class] = thermal_time(
                self.numbers.strain(strain_class), self.past.tmean[:, None]
            )[:, 0]
        return self._thermal_time[strain_class]

    def loss(self, strain_class: str) -> FloatArray:
        """Running total of the losses to heat and frost. [unitless]"""
        if strain_class not in self._loss:
            self._loss[strain_class] = cumulate(
                daily_loss(
                    self.numbers.strain(strain_class).forced,
                    self.past.tmin,
                    self.past.tmax,
                    self.numbers.forced,
                )
            )
        return self._loss[strain_class]

    def stack_factor(self, flush: DiaryFlush) -> float:
        """Tree, size and bearing year of a flush. [unitless]"""
        stack = self.stacks[flush.column][0]
        tree = self.numbers.tree(stack.tree)
        by_age = _by_age(tree, stack.diameter, stack.length, self.numbers.yields)
        ready = self.runs[flush.column].ready_on
        # A flush proves that the log bears, whatever the model has of its spawn run.
        step = 1
        if ready is not None:
            now, late = season(flush.first, self.where), self.numbers.yields.late_ready_days
            step = max(_age_steps(ready, now, self.where, late), 1)
        return float(by_age[min(step, len(by_age) - 1)])

    def whole(self, flush: DiaryFlush) -> float:
        """What a log of its stack gives in its life by the table. [kg/log]"""
        stack = self.stacks[flush.column][0]
        return lifetime_yield(
            self.numbers.strain(stack.strain_class).yields.base,
            self.numbers.tree(stack.tree),
            stack.diameter,
            stack.length,
            self.numbers.yields,
        )

    def life(self, flush: DiaryFlush) -> tuple[float, float, float]:
        """Years gone by at a flush, bearing life, share of the table's life crop given."""
        stack = self.stacks[flush.column][0]
        ready = self.runs[flush.column].ready_on
        years = 0.0
        if ready is not None:
            late = self.numbers.yields.late_ready_days
            years = years_gone(ready, flush.first, self.where, late_ready_days=late)
        life = bearing_life(stack.diameter, self.numbers.tree(stack.tree), self.numbers.yields)
        return years, life, flush.given / self.whole(flush)


def expected_kg(strain_class: str, flushes: list[DiaryFlush], model: Expectation) -> FloatArray:
    """Return what each flush should have given a log, wear and learning aside. [kg/log]"""
    past, numbers = model.past, model.numbers
    column = np.array([flush.column for flush in flushes])
    forced = np.array([flush.soak is not None for flush in flushes])
    first = np.array([past.row(flush.first) for flush in flushes])
    begun = np.array([past.row(f.begun) for f in flushes])
    pull = np.array([past.row(f.pulled_on(numbers.forced.usual_hours)) for f in flushes])
    thermal_time = model.thermal_time(strain_class)
    pull = np.where(
        forced,
        pull,
        set_off_row(
            thermal_time, first, numbers.strain(strain_class).forced.requirement, numbers.natural
        ),
    )
    hours = np.array([flush.hours(numbers.forced.usual_hours) for flush in flushes])
    wood = [model.stacks[flush.column][0] for flush in flushes]
    diameter = np.array([stack.diameter for stack in wood])
    gravity = np.array([numbers.tree(stack.tree).specific_gravity for stack in wood])
    before = past.by_stack[np.maximum(np.where(forced, begun, pull) - 1, 0), column]
    moisture = before + soak_gain(
        before, hours, diameter=diameter, specific_gravity=gravity, balance=numbers.moisture
    )
    end = np.maximum(first, pull + 1)
    mean = (model.temperature[end] - model.temperature[pull]) / (end - pull)
    length = np.where(
        forced,
        flush_days("forced", mean, numbers.picking, numbers.natural),
        flush_days("natural", mean, numbers.picking, numbers.natural),
    )
    loss = model.loss(strain_class)
    survives = np.exp(loss[pull] - loss[np.minimum(first + length, len(loss) - 1)])
    kind = np.where(forced, 1.0, numbers.yields.natural_factor)
    rested = np.array([flush.rest for flush in flushes]) - np.where(forced, 0, first - pull)
    rest = rest_factor(rested, numbers.yields)
    expected = numbers.strain(strain_class).yields.base * kind * rest * survives
    expected = expected * temperature_factor(
        numbers.strain(strain_class).range, mean, numbers.yields
    )
    expected = expected * moisture_factor(moisture, numbers.moisture, numbers.spawn_run)
    return np.asarray(expected * np.array([model.stack_factor(flush) for flush in flushes]))
