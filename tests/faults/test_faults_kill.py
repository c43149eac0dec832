"""Killed at random moments: what was acknowledged stands, what is there is whole, and it goes on.

A kill takes the program, not the machine, as in `tests/diary/test_diary_durability.py`, where the
diary alone is looked at. Here the commands are killed as they are typed.
"""

from __future__ import annotations

import json
import os
import shutil
import signal
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from sqlite3 import connect

import icalendar
import pytest

from fruitcast.app.known import read_known
from fruitcast.app.publication import CALENDAR, INPUTS, last_plan, publish
from fruitcast.diary.backup import backups
from fruitcast.diary.book import Diary, read_events
from fruitcast.diary.database import VERSION
from fruitcast.diary.events import Event
from fruitcast.diary.kept_plan import PLAN, kept_plan
from fruitcast.outputs.calendar_state import CalendarState
from fruitcast.outputs.ical import calendar_bytes
from fruitcast.yard.reading import read_yard
from tests.cli.running import change, contents, done
from tests.diary.diary_samples import first_version, version_of
from tests.faults import children
from tests.faults.conftest import QUICK, TODAY
from tests.faults.nursery import Ended, Nursery
from tests.faults.servers import Calendar, calendar_handler, files_handler, serving
from tests.weather.station_server import packed, year_csv

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that forks")


def yard_words(folder: Path, day: str = TODAY) -> list[str]:
    return ["--yard", str(folder), "--today", day]


# --- record --------------------------------------------------------------------------------------


