"""Keeping our events on a calendar server in step with the calendar, and nothing else.

Every write holds only for the entity tag last seen (RFC 4791, section 5.3.4), so an event that
a person changed on the phone is found out, left as it is, and reported. Resources whose names
are not made from our UIDs are never read or written.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from pydantic import ValidationError

from fruitcast.document import Document, first_fault
from fruitcast.errors import CalendarServerError, InputError
from fruitcast.outputs.caldav_client import (
    CalendarCollection,
    PreconditionFailedError,
    ServerUnreachableError,
)
from fruitcast.outputs.calendar_state import (
    CalendarEvent,
    CalendarPushed,
    CalendarState,
    PushConflict,
)
from fruitcast.outputs.ical import event_bytes, event_face

# What the last push left on a calendar server, kept between pushes.


class PushedEvent(Document):
    """One event as the last push left it."""

    title: str
    etag: str  # entity tag of the resource on the server
    face: str  # digest of what a person sees of it
    past: bool  # whether it was done: then it stays on the server when we drop it


class PushState(Document):
    """All events as the last push left them, by UID, at one calendar's address; no password."""

    address: str  # the calendar
    events: dict[str, PushedEvent]  # what it holds of ours
    # What a push that was stopped midway may have written besides, without entity tags; None is an
    # event that it may have deleted.
    begun: dict[str, PushedEvent | None]

    @classmethod
    def from_json(cls, text: str) -> PushState:
        """Return the state that a text holds, or raise InputError if it is none."""
        try:
            return cls.model_validate_json(text)
        except ValidationError as error:
            raise InputError(
                f"The stored state of the calendar server cannot be read ({first_fault(error)}). "
                "Every event is compared with the server instead; what differs there is pushed "
                "over with --overwrite only."
            ) from error


PASSWORD_VARIABLE = "FRUITCAST_CALDAV_PASSWORD"
"""Environment variable that holds the password; it is never written to a file."""


class PushReport(CalendarPushed):
    """What a push did, and what the server refused, in words: the next push tries it again."""

    failed: tuple[str, ...]


def push(
    calendar: CalendarState,
    collection: CalendarCollection,
    known: PushState | None = None,
    *,
    overwrite: bool = False,
    keep: Callable[[PushState], None] = lambda _: None,
) -> tuple[PushReport, PushState]:
    """Bring our events on the server in step with the calendar.

    New events are created, changed ones updated, cancelled ones deleted; the past stays. With
    the same calendar again nothing is written.

    `known` is what the last push left; with `overwrite` our version replaces what somebody else
    made of an event of ours. `keep` is told, before anything is written, what is to be known should
    the push be stopped midway. The state returned is to be kept for the next push, also after one
    that failed midway. Raises CalendarServerError if the calendar cannot even be listed; nothing
    was written then.
    """
    if known is None or known.address != collection.address:
        known = PushState(address=collection.address, events={}, begun={})
    pushing = _Pushing(collection, collection.etags(), dict(known.events), overwrite)
    for uid, written in known.begun.items():
        pushing.take_up(uid, written)
    known = PushState(address=collection.address, events=pushing.known, begun={})
    wanted = {event.uid: event for event in calendar.events if event.cancelled_on is None}
    dropped = known.events.keys() - wanted.keys()
    kept = {event.uid for event in calendar.events}
    ours = {uid: _ours(event) for uid, event in wanted.items()}
    tasks: list[Callable[[], None]] = [
        *(lambda e=event: pushing.write(e, ours[e.uid]) for event in wanted.values()),
        *(
            lambda u=uid: pushing.delete(u)
            for uid in sorted(dropped)
            if uid in kept or not known.events[uid].past
        ),
    ]
    begun: dict[str, PushedEvent | None] = {**dict.fromkeys(dropped), **ours}
    keep(known.model_copy(update={"begun": begun}))
    for done, task in enumerate(tasks):
        try:
            task()
        except ServerUnreachableError as error:
            pushing.failed.append(f"{error} {len(tasks) - done} events are not yet in step.")
            break
        except CalendarServerError as error:
            pushing.failed.append(str(error))
    for uid in dropped - kept:
        if known.events[uid].past:
            del pushing.known[uid]  # whoever has it now may keep it
    # A request whose answer was lost may have been carried out.
    left = begun if pushing.failed else {}
    return pushing.report(), PushState(address=collection.address, events=pushing.known, begun=left)


