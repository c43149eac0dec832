"""Adds one stack to stacks.csv: everything that stands there stays as it is, byte for byte."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path

from fruitcast.atomic import write_atomically
from fruitcast.encodings import encoding_of
from fruitcast.errors import FaultsError, InputError
from fruitcast.numbers import Numbers
from fruitcast.units import keys_of, si_from_key
from fruitcast.yard.model import Stack
from fruitcast.yard.sheet import (
    Row,
    column_name,
    delimiter_of,
    without_comments,
    without_preamble,
)
from fruitcast.yard.stacks import FILE, OPTIONAL, REQUIRED, is_total, parse_stacks
from fruitcast.yard.textfile import decode
from fruitcast.yard.values import WrongValueError

_COLUMNS = tuple(column for group in REQUIRED for column in group) + OPTIONAL
_DECIMAL_COMMA = re.compile(r"\d+,\d+")
_DIGITS = 2  # of a centimetre or an inch


def append_stack(path: Path, stack: Stack, numbers: Numbers) -> str:
    """Write a stack as a new row at the end of stacks.csv, before a row of totals.

    The row goes into the columns that the file has, in its delimiter, its unit of length, its
    decimal sign and its encoding. The file is replaced whole or not at all.

    Parameters
    ----------
    path : Path
        The yard's stacks.csv.
    stack : Stack
        The new stack.
    numbers : Numbers
        The numbers of the model, for the tree species they know.

    Returns
    -------
    str
        The row as written.

    Raises
    ------
    InputError
        If the file can't be read, has a fault, or has a stack of that name, or has no column for
        what the new one fills.
    OutputError
        If it can't be written; nothing is changed.
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
    before = _read(text, numbers)
    if any(known.name.casefold() == stack.name.casefold() for known in before):
        raise InputError(
            f"{FILE}: there is a stack {stack.name} already. Give the new one another name."
        )
    new, row = _with_row(text, stack)
    after = _read(new, numbers)
    if after[:-1] != before or not _alike(after[-1], stack):
        raise InputError(
            f"{FILE}: the row for stack {stack.name} would not read back as it was meant. Add it "
            f"by hand: {row}"
        )
    write_atomically(path, _encode(new, data))
    return row


def _read(text: str, numbers: Numbers) -> tuple[Stack, ...]:
    stacks, found = parse_stacks(text, numbers)
    empty = [fault for fault in found.faults if fault.problem == "names no stack"]
    faults = [fault for fault in found.faults if fault not in empty]
    if faults:
        raise FaultsError(faults)
    return stacks


def _with_row(text: str, stack: Stack) -> tuple[str, str]:
    """Return the text with the new row in its place, and the row."""
    _, body = without_preamble(without_comments(text))
    delimiter = delimiter_of(body, _COLUMNS)
    records = list(csv.reader(io.StringIO(body), delimiter=delimiter, skipinitialspace=True))
    filled = [record for record in records if any(cell.strip() for cell in record)]
    header = [column_name(cell.strip()) for cell in filled[0]]
    comma = any(_DECIMAL_COMMA.fullmatch(cell.strip()) for record in filled for cell in record)
    cells = _cells(stack, header, filled[1:], comma)
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator="").writerow(cells)
    row = out.getvalue()
    last = {
        name: cell.strip()
        for name, cell in zip(header, filled[-1], strict=False)
        if name in _COLUMNS
    }
    if len(filled) > 1 and is_total(Row(0, last)):
        lines = text.split("\n")
        bare = without_comments(text).split("\n")
        place = max(number for number, line in enumerate(bare) if line.strip())
        return "\n".join([*lines[:place], row, *lines[place:]]), row
    kept = text.rstrip("\n")
    return f"{kept}\n{row}{text[len(kept) :] or chr(10)}", row


def _cells(
    stack: Stack, header: list[str], rows: list[list[str]], decimal_comma: bool
) -> list[str]:
    """Return the stack's cells under the header's columns; columns not known stay empty."""
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
        key = _used_key(quantity, header, rows)
        number = f"{round(metres / si_from_key(key, 1.0), _DIGITS):g}"
        given[key] = number.replace(".", ",") if decimal_comma else number
    lost = [column for column in OPTIONAL if given[column] and column not in header]
    if lost:
        raise InputError(
            f"{FILE} has no column {' and no column '.join(lost)}, which the new stack fills. Add "
            "it to the first line, or leave it out of the stack."
        )
    return [given.get(name, "") for name in header]


def _used_key(quantity: str, header: list[str], rows: list[list[str]]) -> str:
    """Return the column in which the file gives a size: the one with more cells filled."""
    present = [key for key in keys_of(quantity) if key in header]

    def filled(key: str) -> int:
        place = header.index(key)
        return sum(len(row) > place and bool(row[place].strip()) for row in rows)

    return max(present, key=filled)


def _alike(read: Stack, meant: Stack) -> bool:
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


def _encode(text: str, before: bytes) -> bytes:
    """Return the text in the encoding and with the line ends of the file as it was."""
    mark, encoding = encoding_of(before)
    told = before[len(mark) :].decode(encoding)
    ends = "\r\n" if "\r\n" in told else "\r" if "\r" in told and "\n" not in told else "\n"
    try:
        return mark + text.replace("\n", ends).encode(encoding)
    except UnicodeEncodeError:
        raise InputError(
            f"{FILE} is not in UTF-8, and the new stack has letters it can't hold. Save the file "
            "in UTF-8, or write the stack without them."
        ) from None
