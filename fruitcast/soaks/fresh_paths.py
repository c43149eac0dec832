"""What a finished plan brings on fresh paths, with luck that it was not chosen by.

The search takes the plan that suits its members best, and so their luck with it: what those
members say of that plan is too good. So whatever is said of supply comes from other paths: each
weather year several times, with draws of their own for every part that flushes share (yard,
class and tree, stack and season, which last over a path), for each flush's own yield and lead
time, and for soaks that fail. Only the soaks of the plan are followed, and each stack is walked
through from soak to soak as it would be in the yard.

The yard's luck is spread evenly over the paths, and each weather year meets all of it: with 400
paths the shortfall said differs by about 0.1 % of demand from seed to seed.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil
from typing import NamedTuple

import numpy as np

from fruitcast.biology.forced import first_pick
from fruitcast.biology.picking import FlushKind
from fruitcast.biology.spread import multiplier
from fruitcast.forecast.draws import keyed_generator
from fruitcast.forecast.flushes import Following, follow, soak_factor
from fruitcast.forecast.fruiting import Kind
from fruitcast.forecast.members import AFTER_LAST_PICK_DAYS, Futures
from fruitcast.forecast.outlook import YardOutlook
from fruitcast.forecast.parts import lead_case, yield_case
from fruitcast.forecast.stacks import season_rows
from fruitcast.forecast.under_way import start_of
from fruitcast.soaks.build import BuiltProblem
from fruitcast.soaks.crops import PickDays, pick_days_of, spread
from fruitcast.soaks.problem import Crops, FloatArray, IntArray, Plan
from fruitcast.soaks.supply import (
    CheckDays,
    Ledger,
    allocate,
    check_days,
    picked_between_checks,
    stock_at_checks,
)

LEAST_PATHS = 400
"""So many paths at least: see the head of this module. A bound of the calculation."""


def fresh_ledger(
    built: BuiltProblem, plan: Plan, least_paths: int = LEAST_PATHS, *, days: int | None = None
) -> Ledger:
    """Return what a plan delivers on fresh paths.

    Parameters
    ----------
    built : BuiltProblem
        The problem with what it was made from.
    plan : Plan
        The chosen paths.
    least_paths : int
        Each weather year gets as many paths as make so many at least.
    days : int or None
        Days from today that are asked about; what can be picked only later is left out. [day]

    Returns
    -------
    Ledger
        With a column for each path: the members in their order, and again. The same inputs give
        the same bytes, and a flush has the same luck whatever else is planned.
    """
    checks = check_days(built.problem)
    return allocate(fresh_picked(built, plan, checks, least_paths, days=days), checks)


def fresh_picked(
    built: BuiltProblem,
    plan: Plan,
    checks: CheckDays,
    least_paths: int = LEAST_PATHS,
    *,
    days: int | None = None,
) -> FloatArray:
    """Return the picked total of a plan and the stock on fresh paths: (check, path). [kg]

    Parameters and paths are those of `fresh_ledger`.
    """
    problem = built.problem
    rows = None
    if days is not None:
        plan = tuple(tuple(k for k in path if problem.soak_days[k] < days) for path in plan)
        rows = built.outlook.futures.lookback + days + AFTER_LAST_PICK_DAYS
    paths = fresh_paths(built.outlook, problem.seed, ceil(least_paths / problem.members), rows)
    picked = stock_at_checks(problem, checks) + np.zeros((1, paths.count))
    for kind in built.outlook.kinds:
        picks = _Walk(built, plan, paths, kind).picks()
        between = picked_between_checks(picks, 1, checks, paths.count)[:, 0]
        picked = picked + np.cumsum(between, axis=0)
    return picked


@dataclass(frozen=True)
class FreshPaths:
    """The luck that lasts over each path.

    Attributes
    ----------
    futures : Futures
        The weather, a column for each path.
    member : (path,) int array
        The member whose weather a path has.
    under_way : (path,) int array
        The member whose flushes under way it has: one about as lucky, of any weather.
    yields : (season, stack, path) float array
        Over what is expected of each stack in the first season. [unitless]
    leads : (stack, path) float array
        Over what is expected of each stack. [unitless]
    fails : (path,) float array
        Chance that a soak brings nothing though the weather suits. [0..1]
    seed : int
        Of the luck of each flush.
    """

    futures: Futures
    member: IntArray
    under_way: IntArray
    yields: FloatArray
    leads: FloatArray
    fails: FloatArray
    seed: int

    @property
    def count(self) -> int:
        """How many paths."""
        return len(self.member)

    def normals(self, *name: object) -> FloatArray:
        """Return a standard normal draw for each path, fixed by seed and name. [unitless]"""
        return keyed_generator(self.seed, "fresh", *name).standard_normal(self.count)

    def chances(self, *name: object) -> FloatArray:
        """Return a draw from 0 to 1 for each path, fixed in the same way. [0..1]"""
        return keyed_generator(self.seed, "fresh", *name).random(self.count)


def fresh_paths(outlook: YardOutlook, seed: int, draws: int, rows: int | None = None) -> FreshPaths:
    """Return so many fresh paths for each member's weather, on its first rows or on all."""
    parts, members = outlook.parts, len(outlook.futures.years)
    member = np.tile(np.arange(members), draws)
    drawn = parts.fresh(len(member), seed)
    source = keyed_generator(seed, "fresh paths")
    good, slow = drawn.yields[:, 0] @ parts.share, drawn.leads @ parts.share
    order = _dealt(good, draws, source)
    slow_order = _dealt(slow, draws, source)
    cases = [yield_case(stack, parts.seasons[0]) for stack in parts.stacks]
    usual = parts.leads.factors([lead_case(stack.strain_class) for stack in parts.stacks])
    # Flushes under way have a member's luck: a path takes those of one as lucky as itself.
    shared = next(iter(outlook.kinds.values())).weather.shared
    lucky = np.argsort(shared[min(outlook.futures.lookback, len(shared) - 1)], kind="stable")
    place = np.argsort(np.argsort(good[order], kind="stable"), kind="stable")
    return FreshPaths(
        outlook.futures.in_columns(member, rows),
        member,
        lucky[place // draws] if len(lucky) == members else member,
        (drawn.yields[order] / parts.yields.factors(cases)).transpose(1, 2, 0),
        (drawn.leads[slow_order] / usual).T,
        drawn.fails[order],
        seed,
    )


def _dealt(good: FloatArray, draws: int, source: np.random.Generator) -> IntArray:
    """Return an order of draws in which each member gets one from each level of luck.

    Parameters
    ----------
    good : (path,) float array
        How good each draw is.
    draws : int
        Draws for each member.
    source : Generator
        Who gets which of a level.

    Returns
    -------
    (path,) int array
        All places of `good`, level by level, within each in the order of the members.
    """
    levels = np.argsort(good, kind="stable").reshape(draws, -1)
    return source.permuted(levels, axis=1).ravel()


@dataclass(frozen=True)
class _Soak:
    """One soak of the plan: its stack's place in the yard, where it stands, what went before."""

    stack: int
    soak: int
    row: int
    start: int


class _Walk:
    """The stacks of one kind walked through their planned soaks, all paths at once.

    Starts are today for each stack, then every soak: what follows a soak depends on that soak
    alone.
    """

    def __init__(self, built: BuiltProblem, plan: Plan, paths: FreshPaths, kind: Kind) -> None:
        self.built, self.paths = built, paths
        self.outlook, self.logs = built.outlook, built.outlook.kinds[kind]
        self.mine = [n for n, stack in enumerate(self.outlook.stacks) if stack.kind == kind]
        rows, self.soaks = self.outlook.soak_rows, list[_Soak]()
        for start, stack in enumerate(self.mine):
            before = start
            for soak in plan[stack]:
                self.soaks.append(_Soak(stack, soak, int(rows[soak]), before))
                before = len(self.mine) + len(self.soaks) - 1
        self.season = season_rows(self.outlook.futures, self.outlook.yard.site)
        parts = self.outlook.parts
        self.yield_sd, self.lead_sd = parts.yields.spread["flush"], parts.leads.spread["flush"]
        luck = replace(self.logs.weather.luck, leads=paths.leads[self.mine[0]])
        weather = self.logs.weather.in_columns(paths.member, paths.futures, luck)
        trigger = self.logs.natural.trigger[: paths.futures.days, paths.member]
        self.weather = weather
        self.walked = replace(self.logs, weather=weather, natural=weather.natural(trigger))

    def picks(self) -> Crops:
        """Return all that is picked and can be sold, on row 0; members are the paths."""
        built, look = self.built, self.outlook
        today, days = look.futures.lookback, built.problem.days
        pick_days = pick_days_of(look.yard, self.logs, built.away, today, days)
        pick_days = pick_days.in_columns(self.paths.member)
        forced, following = self._forced()
        parts = [
            self._entries(forced, "forced", pick_days),
            self._entries(self._natural(following), "natural", pick_days),
            self._under_way(pick_days),
        ]
        member, day, kg = (np.concatenate(columns) for columns in zip(*parts, strict=True))
        return Crops(np.zeros(len(member), dtype=np.int64), member, day, kg)

    def _forced(self) -> tuple[_Flushes, Following]:
        """Return the forced flushes, and the natural ones that follow each start."""
        paths, forced = self.paths, self.logs.forced
        at = np.array([soak.soak for soak in self.soaks], dtype=np.int64)
        rows, pull, hours = forced.soak_row[at], forced.pull_row[at], forced.hours[at]
        names = [
            (self.outlook.stacks[soak.stack].name, self.outlook.futures.date(soak.row))
            for soak in self.soaks
        ]
        lead = np.array([paths.normals(*name, "lead") for name in names]).reshape(-1, paths.count)
        need = self.weather.table_need * multiplier(lead, self.lead_sd)
        pick = first_pick(self.weather.warmth, pull, need)
        length, kg = self.weather.crop(rows, pull, hours, pick)
        lucky = np.array(
            [paths.chances(*name, "fails") >= paths.fails for name in names], dtype=bool
        )
        bears = self.weather.bears(pull, pick) & lucky.reshape(-1, paths.count)
        starts = [self._start(stack) for stack in self.mine]
        last = np.array([first for first, _ in starts])
        ready = np.array([row for _, row in starts])
        last = np.concatenate([last, np.where(bears, pick, rows[:, None])])
        ready = np.concatenate([ready, np.broadcast_to(pull[:, None], pick.shape)])
        following = follow(self.walked, last, ready, self.outlook.futures.lookback)
        for n, soak in enumerate(self.soaks):
            before = following.of_starts([soak.start])
            left = soak_factor(before, rows[n : n + 1], self.outlook.numbers.yields)[0, 0]
            if soak.start < len(self.mine):
                # Logs whose spawn run isn't done by then give nothing.
                left = left * (self.outlook.stacks[soak.stack].spawn.rows <= soak.row)[paths.member]
            kg[n] *= left * self._factor(soak.stack, np.full(paths.count, soak.row))
            kg[n] *= multiplier(paths.normals(*names[n], "yield"), self.yield_sd)
        path = np.broadcast_to(np.arange(paths.count), pick.shape)
        return _Flushes(path, pick, length, np.where(bears, kg, 0.0)), following

    def _start(self, stack: int) -> tuple[FloatArray, IntArray]:
        """Return last first pick and ready row of a stack from today, (path,) each."""
        look = self.outlook.stacks[stack]
        flush = self.outlook.flushes.get(look.name)
        last, ready = start_of(look, flush, self.outlook.futures)
        column = self.paths.member if flush is None else self.paths.under_way
        return last[column], ready[column]

    def _natural(self, following: Following) -> _Flushes:
        """Return the natural flushes that come before the next soak."""
        limit = np.full(len(following.last_pick), self.paths.futures.days)
        for soak in self.soaks:
            limit[soak.start] = soak.row
        there = (following.kg > 0) & (following.trigger < limit[:, None])
        kg = np.where(there, following.kg, 0.0)
        stacks = [*self.mine, *(soak.stack for soak in self.soaks)]
        begun = ["today"] * len(self.mine) + [
            str(self.outlook.futures.date(soak.row)) for soak in self.soaks
        ]
        for flush, start in zip(*np.nonzero(there.any(axis=2)), strict=True):
            name = self.outlook.stacks[stacks[start]].name
            own = self.paths.normals(name, begun[start], "natural", int(flush))
            trigger = np.minimum(following.trigger[flush, start], self.paths.futures.days - 1)
            kg[flush, start] *= self._factor(stacks[start], trigger)
            kg[flush, start] *= multiplier(own, self.yield_sd)
        path = np.broadcast_to(np.arange(self.paths.count), kg.shape)
        return _Flushes(path, following.pick, following.past - following.pick, kg)

    def _factor(self, stack: int, row: IntArray) -> FloatArray:
        """Return what a stack's flushes that are set off on some rows have in common, (path,)."""
        look, at = self.outlook.stacks[stack], self.season[row]
        shared = self.paths.yields[at, stack, np.arange(self.paths.count)]
        return np.asarray(look.scale * np.array(look.course)[at] * shared)

    def _entries(
        self, flushes: _Flushes, kind: FlushKind, pick_days: PickDays
    ) -> tuple[IntArray, IntArray, FloatArray]:
        shapes = self.logs.forced_shape if kind == "forced" else self.logs.natural_shape
        some = flushes.kg > 0
        path = flushes.path[some]
        none = np.zeros(len(path), dtype=np.int64)
        found = spread(
            none,
            path,
            flushes.pick[some],
            flushes.length[some],
            flushes.kg[some],
            none,
            shapes,
            pick_days,
            kind,
        )
        return found.member, found.day, found.kg

    def _under_way(self, pick_days: PickDays) -> tuple[IntArray, IntArray, FloatArray]:
        """Return what is still to come of flushes under way today."""
        first, past = pick_days.today_row, pick_days.today_row + pick_days.days
        total = np.zeros((pick_days.days, self.paths.count))
        for stack in self.mine:
            look = self.outlook.stacks[stack]
            flush = self.outlook.flushes.get(look.name)
            if flush is not None:
                kg = look.scale * (flush.share * flush.kg)[first:past][:, self.paths.under_way]
                if flush.fails:
                    # Some bring nothing and the others their whole crop, as soaks to come do.
                    draws = self.paths.chances(look.name, flush.begun, "fails")
                    kg = kg * (draws >= self.paths.fails) / (1 - flush.fails)
                total[: len(kg)] += kg * pick_days.share_of(flush.kind)[first:past]
        day, path = np.nonzero(total)
        return path, day, total[day, path]


class _Flushes(NamedTuple):
    """Flushes on paths, arrays of one shape: path, first pick, days of picking, kg."""

    path: IntArray
    pick: IntArray
    length: IntArray
    kg: FloatArray
