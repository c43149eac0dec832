"""A diary of an earlier version opens for ever, and a later version's entries are never lost."""

from __future__ import annotations

import json
import shutil
import sqlite3
from contextlib import closing
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path

import pytest

from fruitcast.app.publication import CALENDAR, plan_to_go_by, publish, read_last_plan
from fruitcast.diary import database
from fruitcast.diary.backup import backups, restore_backup
from fruitcast.diary.book import Diary, read_events
from fruitcast.diary.events import in_force
from fruitcast.diary.recording import undo_record
from fruitcast.diary.state_from_diary import read_yard_state, yard_state
from fruitcast.diary.tables import export_csv, import_csv
from fruitcast.errors import FaultsError, InputError
from fruitcast.outputs.reminders import ASKED
from fruitcast.yard.reading import read_yard
from tests.cli.running import done
from tests.diary.diary_samples import (
    NOW,
    TODAY,
    entry,
    first_version,
    second_version,
    version_of,
    yard,
)

SAMPLE = Path(__file__).parents[2] / "sample_data"


@pytest.fixture
def old(tmp_path):
    return first_version(tmp_path / "diary.db")


@pytest.fixture
def file(tmp_path):
    return tmp_path / "diary.db"


def write(file, *events, now=NOW):
    with Diary(file) as diary:
        return diary.add(events, now)


def rows(file, sql):
    with closing(sqlite3.connect(file)) as raw:
        return raw.execute(sql).fetchall()


OF_VERSION_1 = (
    'id, kind, "on", stack, logs, hours, kg, start_kg, moisture_wet, mm, litres, picked_on, grade, '
    'outlet, "into", sample, findings, cancels, note, uuid, recorded_at'
)


# --- version 1 -----------------------------------------------------------------------------------


def test_the_tables_of_version_1_are_those_that_it_wrote(old, tmp_path):
    tables = "SELECT type, name, sql FROM sqlite_master WHERE sql IS NOT NULL ORDER BY rowid"
    with closing(sqlite3.connect(tmp_path / "new.db")) as raw:
        for statement in database.MIGRATIONS[0]:
            assert isinstance(statement, str)
            raw.execute(statement)
        assert raw.execute(tables).fetchall() == rows(old, tables)


def test_reading_leaves_a_diary_of_version_1_as_it_is(old):
    before = old.read_bytes()
    with Diary(old) as diary:
        diary.check()
        assert len(diary.events()) == diary.last_entry() == 240
        plan = json.loads(diary.latest_document("plan"))
        assert plan["today"] == "2027-05-04"
        assert json.loads(diary.latest_document("plan", date(2027, 5, 3)))["today"] == "2027-05-03"
    assert old.read_bytes() == before
    assert version_of(old) == 1 and backups(old) == ()


def test_a_diary_of_version_1_is_read_from_a_read_only_disk(old, monkeypatch):
    monkeypatch.setattr("os.access", lambda path, mode: False)
    assert len(read_events(old)) == 240


def test_a_diary_of_version_1_is_migrated_once_and_keeps_all_it_holds(old):
    entries = f"SELECT {OF_VERSION_1} FROM events ORDER BY id"
    before, exported = rows(old, entries), export_csv(read_events(old))
    (added,) = write(old, entry("note", "05-07", note="after"))
    assert rows(old, entries)[:-1] == before
    assert export_csv(read_events(old)[:-1]) == exported
    assert version_of(old) == database.VERSION
    (copy,) = backups(old)
    assert version_of(copy) == 1 and rows(copy, entries) == before
    # Numbers go on where they were, the entries are as safe as before, and undo works.
    assert rows(old, "SELECT max(id) FROM events") == [(241,)]
    told = rows(old, "SELECT * FROM foretold")
    assert told
    undo = undo_record(read_events(old), "us")
    assert undo.event.cancels == added.uuid
    write(old, undo.event)
    assert in_force(read_events(old))[-1].note == "bark peels"
    for statement in ("UPDATE events SET kg = 9", "DELETE FROM events", "DELETE FROM foretold"):
        with pytest.raises(sqlite3.IntegrityError, match="never"):
            rows(old, statement)
    with pytest.raises(InputError, match="cancels an entry that is not in the diary"):
        write(old, entry("undo", "05-07", cancels="unheard of"))
    assert rows(old, "SELECT * FROM foretold") == told
    assert version_of(backups(old)[0]) == 1


