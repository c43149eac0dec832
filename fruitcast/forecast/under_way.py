"""Flushes already under way today: soaked and not yet picked out, pinning, or in the open."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil

import numpy as np
import numpy.typing as npt

from fruitcast.forecast.fruiting import Fruiting
from fruitcast.forecast.members import Futures
from fruitcast.forecast.stacks import StackOutlook, first_picks
from fruitcast.numbers import Numbers
from fruitcast.shiitake.forced import first_pick
from fruitcast.shiitake.picking import FlushKind
from fruitcast.shiitake.yields import base_yield, kind_factor, rest_factor
from fruitcast.yard.state import Pick, Soak, StackState

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]


FLUSH_DAYS_AT_MOST = 21
"""A natural flush whose first pick is longer ago is over. [day]"""


@dataclass(frozen=True)
class UnderWay:
    """One flush that began before today and is not picked out yet.

    Attributes
    ----------
    kind : str
        'forced' or 'natural'.
    begun : date
        Soak day, or day on which pins or caps were seen.
    pick : (member,) int array
        Row of the first pick.
    past : (member,) int array
        Row after the last pick.
    kg : (member,) float array
        What is still to come. [kg per unit of scale]
    share : (day, member) float array
        How that spreads over the rows of the members' weather; adds up to 1 or 0.
    """

    kind: FlushKind
    begun: date
    pick: IntArray
    past: IntArray
    kg: FloatArray
    share: FloatArray


def pulled_on(soak: Soak, numbers: Numbers) -> date:
    """Return the day on which the logs of a soak came, or will come, out of the tank."""
    if soak.pulled_on is not None:
        return soak.pulled_on
    hours = soak.hours or numbers["forced.usual_hours"]
    return soak.on + timedelta(days=ceil(hours / 24))


def recent_soak(state: StackState, futures: Futures, numbers: Numbers) -> Soak | None:
    """Return the last soak if its flush may still be under way."""
    soak = state.last_soak
    longest = numbers["forced.longest_days"] + numbers["picking.longest_flush"]
    if soak is None or (futures.today - pulled_on(soak, numbers)).days > longest:
        return None
    return soak


def under_way(
    stack: StackOutlook,
    fruiting: Fruiting,
    done_index: int | None,
    futures: Futures,
    numbers: Numbers,
) -> UnderWay | None:
    """Return the flush of a stack that is under way today, if there is one.

    Parameters
    ----------
    stack : StackOutlook
        The stack.
    fruiting : Fruiting
        Its kind.
    done_index : int or None
        Position of its recent soak in `fruiting.forced`.
    futures : Futures
        The members' weather.
    numbers : Numbers
        The numbers in use.
    """
    state = stack.state
    soak = recent_soak(state, futures, numbers)
    if soak is not None and done_index is not None:
        return _forced(stack, soak, fruiting, done_index, futures, numbers)
    if state.pins_on is not None or state.fruiting_on is not None or _picking(state, futures):
        return _natural(stack, fruiting, futures, numbers)
    return None


def _forced(
    stack: StackOutlook,
    soak: Soak,
    fruiting: Fruiting,
    index: int,
    futures: Futures,
    numbers: Numbers,
) -> UnderWay | None:
    forced, today = fruiting.forced, futures.lookback
    picks = [pick for pick in stack.state.picks if pick.soaked_on == soak.on]
    if picks:
        row = futures.lookback + (min(p.on for p in picks) - futures.today).days
        pick = np.full(len(futures.years), row)
        sure = np.ones(len(futures.years), dtype=bool)
    else:
        # Not picked by now, so the first pick is today at the earliest.
        pick = np.maximum(forced.pick_row[index], today)
        sure = forced.bears[index]
    earlier = [p.on for p in first_picks(stack.state.picks) if p.on < soak.on]
    rest = (soak.on - max(earlier)).days if earlier else np.inf
    whole = forced.kg[index] * rest_factor(rest, numbers) * sure
    return _remaining(
        stack, "forced", soak.on, picks, pick, forced.length[index], whole, fruiting, futures
    )


def _natural(
    stack: StackOutlook, fruiting: Fruiting, futures: Futures, numbers: Numbers
) -> UnderWay | None:
    state, today, members = stack.state, futures.lookback, len(futures.years)
    picks = _picking(state, futures)
    seen = [pick.on for pick in picks] + ([state.fruiting_on] if state.fruiting_on else [])
    if seen:
        begun = min(seen)
        pick = np.full(members, today + (begun - futures.today).days)
    elif state.pins_on is not None:
        begun = state.pins_on
        kind = stack.kind
        need = numbers.of(kind.strain_class, "forced.requirement") * kind.lead_factor
        left = need * numbers["natural.requirement_factor"] * (1 - numbers["forced.pins_share"])
        row = np.array([max(today + (begun - futures.today).days, 0)])
        pick = np.maximum(first_pick(fruiting.thermal, row, left)[0], today)
    else:
        return None
    length = np.full(members, int(np.rint(numbers["natural.longest_flush"])))
    earlier = [p.on for p in first_picks(state.picks) if p.on < begun]
    rest = (begun - max(earlier)).days if earlier else np.inf
    kg = base_yield(stack.kind.strain_class, numbers) * kind_factor("natural", numbers)
    whole = np.full(members, kg * float(rest_factor(rest, numbers)))
    return _remaining(stack, "natural", begun, picks, pick, length, whole, fruiting, futures)


def _picking(state: StackState, futures: Futures) -> list[Pick]:
    """Return the picks of a natural flush that may still be going on."""
    firsts = [pick for pick in first_picks(state.picks) if pick.kind == "natural"]
    if not firsts or (futures.today - firsts[-1].on).days > FLUSH_DAYS_AT_MOST:
        return []
    return [p for p in state.picks if p.kind == "natural" and p.on >= firsts[-1].on]


def _remaining(
    stack: StackOutlook,
    kind: FlushKind,
    begun: date,
    picks: list[Pick],
    pick: IntArray,
    length: IntArray,
    whole: FloatArray,
    fruiting: Fruiting,
    futures: Futures,
) -> UnderWay | None:
    """Take off what was picked, and spread the rest over the days of the flush from today on."""
    today, days, members = futures.lookback, futures.days, len(futures.years)
    shapes = fruiting.forced_shape if kind == "forced" else fruiting.natural_shape
    share = np.zeros((days, members))
    member = np.arange(members)
    after = max((p.on for p in picks), default=futures.today - timedelta(days=1))
    from_row = max(today, today + (after - futures.today).days + 1)
    for day in range(shapes.shape[1]):
        row = pick + day
        inside = (row >= from_row) & (row < days) & (day < length)
        share[row[inside], member[inside]] += shapes[length[inside], day]
    total = share.sum(axis=0)
    if not total.any():
        return None
    given = sum(p.kg for p in picks) / stack.scale if stack.scale > 0 else 0.0
    left = np.maximum(whole - given, 0.0) if picks else whole
    share = np.divide(share, total, out=share, where=total > 0)
    return UnderWay(kind, begun, pick, pick + length, left * (total > 0), share)


def start_of(
    stack: StackOutlook, flush: UnderWay | None, futures: Futures
) -> tuple[FloatArray, IntArray]:
    """Return where a stack starts from in each member: last first pick, and ready row.

    Returns
    -------
    last_pick : (member,) float array
        Row of the last first pick; -inf when there was none yet.
    ready_row : (member,) int array
        First row on which the weather could set off a natural flush, rest left aside.
    """
    members = len(futures.years)
    ready = np.maximum(stack.spawn.rows, 0)
    last = np.full(members, -np.inf)
    if stack.last_first_pick is not None:
        last[:] = futures.lookback + (stack.last_first_pick - futures.today).days
    if flush is not None:
        last = np.maximum(last, flush.pick.astype(float))
        ready = np.maximum(ready, flush.past)
    soak = stack.state.last_soak
    if soak is not None and flush is None and stack.last_first_pick is None:
        # Soaked, and nothing came: the soak itself starts the rest.
        last = np.maximum(last, float(futures.lookback + (soak.on - futures.today).days))
    return last, ready
