"""What is wrong but plausible: each is said with a reason and a remedy, and a sane yard is not."""

from __future__ import annotations

import re
import shutil
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
import time_machine

from fruitcast.app.demo import sample_folder
from fruitcast.app.doubts import doubts_of_plan
from fruitcast.biology.forced import is_frozen
from fruitcast.diary.plan import KeptDate
from fruitcast.numbers import default_numbers
from fruitcast.weather.daily import DailyWeather
from fruitcast.weather.formats import read_weather_file
from fruitcast.weather.table import weather_csv
from tests.cli.running import change, done, run
from tests.faults.conftest import TODAY
from tests.forecast.yards import look, stack, yard
from tests.weather.invented import invented_weather
from tests.yards import write_yard

NUMBERS = default_numbers()
DAY = date.fromisoformat(TODAY)

SANE = (
    r"The yard's own rain gauge gives the rain of \d+ days?\.",
    r"Only \d+ past years of weather are usable; .* are rough\.",
)
"""What is told of a yard in which nothing is doubtful."""


@pytest.fixture
def sane(tmp_path: Path) -> Path:
    """The sample yard without its diary."""
    return write_yard(tmp_path / "sane", diary=False)


def said(folder: Path, *words: object) -> list[str]:
    """What 'check' tells of a yard that can be planned."""
    document = done("--yard", folder, "--today", TODAY, "check", "--json", *words).document
    assert document["sound"]
    warnings = document["warnings"]
    assert isinstance(warnings, list)
    return [w for w in warnings if not any(re.fullmatch(pattern, w) for pattern in SANE)]


def only(folder: Path) -> str:
    """The one thing that is doubted."""
    (doubt,) = said(folder)
    return str(doubt)


def with_row(folder: Path, row: str) -> None:
    file = folder / "stacks.csv"
    file.write_text(file.read_text(encoding="utf-8") + row + "\n", encoding="utf-8")


def record(folder: Path, *words: object) -> None:
    done("--yard", folder, "--today", TODAY, "record", *words, "--yes")


@pytest.mark.parametrize(("hours", "lots"), [("1", True), ("0.04", False)])
def test_hours_too_few_for_any_soak_are_said(sane: Path, hours: str, lots: bool) -> None:
    change(sane / "yard.toml", 'start = "08:00"', f'start = "08:00"\nhours_a_day = {hours}')
    # The smallest stack has 24 logs; three minutes put one in, see numbers.toml.
    doubt = only(sane)
    assert f"hours_a_day = {hours} under [soaking] in yard.toml is too little" in doubt
    assert "24 logs, takes 1.2 hours" in doubt
    assert ("lot_logs = 20" in doubt) == lots


def test_hours_for_the_smallest_stack_are_enough(sane: Path) -> None:
    change(sane / "yard.toml", 'start = "08:00"', 'start = "08:00"\nhours_a_day = 1.2')
    assert said(sane) == []


def test_a_paused_outlet_is_no_fault(sane: Path) -> None:
    change(sane / "yard.toml", "target_lb = 4", "target_lb = 0")
    assert said(sane) == []


# --- sane yards ----------------------------------------------------------------------------------


def test_the_sample_yard_with_its_diary_raises_no_doubt(tmp_path):
    folder = tmp_path / "sample"
    shutil.copytree(sample_folder(), folder)
    done("--yard", folder, "--today", TODAY, "diary", "import", folder / "diary.csv")
    assert said(folder) == []


