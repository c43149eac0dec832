"""What comes whatever the plan: flushes under way, rests, and a usual year's own.

They are part of the plan, so that the calendar and the week know of them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

import numpy as np

from fruitcast.biology.yields import season
from fruitcast.diary.plan import (
    FlushUnderWay,
    MidsummerSoak,
    NaturalSeason,
    Pick,
    SoakUnderWay,
    StackDay,
)
from fruitcast.diary.state import Soak, soak_behind
from fruitcast.forecast.outlook import YardOutlook
from fruitcast.forecast.past_seasons import season_grid_start
from fruitcast.forecast.stacks import StackOutlook
from fruitcast.forecast.typical_seasons import Climate, class_table, climate
from fruitcast.forecast.under_way import UnderWay, pulled_on
from fruitcast.forecast.yield_tables import SEASON_DAYS, Crop, SeasonTable
from fruitcast.soaks.expected import likely_kg
from fruitcast.topics import DiaryNumbers, NaturalNumbers
from fruitcast.units import SHOWN_AS_NONE_KG, Units, format_weight
from fruitcast.weather.daily import DailyWeather
from fruitcast.words import count_words, day_words

# What a usual year brings of itself, and when a soak between the natural seasons pays.
#
# For logs that bear already, by the site's past years. The year is cut at the height of summer:
# what comes by itself before it is the spring flush, or one of early summer where it is cool, what
# comes after it the autumn flush. A soak in summer brings a crop of its own and may cost part of
# the natural flush after it. Logs that have flushed this season rest first: what they bring until
# it ends is what past years have after a soak of that week.


@dataclass(frozen=True)
class YearRound:
    """The natural seasons ahead, and what soaks in summer bring."""

    seasons: tuple[NaturalSeason, ...]
    soaks: tuple[MidsummerSoak, ...]


def year_round(
    outlook: YardOutlook, weather: DailyWeather, seed: int, *, least_kg: float
) -> YearRound:
    """Return what the coming year brings of itself, and when a soak in summer pays.

    A soak must bring `least_kg` a log to be worth making. Raises WeatherGapError if the record is
    too short for typical seasons.
    """
    classes: dict[str, list[StackOutlook]] = {}
    for stack in outlook.stacks:
        ready = stack.spawn.ready.p50
        if stack.effective_logs > 0 and ready is not None and ready <= outlook.futures.today:
            classes.setdefault(stack.stack.strain_class, []).append(stack)
    seasons: list[NaturalSeason] = []
    soaks: list[MidsummerSoak] = []
    today, numbers, yard = outlook.futures.today, outlook.numbers, outlook.yard
    for name, stacks in sorted(classes.items()):
        diameter = float(np.median([each.stack.diameter for each in stacks]))
        site = climate(yard, weather, today, diameter, numbers)
        table = class_table(name, site, yard, (0,), yard.saleable, seed, numbers)
        groups: dict[int | None, list[StackOutlook]] = {}
        for stack in stacks:
            rests_from = _rests_from(stack, table, site, today, numbers.diary)
            groups.setdefault(rests_from, []).append(stack)
        for rests_from, group in groups.items():
            seasons += _seasons(table, site, group, today, numbers.natural, rests_from)
        if today >= _begins(site, today) + timedelta(days=int(numbers.natural.autumn_from)):
            groups = {None: stacks}  # next summer all are rested
        for rests_from, group in groups.items():
            soak = _summer_soak(table, site, group, today, numbers.natural, least_kg, rests_from)
            # Where rest leaves no week of this summer, there is nothing to say of its heat.
            if rests_from is None or soak.week is not None:
                soaks.append(soak)
    told = sorted(_together(seasons), key=lambda one: (one.first_pick.p50, one.strain_class))
    return YearRound(tuple(told), tuple(soaks))


def _rests_from(
    stack: StackOutlook, table: SeasonTable, site: Climate, today: date, diary: DiaryNumbers
) -> int | None:
    """Return which soak of the table stands for the last flush of this season; None without one.

    It is the soak of the nearest week. A flush by itself counts as a soak on its first day.
    """
    soak, pick = stack.state.last_soak, stack.last_first_pick
    days = [] if soak is None else [soak.on]
    window = diary.forced_pick_days
    if pick is not None and soak_behind(stack.state.soaks, pick, forced_pick_days=window) is None:
        days.append(pick)
    begins = _begins(site, today)
    if not days or max(days) < begins or not len(table.soak_weeks):
        return None
    return int(np.abs(table.soak_weeks - (max(days) - begins).days // 7).argmin())


def _together(found: Sequence[NaturalSeason]) -> Iterator[NaturalSeason]:
    """Join what is the same season for several groups of a class."""
    alike: dict[NaturalSeason, list[NaturalSeason]] = {}
    for each in found:
        same = each.model_copy(update={"stacks": (), "expected_kg": 0.0})
        alike.setdefault(same, []).append(each)
    for one, parts in alike.items():
        names = tuple(name for each in parts for name in each.stacks)
        kg = sum(each.expected_kg for each in parts)
        yield one.model_copy(update={"stacks": names, "expected_kg": kg})


def _seasons(
    table: SeasonTable,
    site: Climate,
    stacks: list[StackOutlook],
    today: date,
    natural: NaturalNumbers,
    rests_from: int | None = None,
) -> Iterator[NaturalSeason]:
    """Yield what this season still has in spring and in autumn, else what the next one has."""
    summer, autumn = int(natural.summer_from), int(natural.autumn_from)
    halves: tuple[tuple[Literal["spring", "autumn"], slice], ...] = (
        ("spring", slice(0, autumn)),
        ("autumn", slice(autumn, SEASON_DAYS)),
    )
    scale, names = sum(each.effective_logs for each in stacks), _names(stacks)
    rested = table.none[0]
    now = rested if rests_from is None else table.last[rests_from]
    for name, half in halves:
        for years, crop in enumerate((now, rested)):
            picked = crop[half]
            has = (picked > 0).any(axis=0)
            if not has.any():
                continue
            first = half.start + (picked[:, has] > 0).argmax(axis=0)
            rows = np.quantile(first, (0.1, 0.5, 0.9), method="inverted_cdf").astype(int)
            early, middle, late = _dates(rows, site, today, years)
            if middle < today:
                continue
            yield NaturalSeason(
                season="early summer" if summer <= rows[1] < autumn else name,
                strain_class=table.strain_class,
                stacks=names,
                chance=float(has.mean()),
                first_pick=Pick(p10=early, p50=middle, p90=late),
                expected_kg=float(picked[:, has].sum(axis=0).mean()) * scale,
            )
            break


def _summer_soak(
    table: SeasonTable,
    site: Climate,
    stacks: list[StackOutlook],
    today: date,
    natural: NaturalNumbers,
    least_kg: float,
    rests_from: int | None = None,
) -> MidsummerSoak:
    """Return the soak of summer that brings most beside a year without any more."""
    scale, logs = (
        sum(each.effective_logs for each in stacks),
        sum(each.state.logs for each in stacks),
    )
    if rests_from is None:
        alone, crops, soaks = table.none[0], table.first, table.first_soak
        arcs = np.flatnonzero(table.first_start == 0)
    else:
        alone, crops, soaks = table.last[rests_from], table.inner, table.inner_to
        arcs = np.flatnonzero(table.inner_from == rests_from)
    best, brings, week = 0.0, 0.0, None
    for arc in arcs:
        soak = soaks[arc]
        day = 7 * int(table.soak_weeks[soak])
        if not natural.summer_from <= day < natural.autumn_from:
            continue
        (monday,) = _dates(np.array([day]), site, today, 0)
        if monday < today:
            if rests_from is not None:
                continue
            (monday,) = _dates(np.array([day]), site, today, 1)
        # What comes before the soak day came by itself.
        own = _mean(crops[arc, day:]) * scale
        gain = (_mean(crops[arc]) + _mean(table.last[soak]) - _mean(alone)) * scale
        if own >= least_kg * logs and gain > best:
            best, brings, week = gain, own, monday
    return MidsummerSoak(
        strain_class=table.strain_class,
        stacks=_names(stacks),
        week=week,
        brings_kg=brings,
        costs_kg=max(brings - best, 0.0),
    )


def _mean(crop: Crop) -> float:
    """Return the mean over the years of what is picked in all. [kg/log]"""
    return float(crop.sum(axis=0).mean())


def _names(stacks: list[StackOutlook]) -> tuple[str, ...]:
    return tuple(each.name for each in stacks)


def _begins(site: Climate, today: date) -> date:
    """Return the Monday from which this season's days are counted."""
    return season_grid_start(season(today, site.where), site.where)


