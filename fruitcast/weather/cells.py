"""Days and numbers as people, programs and instruments write them in weather tables."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from fruitcast.arrays import FloatArray, IntArray
from fruitcast.tables.faults import FaultList, quoted
from fruitcast.tables.values import FRACTION_AS_DATE, LATER_EPOCH, SPREADSHEET_EPOCH
from fruitcast.words import MONTHS

# Dates as people and programs write them in weather tables.

DayArray = npt.NDArray[np.datetime64]

MOST_REFUSED = 1000
"""Faults after which the rest of a column of dates is not looked at: it holds none."""

FIRST_YEAR, LAST_YEAR = 1800, 2200
"""Years outside are slips of the pen."""

_CLOCK = r"(?:[T ]\s*\d{1,2}:\d{2}.*)?"
_YEAR_FIRST = re.compile(rf"(\d{{4}})[-/. ](\d{{1,2}})[-/. ](\d{{1,2}}){_CLOCK}")
_COMPACT = re.compile(r"(\d{4})(\d{2})(\d{2})")
_YEAR_LAST = re.compile(rf"(\d{{1,2}})([-/. ])\s?(\d{{1,2}})[-/. ]\s?(\d{{4}}){_CLOCK}")
_SHORT_YEAR = re.compile(rf"\d{{1,2}}[-/.]\d{{1,2}}[-/.]\d{{2}}{_CLOCK}")
_DAY_MONTH_NAME = re.compile(rf"(\d{{1,2}})[-/. ]+([A-Za-z]{{3,9}})[-/., ]+(\d{{4}}){_CLOCK}")
_MONTH_NAME_DAY = re.compile(rf"([A-Za-z]{{3,9}})[. ]+(\d{{1,2}}),?\s+(\d{{4}}){_CLOCK}")
_DAY_NUMBER = re.compile(r"([2-7]\d{4})(?:[.,]\d+)?")
_STAMP = re.compile(
    r"(?<=[T ])\s*(\d{1,2}):(\d{2})(?::\d{2}(?:[.,]\d+)?)?\s*(Z|UTC|GMT|[-+]\d{2}:?\d{0,2})?",
    re.IGNORECASE,
)
_UTC = re.compile(r"Z|UTC|GMT|[-+]00:?(?:00)?", re.IGNORECASE)
_UTC_TITLE = re.compile(r"\b(?:utc|gmt)\b", re.IGNORECASE)
_END_TITLE = re.compile(r"\b(?:end|ending|ended|until)\b", re.IGNORECASE)
_EASTERN_MIDNIGHT = 11
"""Hour of UTC from which midnight begins the next day in the lands east of Greenwich."""
_MONTHS = {name.lower(): number for number, name in enumerate(MONTHS, 1)}
_ISO_REMEDY = "Write dates as YYYY-MM-DD, for instance 2027-05-03"
_TOTALS = re.compile(
    r"\W*(grand )?(sub)?(total|sum|mean|average|avg|count|median)\b", re.IGNORECASE
)
_FEWEST_DOTTED = 4
"""Dates with dots that speak for the day first when nothing settles it: with fewer, the rows of a
table of months could be taken for days."""

_MOST_MISSING = 20
"""Rows that may be missing at the turn of a year for it to be seen all the same. [day]"""

_QUOTES = "'\"\u2018\u2019\u201c\u201d"


class _Column(NamedTuple):
    """A column of dates: its cells, the lines that they stand on, what is wrong with them."""

    cells: Sequence[str]
    lines: Sequence[int]
    faults: FaultList

    def fault(self, row: int, kind: str, problem: str, remedy: str) -> None:
        """Note a fault of one cell."""
        self.faults.add(kind, problem, remedy, line=self.lines[row])


class _Open(NamedTuple):
    """A date whose day and month can't be told apart by itself: 3/5/2027."""

    row: int
    first: int
    second: int
    year: int
    dotted: bool


