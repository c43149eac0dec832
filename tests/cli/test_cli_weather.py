"""Weather on the command line: shown, taken in, fetched once and kept."""

import re
import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import UTC, date, datetime

import numpy as np
import pytest
import requests
import responses
import time_machine

from fruitcast.cli import session
from fruitcast.weather.formats import read_weather_file
from fruitcast.weather.table import write_weather_csv
from tests.cli.running import TODAY, change, contents, done, run
from tests.weather.station_server import serve_year
from tests.weather.test_site_forecast import HOST as SERVICE
from tests.weather.test_site_forecast import payload

YESTERDAY = date(2027, 5, 2)


def weather(yard, *words, **options):
    return run("--yard", yard, "--today", TODAY, "weather", *words, **options)


def test_show_tells_span_years_and_last_days(shared_demo):
    document = weather(shared_demo.folder, "show", "--days", 3, "--json").document
    assert (document["first"], document["last"]) == ("2006-01-01", "2027-05-02")
    assert [day["date"] for day in document["days"]] == ["2027-04-30", "2027-05-01", "2027-05-02"]
    assert document["days"][0]["rain_source"] == "observed"
    assert document["days"][0]["rh_percent"] is None
    years = {year["year"]: year for year in document["years"]}
    assert years[2020]["days"] == 366 and years[2020]["usable"]
    assert years[2027]["days"] == 122 and not years[2027]["usable"]
    assert document["obstacle"] is None
    words = weather(shared_demo.folder, "show").out
    assert (
        "21 past years can stand for the weeks from 2027-05-03 on" in words and "observed" in words
    )


def test_show_of_weather_that_no_plan_can_use_says_why(yard):
    rows = (yard / "weather.csv").read_text("utf-8").splitlines()
    (yard / "weather.csv").write_text("\n".join(rows[:1] + rows[-400:]) + "\n")
    ran = weather(yard, "show", "--json")
    assert ran.code == 0
    assert "usable past year" in ran.document["obstacle"]
    assert ran.document["obstacle"] in ran.err


# --- import --------------------------------------------------------------------------------------


def test_import_adds_days_in_other_units_and_keeps_the_rest(yard, tmp_path):
    before = read_weather_file(yard / "weather.csv")
    file = tmp_path / "may.csv"
    file.write_text("date;tmin_f;tmax_f;rain_in\n2027-05-03;41,0;68,0;0,50\n", encoding="utf-8")
    ran = weather(yard, "import", file, "--json")
    assert ran.code == 0, ran.err
    assert ran.document["new_days"] == 1
    after = read_weather_file(yard / "weather.csv")
    assert after.days == before.days + 1
    last = (after.tmin[-1], after.tmax[-1], after.rain[-1])
    assert last == pytest.approx((5.0, 20.0, 12.7))
    np.testing.assert_array_equal(after.rain[:-1], before.rain)
    assert (yard / "weather.csv.before-import").exists()


def test_an_import_that_fills_days_says_of_how_many(yard, tmp_path):
    own = yard / "weather.csv"
    lines = own.read_text().splitlines()
    file = tmp_path / "july.csv"
    at = next(n for n, line in enumerate(lines) if line.startswith("2025-07-04"))
    file.write_text("\n".join([lines[0], *lines[at : at + 9]]) + "\n")
    own.write_text("\n".join(lines[:at] + lines[at + 9 :]) + "\n")
    ran = weather(yard, "import", file)
    assert f"What 9 days lacked is filled in {own}." in ran.err
    assert weather(yard, "import", file, "--json").document["filled_days"] == 0
    assert own.read_text().splitlines()[at] == lines[at]


def test_slips_in_the_stacks_keep_no_weather_out(yard, tmp_path):
    (yard / "stacks.csv").write_text("stack,logs\nA,many\n")
    file = tmp_path / "may.csv"
    file.write_text("date,tmin,tmax,rain\n2027-05-03,5,20,12.7\n")
    assert "1 day is new" in done("--yard", yard, "--today", TODAY, "weather", "import", file).err
    assert done("--yard", yard, "--today", TODAY, "weather", "show").code == 0


