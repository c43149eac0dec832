"""The calendar's bytes: what independent programs read, and what the standards ask.

Sections without a number of an RFC are those of RFC 5545.
"""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import icalendar
import ics
import pytest
import vobject
from hypothesis import given
from hypothesis import strategies as st

from fruitcast.outputs.calendar_state import CalendarState, update, yard_calendar
from fruitcast.outputs.ical import calendar_bytes, event_bytes, fold
from fruitcast.outputs.reminder import Reminder
from fruitcast.outputs.reminders import reminders
from tests.drawn import examples
from tests.outputs.sample_plan import TODAY, diary, document, plan, yard
from tests.outputs.strict_ical import libical_faults, own_faults


def published(**yard_changes: Any) -> CalendarState:
    """Return a calendar with planned, done and cancelled events."""
    the_yard = yard(**yard_changes)
    state = yard_calendar(the_yard)
    for days, the_plan in enumerate((plan(), plan(soaks=document()["soaks"][:3]))):
        known = diary()
        found = reminders(the_plan, the_yard, known)
        state = update(state, found, TODAY + timedelta(days=days), known.stacks)
    return state


def one_event(**changes: Any) -> CalendarState:
    draft = Reminder("pick", "A", 1, date(2027, 5, 12), date(2027, 5, 19), "Pick A", "Pick it")
    return update(yard_calendar(yard()), [replace(draft, **changes)], TODAY)


def component(data: bytes, name: str = "VEVENT") -> icalendar.cal.component.Component:
    return icalendar.Calendar.from_ical(data).walk(name)[0]


# --- strict checkers ---------------------------------------------------------------------------


@pytest.mark.parametrize("zone", ["America/New_York", "Australia/Lord_Howe", "Asia/Tokyo", "UTC"])
def test_the_strict_checkers_find_nothing(zone):
    data = calendar_bytes(published(zone=zone))
    assert own_faults(data) == []
    assert libical_faults(data) == []


def test_every_single_event_passes_the_strict_checkers():
    for event in published().events:
        data = event_bytes(event)
        assert own_faults(data) == []
        assert libical_faults(data) == []


def test_a_calendar_without_events_is_legal_too():
    # 3.6: a calendar holds at least one component.
    data = calendar_bytes(yard_calendar(yard()))
    assert own_faults(data) == []
    assert libical_faults(data) == []
    assert len(icalendar.Calendar.from_ical(data).subcomponents) == 1


@pytest.mark.parametrize(
    ("good", "bad"),
    [
        (b"PRODID:", b"X-PRODID:"),
        (b"SUMMARY:", b"SUMMARY:x\r\nSUMMARY:"),
        (b"DTEND;VALUE=DATE:", b"DTEND;VALUE=DATE:x"),
        (b"SEQUENCE:0", b"not a content line"),
        (b"VERSION:2.0\r\n", b"VERSION:2.0\r\nMETHOD:PUBLISH\r\n"),
    ],
)
def test_libical_sees_a_fault_when_there_is_one(good, bad):
    data = calendar_bytes(one_event())
    assert good in data
    assert libical_faults(data.replace(good, bad))


@pytest.mark.parametrize(
    ("good", "bad"),
    [
        (b"DTSTAMP:", b"X-STAMP:"),
        (b"\r\nUID:", b"\r\nX-UID:"),
        (b"DTSTART;VALUE=DATE:", b"X-DTSTART:"),
        (b"SEQUENCE:0", b"SEQUENCE:abc"),
        (b"TRANSP:OPAQUE", b"TRANSP:BUSY"),
        (b"END:VEVENT", b"END:VTODO"),
        (b"TRIGGER:-PT14H", b"TRIGGER:-14H"),
        (b"STATUS:CONFIRMED", b"STATUS:DONE"),
        (b";VALUE=DURATION:", b":"),
        (b"VERSION:2.0\r\n", b"VERSION:2.0\r\nMETHOD:PUBLISH\r\n"),
        (b"TZNAME:EST", b"COMMENT:EST"),
        (b";TZID=America/New_York", b";TZID=America/Denver"),
        (b"\r\n", b"\n"),
        (b"DTEND;VALUE=DATE:2027", b"DTEND;VALUE=DATE:2026"),
    ],
)
def test_our_own_checker_sees_what_libical_lets_through(good, bad):
    data = calendar_bytes(published())
    assert good in data
    assert own_faults(data.replace(good, bad))


