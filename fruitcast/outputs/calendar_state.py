"""The calendar as last published, and how a new plan changes it.

Subscribers and calendar servers tell events apart by UID and old from new by SEQUENCE and
LAST-MODIFIED (RFC 5545, sections 3.8.4.7, 3.8.7.4 and 3.8.7.3). So the calendar is not made
afresh from each plan: the last one is kept, and only what differs is revised.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from fruitcast.document import Document
from fruitcast.errors import InputError
from fruitcast.outputs.reminder import FOLLOW_A_SOAK, KINDS, Reminder
from fruitcast.yard.model import Yard

Day = TypeVar("Day", bound=date)

CANCELLED_DAYS = 60
"""Days that a cancelled event is still published, so that every subscriber sees it go. [day]"""
HISTORY_DAYS = 400
"""Days that past events stay: last year's season can be looked back on. [day]"""


# The last two: zones whose name is no file's, lists nested thousands deep.
_NO_SUCH_STATE = (KeyError, TypeError, ValueError, ArithmeticError, OSError, RecursionError)

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
        return json.dumps(
            {
                "namespace": self.namespace,
                "name": self.name,
                "zone": self.zone.key,
                "events": [
                    {
                        "uid": event.uid,
                        "sequence": event.sequence,
                        "created": event.created.isoformat(),
                        "modified": event.modified.isoformat(),
                        "cancelled_on": event.cancelled_on and event.cancelled_on.isoformat(),
                        **_reminder_document(event.reminder),
                    }
                    for event in self.events
                ],
            },
            ensure_ascii=False,
        )

    @classmethod
    def from_json(cls, text: str) -> CalendarState:
        """Return the state written by `to_json`.

        Raises InputError if the text is not such a state.
        """
        try:
            document = json.loads(text)
            return cls(
                namespace=_typed(document, "namespace", str),
                name=_typed(document, "name", str),
                zone=ZoneInfo(document["zone"]),
                events=tuple(_event(entry) for entry in document["events"]),
            )
        except _NO_SUCH_STATE as error:
            raise InputError(
                f"The stored calendar cannot be read ({type(error).__name__}: {error}). Restore "
                "it from a backup, or remove it: the calendar then starts anew, and events "
                "already on phones may show twice."
            ) from error


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

    Parameters
    ----------
    state : CalendarState
        As last published.
    reminders : iterable of Reminder
        All of the new plan and the diary.
    today : date
        Day of the new plan.
    stacks : collection of str, default none known
        Stacks and lots of the diary. What was done with a stack that is no longer among them
        stays; what was done with one that is, and is no longer in the diary, was undone.

    Notes
    -----
    An event that is no longer among the reminders

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
    same = _reminder_document(event.reminder) == _reminder_document(reminder)
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


def _reminder_document(reminder: Reminder) -> dict[str, Any]:
    start, end = reminder.start, reminder.end
    zone = str(start.tzinfo) if isinstance(start, datetime) else None
    return {
        "kind": reminder.kind,
        "stack": reminder.stack,
        "ordinal": reminder.ordinal,
        "zone": zone,
        "start": (start.replace(tzinfo=None) if isinstance(start, datetime) else start).isoformat(),
        "end": (end.replace(tzinfo=None) if isinstance(end, datetime) else end).isoformat(),
        "summary": reminder.summary,
        "description": reminder.description,
        "reasons": list(reminder.reasons),
        "alarms": [alarm.astimezone(UTC).isoformat() for alarm in reminder.alarms],
        "done": reminder.done,
    }


def _event(entry: dict[str, Any]) -> CalendarEvent:
    cancelled_on = entry["cancelled_on"]
    return CalendarEvent(
        uid=_typed(entry, "uid", str),
        reminder=_reminder(entry),
        sequence=_sequence(entry),
        created=_likely(date.fromisoformat(entry["created"])),
        modified=_likely(date.fromisoformat(entry["modified"])),
        cancelled_on=_likely(date.fromisoformat(cancelled_on)) if cancelled_on else None,
    )


def _typed(entry: dict[str, Any], key: str, kind: type) -> Any:
    value = entry[key]
    if not isinstance(value, kind):
        raise TypeError(f"'{key}' is no {kind.__name__}")
    if isinstance(value, str):
        value.encode()  # half a letter can be read from JSON and never be written again
    return value


def _sequence(entry: dict[str, Any]) -> int:
    number: int = _typed(entry, "sequence", int)
    if not 0 <= number < 2**31:
        raise ValueError("'sequence' is out of range")
    return number


def _likely(day: Day) -> Day:
    if day.year not in _YEARS:
        raise ValueError(f"the year {day.year} can't be right")
    return day


def _reminder(entry: dict[str, Any]) -> Reminder:
    start: date
    end: date
    zone = ZoneInfo(entry["zone"]) if entry["zone"] else None
    if zone is None:
        start = _likely(date.fromisoformat(entry["start"]))
        end = _likely(date.fromisoformat(entry["end"]))
    else:
        start = _likely(datetime.fromisoformat(entry["start"])).replace(tzinfo=zone)
        end = _likely(datetime.fromisoformat(entry["end"])).replace(tzinfo=zone)
    alarms = (_likely(datetime.fromisoformat(alarm)) for alarm in entry["alarms"])
    reasons = _typed(entry, "reasons", list)
    if entry["kind"] not in KINDS or not all(isinstance(reason, str) for reason in reasons):
        raise ValueError("kind or reasons are none")
    "".join(reasons).encode()
    return Reminder(
        kind=entry["kind"],
        stack=_typed(entry, "stack", str),
        ordinal=_typed(entry, "ordinal", int),
        start=start,
        end=end,
        summary=_typed(entry, "summary", str),
        description=_typed(entry, "description", str),
        reasons=tuple(reasons),
        alarms=tuple(alarm.astimezone(zone) for alarm in alarms),
        done=_typed(entry, "done", bool),
    )