def test_an_entry_number_once_given_is_not_given_again(old):
    with closing(sqlite3.connect(old)) as raw:
        raw.execute("UPDATE sqlite_sequence SET seq = 500 WHERE name = 'events'")
        raw.commit()
    write(old, entry("note", "05-07", note="after"))
    with Diary(old) as diary:
        assert diary.last_entry() == 501


def test_a_backup_of_version_1_is_put_back_and_goes_on(old):
    first = read_events(old)
    write(old, entry("note", "05-07", note="one"))
    told = rows(old, "SELECT * FROM foretold")
    write(old, entry("note", "05-07", note="two"))
    restored = restore_backup(old)
    assert restored.rescued == 2
    assert [event.note for event in read_events(old)[len(first) :]] == ["one", "two"]
    assert rows(old, "SELECT * FROM foretold") == told
    restore_backup(old, backups(old)[0])
    assert version_of(old) == 1 and read_events(old) == first
    write(old, entry("note", "05-07", note="again"))
    assert version_of(old) == database.VERSION


def test_a_migration_that_fails_leaves_all_as_it_was(old, monkeypatch):
    def fail(connection):
        raise sqlite3.OperationalError("database or disk is full")

    before = rows(old, "SELECT * FROM events")
    *before_that, last = database.MIGRATIONS
    monkeypatch.setattr(database, "MIGRATIONS", (*before_that, (*last, fail)))
    with pytest.raises(InputError, match="full"):
        write(old, entry("note", "05-07", note="x"))
    assert version_of(old) == 1 and rows(old, "SELECT * FROM events") == before


# --- version 2 -----------------------------------------------------------------------------------


def test_a_diary_of_version_2_is_read_as_it_is_and_migrated_once(tmp_path):
    file = second_version(tmp_path / "diary.db")
    before = file.read_bytes()
    with Diary(file) as diary:
        diary.check()
        events = diary.events()
    assert file.read_bytes() == before and version_of(file) == 2
    *_, pick, sold, discard, fix, _ = events
    assert (pick.kg, pick.grade, sold.note, discard.note) == (1.2, "seconds", "for 14", "slugs")
    assert fix.into == "2027-05-20"
    assert {(e.paid, e.second_kg, e.lost_kg, e.cause, e.by) for e in events} == {
        (None, None, None, "", "")
    }
    new = entry("pick", "05-07", "A", kg=1.2, second_kg=0.2, lost_kg=0.3, cause="slugs", by="Wren")
    sale = entry("sold", "05-07", kg=0.7, paid=12.5, outlet="Inn")
    written = write(file, new, sale)
    assert version_of(file) == 3
    assert read_events(file) == (*events, *written)
    assert import_csv(export_csv(read_events(file)), "diary.csv") == read_events(file)
    # An older program's export has no such columns and goes in.
    table = [line.split(",") for line in export_csv(events[-5:-1]).decode("utf-8-sig").splitlines()]
    at = table[0].index("paid")
    assert table[0][at : at + 5] == ["paid", "second_kg", "lost_kg", "cause", "by"]
    older = "\n".join(",".join(row[:at] + row[at + 5 :]) for row in table)
    assert import_csv(older.encode(), "diary.csv") == events[-5:-1]
    (copy,) = [copy for copy in backups(file) if version_of(copy) == 2]
    assert read_events(copy) == events
    restore_backup(file, copy)
    assert read_events(file) == events


def test_what_a_diary_of_version_2_held_is_rescued(tmp_path):
    file = second_version(tmp_path / "diary.db")
    events = read_events(file)
    # The newest backup is older than the last entry, which this version's program wrote.
    write(file, entry("note", "05-07", note="one"))
    write(file, entry("sold", "05-07", kg=0.7, paid=12.5))
    assert restore_backup(file).rescued == 2
    assert [event.paid for event in read_events(file)[len(events) :]] == [None, 12.5]


