"""The calendar as bytes: iCalendar (RFC 5545, RFC 7986), its time zone right at every change.

METHOD is left out: with it ORGANIZER would be mandatory (RFC 5546), and calendar servers refuse
it (RFC 4791, section 4.1).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

import icalendar
from icalendar import Timezone, TimezoneDaylight, TimezoneStandard
from icalendar.prop import vText

from fruitcast.outputs.calendar_state import CalendarEvent, CalendarState
from fruitcast.words import clean_line, clean_text

# The VTIMEZONE of a zone, right across every change of the clock in a span of days.
#
# The calendar library's own one writes the onset of daylight time as the wall clock after the
# change and adds a property that RFC 5545 does not allow there, so the observances are made here.

_ALWAYS = datetime(1970, 1, 1)
"""Onset written for an offset that was already in force before the span."""


@dataclass(frozen=True)
class ClockChange:
    """One change of the clock."""

    onset: datetime  # naive wall-clock time of the change by the clock as it stood before it
    before: timedelta  # offset from UTC
    after: timedelta
    name: str  # abbreviation in force after the change
    daylight: bool  # whether daylight saving time is in force after the change


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


def vtimezone(zone: ZoneInfo, first: date, last: date) -> Timezone:
    """Return the VTIMEZONE that holds from one day to another (RFC 5545, section 3.6.5).

    Onsets are listed as RDATEs: they state what is known and promise nothing about years that
    no rule of this day can foresee.
    """
    component = Timezone()
    component.add("TZID", zone.key)
    groups: dict[tuple[bool, timedelta, timedelta, str], list[datetime]] = {}
    for change in (_standing(zone, first), *clock_changes(zone, first, last)):
        group = (change.daylight, change.before, change.after, change.name)
        groups.setdefault(group, []).append(change.onset)
    for (daylight, before, after, name), onsets in groups.items():
        observance = TimezoneDaylight() if daylight else TimezoneStandard()
        observance.add("DTSTART", onsets[0])
        observance.add("TZOFFSETFROM", before)
        observance.add("TZOFFSETTO", after)
        observance.add("TZNAME", name)
        # One line each: some readers take only the first onset of a list.
        for onset in onsets[1:]:
            observance.add("RDATE", onset)
        component.add_component(observance)
    return component


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
FOLDED = 74
"""Lines longer than this are folded: with the space that goes on with one, 75 (RFC 5545, section
3.1). [octet]"""
REFRESH = timedelta(hours=6)
"""How often a subscriber is asked to look again (RFC 7986, section 5.7)."""


def calendar_bytes(state: CalendarState) -> bytes:
    """Return the whole calendar, for a file or a feed. The same state gives the same bytes."""
    calendar = _calendar()
    # No UID of the calendar itself, though RFC 7986, section 5.3, allows one: a program that
    # cuts a feed into events (vdirsyncer) takes it for the UID of each, and keeps one event.
    calendar.add("NAME", _Text(clean_line(state.name)))
    calendar.add("X-WR-CALNAME", _Text(clean_line(state.name)))
    if state.events:
        calendar.add("LAST-MODIFIED", _stamp(max(event.modified for event in state.events)))
    # The library writes a duration here without the VALUE that RFC 7986 demands.
    calendar.add("REFRESH-INTERVAL", REFRESH, parameters={"VALUE": "DURATION"})
    calendar.add("X-PUBLISHED-TTL", icalendar.vDuration(REFRESH))
    for component in _zones(state.events) if state.events else [_lone_zone(state.zone)]:
        calendar.add_component(component)
    for event in state.events:
        calendar.add_component(_vevent(event))
    return _folded(calendar)


def event_bytes(event: CalendarEvent) -> bytes:
    """Return one event as a calendar of its own, as a calendar server stores it."""
    calendar = _calendar()
    for component in (*_zones([event]), _vevent(event)):
        calendar.add_component(component)
    return _folded(calendar)


def _folded(calendar: icalendar.Calendar) -> bytes:
    """Return a calendar's lines, long ones folded.

    The library counts the octets of every line one by one, which takes half of its time. And what
    many events have alike it need not write more than once.
    """
    written: dict[tuple[str, object], bytes] = {}
    lines = []
    for name, value in calendar.property_items():
        one = name, value if isinstance(value, bytes) else id(value)
        if one not in written:
            written[one] = fold(calendar.content_line(name, value).encode()) + b"\r\n"
        lines.append(written[one])
    return b"".join(lines)


def fold(line: bytes) -> bytes:
    """Return one line of a calendar folded between its characters, never within an escaped one."""
    parts = []
    while len(line) > FOLDED:
        end = FOLDED
        while line[end] & 0xC0 == 0x80:  # within a character
            end -= 1
        if line[end - 1] in b"\\^":
            end -= 1
        parts.append(line[:end])
        line = line[end:]
    return b"\r\n ".join((*parts, line))


def event_face(data: bytes) -> str:
    """Return what a person sees of the one event in a calendar, whoever wrote the bytes.

    Times, title, text, place, status and alarms; not what programs keep for themselves, such as
    the note that an alarm was seen, or a copy of an alarm that was put off (RFC 9074).

    Raises ValueError if the bytes are not a calendar with an event.
    """
    events = icalendar.Calendar.from_ical(data).walk("VEVENT")
    if len(events) != 1:
        return f"{len(events)} events"
    event = events[0]
    rows = [
        *(f"{name} {_moment(event, name)}" for name in ("DTSTART", "DTEND", "DURATION", "RRULE")),
        *(f"{name} {str(event.get(name, '')).strip()}" for name in _SEEN),
        *sorted(
            f"TRIGGER {_moment(alarm, 'TRIGGER')}"
            for alarm in event.walk("VALARM")
            if "RELATED-TO" not in alarm
        ),
    ]
    return "\n".join(rows)


_SEEN = ("SUMMARY", "DESCRIPTION", "LOCATION", "STATUS")


def _moment(component: icalendar.Component, name: str) -> str:
    """A time the same in every spelling: a moment in UTC, a day, or a span."""
    if name not in component:
        return ""
    value = component.decoded(name)
    if isinstance(value, datetime) and value.tzinfo is not None:
        value = value.astimezone(UTC)
    return str(value)


class _Text(vText):
    r"""Text escaped as RFC 5545, section 3.3.11, says.

    The library would turn a backslash and N that somebody wrote into a line break.
    """

    __slots__ = ()

    def to_ical(self) -> bytes:
        escaped = str(self).replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,")
        return escaped.replace("\n", "\\n").encode()


def _calendar() -> icalendar.Calendar:
    calendar = icalendar.Calendar()
    calendar.add("VERSION", "2.0")
    calendar.add("PRODID", PRODUCT)
    return calendar


def _vevent(event: CalendarEvent) -> icalendar.Event:
    reminder = event.reminder
    component = icalendar.Event()
    component.add("UID", event.uid)
    # Without a METHOD, DTSTAMP says when the event was last revised (section 3.8.7.2).
    component["DTSTAMP"] = _common("DTSTAMP", _stamp(event.modified))
    component["CREATED"] = _common("CREATED", _stamp(event.created))
    component["LAST-MODIFIED"] = _common("LAST-MODIFIED", _stamp(event.modified))
    component["SEQUENCE"] = _common("SEQUENCE", event.sequence)
    for name, moment in (("DTSTART", reminder.start), ("DTEND", reminder.end)):
        if isinstance(moment, datetime):
            component.add(name, moment)
        else:
            component[name] = _common(name, moment)
    component.add("SUMMARY", _Text(clean_line(reminder.summary)))
    if reminder.description:
        component.add("DESCRIPTION", _Text(clean_text(reminder.description)))
    component["CATEGORIES"] = _common("CATEGORIES", (reminder.kind,))
    status = "CONFIRMED" if event.cancelled_on is None else "CANCELLED"
    component["STATUS"] = _common("STATUS", status)
    timed = isinstance(reminder.start, datetime)
    component["TRANSP"] = _common("TRANSP", "OPAQUE" if timed else "TRANSPARENT")
    if event.cancelled_on is None:
        for alarm in reminder.alarms:
            component.add_component(_valarm(alarm, event))
    return component


@lru_cache(maxsize=1024)
def _common(name: str, value: date | int | str | timedelta | tuple[str, ...]) -> object:
    """Return what many events have alike, made by the library once for all of them."""
    one = icalendar.Event()
    one.add(name, list(value) if isinstance(value, tuple) else value)
    return one[name]


def _valarm(alarm: datetime, event: CalendarEvent) -> icalendar.Alarm:
    """Return a display alarm, set from the start so that it moves when a person moves the event."""
    start = event.reminder.start
    if not isinstance(start, datetime):
        start = datetime.combine(start, time(), alarm.tzinfo)
    # Times of one zone subtract as wall clocks; the trigger is a span of real time.
    before = timedelta(seconds=alarm.timestamp() - start.timestamp())
    component = icalendar.Alarm()
    component["ACTION"] = _common("ACTION", "DISPLAY")
    component.add("DESCRIPTION", _Text(clean_line(event.reminder.summary)))
    component["TRIGGER"] = _common("TRIGGER", before)
    return component


def _zones(events: Iterable[CalendarEvent]) -> list[icalendar.Timezone]:
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
        vtimezone(zone, date(first.year - 1, 1, 1), date(last.year + 3, 1, 1))
        for key, (zone, first, last) in sorted(spans.items())
        if key != "UTC"
    ]


def _lone_zone(zone: ZoneInfo) -> icalendar.Timezone:
    """Return what keeps a calendar without events legal: at least one component (section 3.6)."""
    return vtimezone(zone, date(1970, 1, 2), date(1970, 1, 2))


def _stamp(day: date) -> datetime:
    return datetime.combine(day, time(), UTC)
