"""Arcs of one kind of logs, worked out once for all its types and stacks.

What bearing years give only multiplies weights, so types of one kind share everything
else: which arcs there are, on which day of which member something is picked.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from fruitcast.arrays import BoolArray, FloatArray, IntArray
from fruitcast.biology.run_length import true_at
from fruitcast.forecast.flushes import Following, follow, soak_factor
from fruitcast.forecast.fruiting import Fruiting
from fruitcast.forecast.log_weather import columns_of
from fruitcast.forecast.outlook import YardOutlook
from fruitcast.forecast.stacks import StackOutlook
from fruitcast.forecast.under_way import UnderWay, start_of
from fruitcast.soaks.crops import (
    Entries,
    PickDays,
    as_crops,
    forced_entries,
    joined,
    natural_entries,
    only_rows,
    until_soak,
)
from fruitcast.soaks.problem import FirstArcs, TypeArcs
from fruitcast.soaks.soak_days import Fixed


@dataclass(frozen=True)
class KindArcs:
    """What all types of one kind share, for bearing years that give 1."""

    logs: Fruiting  # the kind
    following: Following  # natural flushes after each soak; starts are soak days
    allowed: BoolArray  # (soak,): whether class and season, and days away, allow the soak
    # start, stop, (arc,): soaks of each interior arc
    start: IntArray
    stop: IntArray
    factor: FloatArray  # (arc, member): what is left of the soak at its end
    # (arc,): weight of the forced flush at its end, mean over members, for one effective log
    # [kg/log]
    expected: FloatArray
    standing: IntArray  # (soak,): see `TypeArcs`
    # arcs, ends: picks of the interior arcs and after a last soak, compact; none until they are
    # asked for
    arcs: Entries = field(default_factory=joined)
    ends: Entries = field(default_factory=joined)

    def with_picks(self, kept: BoolArray, pick_days: PickDays) -> KindArcs:
        """Return the arcs that are kept, (arc,), and all picks of these and after a last soak."""
        start, stop, factor = self.start[kept], self.stop[kept], self.factor[kept]
        rows = self.logs.forced.soak_row
        ends = joined(natural_entries(self.logs, self.following, pick_days))
        arcs = joined(
            forced_entries(self.logs, stop, factor, pick_days),
            until_soak(ends, start, rows[stop], len(rows)),
        )
        expected = self.expected[kept]
        return replace(
            self, start=start, stop=stop, factor=factor, expected=expected, arcs=arcs, ends=ends
        )

    def without_picks(self) -> KindArcs:
        """Return the same without the picks, which are large."""
        return replace(self, arcs=joined(), ends=joined())

    def brings_at_least(self, bearing: FloatArray, scale: float, least: float) -> BoolArray:
        """Return which arcs bring at least a weight, to a log of some scale: (arc,) bool array.

        `bearing`, (row,), is what the bearing year of each row gives; `least` is expected of the
        forced flush at an arc's end [kg/log]. Never true where the logs don't bear.
        """
        given = bearing[self.logs.forced.soak_row[self.stop]]
        return np.asarray((given > 0) & (self.expected * given * scale >= least))

    def type_arcs(self, bearing: FloatArray, kept: BoolArray) -> TypeArcs:
        """Return the arcs that are kept, see `brings_at_least`, of logs with such bearing years."""
        forced = self.logs.forced
        kind, rows = self.logs.kind, forced.soak_row
        start, stop, arcs = self.start, self.stop, self.arcs
        if not kept.all():
            arcs = only_rows(arcs, np.flatnonzero(kept), len(start))
            start, stop = start[kept], stop[kept]
        return TypeArcs(
            name=f"{kind.strain_class}, {kind.diameter * 100:g} cm",
            start=start,
            stop=stop,
            crops=as_crops(arcs.times_bearing(bearing)),
            end_crops=as_crops(self.ends.times_bearing(bearing)),
            nights=forced.pull_row - rows,
            standing=self.standing,
            hours=forced.hours,
            allowed=self.allowed,
        )


def kind_arcs(
    logs: Fruiting,
    outlook: YardOutlook,
    away: BoolArray,
    fixed: Fixed | None = None,
) -> list[KindArcs]:
    """Return the arcs of each of some kinds of logs, picks left aside; `away` as in `rows_away`."""
    numbers = outlook.numbers
    rows, forced = outlook.soak_rows, logs.forced
    kinds, soaks, members = len(logs.kinds), len(rows), logs.keeping.shape[1]
    allowed = np.atleast_2d(forced.allowed) & ~away[np.minimum(forced.pull_row, len(away) - 1)]
    from_here = allowed
    if fixed is not None:
        # A day that the grower has fixed may be none of the yard's soak days: it is for one stack.
        allowed = allowed & ~fixed.unusual
        from_here = allowed.copy()
        from_here[:, list(fixed.kept.values())] = True
    gap = rows[None, :] - rows[:, None]
    rested = gap >= int(numbers.schedule.rest_days)
    kind, start, stop = true_at(rested & from_here[:, :, None] & allowed[:, None])
    # The soaks of the first kind, then those of the next one.
    last = np.where(forced.bears, forced.pick_row, rows[:, None]).astype(float)
    last = last.reshape(soaks, kinds, members).swapaxes(0, 1).reshape(-1, members)
    ready = np.broadcast_to(np.tile(forced.pull_row, kinds)[:, None], last.shape)
    of_soak = np.repeat(np.arange(kinds), soaks)
    every = follow(logs, last, ready, outlook.futures.lookback, of_soak)
    factor = soak_factor(every, rows[stop], numbers.yields, kind * soaks + start)
    kg = forced.kg[stop[:, None], columns_of(kind, members)]
    comes = ((kg > 0) & (factor > 0)).mean(axis=1) >= numbers.schedule.bears_in
    kind, start, stop, factor = kind[comes], start[comes], stop[comes], factor[comes]
    expected = (kg[comes] * factor).mean(axis=1)
    standing = np.atleast_2d(forced.standing_days(numbers.schedule.clear_chance))
    found = []
    for place, one in enumerate(logs.each):
        mine = slice(*np.searchsorted(kind, [place, place + 1]).tolist())
        following = every.of_starts(slice(place * soaks, (place + 1) * soaks))
        found.append(
            KindArcs(
                one,
                following,
                allowed[place],
                start[mine],
                stop[mine],
                factor[mine],
                expected[mine],
                standing[place],
            )
        )
    return found


@dataclass(frozen=True)
class Starts:
    """Where some stacks go on from today, for bearing years of 1; reckoned when asked for."""

    logs: Fruiting  # their kinds
    kind: IntArray  # (stack,): place of each one's kind
    stacks: Sequence[StackOutlook]
    outlook: YardOutlook  # the yard

    def left(self, place: int, soak: int) -> FloatArray:
        """Return what is left of one stack's soak, (member,); of it alone until all are asked."""
        if "factor" in vars(self):
            return np.asarray(self.factor[place, soak])
        alone = replace(self, kind=self.kind[[place]], stacks=[self.stacks[place]])
        return np.asarray(alone.factor[0, soak])

    @cached_property
    def following(self) -> Following:
        """Natural flushes from today; starts are the stacks."""
        flushes, futures = self.outlook.flushes, self.outlook.futures
        starts = [start_of(stack, flushes.get(stack.name), futures) for stack in self.stacks]
        last = np.stack([picked for picked, _ in starts])
        ready = np.stack([row for _, row in starts])
        return follow(self.logs, last, ready, futures.lookback, self.kind)

    @cached_property
    def factor(self) -> FloatArray:
        """What is left of a first soak: (stack, soak, member); 0 before the spawn run is done."""
        rows = self.outlook.soak_rows
        through = np.stack([stack.spawn.rows for stack in self.stacks])[:, None, :]
        factor = soak_factor(self.following, rows, self.outlook.numbers.yields)
        return np.where(through <= rows[None, :, None], factor, 0.0)


