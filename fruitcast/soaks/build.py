"""From the yard's outlook to the scheduling problem."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property
from typing import NamedTuple

import numpy as np

from fruitcast.arrays import BoolArray, FloatArray, IntArray
from fruitcast.biology.yields import hemisphere, season
from fruitcast.diary.state import pulled_on
from fruitcast.forecast.flushes import Following
from fruitcast.forecast.fruiting import Fruiting
from fruitcast.forecast.log_weather import LogKind
from fruitcast.forecast.outlook import YardOutlook
from fruitcast.forecast.stacks import StackOutlook, season_rows, seasons_of
from fruitcast.soaks.crops import PickDays, pick_days_of
from fruitcast.soaks.kind_arcs import FirstOfStacks, KindArcs, Starts, first_of_stacks, kind_arcs
from fruitcast.soaks.problem import (
    FirstArcs,
    Prices,
    Problem,
    StackProblem,
    TypeArcs,
)
from fruitcast.soaks.sale_days import least_soak_kg, outlet_days, table_days, with_promised
from fruitcast.soaks.soak_days import Fixed, fixed_soaks, next_soak_date, rows_away


@dataclass(frozen=True)
class TypeWork:
    """What a type's arcs were made from, kept for explaining a plan; reckoned where it is asked."""

    arcs: KindArcs  # of its kind, picks left out
    starts: Starts  # stacks of its and other kinds
    places: tuple[int, ...]  # its stacks' places among those, in the order of `stacks`
    bearing: FloatArray  # (row,): what its bearing years give
    stacks: tuple[int, ...]  # positions of its stacks in the outlook

    @cached_property
    def fruiting(self) -> Fruiting:
        """Its logs, with the factors of its bearing years."""
        return self.arcs.logs.times_bearing(self.bearing)

    @cached_property
    def following(self) -> Following:
        """Natural flushes after each soak; starts are soak days."""
        return self.arcs.following.times_bearing(self.bearing)

    @cached_property
    def first(self) -> Following:
        """Natural flushes from today; starts are the stacks in the order of `stacks`."""
        following = self.starts.following.of_starts(list(self.places))
        return following.times_bearing(self.bearing)

    @property
    def first_factor(self) -> FloatArray:
        """What is left of a first soak: (stack, soak, member)."""
        return self.starts.factor[list(self.places)]

    def left_of_first(self, place: int, soak: int) -> FloatArray:
        """Return what is left of one stack's first soak: (member,)."""
        return self.starts.left(self.places[place], soak)

    def left(self, before: int, soak: int) -> FloatArray:
        """Return what is left of a soak after another, between which there is an arc: (member,)."""
        arc = (self.arcs.start == before) & (self.arcs.stop == soak)
        return np.asarray(self.arcs.factor[arc][0])


SCALE_BAND = 0.15
"""Stacks whose logs yield alike but for this share go by one list of soaks worth making: a grid
of the calculation. [unitless]"""

LEAST_SCALE = 0.01
"""Logs that yield less than this share of a reference log are not told apart. [unitless]"""


@dataclass(frozen=True)
class BuiltProblem:
    """A problem with what it was made from."""

    problem: Problem
    outlook: YardOutlook  # the yard through every possible future
    types: tuple[TypeWork, ...]  # what its types were made from
    fixed: Fixed  # the soaks that the grower has fixed
    away: BoolArray  # (row,): days away, by row of the outlook's futures


