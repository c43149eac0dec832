"""How wet each stack is today, and what is known of it: dryness that kills, sample logs."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from fruitcast.biology.moisture import presumed_dead
from fruitcast.diary.state import StackState
from fruitcast.forecast.water import PastWater
from fruitcast.topics import MoistureNumbers
from fruitcast.yard.model import Stack


@dataclass(frozen=True)
class Weighing:
    """The last weighing of a stack's sample logs, beside what the model had for that evening.

    Attributes
    ----------
    on : date
        Day of the weighing.
    found, modelled : float
        Log moisture. [kg/kg dry wood]
    """

    on: date
    found: float
    modelled: float


@dataclass(frozen=True)
class Dampness:
    """How wet a stack is today, and what is known of it.

    Attributes
    ----------
    moisture : float
        Log moisture on the evening before today. [kg/kg dry wood]
    dry_since : date or None
        First day on which it was so dry that its spawn is presumed dead, with no sign of life
        since; None when there was none.
    weighing : Weighing or None
        The last one.
    """

    moisture: float
    dry_since: date | None = None
    weighing: Weighing | None = None


def dampness_of(
    column: int,
    stack: Stack,
    state: StackState,
    past: PastWater,
    today: date,
    balance: MoistureNumbers,
    *,
    asked_after_days: float,
) -> Dampness:
    """Return how wet one stack is; an inspection, pins or mushrooms show that it lives.

    Parameters
    ----------
    column : int
        Its column in `past.by_stack`.
    stack, state : Stack, StackState
        The stack.
    past : PastWater
        Moisture so far.
    today : date
        The day after the last row of `past`.
    balance : MoistureNumbers
        Numbers of the water balance.
    asked_after_days : float
        A drought longer ago is not held against a stack. [day]
    """
    moisture = past.by_stack[:, column]
    seen = [pick.on for pick in state.picks]
    seen += [
        day
        for day in (state.inspected_on, state.pins_on, state.fruiting_on, state.spawn_run_seen_on)
        if day is not None
    ]
    back = timedelta(days=int(asked_after_days))
    looked_at = max(stack.inoculated, today - back)
    begin = max(past.row(max([looked_at, *seen])), 0)
    dry = presumed_dead(moisture[begin:], dead_below=balance.dead_below)
    if seen and max(seen) >= looked_at:
        # Seen alive in that state: only if it dries out anew.
        dry &= np.maximum.accumulate(~dry)
    dry_rows = np.flatnonzero(dry)
    weighed = np.flatnonzero(np.isfinite(past.correction[:, column]))
    weighing = None
    if len(weighed):
        row = int(weighed[-1])
        found = float(moisture[row])
        on = past.first + timedelta(days=row)
        weighing = Weighing(on, found, found - float(past.correction[row, column]))
    return Dampness(
        float(moisture[-1]),
        past.first + timedelta(days=begin + int(dry_rows[0])) if len(dry_rows) else None,
        weighing,
    )
