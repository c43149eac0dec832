"""What logs of one kind would give: every soak day and every natural flush, in every member.

Weights are for one log whose stack factor (tree, size, bearing year, wear, learning) is 1,
before what cannot be sold, and before the rest since the last flush is counted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from statistics import NormalDist

import numpy as np
import numpy.typing as npt

from fruitcast.biology.forced import (
    daily_loss,
    first_pick,
    season_allows,
    summer,
    thermal_time,
)
from fruitcast.biology.natural import trigger_days
from fruitcast.biology.picking import dry_cap_share, shape_table
from fruitcast.biology.run_length import cumulate
from fruitcast.biology.yields import Hemisphere, temperature_factor
from fruitcast.forecast.log_weather import Forced, LogKind, LogWeather, Natural
from fruitcast.forecast.members import Ensemble
from fruitcast.forecast.parts import Luck
from fruitcast.numbers import Numbers

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

SPELL_DAYS = 10
"""Days that `Fruiting.good_weather` takes for one flush: a grid of the calculation. [day]"""


@dataclass(frozen=True)
class Fruiting:
    """All that one kind of logs does in every member, or some kinds of one class.

    Attributes
    ----------
    kinds : tuple of Kind
        The kinds, see `LogWeather`.
    weather : LogWeather
        For flushes already under way.
    forced, natural : Forced, Natural
        Its flushes.
    forced_shape, natural_shape : (length + 1, longest) float array
        Share of a flush picked on each of its days, by its length.
    keeping : (day, member) float array
        Share of a day's pick that rain on the caps leaves saleable. [unitless]
    """

    kinds: tuple[LogKind, ...]
    weather: LogWeather
    forced: Forced
    natural: Natural
    forced_shape: FloatArray
    natural_shape: FloatArray
    keeping: FloatArray

    @property
    def kind(self) -> LogKind:
        """The first kind, or the only one."""
        return self.kinds[0]

    @cached_property
    def each(self) -> tuple[Fruiting, ...]:
        """The same of each of the kinds."""
        if len(self.kinds) == 1:
            return (self,)
        members, found = self.keeping.shape[1], []
        for place, kind in enumerate(self.kinds):
            mine = slice(place * members, (place + 1) * members)
            weather, forced = self.weather.of(place), self.forced.of(mine)
            natural = self.natural.of(mine)
            found.append(
                replace(self, kinds=(kind,), weather=weather, forced=forced, natural=natural)
            )
        return tuple(found)

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
        numbers, futures = weather.numbers, weather.futures
        strain = numbers.strain(weather.kind.strain_class)
        rows = np.arange(futures.lookback, futures.days - SPELL_DAYS)
        mean = (weather.temperature[rows + SPELL_DAYS] - weather.temperature[rows]) / SPELL_DAYS
        fit = temperature_factor(strain.range, mean, margin=numbers.yields.range_margin)
        flushes = np.maximum(self.natural.trigger.sum(axis=0), 1)
        forced = strain.yields.base * fit.sum(axis=0) / numbers.schedule.rest_days
        return np.asarray(forced + self.natural.kg.sum(axis=0) / flushes)

    def times_bearing(self, bearing: FloatArray) -> Fruiting:
        """Return the same kinds with all weights times a factor by day.

        Parameters
        ----------
        bearing : (day,) float array
            What the bearing year of each day gives, relative to the best one looked at.
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
    specific_gravity: float,
    where: Hemisphere,
) -> Fruiting:
    """Return what logs of some kinds do in every member.

    Parameters
    ----------
    kinds : sequence of Kind
        Kinds of one class, of the same learned lead time and the grower's own hours.
    futures : Ensemble
        The members' weather.
    moisture : (day, column) float array
        Log moisture, a column for each member of each kind. [kg/kg dry wood]
    water : (day, column) float array
        Rain and watering. [mm/day]
    soak_rows : (soak,) int array
        Rows on which a soak may start.
    done : sequence of (int, int)
        Soaks whose pull is settled: row of the soak and of the pull. They stand in front of
        the others in `Forced`.
    lucks : sequence of Luck
        What weather doesn't explain, by kind.
    seed : int
        Seed of the scatter.
    numbers : Numbers
        The numbers in use.
    specific_gravity : float
        Of the wood that stands for all. [unitless]
    where : str
        Hemisphere: a summer soak is by the calendar.
    """
    strain, count = numbers.strain(kinds[0].strain_class), len(kinds)
    loss = daily_loss(
        strain.forced,
        futures.tmin,
        futures.tmax,
        heat_loss=numbers.forced.heat_loss,
        frost_loss=numbers.forced.frost_loss,
    )
    weather = LogWeather(
        tuple(kinds),
        futures,
        moisture,
        np.tile(thermal_time(strain, futures.tmean), count),
        np.tile(cumulate(futures.tmean), count),
        np.tile(cumulate(loss), count),
        tuple(lucks),
        np.broadcast_to(1.0, moisture.shape),
        seed,
        numbers,
        specific_gravity,
    )
    return Fruiting(
        kinds=tuple(kinds),
        weather=weather,
        forced=_forced(weather, np.asarray(soak_rows, dtype=np.int64), done, where),
        natural=_natural(weather, water),
        forced_shape=shape_table("forced", numbers.picking, numbers.natural),
        natural_shape=shape_table("natural", numbers.picking, numbers.natural),
        keeping=dry_cap_share(
            futures.rain,
            rain_from=numbers.picking.rain_from,
            rain_full=numbers.picking.rain_full,
            rain_loss=numbers.picking.rain_loss,
        ),
    )


