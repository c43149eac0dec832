"""Adds one stack to stacks.csv: everything that stands there stays as it is, byte for byte."""

from __future__ import annotations

from pathlib import Path

from fruitcast.atomic import write_atomically
from fruitcast.errors import FaultsError, InputError
from fruitcast.numbers import Numbers
from fruitcast.tables.textfile import decode, encode_like
from fruitcast.tables.values import WrongValueError
from fruitcast.units import si_from_key
from fruitcast.yard.model import Stack
from fruitcast.yard.stacks import FILE, OPTIONAL, parse_stacks
from fruitcast.yard.stacks_text import Layout, layout_of, with_row

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
    try:
        encoded = encode_like(new, data)
    except WrongValueError as error:
        raise InputError(f"{FILE}: {error.problem}. {error.remedy}") from None
    write_atomically(path, encoded)
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
    layout = layout_of(text)
    return with_row(text, _cells(stack, layout))


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
