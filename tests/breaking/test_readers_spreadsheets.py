"""What spreadsheets do to tables, as found in life: read where it is plain, else one message."""

from __future__ import annotations

import os
from datetime import date

import numpy as np
import pytest

from fruitcast.diary.events import FIELDS
from fruitcast.diary.tables import export_csv, import_csv
from fruitcast.errors import FaultsError, FruitcastError, InputError
from fruitcast.weather.formats import read_weather_file
from fruitcast.yard.reading import read_yard
from tests.breaking.samples import DIARY, ENTRIES, PLAIN_SETTINGS, PLAIN_STACKS, TODAY, WEATHER
from tests.breaking.watching import outcome

PLAIN_WEATHER = WEATHER[0].decode()
STACKS = PLAIN_STACKS.decode()
LINES = PLAIN_WEATHER.splitlines()


def weather(tmp_path, data):
    path = tmp_path / "weather.csv"
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    return read_weather_file(path)


def stacks(tmp_path, data):
    (tmp_path / "yard.toml").write_bytes(PLAIN_SETTINGS)
    (tmp_path / "stacks.csv").write_bytes(data if isinstance(data, bytes) else data.encode())
    return read_yard(tmp_path, TODAY)


def semicolons(text):
    return text.replace(",", ";").replace(".", ",")


def of_a_mac(text):
    return text.replace("\n", "\r")


# --- weather.csv ---------------------------------------------------------------------------------

WEATHER_READ = {
    "trailing commas": "\n".join(f"{line},,," for line in LINES),
    "decimal commas": semicolons(PLAIN_WEATHER),
    "decimal commas in quotes": "\n".join(
        [LINES[0], *('"' + line.replace(",", '","').replace(".", ",") + '"' for line in LINES[1:])]
    ),
    "title rows above": f"Weather of the hill,,,\n,,,\n{PLAIN_WEATHER}",
    "merged title with its unit row": f"The hill,,,\n{LINES[0]}\n,C,C,mm\n" + "\n".join(LINES[1:]),
    "UTF-16 with its mark": PLAIN_WEATHER.encode("utf-16"),
    "UTF-16 without": PLAIN_WEATHER.encode("utf-16-le"),
    "UTF-16, the other way round, without": PLAIN_WEATHER.encode("utf-16-be"),
    "Windows-1252": f"# Wärme\n{PLAIN_WEATHER}".encode("cp1252"),
    "line ends of a Mac": of_a_mac(PLAIN_WEATHER),
    "smart quotes": PLAIN_WEATHER.replace("2027-04-05", "\u201c2027-04-05\u201d"),
    "non-breaking spaces": PLAIN_WEATHER.replace(",", "\u00a0,\u00a0"),
    "a typographer's minus": PLAIN_WEATHER.replace(",-", ",\u2212"),
    "dates in another order": "\n".join(
        [LINES[0], *(f"{line[5:7]}/{line[8:10]}/{line[:4]}{line[10:]}" for line in LINES[1:])]
    ),
    "an empty row in the middle": PLAIN_WEATHER.replace("\n2027-04-09", "\n,,,\n2027-04-09"),
}


@pytest.mark.parametrize("damage", WEATHER_READ)
def test_weather_read_rightly_all_the_same(tmp_path, damage):
    whole, read = weather(tmp_path, PLAIN_WEATHER), weather(tmp_path, WEATHER_READ[damage])
    assert (read.start, read.days) == (whole.start, whole.days)
    for name in ("tmin", "tmax", "rain"):
        np.testing.assert_array_equal(read.values[name], whole.values[name])


@pytest.mark.parametrize("label", ["Total", "Average:", "Grand total", "sum"])
@pytest.mark.parametrize("row", ["{},-0.5,12,58.5", ",{},12,58.5", "{},,,"])
def test_a_row_of_totals_below_the_weather_is_told_and_left_out(tmp_path, label, row):
    read = weather(tmp_path, PLAIN_WEATHER + row.format(label) + "\n")
    assert read.days == 30
    assert float(np.nansum(read.rain)) == pytest.approx(
        float(np.nansum(weather(tmp_path, PLAIN_WEATHER).rain))
    )
    assert any("line 32" in note and "row of totals" in note for note in read.notes)


def put(cell, column=3, line=5):
    """Return the weather with one cell exchanged; the line is counted from 1."""
    cells = LINES[line - 1].split(",")
    cells[column] = cell
    return "\n".join([*LINES[: line - 1], ",".join(cells), *LINES[line:]])


