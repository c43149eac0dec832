"""What the search works on: a plan, what its soaks take up, rows, sales; with room for a move.

Each part is what one step of the compiled loop looks at, with what it needs of the problem's
arrays: a function that is handed all of them takes the compiler several times as long.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from fruitcast.arrays import FloatArray, IntArray
from fruitcast.soaks.search_tables import Arrays, Index, Units, padded

_COPIED = ("tank", "hours", "fruiting")
"""What the plan's own soaks are added to."""


class PathsTried(NamedTuple):
    """A plan and a move of it; what stands in neither is of `Arrays`."""

    # paths, best_paths, (stack, soak): soaks of each stack, in the plan and in the best one seen
    paths: IntArray
    best_paths: IntArray
    # counts, best_counts, (stack,): number of its soaks
    counts: IntArray
    best_counts: IntArray
    new: IntArray  # (2, soak): the paths of a move
    # size, stack, front, back, (2,): number of soaks and stack of each path of a move, and how many
    # soaks it has in common with the plan's at its beginning and end
    size: IntArray
    stack: IntArray
    front: IntArray
    back: IntArray
    value: FloatArray  # (3,): objective of the plan, the best one, and of the first the visits [kg]
    random: npt.NDArray[np.uint64]  # (1,): state of chance
    # (4,): the change to be tried next when all are: place in `free`, soak (-1: one more), soak day
    # (-1: none); and stacks gone through since the last gain
    cursor: IntArray
    kind: IntArray
    visit: IntArray
    start_row: npt.NDArray[np.int32]
    arc_row: npt.NDArray[np.int32]
    soak_cost: FloatArray
    start_cost: FloatArray
    end_cost: FloatArray


class RoomTaken(NamedTuple):
    """What the soaks of a plan take up; what does not stand here is of `Arrays`."""

    # tank, hours, fruiting, (day,): in use
    tank: IntArray
    hours: FloatArray
    fruiting: IntArray
    # tank_begun, hours_begun, fruiting_begun, (day,): by soaks already begun
    tank_begun: IntArray
    hours_begun: FloatArray
    fruiting_begun: IntArray
    visits: IntArray  # (stack, soak day): lots that go in, by `Arrays.visit`
    value: FloatArray  # (3,): see `PathsTried`
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
    """Rows that a move takes away, then those that it brings; the others: see `Arrays`."""

    listed: IntArray  # (listed row,): their numbers
    units: npt.NDArray[np.float32]  # (listed row,): units for a kilogram of each [1/kg]
    seen: IntArray  # (1,): what comes of looking at all rows listed
    # (check * padded member,): `SalesBooked.change` in a row, as `Arrays.cell` counts it
    cells: Units
    changed: IntArray  # (2,): first and last check day of a change
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
    """What is sold; `tried_` is what a move would make of it. The others: see `Arrays`."""

    come: Units  # (sale + 1, padded member): picked since the sale before [units]
    # (sale + 1, padded member): picked and not too old at the sale, sold or not [units]
    young: Units
    # left, tried_left, (sale + 2, padded member): left over before each sale, and after the last
    # [units]
    left: Units
    tried_left: Units
    # sold, tried_sold, (sale + 1,): sold in all members together [units]
    sold: IntArray
    tried_sold: IntArray
    # sure, tried_sure, (sale + 1,): certainty term [kg]
    sure: FloatArray
    tried_sure: FloatArray
    # (check, padded member): what a move changes of what is picked; nought between moves [units]
    change: Units
    # changed, booked, (2,): first and last check day of a change; first sale booked for it, and the
    # one past the last
    changed: IntArray
    booked: IntArray
    none: Units  # (padded member,): nought
    short: FloatArray  # (padded member,): room
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
