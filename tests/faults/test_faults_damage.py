"""Files that were damaged: found, said, restored, and nothing lost that could still be read."""

from __future__ import annotations

import os
import re
import sqlite3
from contextlib import closing
from datetime import UTC, date, datetime, timedelta

import pytest

from fruitcast.app.publication import last_calendar
from fruitcast.app.serving import feed_bytes
from fruitcast.diary.backup import backups, restore_backup
from fruitcast.diary.book import Diary, read_events
from fruitcast.diary.events import Event
from fruitcast.errors import InputError
from fruitcast.outputs.calendar_state import CalendarState
from tests.cli.running import contents, done, run
from tests.faults.conftest import QUICK, TODAY
from tests.faults.servers import Calendar, calendar_handler, serving

NOON = datetime(2027, 5, 3, 12, tzinfo=UTC)


def diary_of(file, days: int, each: int = 30) -> list[str]:
    """Write some entries on each of some days; return their notes."""
    notes = []
    for day in range(days):
        marks = [f"day {day} entry {k} {'x' * 60}" for k in range(each)]
        with Diary(file) as diary:
            diary.add(
                [Event("note", date(2027, 5, 3), note=mark) for mark in marks],
                NOON + timedelta(days=day),
            )
        notes += marks
    with closing(sqlite3.connect(file)) as raw:
        raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return notes


def spoil(file, begin: float, length: int = 3000) -> None:
    """Overwrite a part in the middle of a file."""
    data = bytearray(file.read_bytes())
    at = int(begin * len(data))
    data[at : at + length] = b"\xa5" * len(data[at : at + length])
    file.write_bytes(bytes(data))


@pytest.mark.parametrize("begin", [0.1, 0.25, 0.4, 0.55, 0.7, 0.85, 0.97])
def test_what_can_still_be_read_of_a_damaged_diary_is_rescued(tmp_path, begin):
    file = tmp_path / "diary.db"
    notes = diary_of(file, days=4)
    spoil(file, begin)
    try:
        with Diary(file) as diary:
            diary.check()
    except InputError as error:
        assert re.search(r"the diary is damaged.*'fruitcast diary restore'", str(error))
    restored = restore_backup(file)
    found = [event.note for event in read_events(file)]
    with Diary(file) as diary:
        diary.check()
    # The backup's three days stand in any case, and of the last day a run from its beginning.
    assert found == notes[: len(found)]
    assert len(found) == 90 + restored.rescued
    assert restored.set_aside is not None and restored.set_aside.exists()


def test_younger_entries_are_rescued_when_only_an_old_part_is_damaged(tmp_path):
    file = tmp_path / "diary.db"
    notes = diary_of(file, days=4)
    with closing(sqlite3.connect(file)) as raw:  # the index of the identities alone is spoilt
        page = raw.execute(
            "SELECT rootpage FROM sqlite_master WHERE type = 'index' AND tbl_name = 'events'"
        ).fetchone()[0]
        size = raw.execute("PRAGMA page_size").fetchone()[0]
    data = bytearray(file.read_bytes())
    data[(page - 1) * size : page * size] = bytes(size)
    file.write_bytes(bytes(data))
    with pytest.raises(InputError, match="the diary is damaged"), Diary(file) as diary:
        diary.check()
    assert restore_backup(file).rescued == 30
    assert [event.note for event in read_events(file)] == notes


def test_a_named_backup_is_taken_as_it_is(tmp_path):
    file = tmp_path / "diary.db"
    notes = diary_of(file, days=4)
    oldest = backups(file)[-1]
    restored = restore_backup(file, oldest)
    assert (restored.backup, restored.rescued) == (oldest, 0)
    assert [event.note for event in read_events(file)] == notes[:30]


def test_a_damaged_diary_is_said_by_every_command_and_one_command_puts_it_right(planned):
    before = read_events(planned / "diary.db")
    done("--yard", planned, "--today", TODAY, "plan", *QUICK)
    calm = contents(planned / "out")
    (planned / "diary.db").write_bytes(b"not a database at all" * 1000)
    for side in ("diary.db-wal", "diary.db-shm"):
        (planned / side).unlink(missing_ok=True)
    for words in (("plan", *QUICK), ("week",), ("stacks",), ("check",), ("record", "note", "x")):
        ran = run("--yard", planned, "--today", TODAY, *words)
        assert ran.code == 1
        messages = [line for line in ran.err.splitlines() if not line.startswith("Note: ")]
        assert len(messages) == 1 and "'fruitcast diary restore'" in messages[0], words
    assert contents(planned / "out") == calm
    restored = done("--yard", planned, "--today", TODAY, "diary", "restore")
    assert "The former diary is kept as diary.set-aside-1.db" in " ".join(restored.out.split())
    assert read_events(planned / "diary.db") == before  # a backup was made before the plan
    assert done("--yard", planned, "--today", TODAY, "plan", *QUICK).code == 0