def test_import_does_not_overwrite_what_was_observed_unless_told(yard, tmp_path):
    file = tmp_path / "other.csv"
    file.write_text("date,tmin,tmax,rain\n2027-05-01,1,2,3\n2027-05-02,1,2,3\n")
    before = contents(yard)
    ran = weather(yard, "import", file, "--json")
    assert (ran.code, ran.out) == (1, "")
    assert "2 days differ" in ran.err and "2027-05-01" in ran.err and "--replace" in ran.err
    assert contents(yard) == before
    assert weather(yard, "import", file, "--replace").code == 0
    assert read_weather_file(yard / "weather.csv").rain[-2:].tolist() == [3.0, 3.0]
    assert contents(yard)["weather.csv.before-import"] == before["weather.csv"]


def test_an_import_that_can_hardly_be_true_is_asked_about_and_writes_nothing(yard, tmp_path):
    file = tmp_path / "may.csv"
    rows = "".join(f"2027-05-{day:02d},4{day % 4},5{day % 6},0.1\n" for day in range(3, 17))
    file.write_text(f"date,tmin_c,tmax_c,rain_mm\n{rows}")
    before = contents(yard)
    ran = weather(yard, "import", file)
    assert (ran.code, ran.out) == (1, "")
    assert "Fahrenheit taken for Celsius" in ran.err and "--as-it-stands" in ran.err
    assert contents(yard) == before
    assert weather(yard, "import", file, "--as-it-stands").code == 0
    assert read_weather_file(yard / "weather.csv", as_it_stands=True).tmin[-1] == 40.0


def test_a_doubt_that_was_answered_is_not_raised_again(yard, tmp_path):
    file = tmp_path / "may.csv"
    rows = "".join(f"2027-05-{day:02d},4{day % 4},5{day % 6},0.1\n" for day in range(3, 17))
    file.write_text(f"date,tmin_c,tmax_c,rain_mm\n{rows}")
    assert weather(yard, "import", file, "--as-it-stands").code == 0

    def asked() -> tuple[bool, ...]:
        there = ("--yard", yard, "--today", "2027-05-17")
        check, stacks = run(*there, "check"), run(*there, "stacks")
        assert stacks.code == 0
        return "The yard's weather:" in check.err, "raises a doubt" in stacks.err

    assert asked() == (False, False)
    with closing(sqlite3.connect(yard / "diary.db")) as raw, raw:
        raw.execute("DELETE FROM documents WHERE kind = 'believed weather'")
    assert asked() == (True, True)


def test_a_new_yard_asks_before_anything_is_written(tmp_path):
    file = tmp_path / "winter.csv"
    rows = "".join(f"2027-01-{day:02d},2{day % 9},3{day % 7},0\n" for day in range(1, 29))
    file.write_text(f"date,tmin,tmax,rain\n{rows}")
    words = ("new", tmp_path / "yard", "--place", "42.6, -73.4", "--weather", file)
    ran = run("--today", TODAY, *words)
    assert ran.code == 1 and "at latitude 42.6" in ran.err and "--as-it-stands" in ran.err
    assert not (tmp_path / "yard").exists()
    assert run("--today", TODAY, *words, "--as-it-stands").code == 0


def test_a_year_without_a_drop_is_asked_about_when_a_yard_is_begun(yard, tmp_path):
    rows = (yard / "weather.csv").read_text("utf-8").splitlines()
    at = rows[0].split(",").index("rain")
    cells = [row.split(",") for row in rows]
    for row in cells:
        row[at] = "0.0" if row[0].startswith("2025") else row[at]
    file = tmp_path / "dry.csv"
    file.write_text("\n".join(map(",".join, cells)) + "\n")
    words = ("new", tmp_path / "own", "--place", "42.6, -73.4", "--weather")
    ran = run("--today", TODAY, *words, file)
    assert ran.code == 1 and "not a drop is told" in ran.err and "2025" in ran.err
    assert not (tmp_path / "own").exists()
    assert run("--today", TODAY, *words, yard / "weather.csv").code == 0