def kill_records(nursery: Nursery, yard: Path, kills: int) -> tuple[int, int]:
    """Kill records one after another; return how many were acknowledged, and how many killed."""
    notes: list[str] = []
    killed = 0
    within = 2 * nursery.pace("commands", [[*yard_words(yard), "record", "note", "at rest"]])
    before = Counter(event.note for event in read_events(yard / "diary.db"))
    for number in range(kills):
        # Every third falls on another day, so that backups are made too.
        day = date.fromisoformat(TODAY) + timedelta(days=number // 3)
        words = [*yard_words(yard, day.isoformat()), "record"]
        lines = [[*words, "note", f"kill {number} line {k}"] for k in range(40)]
        ended = nursery.kill("commands", lines, within=within)
        killed += ended.code == -9
        said = [line for line in ended.lines if line.startswith("done ")]
        # The machine may be busier now than when the pace was taken.
        within *= 0.8 if said else 1.5
        notes += [f"kill {number} line {k}" for k in range(len(said))]
        with Diary(yard / "diary.db") as diary:
            diary.check()
            found = Counter(event.note for event in diary.events()) - before
        assert set(notes) <= set(found), f"kill {number} lost a record"
        assert set(found.values()) <= {1}, f"kill {number} wrote a record twice"
        assert all(event.uuid for event in read_events(yard / "diary.db"))
    for copy in backups(yard / "diary.db"):
        with Diary(copy) as diary:
            diary.check()
    assert done(*yard_words(yard), "check").code == 0
    return len(notes), killed


def test_no_acknowledged_record_is_lost_in_ten_kills_of_the_command(planned, nursery):
    acknowledged, killed = kill_records(nursery, planned, 10)
    assert acknowledged > 0 and killed > 4


@pytest.mark.long
def test_no_acknowledged_record_is_lost_in_500_kills_of_the_command(
    planned_once, tmp_path, nursery
):
    total = 0
    for part in range(10):
        folder = tmp_path / str(part)
        folder.mkdir()
        shutil.copytree(planned_once, folder / "yard")
        total += kill_records(nursery, folder / "yard", 50)[0]
    assert total > 100


def at_once(tasks: list[tuple]) -> list[Ended]:
    """Let children of several nurseries do their tasks at the same time."""
    with ThreadPoolExecutor(len(tasks)) as pool:
        return list(pool.map(lambda task: task[0].run(*task[1:]), tasks))


def test_two_commands_recording_at_once_both_stand(planned, nursery, other_nursery):
    lines = {
        name: [[*yard_words(planned), "record", "note", f"{name} {k}"] for k in range(10)]
        for name in ("one", "other")
    }
    ended = at_once(
        [(nursery, "commands", lines["one"]), (other_nursery, "commands", lines["other"])]
    )
    assert [each.code for each in ended] == [0, 0], ended
    notes = Counter(event.note for event in read_events(planned / "diary.db"))
    assert all(notes[line[-1]] == 1 for name in lines for line in lines[name])


# --- plan ----------------------------------------------------------------------------------------


def check_published(yard: Path) -> None:
    """Check that each file is whole, and that what the diary keeps belongs together."""
    file = yard / "out" / "calendar.ics"
    for event in icalendar.Calendar.from_ical(file.read_bytes()).walk("VEVENT"):
        assert event["UID"] and event["SUMMARY"]
    seed = children.seed_of(yard)
    assert seed >= 1
    assert (yard / "out" / "plan.csv").read_bytes().endswith(b"\n")
    with Diary(yard / "diary.db") as diary:
        diary.check()
        plan, calendar = diary.latest_document(PLAN), diary.latest_document(CALENDAR)
    assert plan is not None and calendar is not None
    calendar_bytes(CalendarState.from_json(calendar))


def kill_publications(nursery: Nursery, yard: Path, kills: int) -> int:
    """Kill publications one after another; return how many were acknowledged."""
    told = 0
    today = date.fromisoformat(TODAY)
    known = read_yard(yard)
    nursery.load(yard, TODAY)
    within = 3 * nursery.pace("publish_often", yard, 7, 1)
    for number in range(kills):
        begin = 100_000 * (number + 1)
        ended = nursery.kill("publish_often", yard, begin, 10_000, within=within)
        seeds = [int(line) for line in ended.lines if line.isdigit()]
        told += len(seeds)
        within *= 0.8 if seeds else 1.5
        check_published(yard)
        kept = last_plan(known, today)
        assert kept is not None
        with Diary(yard / "diary.db") as diary:
            inputs = diary.latest_document(INPUTS)
        if seeds or kept.seed >= begin:
            # One transaction: plan and what it was made from are of the same publication.
            assert inputs == f"inputs of {kept.seed}"
            last = seeds[-1] if seeds else begin - 1
            assert kept.seed in (last, last + 1)
            # The files are a step ahead of the diary at most.
            assert children.seed_of(yard) - last in (0, 1)
    return told


def test_a_publication_killed_midway_leaves_whole_files_and_one_plan(planned, nursery):
    before = last_plan(read_yard(planned), date.fromisoformat(TODAY))
    assert before is not None
    assert kill_publications(nursery, planned, 8) > 2
    done(*yard_words(planned), "plan", *QUICK)
    after = last_plan(read_yard(planned), date.fromisoformat(TODAY))
    assert after is not None
    assert after.soaks == before.soaks
    check_published(planned)


@pytest.mark.long
def test_500_publications_killed_midway_leave_whole_files_and_one_plan(planned, nursery):
    assert kill_publications(nursery, planned, 500) > 200


def test_a_plan_killed_midway_is_made_again_as_if_nothing_had_been(planned, tmp_path, nursery):
    undisturbed = tmp_path / "undisturbed"
    shutil.copytree(planned, undisturbed)
    words = [*yard_words(planned, "2027-05-04"), "plan", *map(str, QUICK)]
    for _ in range(3):
        nursery.kill("command", words, within=0.5)
        check_published(planned)
    for folder in (planned, undisturbed):
        done(*yard_words(folder, "2027-05-04"), "plan", *QUICK)
    ours, theirs = contents(planned / "out"), contents(undisturbed / "out")
    assert {k: v for k, v in ours.items() if k in theirs} == theirs


# --- weather fetch -------------------------------------------------------------------------------


def test_a_fetch_killed_midway_goes_on_where_it_was(planned, tmp_path, nursery):
    change(planned / "yard.toml", 'file = "weather.csv"', 'station = "AAA"')
    change(planned / "yard.toml", "years = 5", "years = 3")
    files = {
        f"/daily/{year}/AAA.csv.gz": packed(year_csv(year, until=date(2027, 5, 2)))
        for year in range(2020, 2028)
    }
    words = [*yard_words(planned), "--json", "weather", "fetch"]
    with serving(files_handler(files)) as address:
        undisturbed = tmp_path / "undisturbed"
        shutil.copytree(planned, undisturbed)
        right = nursery.run("fetch", address, [*yard_words(undisturbed), *words[4:]])
        assert right.code == 0, right.printed
        for _ in range(3):
            nursery.kill("fetch", address, words, within=0.7)
        after = nursery.run("fetch", address, words)
    assert after.code == 0, after.printed
    assert after.printed == right.printed


# --- migration -----------------------------------------------------------------------------------


def kill_migrations(nursery: Nursery, folder: Path, kills: int) -> Counter[int]:
    """Kill migrations of one diary, each from the start; return the versions that were left."""
    file = folder / "diary.db"
    before = read_events(first_version(file))
    with Diary(file) as diary:
        documents = [diary.latest_document(kind) for kind in (PLAN, CALENDAR, INPUTS)]
    begun = time.monotonic()
    assert nursery.run("migrate", file).code == 0
    within = time.monotonic() - begun
    seen: Counter[int] = Counter()
    for number in range(kills):
        for old in folder.glob("diary.*"):
            old.unlink()
        first_version(file)
        ended = nursery.kill("migrate", file, within=within)
        with closing(connect(file)) as raw:
            version = raw.execute("PRAGMA user_version").fetchone()[0]
            assert raw.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
            tables = {row[0] for row in raw.execute("SELECT name FROM sqlite_master")}
        assert "new_events" not in tables
        assert ("foretold" in tables) == (version >= 2), number
        assert version == VERSION or not ended.lines
        copies = backups(file)
        assert version == 1 or copies, "migrated without a backup"
        for copy in copies:
            assert read_events(copy) == before
            assert version_of(copy) == 1
        # Whoever comes next finds all that was there, and brings it to an end.
        with Diary(file) as diary:
            diary.check()
            found = diary.events()
            assert found[: len(before)] == before
            assert [event.note for event in found[len(before) :]][: len(ended.lines)] == ended.lines
            assert [diary.latest_document(kind) for kind in (PLAN, CALENDAR, INPUTS)] == documents
            diary.add([Event("note", date(2027, 5, 5), note="on")], datetime.now(UTC))
        assert version_of(file) == VERSION
        seen[version] += 1
        # Sooner or later the next time, so that about half of the kills come before its end.
        within *= 0.8 if version == VERSION else 1.25
    return seen


def test_a_migration_killed_midway_is_done_wholly_or_not_at_all(tmp_path, nursery):
    seen = kill_migrations(nursery, tmp_path, 10)
    assert seen[1] > 1 and seen[VERSION] > 1, seen


@pytest.mark.long
def test_100_migrations_killed_midway_are_done_wholly_or_not_at_all(tmp_path, nursery):
    seen = kill_migrations(nursery, tmp_path, 100)
    assert seen[1] > 20 and seen[VERSION] > 20, seen


def test_two_programs_migrating_at_once_both_write(tmp_path, nursery, other_nursery):
    file = first_version(tmp_path / "diary.db")
    before = read_events(file)
    for _ in range(5):
        for old in tmp_path.glob("diary.*"):
            old.unlink()
        first_version(file)
        ended = at_once([(nursery, "migrate", file), (other_nursery, "migrate", file)])
        assert [each.code for each in ended] == [0, 0], ended
        notes = Counter(event.note for event in read_events(file)[len(before) :])
        assert notes == {"migrated": 2, "written": 2}
        assert version_of(file) == VERSION
        (copy,) = backups(file)
        assert version_of(copy) == 1 and read_events(copy) == before


# --- calendar --push -----------------------------------------------------------------------------


def wanted_titles(yard: Path) -> list[str]:
    with Diary(yard / "diary.db") as diary:
        text = diary.latest_document(CALENDAR)
    assert text is not None
    state = CalendarState.from_json(text)
    return sorted(e.reminder.summary for e in state.events if e.cancelled_on is None)


def publish_moved(yard: Path, days: int, left_out: int) -> None:
    """Publish the plan with every soak so many days later and the first ones left out."""
    today = date.fromisoformat(TODAY)
    known = read_known(yard, today, 60)
    plan = last_plan(known.yard, today)
    assert plan is not None

    def moved(value: object) -> object:
        if isinstance(value, dict):
            return {key: moved(inner) for key, inner in value.items()}
        if isinstance(value, str) and len(value) == 10 and value[4] == value[7] == "-":
            return (date.fromisoformat(value) + timedelta(days=days)).isoformat()
        return value

    document = plan.plain()
    document["soaks"] = [moved(soak) for soak in document["soaks"][left_out:]]
    publish(kept_plan(json.dumps(document)), known.yard, known.state, today)


FOREIGN = (
    b"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:x\r\nBEGIN:VEVENT\r\nUID:foreign\r\n"
    b"DTSTAMP:20270101T000000Z\r\nDTSTART;VALUE=DATE:20270601\r\nSUMMARY:Dentist\r\n"
    b"END:VEVENT\r\nEND:VCALENDAR\r\n"
)


def test_a_push_killed_midway_is_put_right_though_the_plan_has_changed(planned, nursery):
    """The server has carried out a write whose answer never came, and then the plan changes."""
    calendar = Calendar()
    calendar.put("foreign.ics", FOREIGN)
    left = [0]

    def stop() -> None:
        left[0] -= 1
        if left[0] == 0:
            os.kill(nursery.child, signal.SIGKILL)

    calendar.before_answer = stop
    with serving(calendar_handler(calendar)) as address:
        given = (planned, TODAY, f"{address}/cal/")
        first = nursery.run("push", *given)
        assert first.code == 0, first.printed
        for writes in (1, 3):
            # Other dates, some events gone, some new: that push is killed midway.
            publish_moved(planned, days=writes, left_out=1)
            left[0] = writes
            assert nursery.run("push", *given).code == -9
            # And others again, so that what the killed push did is no longer wanted.
            publish_moved(planned, days=1, left_out=0)
            last = nursery.run("push", *given)
            assert last.code == 0, last.printed
            assert "by someone else" not in last.printed
            assert calendar.titles() == sorted([*wanted_titles(planned), "Dentist"])
            assert calendar.events["foreign.ics"] == FOREIGN
        again = nursery.run("push", *given)
        assert "0 created, 0 updated, 0 deleted" in again.printed