# --- independent parsers -----------------------------------------------------------------------

Row = tuple[str, Any, Any, str, str, tuple[timedelta, ...]]


def rows_icalendar(data: bytes) -> set[Row]:
    return {
        (
            str(event["UID"]),
            event.decoded("DTSTART"),
            event.decoded("DTEND"),
            str(event["SUMMARY"]),
            str(event.get("DESCRIPTION", "")),
            tuple(alarm.decoded("TRIGGER") for alarm in event.walk("VALARM")),
        )
        for event in icalendar.Calendar.from_ical(data).walk("VEVENT")
    }


def rows_vobject(data: bytes) -> set[Row]:
    return {
        (
            event.uid.value,
            event.dtstart.value,
            event.dtend.value,
            event.summary.value,
            event.description.value if hasattr(event, "description") else "",
            tuple(alarm.trigger.value for alarm in event.contents.get("valarm", [])),
        )
        for event in vobject.readOne(data.decode()).vevent_list
    }


def rows_ics(data: bytes) -> set[Row]:
    rows = set()
    for event in ics.Calendar(data.decode()).events:
        begin, end = event.begin.datetime, event.end.datetime
        if event.all_day:
            begin, end = begin.date(), end.date()
        triggers = tuple(alarm.trigger for alarm in event.alarms)
        rows.add((event.uid, begin, end, event.name, event.description or "", triggers))
    return rows


@pytest.mark.parametrize(
    "zone",
    [
        "Australia/Lord_Howe",
        *(
            pytest.param(zone, marks=pytest.mark.long)
            for zone in ("America/New_York", "America/Santiago", "Asia/Kolkata")
        ),
    ],
)
def test_three_parsers_read_the_same_events_and_alarms(zone):
    state = published(zone=zone)
    data = calendar_bytes(state)
    expected = {
        (
            event.uid,
            event.reminder.start,
            event.reminder.end,
            event.reminder.summary,
            event.reminder.description,
            ()
            if event.cancelled_on
            else tuple(
                alarm.astimezone(UTC) - event.reminder.start.astimezone(UTC)  # type: ignore[attr-defined]
                for alarm in event.reminder.alarms
            ),
        )
        for event in state.events
    }
    assert rows_icalendar(data) == expected
    assert rows_vobject(data) == expected
    assert rows_ics(data) == expected


def test_soaks_on_both_sides_of_a_change_of_the_clock_read_the_same():
    first = document()["soaks"][0]
    soaks = [
        {**first, "soak_on": day, "pull_on": pull}
        for day, pull in (("2027-03-13", "2027-03-14"), ("2027-11-06", "2027-11-07"))
    ]
    known = diary()
    found = reminders(plan(soaks=soaks), yard(), known)
    data = calendar_bytes(update(yard_calendar(yard()), found, TODAY))
    starts = {
        row[3]: row[1].astimezone(UTC) for row in rows_vobject(data) if row[3].startswith("Pull A")
    }
    pulls = sorted(r[1].astimezone(UTC) for r in rows_ics(data) if r[3].startswith("Pull A"))
    assert pulls == [datetime(2027, 3, 14, 12, tzinfo=UTC), datetime(2027, 11, 7, 13, tzinfo=UTC)]
    assert starts["Pull A (24 logs)"] in pulls


# --- what each property says -------------------------------------------------------------------


def test_the_same_state_gives_the_same_bytes_also_after_its_text():
    state = published()
    data = calendar_bytes(state)
    assert calendar_bytes(state) == data
    assert calendar_bytes(CalendarState.from_json(state.to_json())) == data


