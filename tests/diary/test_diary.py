"""The diary's file: what is written stays, and damage is said."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from fruitcast.diary.backup import KEPT, backup_file, backups, restore_backup
from fruitcast.diary.book import Diary, read_events
from fruitcast.diary.database import VERSION
from fruitcast.diary.events import Event
from fruitcast.errors import FaultsError, InputError
from tests.diary.diary_samples import NOW, TODAY, day, entry

EVERY_FIELD = Event(
    kind="pick",
    on=day("05-04"),
    stack="H/1",
    logs=3,
    hours=1.5,
    kg=0.1 + 0.2,
    start_kg=15.875,
    moisture_wet=0.42,
    mm=12.7,
    litres=99.9,
    picked_on=day("05-01"),
    grade="2",
    outlet="Saturday märket",
    into="B",
    sample="1",
    findings=("white ends", "loose bark"),
    note='=SUM(A1) "quoted"\nsecond line 🍄',
    uuid="chosen",
    recorded_at=datetime(2027, 5, 1, 12, tzinfo=UTC),
)


@pytest.fixture
def file(tmp_path):
    return tmp_path / "diary.db"


def write(file, *events, now=NOW):
    with Diary(file) as diary:
        return diary.add(events, now)


def test_what_is_written_is_read_back(file):
    undo = entry("undo", "05-05", cancels="chosen")
    write(file, EVERY_FIELD, undo)
    first, second = read_events(file)
    assert first == EVERY_FIELD
    assert second == replace(undo, uuid=second.uuid, recorded_at=NOW)
    assert len(second.uuid) == 36


def test_entries_stand_in_the_order_written(file):
    for n in range(5):
        write(file, entry("rain", "05-04", mm=float(n)))
    assert [event.mm for event in read_events(file)] == [0, 1, 2, 3, 4]
    with Diary(file) as diary:
        assert diary.last_entry() == 5


def test_reading_a_yard_without_a_diary_makes_no_file(file):
    with Diary(file) as diary:
        assert diary.events() == ()
        assert diary.last_entry() == 0
        assert diary.latest_document("plan") is None
        diary.check()
    assert not list(file.parent.iterdir())


def test_an_empty_file_is_version_0_and_is_migrated_at_the_first_entry(file):
    file.touch()
    assert read_events(file) == ()
    write(file, entry("note", "05-04", note="begun"))
    with closing(sqlite3.connect(file)) as raw:
        assert raw.execute("PRAGMA user_version").fetchone() == (VERSION,)
        assert raw.execute("PRAGMA journal_mode").fetchone() == ("wal",)
        assert raw.execute("PRAGMA foreign_key_list(events)").fetchone()[2] == "events"
    assert len(read_events(file)) == 1


def test_a_later_versions_diary_is_refused(file):
    write(file, entry("note", "05-04", note="x"))
    with closing(sqlite3.connect(file)) as raw:
        raw.execute("PRAGMA user_version = 99")
    with pytest.raises(InputError, match=r"schema 99, this one knows \d+\). Install the later"):
        read_events(file)


def test_another_programs_database_is_refused_and_left_alone(file):
    with closing(sqlite3.connect(file)) as raw:
        raw.execute("CREATE TABLE contacts (name)")
    before = file.read_bytes()
    with pytest.raises(InputError, match="another program, not a diary"):
        read_events(file)
    with pytest.raises(InputError, match="another program, not a diary"):
        write(file, entry("note", "05-04", note="x"))
    assert file.read_bytes() == before


@pytest.mark.parametrize("statement", ["UPDATE events SET kg = 9", "DELETE FROM events"])
def test_entries_are_never_changed_or_deleted(file, statement):
    write(file, EVERY_FIELD)
    with (
        closing(sqlite3.connect(file)) as raw,
        pytest.raises(sqlite3.IntegrityError, match="never"),
    ):
        raw.execute(statement)


@pytest.mark.parametrize(
    ("event", "message"),
    [
        (entry("dance", "05-04"), "kind 'dance' is not one of soak, pull"),
        (entry("pick", "05-04", "A"), "a pick entry needs 'kg'"),
        (entry("pick", "05-04", kg=1.0), "a pick entry needs 'stack'"),
        (entry("pick", "05-04", "A", kg=0.0), "kg is 0, a pick entry needs a weight above 0"),
        (entry("pick", "05-04", "A", kg=float("nan")), "kg is nan, expected"),
        (entry("stock", "05-04", kg=-1.0), "kg is -1, expected 0 to a million"),
        (entry("soak", "05-04", "A", logs=10**9), r"logs is 1e\+09, expected"),
        (entry("weigh", "05-04", "A", kg=9.0, start_kg=9.0), "belong together"),
        (entry("split", "05-04", "A", logs=0, into="K"), "a split needs one or more"),
        (entry("inspect", "05-04", "A", findings=("dry rot",)), "finding 'dry rot' is not one of"),
        (entry("note", "05-04", note="x" * 2001), "note has 2001 characters, at most 2000"),
        (entry("note", "05-04", note="a\x00b"), "note holds a zero character"),
        (entry("note", "05-04", note="\udc80"), "characters that are no text"),
        (entry("rain", "0001-01-01", mm=1.0), "on is 0001-01-01, expected a day from 1950"),
    ],
)
def test_unfit_entries_are_named_and_nothing_is_written(file, event, message):
    with pytest.raises(FaultsError, match=message) as caught:
        write(file, entry("note", "05-04", note="fit"), event)
    assert "entry 2" in str(caught.value)
    assert "Nothing was recorded" in str(caught.value)
    assert not file.exists()


def test_the_database_itself_holds_an_undo_to_what_it_cancels(file):
    write(file, EVERY_FIELD)
    with closing(sqlite3.connect(file)) as raw:
        for kind, cancels in (("undo", "NULL"), ("note", "'chosen'")):
            with pytest.raises(sqlite3.IntegrityError, match="CHECK"):
                raw.execute(
                    'INSERT INTO events (kind, "on", cancels, uuid, recorded_at) '
                    f"VALUES ('{kind}', '2027-05-04', {cancels}, '{kind}', 'x')"
                )


def test_the_same_entry_is_not_written_twice(file):
    write(file, EVERY_FIELD)
    with pytest.raises(InputError, match="pick of 2027-05-04 is already in the diary"):
        write(file, entry("note", "05-04", note="new"), EVERY_FIELD)
    assert len(read_events(file)) == 1


def test_an_undo_of_nothing_is_refused(file):
    with pytest.raises(InputError, match="cancels an entry that is not in the diary"):
        write(file, entry("undo", "05-05", cancels="unheard of"))
    assert read_events(file) == ()


def test_a_moment_without_time_zone_is_a_mistake_of_the_caller(file):
    with pytest.raises(ValueError, match="time zone"):
        write(file, EVERY_FIELD, now=datetime(2027, 5, 4))


def test_documents_the_last_of_a_kind_and_as_of_a_day(file):
    with Diary(file) as diary:
        diary.save_document("plan", day("05-01"), "first")
        diary.save_document("plan", day("05-03"), "second")
        diary.save_document("plan", day("05-03"), "second, corrected")
        diary.save_document("calendar", day("05-04"), "feed")
        assert diary.latest_document("plan") == "second, corrected"
        assert diary.latest_document("plan", as_of=day("05-02")) == "first"
        assert diary.latest_document("plan", as_of=day("04-01")) is None
        assert diary.latest_document("calendar") == "feed"
        # What was saved last is the latest, whatever day it bears.
        diary.save_document("calendar", day("05-01"), "saved later")
        assert diary.latest_document("calendar") == "saved later"


def test_a_backup_is_made_before_the_first_entry_of_a_day(file):
    write(file, entry("note", "05-04", note="1"), now=NOW)
    assert backups(file) == ()  # there was nothing to save
    tomorrow = NOW + timedelta(days=1)
    write(file, entry("note", "05-04", note="2"), now=tomorrow)
    write(file, entry("note", "05-04", note="3"), now=tomorrow)
    (copy,) = backups(file)
    assert copy == backup_file(file, TODAY + timedelta(days=1))
    assert [event.note for event in read_events(copy)] == ["1"]


def test_the_newest_backups_are_kept(file):
    for n in range(KEPT + 4):
        write(file, entry("note", "05-04", note=str(n)), now=NOW + timedelta(days=n))
    kept = backups(file)
    assert len(kept) == KEPT
    assert kept[0].name == "diary.backup-2027-05-17.db"
    assert {path.name for path in file.parent.iterdir()} == {
        "diary.db",
        *(path.name for path in kept),
    }


def three_days(file):
    for n in range(3):
        write(file, entry("note", "05-04", note=str(n)), now=NOW + timedelta(days=n))


def overwrite(file):
    file.write_bytes(b"no database " * 400)


def cut(file):
    file.write_bytes(file.read_bytes()[:6000])


def empty(file):
    file.write_bytes(b"")


def scramble(file):
    data = bytearray(file.read_bytes())
    data[4096:] = bytes(reversed(data[4096:]))
    file.write_bytes(bytes(data))


@pytest.mark.parametrize("damage", [overwrite, cut, empty, scramble])
def test_damage_is_said_names_the_backup_and_can_be_restored(file, damage):
    three_days(file)
    damage(file)
    broken = file.read_bytes()
    words = r"the diary is damaged .*newest backup is diary\.backup-2027-05-09\.db: 'fruitcast"
    with pytest.raises(InputError, match=words):
        read_events(file)
    with pytest.raises(InputError, match=words):
        write(file, entry("note", "05-04", note="more"), now=NOW + timedelta(days=5))
    assert len(backups(file)) == 2  # no backup was made of a damaged file

    restored = restore_backup(file)
    assert restored.backup == backups(file)[0]
    assert restored.rescued == 0
    assert restored.set_aside is not None
    assert restored.set_aside.read_bytes() == broken
    assert [event.note for event in read_events(file)] == ["0", "1"]
    write(file, entry("note", "05-04", note="goes on"))
    assert len(read_events(file)) == 3


def test_a_changed_value_in_a_sound_database_is_said(file):
    three_days(file)
    with closing(sqlite3.connect(file)) as raw:
        raw.execute("DROP TRIGGER events_are_never_changed")
        raw.execute("UPDATE events SET \"on\" = '2027-13-39'")
        raw.commit()
    with pytest.raises(InputError, match=r"the diary is damaged \(month must be in"):
        read_events(file)
    with pytest.raises(InputError, match="the diary is damaged"), Diary(file) as diary:
        diary.check()


def test_a_vanished_diary_is_not_read_as_an_empty_one(file):
    three_days(file)
    file.unlink()
    with pytest.raises(InputError, match=r"it is missing, but a backup is there. The newest"):
        read_events(file)
    assert restore_backup(file).set_aside is None
    assert len(read_events(file)) == 2


def test_damage_without_a_backup_points_to_the_export(file):
    overwrite(file)
    with pytest.raises(InputError, match="There is no backup beside it: import the last CSV"):
        read_events(file)
    with pytest.raises(InputError, match=r"no usable backup beside it \(found: none\)"):
        restore_backup(file)


def test_a_damaged_backup_is_passed_over(file):
    three_days(file)
    overwrite(backups(file)[0])
    restored = restore_backup(file)
    assert restored.backup.name == "diary.backup-2027-05-08.db"
    # The diary itself was sound: what it had since is not lost by a needless restoring.
    assert restored.rescued == 2
    assert [event.note for event in read_events(file)] == ["0", "1", "2"]


def test_a_writer_waits_for_another_and_gives_up_with_a_message(file, monkeypatch):
    monkeypatch.setattr("fruitcast.diary.book.BUSY_SECONDS", 0.05)
    write(file, EVERY_FIELD)
    with closing(sqlite3.connect(file, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(InputError, match=r"in use by another program for over 0.05 s"):
            write(file, entry("note", "05-04", note="x"))
        other.execute("ROLLBACK")
    write(file, entry("note", "05-04", note="x"))


def test_a_folder_that_does_not_exist_is_said(tmp_path):
    with pytest.raises(InputError, match=r"cannot be written .*Check the folder"):
        write(tmp_path / "none" / "diary.db", EVERY_FIELD)


def test_a_path_with_odd_characters(tmp_path):
    folder = tmp_path / "Nüss & lärch #1? 100%"
    folder.mkdir()
    write(folder / "diary.db", EVERY_FIELD)
    assert read_events(folder / "diary.db") == (EVERY_FIELD,)
    assert (folder / "diary.db").exists()


def test_two_open_diaries_see_each_others_entries(file):
    with Diary(file) as one, Diary(file) as two:
        one.add([entry("note", "05-04", note="1")], NOW)
        assert two.last_entry() == 1
        two.add([entry("note", "05-04", note="2")], NOW)
        assert [event.note for event in one.events()] == ["1", "2"]
        one.check()


def test_the_same_moment_in_another_time_zone_is_the_same(file):
    elsewhere = datetime.fromisoformat("2027-05-07T13:30:00.9-04:00")
    (written,) = write(file, entry("note", "05-04", note="1"), now=elsewhere)
    assert written.recorded_at == NOW
    assert read_events(file) == (written,)


def test_days_are_kept_to_the_day(file):
    write(file, entry("note", "2028-02-29", note="leap"))
    assert read_events(file)[0].on == date(2028, 2, 29)


def test_a_copy_on_a_read_only_disk_is_read_without_side_files(file, monkeypatch):
    write(file, EVERY_FIELD)
    monkeypatch.setattr("os.access", lambda path, mode: False)
    with Diary(file) as diary:
        assert diary.events() == (EVERY_FIELD,)
        assert [path.name for path in file.parent.iterdir()] == ["diary.db"]
        with pytest.raises(InputError, match=r"cannot be written .*readonly"):
            diary.add([entry("note", "05-04", note="x")], NOW)
