"""A disk that is full or may not be written to: nothing is lost, one message, and then it works."""

from __future__ import annotations

import json
import os
import sqlite3
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from fruitcast.app.known import read_known
from fruitcast.app.publication import last_plan, publish
from fruitcast.app.serving import Clock, feed_bytes
from fruitcast.diary.book import Diary, read_events
from fruitcast.errors import FruitcastError, OutputError
from fruitcast.web.access import AccessFile
from fruitcast.web.application import create_app
from tests.cli.running import Ran, contents, run
from tests.faults.conftest import QUICK, TODAY

WRITING = [
    ("plan", *QUICK),
    ("record", "pick", "A", "2 lb", "--yes"),
    ("record", "undo"),
    ("calendar",),
    ("report",),
    ("weather", "import", "WEATHER"),
    ("diary", "export", "YARD/exported.csv"),
    ("diary", "restore", "--yes"),
    ("serve", "--new-feed"),
    ("new", "YARD/another"),
]


def given(words, yard: Path, weather: Path) -> list[object]:
    return [str(word).replace("YARD", str(yard)).replace("WEATHER", str(weather)) for word in words]


def lasting(yard: Path) -> dict[str, bytes]:
    """What must not change: every file but those that the database makes beside itself."""
    return {k: v for k, v in contents(yard).items() if not k.endswith(("-wal", "-shm"))}


def one_message(ran: Ran) -> str:
    """The one message of a command that could not."""
    assert ran.code == 1, (ran.out, ran.err)
    assert ran.out == ""
    (message,) = [line for line in ran.err.splitlines() if not line.startswith("Note: ")]
    assert "A fault of fruitcast itself" not in message and "Traceback" not in ran.err
    return message


def in_yard(yard: Path, *words: object) -> Ran:
    return run("--yard", yard, "--today", TODAY, *words)


@pytest.fixture
def weather(planned_once: Path, tmp_path: Path) -> Path:
    """More weather, on another disk."""
    file = tmp_path / "more.csv"
    file.write_text("date,tmin,tmax,rain\n2005-12-31,1,9,0\n", encoding="utf-8")
    return file


@pytest.mark.parametrize("words", WRITING, ids=lambda words: " ".join(map(str, words[:2])))
def test_a_full_disk_is_said_and_changes_nothing(disk, on_disk, weather, words, monkeypatch):
    monkeypatch.setattr("fruitcast.outputs.report._drawn", lambda *_, **__: "<svg></svg>")
    before, entries = lasting(on_disk), read_events(on_disk / "diary.db")
    disk.fill()
    message = one_message(in_yard(on_disk, *given(words, on_disk, weather)))
    assert "disk is full. Make room" in message or "No space left on device" in message, message
    disk.empty()
    assert lasting(on_disk) == before
    assert read_events(on_disk / "diary.db") == entries
    again = in_yard(on_disk, *given(words, on_disk, weather))
    assert again.code == 0, again.err


@pytest.mark.parametrize(
    "words", [WRITING[k] for k in (1, 3, 5, 7, 9)], ids=lambda words: " ".join(map(str, words[:2]))
)
def test_a_locked_disk_is_said_and_changes_nothing(disk, on_disk, weather, words):
    before = lasting(on_disk)
    disk.lock()
    message = one_message(in_yard(on_disk, *given(words, on_disk, weather)))
    assert "cannot be" in message and ("Check the folder" in message or "Name a folder" in message)
    assert lasting(on_disk) == before
    disk.unlock()
    again = in_yard(on_disk, *given(words, on_disk, weather))
    assert again.code == 0, again.err


def test_a_locked_yard_can_be_read_and_taken_out(disk, on_disk, tmp_path):
    disk.lock()
    for words in (("check",), ("stacks",), ("week",), ("weather", "show"), ("diary", "show")):
        ran = in_yard(on_disk, *words)
        assert ran.code == 0, (words, ran.err)
    ran = in_yard(on_disk, "diary", "export", tmp_path / "diary.csv")
    assert ran.code == 0 and (tmp_path / "diary.csv").exists()


def test_of_a_full_disk_everything_can_be_read(disk, on_disk, tmp_path):
    entries = len(read_events(on_disk / "diary.db"))
    AccessFile(on_disk).read()  # the page was opened before
    disk.fill()
    for words in (("check",), ("stacks",), ("week",), ("weather", "show"), ("diary", "show"), ()):
        ran = in_yard(on_disk, *words)
        assert ran.code == 0, (words, ran.err)
    ran = in_yard(on_disk, "diary", "export", tmp_path / "diary.csv")
    assert ran.code == 0
    assert len((tmp_path / "diary.csv").read_text(encoding="utf-8").splitlines()) > entries
    assert b"BEGIN:VEVENT" in feed_bytes(on_disk)
    page = create_app(on_disk, Clock(lambda: datetime(2027, 5, 3, 16, tzinfo=UTC))).test_client()
    for path in ("/", "/stacks", "/diary", "/supply", "/record/pick"):
        assert page.get(path).status_code == 200, path


