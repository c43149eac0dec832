"""One reminder: a thing to do, to expect, or done, before any file format."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Literal, get_args

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

KINDS: tuple[ReminderKind, ...] = get_args(ReminderKind)
"""All kinds, in the order in which one day's reminders are listed."""

FOLLOW_A_SOAK: frozenset[ReminderKind] = frozenset({"pull", "pins", "pick", "cover"})
"""Kinds that belong to the soak of the same stack and ordinal."""

DRY_SPELLS = 100
"""Ordinals of care from here on are months in which new logs are watered in dry spells."""


@dataclass(frozen=True)
class Reminder:
    """One thing to do, to expect, or done.

    Attributes
    ----------
    kind : str
        One of `KINDS`.
    stack : str
        Stack or lot; empty for a watering, which is one reminder for all stacks of a day.
    ordinal : int
        The soak's place in the stack's life, counted from 1 over recorded and planned soaks, so
        that a soak moved to another day stays the same reminder; for a watering the day's number;
        for the care of young logs its place in their life; for a flush that came by itself, and
        for what is still to be picked of any, the day it began; 0 for what is asked of a stack
        until it is done.
    start, end : date or aware datetime
        Both dates (all-day; `end` is the day after the last) or both times in the yard's zone.
    summary, description : str
        Words for people, cleaned of control characters.
    reasons : tuple of str
        Why, one cause each.
    alarms : tuple of datetime
        When to ring.
    done : bool
        Whether the diary says it was done.
    stacks : tuple of str
        Those of a watering; a calendar that is kept has them in its words alone.
    """

    kind: ReminderKind
    stack: str
    ordinal: int
    start: date
    end: date
    summary: str
    description: str = ""
    reasons: tuple[str, ...] = ()
    alarms: tuple[datetime, ...] = ()
    done: bool = False
    stacks: tuple[str, ...] = field(default=(), compare=False)

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


def in_dry_spells(reminder: Reminder) -> bool:
    """Return whether it is a month in which new logs are watered in dry spells."""
    return reminder.kind == "care" and reminder.ordinal >= DRY_SPELLS
