"""One reminder: a thing to do, to expect, or done; its words, time and length."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Literal, get_args

from fruitcast.diary.events import COVER, INOCULATE, TURN, UNCOVER
from fruitcast.diary.plan import YoungCare
from fruitcast.diary.state import StackState, YardState
from fruitcast.words import clean_line, day_words

ReminderKind = Literal[
    "soak",
    "pull",
    "pins",
    "pick",
    "picking",
    "cover",
    "pick twice",
    "rest",
    "ready",
    "water",
    "care",
    "inspect",
    "weigh",
    "retire",
]

REMINDER_KINDS: tuple[ReminderKind, ...] = get_args(ReminderKind)
"""All kinds, in the order in which one day's reminders are listed."""

FOLLOW_A_SOAK: frozenset[ReminderKind] = frozenset({"pull", "pins", "pick", "cover"})
"""Kinds that belong to the soak of the same stack and ordinal."""

DRY_SPELLS = 100
"""Ordinals of care from here on are months in which new logs are watered in dry spells."""


@dataclass(frozen=True)
class Weights:
    """What a reminder's words say of one flush's weight: lots told as one stack have the sum."""

    picked: float  # so far [kg]
    to_come: float = 0.0  # still to be picked [kg]
    # Of what was picked, that of the last day, where its words tell it apart [kg]
    latest: float = 0.0

    def __add__(self, other: Weights) -> Weights:
        return Weights(
            self.picked + other.picked, self.to_come + other.to_come, self.latest + other.latest
        )


@dataclass(frozen=True)
class Reminder:
    """One thing to do, to expect, or done."""

    kind: ReminderKind
    stack: str  # stack or lot; empty for a watering, which is one reminder for all stacks of a day
    # The soak's place in the stack's life, counted from 1 over recorded and planned soaks, so that
    # a soak moved to another day stays the same reminder; for a watering the day's number; for the
    # care of young logs its place in their life; for a flush that came by itself, and for what is
    # still to be picked of any, the day it began; 0 for what is asked of a stack until it is done.
    ordinal: int
    # Both dates (all-day; `end` is the day after the last) or both times in the yard's zone.
    start: date
    end: date
    summary: str  # for people, as is the description: cleaned of control characters
    description: str = ""
    reasons: tuple[str, ...] = ()  # why, one cause each
    alarms: tuple[datetime, ...] = ()  # when to ring
    done: bool = False  # whether the diary says it was done
    # Those of a watering; a calendar that is kept has them in its words alone.
    stacks: tuple[str, ...] = field(default=(), compare=False)
    # Whether its summary says between which days; its last day is then told nowhere else.
    says_days: bool = field(default=False, compare=False)
    weights: Weights | None = field(default=None, compare=False)  # those that its words name

    @property
    def key(self) -> str:
        """What stays the same when the plan is recomputed."""
        return f"{self.kind}|{self.ordinal}|{self.stack}"

    @property
    def first_day(self) -> date:
        """The first day it falls on."""
        return self.start.date() if isinstance(self.start, datetime) else self.start

    @property
    def last_day(self) -> date:
        """The last day it falls on."""
        if isinstance(self.end, datetime):
            return self.end.date()
        return self.end - timedelta(days=1)


def until_words(job: Reminder, day: date) -> str:
    """Return 'until Wed 18 May' for a job that goes on after a day and doesn't say so itself.

    Of logs that should have come out of the tank before it is 'due since Wed 18 May'.
    """
    if job.kind == "pull" and not job.done and job.last_day < day:
        return f"due since {day_words(job.first_day)}"
    return f"until {day_words(job.last_day)}" if job.last_day > day and not job.says_days else ""


def in_dry_spells(reminder: Reminder) -> bool:
    """Return whether it is a month in which new logs are watered in dry spells."""
    return reminder.kind == "care" and reminder.ordinal >= DRY_SPELLS


# Jobs that the diary calls done and no model asks after: turning, inoculating, covering.

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

    A turning that was done early or late takes the place of the nearest; `turn_days` lie between
    two.
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
    """Return whether a stack or lot was covered for the rain of some days, and still is."""
    begun = first - COVERED_BEFORE
    return any(_is_on(one.tended, begun, last) for one in _lots(state, stack))


def _is_on(tended: Sequence[tuple[str, date]], first: date, last: date) -> bool:
    """Return whether a cover laid between two days was not taken off by the last of them."""
    done = [(what, on) for what, on in tended if what in (COVER, UNCOVER) and on <= last]
    return bool(done) and done[-1][0] == COVER and done[-1][1] >= first


def tended(state: YardState) -> Iterator[Reminder]:
    """Yield what was done, each job of a stack on one day once, however often it was ticked."""
    seen = {
        (kind, state.lot_of.get(name, name) if kind != COVER else name, on)
        for name, stack in state.stacks.items()
        for kind, on in stack.tended
        if kind in _SAID
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
    return [on for one in _lots(state, stack) for on in one.tended_on(kind)]


def _lots(state: YardState, stack: str) -> list[StackState]:
    """Return a lot, or all lots of a stack."""
    named = state.stacks.items()
    return [one for name, one in named if stack in (name, state.lot_of.get(name))]
