"""How many logs of what to inoculate each year, the years season by season, and logs a pound."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import partial
from itertools import count

import numpy as np

from fruitcast.arrays import IntArray
from fruitcast.biology.yields import season
from fruitcast.errors import InputError, NoPlanError
from fruitcast.forecast.outlook import YardOutlook
from fruitcast.forecast.past_seasons import season_grid_start
from fruitcast.forecast.typical_seasons import ECHOES, Climate, class_table, climate
from fruitcast.forecast.yield_tables import SEASON_DAYS, SEASON_WEEKS, rotation_crop
from fruitcast.inoculation.answers import CauseOfLogs, LogsForAPound, Season, SettledWeek
from fruitcast.inoculation.build import (
    columns_born,
    judged_seasons,
    kind_years,
    make_model,
    mean_cost,
    whole_logs,
)
from fruitcast.inoculation.problem import (
    Asked,
    LogKind,
    ProgrammeModel,
    ProgrammeSolution,
    StandingLogs,
    Year,
    soaked_in,
    soaked_units,
    standing_logs,
)
from fruitcast.inoculation.solving import (
    MOST_ROUNDS,
    Deliveries,
    ProgrammeProgram,
    class_crop,
    deliveries,
    pool_flows,
    share_met,
    smallest_programme,
)
from fruitcast.numbers import Numbers
from fruitcast.progress import Progress, silent
from fruitcast.topics import STRAIN_CLASSES, ReportedNumbers, SpawnForm
from fruitcast.units import KG_PER_LB
from fruitcast.weather.daily import DailyWeather
from fruitcast.weather.known import ENOUGH_YEARS
from fruitcast.yard.model import Outlet, Wood, Yard

OUTLOOK_WEEKS = 70
"""How far what stands is looked at: a batch of this spring is through its spawn run. [week]"""

_MOST_TREES = 3
LEAST_YEARS, MOST_YEARS = 1, 15

_LOWEST_PRICE = 0.3  # logs for a kilogram short: below it hardly anything is worth inoculating
_FIRST_PRICE = 2.0
_NEAR_ENOUGH = 0.02
_SURE_PRICE, _SURE_ROUNDS = 0.65, 2  # of the price; where nothing is in doubt less will do
_MOST_TRIES = MOST_ROUNDS + _SURE_ROUNDS + 1  # then whole logs, once


@dataclass(frozen=True)
class Programme:
    """A programme with all that it was made from."""

    yard: Yard
    today: date
    outlets: tuple[Outlet, ...]  # whose targets it serves
    wished: float  # share of sales to be met [0..1]
    kinds: tuple[LogKind, ...]
    # Bearing years of each kind, counted from the season of inoculation
    kind_years: tuple[tuple[Year, ...], ...]
    standing: tuple[StandingLogs, ...]
    climate: Climate
    # Season's crop of a log of factor 1 in rotation, by class, before saleable loss [kg]
    crops: dict[str, float]
    first_born: int  # season of the first inoculation, counted from this one
    logs: IntArray  # (year, kind): logs to inoculate; the last year's are repeated ever after
    model: ProgrammeModel
    relaxed: ProgrammeSolution  # its best solution with parts of logs allowed
    solution: ProgrammeSolution  # with the whole logs
    brought: Deliveries  # what that brings in the weather years it was not made for
    chance: float  # share of sales met from the first season on in which new logs bear fully [0..1]
    reached: bool  # whether that is the wished chance
    # Logs of the last year, parts of logs allowed, if it were known how well yard and seasons
    # bear [log]
    sure_logs: float | None
    warnings: tuple[str, ...]  # what the grower should know

    @property
    def years(self) -> int:
        """Years of inoculation."""
        return len(self.logs)

    @property
    def doubt_logs(self) -> float | None:
        """Of the last year's logs those that not knowing how well logs will bear asks for. [log]"""
        if self.sure_logs is None:
            return None
        last = self.relaxed.logs.reshape(self.logs.shape)[-1]
        return max(float(last.sum()) - self.sure_logs, 0.0)

    @property
    def gap(self) -> float:
        """What whole logs cost beyond the best programme in parts of logs. [unitless]"""
        best = self.relaxed.objective
        return (self.solution.objective - best) / best if best > 0 else 0.0

    @property
    def steady_season(self) -> int:
        """The last season looked at: every age of log is of the last year's number."""
        return self.model.seasons - 1

    def columns_born(self, season_number: int) -> dict[int, int]:
        """Return, for each kind, the column of the logs inoculated in a season."""
        return columns_born(season_number, self.first_born, self.years, len(self.kinds))