def _dates(rows: np.ndarray, site: Climate, today: date, years: int) -> list[date]:
    """Return days of the season as dates, of today's season or so many years later."""
    begins = season_grid_start(season(today, site.where) + years, site.where)
    return [begins + timedelta(days=int(row)) for row in rows]


# What is on its way whatever the plan: flushes of soaks already made, rests, spawn runs.

_RESTS = {"rest", "tank", "natural rest"}
"""Causes that keep a stack from the tank until it is rested."""


def coming(
    outlook: YardOutlook,
) -> tuple[tuple[SoakUnderWay, ...], tuple[StackDay, ...], tuple[StackDay, ...]]:
    """Return a plan's `under_way`, `rest_ends` and `ready`."""
    under_way, rest_ends, ready = [], [], []
    today = outlook.futures.today
    for stack in outlook.stacks:
        flush, soak = outlook.flushes.get(stack.name), stack.state.last_soak
        if flush is not None and flush.kind == "forced" and soak is not None:
            entry = _under_way(stack, soak, flush, outlook)
            if entry is not None:
                under_way.append(entry)
        until = {hold.cause: hold.until for hold in stack.holds}
        rested = [day for cause, day in until.items() if cause in _RESTS and day is not None]
        if rested and None not in until.values():
            rest_ends.append(_rest_end(stack, max(rested), today))
        ready_on = until.get("spawn run")
        if ready_on is not None:
            ready.append(_ready(stack, ready_on, until.get("first year"), today))
    return tuple(under_way), tuple(rest_ends), tuple(ready)


