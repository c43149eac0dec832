"""What logs of some kinds would give: every soak day and every natural flush, in every member.

Weights are for one log whose stack factor (tree, size, bearing year, wear, learning) is 1,
before what cannot be sold, and before the rest since the last flush is counted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from statistics import NormalDist

import numpy as np

from fruitcast.arrays import FloatArray, IntArray
from fruitcast.biology.forced import (
    daily_loss,
    first_pick,
    season_allows,
    summer,
    thermal_time,
)
from fruitcast.biology.natural import trigger_days
from fruitcast.biology.picking import dry_cap_share, shape_table
from fruitcast.biology.run_length import cumulate, true_at
from fruitcast.biology.yields import Hemisphere, temperature_factor
from fruitcast.forecast.log_weather import Forced, LogKind, LogWeather, Natural
from fruitcast.forecast.members import Ensemble
from fruitcast.forecast.parts import Luck
from fruitcast.numbers import Numbers

SPELL_DAYS = 10
"""Days that `Fruiting.good_weather` takes for one flush: a grid of the calculation. [day]"""


@dataclass(frozen=True)
class Fruiting:
    """All that one kind of logs does in every member, or some kinds side by side."""

    kinds: tuple[LogKind, ...]  # the kinds, see `LogWeather`
    weather: LogWeather  # for flushes already under way
    # forced, natural: its flushes
    forced: Forced
    natural: Natural
    # forced_shape, natural_shape, (length + 1, longest): share of a flush picked on each of its
    # days, by its length
    forced_shape: FloatArray
    natural_shape: FloatArray
    # (day, member): share of a day's pick that rain on the caps leaves saleable [unitless]
    keeping: FloatArray

    @property
    def kind(self) -> LogKind:
        """The first kind, or the only one."""
        return self.kinds[0]

    @cached_property
    def each(self) -> tuple[Fruiting, ...]:
        """The same of each of the kinds."""
        return tuple(self.of(place, place + 1) for place in range(len(self.kinds)))

    @property
    def classes(self) -> list[Fruiting]:
        """The same of the kinds of each class: they stand in a row."""
        names = [kind.strain_class for kind in self.kinds]
        edges = [place for place in range(1, len(names)) if names[place] != names[place - 1]]
        return [self.of(*ends) for ends in pairwise([0, *edges, len(names)])]

    def of(self, first: int, past: int) -> Fruiting:
        """Return the same of some kinds in a row."""
        if past - first == len(self.kinds):
            return self
        members = self.keeping.shape[1]
        columns = slice(first * members, past * members)
        return replace(
            self,
            kinds=self.kinds[first:past],
            weather=self.weather.of(first, past),
            forced=self.forced.of(slice(first, past), columns),
            natural=self.natural.of(columns),
        )

    def sharing(self, yields: FloatArray) -> Fruiting:
        """Return the same kinds with what all stacks' yields have in common: (day, member)."""
        at, yields = self.forced.soak_row, np.tile(yields, len(self.kinds))
        forced = replace(self.forced, kg=self.forced.kg * yields[at])
        natural = replace(self.natural, kg=self.natural.kg * yields)
        weather = replace(self.weather, shared=yields)
        return replace(self, weather=weather, forced=forced, natural=natural)

    def failing(self) -> Fruiting:
        """Return the same kinds as they may come true: some soaks fail, the others give it all."""
        forced, fails = self.forced, self.weather.luck.fails
        drawn = self.weather.normals("fails", forced.soak_row)
        comes = drawn > NormalDist().inv_cdf(fails)
        kg = np.where(comes, forced.kg / (1 - fails), 0.0)
        return replace(self, forced=replace(forced, bears=forced.bears & comes, kg=kg))

    def good_weather(self) -> FloatArray:
        """Return how good each member's weather is for such logs: (column,). [kg/log]

        About what they would give, whichever days they are soaked on: enough to tell members
        apart.
        """
        weather = self.weather
        rest, futures = weather.numbers.schedule.rest_days, weather.futures
        rows = np.arange(futures.lookback, futures.days - SPELL_DAYS)
        temperature, numbers = weather.temperature[:, : weather.members], weather.numbers
        mean = (temperature[rows + SPELL_DAYS] - temperature[rows]) / SPELL_DAYS
        classes = [kind.strain_class for kind in self.kinds]
        fit = {
            name: temperature_factor(numbers.strain(name).range, mean, numbers.yields).sum(axis=0)
            for name in dict.fromkeys(classes)
        }
        flushes = np.maximum(self.natural.trigger.sum(axis=0), 1)
        forced = weather.base * np.concatenate([fit[name] for name in classes]) / rest
        return np.asarray(forced + self.natural.kg.sum(axis=0) / flushes)

    def times_bearing(self, bearing: FloatArray) -> Fruiting:
        """Return the same kinds with all weights times what the bearing year of each day gives.

        (day,), relative to the best one looked at.
        """
        forced = replace(self.forced, kg=self.forced.kg * bearing[self.forced.soak_row, None])
        natural = replace(self.natural, kg=self.natural.kg * bearing[:, None])
        return replace(self, forced=forced, natural=natural)


