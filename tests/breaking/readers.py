"""Every reader of what others wrote, as one function of bytes that checks what it gives back."""

from __future__ import annotations

import gzip
import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from functools import cache

import numpy as np

from fruitcast.diary.entry_faults import faults_of
from fruitcast.errors import InputError, WeatherGapError
from fruitcast.numbers import default_numbers
from fruitcast.yard.model import Yard
from tests.breaking import samples
from tests.breaking.answers import answer_samples, read_answers
from tests.breaking.kept import (
    background_samples,
    model_samples,
    plan_samples,
    read_background,
    read_model,
    read_plan,
)
from tests.breaking.page import form_samples, read_form
from tests.breaking.places import folder, placed
from tests.breaking.samples import TODAY
from tests.breaking.watching import check_message


@dataclass(frozen=True)
class Reader:
    """One reader.

    Attributes
    ----------
    name : str
        What it reads, in a word.
    read : callable
        Takes a file's bytes; raises an error of ours, or AssertionError when the result is wrong.
    samples : tuple of bytes
        Valid files; each is read.
    kind : str
        How they are damaged, see `drawing.KINDS`.
    """

    name: str
    read: Callable[[bytes], None]
    samples: tuple[bytes, ...]
    kind: str


# --- weather -------------------------------------------------------------------------------------


def read_weather(data: bytes) -> None:
    from fruitcast.weather.daily import VARIABLES, Source
    from fruitcast.weather.formats import read_weather_file
    from fruitcast.weather.known import known_weather
    from fruitcast.weather.table import PLAUSIBLE, fill_gaps, weather_csv

    weather = read_weather_file(placed("weather.csv", data))
    assert 1 <= weather.days <= 400 * 366
    for name in VARIABLES:
        values = weather.values[name]
        assert ((weather.sources[name] == Source.MISSING) == np.isnan(values)).all(), name
        low, high = PLAUSIBLE[name]
        known = values[np.isfinite(values)]
        assert not np.isinf(values).any()
        assert ((known >= low) & (known <= high)).all(), name
    assert not (weather.tmin > weather.tmax).any()
    for note in weather.notes:
        assert note.isprintable(), note
    if weather.days < 1000:
        again = read_weather_file(placed("again.csv", weather_csv(weather).encode()))
        for name in VARIABLES:
            np.testing.assert_array_equal(again.values[name], weather.values[name], err_msg=name)
    fill_gaps(weather)
    try:
        known_weather(weather, TODAY, 182, {})
    except WeatherGapError as error:
        check_message(error)


def read_station_year(data: bytes) -> None:
    from fruitcast.weather.station_files import BadPayloadError, parse_year

    packed = gzip.compress(data, 1, mtime=0)
    try:
        table = parse_year(data if len(data) % 2 else packed)
    except BadPayloadError as error:
        raise InputError(f"what came was {error}") from error
    assert table.index.is_unique
    values = table.to_numpy(dtype=float)
    assert not np.isinf(values).any()


# --- the yard ------------------------------------------------------------------------------------


def _check_yard(yard: Yard) -> None:
    assert yard.name.strip() and yard.name.isprintable()
    names = [stack.name.casefold() for stack in yard.stacks]
    assert names and len(set(names)) == len(names)
    for stack in yard.stacks:
        assert stack.name.strip() and stack.name.isprintable() and "/" not in stack.name
        assert stack.logs >= 1
        assert 0.02 <= stack.diameter <= 1.0 and 0.1 <= stack.length <= 5.1
        assert 1950 <= stack.inoculated.year <= 2200
    assert yard.soaking.tank_logs >= 1
    for sale in (*yard.outlets, *yard.orders):
        assert 0 < sale.target_kg < 20_000
    for value in (yard.site.latitude, yard.site.longitude, yard.site.elevation, yard.saleable):
        assert math.isfinite(value)
    for warning in yard.warnings:
        assert warning.isprintable(), warning


def read_settings(data: bytes) -> None:
    from fruitcast.yard.reading import read_yard

    placed("settings/stacks.csv", samples.PLAIN_STACKS)
    yard = read_yard(placed("settings/yard.toml", data).parent, TODAY)
    _check_yard(yard)
    default_numbers().with_overrides(yard.numbers)


def read_stacks(data: bytes) -> None:
    from fruitcast.yard.reading import read_yard

    placed("stacks/yard.toml", samples.PLAIN_SETTINGS)
    _check_yard(read_yard(placed("stacks/stacks.csv", data).parent, TODAY))


@cache
def plain_yard() -> Yard:
    """Return the yard of the undamaged files."""
    from fruitcast.yard.reading import read_yard

    placed("plain/stacks.csv", samples.PLAIN_STACKS)
    return read_yard(placed("plain/yard.toml", samples.PLAIN_SETTINGS).parent, TODAY)


def read_diary(data: bytes) -> None:
    from fruitcast.diary.database import INSERT_EVENT, VERSION, events_of, row_of, select_events
    from fruitcast.diary.state_from_diary import yard_state
    from fruitcast.diary.tables import export_csv, import_csv

    events = import_csv(data, "diary.csv")
    for event in events:
        assert not faults_of(event)
    with _database() as connection:
        connection.execute("BEGIN")
        connection.executemany(INSERT_EVENT, [row_of(event) for event in events])
        kept = connection.execute(select_events(VERSION)).fetchall()
        connection.execute("ROLLBACK")
    assert events_of(kept) == events
    assert import_csv(export_csv(events), "diary.csv") == events
    state = yard_state(plain_yard(), events, TODAY)
    for stack in state.stacks.values():
        assert stack.logs >= 0


