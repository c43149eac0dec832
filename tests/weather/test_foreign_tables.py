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
from fruitcast.weather.daily import DailyWeather
from fruitcast.weather.formats import read_weather_file
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


def changed(rain: Callable[[int], str], of: DailyWeather = SPRING) -> str:
    """Return a table with other rain, by the row."""
    lines = made(of=of).splitlines()
    rows = [line.rsplit(",", 1)[0] + "," + rain(at) for at, line in enumerate(lines[1:])]
    return "\n".join([lines[0], *rows]) + "\n"


def last_days(count: int, of: DailyWeather = YEAR) -> str:
    """Return a table whose rain is that of the last so many days."""
    return changed(lambda at: c(of.rain[max(0, at + 1 - count) : at + 1].sum()), of)


def gathered(read_on: Callable[[date], bool], else_: str, of: DailyWeather = YEAR) -> str:
    """Return a table of a gauge that gathers rain until somebody reads it."""
    since = [0]
    for at in range(of.days):
        since.append(at + 1 if read_on(of.day(at)) else since[-1])
    return changed(
        lambda at: c(of.rain[since[at] : at + 1].sum()) if read_on(of.day(at)) else else_, of
    )


def held(cells: Callable[[int], str], of: DailyWeather = SPRING) -> str:
    """Return a table whose days 12 to 19 have other values, by the row."""
    lines = made(of=of).splitlines()
    lines[13:21] = [f"{of.day(at)},{cells(at)}" for at in range(12, 20)]
    return "\n".join(lines) + "\n"


def indoors(of: DailyWeather) -> str:
    """Return a table with the temperatures of a heated room."""
    lines = made(of=of).splitlines()
    rows = [
        f"{of.day(at)},{19 + 0.4 * (at % 3):.1f},{22 + 0.3 * (at % 4):.1f},{of.rain[at]:.1f}"
        for at in range(of.days)
    ]
    return "\n".join([lines[0], *rows]) + "\n"


