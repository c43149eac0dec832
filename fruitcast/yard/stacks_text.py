"""Edits the text of stacks.csv: one row changes or comes in, all others stay."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from fruitcast.atomic import write_atomically
from fruitcast.errors import FaultsError, InputError
from fruitcast.numbers import Numbers
from fruitcast.tables.faults import FaultsFound
from fruitcast.tables.sheet import (
    SheetRow,
    column_name,
    delimiter_of,
    from_header,
    read_sheet,
    without_comments,
    without_preamble,
)
from fruitcast.tables.text import decode, encode_like
from fruitcast.tables.values import WrongValueError
from fruitcast.units import keys_of, si_from_key
from fruitcast.yard.model import Stack
from fruitcast.yard.stacks import FILE, OPTIONAL, REQUIRED, is_total, parse_stacks

COLUMNS = tuple(column for group in REQUIRED for column in group) + OPTIONAL
"""All columns that are read."""

_DECIMAL_COMMA = re.compile(r"\d+,\d+")


@dataclass(frozen=True)
class Record:
    """One row that isn't empty."""

    first: int  # its first line in the file, from 1
    last: int  # its last line
    cells: list[str]


@dataclass(frozen=True)
class Layout:
    """How the table is written."""

    delimiter: str  # what parts its cells
    header: tuple[str, ...]  # names of all columns, foreign ones too
    rows: tuple[Record, ...]  # the rows below the header
    decimal_comma: bool  # whether its numbers have a decimal comma

    def size_column(self, quantity: str) -> str:
        """Return the column in which a size is given: of two the one with more cells filled."""
        present = [key for key in keys_of(quantity) if key in self.header]

        def filled(key: str) -> int:
            place = self.header.index(key)
            return sum(
                len(row.cells) > place and bool(row.cells[place].strip()) for row in self.rows
            )

        return max(present, key=filled)

    def known(self, row: Record) -> dict[str, str]:
        """Return the cells of a row by the columns that are read, blanks cut off."""
        return {
            name: row.cells[at].strip() if at < len(row.cells) else ""
            for at, name in enumerate(self.header)
            if name in COLUMNS
        }


def layout_of(text: str) -> Layout:
    """Return how the text of stacks.csv is laid out.

    Raises InputError if it has no header, or a quotation mark that doesn't close.
    """
    start, body = without_preamble(without_comments(text))
    delimiter = delimiter_of(body, COLUMNS)
    reader = csv.reader(io.StringIO(body), delimiter=delimiter, strict=True, skipinitialspace=True)
    spans: dict[int, int] = {}
    rows: list[tuple[int, list[str]]] = []
    line = start
    try:
        for cells in reader:
            spans[line] = start + reader.line_num - 1
            if any(cell.strip() for cell in cells):
                rows.append((line, cells))
            line = start + reader.line_num
    except csv.Error:
        rows = []
    rows = from_header(rows, COLUMNS, FILE, FaultsFound())
    if not rows:
        raise InputError(f"{FILE} can't be changed here: mend its first line and its quotes.")
    (_, header), *data = rows
    return Layout(
        delimiter,
        tuple(column_name(cell.strip()) for cell in header),
        tuple(Record(line, spans[line], cells) for line, cells in data),
        any(_DECIMAL_COMMA.fullmatch(cell.strip()) for _, cells in rows for cell in cells),
    )


def with_row(text: str, cells: Mapping[str, str]) -> tuple[str, str]:
    """Return the text with a new row at its end, before a row of totals, and the row.

    Columns that the table has and `cells` doesn't stay empty. Raises InputError if the table can't
    be changed.
    """
    layout = layout_of(text)
    row = _line([cells.get(name, "") for name in layout.header], layout.delimiter)
    if layout.rows and is_total(SheetRow(0, layout.known(layout.rows[-1]))):
        lines = text.split("\n")
        place = layout.rows[-1].first - 1
        return "\n".join([*lines[:place], row, *lines[place:]]), row
    kept = text.rstrip("\n")
    return f"{kept}\n{row}{text[len(kept) :] or chr(10)}", row