@dataclass(frozen=True)
class FirstOfStacks:
    """The first soaks of some stacks, for bearing years that give 1."""

    starts: Starts  # the stacks
    # stack, soak, (pair,): the first soaks worth making, in order of stack, then soak
    stack: IntArray
    soak: IntArray
    # Picks of the first soaks, and of the natural flushes before them; rows are the pairs
    crops: Entries
    natural: Entries  # natural picks if nothing is soaked; rows are the stacks

    def arcs(
        self,
        place: int,
        scale: float,
        flush: UnderWay | None,
        bearing: FloatArray,
        pick_days: PickDays,
    ) -> FirstArcs:
        """Return the first arcs of one stack, by its place among the stacks.

        `scale` are its effective logs; `bearing`, (row,), is what its bearing year gives.
        """
        begin, end = np.searchsorted(self.stack, [place, place + 1]).tolist()
        soak = self.soak[begin:end]
        own = self.crops.between(begin, end).times_bearing(bearing)
        none = self.natural.between(place, place + 1).times_bearing(bearing)
        if flush is not None:
            now = _flush_entries(flush, pick_days)
            own, none = joined(own, _for_every(now, len(soak))), joined(none, now)
        return FirstArcs(soak=soak, crops=as_crops(own, scale), none_crops=as_crops(none, scale))


