"""Logs for a pound a week: the programme's own figure beside the rule of thumb, cause by cause."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fruitcast.forecast.yield_tables import SEASON_DAYS, SEASON_WEEKS
from fruitcast.inoculation.problem import soaked_units
from fruitcast.inoculation.programme import Programme
from fruitcast.inoculation.solving import class_crop, pool_flows
from fruitcast.topics import ReportedNumbers
from fruitcast.units import KG_PER_LB

_WEEK = 7
REFERENCE_CLASS = "wide-range"


@dataclass(frozen=True)
class Cause:
    """One cause of the difference."""

    name: str  # 'rotation', 'wear', 'weather', 'loss', 'surplus', 'short' or 'spawn run'
    factor: float  # what it multiplies the logs by [unitless]


@dataclass(frozen=True)
class LogsPerPound:
    """How many logs it takes to sell a pound a week."""

    logs: float  # all logs of the settled yard, those in spawn run included [log]
    weekly_kg: float  # sum of the targets of a week with sales, on average [kg]
    ours: float  # logs for a pound a week [log per lb a week]
    # The rule of thumb with our own flush of a log in its best year [log per lb a week]
    thumb: float
    causes: tuple[Cause, ...]  # their factors times `thumb` make `ours`
    # The rule of thumb as it goes, and what whole farms report [log per lb a week]
    thumb_range: tuple[float, float]
    farm_range: tuple[float, float]


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
) -> LogsPerPound | None:
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
    units, soaks = 0.0, 0.0
    for pool, flow in zip(model.pools, programme.solution.flows, strict=True):
        if pool.season == season:
            soaked = float(soaked_units(model, pool, flow).sum())
            units += soaked
            soaks += soaked * pool.logs_per_unit
    if min(units, picked, sold) <= 0:
        return None
    rotation = reported.thumb_weeks
    saleable = programme.yard.saleable
    return LogsPerPound(
        logs=standing,
        weekly_kg=target / weeks,
        ours=standing * weeks * KG_PER_LB / target,
        thumb=rotation * KG_PER_LB / flush,
        causes=(
            Cause("rotation", bearing * weeks / (rotation * soaks)),
            Cause("wear", soaks / units),
            Cause("weather", flush * units * saleable / picked),
            Cause("loss", 1 / saleable),
            Cause("surplus", picked / sold),
            Cause("short", sold / target),
            Cause("spawn run", standing / bearing),
        ),
        thumb_range=(reported.thumb_low, reported.thumb_high),
        farm_range=(reported.farm_low, reported.farm_high),
    )


@dataclass(frozen=True)
class ClassWeek:
    """What one class does in one week of the settled season."""

    strain_class: str
    week: int  # week of the season
    soaked: float  # logs soaked [log]
    picked: float  # saleable crop, forced and natural, mean over weather years [kg]


def season_shape(programme: Programme) -> tuple[ClassWeek, ...]:
    """Return what each class does in each week of the settled season, in order of week."""
    model, season = programme.model, programme.steady_season
    found = []
    for name, table in model.tables.items():
        soaked = np.zeros(SEASON_WEEKS)
        for pool, flow in pool_flows(model, programme.solution, season, name):
            soaked[table.soak_weeks] += soaked_units(model, pool, flow) * pool.logs_per_unit
        crop = class_crop(model, programme.solution, season, name)[:SEASON_DAYS].mean(axis=1)
        picked = crop.reshape(SEASON_WEEKS, _WEEK).sum(axis=1)
        found += [
            ClassWeek(name, week, float(soaked[week]), float(picked[week]))
            for week in range(SEASON_WEEKS)
        ]
    return tuple(sorted(found, key=lambda entry: (entry.week, entry.strain_class)))
