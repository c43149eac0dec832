"""Jobs that the diary calls done and no model asks after: turning, inoculating, covering."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date, timedelta

from fruitcast.diary.events import COVER, INOCULATE, TURN
from fruitcast.diary.plan import YoungCare
from fruitcast.diary.state import YardState
from fruitcast.outputs.reminder import DRY_SPELLS, Reminder, ReminderKind
from fruitcast.words import clean_line

INOCULATING, TURNINGS = 0, 10
"""Ordinals of young logs' care; turnings count on from theirs."""

COVERED_BEFORE = timedelta(days=3)
"""Logs covered so long before the rain are taken to be covered still."""

_SAID: dict[str, tuple[ReminderKind, str]] = {
    TURN: ("care", "Turned and restacked {}"),
    INOCULATE: ("care", "Inoculated {}"),
    COVER: ("cover", "Covered {}"),
}


def still_asked(
    entries: Iterable[YoungCare], state: YardState, *, turn_days: float
) -> list[YoungCare]:
    """Return the care that the diary does not call done.

    Parameters
    ----------
    entries : iterable of YoungCare
        What stacks want.
    state : YardState
        What the diary says.
    turn_days : float
        Between two turnings: one that was done early or late takes the place of the nearest. [day]
    """
    half = timedelta(days=int(turn_days) // 2)

    def done(entry: YoungCare) -> bool:
        if entry.ordinal == INOCULATING:
            return bool(_days(state, entry.stack, INOCULATE))
        if not is_turning(entry.ordinal):
            return False
        return any(abs(entry.first - on) <= half for on in _days(state, entry.stack, TURN))

    return [entry for entry in entries if not done(entry)]


def is_turning(ordinal: int) -> bool:
    """Return whether it is the ordinal of a turning."""
    return TURNINGS <= ordinal < DRY_SPELLS


def is_covered(state: YardState, stack: str, first: date, last: date) -> bool:
    """Return whether a stack or lot was covered for the rain of some days."""
    days = _days(state, stack, COVER)
    return any(first - COVERED_BEFORE <= on <= last for on in days)


def tended(state: YardState) -> Iterator[Reminder]:
    """Yield what was done, each job of a stack on one day once, however often it was ticked."""
    seen = {
        (kind, state.lot_of.get(name, name) if kind != COVER else name, on)
        for name, stack in state.stacks.items()
        for kind, on in stack.tended
    }
    for what, name, on in sorted(seen):
        kind, summary = _SAID[what]
        yield Reminder(
            kind=kind,
            stack=name,
            # The day tells one turning from the next; no care to come has such a number.
            ordinal=on.toordinal(),
            start=on,
            end=on + timedelta(days=1),
            summary=summary.format(clean_line(name)),
            done=True,
        )


def _days(state: YardState, stack: str, kind: str) -> list[date]:
    """Return the days on which a job was done with a stack or lot, or with lots of it."""
    return [
        on
        for name, one in state.stacks.items()
        if stack in (name, state.lot_of.get(name))
        for on in one.tended_on(kind)
    ]