def flushes_under_way(outlook: YardOutlook) -> tuple[FlushUnderWay, ...]:
    """Return a plan's `flushes`: those that are being picked, and natural ones that have begun."""
    chance = outlook.numbers.schedule.clear_chance
    found = []
    for stack in outlook.stacks:
        flush = outlook.flushes.get(stack.name)
        if flush is None or not (flush.picked_kg > 0 or flush.kind == "natural"):
            continue
        kg = float(flush.kg.mean() * stack.effective_logs)
        if kg < SHOWN_AS_NONE_KG:
            continue
        last = outlook.futures.date(flush.clear_row(chance)) - timedelta(days=1)
        found.append(
            FlushUnderWay(
                stack=stack.name,
                kind=flush.kind,
                begun=flush.begun,
                pick=_first_pick(flush, outlook),
                last=max(last, outlook.futures.today),
                expected_kg=kg,
                reasons=so_far_words(flush, stack.effective_logs, outlook.yard.units),
            )
        )
    return tuple(found)


def _first_pick(flush: UnderWay, outlook: YardOutlook) -> Pick:
    """Return when it is first picked in the members in which it bears."""
    rows = flush.pick[flush.kg > 0]
    p10, p50, p90 = (
        outlook.futures.date(int(np.quantile(rows, share, method="inverted_cdf")))
        for share in (0.1, 0.5, 0.9)
    )
    return Pick(p10=p10, p50=p50, p90=p90)


def _under_way(
    stack: StackOutlook, soak: Soak, flush: UnderWay, outlook: YardOutlook
) -> SoakUnderWay | None:
    """A soak of the diary in the form of a plan's soaks; None when it bears in no member."""
    if not (flush.kg > 0).any():
        return None
    kg, usual_hours = flush.kg * stack.effective_logs, outlook.numbers.forced.usual_hours
    low, high = likely_kg(kg, flush.fails) if kg.any() else (None, None)
    return SoakUnderWay(
        stack=stack.name,
        logs=soak.logs,
        soak_on=soak.on,
        hours=soak.hours or usual_hours,
        pull_on=pulled_on(soak, usual_hours),
        pick=_first_pick(flush, outlook),
        clear_on=None
        if outlook.yard.fruiting.places is None
        else outlook.futures.date(flush.clear_row(outlook.numbers.schedule.clear_chance)),
        expected_kg=float(kg.mean()),
        kg_p10=low,
        kg_p90=high,
        reasons=so_far_words(flush, stack.effective_logs, outlook.yard.units),
    )


def so_far_words(flush: UnderWay, scale: float, units: Units) -> tuple[str, ...]:
    """Return what was picked of a flush beside what it should come to; nothing before a pick.

    What is still to come stands beside it as a mean: a third figure would never quite add up.
    """
    if flush.picked_kg <= 0:
        return ()
    low, high = (format_weight(flush.whole_kg(scale, chance), units) for chance in (0.1, 0.9))
    return (f"so far {format_weight(flush.picked_kg, units)}, in all {low} to {high} most likely",)


def _rest_end(stack: StackOutlook, on: date, today: date) -> StackDay:
    soak = stack.state.last_soak
    last = "flushed by itself"
    if soak is not None:
        last = f"last soaked on {day_words(soak.on, today)}"
    return StackDay(stack=stack.name, on=on, reason=last)


def _ready(stack: StackOutlook, on: date, year_up: date | None, today: date) -> StackDay:
    wait = year_up is not None and year_up > on
    reason = (
        f"first soak from {day_words(year_up, today)} on, a full year from inoculation"
        if wait and year_up is not None
        else f"{count_words((on - stack.stack.inoculated).days, 'day')} from inoculation"
    )
    return StackDay(stack=stack.name, on=on, reason=reason)
