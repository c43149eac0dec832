"""The whole job on the sample yard, as somebody new sees it."""

import csv
import json
from datetime import date, timedelta
from functools import partial

import icalendar
import pytest

from fruitcast.app.demo import FILES, sample_folder
from fruitcast.app.planning import plan_yard
from fruitcast.diary.book import read_events
from fruitcast.diary.state_from_diary import read_yard_state
from fruitcast.weather.table import write_weather_csv
from fruitcast.yard.reading import read_yard
from tests.cli.running import TODAY, contents, done, run
from tests.soaks.rules import judge_published
from tests.weather.invented import sample_weather


def test_the_demo_writes_a_yard_and_plans_it(shared_demo):
    assert shared_demo.plan["today"] == TODAY
    assert shared_demo.plan["soaks"] and shared_demo.plan["outlets"]
    names = {path.name for path in shared_demo.folder.iterdir()}
    assert names >= {*FILES, "diary.db", "out"}
    assert {path.name for path in (shared_demo.folder / "out").iterdir()} == {
        "plan.csv",
        "plan.json",
        "calendar.ics",
    }
    assert f"Today is taken to be {TODAY}" in shared_demo.messages


def test_it_prints_the_plan_the_calendars_place_and_what_to_type(shared_demo):
    head, _, answer = shared_demo.words.partition("\nThis week\n")
    for words in ("Soaks in the next 4 weeks\n", "For sale", "Next to sell", "In short"):
        assert words in answer
    assert "Proved" not in answer  # nobody asked for a proof
    assert f"\n{shared_demo.folder / 'out' / 'calendar.ics'}\n" in head
    steps = [line for line in head.splitlines() if line.startswith("fruitcast ")]
    assert steps[0] == f"fruitcast --yard {shared_demo.folder} --today {TODAY} week"
    for step in steps[:2]:
        assert done(*step.split()[1:]).out


def test_as_json_it_tells_the_same(tmp_path, monkeypatch):
    monkeypatch.setattr("fruitcast.app.planning.plan_yard", partial(plan_yard, weeks=4))
    folder = tmp_path / "here"
    document = done("demo", folder, "--json").document
    assert document["folder"] == str(folder) and document["today"] == TODAY
    assert document["plan"] == json.loads((folder / "out" / "plan.json").read_text("utf-8"))
    assert document["calendar"] == str(folder / "out" / "calendar.ics")
    assert [step["command"].split()[-1] for step in document["next"]][:2] == ["week", "stacks"]


def test_its_calendar_can_be_opened(shared_demo):
    with (shared_demo.folder / "out" / "calendar.ics").open("rb") as file:
        calendar = icalendar.Calendar.from_ical(file.read())
    titles = [str(event["SUMMARY"]) for event in calendar.walk("VEVENT")]
    for soak in shared_demo.plan["soaks"]:
        assert any(title.startswith(f"Soak {soak['stack']} ") for title in titles)


def test_its_plan_keeps_every_hard_rule(shared_demo):
    today = date.fromisoformat(TODAY)
    yard = read_yard(shared_demo.folder, today)
    state = read_yard_state(yard, today)
    assert judge_published(yard, state, shared_demo.plan, today) == []


