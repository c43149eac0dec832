"""From the yard's outlook to the scheduling problem."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

import numpy as np

from fruitcast.forecast.flushes import Following, follow, soak_factor
from fruitcast.forecast.fruiting import Fruiting
from fruitcast.forecast.outlook import YardOutlook
from fruitcast.forecast.stacks import StackOutlook, season_rows, seasons_of
from fruitcast.forecast.under_way import pulled_on, start_of
from fruitcast.numbers import Numbers
from fruitcast.schedule.crops import (
    Entries,
    PickDays,
    as_crops,
    forced_entries,
    natural_entries,
    only_rows,
    until_soak,
)
from fruitcast.schedule.permitted import is_away, next_soak_date, outlet_days
from fruitcast.schedule.problem import (
    BoolArray,
    FirstArcs,
    FloatArray,
    Prices,
    Problem,
    StackProblem,
    TypeArcs,
)
from fruitcast.shiitake.bearing import hemisphere, season
from fruitcast.shiitake.yields import base_yield


@dataclass(frozen=True)
class TypeWork:
    """What a type's arcs were made from, kept for explaining a plan.

    Attributes
    ----------
    fruiting : Fruiting
        Its logs, with the course of bearing years.
    following : Following
        Natural flushes after each soak; starts are soak days.
    factor : (soak, soak, member) float array
        What is left of a soak after another.
    stacks : tuple of int
        Positions of its stacks in the outlook.
    first : Following
        Natural flushes from today; starts are the stacks in the order of `stacks`.
    first_factor : (stack, soak, member) float array
        What is left of a first soak.
    """

    fruiting: Fruiting
    following: Following
    factor: FloatArray
    stacks: tuple[int, ...]
    first: Following
    first_factor: FloatArray


@dataclass(frozen=True)
class BuiltProblem:
    """A problem with what it was made from."""

    problem: Problem
    outlook: YardOutlook
    types: tuple[TypeWork, ...]


def build_problem(
    outlook: YardOutlook, *, weeks: int, seed: int, promise: float, numbers: Numbers
) -> BuiltProblem:
    """Return the scheduling problem of a yard."""
    yard, futures = outlook.yard, outlook.futures
    tail = int(numbers["schedule.tail_days"])
    days = 7 * weeks + tail
    away = np.array([is_away(yard, futures.date(row)) for row in range(futures.days)])
    next_day = (next_soak_date(yard, futures.today, weeks) - futures.today).days
    soak_days = outlook.soak_rows - futures.lookback
    of_season = season_rows(futures, yard.site)
    members = _group(outlook.stacks)
    types: list[TypeArcs] = []
    works: list[TypeWork] = []
    problems: dict[int, StackProblem] = {}
    for index, (_, positions) in enumerate(members):
        stacks = [outlook.stacks[p] for p in positions]
        course = np.array(stacks[0].course)[of_season]
        kind = stacks[0].kind
        logs = outlook.kinds[kind].with_course(course)
        sold = yard.saleable * logs.keeping * ~away[:, None]
        pick_days = PickDays(futures.lookback, days, sold)
        arcs, work = _type_arcs(outlook, logs, positions, away, pick_days, numbers)
        types.append(arcs)
        works.append(work)
        flush = base_yield(kind.strain_class, numbers) * yard.saleable
        for place, first in enumerate(_first_arcs(outlook, work, arcs, pick_days, numbers)):
            stack = stacks[place]
            end_flush = flush * stack.scale * _factor_on(stack, next_day, outlook)
            problems[positions[place]] = _stack_problem(
                outlook, stack, index, first, end_flush, weeks, numbers
            )
    problem = Problem(
        today=futures.today,
        weeks=weeks,
        tail_days=tail,
        years=futures.years,
        seed=seed,
        soak_days=soak_days,
        next_soak_day=next_day,
        rest_days=int(numbers["schedule.rest_days"]),
        tank_logs=yard.soaking.tank_logs,
        hours_a_day=yard.soaking.hours_a_day,
        soak_hours_per_log=numbers["work.soak_hours_per_log"],
        pull_hours_per_log=numbers["work.pull_hours_per_log"],
        cold_days=yard.cold_store_days,
        stock=tuple(((on - futures.today).days, kg) for on, kg in outlook.state.stock),
        outlets=outlet_days(yard, futures.today, days),
        types=tuple(types),
        stacks=tuple(problems[position] for position in range(len(outlook.stacks))),
        prices=Prices(
            expired=numbers["schedule.expired_price"],
            soak=numbers["schedule.soak_price"],
            change=numbers["schedule.change_price"],
            certainty=numbers["schedule.certainty_price"],
        ),
        promise=promise,
    )
    return BuiltProblem(problem, outlook, tuple(works))


def _factor_on(stack: StackOutlook, day: int, outlook: YardOutlook) -> float:
    """Return the relative factor of a stack's bearing year on a day from today on."""
    futures, site = outlook.futures, outlook.yard.site
    on = season(futures.today + timedelta(days=day), hemisphere(site.latitude))
    place = on - seasons_of(futures, site)[0]
    return stack.course[place] if place < len(stack.course) else stack.later


def _group(stacks: tuple[StackOutlook, ...]) -> list[tuple[object, list[int]]]:
    """Return the stacks that share their interior arcs, in order of first appearance."""
    groups: dict[object, list[int]] = {}
    for position, stack in enumerate(stacks):
        groups.setdefault((stack.kind, stack.course), []).append(position)
    return list(groups.items())


