"""What flushes of logs take from the weather of every member: warmth, moisture, heat and frost.

A kind is a strain class, a size band and a learned lead time. Kinds are reckoned side by side:
their columns are those of the members, once for each kind.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from math import prod

import numpy as np
import numpy.typing as npt

from fruitcast.arrays import BoolArray, FloatArray, IntArray
from fruitcast.biology.forced import (
    bears,
    first_pick,
    mean_between,
    soak_hours,
    surviving_share,
)
from fruitcast.biology.moisture import soak_gain
from fruitcast.biology.natural import Days, NaturalPick, natural_first_pick
from fruitcast.biology.picking import clear_row, flush_days
from fruitcast.biology.run_length import true_at
from fruitcast.biology.spawn_run import moisture_factor
from fruitcast.biology.spread import multiplier
from fruitcast.biology.yields import temperature_factor
from fruitcast.forecast.members import Ensemble
from fruitcast.forecast.parts import Luck, standard_normals
from fruitcast.forecast.water import COMMON_WOOD
from fruitcast.numbers import Numbers
from fruitcast.topics import StrainNumbers


@dataclass(frozen=True)
class LogKind:
    """What logs have in common that the weather treats alike."""

    strain_class: str
    diameter: float  # middle of the size band [m]
    lead_factor: float = 1.0  # learned lead time over the table's [unitless]
    # Moisture today of logs that the diary tells apart, see `water.Band` [kg/kg dry wood]
    moisture_today: float | None = None
    stack: str = ""  # the one stack it is of, in a season that comes true: each has luck of its own
    # A soak that the grower has fixed: its day and its own hours in water [h]
    own: tuple[date, float] | None = None

    @property
    def draws(self) -> str:
        """Name of its random draws: what was learned, weighed or fixed leaves them as they are."""
        return f"{self.strain_class} {self.diameter * 100:g} cm{self.stack and ' ' + self.stack}"


@dataclass(frozen=True)
class Forced:
    """Forced flushes by soak day and member, kinds side by side."""

    # soak_row, pull_row, (soak,): row of `Ensemble` on which the soak starts, and of the morning of
    # the pull
    soak_row: IntArray
    pull_row: IntArray
    hours: FloatArray  # (soak,): hours in water [h]
    # (soak,): whether class and season allow the soak; (kind, soak) of several kinds
    allowed: BoolArray
    need: FloatArray  # (soak, member): warmth from pull to first pick [degC day]
    pick_row: IntArray  # (soak, member): row of the first pick
    length: IntArray  # (soak, member): days of picking
    bears: BoolArray  # (soak, member): whether mushrooms come at all
    # (soak, member): weight of the flush on a rested log, less the share of soaks that fail
    # [kg/log]
    kg: FloatArray

    def of(self, kinds: slice, columns: slice) -> Forced:
        """Return the same of some of several kinds, whose columns are given."""
        names = ("need", "pick_row", "length", "bears", "kg")
        own = {name: getattr(self, name)[:, columns] for name in names}
        allowed = self.allowed[kinds]
        return replace(self, allowed=allowed if len(allowed) > 1 else allowed[0], **own)

    def standing_days(self, clear_chance: float) -> IntArray:
        """Return on how many days from the pull on logs stand where they fruit. [day]

        By soak; (kind, soak) of several kinds, as `allowed`.
        """
        soaks, columns = self.pick_row.shape
        kinds = self.allowed.shape[:-1]
        by_kind = (soaks, *kinds, columns // prod(kinds))
        past = (self.pick_row + self.length).reshape(by_kind)
        clear = clear_row(past, self.bears.reshape(by_kind), clear_chance)
        return np.asarray(np.maximum(clear.T - self.pull_row, 0))


@dataclass(frozen=True)
class Natural:
    """Natural flushes: what would come of a trigger on each day, kinds side by side."""

    trigger: BoolArray  # (day, member): days that set off a flush on a ready, rested log
    pick: NaturalPick  # first pick of each, or that its buds die
    length: Days  # (day, member): days of picking
    # (day, member): weight of the flush on a rested log; 0 where nothing was set off [kg/log]
    kg: FloatArray

    def of(self, columns: slice) -> Natural:
        """Return the same of some columns."""
        first, aborted = self.pick
        return Natural(
            self.trigger[:, columns],
            NaturalPick(first[:, columns], aborted[:, columns]),
            self.length[:, columns],
            self.kg[:, columns],
        )


@dataclass(frozen=True)
class LogWeather:
    """What all flushes of some kinds take from the weather of every member."""

    # The kinds, side by side: the first kind's members, then the next one's
    kinds: tuple[LogKind, ...]
    futures: Ensemble  # the members' weather
    moisture: FloatArray  # (day, column): log moisture [kg/kg dry wood]
    # thermal_time, temperature, loss, (day + 1, column): running totals of warmth above its class's
    # base, of the daily mean temperature, and of the daily losses to heat and frost [degC day, degC
    # day, unitless]
    thermal_time: FloatArray
    temperature: FloatArray
    loss: FloatArray
    lucks: tuple[Luck, ...]  # what weather doesn't explain, by kind
    # (day, column): what the yard's and the season's parts make of yields [unitless]
    shared: FloatArray
    seed: int  # seed of the scatter
    numbers: Numbers  # the numbers in use

    @property
    def kind(self) -> LogKind:
        """The first kind, or the only one; all have its own hours in water."""
        return self.kinds[0]

    @property
    def luck(self) -> Luck:
        """The first kind's luck: what lead times have in common, and failure, are those of all."""
        return self.lucks[0]

    @property
    def leads(self) -> FloatArray:
        """What all stacks' lead times have in common: (column,). [unitless]"""
        return np.tile(self.luck.leads, len(self.kinds))

    @property
    def members(self) -> int:
        """How many columns each kind has."""
        return len(self.luck.leads)

    @cached_property
    def _strains(self) -> list[StrainNumbers]:
        """The numbers of each kind's class."""
        return [self.numbers.strain(kind.strain_class) for kind in self.kinds]

    @cached_property
    def _requirement(self) -> FloatArray:
        """Warmth from pull to first pick by each kind's table. [degC day]"""
        return np.array([strain.forced.requirement for strain in self._strains])

    @cached_property
    def _lead_factor(self) -> FloatArray:
        """What was learned of each kind's. [unitless]"""
        return np.array([kind.lead_factor for kind in self.kinds])

    @cached_property
    def base(self) -> FloatArray:
        """What the class's flush weighs by the table: (column,). [kg/log]"""
        return self._by_column([strain.yields.base for strain in self._strains])

    def table_need(self, leads: FloatArray, kind: IntArray | None = None) -> FloatArray:
        """Return the warmth from pull to first pick, flushes' own luck left aside. [degC day]

        By what all stacks' lead times have in common, (..., column), and the place of the kind of
        each, where those are not the columns' own.
        """
        need = self._requirement * self._lead_factor
        return np.asarray((self._by_column(need) if kind is None else need[kind]) * leads)

    def fit(self, mean: FloatArray, column: IntArray) -> FloatArray:
        """Return how well the temperature suits the class of each one's column. [unitless]"""
        strains, yields = self._strains, self.numbers.yields
        first = [strains.index(strain) for strain in strains]
        if not any(first):
            return temperature_factor(strains[0].range, mean, yields)
        place = np.broadcast_to(np.array(first)[column // self.members], mean.shape)
        found = np.empty(mean.shape)
        for kind in set(first):
            mine = place == kind
            found[mine] = temperature_factor(strains[kind].range, mean[mine], yields)
        return found

    def _by_column(self, values: npt.ArrayLike) -> FloatArray:
        return np.repeat(values, self.members)

    def normals(self, what: str, rows: npt.ArrayLike) -> FloatArray:
        """Return a normal draw for each row and column, evenly spread over the members.

        Where all are one weather year, as of a season that comes true, there is nothing to
        spread: each has the same draw.
        """
        futures = self.futures
        even = len(set(futures.years)) > 1
        drawn = [
            standard_normals(
                self.seed, futures.years, f"{kind.draws} {what}", futures.first, rows, even=even
            )
            for kind in self.kinds
        ]
        return np.concatenate(drawn, axis=1)

    def yields(
        self, what: str, rows: npt.ArrayLike, at: tuple[IntArray, ...] | None = None
    ) -> FloatArray:
        """Return what its own luck makes of each row's flush, of mean 1; or of some. [unitless]"""
        spread = self._by_column([luck.yield_log_sd for luck in self.lucks])
        drawn = self.normals(what, rows)
        return multiplier(drawn, spread) if at is None else multiplier(drawn[at], spread[at[1]])

    def need(self, rows: npt.ArrayLike) -> FloatArray:
        """Return the warmth from pull to first pick of each row's soak. [degC day]"""
        spread = self._by_column([luck.lead_log_sd for luck in self.lucks])
        return self.table_need(self.leads) * multiplier(self.normals("lead", rows), spread)

    def usual_hours(self, rows: IntArray) -> FloatArray:
        """Return the hours in water for soaks on some rows: one choice for all members. [h]"""
        ahead = np.minimum(rows + int(self.numbers.forced.season_days), self.futures.days)
        of_members = self.temperature[:, : self.members]
        mean = mean_between(of_members, rows[:, None], ahead[:, None])
        return soak_hours(np.median(mean, axis=1), self.numbers.forced)

    def crop(
        self,
        rows: IntArray,
        pull: IntArray,
        hours: FloatArray,
        pick: IntArray,
        column: IntArray | None = None,
    ) -> tuple[IntArray, FloatArray]:
        """Return days of picking and weight, of a rested log [kg/log], of some forced flushes.

        (soak, column), by the rows of the soaks and of the mornings of the pull and the hours in
        water, (soak,), and the row of each first pick, (soak, column). What luck makes of them is
        left out, see `yields`. `column` is the column of the weather for each, where that is not
        the same one.
        """
        numbers = self.numbers
        if column is None:
            column = np.arange(self.moisture.shape[1])[None]
        mean = mean_between(self.temperature, pull[:, None], pick, column)
        length = flush_days("forced", mean, numbers.picking, numbers.natural)
        before = self.moisture[np.maximum(rows - 1, 0)[:, None], column]
        soaked = before + soak_gain(
            before,
            hours[:, None],
            diameter=self._by_column([each.diameter for each in self.kinds])[column],
            specific_gravity=numbers.tree(COMMON_WOOD).specific_gravity,
            balance=numbers.moisture,
        )
        weight = self.base[column] * self.fit(mean, column)
        weight *= moisture_factor(soaked, numbers.moisture, numbers.spawn_run)
        weight *= surviving_share(self.loss, pull[:, None], pick + length, column)
        return length, weight

    def natural(
        self, trigger: BoolArray, leads: FloatArray, column: IntArray | None = None
    ) -> Natural:
        """Return what comes of trigger days, (day, column); luck and `column` as in `crop`.

        `leads` is what all stacks' lead times have in common, (column,), see `Luck`.
        """
        numbers, days = self.numbers, len(trigger)
        if column is None:
            column = np.arange(trigger.shape[1])
        kind = column // self.members
        lead = self._lead_factor[kind] * leads
        pick = natural_first_pick(
            self._requirement[kind], self.thermal_time, trigger, numbers.natural, lead, column
        )
        length = np.zeros(trigger.shape, dtype=np.int32)
        kg = np.zeros(trigger.shape)
        day, of = true_at(trigger & (pick.first_pick < days))
        if len(day):
            first, at = pick.first_pick[day, of], column[of]
            warmer = self.temperature[first, at] - self.temperature[day, at]
            mean = warmer / np.maximum(first - day, 1)
            picked = flush_days("natural", mean, numbers.picking, numbers.natural)
            past = np.minimum(first + picked, days)
            survives = np.exp(self.loss[day, at] - self.loss[past, at])
            best = self.base[at] * numbers.yields.natural_factor
            weight = best * self.fit(mean, at) * survives
            length[day, of] = picked
            kg[day, of] = weight * moisture_factor(
                self.moisture[day, at], numbers.moisture, numbers.spawn_run
            )
        return Natural(trigger, pick, length, kg)

    def with_even_luck(self, forced: Forced, trigger: BoolArray) -> tuple[FloatArray, Natural]:
        """Return what flushes bring where lead times and yields are as expected.

        The weight of the forced ones on a rested log, (soak, column) [kg/log], and the natural ones
        of some trigger days, (day, column).
        """
        rows, pull = forced.soak_row, forced.pull_row
        pick = first_pick(self.thermal_time, pull, self.table_need(np.ones(forced.need.shape)))
        _, kg = self.crop(rows, pull, forced.hours, pick)
        shared = self.shared[rows, : self.members].mean(axis=1, keepdims=True)
        kg *= shared * (1 - self.luck.fails)
        bears = self.bears(pull, pick)
        coming = self.may_come(trigger)
        return np.where(bears, kg, 0.0), self.natural(coming, np.ones(trigger.shape[1]))

    def may_come(self, trigger: BoolArray) -> BoolArray:
        """Return trigger days without those whose flush is picked or has died before today."""
        early = self.futures.lookback - int(self.numbers.natural.longest_days)
        return trigger & (np.arange(len(trigger)) >= early)[:, None]

    def of(self, first: int, past: int) -> LogWeather:
        """Return the same of some kinds in a row."""
        mine = slice(first * self.members, past * self.members)
        return replace(
            self,
            kinds=self.kinds[first:past],
            lucks=self.lucks[first:past],
            **{
                name: getattr(self, name)[:, mine]
                for name in ("moisture", "thermal_time", "temperature", "loss", "shared")
            },
        )

    def first_rows(self, days: int) -> LogWeather:
        """Return the same on some first days."""
        return replace(
            self,
            moisture=self.moisture[:days],
            thermal_time=self.thermal_time[: days + 1],
            temperature=self.temperature[: days + 1],
            loss=self.loss[: days + 1],
        )

    def bears(self, pull: IntArray, pick: IntArray) -> BoolArray:
        """Return whether forced flushes come at all; parameters as in `crop`."""
        longest = self.numbers.forced.longest_days
        return bears(pull, pick, len(self.moisture), longest_days=longest)


def columns_of(places: IntArray, members: int) -> IntArray:
    """Return the columns of kinds that stand side by side: (place, member)."""
    return places[:, None] * members + np.arange(members)