def available_kinds(yard: Yard) -> tuple[LogKind, ...]:
    """Return what the grower can inoculate: every class on every kind of log to be had.

    Those that yard.toml names; else the yard's three most used tree species in its usual size.
    Raises NoPlanError if neither logs to be had nor stacks are listed.
    """
    woods = yard.woods or _woods_of_stacks(yard)
    forms: dict[SpawnForm, int] = {"plug": 0}
    for stack in yard.stacks:
        forms[stack.spawn] = forms.get(stack.spawn, 0) + stack.logs
    usual = max(sorted(forms), key=lambda form: forms[form])
    return tuple(
        LogKind(
            strain_class,
            wood.tree,
            wood.diameter,
            wood.length,
            wood.spawn or usual,
            wood=place,
            most_a_year=wood.logs_a_year,
        )
        for strain_class in STRAIN_CLASSES
        for place, wood in enumerate(woods)
        if wood.strain_class in (None, strain_class)
    )


def _woods_of_stacks(yard: Yard) -> tuple[Wood, ...]:
    logs: dict[str, int] = {}
    for stack in yard.stacks:
        logs[stack.tree] = logs.get(stack.tree, 0) + stack.logs
    if not logs:
        raise NoPlanError(
            "Nobody knows which logs you can get: stacks.csv lists no stacks. Name them in "
            "yard.toml: [[wood]] with tree, diameter and length."
        )
    used = sorted(logs, key=lambda tree: (-logs[tree], tree))[:_MOST_TREES]
    total = sum(stack.logs for stack in yard.stacks)
    diameter = sum(stack.logs * stack.diameter for stack in yard.stacks) / total
    length = sum(stack.logs * stack.length for stack in yard.stacks) / total
    return tuple(Wood(tree, round(diameter, 3), round(length, 2)) for tree in used)


def plan_programme(
    now: YardOutlook,
    weather: DailyWeather,
    asked: Asked,
    *,
    seed: int = 1,
    numbers: Numbers,
    progress: Progress = silent,
) -> Programme:
    """Return the smallest programme of yearly inoculations that meets the targets.

    `now` is the yard today, looked at for `OUTLOOK_WEEKS` without soaks: what stands counts with
    its remaining life.
    The weather is complete up to yesterday; by the seed weather years are chosen too. Raises
    NoPlanError if there is no outlet, no kind of log, or no soak day.
    """
    yard, today = now.yard, now.futures.today
    asked = replace(asked, wanted_from=max(asked.wanted_from, today))
    kinds, wished = asked.kinds, asked.chance
    _check(asked)
    progress("following logs through the site's past seasons")
    diameter = float(np.mean([kind.diameter for kind in kinds]))
    site = climate(yard, weather, today, diameter, numbers, learning=now.learned)
    crops: dict[str, float] = {
        name: float(
            rotation_crop(
                class_table(name, site, yard, [0], 1.0, seed, numbers),
                0,
                rest_days=numbers.schedule.rest_days,
            ).mean()
        )
        for name in STRAIN_CLASSES
    }
    bearing = tuple(kind_years(kinds, site, crops, numbers))
    standing = standing_logs(now, today, crops)
    first_born = season(site.inoculated, site.where) - site.now
    model = make_model(yard, asked, bearing, standing, site, first_born, seed, numbers)
    if not asked.inoculate:
        model = replace(model, most=np.zeros(len(model.cost)))
    tries = count()

    def on_try() -> None:
        progress("weighing logs against sales", next(tries), _MOST_TRIES)

    progress("weighing logs against sales")
    program = ProgrammeProgram(model)
    judged = judged_seasons(first_born, bearing, model.seasons)
    cost = mean_cost(kinds)
    lowest, highest = _LOWEST_PRICE * cost, numbers.inoculation.shortfall_price * cost
    settle = partial(smallest_programme, lowest=lowest, highest=highest, on_try=on_try)
    # With nothing to inoculate only soaks are weighed, and selling is what logs are for.
    first, rounds = (_FIRST_PRICE * cost, None) if asked.inoculate else (highest, 1)
    settled = settle(program, wished, judged, start=first, rounds=rounds)
    sure = None
    if asked.inoculate and settled.reached:
        _, shared = site.learning.usual_luck(site.seasons.years, seed)
        known = replace(
            model, tables={name: table.over(shared) for name, table in model.tables.items()}
        )
        start = _SURE_PRICE * settled.price
        sure = settle(ProgrammeProgram(known), wished, judged, start=start, rounds=_SURE_ROUNDS)
    progress("weighing whole logs", _MOST_TRIES - 1, _MOST_TRIES)
    whole = whole_logs(settled.solution.logs, model)
    solution = program.solve(settled.price, logs=whole)
    brought = deliveries(model, solution)
    met = share_met(model, brought, judged)
    return Programme(
        yard=yard,
        today=today,
        outlets=asked.outlets,
        wished=wished,
        kinds=tuple(kinds),
        kind_years=bearing,
        standing=standing,
        climate=site,
        crops=crops,
        first_born=first_born,
        logs=whole.astype(np.int64).reshape(asked.years, len(kinds)),
        model=model,
        relaxed=settled.solution,
        solution=solution,
        brought=brought,
        chance=met,
        reached=met >= wished - _NEAR_ENOUGH,
        sure_logs=None if sure is None else float(sure.solution.logs[-len(kinds) :].sum()),
        warnings=_warnings(asked, site, met),
    )


