"""What a plan brings: on its own members, and on luck that it was not chosen by."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import chain
from math import ceil
from typing import NamedTuple

import numpy as np

from fruitcast.arrays import BoolArray, FloatArray, IntArray
from fruitcast.biology.forced import first_pick
from fruitcast.biology.picking import FlushKind
from fruitcast.biology.run_length import true_at
from fruitcast.biology.spread import multiplier
from fruitcast.diary.plan import NaturalFlush
from fruitcast.forecast.flushes import Following, follow, soak_factor
from fruitcast.forecast.fruiting import Fruiting
from fruitcast.forecast.jobs import pins_rows
from fruitcast.forecast.log_weather import columns_of
from fruitcast.forecast.members import AFTER_LAST_PICK_DAYS
from fruitcast.forecast.outlook import YardOutlook
from fruitcast.forecast.parts import keyed_generator, lead_case, yield_case
from fruitcast.forecast.stacks import season_rows
from fruitcast.forecast.under_way import start_of
from fruitcast.soaks.build import BuiltProblem, TypeWork
from fruitcast.soaks.crops import PickDays, pick_days_of, spread
from fruitcast.soaks.problem import Crops, Plan, SoakPath
from fruitcast.soaks.supply import (
    CheckDays,
    Ledger,
    allocate,
    check_days,
    picked_between_checks,
    stock_at_checks,
)

MOST_CHANCE_SAID = 0.95
"""No natural flush is surer than this: the rules that set one off are judgement."""

LEAST_CHANCE_SHOWN = 0.05
"""Natural flushes less likely than this in a week are not listed."""


@dataclass(frozen=True)
class SoakOutcome:
    """What one planned soak brings, member by member."""

    kg: FloatArray  # (member,): forced crop before saleable loss; 0 where nothing comes [kg]
    pick_row: IntArray  # (member,): row of the first pick, meaningful where something comes
    comes: BoolArray  # (member,): whether anything comes
    past_row: IntArray  # (member,): row after the last pick
    pins_row: IntArray  # (member,): row on which pins show

    def first_pick(self, chance: float) -> int:
        """Return the row of the first pick by which so many of the bearing members have it."""
        return self._row(self.pick_row, chance)

    def last_pick(self, chance: float) -> int:
        """Return the row after the last pick by which so many of the bearing members have it."""
        return self._row(self.past_row, chance)

    def chance(self, fails: float) -> float:
        """Return how likely anything comes, where so many soaks fail whatever the weather."""
        return float(self.comes.mean()) * (1 - fails)

    def pins(self, chance: float) -> int:
        """Return the row by which pins show in so many of the bearing members."""
        return self._row(self.pins_row, chance)

    def _row(self, rows: IntArray, chance: float) -> int:
        # A soak that the grower has fixed may bear in no member: then the days it would have had.
        come = rows[self.comes] if self.comes.any() else rows
        return int(np.sort(come)[max(ceil(chance * len(come) - 1), 0)])


def likely_kg(kg: FloatArray, fails: float) -> tuple[float, float]:
    """Return between which weights a soak's flush lies in 8 of 10 cases in which it comes.

    `kg`, (member,), is the forced crop less the share that `fails`; 0 where nothing comes.
    """
    low, high = np.quantile(kg[kg > 0], (0.1, 0.9), method="inverted_cdf") / (1 - fails)
    return float(low), float(high)


def place_of(built: BuiltProblem, stack_index: int) -> tuple[TypeWork, int]:
    """Return the type's work and the stack's place in it."""
    work = built.types[built.problem.stacks[stack_index].type_index]
    return work, work.stacks.index(stack_index)


def soak_outcome(built: BuiltProblem, stack_index: int, path: SoakPath, step: int) -> SoakOutcome:
    """Return what the soak number `step` of a stack's path brings."""
    work, place = place_of(built, stack_index)
    soak = path[step]
    factor = work.left(path[step - 1], soak) if step else work.left_of_first(place, soak)
    forced, at = work.fruiting.forced, soak
    kg = forced.kg[at] * factor * built.problem.stacks[stack_index].effective_logs
    pick = forced.pick_row[at]
    numbers = work.fruiting.weather.numbers
    pins = pins_rows(
        work.fruiting.weather.thermal_time,
        int(forced.pull_row[at]),
        pick,
        pins_share=numbers.forced.pins_share,
    )
    return SoakOutcome(kg, pick, kg > 0, pick + forced.length[at], pins)