def parse_dates(
    cells: Sequence[str], lines: Sequence[int], faults: FaultList, title: str = "date"
) -> DayArray:
    """Return the days of a date column, NaT with a fault noted where a cell is no date.

    The order of day and month in dates like 3/5/2027 is established from the whole column: one
    number above 12 settles it. Dates with dots are read day first, as they are written where
    dots are used, unless the column says otherwise. Whatever the form, rows that would follow one
    another only with day and month exchanged are a fault. A stamp of midnight belongs to the day
    that it begins, unless the title says that it ends one.
    """
    column, days = _Column(cells, lines, faults), _iso_days(cells)
    if days is None:
        days = _days_one_by_one(column)
    _check_exchanged(days, column)
    _check_turn_of_year(days, column)
    clocks = _clocks(cells)
    _check_zone(clocks, column, title)
    if clocks and _END_TITLE.search(title):
        days = days - np.array([clock[:2] == (0, 0) for clock in clocks]).astype(int)
    return days


def _days_one_by_one(column: _Column) -> DayArray:
    days = np.full(len(column.cells), np.datetime64("NaT"), dtype="datetime64[D]")
    open_: list[_Open] = []
    year_first: list[int] = []
    for row, cell in enumerate(column.cells):
        word = cell.strip().strip(_QUOTES).strip()
        if match := _YEAR_FIRST.fullmatch(word) or _COMPACT.fullmatch(word):
            year, month, day = (int(part) for part in match.groups()[:3])
            year_first.append(row)
        elif match := _YEAR_LAST.fullmatch(word):
            first, second, year = (int(match[part]) for part in (1, 3, 4))
            open_.append(_Open(row, first, second, year, match[2] == "."))
            continue
        elif (match := _DAY_MONTH_NAME.fullmatch(word)) and match[2][:3].lower() in _MONTHS:
            year, month, day = int(match[3]), _MONTHS[match[2][:3].lower()], int(match[1])
        elif (match := _MONTH_NAME_DAY.fullmatch(word)) and match[1][:3].lower() in _MONTHS:
            year, month, day = int(match[3]), _MONTHS[match[1][:3].lower()], int(match[2])
        else:
            _refuse(word, row, column)
            if len(column.faults) >= MOST_REFUSED:
                raise column.faults.error()
            continue
        days[row] = _day(year, month, day, word, row, column)
    if open_:
        _choose_date_order(open_, days, column)
        _check_half_turned(open_, days[year_first], column)
    return days


def _check_half_turned(pending: Sequence[_Open], others: DayArray, column: _Column) -> None:
    """Note dates of which a spreadsheet took those up to the 12th for dates, month first.

    What it could not take so it left as text: no day of the former is above 12, and all of the
    latter are.
    """
    apart = min(one.first for one in pending) > 12 or min(one.second for one in pending) > 12
    if apart and len(others) and (_day_of_month(others) <= 12).all():
        row = pending[0].row
        column.fault(
            row,
            "half-turned dates",
            f"dates like {quoted(column.cells[row])} all have a day above 12, and those with the "
            "year first all one up to 12: a spreadsheet seems to have taken these for dates with "
            "day and month exchanged, and left the others as text",
            f"Download the table again and keep the spreadsheet from changing it. {_ISO_REMEDY}",
        )


def _check_exchanged(days: DayArray, column: _Column) -> None:
    """Note a column whose rows follow one another only with day and month exchanged."""
    if len(days) < 2 or np.isnat(days).any():
        return
    years = days.astype("datetime64[Y]")
    months = days.astype("datetime64[M]")
    month, day = (months - years.astype("datetime64[M]")).astype(int), _day_of_month(days)
    either = (day <= 12) & (month + 1 != day)
    turned = days.copy()
    turned[either] = (years.astype("datetime64[M]") + (day - 1)).astype("datetime64[D]")[
        either
    ] + month[either]

    def following(order: DayArray) -> int:
        return int((np.abs(np.diff(order).astype(int)) == 1).sum())

    steps = np.diff(days).astype(int)
    jumble = bool((day <= 12).all() and steps.min() < 0 < steps.max())
    jumble &= int(np.diff(np.sort(days)).astype(int).max()) > 7
    better = following(turned) > following(days) and 2 * following(turned) >= len(days) - 1
    if (day > 12).any():
        # Days up to the 12th that lie months away from all others, but among them if exchanged.
        first = days[day > 12].min() - np.timedelta64(15, "D")
        last = days[day > 12].max() + np.timedelta64(20, "D")
        astray, turned_astray = (
            int((either & ((read < first) | (read > last))).sum()) for read in (days, turned)
        )
        jumble |= astray >= 3 and not turned_astray
    if better or (jumble and either.any()):
        row = int(np.argmax(either))
        column.fault(
            row,
            "order of day and month",
            f"{quoted(column.cells[row])} is read as {days[row]}, but "
            + (
                "the rows follow one another day by day only if day and month are exchanged, here "
                "or in half of the dates"
                if better
                else "days up to the 12th lie far from the others, so that day and month may be "
                "exchanged in them"
            ),
            f"Look at the first dates and the last. {_ISO_REMEDY}",
        )


