"""Days and clocks out of the ordinary: leap days, week 53, New Year, both hemispheres."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from fruitcast.app.diary_tables import year_table
from fruitcast.app.planning import Planned, make_plan
from fruitcast.diary.book import Diary
from fruitcast.diary.events import Event
from fruitcast.diary.state import Pick, Soak, StackState
from fruitcast.outputs.reminder_writer import local_time
from fruitcast.yard.model import Away, Soaking
from tests.cli.running import change
from tests.forecast.test_outlook import SHIFT, half_a_year_on
from tests.forecast.yards import TODAY, known, stack, yard, years_of_weather
from tests.soaks.rules import judge_published

HALF_A_YEAR = timedelta(days=SHIFT)
WEEKS = 16

STACKS = (
    stack("A", date(2023, 4, 5)),
    stack("B", date(2024, 4, 5), strain_class="cold-weather", tree="sugar maple"),
    stack("C", date(2024, 4, 5), strain_class="warm-weather"),
    stack("D", date(2026, 4, 20)),
    stack("E", date(2025, 4, 20), diameter=0.15),
)


# --- north and south -----------------------------------------------------------------------------


@cache
def planned_at(latitude: float) -> Planned:
    """The same yard with the same weather, half a year later where the latitude is southern."""
    later = HALF_A_YEAR if latitude < 0 else timedelta(0)
    season = ((10, 14), (4, 20)) if later else ((4, 15), (10, 20))
    on = date(2026, 9, 15) + later
    soaked = StackState(
        "A",
        24,
        soaks=(Soak(on, 24, 24.0, on + timedelta(days=1)),),
        picks=(Pick(on + timedelta(days=12), 2.0, "forced", on),),
    )
    here = yard(
        *(replace(row, inoculated=row.inoculated + later) for row in STACKS),
        latitude=latitude,
        soaking=Soaking((1, 4), 60, time(8), *season, None),
    )
    weather = years_of_weather()
    now = known(
        here,
        soaked,
        today=TODAY + later,
        weather=half_a_year_on(weather) if later else weather,
        weeks=WEEKS,
    )
    return make_plan(now, weeks=WEEKS)


def as_in_the_north(text: str, latitude: float) -> str:
    day = date.fromisoformat(text)
    return (day - HALF_A_YEAR if latitude < 0 else day).isoformat()


NORTH, SOUTH = 60.0, -35.0


def test_a_yard_in_the_south_gets_the_plan_of_its_mirror_in_the_north():
    """What differs is chance, drawn by the date, and the height of the Sun."""
    documents = [planned_at(where).document.plain() for where in (NORTH, SOUTH)]
    north, south = documents
    assert south["members"] == north["members"]
    assert south["demand_kg"] == north["demand_kg"] > 0
    assert abs(len(south["soaks"]) - len(north["soaks"])) <= 1
    # Of stacks that are worth about the same, chance may take another one.
    soaked = [{soak["stack"] for soak in document["soaks"]} for document in documents]
    assert {"A", "E"} <= soaked[0] & soaked[1] and len(soaked[0] ^ soaked[1]) <= 2
    assert south["objective_kg"] == pytest.approx(north["objective_kg"], rel=0.12)
    for key in ("care", "rest_ends", "ready"):
        said = [
            [
                {
                    k: as_in_the_north(v, where) if k in ("from", "to", "on") else v
                    for k, v in entry.items()
                    if k in ("stack", "what", "from")
                }
                for entry in document[key]
            ]
            for where, document in zip((NORTH, SOUTH), documents, strict=True)
        ]
        assert [e["stack"] for e in said[0]] == [e["stack"] for e in said[1]], key
        for one, other in zip(*said, strict=True):
            assert one.get("what") == other.get("what")
            days = [date.fromisoformat(e["from"]) for e in (one, other) if "from" in e]
            assert not days or abs((days[0] - days[1]).days) <= 10, (key, one, other)


def test_logs_and_flushes_of_the_south_are_those_of_the_north():
    north, south = (planned_at(where).built.outlook for where in (NORTH, SOUTH))
    for a, b in zip(north.stacks, south.stacks, strict=True):
        assert 0.85 * a.moisture < b.moisture < a.moisture  # the Sun stands higher at 35 degrees
        assert (b.bearing_year, b.life) == (a.bearing_year, a.life)
        assert b.effective_logs == pytest.approx(a.effective_logs, rel=0.01)
        assert [hold.cause for hold in b.holds] == [hold.cause for hold in a.holds]
        natural = [look.kinds[s.kind].natural.kg for look, s in ((north, a), (south, b))]
        flushes = [np.count_nonzero(kg) for kg in natural]
        assert flushes[1] == pytest.approx(flushes[0], rel=0.1)
        # What each gives has its scatter; over some hundred flushes little of it is left.
        assert natural[1].sum() == pytest.approx(natural[0].sum(), rel=0.25)


def test_a_year_in_the_south_is_not_cut_in_the_middle_of_its_season(planned):
    change(planned / "yard.toml", "latitude = 42.6", "latitude = -42.6")
    picks = [
        Event("pick", day, "A", kg=kg)
        for day, kg in ((date(2026, 11, 20), 1.0), (date(2027, 3, 2), 2.0), (date(2027, 7, 1), 4.0))
    ]
    with Diary(planned / "diary.db") as diary:
        diary.add(picks, datetime(2027, 7, 2, 12, tzinfo=UTC))
    said = {}
    for today in (date(2027, 4, 1), date(2027, 7, 2)):
        table, year, _ = year_table(planned, today)
        said[year] = next(row.kg for row in table.rows if row.group == "all")
    assert said == {2026: 3.0, 2027: 4.0}
    change(planned / "yard.toml", "latitude = -42.6", "latitude = 42.6")
    table, year, _ = year_table(planned, date(2027, 7, 2))
    assert year == 2027
    assert next(row.kg for row in table.rows if row.group == "all") == 6.0


# --- days of the calendar ------------------------------------------------------------------------


def southern(today: date, **changes) -> Planned:
    """A southern yard that soaks through Christmas and New Year, planned for twelve weeks."""
    rows = tuple(
        replace(row, inoculated=today - timedelta(days=900 + 10 * k))
        for k, row in enumerate(STACKS[:3])
    )
    here = yard(
        *rows, latitude=-35.0, soaking=Soaking((1, 4), 60, time(8), None, None, None), **changes
    )
    weather = half_a_year_on(years_of_weather())
    weather = weather.cut(weather.start, today)
    return make_plan(known(here, today=today, weather=weather, weeks=12), weeks=12)


@pytest.mark.parametrize(
    "today",
    [
        pytest.param(date(2024, 2, 29), id="leap day"),
        pytest.param(date(2024, 2, 28), id="the day before one"),
        pytest.param(date(2020, 12, 28), id="Monday of week 53"),
        pytest.param(date(2026, 12, 14), id="a horizon over week 53 and New Year"),
        pytest.param(date(2025, 12, 31), id="the last day of a year"),
    ],
)
def test_weeks_follow_one_another_whatever_the_calendar_calls_them(today):
    planned = southern(today)
    document, now = planned.document.plain(), planned.known
    assert judge_published(now.yard, now.state, document, today) == []
    sales = [date.fromisoformat(sale["on"]) for sale in document["outlets"]]
    first = today + timedelta(days=(5 - today.weekday()) % 7)
    counted = [day for day in sales if day < today + timedelta(weeks=12)]
    assert counted == [first + timedelta(weeks=week) for week in range(12)]
    assert document["demand_kg"] == pytest.approx(12 * 3.0)
    assert {date.fromisoformat(n["week"]).weekday() for n in document["natural"]} <= {0}
    assert {date.fromisoformat(s["soak_on"]).weekday() for s in document["soaks"]} <= {1, 4}


def test_nobody_soaks_or_pulls_on_holidays_that_come_every_year():
    today = date(2026, 12, 1)
    free = southern(today)
    soaked = min(soak.soak_on for soak in free.document.soaks)
    back = soaked + timedelta(days=20)  # so there is a soak to forbid, and time after it
    holidays = Away((soaked.month, soaked.day), (back.month, back.day))
    away = southern(today, away=(holidays,))
    assert judge_published(away.known.yard, away.known.state, away.document.plain(), today) == []
    days = {day for soak in away.document.soaks for day in (soak.soak_on, soak.pull_on)}
    assert not [day for day in days if soaked <= day <= back]
    assert [day for day in days if day > back]


# --- clocks --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("zone", "day", "wall", "universal"),
    [
        # Skipped times are taken with the offset before the change, double ones the first time.
        ("America/New_York", date(2027, 3, 14), time(2, 30), "2027-03-14T07:30"),
        ("America/New_York", date(2027, 11, 7), time(1, 30), "2027-11-07T05:30"),
        ("Europe/Berlin", date(2027, 3, 28), time(2, 30), "2027-03-28T01:30"),
        ("Australia/Sydney", date(2027, 10, 3), time(2, 30), "2027-10-02T16:30"),
        ("Australia/Sydney", date(2027, 4, 4), time(2, 30), "2027-04-03T15:30"),
        ("Australia/Lord_Howe", date(2027, 10, 3), time(2, 15), "2027-10-02T15:45"),
        ("Australia/Lord_Howe", date(2027, 4, 4), time(1, 45), "2027-04-03T14:45"),
        ("America/Santiago", date(2027, 9, 5), time(0, 0), "2027-09-05T04:00"),
        ("Pacific/Auckland", date(2027, 9, 26), time(8, 0), "2027-09-25T19:00"),
    ],
)
def test_a_soak_starts_at_a_time_that_exists(zone, day, wall, universal):
    start = local_time(day, wall, ZoneInfo(zone))
    assert start.astimezone(UTC) == datetime.fromisoformat(universal).replace(tzinfo=UTC)
    again = start.astimezone(UTC).astimezone(ZoneInfo(zone))
    assert again.replace(tzinfo=None, fold=0) == start.replace(tzinfo=None)  # it is on the clock
    assert start.date() == day


@pytest.mark.parametrize(
    ("zone", "eve", "hours"),
    [
        ("America/New_York", date(2027, 3, 13), 23.0),
        ("America/New_York", date(2027, 11, 6), 25.0),
        ("Australia/Sydney", date(2027, 10, 2), 23.0),
        ("Australia/Lord_Howe", date(2027, 10, 2), 23.5),
        ("Australia/Lord_Howe", date(2027, 4, 3), 24.5),
    ],
)
def test_logs_are_pulled_at_the_same_wall_time_as_they_went_in(zone, eve, hours):
    begin, end = (
        local_time(day, time(8), ZoneInfo(zone)) for day in (eve, eve + timedelta(days=1))
    )
    assert (end.astimezone(UTC) - begin.astimezone(UTC)) == timedelta(hours=hours)
    assert begin.time() == end.time() == time(8)
