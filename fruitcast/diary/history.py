"""What the diary of one stack comes to: its flushes, its soaks, what its logs have given."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from math import ceil

from fruitcast.diary.state import Pick, Soak, StackState


def first_picks(picks: tuple[Pick, ...], *, flush_days: float) -> list[Pick]:
    """Return the first pick of each flush, in order of date."""
    gap = flush_days
    firsts: list[Pick] = []
    previous: Pick | None = None
    for pick in sorted(picks, key=lambda p: p.on):
        same = previous is not None and (
            pick.soaked_on == previous.soaked_on
            and (pick.kind == "forced" or (pick.on - previous.on).days <= gap)
        )
        if not same:
            firsts.append(pick)
        previous = pick
    return firsts


def picks_by_flush(picks: tuple[Pick, ...], *, flush_days: float) -> list[list[Pick]]:
    """Return the picks of each flush, in order of date."""
    firsts = first_picks(picks, flush_days=flush_days)
    flushes: list[list[Pick]] = []
    for pick in sorted(picks, key=lambda p: p.on):
        if len(flushes) < len(firsts) and pick is firsts[len(flushes)]:
            flushes.append([])
        flushes[-1].append(pick)
    return flushes


def picked_per_log(
    state: StackState, doubted: Mapping[date, float] | None = None, *, flush_days: float
) -> float:
    """Return what a log of a stack that still lives has given so far. [kg/log]

    A pick is shared among the logs that lived on its day.

    Parameters
    ----------
    state : StackState
        The stack.
    flush_days : float
        Picks no further apart belong to one flush. [day]
    doubted : mapping of date to float, optional
        Flushes that the grower is asked about, by their first pick: what a log should have
        given in them, which counts instead. [kg/log]
    """
    total = 0.0
    for picks in picks_by_flush(state.picks, flush_days=flush_days):
        expected = (doubted or {}).get(picks[0].on)
        if expected is not None:
            total += expected
            continue
        for pick in picks:
            logs = state.logs + sum(lost for on, lost in state.lost if on > pick.on)
            total += pick.kg / max(logs, 1)
    return total


def pulled_on(soak: Soak, usual_hours: float) -> date:
    """Return the day on which the logs of a soak came, or will come, out of the tank."""
    if soak.pulled_on is not None:
        return soak.pulled_on
    hours = soak.hours or usual_hours
    return soak.on + timedelta(days=ceil(hours / 24))


def soak_behind(state: StackState, day: date, *, forced_pick_days: float) -> Soak | None:
    """Return the soak that what was seen on a day belongs to; None when it came by itself."""
    window = timedelta(days=int(forced_pick_days))
    for soak in reversed(state.soaks):
        if soak.pulled_on is not None and soak.pulled_on <= day <= soak.pulled_on + window:
            return soak
    return None
