"""A slip in the yard's files: named with its place and remedy; nothing printed, nothing lost."""

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.running import TODAY, change, contents, done, run

HTML = "<!DOCTYPE html><html><head><title>Log in</title></head><body>Log in</body></html>\n"


def _lines(file: Path) -> list[str]:
    return file.read_text(encoding="utf-8").splitlines()


def _empty(yard: Path) -> None:
    (yard / "weather.csv").write_text("")


def _web_page(yard: Path) -> None:
    (yard / "weather.csv").write_text(HTML)


def _column_missing(yard: Path) -> None:
    rows = [line.split(",") for line in _lines(yard / "weather.csv")]
    at = rows[0].index("tmax")
    text = "\n".join(",".join(row[:at] + row[at + 1 :]) for row in rows)
    (yard / "weather.csv").write_text(text + "\n")


def _crossed(yard: Path) -> None:
    rows = _lines(yard / "weather.csv")
    day, tmin, tmax, *rest = rows[999].split(",")
    rows[999] = ",".join([day, tmax, tmin, *rest])
    (yard / "weather.csv").write_text("\n".join(rows) + "\n")


def _rain_missing(yard: Path) -> None:
    """Take two days of every five out, over the whole file."""
    rows = [line.split(",") for line in _lines(yard / "weather.csv")]
    at = rows[0].index("rain")
    for number, row in enumerate(rows[1:]):
        if number % 5 < 2:
            row[at] = ""
    (yard / "weather.csv").write_text("\n".join(",".join(row) for row in rows) + "\n")


def _in_stacks(old: str, new: str) -> Callable[[Path], None]:
    return lambda yard: change(yard / "stacks.csv", old, new)


def _in_settings(old: str, new: str) -> Callable[[Path], None]:
    return lambda yard: change(yard / "yard.toml", old, new)


CASES = {
    "empty weather file": (_empty, [r"weather\.csv", "the file is empty", "Save the weather"]),
    "a web page": (_web_page, [r"weather\.csv line 1", "web page", "fetch the file again"]),
    "a column missing": (
        _column_missing,
        [r"weather\.csv line 1", "no column 'tmax'", "Name the column"],
    ),
    "tmin above tmax": (
        _crossed,
        [r"weather\.csv line 1000, 2008-09-25", "tmin .* above .*tmax", r"\. [A-Z]"],
    ),
    "40 % of rain missing": (
        _rain_missing,
        [r"weather\.csv", "lack (temperature or )?rain", "weather import"],
    ),
    "unknown class": (
        _in_stacks("E,warm-weather", "E,hot-weather"),
        [r"stacks\.csv line 6, stack E", "'?hot-weather'?", "warm-weather"],
    ),
    "negative logs": (
        _in_stacks("white oak,36", "white oak,-36"),
        [r"stacks\.csv line 2, stack A", "logs .*-36", r"\. [A-Z]"],
    ),
    "stack named twice": (
        _in_stacks("\nC,cold", "\nA,cold"),
        [r"stacks\.csv line 4, stack A", "twice|already|line 2", r"\. [A-Z]"],
    ),
    "target without day": (
        _in_settings('day = "Wed"\n', ""),
        [r"yard\.toml \[\[outlet\]\].*Village shop", "day", r'day = "'],
    ),
    "timezone misspelt": (
        _in_settings("America/New_York", "America/New_Yrok"),
        [r"yard\.toml \[site\] timezone", "America/New_Yrok", "America/New_York"],
    ),
}


@pytest.mark.parametrize("json", [[], ["--json"]], ids=["words", "json"])
@pytest.mark.parametrize("name", CASES)
def test_each_slip_is_named_and_nothing_is_written(yard, name, json):
    spoil, said = CASES[name]
    spoil(yard)
    before = contents(yard)
    ran = run("--yard", yard, "--today", TODAY, "plan", *json)
    assert (ran.code, ran.out) == (1, "")
    for words in said:
        assert re.search(words, ran.err), (words, ran.err)
    assert "Traceback" not in ran.err
    assert contents(yard) == before


@pytest.mark.parametrize("name", CASES)
def test_check_finds_each_slip_and_says_the_same(yard, name):
    spoil, said = CASES[name]
    spoil(yard)
    ran = run("--yard", yard, "--today", TODAY, "check")
    assert (ran.code, ran.out) == (1, "")
    for words in said:
        assert re.search(words, ran.err), (words, ran.err)


def test_the_same_yard_unspoilt_still_plans(yard):
    ran = done("--yard", yard, "--today", TODAY, "plan", "--weeks", 4, "--no-bound", "--json")
    assert ran.document["soaks"]


def test_what_was_published_and_written_down_survives_a_slip(demo):
    before = contents(demo)
    _in_settings("tank_logs = 60", "tank_logs = -60")(demo)
    for words in (["plan"], ["week"], ["stacks"], ["record", "pick", "A", "1", "lb"], ["calendar"]):
        assert run("--yard", demo, "--today", TODAY, *words).code == 1
    after = contents(demo)
    assert {name for name in after if before.get(name) != after[name]} == {"yard.toml"}


def test_check_finds_faults_of_several_files_at_once(yard):
    _in_settings("shade = 0.8", "shade = 80")(yard)
    _in_stacks("white oak,36", "white oak,-36")(yard)
    ran = run("--yard", yard, "--today", TODAY, "check", "--json")
    document = ran.document
    assert ran.code == 1 and not document["sound"]
    places = [fault["place"] for fault in document["faults"]]
    assert places == ["yard.toml [site] shade", "stacks.csv line 2, stack A"]
    assert all(fault["problem"] and fault["remedy"] for fault in document["faults"])


def test_check_looks_at_the_weather_though_the_stacks_are_wrong(yard):
    _in_stacks("white oak,36", "white oak,-36")(yard)
    _web_page(yard)
    ran = run("--yard", yard, "--today", TODAY, "check")
    assert "stacks.csv line 2, stack A" in ran.err and "web page" in ran.err
