"""Records: understood, confirmed, written into the diary, taken back."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any

from fruitcast.app.doubts import doubt_of_clock
from fruitcast.app.known import numbers_of
from fruitcast.errors import InputError
from fruitcast.yard.diary import Diary, read_events
from fruitcast.yard.events import FIELDS, Event, cancelled_entries
from fruitcast.yard.reading import read_yard
from fruitcast.yard.recording import (
    Recorded,
    outlet_names,
    parse_record,
    parse_sheet,
    undo_record,
)
from fruitcast.yard.state_from_diary import read_yard_state
from fruitcast.yard.textfile import read_text
from fruitcast.yard.values import WrongValueError
from fruitcast.yard.wording import describe


def understand(
    folder: Path, today: date, kind: str, words: Iterable[str], *, yes: bool = False
) -> Recorded:
    """Return what a record in words means and what is to be asked; nothing is written.

    Parameters
    ----------
    folder : Path
        The yard's folder.
    today : date
        The day.
    kind : str
        'soak', 'pick', ...
    words : iterable of str
        The rest of the record.
    yes : bool
        Confirmed beforehand: nothing is asked, and only the impossible is refused.

    Raises
    ------
    InputError
        If the words can't be read or the record can't be true.
    """
    yard = read_yard(folder, today)
    return parse_record(
        kind,
        words,
        today=today,
        stacks=read_yard_state(yard, today).stacks,
        units=yard.units,
        outlets=outlet_names(yard),
        numbers=numbers_of(yard),
        tank_logs=yard.soaking.tank_logs,
        yes=yes,
    )


def understand_sheet(
    folder: Path, today: date, lines: Iterable[str], *, yes: bool = False
) -> tuple[Recorded, ...]:
    """Return what a filled-in tick sheet means, all records or none; nothing is written."""
    yard = read_yard(folder, today)
    events = read_events(yard.diary_file)
    return parse_sheet(lines, yard=yard, events=events, today=today, yes=yes)


def understand_undo(folder: Path, today: date, uuid: str | None = None) -> Recorded:
    """Return the entry that takes back the last one, or the one whose uuid begins so."""
    yard = read_yard(folder, today)
    return undo_record(read_events(yard.diary_file), yard.units, uuid)


def doubts_of_writing(folder: Path, today: date, now: datetime | None) -> tuple[str, ...]:
    """Return what to ask before anything is written; see `doubts.doubt_of_clock`."""
    return doubt_of_clock(read_yard(folder, today), now)


def write_records(
    folder: Path, today: date, records: Sequence[Recorded], moment: datetime
) -> list[dict[str, Any]]:
    """Write records into the diary, all or none, and return them as documents.

    Parameters
    ----------
    records : sequence of Recorded
        As understood.
    moment : datetime
        The present instant, with its time zone.
    """
    yard = read_yard(folder, today)
    with Diary(yard.diary_file) as diary:
        events = diary.add([record.event for record in records], moment)
    return [
        entry_document(event, record.understood)
        for event, record in zip(events, records, strict=True)
    ]


def list_entries(
    folder: Path, today: date, *, stack: str | None = None, last: int | None = None
) -> list[dict[str, Any]]:
    """Return the diary's entries in the order written, cancelled ones marked.

    Parameters
    ----------
    folder : Path
        The yard's folder.
    today : date
        The day; entries dated later are left out.
    stack : str or None
        One stack or lot only.
    last : int or None
        So many of the last ones only.
    """
    yard = read_yard(folder, today)
    events = read_events(yard.diary_file)
    cancelled = cancelled_entries(events)
    by_uuid = {event.uuid: event for event in events}
    wanted = [
        event
        for event in events
        if event.on <= today and (stack is None or stack in (event.stack, event.into))
    ]
    if last is not None:
        wanted = wanted[-last:] if last else []
    rows = []
    for event in wanted:
        words = describe(event, yard.units, by_uuid.get(event.cancels))
        rows.append({**entry_document(event, words), "in_force": event.uuid not in cancelled})
    return rows


def entry_document(event: Event, words: str) -> dict[str, Any]:
    """Return one entry as a document of plain values: the columns of the CSV, and its words."""
    document: dict[str, Any] = {}
    for name in FIELDS:
        value = getattr(event, name)
        if isinstance(value, date):  # an instant is a date as well
            value = value.isoformat()
        document[name] = list(value) if isinstance(value, tuple) else value
    return {**document, "words": words}


def read_lines(file: Path) -> list[str]:
    """Return the lines of a sheet.

    Raises
    ------
    InputError
        If it can't be read.
    """
    try:
        return read_text(file).splitlines()
    except WrongValueError as error:
        raise InputError(f"{file}: {error.problem}. {error.remedy}") from error
