"""What the search works on: a plan, what its soaks take up, rows, sales; with room for a move.

Each part is what one step of the compiled loop looks at, with what it needs of the problem's
arrays: a function that is handed all of them takes the compiler several times as long.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from fruitcast.soaks.problem import FloatArray, IntArray
from fruitcast.soaks.search_tables import Arrays, Index, Units, padded

_COPIED = ("tank", "hours", "fruiting")
"""What the plan's own soaks are added to."""


class PathsTried(NamedTuple):
    """A plan and a move of it; what stands in neither is of `Arrays`.

    Attributes
    ----------
    paths, best_paths : (stack, soak) int array
        Soaks of each stack, in the plan and in the best one seen.
    counts, best_counts : (stack,) int array
        Number of its soaks.
    new : (2, soak) int array
        The paths of a move.
    size, stack, front, back : (2,) int array
        Number of soaks and stack of each path of a move, and how many soaks it has in common with
        the plan's at its beginning and end.
    value : (3,) float array
        Objective of the plan, the best one, and of the first the visits. [kg]
    random : (1,) uint64 array
        State of chance.
    cursor : (4,) int array
        The change to be tried next when all are: place in `free`, soak (-1: one more), soak day
        (-1: none); and stacks gone through since the last gain.
    """

    paths: IntArray
    best_paths: IntArray
    counts: IntArray
    best_counts: IntArray
    new: IntArray
    size: IntArray
    stack: IntArray
    front: IntArray
    back: IntArray
    value: FloatArray
    random: npt.NDArray[np.uint64]
    cursor: IntArray
    kind: IntArray
    visit: IntArray
    start_row: npt.NDArray[np.int32]
    arc_row: npt.NDArray[np.int32]
    soak_cost: FloatArray
    start_cost: FloatArray
    end_cost: FloatArray


class RoomTaken(NamedTuple):
    """What the soaks of a plan take up; what does not stand here is of `Arrays`.

    Attributes
    ----------
    tank, hours, fruiting : (day,) int, float, int array
        In use.
    tank_begun, hours_begun, fruiting_begun : (day,) int, float, int array
        By soaks already begun.
    visits : (stack, soak day) int array
        Lots that go in, by `Arrays.visit`.
    value : (3,) float array
        See `PathsTried`.
    """

    tank: IntArray
    hours: FloatArray
    fruiting: IntArray
    tank_begun: IntArray
    hours_begun: FloatArray
    fruiting_begun: IntArray
    visits: IntArray
    value: FloatArray
    kind: IntArray
    logs: IntArray
    visit: IntArray
    handling: FloatArray
    soak_day: IntArray
    pull_day: IntArray
    clear_day: IntArray
    limits: FloatArray
    hours_on: FloatArray


class RowsListed(NamedTuple):
    """Rows that a move takes away, then those that it brings; what does not stand here: `Arrays`.

    Attributes
    ----------
    listed : (listed row,) int array
        Their numbers.
    units : (listed row,) float32 array
        Units for a kilogram of each. [1/kg]
    seen : (1,) int array
        What comes of looking at all rows listed.
    cells : (check * padded member,) int32 array
        `SalesBooked.change` in a row, as `Arrays.cell` counts it.
    changed : (2,) int array
        First and last check day of a change.
    """

    listed: IntArray
    units: npt.NDArray[np.float32]
    seen: IntArray
    cells: Units
    changed: IntArray
    row: npt.NDArray[np.uint32]
    cell: Index
    kg: npt.NDArray[np.float32]
    kind: IntArray
    effective_logs: FloatArray
    start_row: npt.NDArray[np.int32]
    arc_row: npt.NDArray[np.int32]
    end_row: npt.NDArray[np.int32]
    unit: FloatArray


