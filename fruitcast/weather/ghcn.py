"""GHCN-Daily as NOAA stores it: one element of one day, or of one month, on a line.

Two layouts, both in tenths of C and tenths of mm: lines of
`station,YYYYMMDD,element,value,measurement flag,quality flag,source flag,time`, and the
fixed-width `.dly` files with 31 values of five places and three flags on a line. A value with a
quality flag failed NOAA's own check and is taken as missing.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

import numpy as np

from fruitcast.tables.faults import FaultList, quoted
from fruitcast.weather.cells import parse_dates
from fruitcast.weather.table import RawTable, check_one_station
from fruitcast.weather.units import to_si, unit_of

_ELEMENTS = {"TMIN": "tmin", "TMAX": "tmax", "TAVG": "tmean", "PRCP": "rain", "RHAV": "rh"}
_LONG_HEADER = re.compile(r'"?(id|station|station_id)"?,"?date"?,"?element"?,', re.IGNORECASE)
_LONG_LINE = re.compile(r"[A-Z]{2}[A-Z0-9_-]{9},\d{8},[A-Z0-9]{4},-?\d+,")
_FIXED_LINE = re.compile(r"[A-Z]{2}[A-Z0-9_-]{9}\d{6}[A-Z0-9]{4}[ -]")
_FIXED_VALUE = re.compile(r" *-?\d+")
_WHOLE_NUMBER = re.compile(r"-?\d{1,6}")
_FIRST_PLACE, _PLACES, _DAYS = 21, 8, 31
# -9999 stands for a missing value; without its sign, 999.9 mm or C, it is damaged.
_MISSING = (-9999, 9999)

NOT_MEASURED = ("P", "A")
"""Flags of rain that is no measurement of one day, from memory of NOAA's readme: presumed zero,
and the sum of several days."""

Item = tuple[int, str, str, str, int, str, bool]
"""Line, station, day as YYYYMMDD, variable, value, its measurement flag, whether NOAA's check
failed it."""


def read(lines: Sequence[str], faults: FaultList) -> RawTable | None:
    """Return the table in lines of one element of one day or month, None when they are neither."""
    first = next((line for line in lines if line.strip()), "")
    if _LONG_HEADER.match(first) or _LONG_LINE.match(first):
        return _spread(list(_long_items(lines, faults)), faults)
    if len(first) > 200 and _FIXED_LINE.match(first):
        return _spread(list(_fixed_items(lines, faults)), faults)
    return None


def _long_items(lines: Sequence[str], faults: FaultList) -> Iterator[Item]:
    for number, line in enumerate(lines, 1):
        if not line.strip() or (number == 1 and _LONG_HEADER.match(line)):
            continue
        cells = [cell.strip().strip('"') for cell in line.split(",")]
        if len(cells) >= 3 and cells[2] not in _ELEMENTS:
            continue
        cell = cells[3] if len(cells) > 3 else ""
        if not _WHOLE_NUMBER.fullmatch(cell):
            faults.add(
                "unreadable numbers",
                f"{quoted(line)} has no whole number as its fourth value",
                "Correct it, or delete the line",
                line=number,
            )
            continue
        failed = len(cells) > 5 and bool(cells[5])
        stamp, flag = cells[1].replace("-", ""), cells[4] if len(cells) > 4 else ""
        yield number, cells[0], stamp, _ELEMENTS[cells[2]], int(cell), flag, failed


def _fixed_items(lines: Sequence[str], faults: FaultList) -> Iterator[Item]:
    for number, line in enumerate(lines, 1):
        variable = _ELEMENTS.get(line[17:21])
        if variable is None:
            continue
        # All 31 days are always there. Where characters were lost or added, the values behind
        # them would be taken for those of other days, or for failed ones.
        end = _FIRST_PLACE + _PLACES * _DAYS
        if not end - 3 <= len(line.rstrip()) <= end:
            faults.add(
                "places of values",
                f"the line has {len(line.rstrip())} characters, and 31 values with their flags "
                f"take {end - 3} to {end}",
                "Download the file again",
                line=number,
            )
            continue
        for day in range(_DAYS):
            at = _FIRST_PLACE + _PLACES * day
            cell = line[at : at + 5]
            if not _FIXED_VALUE.fullmatch(cell):
                faults.add(
                    "unreadable numbers",
                    f"{quoted(cell)} for day {day + 1} is not a whole number in its place",
                    "Download the file again",
                    line=number,
                )
            elif int(cell) not in _MISSING:
                failed = line[at + 6 : at + 7].strip() != ""
                stamp = f"{line[11:17]}{day + 1:02d}"
                flag = line[at + 5 : at + 6]
                yield number, line[:11], stamp, variable, int(cell), flag, failed


def _spread(items: Sequence[Item], faults: FaultList) -> RawTable:
    """Return one row a day from one item a value."""
    check_one_station((item[1] for item in items), faults)
    variables = dict.fromkeys(item[3] for item in items)
    for needed in ("tmin", "tmax", "rain"):
        if needed not in variables:
            faults.add(
                "missing column",
                f"the file has no '{needed}' at all",
                "Choose a station that measures temperature and precipitation",
            )
    faults.raise_any()
    row_of: dict[str, int] = {}
    lines: list[int] = []
    for line, _, stamp, *_ in items:
        if stamp not in row_of:
            row_of[stamp] = len(lines)
            lines.append(line)
    table = RawTable(faults.file, lines, parse_dates(list(row_of), lines, faults), {})
    values = {variable: np.full(len(lines), np.nan) for variable in variables}
    failures = unmeasured = 0
    for line, _, stamp, variable, value, flag, failed in items:
        row = row_of[stamp]
        if value in _MISSING:
            continue
        if failed:
            failures += 1
        elif variable == "rain" and flag in NOT_MEASURED:
            unmeasured += 1
        elif np.isfinite(values[variable][row]) and values[variable][row] != value:
            faults.add(
                "day told twice",
                f"{variable} stands in the file twice, as {values[variable][row]:g} and {value}",
                "Keep the line that is right and delete the other",
                line=line,
                day=table.days[row],
            )
        else:
            values[variable][row] = value
    for variable, column in values.items():
        unit = unit_of(variable, "tenths")
        table.values[variable] = to_si(column, unit)
        table.units[variable] = unit
    faults.notes.append("read as tenths of C and tenths of mm, as GHCN-Daily stores them.")
    faults.notes += notes_on_flags(failures, unmeasured)
    return table


def notes_on_flags(failed: int, unmeasured: int) -> list[str]:
    """Return notes on values that NOAA refused, and on days whose rain isn't that day's."""
    notes = []
    if failed:
        notes.append(f"{failed} values that failed NOAA's own quality check are taken as missing.")
    if unmeasured:
        notes.append(
            f"rain of {unmeasured} days is presumed by NOAA, or the sum of several days: it is "
            "taken as missing."
        )
    return notes
