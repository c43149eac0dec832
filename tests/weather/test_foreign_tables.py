"""Tables of other makers' habits and damaged ones: right to the digit, refused, or asked about.

The wording is invented; the habits are those of weather instruments, offices and spreadsheets.
The truth is five weeks of an invented place, whose past the yard knows.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

import numpy as np
import pytest

from fruitcast.errors import FaultsError
from fruitcast.numbers import default_numbers
from fruitcast.weather.daily import DailyWeather
from fruitcast.weather.formats import ask, read_weather_file
from fruitcast.weather.judge import questions
from tests.weather.invented import invented_weather

PLACE = invented_weather(date(2015, 1, 1), date(2027, 12, 31), seed=5)
KNOWN = PLACE.cut(PLACE.start, date(2026, 1, 1))
LATITUDE = 42.6
SPRING = PLACE.cut(date(2027, 3, 25), date(2027, 4, 29))
WINTER = PLACE.cut(date(2026, 1, 10), date(2026, 2, 14))
YEAR = PLACE.cut(date(2026, 6, 1), date(2027, 6, 1))
DAYS = 35

Cell = Callable[[date], str]


def c(value: float) -> str:
    return f"{value:.1f}"


def f(value: float) -> str:
    return f"{value * 1.8 + 32.0:.1f}"


def whole_f(value: float) -> str:
    return f"{value * 1.8 + 32.0:.0f}"


def inch(value: float) -> str:
    return f"{value / 25.4:.2f}"


def fine_inch(value: float) -> str:
    return f"{value / 25.4:.4f}"


def tenths(value: float) -> str:
    return f"{value * 10.0:.0f}"


def points(value: float) -> str:
    return f"{value / 0.254:.0f}"


def made(
    titles: str = "date,tmin,tmax,rain",
    of: DailyWeather = SPRING,
    on: Cell = str,
    warmth: Callable[[float], str] = c,
    rain: Callable[[float], str] = c,
    row: str = "{on},{low},{high},{rain}",
    **more: str,
) -> str:
    """Return a table of some true days in one habit of writing."""
    lines = [titles]
    for at in range(of.days):
        lines.append(
            row.format(
                on=on(of.day(at)),
                day=of.day(at),
                low=warmth(of.tmin[at]),
                high=warmth(of.tmax[at]),
                mean=warmth(of.tmean[at]),
                rain=rain(of.rain[at]),
                **more,
            )
        )
    return "\n".join(lines) + "\n"


def totals(new: Callable[[date], bool], of: DailyWeather = SPRING) -> str:
    """Return a table whose rain is what has fallen since some day."""
    total, lines = 0.0, ["date,tmin,tmax,rain"]
    for at in range(of.days):
        total = (0.0 if new(of.day(at)) else total) + of.rain[at]
        lines.append(f"{of.day(at)},{of.tmin[at]:.1f},{of.tmax[at]:.1f},{total:.1f}")
    return "\n".join(lines) + "\n"


def every(step: int) -> str:
    lines = made(of=YEAR).splitlines()
    return "\n".join([lines[0], *lines[1::step]]) + "\n"


def put(cell: str, column: int = 3, line: int = 6, table: str = "") -> str:
    """Return a table with one cell exchanged."""
    lines = (table or made()).splitlines()
    cells = lines[line].split(",")
    cells[column] = cell
    lines[line] = ",".join(cells)
    return "\n".join(lines) + "\n"


def half_turned(shown: str) -> Cell:
    return lambda day: (
        date(day.year, day.day, day.month).strftime(shown) if day.day <= 12 else f"{day:%d/%m/%Y}"
    )


def gsod(flag: str = "G", rain: Callable[[float], str] = inch) -> str:
    titles = "STATION,DATE,LATITUDE,LONGITUDE,NAME,TEMP,TEMP_ATTRIBUTES,MAX,MAX_ATTRIBUTES,MIN"
    titles += ",MIN_ATTRIBUTES,PRCP,PRCP_ATTRIBUTES,SNDP,FRSHTT"
    row = "99999900001,{on},42.6,-73.4,HOLLOW,{mean},24,{high},*,{low},*,{rain},{flag},999.9,0"
    return made(titles, warmth=f, rain=rain, row=row, flag=flag)


def summaries(attributes: str = ",,7,0700") -> str:
    titles = '"STATION","NAME","DATE","PRCP","PRCP_ATTRIBUTES","TMAX","TMIN"'
    row = '"US0000001","HOLLOW","{on}","{rain}","{marks}","{high}","{low}"'
    return made(titles, row=row, marks=attributes)


RIGHT = {
    # Units by their titles.
    "C and mm": made("Day_date,Low (°C),High (°C),Rainfall (mm)"),
    "C and mm, in words": made("date,Min Temp (degrees Celsius),Max Temp (deg C),Precip (mm/day)"),
    "F and inches": made("Date,Low (°F),High (°F),Rain (in)", warmth=f, rain=fine_inch),
    "F and inches behind the names": made("date,tmin_f,tmax_f,rain_in", warmth=f, rain=fine_inch),
    "Fahr": made("date,TN [Fahr],TX [Fahr],Rain [Zoll]", warmth=f, rain=fine_inch),
    "Grad F": made("date,Low [Grad F],High [Grad F],Rain [mm]", warmth=f),
    "Grad C": made("date,Low [Grad C],High [Grad C],Rain [l/m2]"),
    "points": made("date,tmin (C),tmax (C),Rain (points)", rain=points),
    "hundredths of an inch": made("date,tmin (C),tmax (C),Rain (1/100 in)", rain=points),
    "kelvin": made("date,tasmin (K),tasmax (K),pr (kg m-2)", warmth=lambda v: f"{v + 273.15:.2f}"),
    "tenths": made(
        "date,tmin (tenths of C),tmax (0.1 °C),prcp (tenths of mm)", warmth=tenths, rain=tenths
    ),
    "cm": made("date,tmin_c,tmax_c,rain_cm", rain=lambda v: f"{v / 10:.2f}"),
    "rain in mm, said in words": made("date,tmin_c,tmax_c,Rain in mm"),
    "a rate beside the sum": made(
        "date,tmin,tmax,Rain (mm/h),Rain (mm)", row="{on},{low},{high},0.2,{rain}"
    ),
    "the unit that is known beside one that is not": made(
        "date,tmin,tmax,Rain (thumbs),Precip (mm)", row="{on},{low},{high},7,{rain}"
    ),
    "indoor columns": made(
        "Time,Temp_High_In (°C),Temp_Low_In (°C),Humidity In,Low (°C),High (°C),Rain (mm)",
        row="{on},22.4,19.8,44,{low},{high},{rain}",
    ),
    "brackets that say the same": made("date,temp (min),temp (max),rain (daily)"),
    "brackets with two words": made("date,Low (°C; air),High (°C; air),Rain (total, mm)"),
    "humidity in no known unit": made(
        "date,tmin,tmax,rain,rh (g/kg)", row="{on},{low},{high},{rain},5"
    ),
    "a row of units": made("date,tmin,tmax,rain\n,°C,°C,mm"),
    "a row of units in F": made(
        "date,tmin,tmax,rain\n,deg F,deg F,in", warmth=f, rain=fine_inch
    ),
    # Dates.
    "with slashes, day first": made(on=lambda d: f"{d:%d/%m/%Y}"),
    "with slashes, month first": made(on=lambda d: f"{d:%m/%d/%Y}"),
    "with slashes, short": made(on=lambda d: f"{d.month}/{d.day}/{d.year}"),
    "with dots": made(on=lambda d: f"{d:%d.%m.%Y}"),
    "year first with slashes": made(on=lambda d: f"{d:%Y/%m/%d}"),
    "without anything between": made("yyyymmdd,tmin,tmax,rain", on=lambda d: f"{d:%Y%m%d}"),
    "with the month's name": made(on=lambda d: f"{d:%d-%b-%Y}"),
    "month's name first": made(on=lambda d: f"{d:%B} {d.day} {d.year}"),
    "in three columns": made(
        "year,month,day,tmin,tmax,rain",
        row="{day.year},{day.month},{day.day},{low},{high},{rain}",
    ),
    "by the day of the year": made(
        "year,doy,tmin,tmax,rain", row="{day:%Y},{day:%j},{low},{high},{rain}"
    ),
    "stamps at midnight": made(on=lambda d: f"{d} 00:00:00"),
    "stamps at 24 hours": made(on=lambda d: f"{d} 24:00"),
    "stamps a minute before midnight": made(on=lambda d: f"{d}T23:59:00"),
    "stamps of local midnight": made(on=lambda d: f"{d}T00:00:00-05:00"),
    "midnight of the west in UTC": made(on=lambda d: f"{d}T05:00:00Z"),
    "stamps that end the day": made(
        "Time (end of day),tmin,tmax,rain", on=lambda d: f"{d + timedelta(days=1)} 00:00"
    ),
    "the first twelve of a month, by dots": made(
        of=PLACE.cut(date(2027, 4, 1), date(2027, 4, 13)), on=lambda d: f"{d:%d.%m.%Y}"
    ),
    # Forms.
    "semicolons and decimal commas": made().replace(",", ";").replace(".", ","),
    "tabs": made().replace(",", "\t"),
    "bars": made().replace(",", "|"),
    "quotes": "\n".join(
        ",".join(f'"{cell}"' for cell in line.split(",")) for line in made().splitlines()
    ),
    "lines above": f"Weather of the hollow\nmade for nobody,,,\n\n{made()}",
    "a row of totals": made() + "Total,,,99.9\n",
    "newest first": "\n".join([made().splitlines()[0], *made().splitlines()[:0:-1]]) + "\n",
    # Missing values; see also those that are missing below.
    "forty columns": made(
        "date,tmin,tmax,rain" + "".join(f",x{n}" for n in range(36)),
        row="{on},{low},{high},{rain}" + ",1" * 36,
    ),
    "daily summaries of an office": summaries(),
    "summary of the day": gsod(),
    "rain and all precipitation": made(
        "time,temperature_2m_min (°C),temperature_2m_max (°C),rain_sum (mm),precipitation_sum (mm)",
        row="{on},{low},{high},0.0,{rain}",
    ),
    "a year in C and mm": made(of=YEAR),
    "a year in F and inches": made(
        "date,tmin_f,tmax_f,rain_in", of=YEAR, warmth=f, rain=fine_inch
    ),
}  # fmt: skip

REFUSED = {
    "a rate": (made("date,tmin,tmax,Rain (mm/h)"), "no unit of a day's rain"),
    "a flux": (made("date,tasmin,tasmax,pr (kg m-2 s-1)"), "'kg m-2 s-1'"),
    "an unknown measure": (made("date,tmin,tmax,Rain (thumbs)"), "'thumbs'"),
    "an unknown scale": (made("date,Low (Reaumur),High (Reaumur),Rain (mm)"), "'Reaumur'"),
    "an unknown measure below the titles": (
        made("date,tmin,tmax,rain\n,°C,°C,thumbs"), "'thumbs'",
    ),
    "indoor columns alone": (made("date,Temp_Low_In (°C),Temp_High_In (°C),rain"), "no column"),
    "a unit against its bracket": (made("date,tmin_f (°C),tmax_f (°C),rain"), "no column"),
    "F with rain of no unit": (made("date,tmin_f,tmax_f,rain", warmth=f), "names no unit"),
    "a warm month in F without a word": (
        made(of=PLACE.cut(date(2027, 7, 1), date(2027, 8, 5)), warmth=whole_f, rain=inch),
        "look like F",
    ),
    "Y-D-M up to the twelfth": (
        made(of=PLACE.cut(date(2027, 4, 1), date(2027, 4, 13)), on=lambda d: f"{d:%Y-%d-%m}"),
        "day and month are exchanged",
    ),
    "three months, or three days": (
        "date,tmin,tmax,rain\n2027-02-01,-9,3,81\n2027-03-01,-4,8,66\n2027-04-01,1,14,102\n",
        "day and month are exchanged",
    ),
    "Y-D-M": (made(on=lambda d: f"{d:%Y-%d-%m}"), "calendar does not have"),
    "M.D.Y up to the twelfth": (
        made(of=PLACE.cut(date(2027, 4, 1), date(2027, 4, 13)), on=lambda d: f"{d:%m.%d.%Y}"),
        "day and month are exchanged",
    ),
    "slashes up to the twelfth": (
        made(of=PLACE.cut(date(2027, 4, 1), date(2027, 4, 13)), on=lambda d: f"{d:%m/%d/%Y}"),
        "can be read day first or month first",
    ),
    "half turned round, as dates": (made(on=half_turned("%Y-%m-%d")), "half|exchanged"),
    "half turned round, in one form": (made(on=half_turned("%d/%m/%Y")), "exchanged"),
    "half turned round, month first": (made(on=half_turned("%d.%m.%Y")), "exchanged|half"),
    "midnight of the east in UTC": (
        made(on=lambda d: f"{d - timedelta(days=1)}T22:00:00Z"), "a time of UTC",
    ),
    "midnight of the east by the title": (
        made("Time (UTC),tmin,tmax,rain", on=lambda d: f"{d - timedelta(days=1)} 23:00"),
        "a time of UTC",
    ),
    "two-digit years": (made(on=lambda d: f"{d:%d/%m/%y}"), "two digits"),
    "day numbers": (made(on=lambda d: str((d - date(1899, 12, 30)).days)), "day number"),
    "777": (put("777"), "looks like a code"),
    "888": (put("888.0"), "looks like a code"),
    "a word": (put("some"), "not a number"),
    "thousands": (put('"1,250"'), "not a number"),
    "rain below zero": (put("-1"), "below zero"),
    "a lost decimal mark": (put("285", 2), "outside"),
    "a sensor's 85": (put("85.0", 2), "outside"),
    "swapped columns": (made(row="{on},{high},{low},{rain}"), "above tmax"),
    "two stations": (
        made("station,date,tmin,tmax,rain", row="A,{on},{low},{high},{rain}")
        + "B,2027-04-29,1,9,0\n",
        "2 stations",
    ),
    "a column too many for its titles": (made(row="{on},{low},{high},{rain},7"), "cells where"),
    "hourly rows": (made(row="{on} 01:00,{low},{high},{rain}\n" * 12), "hourly|twice|no date"),
    "a web page": ("<html><body>log in</body></html>", "web page"),
}  # fmt: skip

ASKED = {
    "a winter in whole F": (made(of=WINTER, warmth=whole_f), "Fahrenheit taken for Celsius"),
    "a winter in F under titles of C": (
        made("date,tmin_c,tmax_c,rain_mm", of=WINTER, warmth=f), "Fahrenheit taken for Celsius",
    ),
    "a spring in C under titles of F": (
        made("date,tmin_f,tmax_f,rain_mm"), "Celsius taken for Fahrenheit",
    ),
    "a spring in tenths": (
        made("date,tmin_c,tmax_c,rain_mm", of=WINTER, warmth=tenths), "tenths of C|outside",
    ),
    "inches without a word": (made("date,tmin_c,tmax_c,rain", rain=inch), "inches or cm"),
    "inches under a title of mm": (made("date,tmin_c,tmax_c,rain_mm", rain=inch), "inches or cm"),
    "mm under a title of inches": (made("date,tmin_c,tmax_c,rain_in"), "mm taken for inches"),
    "points without a word": (made("date,tmin_c,tmax_c,rain", rain=points), "points"),
    "tenths of mm without a word": (made("date,tmin_c,tmax_c,rain", rain=tenths), "tenths of mm"),
    "the other half of the year": (
        made(of=YEAR, on=lambda d: str(d + timedelta(days=183))), "other half of the year",
    ),
    "another place": (
        made(warmth=lambda v: c(v + 11.0)), "another place",
    ),
    "rain of the month so far": (totals(lambda d: d.day == 1), "running total"),
    "rain of the year so far": (totals(lambda d: False), "running total"),
    "rain of the year so far, a long table": (
        totals(lambda d: (d.month, d.day) == (1, 1), YEAR), "running total",
    ),
    "a week": (every(7), "weekly"),
    "a month": (every(30), "monthly"),
    "every other day": (every(2), "2 days apart"),
    "a flood": (put("480"), "480 mm in one day"),
    "a lost minus": (put("56.5", 2, table=made(of=WINTER)), "far from what those calendar days"),
    "one month of a year in F": (
        made(of=WINTER, warmth=whole_f)
        + made(of=PLACE.cut(date(2026, 2, 14), date(2026, 6, 1))).split("\n", 1)[1],
        "than the same calendar days",
    ),
}  # fmt: skip

MISSING = {
    "-9999": put("-9999"),
    "-99.9": put("-99.9"),
    "999": put("999"),
    "99.99 among tenths": put("99.99"),
    "nothing": put(""),
    "NA": put("NA"),
    "a dash": put("---"),
    "GHCN's P, presumed zero": summaries().replace(
        summaries().splitlines()[6], summaries().splitlines()[6].replace(",,7,0700", "P,,7,0700")
    ),
    "a value that failed the office's check": summaries().replace(
        summaries().splitlines()[6], summaries().splitlines()[6].replace(",,7,0700", ",G,7,0700")
    ),
    "GSOD's I, nothing reported": gsod().replace(
        gsod().splitlines()[6], gsod().splitlines()[6].replace(",G,999.9", ",I,999.9")
    ),
    "GSOD's H, rain seen and none reported": gsod().replace(
        gsod().splitlines()[6], gsod().splitlines()[6].replace(",G,999.9", ",H,999.9")
    ),
}


@pytest.fixture
def judged(tmp_path):
    """Return a table, read and held against the yard's own past, as an import does it."""

    def read(content: str) -> DailyWeather:
        path = tmp_path / "weather.csv"
        path.write_text(content, encoding="utf-8")
        weather = read_weather_file(path)
        limits = default_numbers().doubt.weather
        ask(weather, questions(weather, limits, known=KNOWN, latitude=LATITUDE))
        return weather

    return read