def without_units(source, file, tmin="tmin", tmax="tmax", rain="rain"):
    """Write a yard's weather in whole F and hundredths of an inch, under titles of no unit."""
    table = read_weather_file(source, as_it_stands=True)
    cells = zip(table.tmin * 1.8 + 32, table.tmax * 1.8 + 32, table.rain / 25.4, strict=True)
    rows = [f"{table.day(row)},{a:.0f},{b:.0f},{c:.2f}" for row, (a, b, c) in enumerate(cells)]
    file.write_text("\n".join([f"date,{tmin},{tmax},{rain}", *rows]) + "\n")


def test_what_a_new_yard_is_advised_about_units_works_at_that_moment(yard, tmp_path):
    file = tmp_path / "plain.csv"
    without_units(yard / "weather.csv", file)
    words = ("new", tmp_path / "own", "--place", "42.6, -73.4", "--weather", file)
    ran = run("--today", TODAY, *words)
    assert ran.code == 1 and not (tmp_path / "own").exists()
    assert "Say --units us, or put the units into the titles (tmin_f, tmax_f, rain_in)" in ran.err
    assert run("--today", TODAY, *words, "--units", "metric").code == 1
    done("--today", TODAY, *words, "--units", "us")
    taken = read_weather_file(tmp_path / "own" / "weather.csv")
    known = read_weather_file(yard / "weather.csv")
    np.testing.assert_allclose(taken.tmax, known.tmax, atol=0.3)
    np.testing.assert_allclose(taken.rain, known.rain, atol=0.13)
    without_units(yard / "weather.csv", file, "tmin_f", "tmax_f", "rain_in")
    done("--today", TODAY, "new", tmp_path / "other", *words[2:])


def test_a_file_that_tells_its_units_is_read_by_them_whatever_the_yard_s_are(yard, tmp_path):
    words = ("new", tmp_path / "own", "--place", "42.6, -73.4", "--weather", yard / "weather.csv")
    done("--today", TODAY, *words, "--units", "us")
    taken = read_weather_file(tmp_path / "own" / "weather.csv")
    np.testing.assert_array_equal(taken.tmin, read_weather_file(yard / "weather.csv").tmin)


def test_only_days_with_values_are_said_to_be_taken_in(yard, tmp_path):
    rows = (yard / "weather.csv").read_text("utf-8").splitlines()
    file = tmp_path / "gaps.csv"
    emptied = [f"{row.split(',')[0]}{',' * row.count(',')}" for row in rows[101:131]]
    file.write_text("\n".join([*rows[:101], *emptied, *rows[131:201], *rows[251:]]) + "\n")
    ran = done(
        *("--today", TODAY, "new", tmp_path / "own", "--place", "42.6, -73.4", "--weather", file)
    )
    assert f"{len(rows) - 1 - 30 - 50} days of weather were taken in" in ran.out + ran.err


def test_days_to_come_are_not_listed_as_observed(shared_demo):
    ran = run("--yard", shared_demo.folder, "--today", "2026-06-10", "weather", "show", "--json")
    assert any("were left out" in note for note in ran.document["notes"])
    listed = [day["date"] for day in ran.document["days"]]
    assert listed[-1] == "2026-06-09" and len(listed) == 14


def test_days_that_can_hardly_be_right_have_an_exit_code_of_their_own(yard, monkeypatch):
    change(yard / "yard.toml", 'file = "weather.csv"', 'station = "99999"')
    record = read_weather_file(yard / "weather.csv")
    odd = {**record.values, "rain": record.rain.copy()}
    odd["rain"][-2] = 900.0
    fetched = replace(record, values=odd, origin="station 99999")
    monkeypatch.setattr("fruitcast.weather.station.fetch_station", lambda *_, **__: fetched)
    ran = weather(yard, "fetch", "--json")
    assert ran.code == 3 and "station 99999 can hardly be right and were set aside" in ran.err
    assert ran.document["days"][-2]["rain_mm"] is None
    ran = run("--yard", yard, "--today", TODAY, "plan", "--no-bound", "--weeks", 4)
    assert ran.code == 3 and "set aside" in ran.err
    assert (yard / "out" / "plan.csv").exists()