def test_a_damaged_plan_in_the_diary_is_one_message_and_the_next_plan_is_made_afresh(planned):
    with closing(sqlite3.connect(planned / "diary.db")) as raw:
        raw.execute("UPDATE documents SET text = substr(text, 1, 500) WHERE kind = 'plan'")
        raw.commit()
    message = "The published plan kept in the diary cannot be read (it: invalid JSON: "
    ran = run("--yard", planned, "--today", TODAY, "calendar")
    assert ran.code == 1 and ran.err.count(message) == 1 and len(ran.err.splitlines()) == 1
    ran = done("--yard", planned, "--today", TODAY, "plan", *QUICK)
    assert " ".join(ran.err.split()).count(message) == 1
    ran = done("--yard", planned, "--today", TODAY, "calendar")
    assert message not in ran.err


def test_a_damaged_calendar_is_passed_over_for_the_one_before(planned):
    day = date(2027, 5, 3)
    with Diary(planned / "diary.db") as diary:
        before = diary.latest_document("calendar")
        diary.save_document("calendar", day + timedelta(days=1), before[: len(before) // 2])
        assert last_calendar(diary) == CalendarState.from_json(before)
    assert b"BEGIN:VEVENT" in feed_bytes(planned)
    tomorrow = str(day + timedelta(days=1))
    assert done("--yard", planned, "--today", tomorrow, "plan", *QUICK).code == 0
    with Diary(planned / "diary.db") as diary:
        after = CalendarState.from_json(diary.latest_document("calendar"))
    kept = {event.uid for event in CalendarState.from_json(before).events}
    assert kept & {event.uid for event in after.events}


@pytest.mark.skipif(os.name != "posix", reason="needs permissions")
def test_diary_and_backups_are_their_owners_alone(tmp_path):
    file, mask = tmp_path / "diary.db", os.umask(0o022)
    try:
        for number in range(3):
            moment = datetime(2027, 5, 3 + number, tzinfo=UTC)
            with Diary(file) as diary:
                diary.add([Event("note", date(2027, 5, 3), note=f"{number}")], moment)
                files = tmp_path.glob("diary*")
                modes = {path.name: path.stat().st_mode & 0o777 for path in files}
                assert set(modes.values()) == {0o600}, modes
        assert len(backups(file)) == 2
        restore_backup(file)
        assert file.stat().st_mode & 0o777 == 0o600
    finally:
        os.umask(mask)


def test_after_a_damaged_record_of_the_last_push_every_event_is_compared(planned, monkeypatch):
    monkeypatch.setenv("FRUITCAST_CALDAV_PASSWORD", "secret")
    with serving(calendar_handler(Calendar())) as address:
        words = ("calendar", "--push", f"{address}/cal/", "--user", "grower")
        first = done("--yard", planned, "--today", TODAY, "--json", *words).document["push"]
        with closing(sqlite3.connect(planned / "diary.db")) as raw:
            raw.execute("UPDATE documents SET text = '{' WHERE kind LIKE 'pushed to %'")
            raw.commit()
        ran = done("--yard", planned, "--today", TODAY, "--json", *words)
        assert ran.err.count("state of the calendar server cannot be read") == 1
        again = done("--yard", planned, "--today", TODAY, "--json", *words)
        assert "cannot be read" not in again.err
    for push in (ran.document["push"], again.document["push"]):
        assert push["unchanged"] == len(first["created"]) > 0
        assert not any(push[what] for what in ("created", "updated", "deleted", "conflicts"))


@pytest.mark.long
def test_a_kept_season_of_the_hindcast_that_is_damaged_is_lived_through_again(planned):
    words = ("--yard", planned, "--today", TODAY, "--json", "hindcast", "--years", 1, "--weeks", 4)
    right = done(*words).document
    kept = list((planned / ".hindcast").iterdir())
    assert kept
    for file in kept:
        file.write_bytes(file.read_bytes()[:50])
    assert done(*words).document["seasons"] == right["seasons"]