def natural_weeks(built: BuiltProblem, plan: Plan) -> tuple[NaturalFlush, ...]:
    """Return the weeks in which each stack may flush by itself under a plan.

    No chance is said to be more than `MOST_CHANCE_SAID`; weights are before saleable loss.
    """
    weeks = (_stack_weeks(built, index, path) for index, path in enumerate(plan))
    return tuple(chain.from_iterable(weeks))


def _stack_weeks(built: BuiltProblem, index: int, path: SoakPath) -> list[NaturalFlush]:
    problem, futures = built.problem, built.outlook.futures
    work, place = place_of(built, index)
    scale, members = problem.stacks[index].effective_logs, problem.members
    rows = built.outlook.soak_rows
    limits = [*(int(rows[k]) for k in path), futures.days]
    parts: list[tuple[Following, int, int]] = [(work.first, place, limits[0])]
    parts += [(work.following, k, limits[n + 1]) for n, k in enumerate(path)]
    found: list[_Start] = []
    end = futures.lookback + problem.horizon_days
    for following, start, limit in parts:
        for flush in range(len(following.trigger)):
            kg, pick = following.kg[flush, start], following.pick[flush, start]
            there = (following.trigger[flush, start] < limit) & (kg > 0) & (pick < end)
            days = following.past[flush, start] - pick
            found += _starts(there, pick, days, kg * scale)
    flush_now = built.outlook.flushes.get(problem.stacks[index].name)
    if flush_now is not None and flush_now.kind == "natural":
        coming = (flush_now.pick >= futures.lookback) & (flush_now.kg > 0)
        days = flush_now.past - flush_now.pick
        found += _starts(coming, flush_now.pick, days, flush_now.kg * scale)
    by_week: dict[date, list[_Start]] = defaultdict(list)
    for entry in found:
        day = futures.date(entry.row)
        by_week[day - timedelta(days=day.weekday())].append(entry)
    return [
        NaturalFlush(
            stack=problem.stacks[index].name,
            week=week,
            chance=min(chance, MOST_CHANCE_SAID),
            expected_kg=sum(entry.kg for entry in entries) / members,
            first_pick=futures.date(_middle(entry.row for entry in entries)),
            days=_middle(entry.days for entry in entries),
        )
        for week, entries in sorted(by_week.items())
        if (chance := len({entry.member for entry in entries}) / members) >= LEAST_CHANCE_SHOWN
    ]


class _Start(NamedTuple):
    """The start of one natural flush in one member."""

    member: int
    row: int
    days: int
    kg: float


def _starts(there: BoolArray, row: IntArray, days: IntArray, kg: FloatArray) -> list[_Start]:
    at = np.flatnonzero(there)
    columns = (at.tolist(), row[at].tolist(), days[at].tolist(), kg[at].tolist())
    return [_Start(*entry) for entry in zip(*columns, strict=True)]


