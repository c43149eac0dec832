"""What becomes of a true table of weather on its way through other people's programs.

A chain of exports is drawn by its seed: units, forms of the date, order, separators, encodings,
codes for missing values, rows of totals, running totals, and the accidents of spreadsheets. What
it does to the table is known, so that what the reader makes of it can be judged.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from pathlib import Path
from random import Random

import numpy as np

from fruitcast.errors import FruitcastError
from fruitcast.weather.daily import DailyWeather, same_day
from fruitcast.weather.formats import read_weather_file
from fruitcast.weather.table import contradictions
from tests.weather.invented import invented_weather

LATITUDE = 42.6
TRUTH = invented_weather(date(2012, 1, 1), date(2027, 6, 30), seed=11)
"""Sixteen years of one invented place; the yard knows those up to 2024."""

KNOWN = TRUTH.cut(TRUTH.start, date(2025, 1, 1))


@dataclass
class Export:
    """A table under way.

    Attributes
    ----------
    days : list of date
        The day of each row.
    tmin, tmax, rain : list of float or None
        True values in C and mm; None where missing.
    titles : dict of str to str
        Role to title.
    cells : dict of str to list of str
        As they are written.
    steps : list of str
        What was done.
    """

    days: list[date]
    values: dict[str, list[float | None]]
    titles: dict[str, str] = field(default_factory=dict)
    cells: dict[str, list[str]] = field(default_factory=dict)
    above: list[str] = field(default_factory=list)
    below: list[list[str]] = field(default_factory=list)
    order: list[str] = field(default_factory=lambda: ["date", "tmin", "tmax", "rain"])
    delimiter: str = ","
    decimal: str = "."
    encoding: str = "utf-8"
    missing: str = ""
    steps: list[str] = field(default_factory=list)


def cut_of_truth(random: Random) -> Export:
    """Return some weeks or years of the truth, a few values missing."""
    length = random.choice((60, 90, 180, 365, 730, 900))
    last = (TRUTH.end - KNOWN.end).days - length
    first = KNOWN.end + timedelta(days=1 + random.randrange(last))
    part = TRUTH.cut(first, first + timedelta(days=length))
    values: dict[str, list[float | None]] = {
        name: part.values[name].tolist() for name in ("tmin", "tmax", "rain")
    }
    for column in values.values():
        for row in random.sample(range(length), random.choice((0, 0, 1, 4))):
            column[row] = None
    return Export([part.day(row) for row in range(length)], values)


NAMES = {
    "date": ("date", "Date", "DATE", "day_date", "Observation date", "timestamp"),
    "tmin": ("tmin", "Min Temp", "TN", "Low", "lowest temperature", "Temp_Min", "minimum"),
    "tmax": ("tmax", "Max Temp", "TX", "High", "highest temperature", "Temp_Max", "maximum"),
    "rain": ("rain", "Precip", "PRCP", "Rainfall", "precipitation", "Rain total", "prec"),
}
SUFFIXES = {
    "C": (" (°C)", "_c", " [deg C]", " (degrees Celsius)", " C", " (Grad C)"),
    "F": (" (°F)", "_f", " [deg F]", " (Fahrenheit)", " F", " (Fahr)"),
    "K": (" (K)", " [kelvin]"),
    "tenths C": (" (tenths of C)", " [0.1 °C]"),
    "mm": (" (mm)", "_mm", " [mm]", " (mm/day)", " (l/m2)"),
    "in": (" (in)", "_in", " [inches]", " (inch)", " (Zoll)"),
    "cm": (" (cm)", "_cm"),
    "tenths mm": (" (tenths of mm)", " [0.1 mm]"),
    "points": (" (points)", " (1/100 in)"),
}
TURN: dict[str, Callable[[float], float]] = {
    "C": lambda v: v,
    "F": lambda v: v * 1.8 + 32.0,
    "K": lambda v: v + 273.15,
    "tenths C": lambda v: v * 10.0,
    "mm": lambda v: v,
    "in": lambda v: v / 25.4,
    "cm": lambda v: v / 10.0,
    "tenths mm": lambda v: v * 10.0,
    "points": lambda v: v / 0.254,
}
PLACES = {
    "C": 1,
    "F": 2,
    "K": 2,
    "tenths C": 0,
    "mm": 1,
    "in": 4,
    "cm": 2,
    "tenths mm": 0,
    "points": 0,
}
COARSE = {"C": 1, "F": 0, "K": 1, "tenths C": 0, "mm": 1, "in": 2, "cm": 2, "tenths mm": 0}


def write_units(export: Export, random: Random) -> None:
    """Write the numbers in some units, named in the titles or not."""
    system = random.choice(
        (("C", "mm"),) * 5
        + (("F", "in"),) * 4
        + (("K", "mm"), ("tenths C", "tenths mm"), ("C", "in"), ("F", "mm"), ("C", "cm"))
        + (("C", "points"),)
    )
    said = random.random() < 0.6
    lie = random.random() < 0.08
    places = COARSE if random.random() < 0.3 else PLACES
    export.steps.append(f"{system} {'named' if said else 'unnamed'}{' wrongly' if lie else ''}")
    if places is COARSE:
        export.steps.append("coarse")
    for name, unit in zip(("tmin", "tmax", "rain"), (system[0], *system), strict=True):
        title = random.choice(NAMES[name])
        if said or (lie and name != "rain"):
            named = unit
            if lie:
                named = {"C": "F", "F": "C", "mm": "in", "in": "mm"}.get(unit, unit)
            title += random.choice(SUFFIXES[named])
        export.titles[name] = title
        digits = places.get(unit, 0)
        export.cells[name] = [
            "" if value is None else f"{TURN[unit](value):.{digits}f}"
            for value in export.values[name]
        ]


DATES: tuple[Callable[[date], str], ...] = (
    lambda d: f"{d}",
    lambda d: f"{d}",
    lambda d: f"{d} 00:00",
    lambda d: f"{d}T00:00:00+02:00",
    lambda d: f"{d} 24:00",
    lambda d: f"{d:%Y%m%d}",
    lambda d: f"{d:%Y/%m/%d}",
    lambda d: f"{d:%d.%m.%Y}",
    lambda d: f"{d:%d/%m/%Y}",
    lambda d: f"{d:%m/%d/%Y}",
    lambda d: f"{d.month}/{d.day}/{d.year}",
    lambda d: f"{d:%d-%b-%Y}",
    lambda d: f"{d:%b %d, %Y}".replace(",", ""),
    lambda d: f"{d:%d/%m/%y}",
    lambda d: f"{d:%Y-%d-%m}",
    lambda d: f"{d:%m.%d.%Y}",
    lambda d: f"{(d - date(1899, 12, 30)).days}",
    lambda d: f"{d - timedelta(days=1)}T22:00:00Z",
    # A spreadsheet that took what it could, month first, and left the rest as text.
    lambda d: f"{d.year}-{d.day:02d}-{d.month:02d}" if d.day <= 12 else f"{d:%d/%m/%Y}",
    lambda d: f"{d:%m/%d/%Y}" if d.day <= 12 else f"{d:%d/%m/%Y}",
)


def write_dates(export: Export, random: Random) -> None:
    """Write the days in some form, rarely that of a table shifted by half a year."""
    form = random.randrange(len(DATES))
    export.steps.append(f"date {form}: {DATES[form](date(2026, 3, 4))}")
    days = export.days
    if random.random() < 0.03 and (days[-1] - days[0]).days > 170:
        export.steps.append("half a year off")
        days = [day - timedelta(days=182) for day in days]
    elif random.random() < 0.02 and days[0].year < days[-1].year:
        export.steps.append("every day of the old year")
        days = [
            same_day(day, days[0].year) if day.year == days[0].year + 1 else day for day in days
        ]
    elif random.random() < 0.02:
        export.steps.append("every year mistyped in one row")
        days = [*days[:-1], same_day(days[-1], days[-1].year + random.choice((-10, 10, 45, -100)))]
    export.titles["date"] = random.choice(NAMES["date"])
    export.cells["date"] = [DATES[form](day) for day in days]


def change_rain(export: Export, random: Random) -> None:
    """Write rain as the sum of several days, the whole table by the week, or as it is."""
    what = random.random()
    rain = [fallen or 0.0 for fallen in export.values["rain"]]
    if what < 0.06:
        since = random.choice(("month", "year", "week", "Sunday", "all", 3, 5, 10))
        export.steps.append(f"rain of the {since} so far")
        total, running = 0.0, []
        for row, (day, fallen) in enumerate(zip(export.days, rain, strict=True)):
            new = {
                "month": day.day == 1,
                "year": (day.month, day.day) == (1, 1),
                "week": day.weekday() == 0,
                "Sunday": day.weekday() == 6,
                "all": False,
            }
            begins = row % since == 0 if isinstance(since, int) else new[since]
            total = (0.0 if begins else total) + fallen
            running.append(round(total, 1))
        export.values["rain"] = list(running)
    elif what < 0.08:
        last = random.choice((3, 7, 30))
        export.steps.append(f"rain of the last {last} days so far")
        export.values["rain"] = [
            round(sum(rain[max(0, row + 1 - last) : row + 1]), 1) for row in range(len(rain))
        ]
    elif what < 0.11:
        read_when = random.choice(("Mondays", "working days", "ends of months"))
        blank = read_when == "working days" or random.random() < 0.5
        export.steps.append(f"every gauge reading on {read_when}, {'blank' if blank else 0} else")
        total, told = 0.0, []
        for day, fallen in zip(export.days, rain, strict=True):
            total += fallen
            due = {
                "Mondays": day.weekday() == 0,
                "working days": day.weekday() < 5,
                "ends of months": (day + timedelta(days=1)).day == 1,
            }[read_when]
            told.append(round(total, 1) if due else None if blank else 0.0)
            total = 0.0 if due else total
        export.values["rain"] = list(told)
    elif what < 0.15:
        step = random.choice((7, 30, 2, 10))
        export.steps.append(f"every {step} days")
        for name, column in export.values.items():
            parts = [
                [v for v in column[at : at + step] if v is not None]
                for at in range(0, len(column), step)
            ]
            whole = sum if name == "rain" else (min if name == "tmin" else max)
            export.values[name] = [round(whole(part), 1) if part else None for part in parts]
        export.days = export.days[::step]


def break_instrument(export: Export, random: Random) -> None:
    """Let the sensor hang, die or be indoors for some days, or fill a gap by hand."""
    length = len(export.days)
    if random.random() > 0.05 or length < 40:
        return
    first, days = random.randrange(1, length - 30), random.randrange(6, 20)
    what = random.choice(("hangs", "zeros", "filled down", "means"))
    export.steps.append(f"every value {what} for {days} days")
    columns = ("tmin", "tmax", "rain") if what in ("zeros", "filled down") else ("tmin", "tmax")
    for name in columns:
        column = list(export.values[name])
        part = [v for v in column[first : first + days] if v is not None] or [0.0]
        fill = {
            "zeros": 0.0,
            "means": round(sum(part) / len(part), 1),
        }.get(what, part[0])
        column[first : first + days] = [fill] * days
        export.values[name] = column


CODES = (
    *("", "", "", "NA", "-9999", "-999.9", "-99", "M", "---", "nan", "999", "99.99", "777"),
    *("99.9", "9999", "-888", "-32768", "?", "#N/A"),
)


def write_missing(export: Export, random: Random) -> None:
    """Write something for what is missing."""
    code = random.choice(CODES)
    if code:
        export.steps.append(f"missing {code}")
    for name in ("tmin", "tmax", "rain"):
        export.cells[name] = [cell or code for cell in export.cells[name]]


def change_order(export: Export, random: Random) -> None:
    """Turn the rows round or shuffle them, and the columns; drop or repeat some rows."""
    rows = list(range(len(export.days)))
    what = random.random()
    if what < 0.15:
        rows.reverse()
        export.steps.append("newest first")
    elif what < 0.2 and "every day of the old year" not in export.steps:
        random.shuffle(rows)
        export.steps.append("shuffled")
    if random.random() < 0.1:
        rows.insert(0, rows[len(rows) // 2])
        export.steps.append("a row twice")
    for name, cells in export.cells.items():
        export.cells[name] = [cells[row] for row in rows]
    random.shuffle(export.order)


def add_company(export: Export, random: Random) -> None:
    """Add columns of other things, some of which look like those that are meant."""
    length = len(export.cells["date"])
    others = (
        ("Rain (mm/h)", lambda: f"{random.random():.1f}"),
        ("Temp_High_In (°C)", lambda: f"{20 + random.random():.1f}"),
        ("Humidity In", lambda: str(random.randrange(40, 60))),
        ("Wind", lambda: str(random.randrange(30))),
        ("remarks", lambda: random.choice(("", "calm", "fog"))),
        ("Rain month (mm)", lambda: f"{100 * random.random():.1f}"),
        ("Snow depth (cm)", lambda: "0"),
        ("Dew Point Low", lambda: f"{random.random():.1f}"),
        ("Max wind (mph)", lambda: str(random.randrange(30))),
    )
    for title, cell in random.sample(others, random.choice((0, 0, 1, 2))):
        export.steps.append(f"beside {title}")
        export.titles[title] = title
        export.cells[title] = [cell() for _ in range(length)]
        export.order.insert(random.randrange(len(export.order) + 1), title)


def add_totals(export: Export, random: Random) -> None:
    """Add a row of totals, and lines above the titles."""
    if random.random() < 0.15:
        label = random.choice(("Total", "Sum", "Average", "Mean", "Grand total", "Sum:"))
        if random.random() < 0.2:
            label = random.choice(("", "Max", "Somme", "March"))
            export.steps.append("a row of no known name")
        export.steps.append(f"row {label}")
        export.below.append(
            [label if name == "date" else "12.3" for name in export.order],
        )
    if random.random() < 0.02:
        export.steps.append("titles again")
        export.below.insert(0, [export.titles[name] for name in export.order])
    if random.random() < 0.2:
        export.steps.append("lines above")
        export.above += ["Weather of the hill", ""]


def choose_dress(export: Export, random: Random) -> None:
    """Choose separator, decimal mark and encoding."""
    export.delimiter, export.decimal = random.choice(
        ((",", "."),) * 3 + ((";", "."), (";", ","), ("\t", "."), ("\t", ","), ("|", "."))
    )
    export.encoding = random.choice(("utf-8",) * 4 + ("utf-8-sig", "utf-16", "cp1252"))
    export.steps.append(f"{export.delimiter!r} {export.decimal} {export.encoding}")


def text_of(export: Export, random: Random) -> bytes:
    """Return the file."""

    def shown(name: str, cell: str) -> str:
        if name in ("tmin", "tmax", "rain"):
            return cell.replace(".", export.decimal)
        return cell

    mark = export.delimiter
    lines = list(export.above)
    lines.append(mark.join(export.titles[name] for name in export.order))
    for row in zip(*(export.cells[name] for name in export.order), strict=True):
        lines.append(
            mark.join(shown(name, cell) for name, cell in zip(export.order, row, strict=True))
        )
    lines += [mark.join(row) for row in export.below]
    end = random.choice(("\n", "\r\n"))
    return (end.join(lines) + end).encode(export.encoding, errors="replace")


def drawn(seed: int) -> tuple[bytes, Export, Export]:
    """Return the file at the end of one chain, what is true, and what was done."""
    random = Random(seed)
    true = cut_of_truth(random)
    export = replace(true, values=dict(true.values), days=list(true.days), steps=[])
    change_rain(export, random)
    break_instrument(export, random)
    write_units(export, random)
    write_missing(export, random)
    write_dates(export, random)
    change_order(export, random)
    add_company(export, random)
    add_totals(export, random)
    choose_dress(export, random)
    return text_of(export, random), true, export


def outcome(seed: int, file: Path, *, new_yard: bool = False) -> tuple[str, str]:
    """Return what becomes of one chain, 'equal', 'refused', 'asked' or 'wrong', and why.

    Parameters
    ----------
    seed : int
        Of the chain.
    file : Path
        Where to write it.
    new_yard : bool
        Whether the yard knows no weather yet, only its latitude. A title that names a wrong unit
        is then told from a whole year only; in shorter tables such chains are 'untold'.
    """
    content, true, export = drawn(seed)
    file.write_bytes(content)
    words = f"{seed}: {'; '.join(export.steps)}"
    try:
        read = read_weather_file(file, known=None if new_yard else KNOWN, latitude=LATITUDE)
    except FruitcastError as error:
        kind = "asked" if "--as-it-stands" in str(error) else "refused"
        return kind, f"{words}: {error}"
    if not new_yard and contradictions(KNOWN, read).any():
        return "refused", f"{words}: other values of the same days"
    if new_yard and "wrongly" in words and len(true.days) < 365:
        return "untold", words
    return ("equal" if is_equal(read, true, export) else "wrong"), words


def is_equal(read: DailyWeather, true: Export, export: Export) -> bool:
    """Return whether every value read is the true one, as far as the export has its digits."""
    first, last = true.days[0], true.days[-1]
    rough = "coarse" in export.steps
    points = "points" in export.steps[0] + export.steps[1 % len(export.steps)]
    slack = {"tmin": 0.3 if rough else 0.011, "rain": 0.1271 if rough or points else 0.011}
    for name, column in true.values.items():
        whole = read.values[name]
        at = read.index(first)
        if at != 0 or read.days != len(column) or read.end != last:
            found = np.full(len(column), np.nan)
            for row in range(read.days):
                place = row - at
                if np.isfinite(whole[row]):
                    if not 0 <= place < len(column):
                        return False
                    found[place] = whole[row]
        else:
            found = whole
        expected = np.array([np.nan if value is None else value for value in column])
        known = np.isfinite(found)
        if (known & np.isnan(expected)).any():
            return False  # what was missing came back as a value
        allowed = slack["rain"] if name == "rain" else slack["tmin"]
        if (np.abs(found - expected)[known] > allowed).any():
            return False
        if known.sum() < 0.9 * np.isfinite(expected).sum():
            return False  # lost without a word
    return True


_ACCIDENTS = (
    *("unnamed", "wrongly", "so far", "every ", "half a year", "777", "99", "-888", "-32768"),
    *("missing ?", "#N/A", "no known name", "titles again"),
)
_DATES_READ = 13
"""How many of the forms in `DATES` are plain: those before two-digit years."""


def is_plain(export: Export) -> bool:
    """Return whether nothing was done to a table that a reader should stumble over."""
    forms = [step for step in export.steps if step.startswith("date ")]
    plain = int(forms[0].split()[1].rstrip(":")) < _DATES_READ
    return plain and not any(accident in step for step in export.steps for accident in _ACCIDENTS)
