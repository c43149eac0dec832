"""The calendar as last published, and how a new plan changes it.

Subscribers and calendar servers tell events apart by UID and old from new by SEQUENCE and
LAST-MODIFIED (RFC 5545, sections 3.8.4.7, 3.8.7.4 and 3.8.7.3). So the calendar is not made
afresh from each plan: the last one is kept, and only what differs is revised.
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from typing import Annotated, TypeVar
from zoneinfo import ZoneInfo

from pydantic import Field, ValidationError

from fruitcast.document import Day, Document, first_fault
from fruitcast.errors import InputError
from fruitcast.outputs.reminder import FOLLOW_A_SOAK, Reminder, ReminderKind
from fruitcast.yard.model import Yard

Moment = TypeVar("Moment", bound=date)

CANCELLED_DAYS = 60
"""Days that a cancelled event is still published, so that every subscriber sees it go. [day]"""
HISTORY_DAYS = 400
"""Days that past events stay: last year's season can be looked back on. [day]"""


_NO_SUCH_STATE = (ValueError, KeyError, OSError)
"""The last two: zones that nobody knows, and whose name is no file's."""

_YEARS = range(1950, 2300)


@dataclass(frozen=True)
class CalendarEvent:
    """One published event."""

    uid: str  # its name for ever
    reminder: Reminder  # what it says
    sequence: int  # how often it was revised
    created: date  # day of the plan that first had it
    modified: date  # day of the plan that last changed it
    cancelled_on: date | None = None  # day of the plan that dropped it


@dataclass(frozen=True)
class CalendarState:
    """The calendar as last published."""

    namespace: str  # what keeps the UIDs of two yards apart; fixed when the calendar starts
    name: str  # shown by calendar programs
    zone: ZoneInfo
    # In order of start and key, cancelled and past ones included.
    events: tuple[CalendarEvent, ...] = ()

    def to_json(self) -> str:
        """Return the state as a JSON text."""
        events = tuple(_kept_event(event) for event in self.events)
        return _Kept.taken_from(self, zone=self.zone.key, events=events).json_text()

    @classmethod
    def from_json(cls, text: str) -> CalendarState:
        """Return the state written by `to_json`, or raise InputError if the text is none."""
        try:
            kept = _Kept.model_validate_json(text)
            events = tuple(_event(each) for each in kept.events)
            return cls(kept.namespace, kept.name, ZoneInfo(kept.zone), events)
        except _NO_SUCH_STATE as error:
            why = first_fault(error) if isinstance(error, ValidationError) else error
            raise InputError(
                f"The stored calendar cannot be read ({why}). Restore it from a backup, or remove "
                "it: the calendar then starts anew, and events already on phones may show twice."
            ) from error


class _KeptEvent(Document):
    """One event as it is kept: days and times in ISO, times by the clock of their zone."""

    uid: str
    sequence: Annotated[int, Field(ge=0, lt=2**31)]
    created: Day
    modified: Day
    cancelled_on: Day | None
    kind: ReminderKind
    stack: str
    ordinal: int
    zone: str | None
    start: str
    end: str
    summary: str
    description: str
    reasons: tuple[str, ...]
    alarms: tuple[str, ...]
    done: bool


class _Kept(Document):
    """The calendar as it is kept."""

    namespace: str
    name: str
    zone: str
    events: tuple[_KeptEvent, ...]


class PushConflict(Document):
    """An event that somebody else changed or deleted on the server."""

    event: str
    what: str
    words: str


class CalendarPushed(Document):
    """What a push did on a calendar server; events by their titles."""

    address: str
    created: tuple[str, ...]
    updated: tuple[str, ...]
    deleted: tuple[str, ...]
    unchanged: int
    conflicts: tuple[PushConflict, ...]


def yard_calendar(yard: Yard, published: CalendarState | None = None) -> CalendarState:
    """Return a yard's calendar as last published, under the yard's present name and zone.

    Without one, an empty calendar is started.
    """
    place = f"{yard.name}|{yard.site.latitude:.4f}|{yard.site.longitude:.4f}"
    started = CalendarState(
        namespace=_digest(place), name=f"{yard.name}: logs", zone=yard.site.timezone
    )
    if published is None:
        return started
    return replace(started, namespace=published.namespace, events=published.events)


