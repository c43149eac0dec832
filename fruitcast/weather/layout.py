"""From the bytes of a weather file to its rows under titles that are known."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from unicodedata import combining, normalize

from fruitcast.errors import InputError
from fruitcast.tables.faults import FaultList, quoted
from fruitcast.tables.text import encoding_of
from fruitcast.weather.daily import BY_STATION, TAKE_IN, VARIABLES
from fruitcast.weather.units import Unit, fits, parse_unit

# From the bytes of a weather file to its text, whatever program saved it.

MOST_BYTES = 15_000_000
"""Longest file read: two centuries with a dozen columns. [byte]"""

_NOT_TEXT = (
    (b"PK\x03\x04", "a spreadsheet workbook or zip archive"),
    (b"\xd0\xcf\x11\xe0", "an old spreadsheet workbook"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"%PDF", "a PDF"),
    (b"SQLite format 3", "a database"),
)
_SAVE_AS_CSV = "Open it in a spreadsheet and save it as CSV, or unpack it first"


def read_lines(path: Path, faults: FaultList) -> list[str]:
    """Return the lines of a weather file.

    UTF-8 with or without a byte-order mark, UTF-16, UTF-32 and Windows-1252 are understood. Raises
    InputError if the file is absent or can't be read, FaultsError if it holds no table.
    """
    try:
        if path.exists() and not path.is_file() and not path.is_dir():
            raise InputError(
                f"{path}: this is no file but a device or a pipe. Save the weather to a file first."
            )
        if path.exists() and path.stat().st_size > MOST_BYTES:
            raise InputError(
                f"{path}: a file of {path.stat().st_size / 1e6:.0f} MB is no daily weather of one "
                "place. Keep the rows of one station, one a day."
            )
        raw = path.read_bytes()
    except FileNotFoundError:
        raise InputError(
            f"{path}: there is no such weather file. Check its name. A yard's own is made by "
            f"{TAKE_IN}; without one, {BY_STATION} fetches the weather over the network."
        ) from None
    except OSError as error:
        raise InputError(
            f"{path}: the weather file can't be read ({error.strerror or error}). Check that it "
            "is a file and that you may read it."
        ) from error

    for magic, what in _NOT_TEXT:
        if raw.startswith(magic):
            faults.stop("not text", f"this is {what}, not a text file", _SAVE_AS_CSV)
    text = decode(raw)
    head = text.lstrip()[:2000].lower()
    if not head:
        faults.stop(
            "empty", "the file is empty", "Save the weather again: date, tmin, tmax and rain"
        )
    if head.startswith("<") and any(t in head for t in ("<html", "<!doctype", "<body", "<?xml")):
        faults.stop(
            "web page",
            f"this is a web page, not a weather table; it begins {quoted(head)}",
            "The download gave a log-in or error page: fetch the file again and look at it",
            1,
        )
    if head.startswith(("{", "[{")):
        faults.stop("JSON", "this is JSON, not a table", "Download the weather as CSV instead", 1)
    if "\x00" in text:
        line = text[: text.index("\x00")].count("\n") + 1
        faults.stop("not text", "this is not a text file: it holds zero bytes", _SAVE_AS_CSV, line)
    return text.replace("\r\n", "\n").replace("\r", "\n").split("\n")


def decode(raw: bytes) -> str:
    """Return the text of bytes in the most likely encoding, without a byte-order mark."""
    mark, encoding = encoding_of(raw)
    return raw[len(mark) :].decode(encoding, errors="replace")


# What the titles above a weather table mean: which variable, in which unit.

_OF_A_DAY = tuple(
    word
    for fallen in ("rain", "rainfall", "precip", "precipitation")
    for word in (f"daily_{fallen}", f"{fallen}_daily")
)
_PERHAPS_A_TOTAL = tuple(
    word
    for fallen in ("rain", "rainfall", "precip", "precipitation")
    for sum_ in ("total", "sum", "accum", "accumulation", "accumulated")
    for word in (f"{sum_}_{fallen}", f"{fallen}_{sum_}")
)
"""Home stations call so the rain of the day, or all since some day: the values tell."""

_SYNONYMS: dict[str, tuple[str, ...]] = {
    role: tuple(words.split())
    for role, words in {
        "date": "date time datetime date_time timestamp obs_date observation_date yyyymmdd "
        "yyyy_mm_dd day_date calendar_date datum",
        "year": "year yyyy yr",
        "month": "month mm mo mon",
        "day": "day dd dom day_of_month",
        "doy": "doy yday jday day_of_year julian_day ddd",
        "tmin": "tmin temperature_2m_min t_min tn temp_min min_temp tempmin mintemp "
        "minimum_temperature min_temperature temperature_min minimum_temp air_temp_min "
        "air_temperature_min tasmin temp_low low_temp lowest_temperature low min minimum "
        "min_temperatur mintemperatur temperatur_min lagsta_temperatur lagsta_temp lagsta",
        "tmax": "tmax temperature_2m_max t_max tx temp_max max_temp tempmax maxtemp "
        "maximum_temperature max_temperature temperature_max maximum_temp air_temp_max "
        "air_temperature_max tasmax temp_high high_temp highest_temperature high max "
        "maximum max_temperatur maxtemperatur temperatur_max hogsta_temperatur "
        "hogsta_temp hogsta",
        "tmean": "tmean temperature_2m_mean tavg temp t_mean t_avg temp_mean temp_avg mean_temp "
        "avg_temp meantemp avgtemp mean_temperature average_temperature temperature_mean "
        "temperature tas mean average medeltemperatur dygnsmedeltemperatur "
        "temperatur_medel temperatur",
        "rain": "rain precipitation_sum prcp precipitation precip rainfall total_precipitation "
        "precipitation_total rain_total rain_sum rain_amount ppt prec pr nederbord "
        "dygnsnederbord nederbordsmangd regn regnmangd "
        f"{' '.join(_OF_A_DAY)} {' '.join(_PERHAPS_A_TOTAL)}",
        "rh": "rh relative_humidity_2m_mean rhum rhav relative_humidity rh_mean "
        "relative_humidity_mean mean_relative_humidity humidity relhum luftfuktighet "
        "relativ_luftfuktighet",
        "source": "source sources",
        "station": "station station_id location_id stationid",
    }.items()
}
_RANK = {word: words.index(word) for words in _SYNONYMS.values() for word in words}
_ROLE = {word: role for role, words in _SYNONYMS.items() for word in words}

_UNIT_ENDINGS = {
    ending: unit
    for unit, endings in {
        Unit.CELSIUS: "c degc deg_c celsius",
        Unit.FAHRENHEIT: "f degf deg_f fahrenheit",
        Unit.KELVIN: "k",
        Unit.MM: "mm",
        Unit.CM: "cm",
        Unit.INCH: "in inch inches",
        Unit.PERCENT: "pct percent",
    }.items()
    for ending in endings.split()
}
_NO_UNITS = frozenset(
    ("", "daily", "day", "24h", "24 h", "24 hours", "sum", "total", "amount", "air", "2m", "2 m")
)
"""What titles have in brackets that tells no unit and changes nothing."""

_BRACKETED = re.compile(r"^(.*?)[\s_]*[(\[]([^)\]]*)[)\]]\s*$")

NEEDED = ("date", "tmin", "tmax", "rain")
"""What every weather table must tell."""


@dataclass(frozen=True)
class Heading:
    """What one title means."""

    # A variable, 'date', 'year', 'month', 'day', 'doy', 'source', 'station', or a variable with
    # '_source' or '_attributes' behind it
    role: str
    rank: int  # 0 for the plainest word of this role, larger for remoter ones
    unit: Unit | None = None  # the unit that the title names
    puzzle: str = ""  # what stands where a unit should, and is none that we know


@dataclass(frozen=True)
class WeatherColumn:
    """One column in use: where it stands, its title as given, its unit, and what puzzles in it."""

    index: int
    title: str
    unit: Unit | None
    puzzle: str = ""


def recognise(title: str) -> Heading | None:
    """Return what a title means, or None when it means nothing to us."""
    words = title.strip().strip('"').strip("\ufeff").strip()
    unit, puzzle = None, ""
    if bracketed := _BRACKETED.match(words):
        words = bracketed[1]
        longer = _name(f"{words} {bracketed[2]}")
        if longer in _ROLE:  # 'Temperature (max)'
            return _heading(longer, None, "")
        unit, puzzle = _in_brackets(bracketed[2])
    name = _name(words)
    if name in _ROLE:
        return _heading(name, unit, puzzle)
    for ending in ("_source", "_attributes"):
        if name.endswith(ending):
            variable = _ROLE.get(name.removesuffix(ending))
            return Heading(f"{variable}{ending}", 0) if variable in VARIABLES else None
    for ending, named in _UNIT_ENDINGS.items():
        stem = name.removesuffix(f"_{ending}")
        if stem != name and (stem := stem.removesuffix("_in")) in _ROLE:
            # 'Temp_High_In (C)' is no outdoor temperature, 'rain_in (mm)' says two things.
            return _heading(stem, named, puzzle) if unit in (None, named) else None
    return None


def _name(words: str) -> str:
    plain = "".join(c for c in normalize("NFD", words.lower()) if not combining(c))
    name = re.sub(r"[^a-z0-9]+", "_", plain).strip("_")
    return re.sub(r"^dailyrain(?=(?:mm|in)?$)", "daily_rain_", name).strip("_")


def _in_brackets(words: str) -> tuple[Unit | None, str]:
    """Return the unit that brackets tell, and what they hold if that is no unit we know."""
    unit = None
    for part in re.split(r"[,;]", words):
        found = parse_unit(part)
        if found is None and " ".join(part.lower().split()) not in _NO_UNITS:
            return None, words.strip()
        unit = unit or found
    return unit, ""


def _heading(name: str, unit: Unit | None, puzzle: str) -> Heading | None:
    role, rank = _ROLE[name], _RANK[name]
    if role not in VARIABLES:
        return Heading(role, rank)
    if unit is not None and not fits(role, unit):
        return None
    return Heading(role, rank, unit, puzzle)


def map_columns(titles: Sequence[str]) -> dict[str, WeatherColumn]:
    """Return the column to use for each role found among the titles.

    Of several columns for one variable one whose unit is understood wins, then the plainest word,
    then the unit that needs no conversion, then the leftmost.
    """
    best: dict[str, tuple[tuple[bool, int, bool, int], WeatherColumn]] = {}
    for index, title in enumerate(titles):
        heading = recognise(title)
        if heading is None:
            continue
        foreign = heading.unit not in (None, Unit.CELSIUS, Unit.MM, Unit.PERCENT)
        order = (bool(heading.puzzle), heading.rank, foreign, index)
        if heading.role not in best or order < best[heading.role][0]:
            column = WeatherColumn(index, title.strip(), heading.unit, heading.puzzle)
            best[heading.role] = (order, column)
    columns = {role: column for role, (_, column) in best.items()}
    return _choose_date_columns(columns)


def rivals(titles: Sequence[str], role: str, used: WeatherColumn) -> list[WeatherColumn]:
    """Return the other columns of a variable whose unit is understood, or not named."""
    found = []
    for index, title in enumerate(titles):
        heading = recognise(title)
        if index == used.index or heading is None or heading.role != role or heading.puzzle:
            continue
        found.append(WeatherColumn(index, title.strip(), heading.unit))
    return found


def is_rain_alone(title: str) -> bool:
    """Return whether a title speaks of rain, which may leave out snow."""
    return re.search(r"rain|regn", _name(title)) is not None


def is_of_a_day(title: str, other: str) -> bool:
    """Return whether one title says that its rain is the day's, and another's may be a total."""

    def called(words: tuple[str, ...], by: str) -> bool:
        return re.match(f"(?:{'|'.join(words)})(?:_|$)", _name(by)) is not None

    return called(_OF_A_DAY, title) and called(_PERHAPS_A_TOTAL, other)


def is_new_snow(title: str) -> bool:
    """Return whether a title speaks of snow that fell, and not of how deep it lies."""
    name = _name(title)
    return "snow" in name and not re.search(r"depth|ground|cover|deep|lying", name)


def _choose_date_columns(columns: dict[str, WeatherColumn]) -> dict[str, WeatherColumn]:
    """Keep one way of telling the day: a date column, else its parts."""
    drop: tuple[str, ...]
    if "date" in columns:
        drop = ("year", "month", "day", "doy")
    elif "year" not in columns:
        if "day" in columns:
            columns["date"] = columns["day"]
        drop = ("month", "day", "doy")
    elif "day" in columns and "month" in columns:
        drop = ("doy",)
    elif "doy" in columns or "day" in columns:
        if "doy" not in columns:
            columns["doy"] = columns["day"]
        drop = ("month", "day")
    else:
        drop = ("year", "month")
    return {role: column for role, column in columns.items() if role not in drop}


def tells_day(columns: dict[str, WeatherColumn]) -> bool:
    """Return whether the columns tell the day of a row."""
    return (
        "date" in columns
        or {"year", "month", "day"} <= columns.keys()
        or {"year", "doy"} <= columns.keys()
    )


def missing_roles(columns: dict[str, WeatherColumn]) -> list[str]:
    """Return what every table needs and these columns lack."""
    missing = [role for role in NEEDED[1:] if role not in columns]
    return missing if tells_day(columns) else ["date", *missing]


def stand_twice(titles: Sequence[str], used: dict[str, WeatherColumn]) -> list[str]:
    """Return the titles of columns in use that another column has too, word for word."""
    plain = [title.strip().strip('"').casefold() for title in titles]
    return [
        column.title
        for role, column in used.items()
        if role in (*VARIABLES, "date") and plain.count(plain[column.index]) > 1
    ]


def nearest_title(role: str, titles: Sequence[str], used: dict[str, WeatherColumn]) -> str | None:
    """Return the unused title most like a word for this role, or None when none is near."""
    taken = {column.index for column in used.values()}
    free = {
        _name(title): title.strip()
        for index, title in enumerate(titles)
        if index not in taken and title.strip()
    }
    for word in _SYNONYMS[role]:
        if near := get_close_matches(word, free, n=1, cutoff=0.6):
            return free[near[0]]
    return None


# Where a weather table begins in a text, and what stands between its cells.

_DELIMITERS = (",", ";", "\t", "|", None)
_DEEPEST_HEADER = 100
_LONGEST_HEADER = 20_000
_COMMENT = re.compile(r"#(?!N/A|[A-Z]+[!?]|DIV/0!)")
_DECIMAL_COMMA = re.compile(r"\s*[-+]?\d*,\d+\s*")
_DECIMAL_POINT = re.compile(r"\s*[-+]?\d*\.\d+\s*")


@dataclass(frozen=True)
class Layout:
    """The shape of one table."""

    header: int  # index of the line with the titles
    delimiter: str | None  # what stands between cells; None is white space
    titles: list[str]
    columns: dict[str, WeatherColumn]  # role to column


def find_layout(lines: Sequence[str]) -> Layout | None:
    """Return the layout under which a line near the top tells most of what is needed.

    Lines above the titles (a station's name, coordinates, a licence) are passed over. None
    when no line names at least two of day, lowest and highest temperature and rain.
    """
    best: tuple[int, Layout] | None = None
    for number, line in enumerate(lines[:_DEEPEST_HEADER]):
        if not line.strip() or len(line) > _LONGEST_HEADER:
            continue
        for delimiter in _DELIMITERS:
            if delimiter is not None and delimiter not in line:
                continue
            titles = split_line(line, delimiter)
            columns = map_columns(titles)
            score = sum(role in columns for role in NEEDED[1:]) + tells_day(columns)
            if score >= 2 and (best is None or score > best[0]):
                best = (score, Layout(number, delimiter, titles, columns))
        if best is not None and best[0] == len(NEEDED):
            break
    return best[1] if best else None


def split_line(line: str, delimiter: str | None) -> list[str]:
    """Return the cells of one line; a broken quotation is taken as plain text."""
    if delimiter is None:
        return line.split()
    if '"' not in line:
        return line.split(delimiter)
    try:
        rows = list(csv.reader([line], delimiter=delimiter, strict=True))
    except csv.Error:
        return line.split(delimiter)
    return rows[0] if rows else []


def split_rows(lines: Sequence[str], layout: Layout) -> tuple[list[int], list[list[str]]]:
    """Return the line numbers, counted from 1, and the cells of the rows below the titles.

    Blank lines, lines of nothing but delimiters, and lines that begin with '#' are left out, if
    that is no error of a spreadsheet, such as #N/A.
    """
    first = layout.header + 1
    kept = [
        (number, line)
        for number, line in enumerate(lines[first:], first + 1)
        # A line that begins with a digit is a row: of decades of days that is seen at once.
        if line[:1].isdigit() or not (_COMMENT.match(line) or not line.strip(" ,;\t|"))
    ]
    delimiter = layout.delimiter
    return [number for number, _ in kept], [
        split_line(line, delimiter) if delimiter is None or '"' in line else line.split(delimiter)
        for _, line in kept
    ]


def take_unit_row(layout: Layout, rows: Sequence[Sequence[str]]) -> Layout | None:
    """Return the layout with the units of a row of units below the titles, None if it isn't one."""
    if not rows:
        return None
    columns = dict(layout.columns)
    found = 0
    for role, column in layout.columns.items():
        cell = rows[0][column.index].strip(" ()[]") if column.index < len(rows[0]) else ""
        unit = parse_unit(cell)
        if unit is None and re.search(r"\d", cell.replace("0.1", "")):
            return None
        if unit is not None and fits(role, unit) and column.unit in (None, unit):
            columns[role] = WeatherColumn(column.index, column.title, unit)
            found += 1
        elif cell and role in VARIABLES:
            columns[role] = WeatherColumn(column.index, column.title, column.unit, cell)
    if found < 2:
        return None
    return Layout(layout.header, layout.delimiter, layout.titles, columns)


def has_decimal_commas(columns: Sequence[Sequence[str]]) -> bool:
    """Return whether the numbers in these columns are written with a decimal comma."""
    commas = False
    for cells in columns:
        joined = "\n".join(cells)
        if "," not in joined:
            continue
        if any(_DECIMAL_POINT.fullmatch(cell) for cell in cells):
            return False
        commas = commas or any(_DECIMAL_COMMA.fullmatch(cell) for cell in cells)
    return commas
