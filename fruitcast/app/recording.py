"""Records: understood, confirmed, written into the diary, taken back."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import date, datetime
from functools import partial
from pathlib import Path
from typing import Any

from pydantic import Field

from fruitcast.app.doubts import doubt_of_clock
from fruitcast.app.publication import last_plan, sale_in
from fruitcast.diary.book import Diary, read_events
from fruitcast.diary.crates import AskPlan
from fruitcast.diary.entries import kind_named
from fruitcast.diary.entries.word import day_meant
from fruitcast.diary.events import FIELDS, Event, cancelled_entries
from fruitcast.diary.recording import Recorded, describe, outlet_names, undo_record
from fruitcast.diary.spoken import parse_sentence, parse_sheet
from fruitcast.document import Amount, Count, Day, Document, Instant
from fruitcast.errors import InputError
from fruitcast.tables.text import read_text
from fruitcast.tables.values import WrongValueError
from fruitcast.units import SHOWN_AS_NONE_KG, format_weight
from fruitcast.words import day_words
from fruitcast.yard.model import Yard
from fruitcast.yard.reading import read_yard


class DiaryEntry(Document):
    """One entry of the diary: the columns of its CSV, and its words. Missing is null or empty."""

    kind: str
    on: date = Field(description="day on which it was done or seen")
    stack: str = Field(description="stack or lot; empty for the whole yard")
    logs: int | None = Field(description="logs concerned; null is all of them")
    hours: Amount | None = Field(description="hours in water")
    kg: Amount | None
    start_kg: Amount | None = Field(description="of the sample log when its moisture was known")
    moisture_wet: Amount | None = Field(description="water over whole weight, at start_kg")
    mm: Amount | None = Field(description="rain or watering")
    litres: Amount | None
    picked_on: date | None
    grade: str
    outlet: str
    into: str = Field(description="new or receiving stack, or new place")
    sample: str
    findings: tuple[str, ...]
    paid: Amount | None = Field(description="for all that was sold, in the grower's own money")
    second_kg: Amount | None = Field(description="second grade, of the weight picked")
    lost_kg: Amount | None = Field(description="not to be sold, of the weight picked")
    cause: str = Field(description="why it was lost or thrown away")
    by: str = Field(description="who picked")
    cancels: str = Field(description="uuid of the entry that this one takes back")
    note: str
    uuid: str
    recorded_at: Instant | None
    words: str


class ListedEntry(DiaryEntry):
    """An entry, and whether it counts."""

    in_force: bool = Field(description="false when it was taken back")


class EntriesRecorded(Document):
    """What 'record ... --json' prints."""

    recorded: tuple[DiaryEntry, ...]

    @property
    def planned(self) -> bool:
        """Whether a plan goes by any of them."""
        return any(kind_named(entry.kind).planned for entry in self.recorded)


class EntriesListed(Document):
    """What 'diary show --json' prints."""

    entries: tuple[ListedEntry, ...]
    later: Count = Field(default=0, description="entries dated after today, which are left out")
    last_on: Day | None = Field(default=None, description="the latest day of those; null: none")


def understand(
    folder: Path, today: date, words: Iterable[str], *, yes: bool = False
) -> tuple[Recorded, ...]:
    """Return what a sentence means and what is to be asked; nothing is written.

    `words` are as the shell has cut them: 'pick', 'A', '2', 'lb'. With `yes`, confirmed beforehand,
    nothing is asked, and only the impossible is refused, and what could mean two things. Raises
    InputError if the words can't be read or the record can't be true.
    """
    yard = read_yard(folder, today)
    plan = partial(last_plan, yard, today)
    read = parse_sentence(
        " ".join(words),
        yard=yard,
        events=read_events(yard.diary_file),
        today=today,
        yes=yes,
        plan=plan,
    )
    return read if yes else doubt_promises(read, yard, plan)


def doubt_promises(records: Sequence[Recorded], yard: Yard, plan: AskPlan) -> tuple[Recorded, ...]:
    """Return records, promises with what is to be asked of them.

    Asked is after a day on which the outlet takes nothing, and after more than the last plan has
    on hand on that day in nine years of ten.
    """
    return tuple(
        replace(record, questions=(*record.questions, *_promise_doubts(record.event, yard, plan)))
        if record.event.kind == "promised"
        else record
        for record in records
    )


def _promise_doubts(event: Event, yard: Yard, plan: AskPlan) -> Iterator[str]:
    day, to, kg = day_meant(event), event.outlet, event.kg or 0.0
    if day is None:
        return
    opens = any(outlet.name == to and outlet.sells_on(day) for outlet in yard.outlets)
    if not opens and not any(order.outlet == to and order.on == day for order in yard.orders):
        if to in outlet_names(yard):
            yield f"By yard.toml {to} takes nothing on {day_words(day)}. Promise it all the same?"
        return
    last = plan()
    sale = sale_in(last, to, day)
    if last and sale and kg > sale.available_p90_kg + SHOWN_AS_NONE_KG:
        most = format_weight(sale.available_p90_kg, yard.units)
        yield (
            f"By the plan of {day_words(last.today)} nine years in ten have no more than {most} on "
            f"hand on {day_words(day)}. Promise {format_weight(kg, yard.units)} all the same?"
        )


def understand_sheet(
    folder: Path, today: date, lines: Iterable[str], *, yes: bool = False
) -> tuple[Recorded, ...]:
    """Return what a filled-in tick sheet means, all records or none; nothing is written."""
    yard = read_yard(folder, today)
    return parse_sheet(
        lines,
        yard=yard,
        events=read_events(yard.diary_file),
        today=today,
        yes=yes,
        plan=partial(last_plan, yard, today),
    )


def understand_undo(folder: Path, today: date, uuid: str | None = None) -> Recorded:
    """Return the entry that takes back the last one, or the one whose uuid begins so."""
    yard = read_yard(folder, today)
    return undo_record(read_events(yard.diary_file), yard.units, uuid)


def doubts_of_writing(folder: Path, today: date, now: datetime | None) -> tuple[str, ...]:
    """Return what to ask before anything is written; see `doubts.doubt_of_clock`."""
    return doubt_of_clock(read_yard(folder, today), now)


def write_records(
    folder: Path, today: date, records: Sequence[Recorded], moment: datetime
) -> EntriesRecorded:
    """Write records into the diary, all or none, and return them as they stand there."""
    yard = read_yard(folder, today)
    with Diary(yard.diary_file) as diary:
        events = diary.add([record.event for record in records], moment)
    written = (
        DiaryEntry(**_columns(event), words=record.understood)
        for event, record in zip(events, records, strict=True)
    )
    return EntriesRecorded(recorded=tuple(written))


def list_entries(
    folder: Path, today: date, *, stack: str | None = None, last: int | None = None
) -> EntriesListed:
    """Return the diary's entries in the order written, cancelled ones marked.

    Entries dated after `today` are left out and counted. With `stack` it is those of one stack or
    lot, with `last` so many of the last ones.
    """
    yard = read_yard(folder, today)
    events = read_events(yard.diary_file)
    cancelled = cancelled_entries(events)
    by_uuid = {event.uuid: event for event in events}
    asked = [event for event in events if stack is None or stack in (event.stack, event.into)]
    wanted = [event for event in asked if event.on <= today]
    later = [event.on for event in asked if event.on > today]
    if last is not None:
        wanted = wanted[-last:] if last else []
    rows = []
    for event in wanted:
        words = describe(event, yard.units, by_uuid.get(event.cancels))
        in_force = event.uuid not in cancelled
        rows.append(ListedEntry(**_columns(event), words=words, in_force=in_force))
    return EntriesListed(entries=tuple(rows), later=len(later), last_on=max(later, default=None))


def _columns(event: Event) -> dict[str, Any]:
    return {name: getattr(event, name) for name in FIELDS}


def read_lines(file: Path) -> list[str]:
    """Return the lines of a sheet, or raise InputError if it can't be read."""
    try:
        return read_text(file).splitlines()
    except WrongValueError as error:
        raise InputError(f"{file}: {error.problem}. {error.remedy}") from error