def update(
    state: CalendarState,
    reminders: Iterable[Reminder],
    today: date,
    stacks: Collection[str] | None = None,
) -> CalendarState:
    """Return the calendar after a new plan; with the same reminders, the same calendar.

    `reminders` are all of the new plan and the diary, `stacks` the stacks and lots of the diary:
    what was done with a stack that is no longer among them stays; what was done with one that is,
    and is no longer in the diary, was undone. An event that is no longer among the reminders

    - stays when it follows a soak that was made: the pick is still to come;
    - stays as the past when its days are over and nothing contradicts it (watering advice, a
      rest that ended);
    - is cancelled otherwise, and dropped `CANCELLED_DAYS` later.
    """
    given = tuple(reminders)
    oldest = today - timedelta(days=HISTORY_DAYS)
    wanted = {r.key: r for r in given if r.last_day >= oldest}
    made = {(r.stack, r.ordinal) for r in given if r.kind == "soak" and r.done}
    made |= {
        (event.reminder.stack, event.reminder.ordinal)
        for event in state.events
        if event.reminder.kind == "soak" and event.reminder.done and _gone(event.reminder, stacks)
    }
    events: list[CalendarEvent] = []
    for event in state.events:
        reminder = wanted.pop(event.reminder.key, None)
        if reminder is not None:
            events.append(_revised(event, reminder, today))
        elif event.cancelled_on is not None:
            if (today - event.cancelled_on).days <= CANCELLED_DAYS:
                events.append(event)
        elif event.reminder.last_day >= oldest:
            stays = _stays(event.reminder, today, made, stacks)
            events.append(event if stays else _cancelled(event, today))
    for key, reminder in wanted.items():
        uid = f"{_digest(f'{state.namespace}|{key}')}@fruitcast"
        events.append(CalendarEvent(uid, reminder, 0, created=today, modified=today))
    events.sort(key=lambda event: (event.reminder.first_day, event.reminder.key))
    return replace(state, events=tuple(events))


def _stays(
    reminder: Reminder, today: date, made: set[tuple[str, int]], stacks: Collection[str] | None
) -> bool:
    if reminder.done:
        return _gone(reminder, stacks)
    if reminder.kind == "soak":
        return False
    if reminder.kind in FOLLOW_A_SOAK:
        return (reminder.stack, reminder.ordinal) in made
    return reminder.last_day < today


def _gone(reminder: Reminder, stacks: Collection[str] | None) -> bool:
    return stacks is None or (bool(reminder.stack) and reminder.stack not in stacks)


def _revised(event: CalendarEvent, reminder: Reminder, today: date) -> CalendarEvent:
    same = _kept_event(event) == _kept_event(replace(event, reminder=reminder))
    if same and event.cancelled_on is None:
        return event
    return replace(
        event,
        reminder=reminder,
        sequence=event.sequence + 1,
        modified=max(event.modified, today),
        cancelled_on=None,
    )


def _cancelled(event: CalendarEvent, today: date) -> CalendarEvent:
    modified = max(event.modified, today)
    return replace(event, sequence=event.sequence + 1, modified=modified, cancelled_on=today)


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode(errors="surrogatepass")).hexdigest()[:32]


def _kept_event(event: CalendarEvent) -> _KeptEvent:
    told, start = event.reminder, event.reminder.start
    return _KeptEvent.taken_from(
        told,
        **{name: getattr(event, name) for name in _OF_EVENT},
        zone=str(start.tzinfo) if isinstance(start, datetime) else None,
        start=_by_the_clock(start),
        end=_by_the_clock(told.end),
        alarms=tuple(alarm.astimezone(UTC).isoformat() for alarm in told.alarms),
    )


def _by_the_clock(moment: date) -> str:
    return (moment.replace(tzinfo=None) if isinstance(moment, datetime) else moment).isoformat()


def _event(kept: _KeptEvent) -> CalendarEvent:
    zone = ZoneInfo(kept.zone) if kept.zone else None

    def moment(text: str) -> date:
        if zone is None:
            return _likely(date.fromisoformat(text))
        return _likely(datetime.fromisoformat(text)).replace(tzinfo=zone)

    reminder = Reminder(
        **{name: getattr(kept, name) for name in _OF_REMINDER},
        start=moment(kept.start),
        end=moment(kept.end),
        alarms=tuple(_likely(datetime.fromisoformat(a)).astimezone(zone) for a in kept.alarms),
    )
    return CalendarEvent(reminder=reminder, **{name: getattr(kept, name) for name in _OF_EVENT})


_OF_EVENT = ("uid", "sequence", "created", "modified", "cancelled_on")
_OF_REMINDER = ("kind", "stack", "ordinal", "summary", "description", "reasons", "done")


def _likely(day: Moment) -> Moment:
    if day.year not in _YEARS:
        raise ValueError(f"the year {day.year} can't be right")
    return day