NEW_YEAR = PLACE.cut(date(2026, 12, 12), date(2027, 1, 16))
SUMMER = PLACE.cut(date(2027, 6, 20), date(2027, 7, 25))

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
    "both scales side by side": "\n".join(
        ["date,Low (F),Low (C),High (F),High (C),Rain (in),Rain (mm)"]
        + [
            f"{SPRING.day(at)},{f(SPRING.tmin[at])},{c(SPRING.tmin[at])},{f(SPRING.tmax[at])},"
            f"{c(SPRING.tmax[at])},{inch(SPRING.rain[at])},{c(SPRING.rain[at])}"
            for at in range(DAYS)
        ]
    ),
    "dew point and grass beside": made(
        "date,Dew Point Low,Min (grass),Min (air),Max (air),rain",
        row="{on},-7,-3,{low},{high},{rain}",
    ),
    "near the ground beside": made(
        "date,Tmin (5 cm),Tmin (2 m),Tmax (2 m),rain", row="{on},-7,{low},{high},{rain}"
    ),
    "rain of the month in a column of its own": made(
        "date,tmin,tmax,Rain month (mm),Rain (mm)", row="{on},{low},{high},99.0,{rain}"
    ),
    "snow that did not fall": made(
        "date,tmin,tmax,rain (mm),snowfall (cm)", row="{on},{low},{high},{rain},0"
    ),
    "snow that lies": made("date,tmin,tmax,rain,snow depth (cm)", row="{on},{low},{high},{rain},7"),
    "numbered rows": made(",date,tmin,tmax,rain", row="7,{on},{low},{high},{rain}"),
    "groups of titles above": made(",Temperature,,Rain\nDate,Min,Max,Rain"),
    "midnight as 12 AM": made(on=lambda d: f"{d:%m/%d/%Y} 12:00 AM"),
    "a minute before it as 11:59 PM": made(on=lambda d: f"{d:%m/%d/%Y} 11:59 PM"),
    "the day's sum said twice": made('date,tmin,tmax,"Rain (24h, mm)"'),
    "a total named in the second cell": made() + ",Total,,99.9\n",
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
    "the old year in January": (
        made(of=NEW_YEAR, on=lambda d: f"2026-{d:%m-%d}"), "the year may not have been changed",
    ),
    "the old year in January, newest first": (
        "\n".join(
            [
                "date,tmin,tmax,rain",
                *made(of=NEW_YEAR, on=lambda d: f"2026-{d:%m-%d}").splitlines()[:0:-1],
            ]
        ),
        "the year may not have been changed",
    ),
    "the old year in a table of every other day": (
        "\n".join(
            made(
                of=PLACE.cut(date(2026, 10, 1), date(2027, 6, 1)), on=lambda d: f"2026-{d:%m-%d}"
            ).splitlines()[::2]
        ),
        "the year may not have been changed",
    ),
    "99.9 beyond all others": (put("99.9"), "looks like a code"),
    "9999": (put("9999"), "outside"),
    "a sensor's -32768": (put("-32768", 1), "outside"),
    "a letter behind the value": (put("2.4A"), "not a number"),
    "less than": (put("<0.1"), "not a number"),
    "a minus behind": (put("5.2-", 1), "not a number"),
    "degrees in the cells": (
        made(row="{on},{low}°C,{high}°C,{rain}"), "not a number",
    ),
    "rain and precipitation that differ": (
        made("date,tmin,tmax,rain,precip", row="{on},{low},{high},{rain},50"), "different values",
    ),
    "two lowest that differ": (
        made("date,Low,Temp_Min,High,rain", row="{on},4,{low},{high},{rain}"), "different values",
    ),
    "two tables, one below the other": (made() + made(of=YEAR), "no date"),
    "morning and evening": (
        made(row="{on} 09:00,{low},{high},{rain}\n{on} 21:00,{low},{high},0.3"), "stands on line",
    ),
    "a footer": (made() + "Source: nobody\n", "no date"),
    "a total of no name": (made() + ",,,99.9\n", "date is missing"),
    "a total in another tongue": (made() + "Summe,,,99.9\n", "no date"),
    "days since 1970": (
        made(on=lambda d: str((d - date(1970, 1, 1)).days * 86400)), "no date",
    ),
    "year and day of the year in one": (made(on=lambda d: f"{d:%Y%j}"), "no date"),
    "rain of the year, said so": (made("date,tmin,tmax,Rain (YTD)"), "'YTD'"),
    "metres": (made("date,Low (°C),High (°C),Rain (m)"), "'m'"),
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
    "rain of the year so far under a home station's title": (
        totals(lambda d: False).replace("rain", "Precip. Accum. (mm)"), "running total",
    ),
    "rain of the year so far, a long table": (
        totals(lambda d: (d.month, d.day) == (1, 1), YEAR), "running total",
    ),
    "rain since the gauge was emptied, every third day": (
        totals(lambda d: d.toordinal() % 3 == 0, YEAR), "running total|rain of several days",
    ),
    "rain since the gauge was emptied, every fifth day": (
        totals(lambda d: d.toordinal() % 5 == 0), "running total|rain of several days",
    ),
    "rain of the last seven days": (last_days(7), "running total|rain of several days"),
    "rain of the last three days": (last_days(3), "rain of several days"),
    "rain of the last two days": (last_days(2), "rain of several days"),
    "a week on its Sunday": (gathered(lambda d: d.weekday() == 6, "0.0"), "rain of whole weeks"),
    "a week on its Sunday, else nothing": (
        gathered(lambda d: d.weekday() == 6, "", SPRING), "rain of whole weeks",
    ),
    "a month on its last day": (
        gathered(lambda d: (d + timedelta(days=1)).day == 1, "0.0"), "rain of whole months",
    ),
    "a gauge that rests at weekends": (
        gathered(lambda d: d.weekday() < 5, "", SPRING), "nobody reads on these days",
    ),
    "a gauge that rests at weekends and says zero": (
        gathered(lambda d: d.weekday() < 5, "0.0"), "nobody reads on these days",
    ),
    "a gauge that is blocked": (changed(lambda at: "0.0", YEAR), "gauge that is blocked"),
    "a sensor that hangs": (
        held(lambda at: f"{SPRING.tmin[12]:.1f},{SPRING.tmax[12]:.1f},{SPRING.rain[at]:.1f}"),
        "sensor that hangs",
    ),
    "a gap filled downwards": (
        held(lambda at: f"{SPRING.tmin[12]:.1f},{SPRING.tmax[12]:.1f},{SPRING.rain[12]:.1f}"),
        "filled with the day before",
    ),
    "zeros for missing": (held(lambda at: "0,0,0"), "zeros for missing values"),
    "the mean in both columns": (made(row="{on},{mean},{mean},{rain}"), "means in both columns"),
    "the mean as the highest": (made(row="{on},{low},{mean},{rain}"), "looks like a mean"),
    "another year's days": (
        made(of=PLACE.cut(date(2025, 3, 1), date(2025, 6, 1)), on=lambda d: f"2027-{d:%m-%d}"),
        "copied from another",
    ),
    "a year twice": (
        made(of=YEAR) + made(of=YEAR, on=lambda d: f"{d.year + 1}-{d:%m-%d}").split("\n", 1)[1],
        "copied from another",
    ),
    "two units, row by row": (
        "\n".join(
            one if at % 2 else other
            for at, (one, other) in enumerate(
                zip(
                    made(of=WINTER).splitlines(),
                    made(of=WINTER, warmth=f).splitlines(),
                    strict=True,
                )
            )
        ),
        "two units in one column",
    ),
    "a gauge that was blocked for a spring": (
        changed(lambda at: "0.0" if 250 < at < 350 else c(YEAR.rain[at]), YEAR),
        "gauge that is blocked",
    ),
    "a sensor indoors": (indoors(WINTER), "same calendar days"),
    "0 F for missing": (
        put("-17.8", 1, table=made(of=SUMMER)), "code for a missing value|far from",
    ),
    "a slip in the year of one day": (put("2072-04-04", 0, 20), "slip in the date"),
    "a slip in the month of one day": (put("2027-09-13", 0, 20), "slip in the date"),
    "a slip in the century": (
        made(on=lambda d: str(d.replace(year=d.year - 100))), "slip in the year",
    ),
    "points in whole numbers beside a record in tenths": (
        made(rain=points), "points",
    ),
    "a probability of rain": (
        changed(lambda at: str(min(100, int(20 + 8 * SPRING.rain[at] + at % 7 * 3)))),
        "running total|points",
    ),
    "whether it rained": (
        changed(lambda at: "1" if SPRING.rain[at] > 0 else "0"), "whole numbers of no unit",
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
    "99 among tenths": put("99"),
    "99.9 among whole numbers": put(
        "99.9", table=made("date,tmin (C),tmax (C),Rain (points)", rain=points)
    ),
    "999": put("999"),
    "99.99 among tenths": put("99.99"),
    "nothing": put(""),
    "NA": put("NA"),
    "a dash": put("---"),
    "a formula that failed, in the first column": "\n".join(
        ",".join([*line.split(",")[::-1]]) for line in put("#N/A").splitlines()
    ),
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
        return read_weather_file(path, known=KNOWN, latitude=LATITUDE)

    return read


def true_of(read: DailyWeather) -> DailyWeather:
    return PLACE.cut(read.start, read.end + timedelta(days=1))


def test_there_are_enough():
    assert len(RIGHT) + len(REFUSED) + len(ASKED) + len(MISSING) >= 130


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


def test_rain_beside_snow_is_missing_where_snow_fell(judged):
    read = judged(
        made("date,tmin,tmax,rain (mm),snow (cm)", of=WINTER, row="{on},{low},{high},0.0,{rain}")
    )
    np.testing.assert_array_equal(np.isnan(read.rain), WINTER.rain > 0.0)


def test_of_rain_and_all_precipitation_the_latter_is_taken(judged):
    titles = "date,tmin,tmax,rain,precip"
    winter = made(titles, of=WINTER, row="{on},{low},{high},{rain},{rain}").splitlines()
    for line in range(1, len(winter)):
        cells = winter[line].split(",")
        if WINTER.tmin[line - 1] <= 2.0:
            cells[3] = "0.0"
        winter[line] = ",".join(cells)
    read = judged("\n".join(winter))
    np.testing.assert_allclose(read.rain, WINTER.rain, atol=0.051)
