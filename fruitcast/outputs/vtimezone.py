"""The VTIMEZONE of a zone, right across every change of the clock in a span of days.

The calendar library's own one writes the onset of daylight time as the wall clock after the
change and adds a property that RFC 5545 does not allow there, so the observances are made here.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from icalendar import Timezone, TimezoneDaylight, TimezoneStandard

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