def _check(asked: Asked) -> None:
    if not asked.outlets:
        raise NoPlanError(
            "yard.toml names no outlet, so there is no target to meet. Say what you want each "
            "week, like --for 'Sat=2 lb' or 'Sat=1 kg', or add an [[outlet]] with its day and "
            "target to yard.toml. One batch of logs, --batch, wants neither."
        )
    if not asked.kinds:
        raise NoPlanError("No kind of log is given. Name at least one tree species and its size.")
    if not LEAST_YEARS <= asked.years <= MOST_YEARS:
        raise InputError(
            f"A programme of {asked.years} years was asked for; give {LEAST_YEARS} to {MOST_YEARS}."
        )
    for kind in asked.kinds:
        if kind.cost <= 0:
            raise InputError(
                f"{kind.strain_class} on {kind.tree}: a cost of {kind.cost:g} a log. Give a cost "
                "above nought, or none for any kind."
            )


def _warnings(asked: Asked, site: Climate, met: float) -> tuple[str, ...]:
    notes, wished = [], asked.chance
    once = [outlet.name for outlet in asked.outlets if isinstance(outlet.last, date)]
    if once:
        notes.append(
            f"{', '.join(once)}: ends on a date, so nothing is grown for it after. Give month and "
            'day of every year, like to = "10-30", if it goes on.'
        )
    years = len(site.seasons.years) // ECHOES
    if years < ENOUGH_YEARS:
        notes.append(
            f"Only {years} past years of weather: chances and the mix of classes are less sure."
        )
    if asked.inoculate and met < wished - _NEAR_ENOUGH:
        notes.append(
            f"{met:.0%} of the sales are met, not {wished:.0%}: more logs would hardly help. Tank, "
            "hands, soaking season, cold store or the logs to be had stand in the way, or the "
            "targets of weeks in which hardly anything bears: give such an outlet its season, "
            "'from' and 'to' in yard.toml."
        )
    return tuple(notes)


# A programme season by season: logs that stand and bear, what is wanted, picked and sold.


def season_summaries(programme: Programme) -> tuple[Season, ...]:
    """Return every season looked at, this one first."""
    model = programme.model
    of_sale = np.array([sale.season for sale in model.sales])
    target = np.array([sale.target for sale in model.sales])
    found = []
    for number in range(model.seasons):
        mine = of_sale == number
        sold = programme.brought.delivered[mine].sum(axis=0)
        low, high = np.quantile(sold, (0.1, 0.9))
        bearing, idle, leaving = _logs(programme, number)
        born = programme.columns_born(number)
        met = programme.brought.met[mine]
        found.append(
            Season(
                year=programme.climate.now + number,
                inoculated_logs=int(
                    sum(programme.logs.ravel()[column] for column in born.values())
                ),
                bearing_logs=bearing,
                spawn_run_logs=idle,
                leaving_logs=leaving,
                target_kg=float(target[mine].sum()),
                picked_kg=float(programme.brought.picked[number].mean()),
                sold_kg=float(programme.brought.sold[mine].sum()),
                sold_p10_kg=float(low),
                sold_p90_kg=float(high),
                chance=float(met.mean()) if mine.any() else None,
            )
        )
    return tuple(found)


def _logs(programme: Programme, number: int) -> tuple[int, int, int]:
    """Logs that bear in a season, that don't yet, and that go after it."""
    lives = [
        (stack.logs, stack.years[0].season, stack.years[-1].season) for stack in programme.standing
    ]
    for begins in range(number + 1):
        for kind, column in programme.columns_born(begins).items():
            if years := programme.kind_years[kind]:
                logs = int(programme.logs.ravel()[column])
                lives.append((logs, begins + years[0].season, begins + years[-1].season))
    return (
        sum(logs for logs, first, last in lives if first <= number <= last),
        sum(logs for logs, first, _ in lives if number < first),
        sum(logs for logs, _, last in lives if number == last),
    )


