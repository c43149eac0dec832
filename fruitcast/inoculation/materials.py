"""What a batch of logs takes: its pattern of holes, bit, spawn, wax, hours, trees and floor.

Positions are on the unrolled bark: `along` from one end of the log, `around` from the seam,
the line along the log at which the bark is cut open in the drawing.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor, pi

import numpy as np
import numpy.typing as npt

from fruitcast.arrays import FloatArray, IntArray
from fruitcast.errors import InputError
from fruitcast.inoculation.answers import BatchMaterials
from fruitcast.inoculation.problem import LogKind
from fruitcast.topics import InoculationNumbers, Tool


@dataclass(frozen=True)
class HolePattern:
    """Where to drill one log."""

    diameter: float  # of the log, over bark [m]
    length: float  # of the log, over bark [m]
    rows: int  # rows around the log
    # From hole to hole along a row: the one asked for, stretched or squeezed by some per cent so
    # that the rows fill the log from end to end [m]
    spacing: float
    row_distance: float  # from row to row around the log [m]
    end_distance: float  # from the end of the log to the first hole [m]
    along: FloatArray  # (hole,): position of each hole, row by row [m]
    around: FloatArray  # (hole,): position of each hole, row by row [m]

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
    """Return the usual figure for the holes of a log: rows times length over spacing. [m]

    Not rounded: a staggered log has up to a quarter of a hole a row more or less.
    """
    return np.asarray(row_count(diameter, between) * np.asarray(length, dtype=float) / along)


def row_count(diameter: npt.ArrayLike, between: float) -> IntArray:
    """Return how many rows fit around a log, at least one, the distance rounded to fit. [m]"""
    rows = np.pi * np.asarray(diameter, dtype=float) / between
    return np.maximum(np.floor(rows + 0.5 + 1e-9), 1).astype(np.int64)


def drill(
    diameter: float, length: float, *, along: float, between: float, end_distance: float
) -> HolePattern:
    """Return the staggered pattern of one log. [m]

    Two neighbouring rows together get the whole number of holes next to twice the length over the
    spacing `along` a row; an odd number gives rows of, say, 7 and 6 in turn, an even one rows of
    equal number, set off all the same. Raises InputError if the log is too short for a single
    hole.
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


def drill_as_usual(kind: LogKind, inoculation: InoculationNumbers, **own: float) -> HolePattern:
    """Return the pattern of a kind of logs at the usual distances, but for one's own. [m]"""
    usual = {
        "along": inoculation.along,
        "between": inoculation.between,
        "end_distance": inoculation.end_distance,
    }
    return drill(kind.diameter, kind.length, **usual | own)


# What a batch of logs takes: bit and depth, spawn, wax, hours, trees and floor.

WAXLESS = "thimble"
"""The form of spawn that comes with its own cap."""


def sawdust_per_hole(bit: float, depth: float, *, sawdust_density: float) -> float:
    """Return the sawdust spawn pressed into one hole [m, kg/m3], what is spilt left out. [kg]"""
    return pi / 4 * bit**2 * depth * sawdust_density


def stack_floor(
    logs: int, diameter: float, length: float, *, stack_height: float, stack_gap: float
) -> float:
    """Return the ground under logs stacked crosswise, layer on layer, in square stacks. [m, m2]

    Without the paths between the stacks; `stack_gap` is that between the logs of a layer.
    """
    a_layer = max(floor(length / (diameter + stack_gap)), 1)
    layers = max(floor(stack_height / diameter + 1e-9), 1)
    return ceil(logs / (a_layer * layers)) * length**2


def materials(
    kind: LogKind,
    logs: int,
    holes_per_log: int,
    tool: Tool,
    inoculation: InoculationNumbers,
    *,
    seal_ends: bool = False,
) -> BatchMaterials:
    """Return what so many logs of a kind take; `seal_ends`: whether the cut ends are waxed too."""
    spawn, diameter = kind.spawn, kind.diameter
    holes = logs * holes_per_log
    pieces, sawdust = 0, 0.0
    if spawn == "sawdust":
        density, spilt = inoculation.sawdust_density, 1 + inoculation.sawdust_spilt
        sawdust = (
            holes * sawdust_per_hole(*inoculation.hole(spawn), sawdust_density=density) * spilt
        )
    else:
        pieces = ceil(holes * (1 + inoculation.spare_spawn) - 1e-9)
    waxed = 0 if spawn == WAXLESS else holes
    ends = 2 * logs * pi / 4 * diameter**2 if seal_ends else 0.0
    hours = {
        "drilling_hours": holes * inoculation.drilling_seconds(tool) / 3600,
        "filling_hours": holes * inoculation.filling_seconds(spawn) / 3600,
        "waxing_hours": waxed * inoculation.wax_seconds / 3600,
        "handling_hours": logs * inoculation.handling_seconds / 3600,
    }
    return BatchMaterials(
        holes=holes,
        pieces=pieces,
        sawdust_kg=sawdust,
        wax_kg=waxed * inoculation.wax_per_hole + ends * inoculation.wax_per_end_area,
        **hours,
        hours=sum(hours.values()),
        trees=ceil(logs / inoculation.logs_a_tree - 1e-9),
        floor_m2=stack_floor(
            logs,
            diameter,
            kind.length,
            stack_height=inoculation.stack_height,
            stack_gap=inoculation.stack_gap,
        ),
    )
