"""Keeping our events on a calendar server in step with the calendar, and nothing else.

Every write holds only for the entity tag last seen (RFC 4791, section 5.3.4), so an event that
a person changed on the phone is found out, left as it is, and reported. Resources whose names
are not made from our UIDs are never read or written.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from dataclasses import asdict, dataclass, field, replace
from typing import Literal

from fruitcast.errors import CalendarServerError, InputError
from fruitcast.outputs.caldav_client import (
    CalendarCollection,
    PreconditionFailedError,
    ServerUnreachableError,
)
from fruitcast.outputs.calendar_state import CalendarEvent, CalendarState
from fruitcast.outputs.ical import event_bytes, event_face

# What the last push left on a calendar server, kept between pushes.


@dataclass(frozen=True)
class PushedEvent:
    """One event as the last push left it."""

    title: str
    etag: str  # entity tag of the resource on the server
    face: str  # digest of what a person sees of it
    past: bool  # whether it was done: then it stays on the server when we drop it


@dataclass(frozen=True)
class PushState:
    """All events as the last push left them, by UID, at one calendar's address."""

    address: str  # the calendar
    events: dict[str, PushedEvent] = field(default_factory=dict)  # what it holds of ours
    # What a push that was stopped midway may have written besides, without entity tags; None is an
    # event that it may have deleted.
    begun: dict[str, PushedEvent | None] = field(default_factory=dict)

    def to_json(self) -> str:
        """Return the state as a JSON text; it holds no password."""
        events = {uid: asdict(pushed) for uid, pushed in sorted(self.events.items())}
        begun = {uid: pushed and asdict(pushed) for uid, pushed in sorted(self.begun.items())}
        document = {"address": self.address, "events": events, "begun": begun}
        return json.dumps(document, ensure_ascii=False, indent=1)

    @classmethod
    def from_json(cls, text: str) -> PushState:
        """Return the state written by `to_json`.

        Raises InputError if the text is not such a state.
        """
        try:
            document = json.loads(text)
            events = {uid: PushedEvent(**entry) for uid, entry in document["events"].items()}
            begun = {
                uid: None if entry is None else PushedEvent(**entry)
                for uid, entry in document["begun"].items()
            }
            pushed = [*events.values(), *(event for event in begun.values() if event)]
            texts = [document["address"], *(event.etag for event in pushed)]
            texts += [text for event in pushed for text in (event.title, event.face)]
            texts += [*events, *begun]
            if not all(isinstance(text, str) for text in texts):
                raise TypeError("a value is no text")
            "".join(texts).encode()  # half a letter can be read from JSON and never be kept again
            return cls(document["address"], events, begun)
        except (KeyError, TypeError, ValueError, AttributeError, RecursionError) as error:
            raise InputError(
                "The stored state of the calendar server cannot be read "
                f"({type(error).__name__}: {error}). Every event is compared with the server "
                "instead; what differs there is pushed over with --overwrite only."
            ) from error


PASSWORD_VARIABLE = "FRUITCAST_CALDAV_PASSWORD"
"""Environment variable that holds the password; it is never written to a file."""


@dataclass(frozen=True)
class PushConflict:
    """An event of ours that somebody else changed, left as it is."""

    title: str  # in our calendar
    what: Literal["changed", "deleted"]  # by somebody else

    def __str__(self) -> str:
        return f"'{self.title}' was {self.what} in the calendar by someone else, and is left so"


@dataclass(frozen=True)
class PushReport:
    """What a push did."""

    created: tuple[str, ...] = ()  # titles of events
    updated: tuple[str, ...] = ()
    deleted: tuple[str, ...] = ()
    unchanged: int = 0  # how many were right already
    conflicts: tuple[PushConflict, ...] = ()  # events left as somebody else made them
    failed: tuple[str, ...] = ()  # what the server refused, in words; the next push tries again


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

    Parameters
    ----------
    calendar : CalendarState
        The calendar as published.
    collection : CalendarCollection
        The calendar on the server.
    known : PushState or None
        What the last push left; None when there was none.
    overwrite : bool, default False
        Whether our version replaces what somebody else made of an event of ours.
    keep : callable, optional
        Told, before anything is written, what is to be known should the push be stopped midway.

    Returns
    -------
    PushReport
        What was done and what was not.
    PushState
        To be kept for the next push, also after a push that failed midway.

    Raises
    ------
    CalendarServerError
        If the calendar cannot even be listed; then nothing was written.
    """
    if known is None or known.address != collection.address:
        known = PushState(collection.address)
    pushing = _Pushing(collection, collection.etags(), dict(known.events), overwrite)
    for uid, written in known.begun.items():
        pushing.take_up(uid, written)
    known = PushState(collection.address, dict(pushing.known))
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
    keep(replace(known, begun=begun))
    for done, task in enumerate(tasks):
        try:
            task()
        except ServerUnreachableError as error:
            pushing.failed(f"{error} {len(tasks) - done} events are not yet in step.")
            break
        except CalendarServerError as error:
            pushing.failed(str(error))
    for uid in dropped - kept:
        if known.events[uid].past:
            pushing.forget(uid)
    # A request whose answer was lost may have been carried out.
    after = PushState(collection.address, pushing.known)
    return pushing.report, replace(after, begun=begun) if pushing.report.failed else after


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
        self.report = PushReport()

    def take_up(self, uid: str, begun: PushedEvent | None) -> None:
        """Find out whether a push that was stopped has written or deleted an event of ours."""
        there = self._there(uid)
        if begun is None and there is None:
            self.known.pop(uid, None)
        elif begun is not None and there is not None and there.face == begun.face:
            self.known[uid] = replace(begun, etag=there.etag)

    def write(self, event: CalendarEvent, ours: PushedEvent) -> None:
        """Create or update one event, unless somebody else has changed it."""
        last, there = self.known.get(event.uid), self._there(event.uid)
        etag = there.etag if there else None
        ours = replace(ours, etag=etag or "")
        match _step(ours.face, last, there, self._overwrite):
            case "none":
                self.known[event.uid] = ours
                self.report = replace(self.report, unchanged=self.report.unchanged + 1)
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
                self.report = replace(self.report, deleted=(*self.report.deleted, last.title))
        self.forget(uid)

    def forget(self, uid: str) -> None:
        """Leave whatever is on the server to whoever has it now."""
        del self.known[uid]

    def failed(self, words: str) -> None:
        """Note what the server refused."""
        self.report = replace(self.report, failed=(*self.report.failed, words))

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
        self.known[uid] = replace(ours, etag=written)
        if etag is None:
            self.report = replace(self.report, created=(*self.report.created, ours.title))
        else:
            self.report = replace(self.report, updated=(*self.report.updated, ours.title))

    def _conflict(self, title: str, what: Literal["changed", "deleted"]) -> None:
        conflict = PushConflict(title, what)
        self.report = replace(self.report, conflicts=(*self.report.conflicts, conflict))


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
    return PushedEvent(event.reminder.summary, "", _face(event_bytes(event)), event.reminder.done)


def _resource_name(uid: str) -> str:
    return f"{uid.partition('@')[0]}.ics"


def _face(data: bytes) -> str:
    try:
        return hashlib.sha256(event_face(data).encode()).hexdigest()[:32]
    except ValueError:
        return "not a calendar"