def _type_arcs(
    outlook: YardOutlook,
    logs: Fruiting,
    positions: list[int],
    away: BoolArray,
    pick_days: PickDays,
    numbers: Numbers,
) -> tuple[TypeArcs, TypeWork]:
    futures, rows = outlook.futures, outlook.soak_rows
    forced = logs.forced
    pull, pick = forced.pull_row, forced.pick_row
    bears = forced.bears
    allowed = forced.allowed & ~away[np.minimum(pull, len(away) - 1)]
    last = np.where(bears, pick, rows[:, None]).astype(float)
    ready = np.broadcast_to(pull[:, None], last.shape)
    following = follow(logs, last, ready, futures.lookback, numbers)
    factor = soak_factor(following, rows, numbers)
    gap = rows[None, :] - rows[:, None]
    comes = ((forced.kg > 0) & (factor > 0)).mean(axis=2) >= numbers["schedule.bears_in"]
    usable = (gap >= int(numbers["schedule.rest_days"])) & comes
    usable &= allowed[:, None] & allowed[None, :]
    start, stop = np.nonzero(usable)
    natural = natural_entries(logs, following, pick_days)
    arcs = TypeArcs(
        name=f"{logs.kind.strain_class}, {logs.kind.diameter * 100:g} cm",
        start=start,
        stop=stop,
        crops=as_crops(
            forced_entries(logs, stop, factor[start, stop], pick_days),
            until_soak(natural, start, rows[stop], len(rows)),
        ),
        end_crops=as_crops(natural),
        nights=pull - rows,
        hours=forced.hours,
        allowed=allowed,
    )
    stacks = [outlook.stacks[p] for p in positions]
    starts = [start_of(s, outlook.flushes.get(s.name), futures) for s in stacks]
    first = follow(
        logs,
        np.stack([last for last, _ in starts]),
        np.stack([ready for _, ready in starts]),
        futures.lookback,
        numbers,
    )
    work = TypeWork(
        logs,
        following,
        factor,
        tuple(positions),
        first,
        soak_factor(first, rows, numbers),
    )
    return arcs, work


def _first_arcs(
    outlook: YardOutlook, work: TypeWork, arcs: TypeArcs, pick_days: PickDays, numbers: Numbers
) -> list[FirstArcs]:
    """Return the first arcs of each stack of a type."""
    rows = outlook.soak_rows
    stacks = [outlook.stacks[p] for p in work.stacks]
    open_from = np.array([_open_row(stack, outlook) for stack in stacks])
    some = (work.fruiting.forced.kg > 0) & (work.first_factor > 0)
    usable = some.mean(axis=2) >= numbers["schedule.bears_in"]
    usable &= arcs.allowed[None, :] & (rows[None, :] >= open_from[:, None])
    usable &= np.array([stack.scale > 0 for stack in stacks])[:, None]
    start, soak = np.nonzero(usable)
    natural = natural_entries(work.fruiting, work.first, pick_days)
    forced = forced_entries(work.fruiting, soak, work.first_factor[start, soak], pick_days)
    before = until_soak(natural, start, rows[soak], len(stacks))
    made = []
    for place, stack in enumerate(stacks):
        mine = np.flatnonzero(start == place)
        flush = _flush_entries(outlook, stack, pick_days)
        every = _for_every(flush, len(mine))
        made.append(
            FirstArcs(
                soak=soak[mine],
                crops=as_crops(
                    only_rows(forced, mine, len(start)),
                    only_rows(before, mine, len(start)),
                    every,
                    scale=stack.scale,
                ),
                none_crops=as_crops(
                    only_rows(natural, np.array([place]), len(stacks)), flush, scale=stack.scale
                ),
            )
        )
    return made


def _open_row(stack: StackOutlook, outlook: YardOutlook) -> int:
    day = stack.soakable_from
    if day is None:
        return outlook.futures.days
    return outlook.futures.lookback + max((day - outlook.futures.today).days, 0)


def _flush_entries(outlook: YardOutlook, stack: StackOutlook, pick_days: PickDays) -> Entries:
    """Return the picks of the flush under way today; all on row 0."""
    flush = outlook.flushes.get(stack.name)
    none = np.zeros(0, dtype=np.int64)
    if flush is None:
        return Entries(none, none, none, np.zeros(0), none)
    kg = flush.share * flush.kg * pick_days.sold_share
    kg[pick_days.today_row + pick_days.days :] = 0.0
    row, member = np.nonzero(kg > 0)
    zero = np.zeros(len(row), dtype=np.int64)
    return Entries(zero, member, row - pick_days.today_row, kg[row, member], zero)


def _for_every(entries: Entries, count: int) -> Entries:
    """Return entries of row 0 repeated on each of `count` rows."""
    size = len(entries.row)
    return Entries(
        np.repeat(np.arange(count), size),
        np.tile(entries.member, count),
        np.tile(entries.day, count),
        np.tile(entries.kg, count),
        np.tile(entries.trigger, count),
    )


def _stack_problem(
    outlook: YardOutlook,
    stack: StackOutlook,
    type_index: int,
    first: FirstArcs,
    end_flush: float,
    weeks: int,
    numbers: Numbers,
) -> StackProblem:
    today, state = outlook.futures.today, outlook.state
    published = state.published.get(stack.name)
    last = stack.state.last_soak
    nights = 0
    if last is not None and last.pulled_on is None:
        nights = max((pulled_on(last, numbers) - today).days, 0)
    if last is not None:
        rested_from = (last.on - today).days
    else:
        ready = stack.soakable_from
        rested_from = 7 * weeks + 1000 if ready is None else max((ready - today).days, -63)
    return StackProblem(
        name=stack.name,
        logs=stack.state.logs,
        type_index=type_index,
        scale=stack.scale,
        first=first,
        end_flush=end_flush,
        rested_from=rested_from,
        published=None if published is None else (published - today).days,
        was_published=bool(state.published),
        fixed_nights=nights,
    )