def version_1_opens(file: Path) -> None:
    """Do what the program of version 1 does when it opens a diary; frozen as it was."""
    with closing(sqlite3.connect(file)) as connection:
        version = connection.execute("PRAGMA user_version").fetchone()[0]
        application = connection.execute("PRAGMA application_id").fetchone()[0]
    if application != 0x66727569:
        raise InputError("it is a database of another program, not a diary")
    if version > 1:
        raise InputError(
            f"it was written by a later version of fruitcast (schema {version}, this one knows "
            f"{1}). Install the later version"
        )


def test_the_program_of_version_1_opens_it_before_and_refuses_it_after(old):
    version_1_opens(old)
    write(old, entry("note", "05-07", note="x"))
    words = r"^it was written by a later version of fruitcast \(schema 3, this one knows 1\)"
    with pytest.raises(InputError, match=words):
        version_1_opens(old)


def test_an_upgraded_yard_keeps_its_soaks_and_the_events_on_phones(tmp_path):
    folder = tmp_path / "yard"
    shutil.copytree(SAMPLE, folder)
    file = first_version(folder / "diary.db")
    today = date(2027, 5, 4)

    def on_phones():
        with Diary(file) as diary:
            calendar = json.loads(diary.latest_document(CALENDAR))
        return {event["uid"]: event for event in calendar["events"]}

    def published():
        with Diary(file) as diary:
            soaks = json.loads(diary.latest_document("plan"))["soaks"]
        return [(soak["stack"], soak["soak_on"]) for soak in soaks]

    yard = read_yard(folder)
    went_by, last = plan_to_go_by(yard, today), read_last_plan(yard, today)
    events, soaks = on_phones(), published()
    # Nothing of what was published changes when the same plan is published by this version.
    shutil.copy(file, tmp_path / "kept.db")
    publish(last, yard, read_yard_state(yard, today), today)
    assert version_of(file) == database.VERSION
    # What the logs ask for came to the calendar later: it is added, and nothing else is touched.
    # So did what was picked of flushes that came by themselves, and a first pick is worded anew.
    asked = {
        uid
        for uid, event in on_phones().items()
        if event["kind"] in ASKED or (event["kind"] == "pick" and event["done"])
    }
    worded = {uid for uid, event in events.items() if event["kind"] == "pick" and not event["done"]}
    aside = (asked - set(events)) | worded
    assert worded <= set(on_phones())
    assert {uid: e for uid, e in on_phones().items() if uid not in aside} == {
        uid: e for uid, e in events.items() if uid not in aside
    }
    assert published() == soaks
    shutil.copy(tmp_path / "kept.db", file)
    done("--yard", folder, "--today", today, "plan", "--no-bound")
    assert version_of(file) == database.VERSION
    # The model has changed since that plan was made, so soaks may move: no event is forgotten, and
    # none of a soak that stands where it stood gets another identity.
    assert len(soaks) > 20 and len(set(published()) & set(soaks)) > 5
    assert len(events) > 100 and set(events) <= set(on_phones())
    assert plan_to_go_by(read_yard(folder), today) == went_by


# --- a later version's kinds ---------------------------------------------------------------------


def test_a_kind_of_a_later_version_is_shown_has_no_effect_and_is_never_lost(file):
    write(file, entry("pick", "05-04", "A", kg=1.0), entry("note", "05-04", note="x"))
    before = yard_state(yard(), read_events(file), TODAY)
    with closing(sqlite3.connect(file)) as raw:
        raw.execute(
            'INSERT INTO events (kind, "on", stack, kg, note, uuid, recorded_at) VALUES '
            "('dance', '2027-05-05', 'A', 2.5, 'twice', 'later', '2027-05-05T12:00:00+00:00')"
        )
        raw.commit()
    with Diary(file) as diary:
        diary.check()
    *_, later = read_events(file)
    assert (later.kind, later.kg, later.note) == ("dance", 2.5, "twice")
    assert yard_state(yard(), read_events(file), TODAY) == before
    undo = undo_record(read_events(file), "us")
    assert undo.understood == (
        "Cancelled: 'dance' of A, from a later version, kg 2.5, on Wed 5 May 2027, note: \"twice\"."
    )
    write(file, undo.event)
    assert later not in in_force(read_events(file))
    assert b"dance,2027-05-05,A,,,2.5," in export_csv(read_events(file))
    # What is recorded or imported here must be of a kind known here: else a slip would pass.
    with pytest.raises(FaultsError, match="kind 'dance' is not one of soak, pull"):
        write(file, entry("dance", "05-05"))
    with pytest.raises(FaultsError, match="kind 'dance' is not one of soak, pull"):
        import_csv(export_csv(read_events(file)), "diary.csv")


