"""Every fault of a weather file is named with its place, value and remedy."""

from datetime import date, timedelta
from pathlib import Path

import pytest

from fruitcast.errors import Fault, FaultsError, InputError
from fruitcast.tables.faults import FaultList
from fruitcast.weather.formats import read_weather_file
from fruitcast.weather.units import System
from tests.weather.tables import read

TITLES = "date,tmin,tmax,rain\n"


def rows(*lines):
    return TITLES + "\n".join(lines) + "\n"


@pytest.mark.parametrize(
    ("content", "message"),
    [
        ("", "weather.csv: the file is empty. Save the weather again"),
        ("  \n\n", "weather.csv: the file is empty"),
        (
            "<!DOCTYPE html><html><body>Log in</body></html>",
            "weather.csv line 1: this is a web page, not a weather table; it begins '<!doctype",
        ),
        ('{"daily": []}', "weather.csv line 1: this is JSON, not a table. Download .* as CSV"),
        (b"PK\x03\x04rest", "weather.csv: this is a spreadsheet workbook or zip archive"),
        (b"\x1f\x8bxxxx", "weather.csv: this is a gzip archive.*unpack it first"),
        (b"ab\x00\x01\x02\x03de fg\n", "line 1: this is not a text file: it holds zero bytes"),
        ("a,b,c\n1,2,3\n", "line 1: no line names the columns date, tmin, tmax and rain.*'a,b,c'"),
        (
            "date,tmin,tmax,rian\n2027-05-01,1,2,0\n",
            "line 1: there is no column 'rain'; the nearest title is 'rian'. Name the column",
        ),
        ("date,tmax,rain\n2027-05-01,2,0\n", "line 1: there is no column 'tmin'; no title is like"),
        ("tmin,tmax,rain\n1,2,0\n", "line 1: there is no column 'date'"),
        (TITLES, "line 1: there are titles but no rows below them. Add one line for each day"),
        (rows("2027-05-01,,,"), "no row has a value. Fill in what was measured"),
        (
            rows("2024-07-30,31.0,18.2,0"),
            "line 2, 2024-07-30: tmin '31.0' is above tmax '18.2'. Check for swapped columns",
        ),
        (rows("2024-07-30,3,18,-4"), "line 2, 2024-07-30: rain '-4' is below zero. Correct it"),
        (
            rows("2024-07-30,3,60,0"),
            "line 2, 2024-07-30: tmax '60' is outside -70 to 57 C. Correct it, or leave the cell",
        ),
        (rows("2024-07-30,3,18,4000"), "2024-07-30: rain '4000' is outside 0 to 1000 mm"),
        (
            rows("2024-07-30,3,warm,0"),
            "line 2, 2024-07-30: tmax 'warm' is not a number. Correct it",
        ),
        (rows("2024-07-30,3,1_0,0"), "tmax '1_0' is not a number"),
        (
            "date;tmin;tmax;rain\n2024-07-30;3;18;1,234\n2024-07-31;3;18;0.5\n",
            "line 2, 2024-07-30: rain '1,234' is not a number",
        ),
        (rows("2024-07-30,3,inf,0"), "tmax 'inf' is not a number"),
        (rows("2024-07-30,T,9,0"), "tmin 'T' is not a number"),
        (
            rows("2024-07-30,3,18,0", "2024-07-31,3,18,0", "2024-07-30,3,18,5"),
            "line 4, 2024-07-30: the day stands on line 2 too, with rain '0' and '5'. Keep the",
        ),
        (
            rows("46510,3,18,0"),
            r"line 2: '46510' is a spreadsheet's day number \(perhaps 2027-05-03; .*from 1904\)",
        ),
        (rows("2027-02-29,3,18,0"), "line 2: '2027-02-29' is a day that the calendar does not"),
        (rows("27-05-2027x,3,18,0"), "line 2: '27-05-2027x' is no date. Write dates as YYYY-MM-DD"),
        (rows("5/3/27,3,18,0"), "line 2: the year in '5/3/27' has two digits"),
        (rows(",3,18,0"), "line 2: the date is missing"),
        (rows("0207-05-03,3,18,0"), "line 2: the year of '0207-05-03' can't be right"),
        (
            rows("5/3/2027,3,18,0", "6/3/2027,3,18,0"),
            "line 2: dates like '5/3/2027' can be read day first or month first, and no date",
        ),
        (
            rows("13/3/2027,3,18,0", "3/14/2027,3,18,0"),
            "'13/3/2027' on line 2 has the day first, '3/14/2027' on line 3 the month",
        ),
        (
            rows("2027-05-01,3,5,18,2,0,0", "2027-05-02,3,5,18,2,0,0"),
            "line 2: 7 cells where the titles are 4: .*Decimal commas need another separator",
        ),
        ("date tmin tmax rain\n2027-05-01 3 18\n2027-05-02 3 18 0\n", "line 2: 3 values where"),
        (
            "station,date,tmin,tmax,prcp\nA,2027-05-01,3,18,0\nB,2027-05-01,4,19,1\n",
            "the file holds 2 stations: A, B. Keep the rows of one station",
        ),
        ("date,tmin,tmax,rain,source\n2027-05-01,3,18,0,guess\n", "source 'guess' is not a word"),
        ("date,tmin,tmax,rain,tmean\n2027-05-01,3,18,0,40\n", "tmean '40' lies far outside tmin"),
        ("date,tmin,tmax,rain,rh\n2027-05-01,3,18,0,140\n", "rh '140' is outside 0 to 100 %"),
        (
            "date,tmin_f,tmax_f,rain\n2027-05-01,40,60,0.5\n",
            "line 1: tmin_f is in F, but rain names no unit. Put every unit into its title",
        ),
        (
            "date,tmin,tmax,rain_in\n2027-05-01,40,60,0.5\n",
            "line 1: rain_in is in inches, but tmin and tmax name no unit",
        ),
        ("year,month,day,tmin,tmax,rain\n2027,13,1,3,18,0\n", "year 2027, month 13, day 1 is no"),
        ("year,doy,tmin,tmax,rain\n2027,366,3,18,0\n", "line 2: year 2027 has no day 366"),
    ],
)
def test_each_fault_is_named(tmp_path, content, message):
    with pytest.raises(FaultsError, match=f"(?s){message}"):
        read(tmp_path, content)