def _check_turn_of_year(days: DayArray, column: _Column) -> None:
    """Note rows that go on with the old year after its last day."""
    if len(days) < 3 or np.isnat(days).any():
        return
    steps = np.diff(days).astype(int)
    onward = 1 if np.median(steps) > 0 else -1
    back = (steps * onward >= -365) & (steps * onward < _MOST_MISSING - 365)
    # One that follows no other is a slip too, unless it stands at its own place as well.
    back[1:] &= (steps[:-1] * onward > 0) & (steps[:-1] * onward < _MOST_MISSING)
    back[0] &= not (days[1:] == days[0]).any()
    if back.any() and float((steps == np.median(steps)).mean()) > 0.5:
        row = int(np.argmax(back)) + 1
        column.fault(
            row,
            "year",
            f"{quoted(column.cells[row])} follows {quoted(column.cells[row - 1])}: the year may "
            "not have been changed",
            f"Look at the years from this line on. {_ISO_REMEDY}",
        )


def _day_of_month(days: DayArray) -> IntArray:
    found: IntArray = (days - days.astype("datetime64[M]")).astype(np.int64) + 1
    return found


def _clocks(cells: Sequence[str]) -> list[tuple[int, int, bool]]:
    """Return hour, minute and whether it is said to be UTC, of a column of time stamps only."""
    if not cells or ":" not in cells[0]:
        return []
    found = [_STAMP.search(cell.strip().strip(_QUOTES)) for cell in cells]
    if not all(found):
        return []
    return [
        (int(m[1]), int(m[2]), _UTC.fullmatch(m[3] or "") is not None)
        for m in found
        if m is not None
    ]


def _check_zone(clocks: Sequence[tuple[int, int, bool]], column: _Column, title: str) -> None:
    """Note stamps of UTC late in the day, which east of Greenwich begin the next one."""
    utc = _UTC_TITLE.search(title) is not None
    for row, (hour, minute, said) in enumerate(clocks):
        if (utc or said) and _EASTERN_MIDNIGHT <= hour < 24 and (hour, minute) != (23, 59):
            column.fault(
                row,
                "time zone",
                f"{quoted(column.cells[row])} is a time of UTC, and may be midnight of the yard's "
                "next day",
                f"Download daily values in the yard's own time. {_ISO_REMEDY}",
            )
            return


def days_from_parts(
    year: np.ndarray, month: np.ndarray, day: np.ndarray, lines: Sequence[int], faults: FaultList
) -> DayArray:
    """Return the days told by columns of year, month and day."""
    days = np.full(len(year), np.datetime64("NaT"), dtype="datetime64[D]")
    parts = np.stack([year, month, day])
    good = np.isfinite(parts).all(axis=0)
    good &= (year >= FIRST_YEAR) & (year <= LAST_YEAR) & (month >= 1) & (month <= 12)
    good &= (day >= 1) & (day <= 31)
    good &= (np.nan_to_num(parts) % 1 == 0).all(axis=0)
    years, months, offsets = (part.astype(np.int64) for part in parts[:, good])
    firsts = (years - 1970).astype("datetime64[Y]").astype("datetime64[M]") + (months - 1)
    found = firsts.astype("datetime64[D]") + (offsets - 1)
    in_month = found.astype("datetime64[M]") == firsts
    days[good] = np.where(in_month, found, np.datetime64("NaT"))
    for row in np.flatnonzero(np.isnat(days)).tolist():
        faults.add(
            "dates",
            f"year {year[row]:g}, month {month[row]:g}, day {day[row]:g} is no date",
            "Correct it, or delete the line",
            line=lines[row],
        )
    return days


