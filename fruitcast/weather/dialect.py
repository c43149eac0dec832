"""Where a weather table begins in a text, and what stands between its cells."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass

from fruitcast.weather.daily import VARIABLES
from fruitcast.weather.headers import NEEDED, Column, map_columns, tells_day
from fruitcast.weather.units import fits, parse_unit

_DELIMITERS = (",", ";", "\t", "|", None)
_DEEPEST_HEADER = 100
_LONGEST_HEADER = 20_000
_COMMENT = re.compile(r"#(?!N/A|[A-Z]+[!?]|DIV/0!)")
_DECIMAL_COMMA = re.compile(r"\s*[-+]?\d*,\d+\s*")
_DECIMAL_POINT = re.compile(r"\s*[-+]?\d*\.\d+\s*")


@dataclass(frozen=True)
class Layout:
    """The shape of one table.

    Attributes
    ----------
    header : int
        Index of the line with the titles.
    delimiter : str or None
        What stands between cells; None is white space.
    titles : list of str
        The titles as given.
    columns : dict of str to Column
        Role to column.
    """

    header: int
    delimiter: str | None
    titles: list[str]
    columns: dict[str, Column]


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
    numbers: list[int] = []
    rows: list[list[str]] = []
    for number, line in enumerate(lines[first:], first + 1):
        if _COMMENT.match(line) or not line.strip(" ,;\t|"):
            continue
        numbers.append(number)
        rows.append(split_line(line, layout.delimiter))
    return numbers, rows


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
            columns[role] = Column(column.index, column.title, unit)
            found += 1
        elif cell and role in VARIABLES:
            columns[role] = Column(column.index, column.title, column.unit, cell)
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