def test_a_planned_event_says_all_that_a_phone_needs():
    event = next(e for e in published().events if e.reminder.key == "soak|2|A")
    lines = event_bytes(event).replace(b"\r\n ", b"").decode().split("\r\n")
    assert "DTSTART;TZID=America/New_York:20270504T080000" in lines
    assert "DTEND;TZID=America/New_York:20270504T091500" in lines
    assert "SUMMARY:Soak A (24 logs\\, 24 h)" in lines
    assert "STATUS:CONFIRMED" in lines
    assert "SEQUENCE:0" in lines
    assert "CATEGORIES:soak" in lines
    # 3.8.7.2: without METHOD, DTSTAMP says when the event was last revised.
    assert "DTSTAMP:20270503T000000Z" in lines
    assert "LAST-MODIFIED:20270503T000000Z" in lines
    assert "CREATED:20270503T000000Z" in lines
    assert "TRIGGER:-PT14H" in lines
    assert "ACTION:DISPLAY" in lines
    assert "TRANSP:OPAQUE" in lines


def test_whole_days_take_up_no_time_and_end_the_day_after():
    # 3.6.1: DTEND is non-inclusive.
    lines = calendar_bytes(one_event()).decode().split("\r\n")
    assert "DTSTART;VALUE=DATE:20270512" in lines
    assert "DTEND;VALUE=DATE:20270519" in lines
    assert "TRANSP:TRANSPARENT" in lines


def test_a_cancelled_event_says_so_and_rings_no_more():
    gone = next(e for e in published().events if e.reminder.key == "soak|1|C")
    event = component(event_bytes(gone))
    assert event["STATUS"] == "CANCELLED"
    assert event["SEQUENCE"] == 1
    assert event["LAST-MODIFIED"].dt == datetime(2027, 5, 4, tzinfo=UTC)
    assert event.walk("VALARM") == []


def test_the_feed_tells_its_name_and_how_often_to_look():
    # RFC 7986, 5.1 NAME, 5.4 LAST-MODIFIED, 5.7 REFRESH-INTERVAL.
    head = calendar_bytes(published()).split(b"BEGIN:VTIMEZONE")[0].decode()
    assert "NAME:Larkspur Hollow: logs\r\n" in head
    assert "REFRESH-INTERVAL;VALUE=DURATION:PT6H\r\n" in head
    assert "LAST-MODIFIED:20270504T000000Z\r\n" in head
    # The UID of 5.3 is left out: real readers take it for that of every event.
    assert "\r\nUID:" not in head
    assert "METHOD" not in head


def test_an_alarm_on_a_whole_day_counts_from_its_midnight():
    morning = datetime.combine(date(2027, 5, 12), time(7), yard().site.timezone)
    data = calendar_bytes(one_event(alarms=(morning,)))
    assert component(data, "VALARM").decoded("TRIGGER") == timedelta(hours=7)
    assert libical_faults(data) == []


def test_a_utc_yard_needs_no_zone():
    data = calendar_bytes(published(zone="UTC"))
    assert b"DTSTART:20270504T080000Z" in data
    assert b"VTIMEZONE" not in data


# --- examples of the standard ------------------------------------------------------------------


def text_line(text: str) -> str:
    data = calendar_bytes(one_event(description=text))
    return re.search(r"\r\n(DESCRIPTION:.*?)\r\n[A-Z]", data.decode().replace("\r\n ", ""))[1]


def test_the_standards_example_of_text():
    # 3.3.11: "Project XYZ Final Review / Conference Room - 3B / Come Prepared." on three lines.
    text = "Project XYZ Final Review\nConference Room - 3B\nCome Prepared."
    expected = r"DESCRIPTION:Project XYZ Final Review\nConference Room - 3B\nCome Prepared."
    assert text_line(text) == expected


def test_the_four_characters_of_text_that_are_escaped():
    # 3.3.11: ESCAPED-CHAR is one of \\ \; \, \n; a colon or quote stays as it is.
    assert text_line('a\\b;c,d:e"f\ng') == r'DESCRIPTION:a\\b\;c\,d:e"f\ng'


def test_a_written_backslash_and_n_is_no_line_break():
    text = r"C:\New\notes"
    assert text_line(text) == r"DESCRIPTION:C:\\New\\notes"
    assert (
        vobject.readOne(
            calendar_bytes(one_event(description=text)).decode()
        ).vevent.description.value
        == text
    )


