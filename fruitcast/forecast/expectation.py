"""What the model expected of flushes that are over, in the weather they had."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np
import numpy.typing as npt

from fruitcast.biology.bearing import Hemisphere, bearing_life, season, years_gone
from fruitcast.biology.exchange import soak_gain
from fruitcast.biology.forced import daily_loss, thermal_time
from fruitcast.biology.natural import set_off_row
from fruitcast.biology.picking import flush_days
from fruitcast.biology.run_length import cumulate
from fruitcast.biology.spawn_run import moisture_factor
from fruitcast.biology.yields import lifetime_yield, rest_factor, stack_factor, temperature_factor
from fruitcast.diary.state import StackState
from fruitcast.forecast.past_flushes import DiaryFlush
from fruitcast.forecast.spawn import SpawnRun
from fruitcast.forecast.stacks import AGE_STEP, bearing_ages
from fruitcast.forecast.water import PastWater
from fruitcast.numbers import Numbers
from fruitcast.yard.model import Stack

FloatArray = npt.NDArray[np.float64]

_MOST_YEARS = 30
"""Bearing years tabled; no log bears so long."""


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
        self._warmth: dict[str, FloatArray] = {}
        self._loss: dict[str, FloatArray] = {}
        self._factors: dict[tuple[str, float, float], FloatArray] = {}
        self._lives: dict[tuple[str, str, float, float], float] = {}

    @cached_property
    def temperature(self) -> FloatArray:
        """Running total of the mean temperature. [degC day]"""
        return cumulate(self.past.tmean)

    def warmth(self, strain_class: str) -> FloatArray:
        """Running total of warmth above the class's base. [degC day]"""
        if strain_class not in self._warmth:
            self._warmth[strain_class] = thermal_time(
                self.numbers.strain(strain_class), self.past.tmean[:, None]
            )[:, 0]
        return self._warmth[strain_class]

    def loss(self, strain_class: str) -> FloatArray:
        """Running total of the losses to heat and frost. [unitless]"""
        if strain_class not in self._loss:
            self._loss[strain_class] = cumulate(
                daily_loss(
                    self.numbers.strain(strain_class).forced,
                    self.past.tmin,
                    self.past.tmax,
                    heat_loss=self.numbers.forced.heat_loss,
                    frost_loss=self.numbers.forced.frost_loss,
                )
            )
        return self._loss[strain_class]

    def stack_factor(self, flush: DiaryFlush) -> float:
        """Tree, size and bearing year of a flush. [unitless]"""
        stack = self.stacks[flush.column][0]
        key = (stack.tree, stack.diameter, stack.length)
        if key not in self._factors:
            ages = np.arange(0, _MOST_YEARS, AGE_STEP)
            self._factors[key] = stack_factor(
                self.numbers.tree(stack.tree),
                stack.diameter,
                stack.length,
                ages,
                self.numbers.yields,
            )
        ready = self.runs[flush.column].ready_on
        # A flush proves that the log bears, whatever the model has of its spawn run.
        step = 1
        if ready is not None:
            now = [season(flush.first, self.where)]
            late = self.numbers.yields.late_ready_days
            age = float(bearing_ages(ready, now, self.where, late_ready_days=late)[0])
            step = max(round(age / AGE_STEP), 1)
        return float(self._factors[key][min(step, len(self._factors[key]) - 1)])

    def whole(self, flush: DiaryFlush) -> float:
        """What a log of its stack gives in its life by the table. [kg/log]"""
        stack = self.stacks[flush.column][0]
        key = (stack.strain_class, stack.tree, stack.diameter, stack.length)
        if key not in self._lives:
            self._lives[key] = lifetime_yield(
                self.numbers.strain(stack.strain_class).yields.base,
                self.numbers.tree(stack.tree),
                stack.diameter,
                stack.length,
                self.numbers.yields,
            )
        return self._lives[key]

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
    warmth = model.warmth(strain_class)
    pull = np.where(
        forced,
        pull,
        set_off_row(
            warmth,
            first,
            requirement=numbers.strain(strain_class).forced.requirement,
            requirement_factor=numbers.natural.requirement_factor,
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
    kind = np.where(
        forced,
        1.0,
        numbers.yields.natural_factor,
    )
    rested = np.array([flush.rest for flush in flushes]) - np.where(forced, 0, first - pull)
    rest = rest_factor(rested, numbers.yields)
    expected = numbers.strain(strain_class).yields.base * kind * rest * survives
    expected = expected * temperature_factor(
        numbers.strain(strain_class).range, mean, margin=numbers.yields.range_margin
    )
    expected = expected * moisture_factor(
        moisture,
        dead_below=numbers.moisture.dead_below,
        moisture_full=numbers.spawn_run.moisture_full,
    )
    return np.asarray(expected * np.array([model.stack_factor(flush) for flush in flushes]))
