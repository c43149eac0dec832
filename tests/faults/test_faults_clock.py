"""A clock that is set back, and two programs at the same moment."""

from __future__ import annotations

import json
import threading
from datetime import UTC, date, datetime, timedelta

import icalendar
import pytest
import time_machine

from fruitcast.app.known import read_known
from fruitcast.app.publication import CALENDAR, INPUTS, fresh_plan, last_plan, publish
from fruitcast.diary.backup import KEPT, backup_file, backups, restore_backup
from fruitcast.diary.book import Diary, read_events
from fruitcast.diary.events import Event
from fruitcast.outputs.calendar_state import CalendarState
from fruitcast.outputs.ical import calendar_bytes
from fruitcast.yard.reading import read_yard
from tests.cli.running import done
from tests.faults.conftest import QUICK, TODAY

NOON = datetime(2027, 5, 3, 12, tzinfo=UTC)


def revisions(folder) -> dict[str, tuple[int, datetime]]:
    calendar = icalendar.Calendar.from_ical((folder / "out" / "calendar.ics").read_bytes())
    return {
        str(event["UID"]): (int(event["SEQUENCE"]), event["LAST-MODIFIED"].dt)
        for event in calendar.walk("VEVENT")
    }


def test_no_event_on_a_phone_falls_behind_when_the_clock_was_set_back(planned):
    entries = read_events(planned / "diary.db")
    seen = [revisions(planned)]
    for day in ("2027-04-27", "2027-05-04"):
        done("--yard", planned, "--today", day, "plan", *QUICK)
        seen.append(revisions(planned))
        before, after = seen[-2:]
        for uid in before.keys() & after.keys():
            assert after[uid] >= before[uid], (day, uid)
    assert read_events(planned / "diary.db") == entries
    # What the right day's plan has is there: nothing that it soaks is cancelled.
    plan = json.loads((planned / "out" / "plan.json").read_text(encoding="utf-8"))
    calendar = icalendar.Calendar.from_ical((planned / "out" / "calendar.ics").read_bytes())
    soaks = {
        str(event["SUMMARY"]).split(" (")[0]
        for event in calendar.walk("VEVENT")
        if event.get("STATUS") != "CANCELLED" and str(event["SUMMARY"]).startswith("Soak ")
    }
    assert {f"Soak {soak['stack']}" for soak in plan["soaks"]} <= soaks


def write(file, mark: str, moment: datetime) -> None:
    note = Event("note", moment.date(), note=mark)
    with time_machine.travel(moment, tick=False), Diary(file) as diary:
        diary.add([note], moment)


def test_a_backup_made_by_a_clock_set_back_is_the_newest_all_the_same(tmp_path):
    """Files bear the clock's time too; a machine without a battery starts in the past each time."""
    file = tmp_path / "diary.db"
    for n in range(4):
        write(file, f"right {n}", NOON + timedelta(days=n))
    past = NOON - timedelta(days=400)
    for n in range(KEPT + 3):
        write(file, f"set back {n}", past + timedelta(days=n))
    assert backups(file)[0] == backup_file(file, (past + timedelta(days=KEPT + 2)).date())
    assert len(backups(file)) == KEPT
    file.write_bytes(b"damaged" * 1000)
    for side in ("-wal", "-shm"):
        file.with_name(file.name + side).unlink(missing_ok=True)
    restore_backup(file)
    notes = [event.note for event in read_events(file)]
    assert notes == [f"right {n}" for n in range(4)] + [f"set back {n}" for n in range(KEPT + 2)]


def test_a_day_that_comes_a_second_time_gets_its_backup_again(tmp_path):
    file = tmp_path / "diary.db"
    for n in range(5):
        write(file, f"right {n}", NOON + timedelta(days=n))
    write(file, "set back", NOON + timedelta(days=1))
    again = backup_file(file, (NOON + timedelta(days=1)).date())
    assert backups(file)[0] == again
    assert [event.note for event in read_events(again)] == [f"right {n}" for n in range(5)]


def test_an_entry_made_while_a_plan_is_made_leaves_the_plan_stale(planned, monkeypatch):
    """The plan doesn't know of it, so 'week' must not take it for up to date."""
    from fruitcast.app import planning

    real = planning.make_plan

    def slow(*arguments, **options):
        done("--yard", planned, "--today", TODAY, "record", "water", "A", "--yes")
        return real(*arguments, **options)

    monkeypatch.setattr(planning, "make_plan", slow)
    done("--yard", planned, "--today", TODAY, "plan", *QUICK)
    monkeypatch.undo()
    today = date.fromisoformat(TODAY)
    yard = read_yard(planned)
    assert fresh_plan(yard, today) is None
    done("--yard", planned, "--today", TODAY, "plan", *QUICK)
    assert fresh_plan(yard, today) is not None


def test_two_plans_at_once_leave_the_files_of_one(planned, nursery, other_nursery):
    """Real processes, each publishing its own plan over and over."""
    threads = []
    for one, begin in ((nursery, 1_000_000), (other_nursery, 2_000_000)):
        one.load(planned, TODAY)
        thread = threading.Thread(
            target=one.kill_after, args=("publish_often", planned, begin, 10_000, 0.5)
        )
        threads.append(thread)
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    today = date.fromisoformat(TODAY)
    known = read_known(planned, today, 60)
    with Diary(planned / "diary.db") as diary:
        diary.check()
        inputs = diary.latest_document(INPUTS)
    plan = last_plan(known.yard, today)
    assert plan is not None
    assert inputs == f"inputs of {plan.seed}"
    publish(plan.model_copy(update={"seed": 7}), known.yard, known.state, today)
    files = json.loads((planned / "out" / "plan.json").read_text(encoding="utf-8"))
    assert files["seed"] == 7
    with Diary(planned / "diary.db") as diary:
        text = diary.latest_document(CALENDAR)
    assert text is not None
    kept = calendar_bytes(CalendarState.from_json(text))
    assert (planned / "out" / "calendar.ics").read_bytes() == kept


@pytest.mark.parametrize("writers", [3])
def test_publications_from_several_threads_stand_one_after_another(planned, writers):
    """Files and diary never are of two different plans."""
    today = date.fromisoformat(TODAY)
    known = read_known(planned, today, 60)
    first = last_plan(known.yard, today)
    assert first is not None
    wrong = []

    def work(begin: int) -> None:
        for seed in range(begin, begin + 8):
            publish(
                first.model_copy(update={"seed": seed}),
                known.yard,
                known.state,
                today,
                f"inputs of {seed}",
            )
            with Diary(planned / "diary.db") as diary, diary.held(today):
                plan = last_plan(known.yard, today)
                files = json.loads((planned / "out" / "plan.json").read_text(encoding="utf-8"))
                if plan is None or plan.seed != files["seed"]:
                    wrong.append((plan and plan.seed, files["seed"]))

    threads = [threading.Thread(target=work, args=(1000 * (k + 1),)) for k in range(writers)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert wrong == []