# Logs for a pound a week: the programme's own figure beside the rule of thumb, cause by cause.

_WEEK = 7
_LEAST_LOGS, _LEAST_KG = 0.5, 0.01  # soaked or picked in a week: worth a line
REFERENCE_CLASS = "wide-range"


def logs_standing(programme: Programme) -> float:
    """Return the logs of the settled yard: every age of the last year's number. [log]"""
    return sum(
        float(count) * (years[-1].season + 1)
        for count, years in zip(programme.logs[-1], programme.kind_years, strict=True)
        if years
    )


def logs_bearing(programme: Programme) -> float:
    """Return those of them that bear. [log]"""
    return sum(
        float(count) * len(years)
        for count, years in zip(programme.logs[-1], programme.kind_years, strict=True)
    )


def logs_per_pound(
    programme: Programme, reported: ReportedNumbers, *, flush: float
) -> LogsForAPound | None:
    """Return the logs for a pound a week in the settled season, and why so many.

    None when nothing is inoculated or nothing sold in the settled season; `flush` is one flush of
    the reference log, of `REFERENCE_CLASS` [kg/log]. The rule of thumb: every log soaked once in
    eight weeks gives its flush, and all of it is sold. Ours, in the same terms: fewer soaks in
    the weeks of sale (rest, season, idle logs), old and young logs that give less (wear), flushes
    that heat, cold or rest make smaller and natural ones that come on top (weather), what can't
    be sold (loss), what comes when nobody wants it (surplus: the price of the chance and of
    uneven weeks), what is short, and logs that don't bear yet (spawn run).
    """
    model, season = programme.model, programme.steady_season
    place = [n for n, sale in enumerate(model.sales) if sale.season == season]
    standing, bearing = logs_standing(programme), logs_bearing(programme)
    if not place or bearing <= 0:
        return None
    weeks = len({(model.sales[n].day % SEASON_DAYS) // _WEEK for n in place})
    target = sum(model.sales[n].target for n in place)
    sold = float(programme.brought.sold[place].sum())
    picked = float(programme.brought.picked[season].mean())
    soaked = soaked_in(model, programme.solution, season)
    units, soaks = sum(units for _, units, _ in soaked), sum(logs for *_, logs in soaked)
    if min(units, picked, sold) <= 0:
        return None
    rotation = reported.thumb_weeks
    saleable = programme.yard.saleable
    causes = {
        "rotation": bearing * weeks / (rotation * soaks),
        "wear": soaks / units,
        "weather": flush * units * saleable / picked,
        "loss": 1 / saleable,
        "surplus": picked / sold,
        "short": sold / target,
        "spawn run": standing / bearing,
    }
    return LogsForAPound(
        logs=standing,
        weekly_kg=target / weeks,
        logs_per_lb_a_week=standing * weeks * KG_PER_LB / target,
        rule_of_thumb=(reported.thumb_low, reported.thumb_high),
        whole_farms=(reported.farm_low, reported.farm_high),
        rule_of_thumb_with_our_flush=rotation * KG_PER_LB / flush,
        causes=tuple(CauseOfLogs(cause=name, factor=factor) for name, factor in causes.items()),
    )


def season_shape(programme: Programme) -> tuple[SettledWeek, ...]:
    """Return what each class does in each week of the settled season, dated in this one.

    In order of week; a week with hardly anything is left out.
    """
    model, season, site = programme.model, programme.steady_season, programme.climate
    begins = season_grid_start(site.now, site.where)
    found = []
    for name, table in sorted(model.tables.items()):
        soaked = np.zeros(SEASON_WEEKS)
        for pool, flow in pool_flows(model, programme.solution, season, name):
            soaked[table.soak_weeks] += soaked_units(model, pool, flow) * pool.logs_per_unit
        crop = class_crop(model, programme.solution, season, name)[:SEASON_DAYS].mean(axis=1)
        picked = crop.reshape(SEASON_WEEKS, _WEEK).sum(axis=1)
        found += [
            SettledWeek(
                week=begins + timedelta(weeks=int(week)),
                strain_class=name,
                soaked_logs=float(soaked[week]),
                picked_kg=float(picked[week]),
            )
            for week in np.flatnonzero((soaked >= _LEAST_LOGS) | (picked >= _LEAST_KG))
        ]
    return tuple(sorted(found, key=lambda entry: entry.week))
