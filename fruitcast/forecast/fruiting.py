"""What logs of one kind would give: every soak day and every natural flush, in every member.

A kind is a strain class, a size band, a learned lead time and a course of bearing years.
Weights are for one log whose stack factor (tree, size, bearing year, wear, learning) is 1,
before what cannot be sold, and before the rest since the last flush is counted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from statistics import NormalDist

import numpy as np
import numpy.typing as npt

from fruitcast.biology.forced import (
    bears,
    daily_loss,
    first_pick,
    mean_between,
    season_allows,
    soak_hours,
    summer,
    surviving_share,
    thermal_time,
)
from fruitcast.biology.moisture import soak_gain
from fruitcast.biology.natural import NaturalPick, natural_first_pick, trigger_days
from fruitcast.biology.picking import clear_row, dry_cap_share, flush_days, shape_table
from fruitcast.biology.run_length import cumulate
from fruitcast.biology.spawn_run import moisture_factor
from fruitcast.biology.spread import evened, multiplier
from fruitcast.biology.yields import Hemisphere, temperature_factor
from fruitcast.forecast.members import Ensemble
from fruitcast.forecast.parts import Luck, standard_normals
from fruitcast.numbers import Numbers

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

SPELL_DAYS = 10
"""Days that `Fruiting.good_weather` takes for one flush: a grid of the calculation. [day]"""


@dataclass(frozen=True)
class Kind:
    """What logs have in common that the weather treats alike.

    Attributes
    ----------
    strain_class : str
        Strain class.
    diameter : float
        Middle of the size band. [m]
    lead_factor : float
        Learned lead time over the table's. [unitless]
    level : float or None
        Moisture today of logs that the diary tells apart, see `water.Band`. [kg/kg dry wood]
    stack : str
        The one stack it is of, in a season that comes true: each has luck of its own.
    own : (date, float) or None
        A soak that the grower has fixed: its day and its own hours in water. [h]
    """

    strain_class: str
    diameter: float
    lead_factor: float = 1.0
    level: float | None = None
    stack: str = ""
    own: tuple[date, float] | None = None

    @property
    def draws(self) -> str:
        """Name of its random draws: what was learned, weighed or fixed leaves them as they are."""
        return f"{self.strain_class} {self.diameter * 100:g} cm{self.stack and ' ' + self.stack}"


@dataclass(frozen=True)
class Forced:
    """Forced flushes of one kind, by soak day and member.

    Attributes
    ----------
    soak_row, pull_row : (soak,) int array
        Row of `Ensemble` on which the soak starts, and of the morning of the pull.
    hours : (soak,) float array
        Hours in water. [h]
    allowed : (soak,) bool array
        Whether class and season allow the soak.
    need : (soak, member) float array
        Warmth from pull to first pick. [degC day]
    pick_row : (soak, member) int array
        Row of the first pick.
    length : (soak, member) int array
        Days of picking.
    bears : (soak, member) bool array
        Whether mushrooms come at all.
    kg : (soak, member) float array
        Weight of the flush on a rested log, less the share of soaks that fail. [kg/log]
    """

    soak_row: IntArray
    pull_row: IntArray
    hours: FloatArray
    allowed: BoolArray
    need: FloatArray
    pick_row: IntArray
    length: IntArray
    bears: BoolArray
    kg: FloatArray

    def standing_days(self, clear_chance: float) -> IntArray:
        """Return on how many days from the pull on logs stand where they fruit, by soak. [day]"""
        clear = clear_row(self.pick_row + self.length, self.bears, clear_chance)
        return np.asarray(np.maximum(clear - self.pull_row, 0))


@dataclass(frozen=True)
class Natural:
    """Natural flushes of one kind: what would come of a trigger on each day.

    Attributes
    ----------
    trigger : (day, member) bool array
        Days that set off a flush on a ready, rested log.
    pick : NaturalPick
        First pick of each, or that its buds die.
    length : (day, member) int array
        Days of picking.
    kg : (day, member) float array
        Weight of the flush on a rested log; 0 where nothing was set off. [kg/log]
    """

    trigger: BoolArray
    pick: NaturalPick
    length: IntArray
    kg: FloatArray


@dataclass(frozen=True)
class LogWeather:
    """What all flushes of one kind take from the weather of every member.

    Attributes
    ----------
    kind : Kind
        The kind.
    futures : Ensemble
        The members' weather.
    moisture : (day, member) float array
        Log moisture. [kg/kg dry wood]
    warmth, temperature, loss : (day + 1, member) float array
        Running totals of warmth above the class's base, of the daily mean temperature, and of
        the daily losses to heat and frost. [degC day, degC day, unitless]
    luck : Luck
        What weather doesn't explain.
    shared : (day, member) float array
        What the yard's and the season's parts make of yields. [unitless]
    seed : int
        Seed of the scatter.
    numbers : Numbers
        The numbers in use.
    specific_gravity : float
        Of the wood that stands for all. [unitless]
    """

    kind: Kind
    futures: Ensemble
    moisture: FloatArray
    warmth: FloatArray
    temperature: FloatArray
    loss: FloatArray
    luck: Luck
    shared: FloatArray
    seed: int
    numbers: Numbers
    specific_gravity: float

    def normals(self, what: str, rows: npt.ArrayLike) -> FloatArray:
        """Return a normal draw for each row and member, evenly spread over the members.

        Where all are one weather year, as of a season that comes true, there is nothing to
        spread: each has the same draw.
        """
        futures = self.futures
        name = f"{self.kind.draws} {what}"
        drawn = standard_normals(self.seed, futures.years, name, futures.first, rows)
        return drawn if len(set(futures.years)) == 1 else evened(drawn)

    def yields(self, what: str, rows: npt.ArrayLike) -> FloatArray:
        """Return what its own luck makes of each row's flush, of mean 1. [unitless]"""
        return multiplier(self.normals(what, rows), self.luck.yield_log_sd)

    def leads(self, rows: npt.ArrayLike) -> FloatArray:
        """Return the warmth from pull to first pick of each row's soak. [degC day]"""
        return self.table_need * multiplier(self.normals("lead", rows), self.luck.lead_log_sd)

    @property
    def table_need(self) -> FloatArray:
        """Warmth from pull to first pick, its own luck left aside: (member,). [degC day]"""
        requirement = self.numbers.strain(self.kind.strain_class).forced.requirement
        return requirement * self.kind.lead_factor * self.luck.leads

    def usual_hours(self, rows: IntArray) -> FloatArray:
        """Return the hours in water for soaks on some rows: one choice for all members. [h]"""
        ahead = np.minimum(rows + int(self.numbers.forced.season_days), self.futures.days)
        mean = mean_between(self.temperature, rows[:, None], ahead[:, None])
        return soak_hours(np.median(mean, axis=1), self.numbers.forced)

    def crop(
        self, rows: IntArray, pull: IntArray, hours: FloatArray, pick: IntArray
    ) -> tuple[IntArray, FloatArray]:
        """Return days of picking and weight of forced flushes that are picked from some rows on.

        What luck makes of them is left out, see `yields`.

        Parameters
        ----------
        rows, pull : (soak,) int array
            Row of the soak and of the morning of the pull.
        hours : (soak,) float array
            Hours in water. [h]
        pick : (soak, member) int array
            Row of the first pick.

        Returns
        -------
        length : (soak, member) int array
            [day]
        kg : (soak, member) float array
            Of a rested log. [kg/log]
        """
        kind, numbers = self.kind, self.numbers
        mean = mean_between(self.temperature, pull[:, None], pick)
        length = flush_days("forced", mean, numbers.picking, numbers.natural)
        before = self.moisture[np.maximum(rows - 1, 0)]
        soaked = before + soak_gain(
            before,
            hours[:, None],
            diameter=kind.diameter,
            specific_gravity=self.specific_gravity,
            balance=numbers.moisture,
        )
        kg = numbers.strain(kind.strain_class).yields.base
        weight = kg * temperature_factor(
            numbers.strain(kind.strain_class).range, mean, margin=numbers.yields.range_margin
        )
        weight *= moisture_factor(
            soaked,
            dead_below=numbers.moisture.dead_below,
            moisture_full=numbers.spawn_run.moisture_full,
        )
        weight *= surviving_share(self.loss, pull[:, None], pick + length)
        return length, weight

    def natural(self, trigger: BoolArray) -> Natural:
        """Return what comes of trigger days, (day, member); luck is left out as in `crop`."""
        futures, numbers = self.futures, self.numbers
        strain = numbers.strain(self.kind.strain_class)
        lead = self.kind.lead_factor * self.luck.leads
        pick = natural_first_pick(strain, futures.tmean, trigger, numbers.natural, lead)
        length = np.zeros(trigger.shape, dtype=np.int64)
        kg = np.zeros(trigger.shape)
        day, member = np.nonzero(trigger & (pick.first_pick < futures.days))
        if len(day):
            first = pick.first_pick[day, member]
            total = self.temperature
            mean = (total[first, member] - total[day, member]) / np.maximum(first - day, 1)
            length[day, member] = flush_days("natural", mean, numbers.picking, numbers.natural)
            past = np.minimum(first + length[day, member], futures.days)
            survives = np.exp(self.loss[day, member] - self.loss[past, member])
            fits = temperature_factor(strain.range, mean, margin=numbers.yields.range_margin)
            weight = strain.yields.base * numbers.yields.natural_factor * fits * survives
            kg[day, member] = weight * moisture_factor(
                self.moisture[day, member],
                dead_below=numbers.moisture.dead_below,
                moisture_full=numbers.spawn_run.moisture_full,
            )
        return Natural(trigger, pick, length, kg)

    def with_even_luck(self, forced: Forced, trigger: BoolArray) -> tuple[FloatArray, Natural]:
        """Return what flushes bring where lead times and yields are as expected.

        Parameters
        ----------
        forced : Forced
            The soaks.
        trigger : (day, member) bool array
            Days that set off a natural flush.

        Returns
        -------
        kg : (soak, member) float array
            Of the forced flushes, on a rested log. [kg/log]
        natural : Natural
            The natural ones.
        """
        even = replace(self, luck=replace(self.luck, leads=np.ones_like(self.luck.leads)))
        rows, pull = forced.soak_row, forced.pull_row
        pick = first_pick(even.warmth, pull, np.tile(even.table_need, (len(rows), 1)))
        _, kg = even.crop(rows, pull, forced.hours, pick)
        shared = np.broadcast_to(self.shared, trigger.shape).mean(axis=1)[rows, None]
        kg *= shared * (1 - self.luck.fails)
        return np.where(even.bears(pull, pick), kg, 0.0), even.natural(trigger)

    def in_columns(self, columns: IntArray, futures: Ensemble, luck: Luck) -> LogWeather:
        """Return the same on some first days, with other columns, luck of their own in each.

        Parameters
        ----------
        columns : (column,) int array
            Members.
        futures : Ensemble
            Their weather in these columns, on these days.
        luck : Luck
            Of the new columns.
        """
        return replace(
            self,
            futures=futures,
            luck=luck,
            moisture=self.moisture[: futures.days, columns],
            **{
                name: getattr(self, name)[: futures.days + 1, columns]
                for name in ("warmth", "temperature", "loss")
            },
        )

    def bears(self, pull: IntArray, pick: IntArray) -> BoolArray:
        """Return whether forced flushes come at all; parameters as in `crop`."""
        longest = self.numbers.forced.longest_days
        return bears(pull, pick, self.futures.days, longest_days=longest)