def days_from_day_of_year(
    year: np.ndarray, day: np.ndarray, lines: Sequence[int], faults: FaultList
) -> DayArray:
    """Return the days told by columns of year and day of the year."""
    ones = np.ones_like(year)
    starts = days_from_parts(year, ones, ones, lines, faults)
    good = (day >= 1) & (day <= 366) & (day % 1 == 0) & ~np.isnat(starts)
    days = np.full(len(year), np.datetime64("NaT"), dtype="datetime64[D]")
    days[good] = starts[good] + (day[good].astype(np.int64) - 1)
    off_year = good & (days.astype("datetime64[Y]") != starts.astype("datetime64[Y]"))
    for row in np.flatnonzero(off_year | (~good & ~np.isnat(starts))).tolist():
        days[row] = np.datetime64("NaT")
        faults.add(
            "dates",
            f"year {year[row]:g} has no day {day[row]:g}",
            "Give the day of the year, 1 to 365 or 366",
            line=lines[row],
        )
    return days


def is_total(cell: str) -> bool:
    """Return whether a row that begins so sums up others."""
    return _TOTALS.match(cell) is not None


def _iso_days(cells: Sequence[str]) -> DayArray | None:
    """Return the days of a flawless ISO column, None when it isn't one. The quick way."""
    if not cells or len(cells[0]) < 10:
        return None
    rest = cells[0][10:]
    if rest and rest[0] not in "T ":
        return None
    alike = rf"(?:....-..-..{re.escape(rest)}\n)+"
    if re.fullmatch(alike, "\n".join(cells) + "\n") is None:
        return None
    try:
        days = np.array([cell[:10] for cell in cells], dtype="datetime64[D]")
    except ValueError:
        return None
    years = days.astype("datetime64[Y]").astype(np.int64) + 1970
    return days if years.min() >= FIRST_YEAR and years.max() <= LAST_YEAR else None


def _refuse(word: str, row: int, column: _Column) -> None:
    """Note why a cell is no date, by what it most likely is."""
    if number := _DAY_NUMBER.fullmatch(word):
        day = SPREADSHEET_EPOCH + timedelta(days=int(number[1]))
        other = day + LATER_EPOCH
        column.fault(
            row,
            "spreadsheet day numbers",
            f"{quoted(word)} is a spreadsheet's day number (perhaps {day}; {other} where days are "
            "counted from 1904)",
            "Format the date column as YYYY-MM-DD in the spreadsheet and save again",
        )
    elif _SHORT_YEAR.fullmatch(word):
        column.fault(
            row,
            "two-digit years",
            f"the year in {quoted(word)} has two digits",
            "Write it with four, best as YYYY-MM-DD",
        )
    elif not word:
        column.fault(row, "dates", "the date is missing", "Add it, or delete the line")
    else:
        column.fault(row, "dates", f"{quoted(word)} is no date", _ISO_REMEDY)


def _day(year: int, month: int, day: int, word: str, row: int, column: _Column) -> np.datetime64:
    """Return one day, NaT with a fault when the calendar has no such day."""
    try:
        found = date(year, month, day)
    except ValueError:
        found = None
    if found is None:
        column.fault(
            row,
            "dates",
            f"{quoted(word)} is a day that the calendar does not have",
            f"Correct it. {_ISO_REMEDY}",
        )
    elif not FIRST_YEAR <= year <= LAST_YEAR:
        column.fault(row, "dates", f"the year of {quoted(word)} can't be right", "Correct it")
        found = None
    return np.datetime64(found, "D") if found else np.datetime64("NaT", "D")