def _middle(values: Iterable[int]) -> int:
    ordered = sorted(values)
    return ordered[(len(ordered) - 1) // 2]


# What a finished plan brings on fresh paths, with luck that it was not chosen by.
#
# The search takes the plan that suits its members best, and so their luck with it: what those
# members say of that plan is too good. So whatever is said of supply comes from other paths: each
# weather year several times, with draws of their own for every part that flushes share (yard,
# class and tree, stack and season, which last over a path), for each flush's own yield and lead
# time, and for soaks that fail. Only the soaks of the plan are followed, and each stack is walked
# through from soak to soak as it would be in the yard.
#
# The yard's luck is spread evenly over the paths, and each weather year meets all of it: with 400
# paths the shortfall said differs by about 0.1 % of demand from seed to seed.

LEAST_PATHS = 400
"""So many paths at least: see the head of this module. A bound of the calculation."""

SIDE_BY_SIDE = 2_000
"""With more paths of all kinds than these one class is walked through at a time: all of them at
once are no quicker and take memory. A bound of the calculation."""


def fresh_ledger(
    built: BuiltProblem, plan: Plan, least_paths: int = LEAST_PATHS, *, days: int | None = None
) -> Ledger:
    """Return what a plan delivers on fresh paths: the members in their order, and again.

    Each weather year gets as many paths as make `least_paths` at least. Of `days` from today alone
    what can be picked only later is left out. The same inputs give the same bytes, and a flush has
    the same luck whatever else is planned.
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
    for walk in _walks(built, plan, paths):
        between = picked_between_checks(walk.picks(), len(walk.classes), checks, paths.count)
        for of_class in np.cumsum(between, axis=0).swapaxes(0, 1):
            picked = picked + of_class
    return picked


def _walks(built: BuiltProblem, plan: Plan, paths: FreshPaths) -> Iterator[_Walk]:
    for logs in built.outlook.together:
        many = len(logs.kinds) * paths.count > SIDE_BY_SIDE
        for part in logs.classes if many else [logs]:
            yield _Walk(built, plan, paths, part)


@dataclass(frozen=True)
class FreshPaths:
    """The luck that lasts over each path."""

    rows: int  # first rows of the members' weather that are looked at
    member: IntArray  # (path,): the member whose weather a path has
    # (path,): the member whose flushes under way it has: one about as lucky, of any weather
    under_way: IntArray
    # (season, stack, path): over what is expected of each stack in the first season [unitless]
    yields: FloatArray
    leads: FloatArray  # (stack, path): over what is expected of each stack [unitless]
    fails: FloatArray  # (path,): chance that a soak brings nothing though the weather suits [0..1]
    seed: int  # of the luck of each flush

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
        outlook.futures.days if rows is None else min(rows, outlook.futures.days),
        member,
        lucky[place // draws] if len(lucky) == members else member,
        (drawn.yields[order] / parts.yields.factors(cases)).transpose(1, 2, 0),
        (drawn.leads[slow_order] / usual).T,
        drawn.fails[order],
        seed,
    )


def _dealt(good: FloatArray, draws: int, source: np.random.Generator) -> IntArray:
    """Return an order of draws in which each member gets one from each level of luck.

    `good`, (path,), is how good each draw is, of so many `draws` for each member. In the order are
    all their places, level by level, within each in the order of the members.
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
    """Some stacks walked through their planned soaks, all paths at once.

    Starts are today for each stack, then every soak: what follows a soak depends on that soak
    alone.
    """

    def __init__(self, built: BuiltProblem, plan: Plan, paths: FreshPaths, logs: Fruiting) -> None:
        self.built, self.paths = built, paths
        self.outlook, self.logs = built.outlook, logs
        self.mine = [n for n, one in enumerate(self.outlook.stacks) if one.kind in logs.kinds]
        rows, self.soaks = self.outlook.soak_rows, list[_Soak]()
        for start, stack in enumerate(self.mine):
            before = start
            for soak in plan[stack]:
                self.soaks.append(_Soak(stack, soak, int(rows[soak]), before))
                before = len(self.mine) + len(self.soaks) - 1
        self.season = season_rows(self.outlook.futures, self.outlook.yard.site)
        parts = self.outlook.parts
        self.yield_sd, self.lead_sd = parts.yields.spread["flush"], parts.leads.spread["flush"]
        self.weather = logs.weather.first_rows(paths.rows)
        # Places of each stack's kind and class; classes are added up one after the other.
        kinds = {n: self.outlook.stacks[n].kind for n in self.mine}
        self.classes = list(dict.fromkeys(kind.strain_class for kind in logs.kinds))
        self.kinds = {n: logs.kinds.index(kind) for n, kind in kinds.items()}
        self.rows = {n: self.classes.index(kind.strain_class) for n, kind in kinds.items()}
        # A path's part of the lead time is one for the class.
        of_kind = list(self.kinds.values())
        first = [self.mine[of_kind.index(place)] for place in range(len(logs.kinds))]
        self.leads = paths.leads[first]
        members = len(self.outlook.futures.years)
        self.column = columns_of(np.arange(len(logs.kinds)), members)[:, paths.member]
        every = self.column.ravel()
        trigger = self.weather.may_come(logs.natural.trigger[: paths.rows])[:, every]
        natural = self.weather.natural(trigger, self.leads.ravel(), every)
        self.walked = replace(logs, natural=natural)

    def picks(self) -> Crops:
        """Return all that is picked and can be sold, by class on rows; members are the paths."""
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
        return Crops(*(np.concatenate(columns) for columns in zip(*parts, strict=True)))

    def _forced(self) -> tuple[_Flushes, Following]:
        """Return the forced flushes, and the natural ones that follow each start."""
        paths, forced = self.paths, self.logs.forced
        at = np.array([soak.soak for soak in self.soaks], dtype=np.int64)
        rows, pull, hours = forced.soak_row[at], forced.pull_row[at], forced.hours[at]
        names = [
            (self.outlook.stacks[soak.stack].name, self.outlook.futures.date(soak.row))
            for soak in self.soaks
        ]
        kinds = np.array([self.kinds[stack] for stack in self._stacks()])
        kind = kinds[len(self.mine) :]
        lead = np.array([paths.normals(*name, "lead") for name in names]).reshape(-1, paths.count)
        need = self.weather.table_need(self.leads[kind], kind[:, None])
        need = need * multiplier(lead, self.lead_sd)
        pick = first_pick(self.weather.thermal_time, pull, need, self.column[kind])
        length, kg = self.weather.crop(rows, pull, hours, pick, self.column[kind])
        lucky = np.array(
            [paths.chances(*name, "fails") >= paths.fails for name in names], dtype=bool
        )
        bears = self.weather.bears(pull, pick) & lucky.reshape(-1, paths.count)
        starts = [self._start(stack) for stack in self.mine]
        last = np.array([first for first, _ in starts])
        ready = np.array([row for _, row in starts])
        last = np.concatenate([last, np.where(bears, pick, rows[:, None])])
        ready = np.concatenate([ready, np.broadcast_to(pull[:, None], pick.shape)])
        following = follow(self.walked, last, ready, self.outlook.futures.lookback, kinds)
        before = np.array([soak.start for soak in self.soaks], dtype=np.int64)
        of_rest = soak_factor(following, rows, self.outlook.numbers.yields, before)
        for n, soak in enumerate(self.soaks):
            left = of_rest[n]
            if soak.start < len(self.mine):
                # Logs whose spawn run isn't done by then give nothing.
                left = left * (self.outlook.stacks[soak.stack].spawn.rows <= soak.row)[paths.member]
            kg[n] *= left * self._factor(soak.stack, np.full(paths.count, soak.row))
            kg[n] *= multiplier(paths.normals(*names[n], "yield"), self.yield_sd)
        row = np.array([self.rows[soak.stack] for soak in self.soaks], dtype=np.int64)
        return _Flushes(row, pick, length, np.where(bears, kg, 0.0)), following

    def _stacks(self) -> list[int]:
        """Return the stack of each start."""
        return [*self.mine, *(soak.stack for soak in self.soaks)]

    def _start(self, stack: int) -> tuple[FloatArray, IntArray]:
        """Return last first pick and ready row of a stack from today, (path,) each."""
        look = self.outlook.stacks[stack]
        flush = self.outlook.flushes.get(look.name)
        last, ready = start_of(look, flush, self.outlook.futures)
        column = self.paths.member if flush is None else self.paths.under_way
        return last[column], ready[column]

    def _natural(self, following: Following) -> _Flushes:
        """Return the natural flushes that come before the next soak."""
        limit = np.full(len(following.last_pick), self.paths.rows)
        for soak in self.soaks:
            limit[soak.start] = soak.row
        there = (following.kg > 0) & (following.trigger < limit[:, None])
        kg = np.where(there, following.kg, 0.0)
        stacks = self._stacks()
        begun = ["today"] * len(self.mine) + [
            str(self.outlook.futures.date(soak.row)) for soak in self.soaks
        ]
        for flush, start in zip(*true_at(np.asarray(there.any(axis=2))), strict=True):
            name = self.outlook.stacks[stacks[start]].name
            own = self.paths.normals(name, begun[start], "natural", int(flush))
            trigger = np.minimum(following.trigger[flush, start], self.paths.rows - 1)
            kg[flush, start] *= self._factor(stacks[start], trigger)
            kg[flush, start] *= multiplier(own, self.yield_sd)
        row = np.array([self.rows[stack] for stack in stacks])
        return _Flushes(row, following.pick, following.past - following.pick, kg)

    def _factor(self, stack: int, row: IntArray) -> FloatArray:
        """Return what a stack's flushes that are set off on some rows have in common, (path,)."""
        look, at = self.outlook.stacks[stack], self.season[row]
        shared = self.paths.yields[at, stack, np.arange(self.paths.count)]
        return np.asarray(look.effective_logs * np.array(look.season_factors)[at] * shared)

    def _entries(self, flushes: _Flushes, kind: FlushKind, pick_days: PickDays) -> _Picks:
        shapes = self.logs.forced_shape if kind == "forced" else self.logs.natural_shape
        some = flushes.kg > 0
        *_, start, path = true_at(some)
        row = flushes.row[start]
        found = spread(
            row,
            path,
            flushes.pick[some],
            flushes.length[some],
            flushes.kg[some],
            row,
            shapes,
            pick_days,
            kind,
        )
        return found.row, found.member, found.day, found.kg

    def _under_way(self, pick_days: PickDays) -> _Picks:
        """Return what is still to come of flushes under way today."""
        first, past = pick_days.today_row, pick_days.today_row + pick_days.days
        stacks, flushes = self.outlook.stacks, self.outlook.flushes
        own = [(self.rows[n], stacks[n]) for n in self.mine]
        here = [(row, one, flushes[one.name]) for row, one in own if one.name in flushes]
        days = [np.flatnonzero(flush.share[first:past].any(axis=1)) for *_, flush in here]
        past = first + max((int(day[-1]) + 1 for day in days if len(day)), default=0)
        total = np.zeros((len(self.classes), past - first, self.paths.count))
        for place, look, flush in here:
            kg = look.effective_logs * (flush.share * flush.kg)[first:past][:, self.paths.under_way]
            if flush.fails:
                # Some bring nothing and the others their whole crop, as soaks to come do.
                draws = self.paths.chances(look.name, flush.begun, "fails")
                kg = kg * (draws >= self.paths.fails) / (1 - flush.fails)
            total[place] += kg * pick_days.share_of(flush.kind)[first:past]
        row, day, path = true_at(total > 0)
        return row, path, day, total[row, day, path]


_Picks = tuple[IntArray, IntArray, IntArray, FloatArray]
"""Row, path, day and kg of each pick."""


class _Flushes(NamedTuple):
    """Flushes on paths: row by start; first pick, days of picking, kg by (..., start, path)."""

    row: IntArray
    pick: IntArray
    length: IntArray
    kg: FloatArray
