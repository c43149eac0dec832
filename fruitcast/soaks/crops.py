"""From flushes to the sparse crops of arcs: which weight is picked on which day, by member."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from fruitcast.arrays import BoolArray, FloatArray, IntArray
from fruitcast.biology.picking import FlushKind
from fruitcast.biology.run_length import true_at
from fruitcast.forecast.flushes import Following
from fruitcast.forecast.fruiting import Fruiting
from fruitcast.forecast.log_weather import columns_of
from fruitcast.soaks.problem import Crops, rising
from fruitcast.yard.model import Yard


@dataclass(frozen=True)
class PickDays:
    """Which rows of the members' weather count, and what of a pick can be sold."""

    today_row: int  # row of day 0
    days: int  # days that count from today
    sold_share: FloatArray  # (row, member): share of a day's pick that can be sold; 0 while away
    # (row, member): the same of logs that were pulled, where a roof keeps the rain off their caps
    covered_share: FloatArray | None = None

    def share_of(self, kind: FlushKind) -> FloatArray:
        """Return the share of a day's pick that can be sold, by kind of flush."""
        if kind == "natural" or self.covered_share is None:
            return self.sold_share
        return self.covered_share

    def in_columns(self, member: IntArray) -> PickDays:
        """Return the same with other columns: of each the member that it is of."""
        covered = None if self.covered_share is None else self.covered_share[:, member]
        return replace(self, sold_share=self.sold_share[:, member], covered_share=covered)


def pick_days_of(
    yard: Yard, logs: Fruiting, away: BoolArray, today_row: int, days: int
) -> PickDays:
    """Return what counts of the picks of one kind of logs; `away` as in `soak_days.rows_away`."""
    dry = np.broadcast_to(yard.saleable * ~away[:, None], logs.keeping.shape)
    covered = dry if yard.fruiting.under_cover else None
    return PickDays(today_row, days, dry * logs.keeping, covered)


@dataclass(frozen=True)
class Entries:
    """Picks in sparse form."""

    row: IntArray  # (entry,): whatever the maker numbers: a flush's start, an arc
    member: IntArray  # (entry,): member
    day: IntArray  # (entry,): day of the pick, days from today
    kg: FloatArray  # (entry,): saleable weight
    # (entry,): row of the members' weather on which its flush was set off: the soak, or the trigger
    set_off: IntArray

    def between(self, first: int, past: int) -> Entries:
        """Return the entries of some rows in a run, renumbered from 0; rows must rise."""
        if not len(self.row):
            return self
        # Bounds of the rows' own number type: else all rows are turned into the other one.
        low, high = np.searchsorted(self.row, np.array([first, past], dtype=self.row.dtype))
        part = self.of(slice(low, high))
        return replace(part, row=part.row - first)

    def of(self, which: IntArray | BoolArray | slice) -> Entries:
        """Return some of the entries."""
        return Entries(
            self.row[which],
            self.member[which],
            self.day[which],
            self.kg[which],
            self.set_off[which],
        )

    def times_bearing(self, bearing: FloatArray) -> Entries:
        """Return the same entries times what the bearing year of their set-off gives, (row,)."""
        if not len(self.row) or (bearing == 1.0).all():
            return self
        return replace(self, kg=self.kg * bearing[self.set_off])

    def by_row(self) -> Entries:
        """Return the same entries with rising rows."""
        return self.of(rising(self.row))


def forced_entries(
    fruiting: Fruiting,
    soak: IntArray,
    factor: FloatArray,
    pick_days: PickDays,
    kind: IntArray | int = 0,
) -> Entries:
    """Return the picks of the forced flushes at the end of arcs.

    `soak` and `kind`, (arc,), are the soak at an arc's end and the place of its kind of logs in
    `fruiting`; `factor`, (arc, member), is what rest and natural flushes leave of it.
    """
    forced, members = fruiting.forced, factor.shape[1]
    columns = columns_of(np.broadcast_to(kind, soak.shape), members)
    kg = forced.kg[soak[:, None], columns] * factor
    arc, member = true_at(kg > 0)
    at, column = soak[arc], columns[arc, member]
    return spread(
        arc,
        member,
        forced.pick_row[at, column],
        forced.length[at, column],
        kg[arc, member],
        forced.soak_row[at],
        fruiting.forced_shape,
        pick_days,
        "forced",
    )