def build_problem(
    outlook: YardOutlook, *, weeks: int, seed: int, promise: float, crops: bool = True
) -> BuiltProblem:
    """Return the scheduling problem of a yard; who looks at no crops can leave them out."""
    numbers = outlook.numbers
    yard, futures = outlook.yard, outlook.futures
    tail = int(numbers.schedule.tail_days)
    days = 7 * weeks + tail
    away = rows_away(yard, futures)
    next_day = (next_soak_date(yard, futures.today, weeks) - futures.today).days
    next_season = _season_on(next_day, outlook)
    soak_days = outlook.soak_rows - futures.lookback
    of_season = season_rows(futures, yard.site)
    least = least_soak_kg(
        yard.outlets,
        yard.costs,
        saleable=yard.saleable,
        weak_soak=numbers.schedule.weak_soak,
        work=numbers.work,
    )
    # An hour counts as much as it does in the price of soaking a log.
    hours_per_log = numbers.work.tank_hours_per_log
    handling = numbers.work.lot_hours * numbers.schedule.soak_price / hours_per_log
    fixed = fixed_soaks(outlook)
    types: list[TypeArcs] = []
    works: list[TypeWork] = []
    problems: dict[int, StackProblem] = {}
    groups = _types(outlook.stacks)
    for arcs, first, places, pick_days in _kind_works(
        outlook, away, days, fixed, of_season, least, crops=crops
    ):
        flush = numbers.strain(arcs.logs.kind.strain_class).yields.base * yard.saleable
        shared = list(_sharing(arcs, groups[arcs.logs.kind], outlook, of_season, least))
        some = np.logical_or.reduce([kept for *_, kept in shared])
        if crops:
            arcs = arcs.with_picks(some, pick_days)
            shared = [(positions, bearing, kept[some]) for positions, bearing, kept in shared]
        for positions, bearing, kept in shared:
            for position in positions:
                stack = outlook.stacks[position]
                now = outlook.flushes.get(stack.name) if crops else None
                own = first.arcs(places[position], stack.effective_logs, now, bearing, pick_days)
                end_flush = flush * stack.effective_logs * _factor_on(stack, next_season, outlook)
                accepted = stack.name in outlook.state.accepted
                problems[position] = _stack_problem(
                    outlook,
                    stack,
                    len(types),
                    own,
                    end_flush,
                    weeks,
                    handling=handling if accepted else 0.0,
                    must=fixed.kept.get(stack.name),
                )
            types.append(arcs.type_arcs(bearing, kept))
            there = tuple(places[position] for position in positions)
            works.append(
                TypeWork(arcs.without_picks(), first.starts, there, bearing, tuple(positions))
            )
    outlets = with_promised(
        outlet_days(yard, futures.today, days),
        outlook.state.promised,
        futures.today,
        days,
        promised_weight=numbers.schedule.promised_weight,
    )
    if not yard.sells:
        last_day = futures.today + timedelta(weeks=weeks, days=-1)
        flushes = [
            each.end_flush
            for position, each in problems.items()
            if len(each.first.soak) or _kept_back_alone(outlook.stacks[position], last_day)
        ]
        outlets = table_days(
            futures.today,
            days,
            sum(flushes),
            keeps=yard.cold_store_days,
            schedule=numbers.schedule,
        )
    problem = Problem(
        today=futures.today,
        weeks=weeks,
        tail_days=tail,
        years=futures.years,
        seed=seed,
        soak_days=soak_days,
        next_soak_day=next_day,
        rest_days=int(numbers.schedule.rest_days),
        tank_logs=yard.soaking.tank_logs,
        hours_a_day=yard.soaking.hours_a_day,
        soak_hours_per_log=numbers.work.soak_hours_per_log,
        pull_hours_per_log=numbers.work.pull_hours_per_log,
        cold_days=yard.cold_store_days,
        stock=tuple(((on - futures.today).days, kg) for on, kg in outlook.state.stock),
        outlets=outlets,
        types=tuple(types),
        stacks=tuple(problems[position] for position in range(len(outlook.stacks))),
        prices=Prices(
            expired=numbers.schedule.expired_price,
            soak=numbers.schedule.soak_price,
            change=numbers.schedule.change_price,
            certainty=numbers.schedule.certainty_price,
        ),
        promise=promise,
        places=yard.fruiting.places,
    )
    barren = [each.name for each in problem.stacks if each.name in fixed.kept and each.must is None]
    return BuiltProblem(problem, outlook, tuple(works), fixed.without(barren), away)


def _kept_back_alone(stack: StackOutlook, last: date) -> bool:
    """Return whether only the grower's word keeps a stack out of the tank: its logs bear as ever.

    All else that forbids a soak is over by the last day.
    """
    others = [hold.until for hold in stack.holds if hold.cause != "kept back"]
    return len(others) < len(stack.holds) and all(until and until <= last for until in others)


def _published_row(outlook: YardOutlook, stack: StackOutlook, fixed: Fixed) -> int:
    """Return the row of a stack's next soak that is fixed or published; -1 where none is."""
    if stack.name in fixed.kept:
        return int(outlook.soak_rows[fixed.kept[stack.name]])
    published = outlook.state.published.get(stack.name)
    if published is None:
        return -1
    return outlook.futures.row(published)


def _season_on(day: int, outlook: YardOutlook) -> int:
    """Return how many seasons from this one a day from today lies."""
    futures, site = outlook.futures, outlook.yard.site
    on = season(futures.today + timedelta(days=day), hemisphere(site.latitude))
    return on - seasons_of(futures, site)[0]


def _factor_on(stack: StackOutlook, place: int, outlook: YardOutlook) -> float:
    """Return the relative factor of a stack's bearing year in a season from this one on."""
    of_age = stack.season_factors[place] if place < len(stack.season_factors) else stack.later
    seasons = outlook.parts.by_season
    return of_age * float(seasons[min(place, len(seasons) - 1)])


