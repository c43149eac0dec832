"""Time zones, read back by programs that know nothing but the component."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo, available_timezones

import dateutil.tz
import icalendar
import pytest

from fruitcast.outputs.ical import clock_changes, vtimezone
from tests.drawn import stride
from tests.outputs.strict_ical import libical_offsets

FIRST, LAST = date(2026, 1, 1), date(2030, 1, 1)


def lines(zone: str, first: date = FIRST, last: date = LAST) -> list[str]:
    return vtimezone(ZoneInfo(zone), first, last).to_ical().decode().split("\r\n")


def calendar(zone: str) -> bytes:
    component = icalendar.Calendar()
    component.add("VERSION", "2.0")
    component.add("PRODID", "test")
    component.add_component(vtimezone(ZoneInfo(zone), FIRST, LAST))
    return component.to_ical()


def moments() -> list[datetime]:
    """Every fifth day at an odd hour over the whole span."""
    start = datetime(2026, 1, 1, 0, 30, tzinfo=UTC)
    return [start + timedelta(hours=121 * k) for k in range(289)]


def around_changes(zone: ZoneInfo) -> list[datetime]:
    found = []
    for change in clock_changes(zone, FIRST, LAST):
        instant = (change.onset - change.before).replace(tzinfo=UTC)
        found += [instant + timedelta(seconds=s) for s in (-3600, -1, 0, 1, 3600)]
    return found


def test_daylight_time_begins_by_the_clock_before_the_change():
    # RFC 5545, section 3.6.5, its example of New York in 2007: daylight time begins on the
    # second Sunday of March at 02:00 from -0500 to -0400, standard time on the first Sunday of
    # November at 02:00 from -0400 to -0500.
    changes = clock_changes(ZoneInfo("America/New_York"), date(2007, 1, 1), date(2008, 1, 1))
    assert [change.onset for change in changes] == [
        datetime(2007, 3, 11, 2),
        datetime(2007, 11, 4, 2),
    ]
    assert [(change.before, change.after) for change in changes] == [
        (timedelta(hours=-5), timedelta(hours=-4)),
        (timedelta(hours=-4), timedelta(hours=-5)),
    ]
    assert [(change.name, change.daylight) for change in changes] == [("EDT", True), ("EST", False)]


def test_the_component_has_exactly_what_the_standard_allows():
    assert lines("America/New_York", date(2027, 1, 1), date(2029, 1, 1)) == [
        "BEGIN:VTIMEZONE",
        "TZID:America/New_York",
        "BEGIN:STANDARD",
        "DTSTART:19700101T000000",
        "TZNAME:EST",
        "TZOFFSETFROM:-0500",
        "TZOFFSETTO:-0500",
        "END:STANDARD",
        "BEGIN:DAYLIGHT",
        "DTSTART:20270314T020000",
        "RDATE:20280312T020000",
        "TZNAME:EDT",
        "TZOFFSETFROM:-0500",
        "TZOFFSETTO:-0400",
        "END:DAYLIGHT",
        "BEGIN:STANDARD",
        "DTSTART:20271107T020000",
        "RDATE:20281105T020000",
        "TZNAME:EST",
        "TZOFFSETFROM:-0400",
        "TZOFFSETTO:-0500",
        "END:STANDARD",
        "END:VTIMEZONE",
        "",
    ]


def test_the_southern_summer_spans_the_new_year():
    text = lines("Pacific/Auckland", date(2027, 1, 1), date(2028, 1, 1))
    assert text[2:6] == [
        "BEGIN:DAYLIGHT",
        "DTSTART:19700101T000000",
        "TZNAME:NZDT",
        "TZOFFSETFROM:+1300",
    ]
    assert "DTSTART:20270404T030000" in text
    assert "DTSTART:20270926T020000" in text


def test_half_an_hour_of_daylight_saving():
    changes = clock_changes(ZoneInfo("Australia/Lord_Howe"), date(2027, 1, 1), date(2028, 1, 1))
    assert {change.after - change.before for change in changes} == {
        timedelta(minutes=30),
        timedelta(minutes=-30),
    }


def test_a_zone_that_never_changes_has_one_observance():
    assert lines("Asia/Kolkata").count("BEGIN:STANDARD") == 1
    assert "BEGIN:DAYLIGHT" not in lines("Asia/Kolkata")
    assert "TZOFFSETTO:+0530" in lines("Asia/Kolkata")


@pytest.mark.parametrize(
    "zone",
    [
        "America/New_York",
        "Australia/Lord_Howe",
        "Pacific/Auckland",
        "America/Santiago",
        "Europe/Dublin",
        "Africa/Casablanca",
        "Asia/Gaza",
        "Pacific/Chatham",
        "Antarctica/Troll",
        "Asia/Kolkata",
    ],
)
def test_two_libraries_read_the_same_offsets_as_the_zone_has(zone, tmp_path):
    known = ZoneInfo(zone)
    file = tmp_path / "zone.ics"
    file.write_bytes(calendar(zone))
    by_dateutil = dateutil.tz.tzical(str(file)).get()
    by_icalendar = vtimezone(known, FIRST, LAST).to_tz(lookup_tzid=False)
    for moment in moments():
        local = moment.astimezone(known)
        naive = local.replace(tzinfo=None)
        if local.fold or (naive + timedelta(hours=2)).replace(tzinfo=known).fold:
            continue
        assert naive.replace(tzinfo=by_dateutil).utcoffset() == local.utcoffset(), moment
        assert naive.replace(tzinfo=by_icalendar).utcoffset() == local.utcoffset(), moment


@stride(9)
def test_libical_reads_every_zone_right_to_the_second(every):
    for name in sorted(available_timezones())[::every]:
        zone = ZoneInfo(name)
        at = [*moments()[::7], *around_changes(zone)]
        expected = [moment.astimezone(zone).utcoffset() for moment in at]
        found = libical_offsets(vtimezone(zone, FIRST, LAST).to_ical(), at)
        assert found == expected, name
