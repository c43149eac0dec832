"""The holes of a log: rows around it, holes along each row, every second row set off by half.

Positions are on the unrolled bark: `along` from one end of the log, `around` from the seam,
the line along the log at which the bark is cut open in the drawing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fruitcast.errors import InputError

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True)
class HolePattern:
    """Where to drill one log.

    Attributes
    ----------
    diameter, length : float
        Of the log, over bark. [m]
    rows : int
        Rows around the log.
    spacing : float
        From hole to hole along a row: the one asked for, stretched or squeezed by some per
        cent so that the rows fill the log from end to end. [m]
    row_distance : float
        From row to row around the log. [m]
    end_distance : float
        From the end of the log to the first hole. [m]
    along, around : (hole,) float array
        Position of each hole, row by row. [m]
    """

    diameter: float
    length: float
    rows: int
    spacing: float
    row_distance: float
    end_distance: float
    along: FloatArray
    around: FloatArray

    @property
    def holes(self) -> int:
        """Holes in the log."""
        return len(self.along)

    @property
    def circumference(self) -> float:
        """Around the log, over bark. [m]"""
        return float(np.pi * self.diameter)

    @property
    def holes_by_row(self) -> tuple[int, ...]:
        """Holes in each row, from the seam on."""
        row = np.rint(self.around / self.row_distance - 0.5).astype(np.int64)
        return tuple(np.bincount(row, minlength=self.rows).tolist())

    @property
    def seam_breaks_stagger(self) -> bool:
        """Whether the first and the last row, neighbours across the seam, aren't set off."""
        return self.rows % 2 == 1 and self.rows > 1


def holes_by_area(
    diameter: npt.ArrayLike, length: npt.ArrayLike, along: float, between: float
) -> FloatArray:
    """Return the usual figure for the holes of a log: rows times length over spacing.

    Parameters
    ----------
    diameter, length : float array
        Over bark. [m]
    along, between : float
        From hole to hole along a row, and from row to row. [m]

    Returns
    -------
    float array
        Not rounded: a staggered log has up to a quarter of a hole a row more or less.
    """
    return np.asarray(row_count(diameter, between) * np.asarray(length, dtype=float) / along)


def row_count(diameter: npt.ArrayLike, between: float) -> npt.NDArray[np.int64]:
    """Return how many rows fit around a log, at least one, the distance rounded to fit.

    Parameters
    ----------
    diameter : float array
        Over bark. [m]
    between : float
        Distance of rows asked for. [m]

    Returns
    -------
    int array
    """
    rows = np.pi * np.asarray(diameter, dtype=float) / between
    return np.maximum(np.floor(rows + 0.5 + 1e-9), 1).astype(np.int64)


def drill(
    diameter: float, length: float, *, along: float, between: float, end_distance: float
) -> HolePattern:
    """Return the staggered pattern of one log.

    Two neighbouring rows together get the whole number of holes next to twice the length over
    the spacing; an odd number gives rows of, say, 7 and 6 in turn, an even one rows of equal
    number, set off all the same.

    Parameters
    ----------
    diameter, length : float
        Of the log, over bark. [m]
    along : float
        From hole to hole along a row, as asked for. [m]
    between : float
        From row to row, as asked for. [m]
    end_distance : float
        From each end of the log to the first hole. [m]

    Raises
    ------
    InputError
        If the log is too short for a single hole.
    """
    room = length - 2 * end_distance
    if room < 0:
        raise InputError(
            f"A log of {length * 100:g} cm leaves no place for a hole {end_distance * 100:g} cm "
            "from each end. Give a smaller distance from the end, or longer logs."
        )
    rows = int(row_count(diameter, between))
    pair = max(int(np.floor(2 * length / along + 0.5 + 1e-9)), 1)
    steps = pair - 1  # half spacings from the first hole of two rows to the last
    if steps == 0:
        half, first = along / 2, length / 2
    else:
        half, first = room / steps, end_distance
    row_distance = np.pi * diameter / rows
    odd_row = np.arange(1, pair, 2) if pair > 1 else np.arange(0, 1)
    places = [np.arange(0, pair, 2) if row % 2 == 0 else odd_row for row in range(rows)]
    return HolePattern(
        diameter=diameter,
        length=length,
        rows=rows,
        spacing=2 * half,
        row_distance=float(row_distance),
        end_distance=first,
        along=np.concatenate([first + half * place for place in places]),
        around=np.concatenate(
            [np.full(len(place), (row + 0.5) * row_distance) for row, place in enumerate(places)]
        ),
    )