def test_lines_are_folded_at_75_octets():
    # 3.1: "Lines of text SHOULD NOT be longer than 75 octets, excluding the line break."
    data = calendar_bytes(one_event(description="This is a long description " * 20))
    lengths = [len(line) for line in data.split(b"\r\n")]
    assert max(lengths) == 75


@pytest.mark.parametrize("letter", ["a", "é", "木", "🍄", "e\u0301", "👩‍🌾"])
@pytest.mark.parametrize("shift", range(5))
def test_folds_never_cut_a_character(letter, shift):
    # 3.1: a fold inside a multi-octet sequence makes lines that are no longer UTF-8.
    text = "x" * shift + letter * 120
    data = calendar_bytes(one_event(description=text, summary=text))
    assert own_faults(data) == []
    assert str(component(data)["DESCRIPTION"]) == text
    assert vobject.readOne(data.decode()).vevent.summary.value == text


def test_an_escaped_letter_stays_with_its_backslash():
    # As the calendar library folds, for readers that mind.
    for length in range(70, 80):
        line = b"x" * length + b"\\," + b"y" * 80
        folded = fold(line)
        assert b"\\\r\n " not in folded and max(map(len, folded.split(b"\r\n"))) <= 75
        assert folded.replace(b"\r\n ", b"") == line


# --- nothing can be smuggled in ----------------------------------------------------------------

ATTACKS = [
    "x\r\nEND:VEVENT\r\nBEGIN:VEVENT\r\nSUMMARY:evil",
    "x\nATTENDEE:mailto:eve@example.org",
    "x\rATTACH:file:///etc/passwd",
    "x\x0bATTACH:1\x0cATTACH:2\x1cATTACH:3\x1dATTACH:4\x1eATTACH:5",
    "x\x85ATTACH:1\u2028ATTACH:2\u2029ATTACH:3",
    "x\\nATTACH:1\\NATTACH:2",
    "x\r\n ATTACH:folded",
    "x;VALUE=URI:https://example.org",
    "x\x00y\x1b]0;title\x07",
    "\ud800broken",
    "\u202etxet",
]


@pytest.mark.parametrize("attack", ATTACKS)
def test_free_text_adds_no_lines_and_no_control_characters(attack):
    spiteful = document()
    spiteful["soaks"] = spiteful["soaks"][:1]
    # Half a letter is in no plan: a file cannot hold it.
    whole = attack.encode(errors="replace").decode()
    spiteful["soaks"][0].update(reasons=[whole], stack=whole)
    spiteful["water"][0].update(stack=whole, reason=whole)
    del spiteful["water"][1:]
    named = replace(yard(note=attack), name=attack)
    known = diary()
    state = yard_calendar(named)
    state = update(state, reminders(plan(**spiteful), named, known), TODAY, known.stacks)
    data = calendar_bytes(state)
    assert own_faults(data) == []
    assert libical_faults(data) == []
    names = {re.split("[:;]", line)[0] for line in data.decode().replace("\r\n ", "").split("\r\n")}
    assert not names & {"ATTACH", "ATTENDEE"}
    events = icalendar.Calendar.from_ical(data).walk("VEVENT")
    assert len(events) == len(state.events)
    assert "evil" not in {str(event["SUMMARY"]) for event in events}
    # A parser that splits lines as Python does must see the same lines.
    assert len(data.decode().splitlines()) == data.count(b"\r\n")


@examples(40, 150)
@given(st.text(alphabet=st.characters(), max_size=200))
def test_any_text_survives_the_way_through_the_file(text):
    data = calendar_bytes(one_event(summary=text or "x", description=text))
    assert own_faults(data) == []
    event = component(data)
    kept = re.sub("[\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\\s]", "", text)
    kept = re.sub("[\ud800-\udfff]", "", kept)
    read = str(
        vobject.readOne(data.decode()).vevent.contents.get("description", [""])[0].value
        if "DESCRIPTION" in event
        else ""
    )
    assert re.sub(r"\s", "", read) == kept
