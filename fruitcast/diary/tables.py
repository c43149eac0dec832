"""The whole diary as CSV: out for a spreadsheet or a backup, and in again unchanged."""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Sequence
from datetime import date, datetime

from fruitcast.diary.events import FIELDS, Event, faults_of, whole_seconds_utc
from fruitcast.errors import Fault, FaultsError, InputError

MAX_BYTES = 50_000_000
"""Largest file read. [byte]"""

MAX_FAULTS = 50
"""Faults listed at most."""

_NUMBERS = (
    *("hours", "kg", "start_kg", "moisture_wet", "mm", "litres"),
    *("paid", "second_kg", "lost_kg"),
)
_DAYS = ("on", "picked_on")

# What a spreadsheet would take for a formula, behind any apostrophes already there.
_FORMULA = re.compile(r"'*(?:\s*[=+\-@＝＋－＠]|[\t\r\n])")


def defused(text: str) -> str:
    """Return a cell's text with an apostrophe before what a spreadsheet would calculate."""
    return f"'{text}" if _FORMULA.match(text) else text


def restored(cell: str) -> str:
    """Return the text that `defused` made a cell from."""
    return cell[1:] if cell.startswith("'") and _FORMULA.match(cell[1:]) else cell


def write_rows(header: Sequence[str], rows: Sequence[Sequence[object]]) -> str:
    """Return rows as CSV (RFC 4180) with formulas defused; None is an empty cell."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(header)
    for row in rows:
        writer.writerow([_cell(value) for value in row])
    return out.getvalue()


def _cell(value: object) -> str:
    if value is None:
        return ""
    return defused(value) if isinstance(value, str) else str(value)


def export_csv(events: Sequence[Event]) -> bytes:
    """Return the diary as CSV bytes in UTF-8 with a byte order mark, for spreadsheets.

    One row an entry in the order written, cancelled ones and undo entries too.
    """
    rows = [
        [
            event.recorded_at.isoformat()
            if name == "recorded_at" and event.recorded_at
            else ";".join(event.findings)
            if name == "findings"
            else getattr(event, name)
            for name in FIELDS
        ]
        for event in events
    ]
    return write_rows(FIELDS, rows).encode("utf-8-sig")


def import_csv(data: bytes, file: str, known: Sequence[Event] = ()) -> tuple[Event, ...]:
    """Return the entries of an exported diary, to be written with one `Diary.add`.

    Parameters
    ----------
    data : bytes
        The file; comma or semicolon between the cells.
    file : str
        Its name, for messages.
    known : sequence of Event
        The diary that they are to be added to.

    Raises
    ------
    FaultsError
        With every cell that is wrong and every entry that is there already.
    InputError
        If it is no such file at all.
    """
    if len(data) > MAX_BYTES:
        raise InputError(f"{file}: {len(data)} bytes are no diary. Export the diary again.")
    wide = data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    try:
        text = data.decode("utf-16" if wide else "utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(
            f"{file}: not in UTF-8 (byte {error.start}). In the spreadsheet, save it as "
            "'CSV UTF-8'."
        ) from error
    if "\n" not in text:  # line ends of an old Mac
        text = text.replace("\r", "\n")
    head = text[: text.find("\n") + 1] or text
    delimiter = max(",;\t", key=head.count)
    reader = csv.reader(io.StringIO(text), delimiter=delimiter, strict=True)
    seen = {event.uuid for event in known}
    events: list[Event] = []
    faults: list[Fault] = []
    try:
        columns = _columns(next(reader, []), file)
        line = reader.line_num + 1
        for cells in reader:
            place = f"{file} line {line}"
            line = reader.line_num + 1
            if not any(cells):
                continue
            while len(cells) > len(columns) and not cells[-1].strip():
                cells.pop()
            event, problems = _event(cells, columns, decimal_comma=delimiter != ",")
            if event is not None:
                problems += _clash(event, seen)
                seen.add(event.uuid)
                events.append(event)
            faults += [Fault(place, problem, _REMEDY) for problem in problems]
            if len(faults) >= MAX_FAULTS:
                break
    except csv.Error as error:
        raise InputError(
            f"{file} line {reader.line_num}: not a CSV row ({error}). Export the diary again."
        ) from error
    if faults:
        raise FaultsError(faults)
    return tuple(events)


_REMEDY = "Nothing was imported; correct it, or export the diary again."


def _columns(header: Sequence[str], file: str) -> list[str]:
    columns = [cell.strip().lower() for cell in header]
    while columns and not columns[-1]:
        columns.pop()
    missing = [name for name in ("kind", "on", "uuid", "recorded_at") if name not in columns]
    unknown = [name for name in columns if name not in FIELDS]
    twice = [name for name in FIELDS if columns.count(name) > 1]
    for problem, names in (("lacks", missing), ("has unknown", unknown), ("has twice", twice)):
        if names:
            listed = ", ".join(f"'{name[:40]}'" for name in names[:20])
            raise InputError(
                f"{file} line 1: the header {problem} {listed}. "
                f"A diary has the columns {', '.join(FIELDS)}."
            )
    return columns


def _event(
    cells: Sequence[str], columns: Sequence[str], *, decimal_comma: bool
) -> tuple[Event | None, list[str]]:
    """Return the entry of a row, or None, and what is wrong with it."""
    if len(cells) != len(columns):
        return None, [f"{len(cells)} cells, the header has {len(columns)}"]
    values: dict[str, object] = {}
    problems = []
    for name, cell in zip(columns, cells, strict=True):
        if not cell:
            continue
        comma = decimal_comma and name in _NUMBERS
        try:
            values[name] = _value(name, cell.replace(",", ".") if comma else cell)
        except (ValueError, OverflowError):
            failed = ", a formula that failed in a spreadsheet" if cell.startswith("#") else ""
            problems.append(f"{name} is '{cell[:40]}'{failed}, expected {_expected(name)}")
    problems += [
        f"'{name}' is empty"
        for name in ("kind", "on", "uuid", "recorded_at")
        if name not in values and not any(p.startswith(f"{name} is") for p in problems)
    ]
    if problems:
        return None, problems
    event = Event(**values)  # type: ignore[arg-type]
    return event, faults_of(event)


def _value(name: str, cell: str) -> object:
    if name in _DAYS:
        return date.fromisoformat(cell.strip())
    if name in _NUMBERS:
        return float(cell)
    if name == "logs":
        return int(cell)
    if name == "recorded_at":
        return whole_seconds_utc(datetime.fromisoformat(cell.strip()))
    text = restored(cell)
    return tuple(text.split(";")) if name == "findings" else text


def _expected(name: str) -> str:
    if name in _DAYS:
        return "a day like 2027-05-04"
    if name == "recorded_at":
        return "a moment with its time zone like 2027-05-04T17:30:00+00:00"
    return "a whole number" if name == "logs" else "a number with a decimal point"


def _clash(event: Event, seen: set[str]) -> list[str]:
    problems = []
    if event.uuid in seen:
        problems.append(f"the entry {event.uuid[:40]} is in the diary already")
    if event.cancels and event.cancels not in seen:
        problems.append(f"it cancels {event.cancels[:40]}, which does not stand above it")
    return problems