def _forced(
    weather: LogWeather, soaks: IntArray, done: Sequence[tuple[int, int]], where: Hemisphere
) -> Forced:
    rows = np.concatenate([[row for row, _ in done], soaks]).astype(np.int64)
    hours = weather.usual_hours(rows)
    if weather.kind.own is not None:
        day, own = weather.kind.own
        hours[rows == (day - weather.futures.first).days] = own
    pull = rows + np.ceil(hours / 24).astype(np.int64)
    pull[: len(done)] = [row for _, row in done]
    need = weather.need(rows)
    pick = first_pick(weather.thermal_time, pull, need)
    length, kg = weather.crop(rows, pull, hours, pick)
    kg *= weather.yields("yield", rows) * (1 - weather.luck.fails)
    does_bear = weather.bears(pull, pick)
    strain_class, tmean = weather.kind.strain_class, weather.futures.tmean
    days = np.datetime64(weather.futures.first, "D") + rows
    months = days.astype("datetime64[M]").astype(np.int64) % 12 + 1
    return Forced(
        soak_row=rows,
        pull_row=pull,
        hours=hours,
        allowed=season_allows(
            weather.numbers.strain(strain_class).forced,
            tmean,
            pull,
            season_days=weather.numbers.forced.season_days,
            in_summer=summer(months, where),
        ),
        need=need,
        pick_row=pick,
        length=length,
        bears=does_bear,
        kg=np.where(does_bear, kg, 0.0),
    )


def _natural(weather: LogWeather, water: FloatArray) -> Natural:
    futures, numbers = weather.futures, weather.numbers
    by_kind = (futures.days, len(weather.kinds), -1)
    trigger = trigger_days(
        numbers.strain(weather.kind.strain_class).natural,
        futures.tmin[:, None],
        futures.tmean[:, None],
        water.reshape(by_kind),
        weather.moisture.reshape(by_kind),
        numbers.natural,
        urgent_below=numbers.watering.urgent_below,
    ).reshape(futures.days, -1)
    table = weather.natural(trigger, weather.leads)
    return replace(table, kg=table.kg * weather.yields("natural", np.arange(futures.days)))
