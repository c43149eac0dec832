"""A round plans what has changed, tells what is wrong by yard, and writes into no yard."""

from __future__ import annotations

import json
import os
import sqlite3
import subprocess
import sys
import threading
import time
from datetime import UTC, date, datetime
from multiprocessing import active_children
from pathlib import Path

import pytest

from fruitcast.app.group import KEPT, make_round
from fruitcast.app.planning import plan_yard
from fruitcast.diary import book
from fruitcast.diary.book import Diary
from fruitcast.diary.events import Event
from fruitcast.outputs.round_words import round_lines, round_rows
from tests.cli.running import TODAY, change, contents, run
from tests.cli.test_cli_schema import faults, schema
from tests.group.conftest import DAY, few_yards
from tests.requires import need

NAMES = ["ash", "beech", "cherry"]


def of_yards(folder: Path) -> dict[str, bytes]:
    return {name: data for name, data in contents(folder).items() if not name.startswith("out/")}


def planned_days(folder: Path) -> dict[str, int]:
    return {file.stem: file.stat().st_mtime_ns for file in (folder / "out" / KEPT).iterdir()}


def test_a_round_keeps_a_part_of_each_yard_and_writes_into_none(yards, planned):
    assert of_yards(planned) == of_yards(yards) and sorted(planned_days(planned)) == NAMES


def test_each_row_is_what_the_yards_own_plan_says(yards):
    with Diary(yards / "beech" / "diary.db") as diary:
        fixed = Event("fix", DAY, "E", into="2027-05-07")
        diary.add([fixed], datetime(2027, 5, 3, tzinfo=UTC))
    made = make_round(yards, DAY, processes=1)
    for row in made.document.yards:
        plan = plan_yard(yards / row.yard, DAY, publish=False).document
        week = [soak for soak in plan.soaks if (soak.soak_on - DAY).days < 7]
        assert [(s.stack, s.soak_on, s.logs) for s in row.soaks] == [
            (s.stack, s.soak_on, s.logs) for s in week
        ]
        assert [(d.stack, d.on) for d in row.dry] == [
            (w.stack, w.on) for w in plan.water if (w.on - DAY).days < 7
        ]
    [soak] = [soak for soak in made.document.yards[1].soaks if soak.fixed]
    assert (soak.stack, soak.soak_on) == ("E", date(2027, 5, 7))


def test_only_what_has_changed_is_planned_again(planned):
    yards = planned
    page, first = (yards / "out" / "round.html").read_bytes(), planned_days(yards)
    again = make_round(yards, DAY, processes=1)
    assert again.planned == 0 and (yards / "out" / "round.html").read_bytes() == page
    change(yards / "beech" / "yard.toml", "tank_logs = 60", "tank_logs = 50")
    with Diary(yards / "cherry" / "diary.db") as diary:
        diary.add([Event("note", DAY, note="seen")], datetime(2027, 5, 3, tzinfo=UTC))
    third = make_round(yards, DAY, processes=1)
    now = planned_days(yards)
    assert third.planned == 2
    assert [name for name in sorted(now) if now[name] != first[name]] == ["beech", "cherry"]
    # A plan that a yard publishes is what the next one goes by.
    plan_yard(yards / "ash", DAY)
    assert make_round(yards, DAY, processes=1).planned == 1
    # Another day is another plan; what was kept damaged is made anew.
    (yards / "out" / KEPT / "ash.json").write_bytes(b"\x00{")
    assert make_round(yards, DAY, processes=1).planned == 1