@pytest.mark.parametrize(
    ("latitude", "diameter", "tree", "years_ago"),
    [
        (42.6, 12.5, "red oak", 4),
        (60.0, 20.0, "white oak", 8),
        (30.0, 8.0, "sweetgum", 3),
        (-38.0, 12.5, "red oak", 4),
        (0.5, 10.0, "beech", 4),
    ],
)
def test_other_sane_yards_raise_none(sane, latitude, diameter, tree, years_ago):
    text = (sane / "yard.toml").read_text(encoding="utf-8")
    (sane / "yard.toml").write_text(
        text.replace("latitude = 42.6", f"latitude = {latitude}"), encoding="utf-8"
    )
    inoculated = date(DAY.year - years_ago, 4, 1)
    header = (sane / "stacks.csv").read_text(encoding="utf-8").splitlines()[0]
    rows = [
        f"S{k},{c},strain {c},{tree},60,{diameter},100,"
        f"{inoculated + timedelta(days=400 * (k % 2))},sawdust,"
        for k, c in enumerate(["wide-range", "cold-weather", "warm-weather"] * 3)
    ]
    (sane / "stacks.csv").write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
    if latitude < 0:
        weather = read_weather_file(sane / "weather.csv")
        moved = DailyWeather(weather.start - timedelta(days=182), weather.values, weather.sources)
        begin, year = moved.end + timedelta(days=1), timedelta(days=365)
        more = replace(moved.cut(begin - year, DAY - year), start=begin)
        # A year that is another to the last digit would be asked about.
        warmer = {name: column + 0.5 * (name[0] == "t") for name, column in more.values.items()}
        more = replace(more, values=warmer)
        values, sources = (
            {
                name: np.concatenate([getattr(part, what)[name] for part in (moved, more)])
                for name in moved.values
            }
            for what in ("values", "sources")
        )
        (sane / "weather.csv").write_text(
            weather_csv(DailyWeather(moved.start, values, sources)), encoding="utf-8"
        )
    assert said(sane) == []


# --- stacks --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("row", "doubt"),
    [
        (
            "R,wide-range,new,red oak,24,12.5,100,2027-09-01,sawdust,",
            r"stacks\.csv line 16, stack R: inoculated on 2027-09-01, still to come; planned as if",
        ),
        (
            "R,wide-range,new,red oak,24,5,100,2025-04-01,sawdust,",
            r"stack R: diameter_cm 5 is unusual .*Are these inches\? Then the column is diameter_i",
        ),
        (
            "R,wide-range,new,red oak,24,12.5,40,2025-04-01,sawdust,",
            r"stack R: length_cm 40 is unusual .*Are these inches\? Then the column is length_in",
        ),
        (
            "R,wide-range,new,red oak,24,90,100,2025-04-01,sawdust,",
            r"stack R: diameter_cm 90 is unusual .*Are these millimetres\? Then it is 9 under diam",
        ),
        (
            "R,wide-range,new,red oak,24,12.5,100,2017-04-01,sawdust,",
            r"R: presumed spent, as it was inoculated on 2017-04-01, 10 years ago, logs of its "
            r"size and wood bear for about 5, .* Check the date .*'fruitcast record retire R'",
        ),
        (
            "R,wide-range,new,red oak,2400,12.5,100,2025-04-01,sawdust,",
            r"R: 2400 logs are 40 tankfuls\. .*check the number and tank_logs in yard",
        ),
        (
            "R,warm-weather,cold weather special,red oak,24,12.5,100,2025-04-01,sawdust,",
            r"stack R: strain 'cold weather special' speaks of cold-weather, but its strain_class "
            r"is warm-weather\. Correct the one",
        ),
        (
            "R,warm-weather,All-Round,red oak,24,12.5,100,2025-04-01,sawdust,",
            r"strain 'all-round' stands under two classes: wide-range \(stack A\) and warm-weather "
            r"\(stack R\)\. .*the spawn maker's label",
        ),
    ],
    ids=["future", "inches", "length in inches", "mm", "spent", "logs", "strain name", "classes"],
)
def test_a_doubtful_stack_is_asked_about(sane, row, doubt):
    with_row(sane, row)
    assert re.search(doubt, only(sane)), only(sane)


def test_millimetres_out_of_range_are_a_fault_with_a_hint(sane):
    with_row(sane, "R,wide-range,new,red oak,24,125,1000,2025-04-01,sawdust,")
    ran = run("--yard", sane, "--today", TODAY, "check")
    assert ran.code == 1
    assert re.search(
        r"diameter_cm 125 is out of range.*Are these millimetres\? Then it is 12\.5 u", ran.err
    )
    assert re.search(r"length_cm 1000 is out of range.*millimetres\? Then it is 100 under", ran.err)


