"""The calendar as bytes: iCalendar (RFC 5545, RFC 7986), its time zone right at every change.

METHOD is left out: with it ORGANIZER would be mandatory (RFC 5546), and calendar servers refuse
it (RFC 4791, section 4.1).

Lines are written here, since of all that the calendar library can do few are wanted: it takes ten
times as long. What others have written it reads.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from fruitcast.outputs.calendar_state import CalendarEvent, CalendarState
from fruitcast.words import clean_line, clean_text

if TYPE_CHECKING:
    import icalendar

# The VTIMEZONE of a zone, right across every change of the clock in a span of days.

_ALWAYS = datetime(1970, 1, 1)
"""Onset written for an offset that was already in force before the span."""


@dataclass(frozen=True)
class ClockChange:
    """One change of the clock.

    Attributes
    ----------
    onset : datetime
        Naive wall-clock time of the change by the clock as it stood before it.
    before, after : timedelta
        Offset from UTC before and after.
    name : str
        Abbreviation in force after the change.
    daylight : bool
        Whether daylight saving time is in force after the change.
    """

    onset: datetime
    before: timedelta
    after: timedelta
    name: str
    daylight: bool


@lru_cache(maxsize=32)
def clock_changes(zone: ZoneInfo, first: date, last: date) -> tuple[ClockChange, ...]:
    """Return every change of a zone's offset between two days, in order.

    Kept, since a push to a server asks for the same years anew for each event.
    """
    changes = []
    moment = datetime.combine(first, time(), UTC)
    end = datetime.combine(last, time(), UTC)
    while moment < end:
        following = min(moment + timedelta(days=1), end)
        if _offset(zone, moment) != _offset(zone, following):
            instant = _first_with_new_offset(zone, moment, following)
            before, after = _offset(zone, moment), instant.astimezone(zone)
            changes.append(
                ClockChange(
                    onset=(instant + before).replace(tzinfo=None),
                    before=before,
                    after=_offset(zone, instant),
                    name=after.tzname() or zone.key,
                    daylight=(after.dst() or timedelta()) > timedelta(),
                )
            )
        moment = following
    return tuple(changes)


def vtimezone(zone: ZoneInfo, first: date, last: date) -> list[str]:
    """Return the lines of the VTIMEZONE that holds from one day to another (section 3.6.5).

    Onsets are listed as RDATEs: they state what is known and promise nothing about years that
    no rule of this day can foresee.
    """
    lines = ["BEGIN:VTIMEZONE", f"TZID:{zone.key}"]
    groups: dict[tuple[bool, timedelta, timedelta, str], list[datetime]] = {}
    for change in (_standing(zone, first), *clock_changes(zone, first, last)):
        group = (change.daylight, change.before, change.after, change.name)
        groups.setdefault(group, []).append(change.onset)
    for (daylight, before, after, name), onsets in groups.items():
        kind = "DAYLIGHT" if daylight else "STANDARD"
        lines += [
            f"BEGIN:{kind}",
            f"DTSTART{_moment(onsets[0])}",
            # One line each: some readers take only the first onset of a list.
            *(f"RDATE{_moment(onset)}" for onset in onsets[1:]),
            f"TZNAME:{_text(name)}",
            f"TZOFFSETFROM:{_offset_text(before)}",
            f"TZOFFSETTO:{_offset_text(after)}",
            f"END:{kind}",
        ]
    return [*lines, "END:VTIMEZONE"]


def _offset_text(offset: timedelta) -> str:
    """Return an offset from UTC as section 3.3.14 has it: '-0500', or '-050012'."""
    seconds = abs(round(offset.total_seconds()))
    minutes, seconds = divmod(seconds, 60)
    sign = "-" if offset < timedelta() else "+"
    return f"{sign}{minutes // 60:02d}{minutes % 60:02d}" + (f"{seconds:02d}" if seconds else "")


def _standing(zone: ZoneInfo, first: date) -> ClockChange:
    """The offset in force when the span begins, as if it had always been."""
    moment = datetime.combine(first, time(), UTC).astimezone(zone)
    offset = moment.utcoffset() or timedelta()
    daylight = (moment.dst() or timedelta()) > timedelta()
    return ClockChange(_ALWAYS, offset, offset, moment.tzname() or zone.key, daylight)


def _offset(zone: ZoneInfo, moment: datetime) -> timedelta:
    return moment.astimezone(zone).utcoffset() or timedelta()


def _first_with_new_offset(zone: ZoneInfo, low: datetime, high: datetime) -> datetime:
    """Halve the span between two moments of unlike offset down to the second of the change."""
    old = _offset(zone, low)
    while high - low > timedelta(seconds=1):
        middle = low + timedelta(seconds=(high - low).total_seconds() // 2)
        if _offset(zone, middle) == old:
            low = middle
        else:
            high = middle
    return high


# The calendar as bytes: iCalendar (RFC 5545) with the feed properties of RFC 7986.

PRODUCT = "-//fruitcast//soak calendar//EN"
UNFOLDED = 75
"""Lines shorter than this stay whole (RFC 5545, section 3.1). [octet]"""
REFRESH = timedelta(hours=6)
"""How often a subscriber is asked to look again (RFC 7986, section 5.7)."""


def calendar_bytes(state: CalendarState) -> bytes:
    """Return the whole calendar, for a file or a feed. The same state gives the same bytes."""
    # No UID of the calendar itself, though RFC 7986, section 5.3, allows one: a program that
    # cuts a feed into events (vdirsyncer) takes it for the UID of each, and keeps one event.
    name = _text(clean_line(state.name))
    head = [f"NAME:{name}", f"X-WR-CALNAME:{name}"]
    if state.events:
        head.append(f"LAST-MODIFIED:{_stamp(max(event.modified for event in state.events))}")
    head.append(f"REFRESH-INTERVAL;VALUE=DURATION:{_span(REFRESH)}")
    head.append(f"X-PUBLISHED-TTL:{_span(REFRESH)}")
    head += _zones(state.events) if state.events else _lone_zone(state.zone)
    return _calendar(head, state.events)


def event_bytes(event: CalendarEvent) -> bytes:
    """Return one event as a calendar of its own, as a calendar server stores it."""
    return _calendar(_zones([event]), [event])


def _calendar(head: Iterable[str], events: Iterable[CalendarEvent]) -> bytes:
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", f"PRODID:{PRODUCT}", *head]
    for event in events:
        lines += _vevent(event)
    return b"".join(_folded(line) + b"\r\n" for line in (*lines, "END:VCALENDAR"))


def _folded(line: str) -> bytes:
    """Return a line, folded where it is long; neither a letter nor an escape is cut in two."""
    octets = line.encode()
    parts = []
    while len(octets) >= UNFOLDED:
        end = UNFOLDED - 1
        while octets[end] & 0xC0 == 0x80:
            end -= 1
        end -= octets[end - 1] in b"\\^"
        parts.append(octets[:end])
        octets = octets[end:]
    return b"\r\n ".join((*parts, octets))


def event_face(data: bytes) -> str:
    """Return what a person sees of the one event in a calendar, whoever wrote the bytes.

    Times, title, text, place, status and alarms; not what programs keep for themselves, such as
    the note that an alarm was seen, or a copy of an alarm that was put off (RFC 9074).

    Raises
    ------
    ValueError
        If the bytes are not a calendar with an event.
    """
    import icalendar

    events = icalendar.Calendar.from_ical(data).walk("VEVENT")
    if len(events) != 1:
        return f"{len(events)} events"
    event = events[0]
    rows = [
        *(f"{name} {_decoded(event, name)}" for name in ("DTSTART", "DTEND", "DURATION", "RRULE")),
        *(f"{name} {str(event.get(name, '')).strip()}" for name in _SEEN),
        *sorted(
            f"TRIGGER {_decoded(alarm, 'TRIGGER')}"
            for alarm in event.walk("VALARM")
            if "RELATED-TO" not in alarm
        ),
    ]
    return "\n".join(rows)


_SEEN = ("SUMMARY", "DESCRIPTION", "LOCATION", "STATUS")


def _decoded(component: icalendar.Component, name: str) -> str:
    """A time the same in every spelling: a moment in UTC, a day, or a span."""
    if name not in component:
        return ""
    value = component.decoded(name)
    if isinstance(value, datetime) and value.tzinfo is not None:
        value = value.astimezone(UTC)
    return str(value)


def _vevent(event: CalendarEvent) -> Iterator[str]:
    reminder = event.reminder
    # Without a METHOD, DTSTAMP says when the event was last revised (section 3.8.7.2).
    modified, summary = _stamp(event.modified), _text(clean_line(reminder.summary))
    yield "BEGIN:VEVENT"
    yield f"SUMMARY:{summary}"
    yield f"DTSTART{_moment(reminder.start)}"
    yield f"DTEND{_moment(reminder.end)}"
    yield f"DTSTAMP:{modified}"
    yield f"UID:{_text(clean_line(event.uid))}"
    yield f"SEQUENCE:{event.sequence}"
    yield f"CATEGORIES:{reminder.kind}"
    yield f"CREATED:{_stamp(event.created)}"
    if reminder.description:
        yield f"DESCRIPTION:{_text(clean_text(reminder.description))}"
    yield f"LAST-MODIFIED:{modified}"
    yield f"STATUS:{'CONFIRMED' if event.cancelled_on is None else 'CANCELLED'}"
    yield f"TRANSP:{'OPAQUE' if isinstance(reminder.start, datetime) else 'TRANSPARENT'}"
    if event.cancelled_on is None:
        for alarm in reminder.alarms:
            yield "BEGIN:VALARM"
            yield "ACTION:DISPLAY"
            yield f"DESCRIPTION:{summary}"
            yield f"TRIGGER:{_span(_since_start(alarm, reminder.start))}"
            yield "END:VALARM"
    yield "END:VEVENT"


def _since_start(alarm: datetime, start: date) -> timedelta:
    """Return when an alarm rings, from the start so that it moves when a person moves the event."""
    if not isinstance(start, datetime):
        start = datetime.combine(start, time(), alarm.tzinfo)
    # Times of one zone subtract as wall clocks; the trigger is a span of real time.
    return timedelta(seconds=alarm.timestamp() - start.timestamp())


def _text(text: str) -> str:
    """Return text escaped as section 3.3.11 says."""
    escaped = text.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,")
    return escaped.replace("\n", "\\n")


def _moment(moment: date) -> str:
    """Return a day or a time, after its parameters (sections 3.3.4 and 3.3.5)."""
    if not isinstance(moment, datetime):
        return f";VALUE=DATE:{moment:%Y%m%d}"
    zone = str(moment.tzinfo or "")
    of_zone = f";TZID={zone}" if zone not in ("", "UTC") else ""
    return f"{of_zone}:{moment:%Y%m%dT%H%M%S}{'Z' if zone == 'UTC' else ''}"


def _span(span: timedelta) -> str:
    """Return a length of time (section 3.3.6)."""
    hours, rest = divmod(abs(round(span.total_seconds())), 3600)
    days, hours = divmod(hours, 24)
    minutes, seconds = divmod(rest, 60)
    parts = [f"{hours}H" * bool(hours), f"{minutes}M" * bool(minutes or (hours and seconds))]
    clock = "".join(parts) + f"{seconds}S" * bool(seconds)
    of_days = f"{days}D" * bool(days or not clock)
    return f"{'-' * (span < timedelta())}P{of_days}{'T' * bool(clock)}{clock}"


def _zones(events: Iterable[CalendarEvent]) -> list[str]:
    """Return a VTIMEZONE for each zone used, a year before the first to two past the last event."""
    spans: dict[str, tuple[ZoneInfo, date, date]] = {}
    for event in events:
        start = event.reminder.start
        if not isinstance(start, datetime) or not isinstance(start.tzinfo, ZoneInfo):
            continue
        zone = start.tzinfo
        _, first, last = spans.get(zone.key, (zone, start.date(), start.date()))
        spans[zone.key] = (zone, min(first, start.date()), max(last, start.date()))
    return [
        line
        for key, (zone, first, last) in sorted(spans.items())
        if key != "UTC"
        for line in vtimezone(zone, date(first.year - 1, 1, 1), date(last.year + 3, 1, 1))
    ]


def _lone_zone(zone: ZoneInfo) -> list[str]:
    """Return what keeps a calendar without events legal: at least one component (section 3.6)."""
    return vtimezone(zone, date(1970, 1, 2), date(1970, 1, 2))


def _stamp(day: date) -> str:
    return f"{day:%Y%m%d}T000000Z"
