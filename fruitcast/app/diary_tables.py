"""The diary as tables: out and in as CSV, where the mushrooms went, the year's yields."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Generic, TypeVar

from pydantic import Field

from fruitcast.app.changed_model import numbers_of
from fruitcast.atomic import write_atomically
from fruitcast.diary.backup import Restored, is_whole, restore_backup
from fruitcast.diary.book import Diary, read_events
from fruitcast.diary.cold_store import losses, losses_words
from fruitcast.diary.events import Event, in_force
from fruitcast.diary.sales import (
    COLUMNS,
    NO_PROOF,
    OutletTakings,
    PartOfPick,
    Sold,
    takings,
    trace_sheet,
    traces,
)
from fruitcast.diary.state_from_diary import read_yard_state
from fruitcast.diary.tables import (
    MAX_BYTES,
    YearRow,
    documents_csv,
    export_csv,
    import_csv,
    season_csv,
    year_end,
)
from fruitcast.document import Document
from fruitcast.errors import InputError
from fruitcast.yard.model import Yard
from fruitcast.yard.reading import read_yard

YEAR_COLUMNS = (
    *("group", "name", "logs", "forced_kg", "natural_kg", "kg_per_log"),
    *("soaks", "soaks_picked", "days_to_pick"),
)
"""Columns of the year's table."""


TRACE_COLUMNS = (
    *("pick", "picked_on", "stack", "strain_class", "strain", "tree", "inoculated", "picked_by"),
    *("soaked_on", "soak_water", "picked_kg", "grade", "went", "to", "on", "kg"),
)
"""Columns of the trace sheet."""

NOTHING_SOLD = "Nothing was sold or picked for an outlet in these days."
NOTHING_PICKED = "Nothing was picked in these days."


class DiaryFile(Document):
    """What 'diary export --json' and 'diary import --json' print."""

    file: str
    entries: int = Field(description="how many were written or added")


class DiaryRestored(Document):
    """What 'diary restore --json' prints."""

    backup: str
    set_aside: str | None = Field(description="the diary as it was; null when there was none")
    rescued_entries: int = Field(
        description="younger than the backup, still read from the damaged diary"
    )


class SalesListed(Document):
    """What 'diary sales --json' prints."""

    first: date = Field(validation_alias="from", serialization_alias="from")
    last: date = Field(validation_alias="to", serialization_alias="to")
    sales: tuple[Sold, ...]
    takings: tuple[OutletTakings, ...] = Field(description="by season and outlet")
    file: str | None = Field(description="the CSV file written, if one was named")


class TraceListed(Document):
    """What 'diary trace --json' prints."""

    first: date = Field(validation_alias="from", serialization_alias="from")
    last: date = Field(validation_alias="to", serialization_alias="to")
    picks: tuple[PartOfPick, ...]
    note: str
    file: str | None = Field(description="the file written, if one was named")


class YearListed(Document):
    """What 'diary year --json' prints."""

    year: int = Field(description="south of the equator it begins on 1 July")
    rows: tuple[YearRow, ...]
    losses: str = Field(
        description="what was lost in all seasons and the share that the plan counts on; empty "
        "when nobody wrote it down"
    )
    file: str | None = Field(description="the CSV file written, if one was named")


AnyRow = TypeVar("AnyRow", Event, Sold, PartOfPick, YearRow)


@dataclass(frozen=True)
class DiaryTable(Generic[AnyRow]):
    """A table of the diary, as CSV and as rows."""

    yard: Yard
    csv: bytes  # UTF-8
    rows: tuple[AnyRow, ...]  # the same: entries, sales or lines of the year

    def write(self, file: Path) -> None:
        """Write it as CSV, whole or not at all."""
        write_atomically(file, self.csv)


def export_diary(folder: Path, today: date) -> DiaryTable[Event]:
    """Return the whole diary, cancelled entries too."""
    yard = read_yard(folder, today)
    events = read_events(yard.diary_file)
    return DiaryTable(yard, export_csv(events), tuple(events))


def export_season(
    folder: Path, today: date, year: int | None, file: Path | None
) -> tuple[str, int, int]:
    """Return a season without names as CSV, to be sent to others, and write it to a file.

    A year is a `Site.growing_year`, None the one that today is in. Returned are the table, how many
    entries it holds, and the year; without `file` nothing is written.
    """
    yard = read_yard(folder, today)
    wanted = yard.site.year_of(today) if year is None else year
    trees = numbers_of(yard).trees
    text, entries = season_csv(yard, read_events(yard.diary_file), wanted, trees)
    if file is not None:
        write_atomically(file, text.encode("utf-8-sig"))
    return text, entries, wanted


