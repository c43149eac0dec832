"""Commands about the yard as it is: new, check, stacks, week."""

import json
from functools import partial
from pathlib import Path

import pytest

from fruitcast.app.planning import plan_yard
from fruitcast.numbers import LABELS, default_numbers
from tests.cli.running import TODAY, contents, done, run

MANUAL = Path(__file__).parents[2] / "DEVELOPERS.md"


def manual_of(command):
    """Return the paragraph of the manual on what a command's JSON holds."""
    text = MANUAL.read_text(encoding="utf-8")
    start = text.index(f"`{command} --json`")
    return text[start : text.find("\n\n", start + 1)]


def keys_in(document):
    """Return every key of a document at any depth."""
    if isinstance(document, dict):
        return set(document) | {key for value in document.values() for key in keys_in(value)}
    if isinstance(document, list):
        return {key for value in document for key in keys_in(value)}
    return set()


# --- new -----------------------------------------------------------------------------------------


def test_new_writes_a_commented_yard_that_only_wants_weather(tmp_path):
    folder = tmp_path / "mine"
    ran = done("new", folder, "--json")
    assert ran.document["needs_weather_file"]
    assert ran.document["examples"][:3] == ["latitude", "longitude", "timezone"]
    assert "# " in (folder / "yard.toml").read_text("utf-8")
    checked = run("--yard", folder, "check")
    assert checked.code == 1 and checked.err.count("\n") == 1
    assert "there is no such weather file" in checked.err


def test_new_takes_what_is_known_of_the_place(tmp_path):
    folder = tmp_path / "mine"
    ran = done(
        *("new", folder, "--name", "Alder Bank", "--latitude", 44.5, "--longitude", -72.1),
        *("--elevation", "790 ft", "--timezone", "America/New_York", "--units", "metric"),
        *("--station", "nearest", "--soak-day", "Mon", "--soak-day", "Thu", "--tank-logs", 30),
        "--json",
    )
    assert ran.document["examples"] == [] and not ran.document["needs_weather_file"]
    text = (folder / "yard.toml").read_text("utf-8")
    for line in (
        *('name = "Alder Bank"', "latitude = 44.5", "longitude = -72.1", "elevation_m = 240.792"),
        *('station = "nearest"', 'days = ["Mon", "Thu"]', "tank_logs = 30", 'units = "metric"'),
    ):
        assert line in text


def test_new_says_in_words_what_to_do_next(tmp_path):
    ran = done("new", tmp_path / "mine")
    for words in ("only examples", "weather import", "fruitcast check"):
        assert words in ran.out


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--latitude", "91"], "latitude"),
        (["--timezone", "America/New_Yrok"], "America/New_York"),
        (["--elevation", "790"], "has no unit"),
        (["--soak-day", "Funday"], "Funday"),
    ],
)
def test_new_refuses_what_cannot_be(tmp_path, options, said):
    ran = run("new", tmp_path / "mine", *options, "--json")
    assert (ran.code, ran.out) == (1, "")
    assert said in ran.err
    assert not (tmp_path / "mine").exists()


def test_new_overwrites_nothing(demo):
    before = contents(demo)
    ran = run("new", demo)
    assert ran.code == 1 and "is there already" in ran.err
    assert contents(demo) == before


# --- check ---------------------------------------------------------------------------------------


def test_check_of_a_sound_yard_tells_what_there_is(shared_demo):
    ran = done("--yard", shared_demo.folder, "--today", TODAY, "check", "--json")
    assert ran.document["sound"] and ran.document["faults"] == ran.document["errors"] == []
    assert (ran.document["stacks"], ran.document["logs"]) == (14, 511)
    assert ran.document["weather_years"] >= 20
    words = done("--yard", shared_demo.folder, "--today", TODAY, "check").out
    assert "14 stacks, 511 logs" in words and "No faults found." in words


def test_check_numbers_lists_each_with_unit_label_and_source(yard):
    listed = done("--yard", yard, "check", "--numbers", "--json").document["numbers"]
    assert [number["key"] for number in listed] == list(default_numbers())
    for number in listed:
        assert number["unit"] and number["why"] and number["label"] in LABELS
    words = done("--yard", yard, "check", "--numbers").out
    for number in listed:
        assert number["key"] in words


def test_check_numbers_shows_the_yards_own(yard):
    key = "natural.rain"
    with (yard / "yard.toml").open("a", encoding="utf-8") as file:
        file.write(f'\n[numbers]\n"{key}" = 30\n')
    listed = done("--yard", yard, "check", "--numbers", "--json").document["numbers"]
    own = {number["key"]: number["value"] for number in listed if number["overridden"]}
    assert own == {key: 30.0}
    assert "The yard's own value." in done("--yard", yard, "check", "--numbers").out


def test_check_numbers_answers_without_a_yard_and_with_a_misspelt_number(yard):
    assert done("check", "--numbers").out
    with (yard / "yard.toml").open("a", encoding="utf-8") as file:
        file.write('\n[numbers]\n"natural.rian" = 30\n')
    assert "check --numbers" in run("--yard", yard, "plan").err
    assert "natural.rain" in done("--yard", yard, "check", "--numbers").out