@dataclass(frozen=True)
class Fruiting:
    """All that one kind of logs does in every member.

    Attributes
    ----------
    kind : Kind
        The kind.
    weather : LogWeather
        For flushes already under way.
    forced, natural : Forced, Natural
        Its flushes.
    forced_shape, natural_shape : (length + 1, longest) float array
        Share of a flush picked on each of its days, by its length.
    keeping : (day, member) float array
        Share of a day's pick that rain on the caps leaves saleable. [unitless]
    """

    kind: Kind
    weather: LogWeather
    forced: Forced
    natural: Natural
    forced_shape: FloatArray
    natural_shape: FloatArray
    keeping: FloatArray

    def sharing(self, yields: FloatArray) -> Fruiting:
        """Return the same kind with what all stacks' yields have in common: (day, member)."""
        at = self.forced.soak_row
        forced = replace(self.forced, kg=self.forced.kg * yields[at])
        natural = replace(self.natural, kg=self.natural.kg * yields)
        weather = replace(self.weather, shared=yields)
        return replace(self, weather=weather, forced=forced, natural=natural)

    def failing(self) -> Fruiting:
        """Return the same kind as it may come true: some soaks fail, the others give it all."""
        forced, fails = self.forced, self.weather.luck.fails
        drawn = self.weather.normals("fails", forced.soak_row)
        comes = drawn > NormalDist().inv_cdf(fails)
        kg = np.where(comes, forced.kg / (1 - fails), 0.0)
        return replace(self, forced=replace(forced, bears=forced.bears & comes, kg=kg))

    def good_weather(self) -> FloatArray:
        """Return how good each member's weather is for such logs: (member,). [kg/log]

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

    def with_course(self, course: FloatArray) -> Fruiting:
        """Return the same kind with all weights times a factor by day.

        Parameters
        ----------
        course : (day,) float array
            What the bearing year of each day gives, relative to the best one looked at.
        """
        forced = replace(self.forced, kg=self.forced.kg * course[self.forced.soak_row, None])
        natural = replace(self.natural, kg=self.natural.kg * course[:, None])
        return replace(self, forced=forced, natural=natural)


def fruiting(
    kind: Kind,
    futures: Ensemble,
    moisture: FloatArray,
    water: FloatArray,
    soak_rows: IntArray,
    *,
    done: Sequence[tuple[int, int]] = (),
    luck: Luck,
    seed: int,
    numbers: Numbers,
    specific_gravity: float,
    where: Hemisphere,
) -> Fruiting:
    """Return what logs of one kind do in every member.

    Parameters
    ----------
    kind : Kind
        The kind.
    futures : Ensemble
        The members' weather.
    moisture : (day, member) float array
        Log moisture. [kg/kg dry wood]
    water : (day, member) float array
        Rain and watering. [mm/day]
    soak_rows : (soak,) int array
        Rows on which a soak may start.
    done : sequence of (int, int)
        Soaks whose pull is settled: row of the soak and of the pull. They stand in front of
        the others in `Forced`.
    luck : Luck
        What weather doesn't explain.
    seed : int
        Seed of the scatter.
    numbers : Numbers
        The numbers in use.
    specific_gravity : float
        Of the wood that stands for all. [unitless]
    where : str
        Hemisphere: a summer soak is by the calendar.
    """
    weather = LogWeather(
        kind,
        futures,
        moisture,
        thermal_time(numbers.strain(kind.strain_class), futures.tmean),
        cumulate(futures.tmean),
        cumulate(
            daily_loss(
                numbers.strain(kind.strain_class).forced,
                futures.tmin,
                futures.tmax,
                heat_loss=numbers.forced.heat_loss,
                frost_loss=numbers.forced.frost_loss,
            )
        ),
        luck,
        np.ones((1, 1)),
        seed,
        numbers,
        specific_gravity,
    )
    return Fruiting(
        kind=kind,
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
    need = weather.leads(rows)
    pick = first_pick(weather.warmth, pull, need)
    length, kg = weather.crop(rows, pull, hours, pick)
    kg *= weather.yields("yield", rows) * (1 - weather.luck.fails)
    does_bear = weather.bears(pull, pick)
    strain_class, tmean = weather.kind.strain_class, weather.futures.tmean
    months = [weather.futures.date(int(row)).month for row in rows]
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
    trigger = trigger_days(
        numbers.strain(weather.kind.strain_class).natural,
        futures.tmin,
        futures.tmean,
        water,
        weather.moisture,
        numbers.natural,
        urgent_below=numbers.watering.urgent_below,
    )
    table = weather.natural(trigger)
    return replace(table, kg=table.kg * weather.yields("natural", np.arange(futures.days)))