def test_broken_yards_are_told_and_the_others_planned(yards, monkeypatch):
    monkeypatch.setattr(book, "BUSY_SECONDS", 0.2)
    few = few_yards(yards.parent / "more", "dry ended gone locked torn twisted wrong")
    for yard in few.iterdir():
        yard.rename(yards / yard.name)
    (yards / "gone" / "weather.csv").unlink()
    rows = (yards / "ended" / "weather.csv").read_text().splitlines()
    (yards / "ended" / "weather.csv").write_text("\n".join(rows[:-30]) + "\n")
    change(yards / "wrong" / "yard.toml", "tank_logs = 60", "tank_logs = 0")
    (yards / "torn" / "yard.toml").write_bytes(b"[site\xff")
    (yards / "twisted" / "diary.db").write_bytes(b"no database at all" * 300)
    with Diary(yards / "locked" / "diary.db") as diary:
        diary.add([Event("note", DAY, note="seen")], datetime(2027, 5, 3, tzinfo=UTC))
    lock = sqlite3.connect(yards / "locked" / "diary.db")
    lock.execute("PRAGMA locking_mode = EXCLUSIVE")
    lock.execute("BEGIN EXCLUSIVE")
    try:
        ran = run("yards", yards, "--today", TODAY, "--processes", 1, "--json")
    finally:
        lock.close()
    assert ran.code == 1
    assert faults(schema("yards"), ran.document) == []
    told = {row["yard"]: row["faults"] for row in ran.document["yards"]}
    good = ["ash", "beech", "cherry", "dry"]
    assert [name for name, wrong in told.items() if not wrong] == good
    for name, words in {
        "gone": "weather.csv",
        "ended": "lacks the 30 days since",
        "wrong": "tank_logs",
        "torn": "yard.toml",
        "twisted": "diary.db",
        "locked": "in use by another program",
    }.items():
        assert words in " ".join(told[name]), told[name]
    assert sorted(planned_days(yards)) == good
    page = (yards / "out" / "round.html").read_text()
    assert "Not planned" in page and "in use by another program" in page
    assert json.loads((yards / "out" / "round.json").read_text()) == ran.document
    assert run("yards", yards, "--today", TODAY, "--processes", 1).code == 1


def test_a_fault_of_ours_in_one_yard_stops_no_other(yards, monkeypatch):
    import fruitcast.app.planning as planning

    make = planning.make_plan

    def odd(known, **options):
        if known.yard.folder.name == "beech":
            raise KeyError("no such thing")
        return make(known, **options)

    monkeypatch.setattr(planning, "make_plan", odd)
    made = make_round(yards, DAY, processes=1)
    assert [bool(row.faults) for row in made.document.yards] == [False, True, False]
    assert "A fault of fruitcast itself, KeyError" in made.document.yards[1].faults[0]


def test_what_wants_a_word_is_told(yards):
    ash, beech = yards / "ash", yards / "beech"
    for made_on in (date(2027, 4, day) for day in range(26, 12, -1)):
        plan = plan_yard(ash, made_on)  # published, and nobody wrote anything since
        soaks = [s for s in plan.document.soaks if s.soak_on < DAY]
        if soaks:
            break
    assert soaks
    rows = (beech / "weather.csv").read_text().splitlines()
    (beech / "weather.csv").write_text("\n".join(rows[:-3]) + "\n")
    with Diary(beech / "diary.db") as diary:
        promise = Event("promised", DAY, outlet="Saturday market", kg=40.0, into="2027-05-22")
        diary.add([promise], datetime(2027, 5, 3, tzinfo=UTC))
    made = make_round(yards, DAY, processes=1).document
    first, second, third = made.yards
    assert [(s.stack, s.soak_on) for s in first.unrecorded] == [(s.stack, s.soak_on) for s in soaks]
    assert first.diary_silent and first.plan_of == made_on and first.diary_until is None
    assert second.weather_stale and second.weather_until == date(2027, 4, 29)
    [over] = second.overpromised
    assert (over.outlet, over.on, over.given_kg) == ("Saturday market", date(2027, 5, 22), 40.0)
    assert over.promise_kg < 40 and not second.diary_silent
    assert not third.overpromised and not third.weather_stale and not third.unrecorded
    words = round_rows(made)
    assert "never written; soak not written down" in words[0].diary
    assert words[1].weather == "ends Thu 29 Apr" and "likely enough" in words[1].promises
    lines = round_lines(made)
    assert "1 yard has promised more than is likely to come." in lines
    assert "1 yard has weather that ends too early." in lines