def test_an_import_takes_in_nothing_from_days_to_come(yard, tmp_path):
    before = contents(yard)
    file = tmp_path / "ahead.csv"
    file.write_text("date,tmin,tmax,rain\n2027-05-03,1,12,3\n2027-05-04,2,13,0\n")
    ran = weather(yard, "import", file)
    assert ran.code == 0 and "1 day after 2027-05-03" in ran.err
    assert read_weather_file(yard / "weather.csv").end == date(2027, 5, 3)
    file.write_text("date,tmin,tmax,rain\n2027-06-04,2,13,0\n")
    ran = weather(yard, "import", file, "--replace")
    assert ran.code == 1 and "slip in the dates" in ran.err
    after = contents(yard)
    assert after["weather.csv.before-import"] == before["weather.csv"]


def test_importing_the_same_twice_changes_nothing_more(yard, tmp_path):
    file = tmp_path / "may.csv"
    file.write_text("date,tmin,tmax,rain\n2027-05-03,5,20,12.7\n")
    weather(yard, "import", file)
    once = (yard / "weather.csv").read_bytes()
    ran = weather(yard, "import", file, "--json")
    assert ran.document["new_days"] == 0
    assert (yard / "weather.csv").read_bytes() == once


def test_an_import_says_which_file_it_went_into_and_what_comes_next(yard, tmp_path):
    file = tmp_path / "may.csv"
    file.write_text("date,tmin,tmax,rain\n2027-05-03,5,20,12.7\n")
    said = done("--yard", yard, "--today", "2027-05-04", "weather", "import", file).err
    assert f"1 day is new in {yard / 'weather.csv'}.\n" in said
    assert "'fruitcast check', then 'fruitcast plan'" in said


def test_an_import_that_ends_too_early_says_so_at_once(yard, tmp_path):
    (yard / "weather.csv").unlink()
    file = tmp_path / "old.csv"
    file.write_text("date,tmin,tmax,rain\n2015-05-03,5,20,12.7\n2015-05-04,5,20,0\n")
    ran = done("--yard", yard, "--today", TODAY, "weather", "import", file)
    # Two days are no weather to plan from as of then either.
    assert "old.csv ends on 2015-05-04" in ran.err and "--today" not in ran.err
    assert "No plan can be made from it as it is" in ran.out


def test_where_check_finds_no_fault_a_plan_can_be_made(small):
    """A record of three years and a bit: too short for what reaches furthest ahead."""
    change(small / "yard.toml", "years = 5", "years = 30")
    table = read_weather_file(small / "weather.csv").cut(date(2024, 1, 1), date(2027, 5, 3))
    write_weather_csv(table, small / "weather.csv")
    words = ("--yard", small, "--today", "2027-05-03")
    assert "No faults found." in done(*words, "check").out
    ran = done(*words, "plan", "--no-bound", "--weeks", 4, "--json")
    assert ran.document["care"] == []
    said = "No dates for the care of young logs are given"
    assert any(said in note for note in ran.document["warnings"])
    assert said in done(*words, "check").err  # which tells what a plan saw too


def test_a_yard_without_weather_gets_its_file(tmp_path, yard):
    file = yard / "weather.csv"
    elsewhere = tmp_path / "given.csv"
    file.rename(elsewhere)
    assert weather(yard, "import", elsewhere, "--json").document["files"] == [str(file)]
    assert done("--yard", yard, "--today", TODAY, "check").out


@pytest.mark.parametrize("text", ["", "<html></html>", "date,tmin,tmax,rain\n2027-05-01,9,2,0\n"])
def test_a_file_that_cannot_be_read_leaves_the_old_one(yard, tmp_path, text):
    file = tmp_path / "bad.csv"
    file.write_text(text)
    before = contents(yard)
    ran = weather(yard, "import", file)
    assert ran.code == 1 and ran.err.startswith("bad.csv")
    assert contents(yard) == before


# --- a station -----------------------------------------------------------------------------------


@pytest.fixture
def station_yard(small):
    change(small / "yard.toml", 'file = "weather.csv"', 'station = "AAA"')
    (small / "weather.csv").unlink()
    return small


@pytest.fixture
def server():
    with (
        time_machine.travel("2027-05-03T16:00:00Z", tick=False) as clock,
        responses.RequestsMock(assert_all_requests_are_fired=False) as mock,
    ):
        mock.clock = clock
        for year in range(2018, 2027):
            serve_year(mock, "AAA", year)
        serve_year(mock, "AAA", 2027, until=YESTERDAY)
        mock.get(re.compile(r".*/stations\.db"), status=404)
        yield mock