def first_of_stacks(
    logs: Fruiting,
    allowed: BoolArray,
    stacks: Sequence[StackOutlook],
    outlook: YardOutlook,
    pick_days: PickDays,
    fixed: Fixed | None = None,
    *,
    bearing: FloatArray,
    least: float,
    published: IntArray,
    crops: bool = True,
) -> FirstOfStacks:
    """Return the first soaks of some stacks: of all that are of these kinds.

    `allowed`, (kind, soak), is that of `KindArcs`; `bearing`, (stack, row), is what the bearing
    year of each row gives; `least` is expected of a soak [kg/log]. What is `published`, (stack,),
    the row of each one's next published soak or -1, stays open however little it brings: a plan
    that people have on their calendars does not turn on a gram. A soak that the grower has fixed is
    the only first one of its stack. Without `crops` there are no picks, but the same soaks.
    """
    numbers = outlook.numbers
    rows = outlook.soak_rows
    kind = np.array([logs.kinds.index(stack.kind) for stack in stacks])
    starts = Starts(logs, kind, stacks, outlook)
    even = _first_crops(logs, kind, stacks, outlook)
    usable = (even > 0).mean(axis=2) >= numbers.schedule.bears_in
    open_from = np.array([_open_row(stack, outlook) for stack in stacks])
    usable &= allowed[kind] & (rows[None, :] >= open_from[:, None])
    effective_logs = np.array([stack.effective_logs for stack in stacks])
    usable &= effective_logs[:, None] > 0
    for place, each in enumerate(stacks):
        if fixed is not None and each.name in fixed.kept:
            usable[place] = False
            usable[place, fixed.kept[each.name]] = True
    stack, soak = true_at(usable)
    given = bearing[stack, rows[soak]]
    count = np.array([max(one.state.logs, 1) for one in stacks])
    expected = even[stack, soak].mean(axis=1) * given * effective_logs[stack] / count[stack]
    worth = (given > 0) & ((expected >= least) | (rows[soak] == published[stack]))
    stack, soak = stack[worth], soak[worth]
    first = never = joined()
    if crops:
        natural = joined(natural_entries(logs, starts.following, pick_days))
        first = joined(
            forced_entries(logs, soak, starts.factor[stack, soak], pick_days, kind[stack]),
            until_soak(natural, stack, rows[soak], len(stacks)),
        ).by_row()
        never = natural.by_row()
    return FirstOfStacks(starts, stack, soak, first, never)


def _first_crops(
    logs: Fruiting, kind: IntArray, stacks: Sequence[StackOutlook], outlook: YardOutlook
) -> FloatArray:
    """Return what first soaks bring with even luck: (stack, soak, member) array. [kg/log]

    Which of them are open is told by this, so that it doesn't hang on the seed of the draws.
    """
    rows, futures, forced = outlook.soak_rows, outlook.futures, logs.forced
    kg, natural = logs.weather.with_even_luck(forced, logs.natural.trigger)
    last = np.stack([start_of(stack, None, futures)[0] for stack in stacks])
    ready = np.array([max(stack.spawn.sure_row, 0) for stack in stacks], dtype=np.int64)
    following = follow(
        replace(logs, natural=natural),
        last,
        np.broadcast_to(ready[:, None], last.shape),
        futures.lookback,
        kind,
    )
    of_stack = kg[:, columns_of(kind, last.shape[1])].swapaxes(0, 1)
    crops: FloatArray = of_stack * soak_factor(following, rows, outlook.numbers.yields)
    return crops


def _open_row(stack: StackOutlook, outlook: YardOutlook) -> int:
    day = stack.soakable_from
    if day is None:
        return outlook.futures.days
    return outlook.futures.lookback + max((day - outlook.futures.today).days, 0)


def _flush_entries(flush: UnderWay, pick_days: PickDays) -> Entries:
    """Return the picks of a flush under way today, its bearing year counted; all on row 0."""
    kg = flush.share * flush.kg * pick_days.share_of(flush.kind)
    kg[pick_days.today_row + pick_days.days :] = 0.0
    row, member = true_at(kg > 0)
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
        np.tile(entries.set_off, count),
    )
