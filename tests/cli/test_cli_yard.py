"""Commands about the yard as it is: new, check, stacks, week."""

import json
import re
from datetime import date
from functools import partial

import pytest
import requests
import responses

from fruitcast.app.planning import plan_yard
from fruitcast.numbers import LABELS, default_numbers
from fruitcast.weather.table import write_weather_csv
from tests.cli.running import TODAY, Terminal, contents, done, run
from tests.weather.invented import sample_weather
from tests.weather.station_server import HOST, serve_year, stations_db

# --- new -----------------------------------------------------------------------------------------


@pytest.fixture(autouse=True)
def _computer(monkeypatch):
    """A computer that says nothing of where it stands, unless a test lets it."""
    for name in ("TZ", "LC_ALL", "LC_MEASUREMENT", "LANG"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr("fruitcast.app.starting.computers_zone", lambda environ: environ.get("TZ"))


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
    assert ran.document["examples"] == ran.document["guesses"] == []
    assert not ran.document["needs_weather_file"]
    text = (folder / "yard.toml").read_text("utf-8")
    for line in (
        *('name = "Alder Bank"', "latitude = 44.5", "longitude = -72.1", "elevation_m = 240.792"),
        *('station = "nearest"', 'days = ["Mon", "Thu"]', "tank_logs = 30", 'units = "metric"'),
    ):
        assert line in text


def test_new_guesses_zone_units_and_weather_from_a_position(tmp_path):
    ran = done("new", tmp_path / "mine", "--place", "50.85, 4.35", "--json")
    guessed = {guess["setting"]: guess["value"] for guess in ran.document["guesses"]}
    assert guessed == {"timezone": "Europe/Brussels", "units": "metric"}
    text = (tmp_path / "mine" / "yard.toml").read_text("utf-8")
    for line in ("latitude = 50.85", 'station = "nearest"', "target_kg = 1", 'from = "05-15"'):
        assert f"\n{line}\n" in text


def test_new_goes_by_the_computer_where_nobody_says(tmp_path, monkeypatch):
    monkeypatch.setenv("TZ", "Australia/Sydney")
    monkeypatch.setenv("LANG", "en_US.UTF-8")
    ran = done("new", tmp_path / "mine", "--json")
    guessed = {guess["setting"]: guess["value"] for guess in ran.document["guesses"]}
    assert guessed["place"] == "-33.87, 151.22" and guessed["units"] == "us"
    text = (tmp_path / "mine" / "yard.toml").read_text("utf-8")
    assert 'from = "11-15"' in text  # spring there
    assert ",2024-09-20," in done(
        *("new", tmp_path / "other", "--today", "2026-05-01"),
    ).out + (tmp_path / "other" / "stacks.csv").read_text("utf-8")


def test_new_asks_two_questions_where_somebody_can_answer(tmp_path):
    answer = Terminal("45.5, -73.6\n\n")
    ran = done("new", tmp_path / "mine", stdin=answer)
    assert "Where is the yard?" in ran.err and "America/Toronto" in ran.out
    assert "Do you sell mushrooms?" in ran.err
    assert "Guessed: units metric, as usual at the place." in ran.out
    assert "[[outlet]]" in (tmp_path / "mine" / "yard.toml").read_text("utf-8")


@pytest.mark.parametrize(
    ("answers", "sells"), [("maybe\nn", False), ("x\nYes", True), ("no", False), ("Y", True)]
)
def test_whether_a_new_yard_sells_is_asked_again_until_it_is_yes_or_no(tmp_path, answers, sells):
    ran = done("new", tmp_path / "mine", stdin=Terminal(f"45.5, -73.6\n{answers}\n"))
    assert ("is neither yes nor no" in ran.err) == ("\n" in answers)
    assert ("[[outlet]]" in (tmp_path / "mine" / "yard.toml").read_text("utf-8")) == sells


@pytest.mark.parametrize("answers", ["maybe\nx\n", "maybe\n", "maybe\n\n"])
def test_no_yard_is_begun_where_nobody_says_whether_it_sells(tmp_path, answers):
    ran = run("new", tmp_path / "mine", stdin=Terminal(f"45.5, -73.6\n{answers}"))
    assert ran.code == 1 and "--sells or --table" in ran.err
    assert not (tmp_path / "mine").exists()


@pytest.mark.parametrize(
    ("option", "stdin"), [((), Terminal("45.5, -73.6\nno\n")), (("--table",), None)]
)
def test_the_kitchen_gets_a_shorter_yard(tmp_path, option, stdin):
    ran = (
        done("new", tmp_path / "mine", "--place", "45.5, -73.6", *option)
        if option
        else done("new", tmp_path / "mine", stdin=stdin)
    )
    settings = (tmp_path / "mine" / "yard.toml").read_text("utf-8")
    done("new", tmp_path / "other", "--place", "45.5, -73.6", "--sells")
    longer = (tmp_path / "other" / "yard.toml").read_text("utf-8")
    assert settings.count("\n") < 0.75 * longer.count("\n")
    for word in ("outlet", "order", "promise", "sell", "market", "price", "cost", "target"):
        assert word not in settings.lower()
        assert word not in ran.out.lower().replace(str(tmp_path).lower(), "")


def test_what_new_says_can_be_typed_and_plans(tmp_path, monkeypatch):
    """The first hour: new with a weather file, then each line that it says to type."""
    weather = tmp_path / "download.csv"
    write_weather_csv(sample_weather().cut(date(2012, 1, 1), date(2027, 5, 3)), weather)
    where = ("--place", "42.4, -76.5", "--weather", weather)
    ran = done("new", tmp_path / "mine", *where, "--today", TODAY, "--json")
    first, *others = [step["command"] for step in ran.document["next"]]
    monkeypatch.chdir(first.removeprefix("cd "))
    assert [line.split()[1] for line in others] == ["check", "plan"]
    for line in others:
        assert done(*line.split()[1:], "--today", TODAY).code == 0
    assert (tmp_path / "mine" / "out" / "plan.json").is_file()


def test_new_says_when_its_weather_file_ends_too_early(tmp_path):
    weather = tmp_path / "download.csv"
    write_weather_csv(sample_weather().cut(date(2012, 1, 1), date(2026, 5, 1)), weather)
    ran = done("new", tmp_path / "mine", "--weather", weather, "--today", TODAY)
    assert "download.csv ends on 2026-04-30" in " ".join(ran.out.split())
    assert ran.out.index("fruitcast weather import") < ran.out.index("fruitcast plan")


def test_new_finds_a_town_by_its_weather_station_and_plans(tmp_path, monkeypatch):
    folder = tmp_path / "mine"
    with responses.RequestsMock(assert_all_requests_are_fired=False) as server:
        rows = [
            ("AAA", "Hollow Field", 42.7, -73.4, 250),
            ("BBB", "Hollow Field Airport", 42.6, -73.5, 90),
        ]
        server.get(f"{HOST}/stations.db", body=stations_db(tmp_path, rows))
        for year in range(1993, 2027):
            serve_year(server, "AAA", year)
        serve_year(server, "AAA", 2027, until=date(2027, 5, 2))
        ran = done("new", folder, "--place", "hollow field, ny", "--today", TODAY, "--json")
        guessed = {guess["setting"]: guess["value"] for guess in ran.document["guesses"]}
        assert guessed["place"] == "42.7, -73.4" and guessed["elevation"] == "820 ft"
        planned = done("--yard", folder, "--today", TODAY, "plan", "--weeks", 2, "--no-bound")
    assert "Meteostat" in planned.err and (folder / "out" / "calendar.ics").is_file()


@pytest.mark.parametrize(
    ("place", "said"),
    [
        ("Springfield", "several places: Springfield, NY, US (42.7, -73.4); Springfield, NY, US"),
        ("Nowhere", "No weather station is called 'Nowhere'"),
    ],
)
def test_a_town_that_is_not_clear_is_asked_for_again(tmp_path, place, said):
    with responses.RequestsMock() as server:
        rows = [("AAA", "Springfield", 42.7, -73.4, 250), ("BBB", "Springfield", 39.8, -89.6, 90)]
        server.get(f"{HOST}/stations.db", body=stations_db(tmp_path, rows))
        ran = run("new", tmp_path / "mine", "--place", place)
    assert ran.code == 1 and said in ran.err and "--place '42.44, -76.50'" in ran.err
    assert not (tmp_path / "mine").exists()


def test_a_town_without_a_network_is_asked_for_as_a_position(tmp_path):
    with responses.RequestsMock() as server:
        server.get(re.compile(".*"), body=requests.ConnectionError("unplugged"))
        ran = run("new", tmp_path / "mine", "--place", "Ithaca")
    assert ran.code == 1 and "over the network" in ran.err and "--place '42.44" in ran.err
    assert not (tmp_path / "mine").exists()


def test_new_says_in_words_what_to_do_next(tmp_path):
    ran = done("new", tmp_path / "mine")
    for words in ("Only examples", "weather import", "fruitcast check"):
        assert words in ran.out


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--latitude", "91", "--longitude", "3"], "latitude 91 is out of range"),
        (["--latitude", "50"], "the longitude is missing"),
        (["--place", "42.4, 260"], "longitude 260 is out of range"),
        (["--timezone", "America/New_Yrok"], "America/New_York"),
        (["--elevation", "790"], "has no unit"),
        (["--soak-day", "Funday"], "Funday"),
        (["--weather", "nosuch.csv"], "there is no such weather file"),
        (["--weather", "a.csv", "--station", "nearest"], "leave one of them out"),
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


def test_check_tells_each_warning_once(demo):
    rows = (demo / "weather.csv").read_text("utf-8").splitlines()
    (demo / "weather.csv").write_text("\n".join(rows[:3000] + rows[3030:]) + "\n")
    done("--yard", demo, "--today", TODAY, "plan")
    told = done("--yard", demo, "--today", TODAY, "check", "--json").document["warnings"]
    assert any("Missing rain of 30 days" in each for each in told)
    assert len(told) == len(set(told))


def test_check_numbers_lists_each_with_unit_label_and_source(yard):
    listed = done("--yard", yard, "check", "--numbers", "--json").document["numbers"]
    assert sorted(number["key"] for number in listed) == sorted(default_numbers().table)
    for number in listed:
        assert number["unit"] and number["why"] and number["label"] in LABELS
    words = done("--yard", yard, "check", "--numbers").out
    for number in listed:
        assert number["key"] in words


def test_check_numbers_begins_with_those_that_matter_and_how_to_find_ones_own(yard):
    listed = done("--yard", yard, "check", "--numbers", "--json").document["numbers"]
    assert all(number["find"] for number in listed[:10])
    assert not any(number["find"] for number in listed[10:])
    words = " ".join(done("--yard", yard, "check", "--numbers").out.split())
    assert "write it under [numbers] in yard.toml" in words
    for number in listed[:10]:
        assert f"Your own: {number['find']}." in words
        assert words.index(number["key"]) < words.index(listed[10]["key"])


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
    assert list(rows) == [
        *("A/1", "A/2", "B", "C", "D/1", "D/2", "E/1", "E/2", "F", "G/1", "G/2", "G/3"),
        *("H/1", "H/2", "H/3", "J", "K", "L", "M/1", "M/2", "N", "P"),
    ]
    assert sum(row["logs"] for row in rows.values() if row["row"] == "H") == 72
    for row in rows.values():
        assert 0.15 < row["moisture_wet"] < 0.6
        if row["state"] == "fruiting by itself":
            # Its first mushrooms are there: they have no chance of coming.
            assert row["natural_chance"] is row["natural_pick_on"] is None
        else:
            assert 0 <= row["natural_chance"] <= 1
        assert 0 <= row["spawn_run_progress"] <= 1
        assert row["rest_left_days"] >= 0 and row["state"]
        assert all(hold["reason"] for hold in row["holds"])
    assert rows["C"]["state"] == "fruiting by itself"
    resting = rows["A/1"]
    assert resting["rest_left_days"] == 57  # soaked on 27 April: rests 63 days
    assert resting["soakable_from"] == "2027-06-29"
    young = rows["N"]
    assert young["spawn_run_progress"] < 1 and young["bearing_year"] is None
    assert young["state"].startswith("spawn run ")


def test_pins_on_logs_that_are_being_picked_announce_nothing_new(demo):
    where = ("--yard", demo, "--today", TODAY)
    done("record", "pins", "C", "--yes", *where)
    done("record", "pins", "J", "--yes", *where)
    rows = {row["stack"]: row for row in done("stacks", "--json", *where).document["stacks"]}
    assert rows["C"]["state"] == rows["J"]["state"] == "pins seen"
    assert rows["C"]["natural_chance"] is None and rows["J"]["natural_chance"] > 0.5


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
    for part in ("Stack", "Water", "H/2", "warm-weather, beech"):
        assert part in words


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
    monkeypatch.setattr("fruitcast.app.planning.plan_yard", partial(plan_yard, weeks=6))
    before = contents(small)
    ran = done("--yard", small, "--today", TODAY, "week", "--json")
    assert not ran.document["plan_published"]
    assert "not published" in ran.err
    assert contents(small) == before
    quick = ("--no-bound", "--weeks", 6)
    later = done("--yard", small, "--today", TODAY, "plan", *quick, "--json").document
    soaks = [soak["stack"] for soak in later["soaks"] if soak["soak_on"] <= "2027-05-09"]
    assert [job["stack"] for job in ran.document["jobs"] if job["job"] == "soak"] == soaks


def test_a_storm_a_year_ago_is_not_taken_for_yesterdays(small):
    own, found = small / "weather.csv", []
    titles, *lines = (line.split(",") for line in own.read_text().splitlines())
    for rain in ("0.0", "40.0"):
        (row,) = (line for line in lines if line[0] == "2025-08-19")
        row[titles.index("rain")] = rain
        told = [titles, *(line for line in lines if line[0] < "2026-08-19")]
        own.write_text("\n".join(",".join(line) for line in told) + "\n")
        ran = done("--yard", small, "--today", "2026-08-20", "stacks", "--json")
        assert "The last day, 2026-08-19, isn't in the weather yet" in ran.err
        found.append([row["natural_chance"] for row in ran.document["stacks"]])
    # One year of many: it changes the chances by its share, and no more.
    assert 0.0 < max(after - before for before, after in zip(*found, strict=True)) < 0.2


def test_week_follows_the_last_plan_when_the_weather_allows_no_new_one(small):
    own = small / "weather.csv"
    done("--yard", small, "--today", TODAY, "plan", "--no-bound", "--weeks", 6)
    own.write_text("\n".join(own.read_text().splitlines()[:-30]) + "\n")
    ran = done("--yard", small, "--today", "2027-05-04", "week", "--json")
    assert "lacks the 31 days since" in ran.document["not_renewed"]
    assert ran.document["plan_of"] == TODAY
    assert "this is the one published on 2027-05-03" in ran.err
    # Not when it has run out.
    late = run("--yard", small, "--today", "2027-06-20", "week")
    assert late.code == 1 and "days since" in late.err and late.out == ""


def test_a_changed_file_makes_the_plan_stale(small, monkeypatch):
    monkeypatch.setattr("fruitcast.app.planning.plan_yard", partial(plan_yard, weeks=1))
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
    for part in ("Mon 3 May (today)", "Spring supper, you can't fill this: about", "Not this week"):
        assert part in words
    assert json.loads(done("--yard", shared_demo.folder, "--today", TODAY, "--json", "week").out)