def test_an_old_stack_that_still_bears_is_not_doubted(sane):
    with_row(sane, "R,wide-range,new,red oak,24,12.5,100,2017-04-01,sawdust,")
    record(sane, "pick", "R", "2 lb", "2026-10-01")
    assert said(sane) == []


def test_an_old_stack_that_was_retired_is_not_doubted(sane):
    with_row(sane, "R,wide-range,new,red oak,24,12.5,100,2017-04-01,sawdust,")
    record(sane, "retire", "R", "2026-10-01")
    assert said(sane) == []


def test_flushes_at_temperatures_of_another_class_are_asked_about(sane):
    with_row(sane, "R,warm-weather,new,red oak,24,12.5,100,2024-04-01,sawdust,")
    for day in ("2026-04-10", "2026-11-16", "2025-11-10"):
        record(sane, "pick", "R", "3 lb", day)
    assert re.search(
        r"R: 3 of 3 flushes were picked after days of .* °[CF], where warm-weather strains "
        r"hardly fruit\. Is its strain_class in stacks\.csv right\?",
        only(sane),
    ), only(sane)
    for day in ("2026-07-01", "2026-08-15", "2025-07-03"):  # as many in its season
        record(sane, "pick", "R", "3 lb", day)
    assert said(sane) == []


@pytest.mark.parametrize(
    ("options", "doubt"),
    [
        (("--diameter", "5 cm"), r"--diameter: 2 in is unusual for a log; .*Check the number and"),
        (("--diameter", "5 in", "--length", "10 in"), r"--length: 10 in is unusual for a log"),
        (
            ("--diameter", "5 in", "--along", "1.5 in", "--between", "1.5 in"),
            r"\d{3} holes a log are many: at the usual distances it would be about 3\d\. Check",
        ),
        (
            ("--diameter", "5 in", "--along", "15 in"),
            r"\d+ holes a log are few: at the usual distances it would be about 3\d\.",
        ),
        (("--diameter", "5 in", "--logs", "5000"), r"5000 logs are 83 tankfuls\. .*several stack"),
        (("--diameter", "5 in"), None),
    ],
    ids=["thin", "short", "many holes", "few holes", "logs", "sane"],
)
def test_a_doubtful_batch_is_asked_about(sane, options, doubt):
    document = done(
        *("--yard", sane, "--today", TODAY, "--json", "inoculation", "--batch"),
        *("--class", "wide-range", "--tree", "red oak", "--length", "40 in", "--logs", 50),
        *options,
    ).document
    doubts = [w for w in document["warnings"] if not any(re.fullmatch(p, w) for p in SANE)]
    if doubt is None:
        assert doubts == []
    else:
        assert len(doubts) == 1 and re.search(doubt, doubts[0]), doubts


# --- the tank ------------------------------------------------------------------------------------


def test_a_soak_recorded_in_a_hard_frost_is_asked_about(sane):
    weather = read_weather_file(sane / "weather.csv")
    first, last = weather.index(date(2026, 11, 1)), weather.index(date(2027, 3, 15))
    ice = is_frozen(weather.tmean.reshape(-1, 1), NUMBERS.doubt)[:, 0]
    row = first + int(np.argmax(ice[first:last]))
    assert ice[row]
    frosty = weather.day(row)
    record(sane, "soak", "A", "24 h", frosty.isoformat())
    record(sane, "pull", "A", (frosty + timedelta(days=1)).isoformat())
    assert re.search(
        r"Soaks recorded in frost, when an open tank is frozen: A(/\d)? on .*Is the day right\?",
        only(sane),
    )


def test_a_soak_recorded_in_summer_is_not(sane):
    record(sane, "soak", "A", "24 h", "2026-08-04")
    record(sane, "pull", "A", "2026-08-05")
    assert said(sane) == []


def test_a_night_of_frost_is_no_ice_and_a_week_of_it_is():
    tmean = np.full((40, 1), 4.0)
    tmean[10] = -12.0
    tmean[25:33] = -4.0
    ice = is_frozen(tmean, NUMBERS.doubt)[:, 0]
    assert not ice[:25].any()
    assert ice[31:33].all()


