"""Picking in rain and heat: when to cover the pulled logs, when to pick twice a day."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fruitcast.biology.picking import cover_wanted, pick_twice
from fruitcast.biology.run_length import first_reached
from fruitcast.forecast.members import Futures
from fruitcast.forecast.one_job import DAYS_AHEAD, Job, JobKind
from fruitcast.forecast.outlook import YardOutlook
from fruitcast.topics import PickingNumbers
from fruitcast.units import Units, format_rain, format_temperature

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class PickWindow:
    """Days on which one flush is picked, member by member.

    Attributes
    ----------
    stack : str
        Stack or lot.
    pick, past : (member,) int array
        Row of the first pick, and the row after the last one.
    comes : (member,) bool array
        Whether anything comes.
    covered : bool
        Whether a roof keeps the rain off.
    """

    stack: str
    pick: IntArray
    past: IntArray
    comes: BoolArray
    covered: bool = False


def windows_under_way(outlook: YardOutlook) -> list[PickWindow]:
    """Return the pick windows of the flushes under way."""
    roof = outlook.yard.fruiting.under_cover
    return [
        PickWindow(
            name, flush.pick, flush.past, flush.kg > 0, covered=roof and flush.kind == "forced"
        )
        for name, flush in outlook.flushes.items()
    ]


def pins_rows(warmth: FloatArray, pull: int, pick: IntArray, *, pins_share: float) -> IntArray:
    """Return the row on which pins show before each first pick.

    Parameters
    ----------
    warmth : (day + 1, member) float array
        Running total of warmth above the class's base. [degC day]
    pull : int
        Row of the pull.
    pick : (member,) int array
        Row of the first pick.
    pins_share : float
        Share of the warmth at which pins show. [0..1]

    Returns
    -------
    (member,) int array
        Row.
    """
    member = np.arange(len(pick))
    at = np.minimum(pick, len(warmth) - 1)
    need = (warmth[at, member] - warmth[pull, member]) * pins_share
    return first_reached(warmth, pull, member, need)


def picking_jobs(
    windows: Iterable[PickWindow], futures: Futures, units: Units, picking: PickingNumbers
) -> list[Job]:
    """Return where open caps want a cover against rain, or picking twice a day in heat.

    Rain is told only as far as the forecast goes; heat also where most members have it.

    Parameters
    ----------
    windows : iterable of PickWindow
        Flushes under way, and those of soaks in the coming days.
    futures : Futures
        The members' weather.
    units : str
        'us' or 'metric', for the reasons.
    picking : PickingNumbers
        Numbers of picking.
    """
    today = futures.lookback
    ahead = min(max(futures.known_days, DAYS_AHEAD), futures.days - today)
    rows = np.arange(today, today + ahead)
    rain, tmax = np.full(ahead, np.nan), futures.tmax[rows]
    rain[: futures.known_days] = futures.forecast["rain"][:ahead]
    wet = cover_wanted(rain, rain_from=picking.rain_from)
    hot = pick_twice(tmax, twice_from=picking.twice_from).mean(axis=1) >= picking.hot_chance
    jobs: list[Job] = []
    for window in windows:
        open_now = (window.pick <= rows[:, None]) & (window.past > rows[:, None]) & window.comes
        is_open = open_now.mean(axis=1) >= picking.open_chance
        for first, last in _runs(is_open & wet & (not window.covered)):
            fallen = float(rain[first : last + 1].max())
            reason = (
                f"{format_rain(fallen, units)} of rain forecast on open caps; wet caps keep badly"
            )
            jobs.append(_job("cover", window.stack, rows, first, last, reason, futures))
        for first, last in _runs(is_open & hot):
            peak = float(np.median(tmax[first : last + 1].max(axis=0)))
            reason = f"up to {format_temperature(peak, units)}: caps open within a day"
            jobs.append(_job("pick twice", window.stack, rows, first, last, reason, futures))
    return jobs


def _job(
    kind: JobKind,
    stack: str,
    rows: IntArray,
    first: int,
    last: int,
    reason: str,
    futures: Futures,
) -> Job:
    return Job(kind, stack, futures.date(int(rows[first])), futures.date(int(rows[last])), reason)


def _runs(flags: BoolArray) -> Iterator[tuple[int, int]]:
    """Return first and last place of each run of days with the flag up."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(np.int8)))
    for first, past in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        yield first, past - 1