def test_an_empty_folder_and_a_wrong_group_are_refused(tmp_path):
    ran = run("yards", tmp_path, "--today", TODAY)
    assert ran.code == 1 and "no folder in it is a yard" in ran.err and not ran.out
    ran = run("yards", tmp_path / "nowhere")
    assert ran.code == 1 and "there is no such folder" in ran.err
    (tmp_path / "group.toml").write_text('nam = "x"\n[[yards]]\nfolder = "a"\n', encoding="utf-8")
    ran = run("yards", tmp_path)
    assert ran.code == 1 and len(ran.err.splitlines()) == 2, ran.err
    assert "The nearest known one is 'name'" in ran.err
    assert "The nearest known one is [[yard]]" in ran.err
    assert not (tmp_path / "out").exists()


@pytest.mark.long  # .ci/run does it; two processes are in test_district, a lost one in test_tasks
def test_two_processes_give_the_same_as_one_also_when_one_of_them_is_killed(yards, planned):
    killed = []

    def kill_one():
        while not killed:
            time.sleep(0.3)
            # Only one that is at work: it has loaded the planner.
            for child in active_children():
                status = Path(f"/proc/{child.pid}/status")
                with_planner = status.exists() and "VmRSS" in status.read_text()
                if with_planner and _resident_mb(child.pid) > 120:
                    os.kill(child.pid, 9)
                    killed.append(child.pid)
                    return

    if not Path("/proc/self/status").exists():
        pytest.skip("looks into /proc")
    watcher = threading.Thread(target=kill_one, daemon=True)
    watcher.start()
    made = make_round(yards, DAY, processes=2)
    killed.append(0)
    watcher.join()
    assert killed[0] > 0 and made.planned == 3
    assert contents(yards / "out") == contents(planned / "out")
    assert made.document.json_file() == (planned / "out" / "round.json").read_bytes()
    assert of_yards(yards) == of_yards(planned)


def _resident_mb(pid: int | None) -> float:
    text = Path(f"/proc/{pid}/status").read_text()
    return int(text.split("VmRSS:")[1].split()[0]) / 1024


CLUSTER = """
import sys
from datetime import date
from pathlib import Path
from distributed import LocalCluster
from fruitcast.app import group
from tests.group.short_searches import quick_task

group.plan_task = quick_task

if __name__ == "__main__":
    folder, kill = Path(sys.argv[1]), sys.argv[2] == "kill"
    with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster:
        if kill:
            import os, threading, time

            first = cluster.workers[0]
            before = first.pid

            def end():
                # As soon as it has something to do.
                while not any(cluster.scheduler.workers[first.worker_address].processing):
                    time.sleep(0.1)
                time.sleep(0.5)
                os.kill(before, 9)

            threading.Thread(target=end, daemon=True).start()
        made = group.make_round(folder, date(2027, 5, 3), cluster=cluster.scheduler_address)
        lost = kill and first.pid != before
    print(made.planned, made.faulty, "lost one" if lost else "lost none")
"""


@pytest.mark.long  # .ci/run kills one; lost workers are in test_tasks
@pytest.mark.parametrize("kill", ["leave", "kill"])
def test_a_cluster_of_two_gives_the_same_bytes_also_when_one_is_killed(
    yards, planned, tmp_path, kill
):
    need("distributed")
    program = tmp_path / "cluster.py"
    program.write_text(CLUSTER, encoding="utf-8")
    ran = subprocess.run(
        [sys.executable, program, yards, kill],
        capture_output=True,
        text=True,
        timeout=300,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
    )
    assert ran.returncode == 0, ran.stderr
    assert ran.stdout.strip() == f"3 0 lost {'one' if kill == 'kill' else 'none'}"
    assert contents(yards / "out") == contents(planned / "out")