def test_a_soak_planned_for_a_frozen_tank_is_asked_about():
    today = date(2026, 12, 1)
    here = yard(
        stack(inoculated=date(2023, 4, 5)), soaking=replace(yard().soaking, first=None, last=None)
    )
    seen = look(
        here, today=today, weather=invented_weather(date(2011, 1, 1), date(2026, 11, 30), seed=5)
    )
    (doubt,) = doubts_of_plan(seen, [KeptDate(stack="A", soak_on=date(2027, 1, 26))], NUMBERS.doubt)
    assert re.search(
        r"frozen in most weather years: A on Tue 26 Jan \(\d+%\)\. .*\[soaking\]", doubt
    )
    assert (
        doubts_of_plan(seen, [KeptDate(stack="A", soak_on=date(2026, 12, 4))], NUMBERS.doubt) == ()
    )


# --- sales ---------------------------------------------------------------------------------------


def test_a_target_that_no_yard_could_meet_is_asked_about(sane):
    change(sane / "yard.toml", "target_lb = 8\n", "target_lb = 80\n")
    assert re.search(
        r"The outlets ask for more than the logs can bring: 2,?\d{3} lb in 26 weeks, and 511 logs "
        r"bring 9\d\d lb at the very most, .*and their unit \(target_kg, target_lb\)",
        only(sane),
    ), only(sane)


def test_an_order_that_all_logs_at_once_could_not_meet_is_asked_about(sane):
    change(sane / "yard.toml", "target_lb = 30\n", "target_lb = 520\n")
    assert re.search(
        r"Spring supper on 2027-05-06 asks for 520 lb, more than all 511 logs would give at once",
        only(sane),
    ), only(sane)


# --- weather -------------------------------------------------------------------------------------


def lines_of(folder: Path) -> list[str]:
    return (folder / "weather.csv").read_text(encoding="utf-8").splitlines()


def keep_lines(folder: Path, lines: list[str]) -> None:
    (folder / "weather.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")


def test_members_of_one_decade_are_said(sane):
    lines = lines_of(sane)
    keep_lines(sane, [lines[0], *(x for x in lines[1:] if x >= "2018")])
    assert re.search(
        r"All weather years are of 2018 to 2026: .*A longer record, or a larger 'years'", only(sane)
    ), only(sane)


def test_so_is_asking_for_few_years_of_a_long_record(sane):
    change(sane / "yard.toml", "years = 30", "years = 8")
    assert "All weather years are of 2019 to 2026" in only(sane)


def test_members_of_long_ago_are_said(sane):
    """The record of thirty years ago, and this spring's own."""
    lines = [line for line in lines_of(sane) if not line.startswith("#")]
    old = [
        f"{int(line[:4]) - 20}{line[4:]}"
        for line in lines[1:]
        if line[5:10] != "02-29" and line < "2026"
    ]
    recent = [line for line in lines[1:] if line >= "2027-02"]
    keep_lines(sane, [lines[0], *old, *recent])
    assert re.search(
        # 2005 lacks the last weeks of its winter alone: another year's stand in.
        r"last weather year that can be used is 2005, 22 years ago",
        " ".join(said(sane)),
    )


@pytest.mark.parametrize(("every", "told"), [(5, True), (6, True), (40, False)])
def test_years_filled_in_for_a_fifth_are_said(sane, every, told):
    """Single days without rain all through 2015: a fifth, a sixth, a fortieth of them."""
    lines = lines_of(sane)
    for k, line in enumerate(lines):
        if line.startswith("2015-") and k % every == 0:
            parts = line.split(",")
            parts[lines[0].split(",").index("rain")] = ""
            lines[k] = ",".join(parts)
    keep_lines(sane, lines)
    doubts = said(sane)
    assert any("Missing rain of" in doubt for doubt in doubts)
    named = [d for d in doubts if "filled in from other years" in d]
    assert bool(named) == told
    if told:
        assert re.search(r"2015 \((1[4-9]|20)%\)", named[0]), named


