"""All sequences of soaks one stack could follow, as a table sorted for quick evaluation."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fruitcast.schedule.problem import BoolArray, IntArray, Path, TypeArcs

NO_SOAK = -1


@dataclass(frozen=True)
class PathTable:
    """All paths of one type, a row each, sorted by last soak; row 0 soaks never.

    A row's parent is the same path without its last soak, so what happens before the last
    soak is the parent's and needs to be computed once only.

    Attributes
    ----------
    parent : (row,) int array
        Row of the parent; row 0 is its own.
    first, last : (row,) int array
        Index of the first and last soak day; `NO_SOAK` in row 0.
    arc : (row,) int array
        Interior arc that leads to the last soak; -1 when it is the first.
    soaks : (row,) int array
        Number of soaks.
    uses : (row, soak day) bool array
        Which soak days a path uses.
    """

    parent: IntArray
    first: IntArray
    last: IntArray
    arc: IntArray
    soaks: IntArray
    uses: BoolArray

    def __len__(self) -> int:
        return len(self.parent)

    def path(self, row: int) -> Path:
        """Return the soaks of a row."""
        return tuple(int(k) for k in np.flatnonzero(self.uses[row]))


def enumerate_paths(arcs: TypeArcs, soak_days: int, most: int) -> PathTable | None:
    """Return all paths of a type, or None when there are more than `most`.

    Parameters
    ----------
    arcs : TypeArcs
        The type's interior arcs and allowed soak days.
    soak_days : int
        Number of soak days in the problem.
    most : int
        Rows beyond which a table is too large to be worth it.
    """
    into: list[list[tuple[int, int]]] = [[] for _ in range(soak_days)]
    for arc, (start, stop) in enumerate(zip(arcs.start.tolist(), arcs.stop.tolist(), strict=True)):
        into[stop].append((start, arc))
    parent, first, last, via, soaks = [0], [NO_SOAK], [NO_SOAK], [-1], [0]
    rows_ending: list[list[int]] = [[] for _ in range(soak_days)]
    for k in np.flatnonzero(arcs.allowed).tolist():
        grown = [(0, -1)] + [(row, arc) for start, arc in into[k] for row in rows_ending[start]]
        if len(parent) + len(grown) > most:
            return None
        for row, arc in grown:
            rows_ending[k].append(len(parent))
            parent.append(row)
            first.append(first[row] if row else k)
            last.append(k)
            via.append(arc)
            soaks.append(soaks[row] + 1)
    uses = np.zeros((len(parent), soak_days), dtype=bool)
    for row in range(1, len(parent)):
        uses[row] = uses[parent[row]]
        uses[row, last[row]] = True
    columns = [np.array(column, dtype=np.int64) for column in (parent, first, last, via, soaks)]
    return PathTable(columns[0], columns[1], columns[2], columns[3], columns[4], uses)