def test_however_little_room_there_is_a_record_is_whole_or_refused(disk, on_disk):
    file = on_disk / "diary.db"
    # Another day than the last entry's, so that a backup is due as well.
    outcomes = []
    for number, room in enumerate(range(0, 400_000, 16_384)):
        disk.fill(room)
        mark = f"room {room}"
        ran = run("--yard", on_disk, "--today", "2027-05-04", "record", "note", mark)
        if ran.code:
            assert "disk is full. Make room" in one_message(ran), ran.err
        disk.empty()
        with Diary(file) as diary:
            diary.check()
            written = [event for event in diary.events() if event.note == mark]
        assert len(written) == (ran.code == 0), (number, room, ran.err)
        outcomes.append(ran.code)
    assert outcomes[0] == 1 and outcomes[-1] == 0
    assert not list(on_disk.glob("*.part"))


def test_however_little_room_there_is_a_plan_is_published_whole_or_not_at_all(disk, on_disk):
    today = date.fromisoformat(TODAY)
    known = read_known(on_disk, today, 60)
    first = last_plan(known.yard, today)
    assert first is not None
    names = ("plan.csv", "plan.json", "calendar.ics")
    whole = set()
    for number, room in enumerate(range(0, 700_000, 24_576)):
        before = {name: (on_disk / "out" / name).read_bytes() for name in names}
        stood = last_plan(known.yard, today)
        disk.fill(room)
        wanted = first.model_copy(update={"seed": 1000 + number})
        try:
            publish(wanted, known.yard, known.state, today)
        except FruitcastError as error:
            assert "full" in str(error) or "No space left" in str(error), error
            disk.empty()
            assert {name: (on_disk / "out" / name).read_bytes() for name in names} == before
            assert last_plan(known.yard, today) == stood
            whole.add(False)
        else:
            disk.empty()
            published = json.loads((on_disk / "out" / "plan.json").read_text("utf-8"))
            assert published == wanted.plain()
            assert last_plan(known.yard, today) == wanted
            whole.add(True)
    assert whole == {True, False}
    assert sorted(path.name for path in (on_disk / "out").iterdir()) == sorted(names)


def test_a_full_database_is_said_where_no_disk_can_be_mounted(planned, monkeypatch):
    """The database's own limit stands for the disk's."""
    real = sqlite3.connect

    def limited(*arguments, **options):
        connection = real(*arguments, **options)
        connection.execute("PRAGMA max_page_count = 1")  # the least that holds what is there
        return connection

    entries = read_events(planned / "diary.db")
    monkeypatch.setattr(sqlite3, "connect", limited)
    for _ in range(200):
        ran = in_yard(planned, "record", "note", "x" * 400)
        if ran.code:
            break
    assert "the disk is full. Make room" in one_message(ran)
    monkeypatch.undo()
    kept = read_events(planned / "diary.db")
    assert kept[: len(entries)] == entries
    with Diary(planned / "diary.db") as diary:
        diary.check()


def test_files_that_cannot_be_put_in_place_leave_the_diary_as_it_was(planned, monkeypatch):
    today = date.fromisoformat(TODAY)
    known = read_known(planned, today, 60)
    before, stood = lasting(planned), last_plan(known.yard, today)
    real = Path.replace

    def refuse(self, target):
        if Path(target).name == "calendar.ics":
            raise OSError(5, "Input/output error", str(self))
        return real(self, target)

    monkeypatch.setattr(Path, "replace", refuse)
    with pytest.raises(OutputError, match=r"calendar\.ics: cannot be written \(Input/output"):
        publish(stood.model_copy(update={"seed": 9}), known.yard, known.state, today)
    monkeypatch.undo()
    assert lasting(planned) == before
    assert last_plan(known.yard, today) == stood


def test_a_diary_that_cannot_be_written_leaves_the_published_files(planned, monkeypatch):
    today = date.fromisoformat(TODAY)
    known = read_known(planned, today, 60)
    before, stood = lasting(planned), last_plan(known.yard, today)

    def full(*_):
        raise sqlite3.OperationalError("database or disk is full")

    monkeypatch.setattr(Diary, "save_documents", full)
    with pytest.raises(sqlite3.OperationalError):
        publish(stood.model_copy(update={"seed": 9}), known.yard, known.state, today)
    monkeypatch.undo()
    assert lasting(planned) == before


def test_what_stopped_programs_left_is_cleared_away_later(planned):
    names = (".plan.csv.old.part", ".plan.csv.swp", ".plan.csv.young.part")
    old, editors, young = (planned / "out" / name for name in names)
    for left in (old, editors, young):
        left.write_bytes(b"half")
    for left in (old, editors):
        os.utime(left, (1.0, 1.0))
    assert in_yard(planned, "plan", *QUICK).code == 0
    assert not old.exists() and young.exists() and editors.exists()