def test_seasons_of_the_other_half_of_the_globe_are_asked_about(sane):
    change(sane / "yard.toml", "latitude = 42.6", "latitude = -42.6")
    assert re.search(
        r"latitude -42\.6 lies south of the equator, but the weather has the seasons of the north: "
        r"January is at -?\d+ °[CF] and July at \d+ °[CF]\. .*check latitude in yard\.toml",
        only(sane),
    ), only(sane)


def test_a_plan_tells_the_same_doubts_as_the_check(sane):
    rows = (sane / "stacks.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    (sane / "stacks.csv").write_text("".join(rows[:3]), encoding="utf-8")
    with_row(sane, "R,wide-range,new,red oak,24,12.5,100,2017-04-01,sawdust,")
    change(sane / "yard.toml", "years = 30", "years = 5")
    planned = done(
        "--yard", sane, "--today", TODAY, "plan", "--weeks", 4, "--no-bound", "--json"
    ).document
    doubts = said(sane)
    assert any(doubt.startswith("R: presumed spent") for doubt in doubts) and len(doubts) > 1
    for doubt in doubts:
        # What is doubted of the weather is told once, by the check.
        assert (doubt in planned["warnings"]) != doubt.startswith("All weather years"), doubt
    short = [line for line in planned["warnings"] if "'fruitcast check' tells it" in line]
    assert short == ["The weather raises a doubt: 'fruitcast check' tells it."]


def noaa_file(folder: Path, latitude: float, longitude: float, elevation: float) -> None:
    """Give the yard its weather as a download that says where it was measured."""
    rows = [line.split(",") for line in lines_of(folder) if not line.startswith("#")]
    table = [
        "STATION,LATITUDE,LONGITUDE,ELEVATION,DATE,TMIN,TMAX,PRCP",
        *(
            f"US1,{latitude},{longitude},{elevation},{day},{low},{high},{rain}"
            for day, low, high, rain, *_ in rows[1:]
        ),
    ]
    keep_lines(folder, table)


def test_a_file_measured_far_away_or_much_higher_is_said(sane):
    noaa_file(sane, 44.4, -73.4, 240.0)
    (far,) = [doubt for doubt in said(sane) if "km away" in doubt]
    assert re.search(
        r"weather\.csv, measured 200 km away: rain may differ much .*a rain gauge", far
    )


def test_a_file_measured_much_higher_is_said(sane):
    noaa_file(sane, 42.6, -73.4, 740.0)
    (high,) = [doubt for doubt in said(sane) if "km away" in doubt]
    assert "lies 500 m higher than the yard: expect it to be colder" in high


def test_a_file_measured_near_by_is_not(sane):
    noaa_file(sane, 42.7, -73.3, 300.0)
    assert not [doubt for doubt in said(sane) if "km away" in doubt]


def test_an_import_says_how_far_away_its_file_was_measured(sane, tmp_path):
    file = tmp_path / "download.csv"
    file.write_text(
        "latitude,longitude,elevation,utc_offset_seconds\n"
        "40.0,-73.4,20.0,0\n\n"
        "time,temperature_2m_max (°C),temperature_2m_min (°C),precipitation_sum (mm)\n"
        "2005-12-30,5.0,-3.0,0.0\n2005-12-31,6.0,-2.0,1.0\n",
        encoding="utf-8",
    )
    ran = done("--yard", sane, "--today", TODAY, "weather", "import", file)
    assert re.search(r"download\.csv, measured 289 km away: rain may differ much", ran.err)


# --- the clock -----------------------------------------------------------------------------------


def test_a_clock_behind_the_diary_is_said_by_plan_check_and_record(planned):
    with time_machine.travel(datetime(2027, 4, 20, 12, tzinfo=UTC), tick=False):
        words = r"clock says 2027-04-20, but the diary was written to on 2027-05-03\. .*--today"
        for command in (("check",), ("plan", "--weeks", 4, "--no-bound"), ("record", "note", "x")):
            ran = done("--yard", planned, *command)
            assert re.search(words, ran.err), (command, ran.err)
    # A day given by hand is no clock's fault.
    assert "clock" not in done("--yard", planned, "--today", "2027-04-20", "check").err