class SalesBooked(NamedTuple):
    """What is sold; `tried_` is what a move would make of it. What does not stand here: `Arrays`.

    Attributes
    ----------
    come : (sale + 1, padded member) int32 array
        Picked since the sale before. [units]
    young : (sale + 1, padded member) int32 array
        Picked and not too old at the sale, sold or not. [units]
    left, tried_left : (sale + 2, padded member) int32 array
        Left over before each sale, and after the last. [units]
    sold, tried_sold : (sale + 1,) int array
        Sold in all members together. [units]
    sure, tried_sure : (sale + 1,) float array
        Certainty term. [kg]
    change : (check, padded member) int32 array
        What a move changes of what is picked; nought between moves. [units]
    changed, booked : (2,) int array
        First and last check day of a change; first sale booked for it, and the one past the last.
    none : (padded member,) int32 array
        Nought.
    short : (padded member,) float array
        Room.
    """

    come: Units
    young: Units
    left: Units
    tried_left: Units
    sold: IntArray
    tried_sold: IntArray
    sure: FloatArray
    tried_sure: FloatArray
    change: Units
    changed: IntArray
    booked: IntArray
    none: Units
    short: FloatArray
    reach: IntArray
    stale: IntArray
    first_sale: IntArray
    target: Units
    weight: FloatArray
    prices: FloatArray
    stock: FloatArray
    unit: FloatArray


class Work(NamedTuple):
    """All that the search works on."""

    plan: PathsTried
    room: RoomTaken
    rows: RowsListed
    ledger: SalesBooked


def work_on(arrays: Arrays, members: int, paths: IntArray, counts: IntArray, seed: int) -> Work:
    """Return a plan, paths (stack, soak) and their numbers of soaks, to be reckoned."""
    width, checks, sales = padded(members), len(arrays.stock), len(arrays.target)
    listed = 4 * (paths.shape[1] + 1)

    def units(rows: int) -> Units:
        return np.zeros((rows, width), dtype=np.int32)

    change, changed = units(checks), np.array([checks, -1])
    value = np.array([0.0, np.inf, 0.0])
    state = (seed * 2_654_435_769 + 88_172_645_463_325_252) % 2**64
    return Work(
        PathsTried(
            paths=paths,
            best_paths=paths.copy(),
            counts=counts,
            best_counts=counts.copy(),
            new=np.zeros((2, paths.shape[1]), dtype=np.int64),
            size=np.zeros(2, dtype=np.int64),
            stack=np.zeros(2, dtype=np.int64),
            front=np.zeros(2, dtype=np.int64),
            back=np.zeros(2, dtype=np.int64),
            value=value,
            random=np.array([state], dtype=np.uint64),
            cursor=np.array([0, -1, -1, 0]),
            **_of(arrays, PathsTried),
        ),
        RoomTaken(
            tank=arrays.tank.copy(),
            hours=arrays.hours.copy(),
            fruiting=arrays.fruiting.copy(),
            tank_begun=arrays.tank,
            hours_begun=arrays.hours,
            fruiting_begun=arrays.fruiting,
            visits=np.zeros(arrays.start_cost.shape, dtype=np.int64),
            value=value,
            **_of(arrays, RoomTaken),
        ),
        RowsListed(
            listed=np.zeros(listed, dtype=np.int64),
            units=np.zeros(listed, dtype=np.float32),
            seen=np.zeros(1, dtype=np.int64),
            cells=change.reshape(-1),
            changed=changed,
            **_of(arrays, RowsListed),
        ),
        SalesBooked(
            come=units(sales),
            young=units(sales),
            left=units(sales + 1),
            tried_left=units(sales + 1),
            sold=np.zeros(sales, dtype=np.int64),
            tried_sold=np.zeros(sales, dtype=np.int64),
            sure=np.zeros(sales),
            tried_sure=np.zeros(sales),
            change=change,
            changed=changed,
            booked=np.zeros(2, dtype=np.int64),
            none=np.zeros(width, dtype=np.int32),
            short=np.zeros(width),
            **_of(arrays, SalesBooked),
        ),
    )


def _of(arrays: Arrays, part: type[NamedTuple]) -> dict[str, npt.NDArray]:
    """Return what a part takes of the problem's arrays as they are."""
    held = arrays._asdict()
    return {name: held[name] for name in part._fields if name in held and name not in _COPIED}
