"""The flushes that a diary has seen from first to last pick."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from fruitcast.biology.picking import FlushKind
from fruitcast.diary.history import picks_by_flush, pulled_on
from fruitcast.diary.state import Soak, StackState
from fruitcast.forecast.water import PastWater
from fruitcast.yard.model import Stack


@dataclass(frozen=True)
class DiaryFlush:
    """One finished flush of the diary.

    Attributes
    ----------
    column : int
        Its stack's column in `PastWater.by_stack`.
    name : str
        Stack or lot; the stack when its lots have one record together.
    row : str
        Name of the stack's row in stacks.csv.
    soak : Soak or None
        Its soak; None when it came by itself.
    first : date
        First pick.
    kg : float
        All that was picked. [kg]
    logs : int
        Logs that it came from.
    rest : float
        Days from the first pick before to the soak, or to this first pick; infinite when there
        was none. [day]
    given : float
        What each log that still lived had given before. [kg/log]
    gave : float
        What each of them gave in this flush. [kg/log]
    confirmed : bool
        Whether the grower says that a pick of it is right, however odd.
    shared : float
        Share of its weight that is a part of crates from several stacks. [0..1]
    """

    column: int
    name: str
    row: str
    soak: Soak | None
    first: date
    kg: float
    logs: int
    rest: float
    given: float
    gave: float
    confirmed: bool
    shared: float = 0.0

    @property
    def kind(self) -> FlushKind:
        """'forced' or 'natural'."""
        return "natural" if self.soak is None else "forced"

    @property
    def begun(self) -> date:
        """Day of the soak, or of the first pick of a natural flush."""
        return self.first if self.soak is None else self.soak.on

    def pulled_on(self, usual_hours: float) -> date:
        """Return the day of the pull, or of the first pick of a natural flush."""
        return self.first if self.soak is None else pulled_on(self.soak, usual_hours)

    def hours(self, usual_hours: float) -> float:
        """Return the hours in water; none for a natural flush. [h]"""
        if self.soak is None:
            return 0.0
        return self.soak.hours or usual_hours


def finished_flushes(
    column: int,
    stack: Stack,
    state: StackState,
    past: PastWater,
    today: date,
    *,
    flush_days: float,
    longest_forced: float,
    longest_natural: float,
) -> list[DiaryFlush]:
    """Return the flushes of one stack that are picked out, in order of date.

    A soak without any pick is none of them: it may have failed, see `empty_soaks`, or nobody
    wrote down.

    Parameters
    ----------
    column : int
        Its column in `past.by_stack`.
    stack, state : Stack, StackState
        The stack.
    past : PastWater
        Flushes begun before it are left out.
    today : date
        The day after the last row of `past`.
    flush_days : float
        Picks no further apart belong to one flush. [day]
    longest_forced : float
        Days that a forced flush is picked at most. [day]
    longest_natural : float
        Days that a natural one is. [day]
    """
    soaks = {soak.on: soak for soak in state.soaks}
    found: list[DiaryFlush] = []
    given = 0.0
    previous: date | None = None
    for picks in picks_by_flush(state.picks, flush_days=flush_days):
        first = picks[0]
        logs = state.logs + sum(lost for on, lost in state.lost if on > first.on)
        kg = sum(pick.kg for pick in picks)
        soak = soaks.get(first.soaked_on) if first.soaked_on else None
        longest = longest_forced if soak else longest_natural
        begun = soak.on if soak else first.on
        over = (today - first.on).days > longest
        if over and kg > 0 and logs > 0 and past.row(begun) > 0:
            flush = DiaryFlush(
                column,
                state.name,
                stack.name,
                soak,
                first.on,
                kg,
                min(soak.logs, logs) if soak else logs,
                np.inf if previous is None else float((begun - previous).days),
                given,
                kg / logs,
                any(pick.confirmed for pick in picks),
                sum(pick.kg for pick in picks if pick.shared) / kg,
            )
            found.append(flush)
        given += kg / max(logs, 1)
        previous = first.on
    return found


def lots_together(flushes: Sequence[DiaryFlush]) -> list[DiaryFlush]:
    """Return flushes with those of the lots of one stack joined where they are one record.

    A pick written down for a whole stack is shared among its lots; it is still one flush.
    """
    joined: dict[tuple[str, date | None, date], DiaryFlush] = {}
    for flush in flushes:
        key = (flush.row, flush.soak.on if flush.soak else None, flush.first)
        other = joined.get(key)
        joined[key] = (
            flush
            if other is None
            else replace(
                other,
                name=other.row,
                kg=other.kg + flush.kg,
                logs=other.logs + flush.logs,
                confirmed=other.confirmed or flush.confirmed,
                shared=(other.shared * other.kg + flush.shared * flush.kg) / (other.kg + flush.kg),
            )
        )
    return list(joined.values())


def empty_soaks(state: StackState, past: PastWater, usual_hours: float) -> list[tuple[Soak, date]]:
    """Return the soaks that brought nothing, with the day of the pull, where `past` reaches."""
    picked = {pick.soaked_on for pick in state.picks if pick.kg > 0}
    return [
        (soak, pulled_on(soak, usual_hours))
        for soak in state.soaks
        if soak.brought_nothing and soak.on not in picked and past.row(soak.on) > 0
    ]