def unplug(server):
    server.reset()
    server.get(re.compile(".*"), body=requests.ConnectionError("unplugged"))


def test_the_first_fetch_stores_and_planning_then_asks_nobody(station_yard, server):
    ran = weather(station_yard, "fetch", "--json")
    assert ran.code == 0, ran.err
    assert ran.document["last"] == "2027-05-02"
    assert "Meteostat" in ran.document["attribution"]
    asked = len(server.calls)
    words = ("--yard", station_yard, "--today", TODAY)
    planned = done(*words, "plan", "--weeks", 4, "--no-bound", "--json")
    later = [call.request.url for call in list(server.calls)[asked:]]
    assert [url for url in later if "stations.db" not in url] == []
    assert any("Meteostat" in warning for warning in planned.document["warnings"])


def test_a_fetch_tells_year_by_year_how_far_it_is(station_yard, server, monkeypatch):
    monkeypatch.setattr(session, "LINE_EVERY", 0.0)
    ran = weather(station_yard, "fetch", "--json")
    assert ran.document["last"] == "2027-05-02"
    told = re.findall(r"years of station AAA: (\d+) of (\d+)", ran.err)
    total = int(told[-1][1])
    assert total > 5 and told == [(str(done), str(total)) for done in range(total)]


def test_a_station_without_a_forecast_is_helped_out_for_who_says_who_asks(station_yard, server):
    alone = done("--yard", station_yard, "weather", "fetch", "--json")
    assert 'write your e-mail address under [weather] in yard.toml, contact = "you' in alone.err
    server.get(SERVICE, body=payload(datetime(2027, 5, 3, 9, tzinfo=UTC)))
    change(station_yard / "yard.toml", "years = 5", 'years = 5\ncontact = "grower@example.org"')
    ran = done("--yard", station_yard, "weather", "fetch", "--days", 3, "--json")
    assert "you@example.org" not in ran.err
    assert "Forecast: MET Norway (NLOD 2.0)" in ran.document["attribution"]
    ahead = [day for day in ran.document["days"] if day["rain_source"] == "forecast"]
    assert len(ahead) > 7 and ahead[0]["date"] == "2027-05-04"
    assert ahead[0]["rain_mm"] == pytest.approx(12.0)
    planned = done("--yard", station_yard, "plan", "--weeks", 4, "--no-bound", "--json")
    assert any("MET Norway" in warning for warning in planned.document["warnings"])
    served = [call for call in server.calls if call.request.url.startswith(SERVICE)]
    # No answer says until when it is good, so it is kept for an hour.
    assert len(served) == 1


def test_without_the_network_the_stored_copy_is_used_and_its_age_told(station_yard, server):
    weather(station_yard, "fetch")
    unplug(server)
    server.clock.move_to("2027-05-05T17:00:00Z")
    ran = done("--yard", station_yard, "weather", "show", "--json")
    assert "the stored copy of 2027 is 2 days old (fetched 2027-05-03)" in ran.err
    assert ran.document["last"] == "2027-05-02"
    offline = weather(station_yard, "show", "--offline", "--json")
    assert offline.code == 0


def test_without_network_and_store_there_is_one_clear_error(station_yard, server):
    unplug(server)
    before = contents(station_yard).keys()
    ran = run("--yard", station_yard, "--today", TODAY, "plan", "--json")
    assert (ran.code, ran.out) == (1, "")
    assert ran.err.count("\n") == 1
    assert "can't be fetched" in ran.err or "can't be reached" in ran.err
    assert {name for name in contents(station_yard) if not name.startswith(".weather")} == before


def test_a_fetched_table_can_be_written_and_taken_as_the_yards_file(small, server, tmp_path):
    file = tmp_path / "station.csv"
    ran = weather(small, "fetch", "--station", "AAA", "-o", file, "--as-it-stands", "--json")
    assert ran.code == 0, ran.err
    assert ran.document["files"] == [str(file)]
    assert 'station = "AAA"' in ran.err  # how to go by it
    assert read_weather_file(file).attribution.startswith("Weather data: Meteostat")
