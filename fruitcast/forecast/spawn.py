"""When each stack is through its spawn run: known, or in every possible future."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import numpy.typing as npt

from fruitcast.forecast.members import Futures
from fruitcast.forecast.water import FutureWater, PastWater, band_of
from fruitcast.numbers import Numbers
from fruitcast.shiitake.spawn_run import (
    daily_progress,
    ready_day,
    required_progress,
    required_quantile,
)
from fruitcast.yard.model import Stack
from fruitcast.yard.state import StackState

IntArray = npt.NDArray[np.int64]


@dataclass(frozen=True)
class SpawnRun:
    """How far a stack's spawn run is.

    Attributes
    ----------
    progress : float
        Share of the requirement that has built up; 1 when done. [unitless]
    ready_on : date or None
        Day it was done, when that has passed.
    seen : bool
        Whether the grower saw it done (white ends, or mushrooms).
    rows : (member,) int array
        Row of `Futures` on which it is done; the number of rows when later.
    early, middle, late : date or None
        Range of the ready date over weather and wood, 10, 50 and 90 of 100; None when it
        lies past the days looked at.
    """

    progress: float
    ready_on: date | None
    seen: bool
    rows: IntArray
    early: date | None
    middle: date | None
    late: date | None


def spawn_run(
    stack: Stack,
    state: StackState,
    past: PastWater,
    futures: Futures,
    water: FutureWater,
    numbers: Numbers,
) -> SpawnRun:
    """Return the spawn run of one stack; what the grower saw overrules the model."""
    today = futures.today
    seen_on = min(
        (day for day in (state.natural_seen_on, state.spawn_run_seen_on) if day), default=None
    )
    if seen_on is not None and seen_on <= today:
        return _known(seen_on, True, futures)
    band = past.bands.index(band_of(stack))
    required = required_progress(
        stack.strain_class, stack.spawn, stack.diameter, stack.tree, numbers
    )
    begin = (stack.inoculated - past.first).days
    if begin < 0:
        # Older than the account of moisture goes back: the planning figure of one year.
        return _known(stack.inoculated + timedelta(days=365), False, futures)
    so_far = daily_progress(past.tmean[begin:, None], past.moisture[begin:, band, None], numbers)
    done = int(ready_day(so_far, required)[0]) if begin < len(past.tmean) else 0
    built_up = float(so_far.sum())
    if begin < len(past.tmean) and done < len(so_far):
        return _known(stack.inoculated + timedelta(days=done), False, futures)
    first = futures.lookback + max((stack.inoculated - today).days, 0)
    ahead = daily_progress(futures.tmean[first:], water.moisture[first:, band], numbers)

    def rows_for(need: float) -> IntArray:
        return first + ready_day(ahead, need, built_up)

    def day_for(chance: float) -> date | None:
        row = float(np.median(rows_for(required_quantile(required, chance, numbers))))
        return None if row >= futures.days else futures.date(int(row))

    return SpawnRun(
        min(built_up / required, 1.0),
        None,
        False,
        rows_for(required),
        day_for(0.1),
        day_for(0.5),
        day_for(0.9),
    )


def _known(ready_on: date, seen: bool, futures: Futures) -> SpawnRun:
    row = max(futures.lookback + (ready_on - futures.today).days, 0)
    rows = np.full(len(futures.years), row, dtype=np.int64)
    return SpawnRun(1.0, ready_on, seen, rows, ready_on, ready_on, ready_on)


def sure_ready_row(run: SpawnRun, numbers: Numbers) -> int:
    """Return the row of `Futures` by which a stack is ready, with the chance planned on."""
    ordered = np.sort(run.rows)
    place = int(np.ceil(numbers["schedule.ready_chance"] * len(ordered))) - 1
    return int(ordered[max(place, 0)])
