"""The crops of single arcs, looked up quickly, and a cache that keeps to a size."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from itertools import pairwise
from typing import Generic, Protocol, TypeVar

import numpy as np

from fruitcast.schedule.problem import Crops, FirstArcs, FloatArray, IntArray, Path, TypeArcs
from fruitcast.schedule.supply import CheckDays, picked_between_checks


class Sized(Protocol):
    """Something with a size in memory."""

    @property
    def nbytes(self) -> int:
        """Its size. [byte]"""
        ...


Kept = TypeVar("Kept", bound=Sized)


class BoundedCache(Generic[Kept]):
    """Values made on demand and kept up to a size together; the longest unused goes first."""

    def __init__(self, make: Callable[[int], Kept], most_bytes: int) -> None:
        self._make, self._most = make, most_bytes
        self._kept: OrderedDict[int, Kept] = OrderedDict()
        self._bytes = 0

    def clear(self) -> None:
        """Drop all values."""
        self._kept.clear()
        self._bytes = 0

    def get(self, key: int) -> Kept | None:
        """Return a value if it is kept."""
        found = self._kept.get(key)
        if found is not None:
            self._kept.move_to_end(key)
        return found

    def __getitem__(self, key: int) -> Kept:
        found = self.get(key)
        if found is not None:
            return found
        made = self._make(key)
        self._kept[key] = made
        self._bytes += made.nbytes
        while self._bytes > self._most and len(self._kept) > 1:
            _, dropped = self._kept.popitem(last=False)
            self._bytes -= dropped.nbytes
        return made


class RowCrops:
    """Crops sorted by row, so that those of one row are one slice."""

    def __init__(self, crops: Crops) -> None:
        row = np.asarray(crops.row)
        self._crops = crops
        self._order = None if (np.diff(row) >= 0).all() else np.argsort(row, kind="stable")
        self._sorted = row if self._order is None else row[self._order]

    def of(self, rows: list[int], checks: CheckDays, members: int) -> FloatArray:
        """Return the weight picked from check to check on some rows together. [kg]"""
        parts = []
        for row in rows:
            low, high = np.searchsorted(self._sorted, [row, row + 1])
            place = slice(low, high)
            parts.append(np.arange(low, high) if self._order is None else self._order[place])
        at: IntArray = np.concatenate(parts) if parts else np.zeros(0, dtype=np.int64)
        one = Crops(
            np.zeros(len(at), dtype=np.int64),
            self._crops.member[at],
            self._crops.day[at],
            self._crops.kg[at],
        )
        picked: FloatArray = picked_between_checks(one, 1, checks, members)[:, 0]
        return picked


class ArcCrops:
    """The arcs of one type and what each brings."""

    def __init__(self, arcs: TypeArcs) -> None:
        self.arc_of = {
            (int(i), int(j)): arc
            for arc, (i, j) in enumerate(zip(arcs.start, arcs.stop, strict=True))
        }
        self._inner, self._end = RowCrops(arcs.crops), RowCrops(arcs.end_crops)

    def after_first(self, path: Path, checks: CheckDays, members: int) -> FloatArray:
        """Return the weight a path brings from check to check after its first soak. [kg]"""
        arcs = [self.arc_of[pair] for pair in pairwise(path)]
        return self._inner.of(arcs, checks, members) + self._end.of([path[-1]], checks, members)


def first_crops(first: FirstArcs, path: Path, checks: CheckDays, members: int) -> FloatArray:
    """Return the weight a stack brings from check to check up to its first soak. [kg]

    Raises
    ------
    KeyError
        If the first soak is not one of the stack's first arcs.
    """
    if not path:
        return RowCrops(first.none_crops).of([0], checks, members)
    found = np.flatnonzero(first.soak == path[0])
    if not len(found):
        raise KeyError(path)
    return RowCrops(first.crops).of([int(found[0])], checks, members)