def natural_entries(fruiting: Fruiting, following: Following, pick_days: PickDays) -> Entries:
    """Return the picks of all natural flushes that follow each start; `row` is the start."""
    flush, start, member = true_at(following.kg > 0)
    pick = following.pick[flush, start, member]
    return spread(
        start,
        member,
        pick,
        following.past[flush, start, member] - pick,
        following.kg[flush, start, member],
        following.trigger[flush, start, member],
        fruiting.natural_shape,
        pick_days,
        "natural",
    )


def spread(
    row: IntArray,
    member: IntArray,
    pick: IntArray,
    length: IntArray,
    kg: FloatArray,
    set_off: IntArray,
    shapes: FloatArray,
    pick_days: PickDays,
    kind: FlushKind,
) -> Entries:
    """Spread each flush over its days of picking and take off what cannot be sold."""
    first, past = pick_days.today_row, pick_days.today_row + pick_days.days
    begin, end = np.maximum(pick, first), np.minimum(pick + length, past)
    count = np.maximum(end - begin, 0)
    share = pick_days.share_of(kind)
    rows = np.arange(count.sum()) + np.repeat(begin - np.cumsum(count) + count, count)
    picked = np.repeat(kg, count)
    picked *= shapes.ravel().take(rows + np.repeat(length * shapes.shape[1] - pick, count))
    picked *= share.ravel().take(rows * share.shape[1] + np.repeat(member, count))
    some = picked > 0
    return Entries(
        _repeated(row, count, np.int32)[some],
        _repeated(member, count, np.int32)[some],
        _as(rows[some] - first, np.int16),
        picked[some],
        _repeated(set_off, count, np.int16)[some],
    )


def until_soak(
    entries: Entries, arc_start: IntArray, arc_soak_row: IntArray, starts: int
) -> Entries:
    """Return the natural picks of each arc: of the flushes triggered before its soak.

    `entries` are by start; the arcs, sorted by start, then soak, have their start and the row on
    which their soak begins.
    """
    # Arcs by start and soak row in one rising number; a later start's arcs are no further.
    rows = int(arc_soak_row.max(initial=0)) + 1
    begun = entries.row.astype(np.int64) * rows + entries.set_off + 1
    low = np.searchsorted(arc_start * rows + arc_soak_row, begun)
    high = np.searchsorted(arc_start, np.arange(starts), side="right")[entries.row]
    count = np.maximum(high - low, 0)
    before = np.cumsum(count) - count
    arc = np.arange(count.sum()) + np.repeat(low - before, count)
    return Entries(
        _as(arc, np.int32),
        np.repeat(entries.member, count),
        np.repeat(entries.day, count),
        np.repeat(entries.kg, count),
        np.repeat(entries.set_off, count),
    )


def joined(*parts: Entries) -> Entries:
    """Return several entries as one, in compact number types."""
    parts = tuple(part for part in parts if len(part.row)) or parts[:1]
    return Entries(
        row=_join([part.row for part in parts], np.int32),
        member=_join([part.member for part in parts], np.int16),
        day=_join([part.day for part in parts], np.int16),
        kg=_join([part.kg for part in parts], np.float64),
        set_off=_join([part.set_off for part in parts], np.int16),
    )


def as_crops(entries: Entries, scale: float = 1.0) -> Crops:
    """Return compact entries, see `joined`, as crops of a problem, weights times a scale."""
    kg = entries.kg if scale == 1.0 else entries.kg * scale
    return Crops(entries.row, entries.member, entries.day, kg.astype(np.float32))


def only_rows(entries: Entries, wanted: IntArray, count: int) -> Entries:
    """Return the entries of some rows of so many, renumbered from 0 in the order given."""
    if not len(entries.row):
        return entries
    place: npt.NDArray = np.full(count, -1, dtype=np.int32)
    place[wanted] = np.arange(len(wanted))
    row = place[entries.row]
    return replace(entries, row=row).of(row >= 0)


def _as(values: npt.NDArray, kind: type) -> npt.NDArray:
    return values.astype(kind, copy=False)


def _repeated(values: npt.NDArray, count: IntArray, kind: type) -> npt.NDArray:
    return np.repeat(_as(values, kind), count)


def _join(parts: list[npt.NDArray], kind: type) -> npt.NDArray:
    if len(parts) == 1:
        return _as(parts[0], kind)
    return np.concatenate(parts, dtype=kind, casting="unsafe") if parts else np.zeros(0, dtype=kind)