def change_row(text: str, stack: str, cells: Mapping[str, str]) -> str:
    """Return the text with some cells of a stack's row changed; the others keep their form.

    Raises InputError if there is no such row or column, or the row can't be changed.
    """
    layout = layout_of(text)
    row = _row_of(layout, stack)
    missing = [name for name, cell in cells.items() if name not in layout.header and cell]
    if missing:
        raise InputError(
            f"{FILE} has no column {missing[0]}. Add it to the first line by hand, or leave that "
            "out."
        )
    lines = text.split("\n")
    old = "\n".join(lines[row.first - 1 : row.last])
    wanted = {
        layout.header.index(name): " ".join(cell.split())
        for name, cell in cells.items()
        if name in layout.header
    }
    new = _with_cells(old, row.cells, wanted, layout.delimiter)
    changed = "\n".join([*lines[: row.first - 1], new, *lines[row.last :]])
    _check(text, changed, stack, cells)
    return changed


def without_row(text: str, stack: str) -> str:
    """Return the text without a stack's row.

    Raises InputError if there is no such row.
    """
    row = _row_of(layout_of(text), stack)
    lines = text.split("\n")
    return "\n".join([*lines[: row.first - 1], *lines[row.last :]])


def _row_of(layout: Layout, stack: str) -> Record:
    for row in layout.rows:
        if " ".join(layout.known(row).get("stack", "").split()).casefold() == stack.casefold():
            return row
    raise InputError(f"There is no stack {stack[:60]} in {FILE} any more. Look at what is there.")


def _with_cells(line: str, cells: Sequence[str], wanted: Mapping[int, str], delimiter: str) -> str:
    """Return a row's line with some cells changed; the others stay as they are written."""
    raw = _parts(line, delimiter)
    read = next(csv.reader(io.StringIO(line), delimiter=delimiter, skipinitialspace=True), [])
    if len(raw) != len(cells) or read != list(cells):  # a mark in the middle of a cell
        raw = [_cell(cell, delimiter) for cell in cells]
    raw += [""] * (max(wanted, default=0) + 1 - len(raw))
    for at, cell in wanted.items():
        before = raw[at]
        lead = before[: len(before) - len(before.lstrip(" "))] if before.strip() else ""
        trail = before[len(before.rstrip(" ")) :] if before.strip() else ""
        raw[at] = f"{lead}{_cell(cell, delimiter)}{trail}"
    return delimiter.join(raw)


def _parts(line: str, delimiter: str) -> list[str]:
    """Return a row's cells as they are written, quotes and blanks with them."""
    parts, begin, quoted = [], 0, False
    for at, letter in enumerate(line):
        if letter == '"':
            quoted = not quoted
        elif letter == delimiter and not quoted:
            parts.append(line[begin:at])
            begin = at + 1
    return [*parts, line[begin:]]


def _cell(cell: str, delimiter: str) -> str:
    return _line([cell, "-"], delimiter)[:-2]


def _line(cells: Sequence[str], delimiter: str) -> str:
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator="").writerow(cells)
    return out.getvalue()


def _check(before: str, after: str, stack: str, cells: Mapping[str, str]) -> None:
    """Refuse a text that reads otherwise than it was meant."""
    was, now = (_rows(text) for text in (before, after))
    meant = []
    for row in was:
        if " ".join(row["stack"].split()).casefold() == stack.casefold():
            row = row | {
                name: " ".join(cell.split()) for name, cell in cells.items() if name in row
            }
            stack = "\n"  # only the first of that name is changed
        meant.append(row)
    if now != meant:
        raise InputError(f"{FILE}: the row would not read back as it was meant. Change it by hand.")


def _rows(text: str) -> list[dict[str, str]]:
    rows = read_sheet(text, FILE, REQUIRED, OPTIONAL, FaultsFound())
    return [{"stack": "", **row.cells} for row in rows]