class _Pushing:
    """One push while it runs."""

    def __init__(
        self,
        collection: CalendarCollection,
        etags: dict[str, str],
        known: dict[str, PushedEvent],
        overwrite: bool,
    ) -> None:
        self._collection = collection
        self._etags = etags
        self._overwrite = overwrite
        self.known = known
        self._created, self._updated, self._deleted = list[str](), list[str](), list[str]()
        self._unchanged, self._conflicts = 0, list[PushConflict]()
        self.failed: list[str] = []

    def report(self) -> PushReport:
        """Return what was done."""
        return PushReport(
            address=self._collection.address,
            created=tuple(self._created),
            updated=tuple(self._updated),
            deleted=tuple(self._deleted),
            unchanged=self._unchanged,
            conflicts=tuple(self._conflicts),
            failed=tuple(self.failed),
        )

    def take_up(self, uid: str, begun: PushedEvent | None) -> None:
        """Find out whether a push that was stopped has written or deleted an event of ours."""
        there = self._there(uid)
        if begun is None and there is None:
            self.known.pop(uid, None)
        elif begun is not None and there is not None and there.face == begun.face:
            self.known[uid] = begun.model_copy(update={"etag": there.etag})

    def write(self, event: CalendarEvent, ours: PushedEvent) -> None:
        """Create or update one event, unless somebody else has changed it."""
        last, there = self.known.get(event.uid), self._there(event.uid)
        etag = there.etag if there else None
        ours = ours.model_copy(update={"etag": etag or ""})
        match _step(ours.face, last, there, self._overwrite):
            case "none":
                self.known[event.uid] = ours
                self._unchanged += 1
            case "write":
                self._put(event.uid, event_bytes(event), ours, etag)
            case "changed":
                self._conflict(ours.title, "changed")
            case "deleted" if not ours.past:
                self._conflict(ours.title, "deleted")

    def delete(self, uid: str) -> None:
        """Delete one event that the calendar no longer holds, unless somebody else changed it."""
        last, there = self.known[uid], self._there(uid)
        if there is not None and there.face != last.face and not self._overwrite:
            self._conflict(last.title, "changed")
        elif there is not None:
            try:
                self._collection.delete(_resource_name(uid), there.etag)
            except PreconditionFailedError:
                self._conflict(last.title, "changed")
            else:
                self._deleted.append(last.title)
        del self.known[uid]

    def _there(self, uid: str) -> _Found | None:
        """What the server holds now; read only when its tag is not the one we left."""
        name, last = _resource_name(uid), self.known.get(uid)
        etag = self._etags.get(name)
        if etag is None:
            return None
        if last is not None and last.etag == etag:
            return _Found(etag, last.face)
        read = self._collection.read(name)
        return read and _Found(etag=read[1] or etag, face=_face(read[0]))

    def _put(self, uid: str, data: bytes, ours: PushedEvent, etag: str | None) -> None:
        try:
            written = self._collection.write(_resource_name(uid), data, etag)
        except PreconditionFailedError:
            self._conflict(ours.title, "changed")
            return
        self.known[uid] = ours.model_copy(update={"etag": written})
        (self._created if etag is None else self._updated).append(ours.title)

    def _conflict(self, title: str, what: str) -> None:
        words = f"'{title}' was {what} in the calendar by someone else, and is left so"
        self._conflicts.append(PushConflict(event=title, what=what, words=words))


@dataclass(frozen=True)
class _Found:
    """A resource as the server holds it now."""

    etag: str
    face: str


def _step(
    face: str, last: PushedEvent | None, there: _Found | None, overwrite: bool
) -> Literal["none", "write", "changed", "deleted"]:
    """What to do about one wanted event, given what we left and what is there."""
    if there is None:
        return "write" if last is None or overwrite else "deleted"
    if there.face == face:
        return "none"
    untouched = last is not None and there.face == last.face
    return "write" if untouched or overwrite else "changed"


def _ours(event: CalendarEvent) -> PushedEvent:
    """Return an event as we write it, its entity tag not yet known."""
    face = _face(event_bytes(event))
    return PushedEvent(title=event.reminder.summary, etag="", face=face, past=event.reminder.done)


def _resource_name(uid: str) -> str:
    return f"{uid.partition('@')[0]}.ics"


def _face(data: bytes) -> str:
    try:
        return hashlib.sha256(event_face(data).encode()).hexdigest()[:32]
    except ValueError:
        return "not a calendar"
