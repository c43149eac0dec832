"""A spreadsheet's CSV as rows of cells under known columns, whatever its delimiter."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from fruitcast.tables.faults import FaultsFound
from fruitcast.tables.values import nearest, shown

DELIMITERS = ",;\t|"

MOST_ABOVE = 10
"""Rows that may stand above the header: a title, a date, a line left free."""

FEWEST_COLUMNS = 3
"""Known columns that make a lower row a header."""

_COMMENT = re.compile(r'"?#(\s|$)')


@dataclass(frozen=True)
class SheetRow:
    """One row of the sheet."""

    line: int  # its first line in the file
    cells: dict[str, str]  # the cells of the known columns, blanks cut off
    surplus: tuple[str, ...] = ()  # cells past the last column


def read_sheet(
    text: str,
    file: str,
    required: Sequence[Sequence[str]],
    optional: Sequence[str],
    found: FaultsFound,
) -> tuple[SheetRow, ...]:
    """Return the rows of a CSV text that aren't empty.

    Of several columns in one group of the required at least one must be there. Columns that are
    neither required nor optional are named in a warning and not read.
    """
    known = [*(column for group in required for column in group), *optional]
    first, body = without_preamble(without_comments(text))
    delimiter = delimiter_of(body, known)
    rows: list[tuple[int, list[str]]] = []
    reader = csv.reader(io.StringIO(body), delimiter=delimiter, strict=True, skipinitialspace=True)
    line = first
    try:
        for cells in reader:
            rows.append((line, [cell.strip() for cell in cells]))
            line = first + reader.line_num
    except csv.Error:
        found.fault(
            f"{file} line {line}",
            "a quotation mark opens here and the cell does not end as it should",
            'Delete the mark, or close it; a mark inside a text is written twice ("").',
        )
    rows = from_header([(line, cells) for line, cells in rows if any(cells)], known, file, found)
    if not rows:
        return ()
    (header_line, header), *data = rows
    names = [column_name(cell) for cell in header]
    place = f"{file} line {header_line}"
    if not set(names) & set(known):
        found.fault(
            place,
            f"none of the columns is known in {shown(delimiter.join(header))}",
            f"The first line names the columns: {', '.join(known)}.",
        )
        return ()
    for line, cells in data:
        if any("\n" in cell and cell.count(delimiter) >= len(header) - 1 for cell in cells):
            found.fault(
                f"{file} line {line}",
                "a quotation mark opens here and takes in the rows below",
                "Delete the mark, or close it in its own cell.",
            )
    _check_header(names, header, required, known, place, found)
    where = {name: names.index(name) for name in names if name in known}
    return tuple(
        SheetRow(
            line=line,
            cells={
                name: cells[index] if index < len(cells) else "" for name, index in where.items()
            },
            surplus=tuple(cells[len(names) :]),
        )
        for line, cells in data
    )


def too_many_cells(place: str, found: FaultsFound) -> None:
    """Note that a row has cells beyond the last column, see `SheetRow.surplus`."""
    found.fault(
        place,
        "has more cells than the first line has columns",
        'Put a number with a decimal comma, or a text with commas, in quotes: "12,5".',
    )


def from_header(
    rows: list[tuple[int, list[str]]], known: Sequence[str], file: str, found: FaultsFound
) -> list[tuple[int, list[str]]]:
    """Leave out a table's title above its header: rows that name no column, told in a warning."""

    def columns(cells: Sequence[str]) -> int:
        return sum(column_name(cell) in known for cell in cells)

    if not rows or columns(rows[0][1]):
        return rows
    for at in range(1, min(len(rows), MOST_ABOVE + 1)):
        if columns(rows[at][1]) >= FEWEST_COLUMNS:
            title = " ".join(cell for _, cells in rows[:at] for cell in cells if cell)
            found.warn(
                f"{file} line {rows[0][0]}", f"{shown(title)} is taken as a title and not read."
            )
            return rows[at:]
    return rows


def without_comments(text: str) -> str:
    """Return a text with its comment lines, which begin with '# ', emptied.

    A stack may be called '#3', so the blank tells a comment.
    """
    return "\n".join("" if _COMMENT.match(line) else line for line in text.split("\n"))


def without_preamble(text: str) -> tuple[int, str]:
    """Leave out a line like 'sep=;'; return the first line's number and the rest."""
    first_line, _, rest = text.partition("\n")
    if first_line.strip().strip('"').lower().startswith("sep="):
        return 2, rest
    return 1, text


@lru_cache(maxsize=256)
def column_name(cell: str) -> str:
    """Return a column's name as it is known, from its cell in the header."""
    return "_".join(cell.casefold().replace("-", " ").replace("_", " ").split())


def delimiter_of(text: str, known: Sequence[str]) -> str:
    """Return the delimiter that parts the header into the most known columns."""
    filled = [line for line in text.split("\n") if line.strip(' ,;|\t"')][: MOST_ABOVE + 1]

    def known_columns(delimiter: str) -> int:
        return max(
            (
                sum(column_name(cell.strip(' "')) in known for cell in line.split(delimiter))
                for line in filled
            ),
            default=0,
        )

    return max(DELIMITERS, key=known_columns)


def _check_header(
    names: Sequence[str],
    header: Sequence[str],
    required: Sequence[Sequence[str]],
    known: Sequence[str],
    place: str,
    found: FaultsFound,
) -> None:
    """Note columns missing, doubled or unknown."""
    for name in dict.fromkeys(names):
        if name in known and names.count(name) > 1:
            found.fault(place, f"column {name} stands twice", "Keep one of them.")
    unknown = [cell for name, cell in zip(names, header, strict=True) if name not in known]
    for group in required:
        if not set(group) & set(names):
            near = next((cell for cell in unknown if cell and nearest(cell, group)), None)
            remedy = f"Rename {shown(near)}" if near else "Add it"
            found.fault(
                place, f"column {' or '.join(group)} is missing", f"{remedy}, and fill it in."
            )
    for cell in unknown:
        if cell:
            near = nearest(cell, known)
            hint = f"; the nearest known one is {near}" if near else ""
            found.warn(place, f"column {shown(cell)} is not known and not read{hint}.")