def _types(stacks: tuple[StackOutlook, ...]) -> dict[LogKind, list[list[int]]]:
    """Return the places of stacks that share their interior arcs, by kind."""
    groups: dict[LogKind, dict[tuple[float, ...], list[int]]] = {}
    for position, stack in enumerate(stacks):
        groups.setdefault(stack.kind, {}).setdefault(stack.season_factors, []).append(position)
    return {kind: list(by_factors.values()) for kind, by_factors in groups.items()}


def _sharing(
    arcs: KindArcs,
    groups: list[list[int]],
    outlook: YardOutlook,
    of_season: IntArray,
    least: float,
) -> Iterator[tuple[list[int], FloatArray, BoolArray]]:
    """Yield stacks that share their interior arcs, their bearing years, and the arcs worth a soak.

    Stacks of about the same yield a log go together, by what the poorest of them gives.
    """
    for positions in groups:
        stacks = [outlook.stacks[position] for position in positions]
        bearing = np.array(stacks[0].season_factors)[of_season]
        scale = np.array([stack.effective_logs / max(stack.state.logs, 1) for stack in stacks])
        band = np.ceil(np.log(np.maximum(scale, LEAST_SCALE)) / np.log1p(SCALE_BAND)).tolist()
        shared: dict[bytes, tuple[list[int], BoolArray]] = {}
        for each in sorted(set(band)):
            mine = [n for n, other in enumerate(band) if other == each]
            kept = arcs.brings_at_least(bearing, float(scale[mine].min()), least)
            alike = shared.setdefault(kept.tobytes(), ([], kept))[0]
            alike.extend(positions[n] for n in mine)
        for alike, kept in shared.values():
            yield sorted(alike), bearing, kept


class _KindWork(NamedTuple):
    """One kind's arcs; first arcs beside it, and their places by the stacks' in the yard."""

    arcs: KindArcs
    first: FirstOfStacks
    places: dict[int, int]
    pick_days: PickDays


def _kind_works(
    outlook: YardOutlook,
    away: BoolArray,
    days: int,
    fixed: Fixed,
    of_season: IntArray,
    least: float,
    *,
    crops: bool,
) -> Iterator[_KindWork]:
    # So many stacks at a time: what they share is large and not kept.
    for logs in outlook.together:
        mine = [n for n, stack in enumerate(outlook.stacks) if stack.kind in logs.kinds]
        pick_days = pick_days_of(outlook.yard, logs, away, outlook.futures.lookback, days)
        of_kinds = kind_arcs(logs, outlook, away, fixed)
        stacks = [outlook.stacks[n] for n in mine]
        allowed = np.array([arcs.allowed for arcs in of_kinds])
        first = first_of_stacks(
            logs,
            allowed,
            stacks,
            outlook,
            pick_days,
            fixed,
            bearing=np.array([stack.season_factors for stack in stacks])[:, of_season],
            least=least,
            published=np.array([_published_row(outlook, stack, fixed) for stack in stacks]),
            crops=crops,
        )
        places = {n: place for place, n in enumerate(mine)}
        for arcs in of_kinds:
            yield _KindWork(arcs, first, places, pick_days)


def _still_stands(outlook: YardOutlook, stack: StackOutlook, nights: int) -> int:
    """Return the days on which logs of a soak already begun stand where they fruit. [day]"""
    if outlook.yard.fruiting.places is None:  # nobody counts them
        return 0
    flush = outlook.flushes.get(stack.name)
    if flush is None or flush.kind != "forced":
        return 0
    clear = flush.clear_row(outlook.numbers.schedule.clear_chance)
    return max(clear - outlook.futures.lookback - nights, 0)


def _stack_problem(
    outlook: YardOutlook,
    stack: StackOutlook,
    type_index: int,
    first: FirstArcs,
    end_flush: float,
    weeks: int,
    *,
    handling: float,
    must: int | None,
) -> StackProblem:
    today, state = outlook.futures.today, outlook.state
    published = state.published.get(stack.name)
    last = stack.state.last_soak
    nights, begun = 0, stack.state.soaking_logs
    if last is not None and last.pulled_on is None:
        out = pulled_on(last, outlook.numbers.forced.usual_hours)
        nights = max((out - today).days, 0)
    if last is not None:
        rested_from = (last.on - today).days
    else:
        ready = stack.soakable_from
        rested_from = 7 * weeks + 1000 if ready is None else max((ready - today).days, -63)
    return StackProblem(
        name=stack.name,
        logs=stack.state.logs,
        type_index=type_index,
        effective_logs=stack.effective_logs,
        first=first,
        end_flush=end_flush,
        rested_from=rested_from,
        published=None if published is None else (published - today).days,
        was_published=bool(state.published) and stack.name not in state.unplanned,
        fixed_nights=nights,
        fixed_logs=begun if 0 < begun < stack.state.logs else None,
        fixed_standing=_still_stands(outlook, stack, nights),
        handling=handling,
        must=must if len(first.soak) else None,
    )