def test_a_kind_of_a_later_version_is_rescued_from_a_damaged_diary(file):
    write(file, entry("note", "05-04", note="1"))
    write(file, entry("note", "05-05", note="2"), now=NOW + timedelta(days=1))
    with closing(sqlite3.connect(file)) as raw:
        raw.execute(
            'INSERT INTO events (kind, "on", uuid, recorded_at) VALUES '
            "('dance', '2027-05-05', 'later', '2027-05-05T12:00:00+00:00')"
        )
        raw.commit()
    write(file, entry("note", "05-05", note="3"), now=NOW + timedelta(days=1))
    assert restore_backup(file).rescued == 3
    assert [event.kind for event in read_events(file)] == ["note", "note", "dance", "note"]


# --- what was foretold ---------------------------------------------------------------------------


def plan_text(day: date, kg: float = 8.0) -> str:
    soak = {
        "stack": "A",
        "logs": 40,
        "soak_on": "2027-05-20",
        "hours": 18,
        "pull_on": "2027-05-21",
        "reasons": [],
        "pick": {"p10": "2027-05-30", "p50": "2027-06-02", "p90": "2027-06-08"},
        "expected_kg": kg,
    }
    sale = {
        "outlet": "Inn",
        "on": "2027-06-05",
        "target_kg": 5.0,
        "delivered_kg": 4.8,
        "chance": 0.85,
        "available_p10_kg": kg / 2,
        "available_p90_kg": kg,
        "promise_kg": 4.5,
    }
    natural = {"stack": "B", "week": "2027-05-24", "chance": 0.25, "expected_kg": 0.5}
    past = {**soak, "stack": "C", "soak_on": "2027-04-20", "pick": dict.fromkeys(soak["pick"])}
    document = {"today": day.isoformat(), "soaks": [soak], "outlets": [sale], "promise": 0.8}
    return json.dumps({**document, "natural": [natural], "under_way": [past]})


def told(file):
    return rows(
        file, "SELECT made_on, about, whose, day, p10, p50, p90, mean, least, chance FROM foretold"
    )


def test_what_a_plan_foretells_is_written_down_by_the_key_of_its_outcome(file):
    with Diary(file) as diary:
        diary.save_document("plan", date(2027, 5, 10), plan_text(date(2027, 5, 10)))
    made = "2027-05-10"
    assert told(file) == [
        (made, "first pick", "A", "2027-05-20", 10, 13, 19, None, None, None),
        (made, "flush weight", "A", "2027-05-20", None, None, None, 8, None, None),
        (made, "natural flush", "B", "2027-05-24", None, None, None, 0.5, None, 0.25),
        (made, "available at sale", "Inn", "2027-06-05", 4, None, 8, None, 5, 0.85),
        (made, "promise", "Inn", "2027-06-05", None, None, None, None, 4.5, 0.8),
    ]


def test_it_is_told_again_only_when_it_is_new_and_the_outcome_nearer(file):
    # The first pick is expected on 2 June: from 28, 14 and 7 days before it is told again.
    days = [date(2027, 5, 1) + timedelta(days=n) for n in range(60)]
    with Diary(file) as diary, diary.held(days[0]):
        for number, day in enumerate(days):
            diary.save_document("plan", day, plan_text(day, kg=8.0 + number))
            diary.save_document("plan", day, plan_text(day, kg=9.0 + number))
    weights = [(row[0], row[7]) for row in told(file) if row[1] == "flush weight"]
    assert weights == [("2027-05-05", 12), ("2027-05-19", 26), ("2027-05-26", 33)]
    assert [row[0] for row in told(file) if row[1] == "first pick"] == ["2027-05-05"]
    assert [row[0] for row in told(file) if row[1] == "promise"] == ["2027-05-08"]