def import_diary(folder: Path, today: date, file: Path, moment: datetime) -> int:
    """Add the entries of an exported diary, all or none; return how many.

    Raises FaultsError with every cell that is wrong and every entry that is there already;
    InputError if it is no such file.
    """
    yard = read_yard(folder, today)
    try:
        if file.stat().st_size > MAX_BYTES:
            raise InputError(f"{file}: too large for a diary. Export the diary again.")
        data = file.read_bytes()
    except OSError as error:
        raise InputError(
            f"{file}: can't be read ({error.strerror or error}). Name a diary exported with "
            "'fruitcast diary export'."
        ) from error
    with Diary(yard.diary_file) as diary:
        events = import_csv(data, file.name, diary.events())
        if events:
            diary.add(events, moment)
    return len(events)


def doubt_of_restoring(folder: Path, today: date) -> str:
    """Return what is to be asked before a backup takes the place of a diary that is whole."""
    file = read_yard(folder, today).diary_file
    if not file.exists() or not is_whole(file):
        return ""
    return (
        f"{file.name} is whole. A backup in its place takes the diary back to that day, and what "
        "is there now is set aside. Is that meant?"
    )


def restore_diary(folder: Path, today: date, backup: Path | None = None) -> Restored:
    """Put the newest whole backup, or a named one, in the diary's place."""
    return restore_backup(read_yard(folder, today).diary_file, backup)


def traceability(
    folder: Path, today: date, first: date, last: date, outlet: str | None = None
) -> DiaryTable[Sold]:
    """Return which mushrooms went to which outlet between two days, both included."""
    yard = read_yard(folder, today)
    _refuse_backwards(first, last)
    lot_of = read_yard_state(yard, today).lot_of
    rows = traces(yard, lot_of, read_events(yard.diary_file), first, last, outlet)
    return DiaryTable(yard, documents_csv(COLUMNS, rows), rows)


def outlet_takings(
    folder: Path, today: date, first: date, last: date, outlet: str | None = None
) -> tuple[OutletTakings, ...]:
    """Return what the outlets brought between two days, both included, by season and outlet."""
    yard = read_yard(folder, today)
    return takings(yard, read_events(yard.diary_file), first, last, outlet)


def trace_table(folder: Path, today: date, first: date, last: date) -> DiaryTable[PartOfPick]:
    """Return where each pick between two days, both included, came from and went."""
    yard = read_yard(folder, today)
    _refuse_backwards(first, last)
    state = read_yard_state(yard, today)
    rows = trace_sheet(yard, state, read_events(yard.diary_file), first, last)
    return DiaryTable(yard, documents_csv(TRACE_COLUMNS, rows), rows)


def trace_page(table: DiaryTable[PartOfPick], first: date, last: date) -> bytes:
    """Return a trace sheet as a page to print, UTF-8; the days of its picks are both included."""
    from fruitcast.outputs.sheets import page_of

    return page_of(
        "trace.html",
        yard=table.yard.name,
        units=table.yard.units,
        rows=table.rows,
        first=first,
        last=last,
        note=NO_PROOF,
    )


def write_trace(table: DiaryTable[PartOfPick], file: Path, first: date, last: date) -> None:
    """Write a trace sheet: as a page to print where the file's name says so, else as CSV."""
    if file.suffix.lower() in (".html", ".htm"):
        write_atomically(file, trace_page(table, first, last))
    else:
        table.write(file)


def _refuse_backwards(first: date, last: date) -> None:
    if first > last:
        raise InputError(f"From {first} to {last} is no span of days. Give the earlier day first.")


def year_table(
    folder: Path, today: date, year: int | None = None
) -> tuple[DiaryTable[YearRow], int, str]:
    """Return what each stack, class, strain and tree bore in a year, up to today.

    A year is a `Site.growing_year`, None the one that today is in. Returned are the table, the
    year, and a sentence on what was lost in all seasons so far; empty when nobody wrote it down.
    """
    yard = read_yard(folder, today)
    if year is None:
        year = yard.site.year_of(today)
    events = read_events(yard.diary_file)
    rows = tuple(year_end(yard, events, year, today))
    lost = losses(yard, [event for event in in_force(events) if event.on <= today])
    table = DiaryTable(yard, documents_csv(YEAR_COLUMNS, rows), rows)
    return table, year, losses_words(lost)