def fruiting(
    kinds: Sequence[LogKind],
    futures: Ensemble,
    moisture: FloatArray,
    water: FloatArray,
    soak_rows: IntArray,
    *,
    done: Sequence[tuple[int, int]] = (),
    lucks: Sequence[Luck],
    seed: int,
    numbers: Numbers,
    where: Hemisphere,
) -> Fruiting:
    """Return what logs of some kinds, with the same of the grower's own hours, do in every member.

    Log moisture [kg/kg dry wood], and rain with watering [mm/day], have a column for each member of
    each kind, (day, column). Soaks may start on some rows, (soak,); those that are `done` are told
    by the row of the soak and of the pull and stand in front of the others in `Forced`. Luck is by
    kind, the seed that of the scatter; a summer soak is by the hemisphere's calendar.
    """
    of_class = {}
    for name in dict.fromkeys(kind.strain_class for kind in kinds):
        loss = daily_loss(numbers.strain(name).forced, futures.tmin, futures.tmax, numbers.forced)
        of_class[name] = thermal_time(numbers.strain(name), futures.tmean), cumulate(loss)
    warmth, losses = zip(*(of_class[kind.strain_class] for kind in kinds), strict=True)
    weather = LogWeather(
        tuple(kinds),
        futures,
        moisture,
        np.concatenate(warmth, axis=1),
        np.tile(cumulate(futures.tmean), len(kinds)),
        np.concatenate(losses, axis=1),
        tuple(lucks),
        np.broadcast_to(1.0, moisture.shape),
        seed,
        numbers,
    )
    return Fruiting(
        kinds=tuple(kinds),
        weather=weather,
        forced=_forced(weather, np.asarray(soak_rows, dtype=np.int64), done, where),
        natural=_natural(weather, water),
        forced_shape=shape_table("forced", numbers.picking, numbers.natural),
        natural_shape=shape_table("natural", numbers.picking, numbers.natural),
        keeping=dry_cap_share(futures.rain, numbers.picking),
    )


def _forced(
    weather: LogWeather, soaks: IntArray, done: Sequence[tuple[int, int]], where: Hemisphere
) -> Forced:
    rows = np.concatenate([[row for row, _ in done], soaks]).astype(np.int64)
    hours = weather.usual_hours(rows)
    if weather.kind.own is not None:
        day, own = weather.kind.own
        hours[rows == weather.futures.row(day)] = own
    pull = rows + np.ceil(hours / 24).astype(np.int64)
    pull[: len(done)] = [row for _, row in done]
    need = weather.need(rows)
    pick = first_pick(weather.thermal_time, pull, need)
    length, kg = weather.crop(rows, pull, hours, pick)
    kg *= weather.yields("yield", rows) * (1 - weather.luck.fails)
    does_bear = weather.bears(pull, pick)
    days = np.datetime64(weather.futures.first, "D") + rows
    months = days.astype("datetime64[M]").astype(np.int64) % 12 + 1
    in_summer, season_days = summer(months, where), weather.numbers.forced.season_days
    of_class = {
        name: season_allows(
            weather.numbers.strain(name).forced,
            weather.futures.tmean,
            pull,
            season_days=season_days,
            in_summer=in_summer,
        )
        for name in dict.fromkeys(kind.strain_class for kind in weather.kinds)
    }
    allowed = np.array([of_class[kind.strain_class] for kind in weather.kinds])
    return Forced(
        soak_row=rows,
        pull_row=pull,
        hours=hours,
        allowed=allowed if len(allowed) > 1 else allowed[0],
        need=need,
        pick_row=pick,
        length=length,
        bears=does_bear,
        kg=np.where(does_bear, kg, 0.0),
    )


def _natural(weather: LogWeather, water: FloatArray) -> Natural:
    futures, numbers = weather.futures, weather.numbers
    by_kind = (futures.days, len(weather.kinds), -1)
    water, moisture = water.reshape(by_kind), weather.moisture.reshape(by_kind)
    classes = np.array([kind.strain_class for kind in weather.kinds])
    trigger = np.empty((*by_kind[:2], weather.members), dtype=bool)
    for name in dict.fromkeys(classes.tolist()):
        mine = classes == name
        trigger[:, mine] = trigger_days(
            numbers.strain(name).natural,
            futures.tmin[:, None],
            futures.tmean[:, None],
            water[:, mine],
            moisture[:, mine],
            numbers.natural,
            urgent_below=numbers.watering.urgent_below,
        )
    table = weather.natural(trigger.reshape(futures.days, -1), weather.leads)
    some = true_at(table.kg > 0)  # on few days anything is set off
    drawn, of_drawn = np.unique(some[0], return_inverse=True)
    table.kg[some] *= weather.yields("natural", drawn, (of_drawn, some[1]))
    return table