WEATHER_REFUSED = {
    "day numbers": (put("46113", 0), r"line 5: '46113' is .* \(perhaps 2026-04-01; 2030-04-02 wh"),
    "a formula that failed": (put("#REF!"), r"line 5, 2027-04-04: rain '#REF!' is not .* formula"),
    "#VALUE!": (put("#VALUE!", 1), r"tmin '#VALUE!' is not a number, but what .*failed\. Correct"),
    "a fraction read as a date": (put("2-Jan"), r"rain '2-Jan' .* taken a fraction or a decimal"),
    "a decimal read as a date": (put("Mar 14", 2), r"tmax 'Mar 14' .* taken a fraction"),
    "thousands in quotes": (put('"1,234"'), r"line 5, 2027-04-04: rain '1,234' is not a number"),
    "thousands apart": (put("1 234"), r"rain '1 234' is not a number\. Correct it"),
    "zero bytes": (put("\x00\x00"), r"line 5: this is not a text file: it holds zero bytes"),
    "a column twice": (
        "\n".join(f"{line},{line.split(',')[3]}" for line in LINES),
        r"line 1: the column 'rain' stands twice\. Keep the one that is meant",
    ),
    "both orders of dates": (
        put("13/04/2027", 0, 14).replace("2027-04-14", "04/14/2027"),
        r"'13/04/2027' on line 14 has the day first, '04/14/2027' on line 15 the month",
    ),
    "a line end in a cell": (put('"1\n2"'), r"line [56].*(not a number|no date)"),
    "only totals": (f"{LINES[0]}\nTotal,1,2,3\n", r"line 1: there are titles but no rows below"),
}


@pytest.mark.parametrize("damage", WEATHER_REFUSED)
def test_weather_refused_with_place_value_and_remedy(tmp_path, damage):
    data, message = WEATHER_REFUSED[damage]
    with pytest.raises(FaultsError, match=rf"(?s)weather\.csv.*{message}"):
        weather(tmp_path, data)


def test_a_cell_that_a_formula_left_not_available_is_missing_and_never_zero(tmp_path):
    assert np.isnan(weather(tmp_path, put("#N/A")).rain[3])


LARGE = {
    "a million words": "date,tmin,tmax,rain\n" + "x,y,z,q\n" * 1_000_000,
    "a line of millions of cells": "date,tmin,tmax,rain" + "," * 5_000_000,
    "a quotation that never ends": "date,tmin,tmax,rain\n" + '"' * 5_000_000,
    "one day without end": "date,tmin,tmax,rain\n" + "2027-04-01,1,2,3\n" * 300_000,
    "far too large": "date,tmin,tmax,rain\n" + " " * 20_000_000,
}


@pytest.mark.parametrize("case", LARGE)
def test_a_large_file_that_is_no_weather_is_refused_at_once(tmp_path, case):
    path = tmp_path / "weather.csv"
    path.write_text(LARGE[case])
    assert outcome(lambda _: read_weather_file(path), b"") == "refused"


def test_a_pipe_is_no_weather_file(tmp_path):
    os.mkfifo(tmp_path / "weather.csv")
    with pytest.raises(InputError, match=r"no file but a device or a pipe\. Save the weather to a"):
        read_weather_file(tmp_path / "weather.csv")


# --- stacks.csv ----------------------------------------------------------------------------------

STACKS_READ = {
    "trailing commas": "\n".join(f"{line},,," for line in STACKS.splitlines()),
    "a title above": f"My stacks in 2027,,,\n\n{STACKS}",
    "a title above, semicolons": f"My stacks\n{STACKS.replace(', low', '').replace(',', ';')}",
    "UTF-16 with its mark": STACKS.encode("utf-16"),
    "UTF-16 without": STACKS.encode("utf-16-le"),
    "UTF-16, the other way round, without": STACKS.encode("utf-16-be"),
    "UTF-32": STACKS.encode("utf-32"),
    "line ends of a Mac": of_a_mac(STACKS),
    "non-breaking spaces": STACKS.replace(",24,", ",\u00a024\u00a0,").replace(
        "red oak", "red\u00a0oak"
    ),
    "decimal commas": STACKS.replace("12.7", '"12,7"'),
    "a row of totals": STACKS + "Total,,,,98,,,,,\n",
}


@pytest.mark.parametrize("damage", STACKS_READ)
def test_stacks_read_rightly_all_the_same(tmp_path, damage):
    whole, read = stacks(tmp_path, STACKS), stacks(tmp_path, STACKS_READ[damage])
    assert [(s.name, s.tree, s.logs, s.diameter) for s in read.stacks] == [
        (s.name, s.tree, s.logs, s.diameter) for s in whole.stacks
    ]


def test_what_was_taken_as_a_title_is_told(tmp_path):
    (warning,) = (
        w for w in stacks(tmp_path, f"My stacks in 2027,,\n{STACKS}").warnings if "title" in w
    )
    assert warning == "stacks.csv line 1: 'My stacks in 2027' is taken as a title and not read."