def test_its_table_has_a_row_for_every_soak(shared_demo):
    with (shared_demo.folder / "out" / "plan.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    soaks = shared_demo.plan["soaks"]
    assert [(row["stack"], row["soak_on"]) for row in rows] == [
        (soak["stack"], soak["soak_on"]) for soak in soaks
    ]


def test_the_week_that_was_asked_for_on_purpose_is_said_to_fall_short(shared_demo):
    supper = next(sale for sale in shared_demo.plan["outlets"] if "supper" in sale["outlet"])
    assert supper["chance"] < 0.1 and supper["promise_kg"] < supper["target_kg"] / 2


def test_the_folder_that_one_stands_in_stays_it(tmp_path, monkeypatch):
    monkeypatch.setattr("fruitcast.app.planning.plan_yard", partial(plan_yard, weeks=4))
    here = tmp_path / "here"
    here.mkdir()
    monkeypatch.chdir(here)
    place = here.stat().st_ino
    assert done("demo", ".", "--json").document["folder"] == str(here)
    assert here.stat().st_ino == place
    assert {"yard.toml", "stacks.csv", "out"} <= {file.name for file in here.iterdir()}


def test_it_overwrites_nothing(tmp_path):
    folder = tmp_path / "taken"
    folder.mkdir()
    (folder / "mine.txt").write_text("mine")
    before = contents(tmp_path)
    ran = run("demo", folder, "--json")
    assert (ran.code, ran.out) == (1, "")
    assert "is there already" in ran.err and "Name another folder" in ran.err
    assert contents(tmp_path) == before


def test_a_folder_that_cannot_be_written_is_said(tmp_path):
    (tmp_path / "file").write_text("a file, no folder")
    ran = run("demo", tmp_path / "file" / "yard")
    assert ran.code == 1
    assert "cannot be written" in ran.err and "Traceback" not in ran.err


@pytest.mark.parametrize("name", FILES)
def test_the_yards_files_are_those_of_the_sample(shared_demo, name):
    assert (shared_demo.folder / name).read_bytes() == (sample_folder() / name).read_bytes()


def test_it_takes_real_weather_and_its_next_day_for_today(tmp_path, monkeypatch):
    monkeypatch.setattr("fruitcast.app.planning.plan_yard", partial(plan_yard, weeks=2))
    weather = tmp_path / "station.csv"
    table = sample_weather().cut(date(2010, 1, 1), date(2022, 5, 1))
    write_weather_csv(table, weather)
    document = done("demo", tmp_path / "here", "--weather", weather, "--json").document
    assert document["today"] == document["plan"]["today"] == "2022-05-01"
    assert (tmp_path / "here" / "weather.csv").read_bytes() == weather.read_bytes()
    assert not read_events(tmp_path / "here" / "diary.db")
    assert "A,wide-range,all-round,white oak,36,14,100,2018-03-24" in (
        tmp_path / "here" / "stacks.csv"
    ).read_text(encoding="utf-8")


def test_weather_that_cannot_be_read_leaves_no_yard(tmp_path):
    weather = tmp_path / "station.csv"
    weather.write_text("<html></html>")
    ran = run("demo", tmp_path / "here", "--weather", weather, "--today", TODAY)
    assert ran.code == 1 and "web page" in ran.err
    assert not (tmp_path / "here").exists()


def test_weather_that_is_doubted_can_be_taken_as_it_stands(tmp_path, monkeypatch):
    rows = ["date,tmin,tmax,rain"]
    rows += [f"{date(2000, 1, 1) + timedelta(days=day)},5,15,{day % 365}" for day in range(9000)]
    weather = tmp_path / "weather.csv"
    weather.write_text("\n".join(rows) + "\n", encoding="utf-8")
    asked = run("demo", tmp_path / "yard", "--weather", weather)
    assert asked.code == 1 and "--as-it-stands" in asked.err
    assert not (tmp_path / "yard").exists()
    monkeypatch.setattr("fruitcast.app.planning.plan_yard", partial(plan_yard, weeks=2))
    taken = run("demo", tmp_path / "yard", "--weather", weather, "--as-it-stands")
    assert "--as-it-stands" not in taken.err
    assert (tmp_path / "yard" / "weather.csv").exists()


def test_a_soak_fixed_where_nothing_will_come_of_it_is_planned_and_said_so(demo):
    """F is about to fruit by itself: soaked tomorrow all the same, it never bears."""
    done("--yard", demo, "--today", TODAY, "fix", "F", "tuesday", "-y")
    ran = done("--yard", demo, "--today", TODAY, "plan", "--weeks", 4)
    plan = json.loads((demo / "out" / "plan.json").read_text("utf-8"))
    (soak,) = [soak for soak in plan["soaks"] if soak["stack"] == "F"]
    assert soak["soak_on"] == "2027-05-04" and soak["expected_kg"] == 0
    assert soak["kg_p10"] is None and soak["kg_p90"] is None
    assert "Soak F (24 logs, 48 h)\n    Nothing is likely to come of it." in ran.out