def test_values_in_fahrenheit_are_told_in_both_units(tmp_path):
    with pytest.raises(FaultsError, match=r"tmax '150' \(65.5556 C\) is outside -70 to 57 C"):
        read(tmp_path, "date,tmin_f,tmax_f,rain_in\n2027-05-01,50,150,0\n")


def test_fahrenheit_without_units_is_one_fault_not_a_thousand(tmp_path):
    start = date(2026, 5, 1)
    lines = [f"{start + timedelta(days=d)},50,{70 + d % 20},0" for d in range(200)]
    with pytest.raises(FaultsError, match=r"line 1: the titles name no units.*look like F") as info:
        read(tmp_path, rows(*lines))
    assert len(info.value.faults) == 1


@pytest.mark.parametrize(("times", "scale"), [(1, "Fahrenheit"), (4, "tenths of C")])
def test_another_scale_under_titles_in_celsius_is_one_fault(tmp_path, times, scale):
    start = date(2026, 5, 1)
    lines = [f"{start + timedelta(d)};50;{times * (70 + d % 20)};0" for d in range(200)]
    with pytest.raises(FaultsError, match=f"no place has in C. They look like {scale}") as info:
        read(tmp_path, "\n".join(["date;tmin (°C);tmax (°C);rain (mm)", *lines]))
    assert len(info.value.faults) == 1


def test_hourly_weather_is_one_fault(tmp_path):
    lines = [f"2027-05-{1 + h // 24:02d} {h % 24:02d}:00,5,{10 + h % 24},0" for h in range(72)]
    with pytest.raises(FaultsError, match="72 rows tell only 3 days: this is hourly") as info:
        read(tmp_path, rows(*lines))
    assert len(info.value.faults) == 1


def test_all_faults_are_told_at_once(tmp_path):
    content = rows(
        "2027-05-01,3,18,0",
        "2027-05-02,3,warm,0",
        "2027-05-32,3,18,0",
        "2027-05-04,3,18,-1",
        "2027-05-05,30,18,0",
        "2027-05-06,3,18,0,7",
        "2027-05-01,3,19,0",
    )
    with pytest.raises(FaultsError) as info:
        read(tmp_path, content)
    lines = sorted(fault.place.split(",")[0] for fault in info.value.faults)
    assert lines == [f"weather.csv line {n}" for n in (3, 4, 5, 6, 7, 8)]


def test_many_faults_of_a_kind_are_counted(tmp_path):
    lines = [f"2027-05-{d:02d},30,18,0" for d in range(1, 31)]
    with pytest.raises(FaultsError) as info:
        read(tmp_path, rows(*lines))
    assert len(info.value.faults) == 6
    assert "25 more faults of this kind (tmin above tmax), on lines 7-31" in str(info.value)


def test_the_lines_of_faults_that_are_not_told_in_full_are_given_as_spans(tmp_path):
    wrong = {*range(1, 6), 8, 12, 13, 14, 20}
    lines = [f"2027-05-{d:02d},{30 if d in wrong else 3},18,0" for d in range(1, 31)]
    with pytest.raises(FaultsError) as info:
        read(tmp_path, rows(*lines))
    assert info.value.faults[-1].problem.endswith("(tmin above tmax), on lines 9, 13-15, 21")


def test_lines_far_apart_are_not_all_told():
    found = FaultList("weather.csv")
    for line in range(1, 101, 2):
        found.add("odd", "is odd", "Mend it", line)
    assert found.faults()[-1].problem.startswith("45 more faults of this kind (odd), on lines 11, ")
    assert found.faults()[-1].problem.endswith(" and 25 more")
    found = FaultList("weather.csv")
    for _ in range(6):
        found.add("odd", "is odd", "Mend it")
    assert found.faults()[-1].problem == "1 more fault of this kind (odd)"


def test_an_absent_file_and_a_folder_are_told(tmp_path):
    with pytest.raises(InputError, match=r"nothing\.csv: there is no such weather file"):
        read_weather_file(tmp_path / "nothing.csv")
    with pytest.raises(InputError, match="the weather file can't be read"):
        read_weather_file(tmp_path)


def test_faults_as_a_list(tmp_path):
    path = tmp_path / "weather.csv"
    path.write_text(rows("2027-05-01,3,18,0"), encoding="utf-8")
    assert weather_faults(path) == []
    path.write_text(rows("2027-05-01,3,18,-2"), encoding="utf-8")
    (fault,) = weather_faults(path)
    assert fault.place == "weather.csv line 2, 2027-05-01"
    assert "rain '-2'" in fault.problem
    assert fault.remedy


def test_the_same_day_twice_with_the_same_values_is_no_fault(tmp_path):
    weather = read(tmp_path, rows("2027-05-01,3,18,", "2027-05-01,3,18,2"))
    assert weather.rain.tolist() == [2.0]
    assert any("stands on a second line" in note for note in weather.notes)


def weather_faults(path: Path, *, units: System | None = None) -> list[Fault]:
    """Return every fault of a weather file, an empty list when it can be read.

    Raises
    ------
    InputError
        If the file is absent or can't be read at all.
    """
    try:
        read_weather_file(path, units=units)
    except FaultsError as error:
        return list(error.faults)
    return []