def _choose_date_order(pending: Sequence[_Open], days: DayArray, column: _Column) -> None:
    """Decide whether day or month comes first, by the whole column, and fill in the days."""
    day_first = [one.row for one in pending if one.first > 12]
    month_first = [one.row for one in pending if one.second > 12]
    if day_first and month_first:
        one, other = (
            f"{quoted(column.cells[row])} on line {column.lines[row]}"
            for row in (day_first[0], month_first[0])
        )
        column.faults.add(
            "order of day and month",
            f"{one} has the day first, {other} the month",
            f"Keep one order throughout. {_ISO_REMEDY}",
        )
        return
    few = 1 < len(column.cells) < _FEWEST_DOTTED and len({one.second for one in pending}) == 1
    dotted = all(one.dotted for one in pending)
    if not day_first and not month_first and (few or not dotted):
        column.fault(
            pending[0].row,
            "order of day and month",
            f"dates like {quoted(column.cells[pending[0].row])} can be read day first or month "
            "first, and no date in the file settles which",
            _ISO_REMEDY,
        )
        return
    for row, first, second, year, _ in pending:
        month, day = (first, second) if month_first else (second, first)
        days[row] = _day(year, month, day, column.cells[row], row, column)


# Numbers as people and instruments write them in weather tables.

_PLAIN = frozenset("0123456789.+-eE \n")
_BLANK = frozenset(
    (
        *("", "-", "--", "---", "."),
        *("na", "n/a", "nan", "null", "none", "m", "missing", "nodata", "#n/a"),
    )
)
_SENTINELS = frozenset((-9999.0, -9999.9, -999.0, -999.9, -99.0, -99.9, -99.99, 999.9, 9999.9))
_TRACE = frozenset(("t", "tr", "trace"))


@dataclass(frozen=True)
class Numerals:
    """One column as numbers."""

    values: FloatArray  # (row,): NaN where the cell is blank or can't be read
    unreadable: list[int]  # rows whose cell is no number
    sentinels: int  # cells with a number that stands for 'missing', such as -9999


def parse_numbers(
    cells: Sequence[str], *, decimal_comma: bool = False, traces: bool = False
) -> Numerals:
    """Return a column of cells as numbers, `traces` of rain, too little to measure, as 0."""
    if decimal_comma:
        cells = [cell.replace(",", ".") for cell in cells]
    unreadable: list[int] = []
    if _PLAIN.issuperset("\n".join(cells)):
        try:
            values = np.array([float(cell) if cell else np.nan for cell in cells], dtype=float)
        except ValueError:
            values, unreadable = _one_by_one(cells, traces)
    else:
        values, unreadable = _one_by_one(cells, traces)
    sentinels = 0
    if len(values) and np.nanmax(np.abs(values), initial=0.0) >= 99.0:
        missing = np.isin(values, list(_SENTINELS))
        sentinels = int(missing.sum())
        values[missing] = np.nan
    infinite = np.isinf(values)
    if infinite.any():
        unreadable += np.flatnonzero(infinite).tolist()
        values[infinite] = np.nan
    return Numerals(values, unreadable, sentinels)


def reason_unreadable(cell: str) -> str:
    """Return what a cell most likely is that should be a number, as the end of a sentence."""
    word = cell.strip()
    if word.startswith("#"):
        return ", but what a spreadsheet writes for a formula that failed"
    if FRACTION_AS_DATE.fullmatch(word):
        return "; a spreadsheet may have taken a fraction or a decimal for a date"
    return ""


def _one_by_one(cells: Sequence[str], traces: bool) -> tuple[FloatArray, list[int]]:
    values = np.full(len(cells), np.nan)
    unreadable: list[int] = []
    for row, cell in enumerate(cells):
        word = cell.strip().lower().replace("\u2212", "-")
        if word in _BLANK:
            continue
        if traces and word in _TRACE:
            values[row] = 0.0
            continue
        try:
            if not _PLAIN.issuperset(word):
                raise ValueError
            values[row] = float(word)
        except ValueError:
            unreadable.append(row)
    return values, unreadable