@cache
def _connection() -> object:
    import sqlite3

    from fruitcast.diary.database import migrate

    connection = sqlite3.connect(":memory:", isolation_level=None)
    migrate(connection)
    return connection


def _database() -> object:
    from contextlib import nullcontext

    return nullcontext(_connection())


def read_record(data: bytes) -> None:
    from fruitcast.diary.recording import limits_of, parse_record
    from fruitcast.diary.spoken import parse_sheet
    from fruitcast.diary.state_from_diary import yard_state

    text = data.decode("utf-8", errors="replace")
    yard = plain_yard()
    if "\n" in text:
        records = parse_sheet(
            text.splitlines(), yard=yard, events=samples.ENTRIES, today=TODAY, yes=True
        )
    else:
        kind, _, words = text.partition(" ")
        stacks = yard_state(yard, samples.ENTRIES, TODAY).stacks
        records = (
            parse_record(
                kind,
                words,
                limits_of(yard, samples.ENTRIES, stacks, TODAY),
                outlets=("Saturday market", "Shop"),
                yes=len(text) % 2 == 0,
            ),
        )
    for record in records:
        assert not faults_of(record.event)
        assert record.understood.strip()
        assert timedelta(-800 * 366) < record.event.on - TODAY
    yard_state(yard, (*samples.ENTRIES, *(record.event for record in records)), TODAY)


# --- documents read back -------------------------------------------------------------------------


def read_problem(data: bytes) -> None:
    from tests.soaks.problem_file import load_plan, load_problem

    text = data.decode("utf-8", errors="replace")
    problem = load_problem(text)
    assert problem.members >= 1
    load_plan(text)


def read_calendar_state(data: bytes) -> None:
    from fruitcast.outputs.calendar_state import CalendarState
    from fruitcast.outputs.ical import calendar_bytes

    state = CalendarState.from_json(data.decode("utf-8", errors="replace"))
    assert calendar_bytes(state).startswith(b"BEGIN:VCALENDAR")
    assert CalendarState.from_json(state.to_json()) == state


def read_push_state(data: bytes) -> None:
    from fruitcast.outputs.caldav import PushState

    state = PushState.from_json(data.decode("utf-8", errors="replace"))
    assert PushState.from_json(state.json_text()) == state


def read_access(data: bytes) -> None:
    from fruitcast.web.access import AccessFile

    AccessFile(placed("access/.serve.json", data).parent).read()


@cache
def _problem_samples() -> tuple[bytes, ...]:
    from fruitcast.soaks.problem import dump_problem
    from tests.soaks.instances import small_problem

    problem = small_problem(4)
    chosen = tuple(tuple(stack.first.soak[:1].tolist()) for stack in problem.stacks)
    return (dump_problem(problem, chosen).encode(),)


@cache
def _calendar_samples() -> tuple[bytes, ...]:
    from fruitcast.outputs.calendar_state import update, yard_calendar
    from fruitcast.outputs.reminders import reminders
    from tests.outputs.sample_plan import diary, plan, yard

    found = reminders(plan(), yard(), diary())[:6]
    return (update(yard_calendar(yard()), found, TODAY, {"A", "C", "D"}).to_json().encode(),)


def _push_samples() -> tuple[bytes, ...]:
    from fruitcast.outputs.caldav import PushedEvent, PushState

    event = PushedEvent(title="Soak A", etag='"1"', face="ab", past=False)
    state = PushState(
        address="https://example.org/cal/",
        events={"u@fruitcast": event},
        begun={"v@fruitcast": None},
    )
    return (state.json_text().encode(),)


def _access_samples() -> tuple[bytes, ...]:
    from fruitcast.web.access import AccessFile

    place = folder() / "new access"
    place.mkdir(exist_ok=True)
    AccessFile(place).read()
    return tuple(file.read_bytes() for file in place.iterdir())


def readers() -> dict[str, Reader]:
    """Return every reader by name."""
    found = (
        Reader("weather", read_weather, samples.WEATHER, "table"),
        Reader("stacks", read_stacks, samples.STACKS, "table"),
        Reader("settings", read_settings, samples.SETTINGS, "toml"),
        Reader("diary", read_diary, samples.DIARY, "table"),
        Reader("record", read_record, samples.RECORDS, "words"),
        Reader("station", read_station_year, (samples.station_year(),), "table"),
        Reader("problem", read_problem, _problem_samples(), "json"),
        Reader("calendar", read_calendar_state, _calendar_samples(), "json"),
        Reader("push", read_push_state, _push_samples(), "json"),
        Reader("access", read_access, _access_samples(), "json"),
        Reader("plan", read_plan, plan_samples(), "json"),
        Reader("background", read_background, background_samples(), "json"),
        Reader("model", read_model, model_samples(), "json"),
        Reader("answers", read_answers, answer_samples(), "words"),
        Reader("form", read_form, form_samples(), "form"),
    )
    return {reader.name: reader for reader in found}