# Adds one stack to stacks.csv: everything that stands there stays as it is, byte for byte.

_DIGITS = 2  # of a centimetre or an inch


def append_stack(path: Path, stack: Stack, numbers: Numbers) -> str:
    """Write a stack as a new row at the end of stacks.csv, before a row of totals; return the row.

    The row goes into the columns that the file has, in its delimiter, its unit of length, its
    decimal sign and its encoding. The file is replaced whole or not at all. Raises InputError if
    the file can't be read, has a fault, or has a stack of that name, or has no column for what
    the new one fills; OutputError if it can't be written; nothing is changed.
    """
    try:
        data = path.read_bytes()
    except OSError as error:
        raise InputError(
            f"{path}: can't be read ({error.strerror or error}). Start a yard with 'fruitcast new'."
        ) from None
    try:
        text = decode(data)
    except WrongValueError as error:
        raise InputError(f"{path}: {error.problem}. {error.remedy}") from None
    new, row = with_stack(text, stack, numbers)
    try:
        encoded = encode_like(new, data)
    except WrongValueError as error:
        raise InputError(f"{FILE}: {error.problem}. {error.remedy}") from None
    write_atomically(path, encoded)
    return row


def with_stack(text: str, stack: Stack, numbers: Numbers) -> tuple[str, str]:
    """Return the text of stacks.csv with a new stack's row in its place, and the row.

    Raises InputError, see `append_stack`.
    """

    def read(text: str) -> tuple[Stack, ...]:
        stacks, found = parse_stacks(text, numbers)
        faults = [fault for fault in found.faults if fault.problem != "names no stack"]
        if faults:
            raise FaultsError(faults)
        return stacks

    before = read(text)
    if any(known.name.casefold() == stack.name.casefold() for known in before):
        raise InputError(
            f"{FILE}: there is a stack {stack.name} already. Give the new one another name."
        )
    new, row = with_row(text, _cells(stack, layout_of(text)))
    after = read(new)
    if after[:-1] != before or not are_alike(after[-1], stack):
        raise InputError(
            f"{FILE}: the row for stack {stack.name} would not read back as it was meant. Add it "
            f"by hand: {row}"
        )
    return new, row


def _cells(stack: Stack, layout: Layout) -> dict[str, str]:
    """Return the stack's cells by column."""
    given = {
        "stack": stack.name,
        "strain_class": stack.strain_class,
        "strain": " ".join(stack.strain.split()),
        "tree": stack.tree,
        "logs": str(stack.logs),
        "inoculated": stack.inoculated.isoformat(),
        "spawn": stack.spawn,
        "bearing_since": stack.bearing_since.isoformat() if stack.bearing_since else "",
        "note": " ".join(stack.note.split()),
    }
    for quantity, metres in (("diameter", stack.diameter), ("length", stack.length)):
        key = layout.size_column(quantity)
        number = f"{round(metres / si_from_key(key, 1.0), _DIGITS):g}"
        given[key] = number.replace(".", ",") if layout.decimal_comma else number
    lost = [column for column in OPTIONAL if given[column] and column not in layout.header]
    if lost:
        raise InputError(
            f"{FILE} has no column {' and no column '.join(lost)}, which the new stack fills. Add "
            "it to the first line, or leave it out of the stack."
        )
    return given


def are_alike(read: Stack, meant: Stack) -> bool:
    """Whether a stack came back as it was meant, sizes to the digits written."""
    near = all(
        abs(getattr(read, size) - getattr(meant, size)) < 1e-3 for size in ("diameter", "length")
    )
    words = all(
        " ".join(getattr(read, word).split()).casefold()
        == " ".join(getattr(meant, word).split()).casefold()
        for word in ("name", "strain", "tree", "note")
    )
    same = all(
        getattr(read, what) == getattr(meant, what)
        for what in ("strain_class", "logs", "inoculated", "spawn", "bearing_since")
    )
    return near and words and same