@pytest.mark.parametrize(
    "text", ["", "[]", "{", "null", '{"soaks": 3}', '{"soaks": [3, {"stack": "A"}]}', "[" * 10_000]
)
def test_what_is_no_plan_foretells_nothing(file, text):
    with Diary(file) as diary:
        diary.save_document("plan", date(2027, 5, 10), text)
        assert diary.latest_document("plan") == text
    assert told(file) == []


# --- kept documents ------------------------------------------------------------------------------


def test_plans_thin_out_with_age_and_the_newest_stay_whatever_day_they_bear(file):
    first = date(2025, 1, 1)
    with Diary(file) as diary:
        with diary.held(first):  # one commit for all
            for n in range(800):
                day = first + timedelta(days=n)
                diary.save_document("plan", day, day.isoformat())
                diary.save_document("calendar", day, day.isoformat())
        kept = [date.fromisoformat(made_on) for (made_on,) in rows(file, DAYS_OF_PLANS)]
        ages = [(day - made_on).days for made_on in kept]
        assert ages[:7] == list(range(7))
        assert all(age > 6 for age in ages[7:]) and len(ages) <= 7 + 6 + 6
        assert max(b - a for a, b in pairwise(ages) if b < 35) <= 7
        assert max(b - a for a, b in pairwise(ages)) <= 35
        assert 140 < max(ages) < 183
        assert rows(file, "SELECT count(*) FROM documents WHERE kind = 'calendar'") == [(3,)]
        # A clock set back: what is published then is the latest and stays.
        diary.save_document("plan", first, "set back")
        assert diary.latest_document("plan") == "set back"


DAYS_OF_PLANS = "SELECT made_on FROM documents WHERE kind = 'plan' ORDER BY id DESC"


def test_a_document_is_packed_and_one_cut_short_is_read_as_far_as_it_goes(file):
    text = json.dumps([{"stack": "A", "reason": "Märket"}] * 500, ensure_ascii=False)
    with Diary(file) as diary:
        diary.save_document("plan", TODAY, text)
        assert diary.latest_document("plan") == text
        ((size,),) = rows(file, "SELECT length(text) FROM documents")
        assert size < len(text) / 20
        with closing(sqlite3.connect(file)) as raw:
            raw.execute("UPDATE documents SET text = substr(text, 1, 60)")
            raw.commit()
        assert text.startswith(diary.latest_document("plan").rstrip("\ufffd"))


def test_a_backup_holds_the_newest_document_of_each_kind(file):
    with Diary(file) as diary:
        for day in (TODAY, TODAY + timedelta(days=1)):
            diary.save_documents(day, {"plan": f"plan of {day}", "calendar": f"of {day}"})
        write(file, entry("note", "05-07", note="x"), now=NOW + timedelta(days=2))
    with Diary(backups(file)[0]) as copy:
        assert copy.latest_document("plan") == f"plan of {TODAY + timedelta(days=1)}"
        assert copy.latest_document("plan", as_of=TODAY) is None
        assert copy.latest_document("calendar") == f"of {TODAY + timedelta(days=1)}"
    with Diary(file) as diary:
        assert diary.latest_document("plan", as_of=TODAY) == f"plan of {TODAY}"


def test_room_that_dropped_documents_leave_is_given_back_with_the_next_days_entry(old):
    with closing(sqlite3.connect(old)) as raw:
        text = "".join(f"{n} " for n in range(50_000))
        for n in range(20):
            row = ("plan", str(date(2026, 1, 1) + timedelta(days=n)), text)
            raw.execute("INSERT INTO documents (kind, made_on, text) VALUES (?, ?, ?)", row)
        raw.commit()
    before = old.stat().st_size
    write(old, entry("note", "05-07", note="migrated"))
    assert old.stat().st_size >= before > 5_000_000
    write(old, entry("note", "05-08", note="next day"), now=NOW + timedelta(days=1))
    assert old.stat().st_size < before / 2
    assert [event.note for event in read_events(old)[-2:]] == ["migrated", "next day"]