@pytest.mark.parametrize(
    ("cell", "inches"),
    [("4 1/2", 4.5), ("4\u00bd", 4.5), ("4-3/4", 4.75), ("5\u00a01/4", 5.25), ("4\u00bc", 4.25)],
)
def test_inches_in_fractions_are_read(tmp_path, cell, inches):
    text = STACKS.replace("diameter_cm", "diameter_in").replace("length_cm", "length_in")
    text = text.replace("12.7,102", f"{cell},40").replace("12,102", "5,40")
    text = text.replace("13.5,100", "5,40").replace("11,102", "5,40")
    assert stacks(tmp_path, text).stacks[0].diameter == pytest.approx(inches * 0.0254)


STACKS_REFUSED = {
    "day numbers": (
        "2025-04-12",
        "45759",
        r"inoculated '45759' is .*it means 2025-04-12\. Where .* 1904 it means 2029-04-13",
    ),
    "a fraction read as a date": ("12.7", "2-Jan", r"diameter_cm '2-Jan' is a date .*number as 4"),
    "an improper fraction": ("12.7", "12/7", r"diameter_cm '12/7' is not a number"),
    "a formula that failed": (",24,", ",#REF!,", r"logs '#REF!' is what .* formula that failed"),
    "thousands": (",24,", ',"1,200",', r"logs 1\.2 is not a whole number"),
    "a column twice": ("note\n", "note,logs\n", r"line 1: column logs stands twice"),
    "a line end in a cell": ("red oak,24", 'red oak,"2\n4"', r"logs '2 4' is not a number"),
    "smart quotes": (",24,", ",\u201c24\u201d,", r"logs '\u201c24\u201d' is not a number"),
    "order of a date": ("2025-04-12", "04/12/2025", r"Write 2025-12-04 or 2025-04-12, whichever"),
    "zero bytes": ("red oak", "red\x00oak", r"is not a text: line 2 holds zero bytes"),
}


@pytest.mark.parametrize("damage", STACKS_REFUSED)
def test_stacks_refused_with_place_value_and_remedy(tmp_path, damage):
    old, new, message = STACKS_REFUSED[damage]
    assert old in STACKS
    with pytest.raises(FaultsError, match=rf"^stacks\.csv.*{message}"):
        stacks(tmp_path, STACKS.replace(old, new, 1))


# --- the diary -----------------------------------------------------------------------------------

EXPORTED = export_csv(ENTRIES).decode("utf-8-sig").replace("\r\n", "\n")

DIARY_READ = {
    "trailing commas": "\n".join(f"{line},," for line in EXPORTED.splitlines()),
    "semicolons and decimal commas": EXPORTED.replace(",", ";").replace("13.0", "13,0"),
    "tabs and UTF-16": EXPORTED.replace(",", "\t").encode("utf-16"),
    "line ends of a Mac": EXPORTED.replace("\n", "\r"),
    "an empty row": EXPORTED.replace("\npins", f"\n{',' * (len(FIELDS) - 1)}\npins"),
}


@pytest.mark.parametrize("damage", DIARY_READ)
def test_a_diary_read_rightly_all_the_same(damage):
    data = DIARY_READ[damage]
    assert import_csv(data if isinstance(data, bytes) else data.encode(), "diary.csv") == ENTRIES


EMPTY = "," * (len(FIELDS) - 1)
DIARY_REFUSED = {
    "day numbers": (",2027-04-03,", ",46480,", r"line 4: on is '46480', expected a day like"),
    "order of a date": (",2027-04-03,", ",4/3/2027,", r"line 4: on is '4/3/2027', expected a day"),
    "a formula that failed": (",1.4,", ",#REF!,", r"kg is '#REF!', a formula that failed in a spr"),
    "a decimal read as a date": (",1.4,", ",1-Apr,", r"kg is '1-Apr', expected a number with a de"),
    "thousands": (",12.0,", ',"1,200",', r"mm is '1,200', expected a number with a decimal point"),
    "a row of totals": ("\npins", f"\nTotal{EMPTY}\npins", r"line 6: 'on' is empty"),
    "a huge number": (",12,24.0,", f",{'9' * 400},24.0,", r"logs is a huge number, expected 0 to"),
}


@pytest.mark.parametrize("damage", DIARY_REFUSED)
def test_a_diary_refused_with_place_value_and_remedy(damage):
    old, new, message = DIARY_REFUSED[damage]
    assert old in EXPORTED
    with pytest.raises(FaultsError, match=rf"diary\.csv .*{message}.*\. Nothing was imported"):
        import_csv(EXPORTED.replace(old, new, 1).encode(), "diary.csv")


def test_a_diary_in_a_guessed_encoding_is_refused_since_its_words_would_change():
    text = EXPORTED.replace("warm day", "wärm").encode("cp1252")
    with pytest.raises(InputError, match=r"not in UTF-8 .*save it as 'CSV UTF-8'"):
        import_csv(text, "diary.csv")


def test_the_samples_are_what_they_seem():
    assert import_csv(DIARY[0], "diary.csv") == ENTRIES
    assert ENTRIES[0].on == date(2027, 4, 1)
    assert issubclass(FaultsError, FruitcastError)