# --- stacks --------------------------------------------------------------------------------------


def test_stacks_tells_each_as_it_stands(shared_demo):
    before = contents(shared_demo.folder)
    ran = done("--yard", shared_demo.folder, "--today", TODAY, "stacks", "--json")
    assert contents(shared_demo.folder) == before
    rows = {row["stack"]: row for row in ran.document["stacks"]}
    assert list(rows) == [*"ABCDEFG", "H/1", "H/2", *"JKLMNP"]
    assert rows["H/1"]["row"] == "H" and rows["H/1"]["logs"] + rows["H/2"]["logs"] == 72
    for row in rows.values():
        assert 0.15 < row["moisture_wet"] < 0.6
        assert 0 <= row["natural_chance"] <= 1 and 0 <= row["spawn_run_progress"] <= 1
        assert row["rest_left_days"] >= 0 and row["state"]
        assert all(hold["reason"] for hold in row["holds"])
    resting = rows["A"]
    assert resting["rest_left_days"] == 57  # soaked on 27 April: rests 63 days
    assert resting["soakable_from"] == "2027-06-29"
    young = rows["N"]
    assert young["spawn_run_progress"] < 1 and young["bearing_year"] is None
    assert young["state"].startswith("spawn run ")


def test_the_next_soaks_are_those_of_the_published_plan(shared_demo):
    document = done("--yard", shared_demo.folder, "--today", TODAY, "stacks", "--json").document
    assert document["planned_on"] == TODAY
    first = {}
    for soak in shared_demo.plan["soaks"]:
        first.setdefault(soak["stack"], soak["soak_on"])
    assert {row["stack"]: row["next_soak_on"] for row in document["stacks"]} == {
        row["stack"]: first.get(row["stack"]) for row in document["stacks"]
    }


def test_without_a_plan_no_next_soak_is_known(yard):
    ran = done("--yard", yard, "--today", TODAY, "stacks", "--json")
    assert ran.document["planned_on"] is None
    assert not any(row["next_soak_on"] for row in ran.document["stacks"])
    assert "No plan was published yet" in ran.err


def test_stacks_as_a_table(shared_demo):
    words = done("--yard", shared_demo.folder, "--today", TODAY, "stacks").out
    for part in ("Stack", "Wet", "H/2", "warm-weather, beech"):
        assert part in words


@pytest.mark.parametrize("command", ["stacks", "week"])
def test_the_manual_names_every_key(shared_demo, command):
    document = done("--yard", shared_demo.folder, "--today", TODAY, command, "--json").document
    manual = manual_of(command)
    assert [key for key in sorted(keys_in(document)) if f"`{key}`" not in manual] == []


# --- week ----------------------------------------------------------------------------------------


def test_week_follows_the_plan_published_today(shared_demo):
    ran = done("--yard", shared_demo.folder, "--today", TODAY, "week", "--json")
    document = ran.document
    assert document["plan_published"] and (document["until"] == "2027-05-09")
    soaks = {
        (soak["stack"], soak["soak_on"])
        for soak in shared_demo.plan["soaks"]
        if soak["soak_on"] <= document["until"]
    }
    jobs = document["jobs"]
    assert {(job["stack"], job["on"]) for job in jobs if job["job"] == "soak"} == soaks
    assert all(job["reasons"] for job in jobs if job["job"] == "soak")
    assert [sale["outlet"] for sale in document["outlets"]] == ["Spring supper"]


def test_week_without_a_fresh_plan_makes_one_and_publishes_nothing(small, monkeypatch):
    monkeypatch.setattr("fruitcast.app.jobs.plan_yard", partial(plan_yard, weeks=6))
    before = contents(small)
    ran = done("--yard", small, "--today", TODAY, "week", "--json")
    assert not ran.document["plan_published"]
    assert "not published" in ran.err
    assert contents(small) == before
    quick = ("--no-bound", "--weeks", 6)
    later = done("--yard", small, "--today", TODAY, "plan", *quick, "--json").document
    soaks = [soak["stack"] for soak in later["soaks"] if soak["soak_on"] <= "2027-05-09"]
    assert [job["stack"] for job in ran.document["jobs"] if job["job"] == "soak"] == soaks


def test_a_changed_file_makes_the_plan_stale(small, monkeypatch):
    monkeypatch.setattr("fruitcast.app.jobs.plan_yard", partial(plan_yard, weeks=1))
    done("--yard", small, "--today", TODAY, "plan", "--no-bound", "--weeks", 1)
    words = ("--yard", small, "--today", TODAY, "week", "--json")
    assert done(*words).document["plan_published"]
    for name in ("yard.toml", "stacks.csv", "weather.csv"):
        before = (small / name).read_bytes()
        (small / name).write_bytes(before + b"\n")
        assert not done(*words).document["plan_published"]
        (small / name).write_bytes(before)
    assert done(*words).document["plan_published"]


def test_week_as_a_list(shared_demo):
    words = done("--yard", shared_demo.folder, "--today", TODAY, "week").out
    for part in ("Mon 3 May (today)", "Spring supper: promise", "Not this week"):
        assert part in words
    assert json.loads(done("--yard", shared_demo.folder, "--today", TODAY, "--json", "week").out)