def true_of(read: DailyWeather) -> DailyWeather:
    return PLACE.cut(read.start, read.end + timedelta(days=1))


def test_there_are_enough():
    assert len(RIGHT) + len(REFUSED) + len(ASKED) + len(MISSING) >= 80


@pytest.mark.parametrize("habit", RIGHT)
def test_read_rightly_to_the_digit(judged, habit):
    read = judged(RIGHT[habit])
    true = true_of(read)
    assert read.days == true.days >= 12
    assert (read.start, read.end) in {
        (SPRING.start, SPRING.end), (YEAR.start, YEAR.end), (date(2027, 4, 1), date(2027, 4, 12))
    }  # fmt: skip
    np.testing.assert_allclose(read.tmin, true.tmin, atol=0.051)
    np.testing.assert_allclose(read.tmax, true.tmax, atol=0.051)
    np.testing.assert_allclose(read.rain, true.rain, atol=0.1271)


@pytest.mark.parametrize("habit", REFUSED)
def test_refused_with_the_reason(judged, habit):
    content, reason = REFUSED[habit]
    with pytest.raises(FaultsError, match=rf"(?s){reason}"):
        judged(content)


@pytest.mark.parametrize("habit", ASKED)
def test_asked_with_the_likely_cause(judged, habit):
    content, cause = ASKED[habit]
    with pytest.raises(FaultsError, match=rf"(?s){cause}.*--as-it-stands|outside"):
        judged(content)


@pytest.mark.parametrize("habit", MISSING)
def test_what_is_missing_stays_missing(judged, habit):
    read = judged(MISSING[habit])
    assert np.flatnonzero(np.isnan(read.rain)).tolist() == [5]
    known = np.arange(read.days) != 5
    np.testing.assert_allclose(read.rain[known], true_of(read).rain[known], atol=0.1271)


def test_rain_without_snow_is_missing_where_it_can_have_snowed(judged):
    titles = "time,temperature_2m_min (°C),temperature_2m_max (°C),rain_sum (mm)"
    read = judged(made(titles))
    cold = SPRING.tmin <= 2.0
    assert 0 < cold.sum() < DAYS
    np.testing.assert_array_equal(np.isnan(read.rain), cold)
