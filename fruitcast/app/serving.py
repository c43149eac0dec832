"""What the page for the phone shows and writes: each a use case of its own."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from functools import cached_property, lru_cache
from pathlib import Path

from fruitcast.app.publication import (
    CALENDAR,
    fingerprint,
    fresh_plan,
    is_fresh,
    last_calendar,
    last_plan,
)
from fruitcast.app.recording import doubt_promises
from fruitcast.diary.book import Diary, read_events, read_together
from fruitcast.diary.entries.kind import logs_left, shares_logs
from fruitcast.diary.events import INSPECT, LOTS, RETIRE, UNDO, Event, in_force
from fruitcast.diary.kept_plan import BACKGROUND, Background, kept_background
from fruitcast.diary.plan import Plan, StackToPart
from fruitcast.diary.recording import NeedsYesError, Recorded, check_record, describe, limits_of
from fruitcast.diary.spoken import parse_sentence
from fruitcast.diary.state import StackState, YardState
from fruitcast.diary.state_from_diary import read_yard_state, yard_state
from fruitcast.errors import InputError
from fruitcast.outputs.calendar_state import CalendarState, yard_calendar
from fruitcast.outputs.ical import calendar_bytes
from fruitcast.outputs.reminders import reminders
from fruitcast.outputs.week import Week, week_ahead
from fruitcast.yard import keys, stacks
from fruitcast.yard.model import Yard
from fruitcast.yard.reading import read_yard


@dataclass(frozen=True)
class Clock:
    """What time it is."""

    now: Callable[[], datetime]  # returns the present instant with its time zone
    day: date | None = None  # a day to be taken for today, whatever the instant says

    def today(self, yard: Yard) -> date:
        """Return the day it is in the yard."""
        return self.day or self.now().astimezone(yard.site.timezone).date()


@dataclass(frozen=True)
class Situation:
    """The yard as a page shows it."""

    today: date
    yard: Yard
    state: YardState  # what the diary says
    plan: Plan | None  # the plan last published; None when there is none
    fresh: bool  # whether the plan is of today and nothing has changed since
    background: Background  # what a page shows beside it, see `standing.add_background`

    @cached_property
    def week(self) -> Week | None:
        """What to do in the next 7 days; None without a plan."""
        if self.plan is None:
            return None
        return week_ahead(reminders(self.plan, self.yard, self.state), self.today)


def situation(folder: Path, clock: Clock) -> Situation:
    """Return the yard as it stands, without any planning.

    Raises InputError if the yard or its diary cannot be read.
    """
    yard = read_yard(folder)
    today = clock.today(yard)
    with read_together(yard.diary_file):
        plan = last_plan(yard, today)
        return Situation(
            today,
            yard,
            read_yard_state(yard, today),
            plan,
            plan is not None and is_fresh(plan, yard, today),
            _background(yard, today),
        )


def is_complete(yard: Yard, today: date) -> bool:
    """Return whether plan and background are of today and nothing has changed since."""
    if fresh_plan(yard, today) is None:
        return False
    return bool(_background(yard, today).inputs == fingerprint(yard))


def inputs_of(now: Situation) -> str:
    """Return what changes whenever the day, the yard's files or its diary do."""
    return f"{now.today} {fingerprint(now.yard)}"


def _background(yard: Yard, today: date) -> Background:
    with Diary(yard.diary_file) as diary:
        text = diary.latest_document(BACKGROUND, as_of=today)
    return kept_background(text) if text else Background()


def weigh_words(now: Situation, words: str, before: Sequence[Event] = ()) -> tuple[Recorded, ...]:
    """Return what a sentence means: 'pick A 2 lb 6 oz yesterday', 'put A and B in the tank'.

    Entries in `before` are not written yet but count already. Raises InputError if the words can't
    be read or the record can't be true.
    """
    events = (*read_events(now.yard.diary_file), *before)
    stacks = yard_state(now.yard, events, now.today).stacks if before else now.state.stacks

    def read(yes: bool) -> tuple[Recorded, ...]:
        records = parse_sentence(
            words,
            yard=now.yard,
            events=events,
            today=now.today,
            stacks=stacks,
            yes=yes,
            plan=lambda: now.plan,
        )
        return records if yes else doubt_promises(records, now.yard, lambda: now.plan)

    try:
        return read(False)
    except NeedsYesError:
        return weigh_entries(now, [record.event for record in read(True)], before)


@dataclass(frozen=True)
class LineWeighed:
    """One line of several, as understood."""

    words: str
    weighed: tuple[Recorded, ...]  # what it means; empty when it can't be read
    fault: str = ""  # why it can't be


MOST_LINES = 60
"""Lines taken at one time."""


def weigh_lines(now: Situation, text: str) -> tuple[LineWeighed, ...]:
    """Return what several lines mean, each judged with those above it already counted.

    Empty lines are left out.

    Raises InputError if there are none, or too many.
    """
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    if not lines:
        raise InputError("There is nothing in it. Write one record a line.")
    if len(lines) > MOST_LINES:
        raise InputError(f"These are {len(lines)} lines; {MOST_LINES} are taken at one time.")
    found: list[LineWeighed] = []
    before: list[Event] = []
    for line in lines:
        try:
            weighed = weigh_words(now, line, before)
        except InputError as error:
            found.append(LineWeighed(line, (), str(error)))
            continue
        before += [one.event for one in weighed]
        found.append(LineWeighed(line, weighed))
    return tuple(found)


def weigh_entries(
    now: Situation, entries: Sequence[Event], before: Sequence[Event] = ()
) -> tuple[Recorded, ...]:
    """Return what entries mean, each judged with those before it already counted.

    Those in `before` are not written yet but count already. Raises InputError if one of them can't
    be true.
    """
    found: list[Recorded] = []
    stacks = now.state.stacks
    written = (*read_events(now.yard.diary_file), *before)
    for number, entry in enumerate(entries):
        known = [*written, *entries[:number]]
        if number or before:
            stacks = yard_state(now.yard, known, now.today).stacks
        found.append(_weigh_entry(now, entry, stacks, known))
    return tuple(found)


def _weigh_entry(
    now: Situation, entry: Event, stacks: Mapping[str, StackState], known: Sequence[Event]
) -> Recorded:
    limits = limits_of(now.yard, known, stacks, now.today)
    try:
        return check_record(entry, limits)
    except NeedsYesError as refusal:
        return replace(check_record(entry, limits, yes=True), questions=refusal.doubts)


def write_entries(now: Situation, entries: Sequence[Event], moment: datetime) -> tuple[str, ...]:
    """Write entries, all or none, and return their uuids; those already written stay as they are.

    An entry that brings its uuid is written once, however often it is handed in.
    """
    with Diary(now.yard.diary_file) as diary:
        there = {event.uuid for event in diary.events()}
        missing = [entry for entry in entries if not entry.uuid or entry.uuid not in there]
        written = iter(diary.add(missing, moment) if missing else ())
    return tuple(
        entry.uuid if entry.uuid in there and entry.uuid else next(written).uuid
        for entry in entries
    )


def lots_open(now: Situation) -> tuple[StackToPart, ...]:
    """Return the lots that the plan proposes and nobody has taken or ruled out since."""
    if now.plan is None or now.yard.soaking.lot_logs is not None:
        return ()
    taken = {now.state.lot_of.get(name, name) for name in now.state.accepted}
    return tuple(each for each in now.plan.lots if each.stack not in taken)


def lot_entry(each: StackToPart, today: date) -> Event:
    """Return the entry that takes the lots proposed for one stack."""
    return Event(LOTS, today, each.stack, into=str(len(each.lots)))


def cancel_entries(now: Situation, uuids: Sequence[str], moment: datetime) -> tuple[str, ...]:
    """Cancel entries, or put back what they cancelled, and return the uuids that say so.

    What is already cancelled is not cancelled again.

    Raises InputError if there is no entry of that uuid.
    """
    with Diary(now.yard.diary_file) as diary:
        events = diary.events()
        by_uuid = {event.uuid: event for event in events}
        holding = _holding(events)
        cancelled_by = {event.cancels: event.uuid for event in events if event.uuid in holding}
        done: list[str] = []
        wanted: list[Event] = []
        for uuid in dict.fromkeys(uuids):
            if uuid not in by_uuid:
                raise InputError("There is no such entry in the diary, so nothing was undone.")
            if uuid in holding:
                wanted.append(Event(UNDO, by_uuid[uuid].on, cancels=uuid))
            elif uuid in cancelled_by:
                done.append(cancelled_by[uuid])
        done += [event.uuid for event in diary.add(wanted, moment)] if wanted else []
    return tuple(done)


def _holding(events: Sequence[Event]) -> set[str]:
    """Return the uuids of what holds: entries not cancelled, and undo entries not undone."""
    valid = {event.uuid for event in in_force(events)}
    undone: set[str] = set()
    for event in reversed(events):
        if event.kind == UNDO and event.uuid not in undone:
            undone.add(event.cancels)
            valid.add(event.uuid)
    return valid


@dataclass(frozen=True)
class Entry:
    """One entry of the diary as a page shows it."""

    event: Event
    words: str
    holds: bool  # whether it has not been cancelled
    undone_by: str = ""  # uuid of the entry that cancelled it; empty while it holds


def logs_now(now: Situation, entries: Sequence[Entry]) -> tuple[str, ...]:
    """Return how many logs the stacks have by now of which entries took some off."""
    found = []
    for name in dict.fromkeys(
        each.event.stack
        for each in entries
        if each.holds and each.event.logs and each.event.kind in (INSPECT, RETIRE)
    ):
        there = [stack.logs for at, stack in now.state.stacks.items() if shares_logs(at, name)]
        if there:
            found.append(logs_left(name, sum(there)))
    return tuple(found)


def search_entries(now: Situation, words: str, most: int) -> tuple[tuple[Entry, ...], int]:
    """Return the entries in which all of some words stand, the newest first.

    `words` are parts of words, of dates like 2027-05 or of kinds like 'soak'; capitals count as
    small. Returned are `most` of them, and how many there are in all.
    """
    wanted = words.casefold().split()
    found = [
        each
        for each in diary_entries(now, len(read_events(now.yard.diary_file)))
        if all(
            part in f"{each.words} {each.event.on} {each.event.kind}".casefold() for part in wanted
        )
    ]
    return tuple(found[:most]), len(found)


def diary_entries(now: Situation, last: int = 0, uuids: Sequence[str] = ()) -> tuple[Entry, ...]:
    """Return entries, the newest first: the last ones, or those of some uuids in their order.

    Among the last ones, what was taken back is one entry with what took it back.
    """
    if not uuids and not last:
        return ()
    events = read_events(now.yard.diary_file)
    by_uuid = {event.uuid: event for event in events}
    if uuids:
        chosen = [by_uuid[uuid] for uuid in uuids if uuid in by_uuid]
    else:
        chosen = [event for event in events if event.kind != UNDO][-last:][::-1]
    holding = _holding(events)
    undone = {event.cancels: event.uuid for event in events if event.uuid in holding}
    return tuple(
        Entry(
            event,
            _words(event, now.yard, by_uuid),
            event.uuid in holding,
            undone.get(event.uuid, ""),
        )
        for event in chosen
    )


def _words(event: Event, yard: Yard, by_uuid: Mapping[str, Event]) -> str:
    """Say what an entry records; an undo of an undo puts something back."""
    target = by_uuid.get(event.cancels)
    if event.kind == UNDO and target is not None and target.kind == UNDO:
        first = by_uuid.get(target.cancels)
        return f"Put back: {_words(first, yard, by_uuid) if first else 'an earlier entry'}"
    return describe(event, yard.units, target)


def feed_bytes(folder: Path) -> bytes:
    """Return the calendar as last published, an empty one when there is none yet."""
    with Diary(folder / "diary.db") as diary:
        text = diary.latest_document(CALENDAR)
        if text is None:
            return calendar_bytes(yard_calendar(read_yard(folder)))
        try:
            return _calendar_of(text)
        except InputError:  # the one before, if that can be read
            return calendar_bytes(yard_calendar(read_yard(folder), last_calendar(diary)))


@lru_cache(maxsize=2)
def _calendar_of(text: str) -> bytes:
    """Return a stored calendar as bytes; subscribers ask for the same one again and again."""
    return calendar_bytes(CalendarState.from_json(text))


def system_clock(day: date | None = None) -> Clock:
    """Return the machine's clock, with a day to be taken for today if one is given."""
    return Clock(lambda: datetime.now(UTC), day)


# The yard as it stands, for many readers: read again only when one of its files has changed.

SETTLED_SECONDS = 2.0
"""How long all files must have been left alone before what was read of them is kept: two changes
within one tick of a file system's clock leave the same time on a file. [s]"""

Stamp = tuple[int, int, int, int] | None
"""What differs once a file has changed: its number, its size, when it was written, when it came
by its name [ns]. None while there is no such file."""


@dataclass(frozen=True)
class _Kept:
    files: tuple[Path, ...]
    stamps: tuple[Stamp, ...]
    situation: Situation


class KeptSituation:
    """The situation of one yard."""

    def __init__(self, folder: Path, clock: Clock) -> None:
        self._folder, self._clock = folder, clock
        self._files: tuple[Path, ...] = ()
        self._kept: _Kept | None = None

    def now(self) -> Situation:
        """Return the yard as it stands; nobody may change what is in it.

        Raises InputError if the yard or its diary cannot be read.
        """
        kept = self._kept
        if kept is not None and self._holds(kept):
            return kept.situation
        files, began = self._files, time.time()
        stamps = tuple(map(_stamp, files))
        found = situation(self._folder, self._clock)
        self._files = _files_of(found.yard)
        unchanged = files == self._files and stamps == tuple(map(_stamp, files))
        settled = unchanged and all(_written(stamp) < began - SETTLED_SECONDS for stamp in stamps)
        self._kept = _Kept(files, stamps, found) if settled else None
        return found

    def _holds(self, kept: _Kept) -> bool:
        if self._clock.today(kept.situation.yard) != kept.situation.today:
            return False
        return tuple(map(_stamp, kept.files)) == kept.stamps


def _files_of(yard: Yard) -> tuple[Path, ...]:
    """Return the files that the situation is read from; the diary's log holds its last entries."""
    diary = yard.diary_file
    weather = (yard.weather.file,) if yard.weather.file is not None else ()
    own = (yard.folder / keys.FILE, yard.folder / stacks.FILE, diary)
    return (*own, diary.with_name(f"{diary.name}-wal"), *weather)


def _stamp(file: Path) -> Stamp:
    try:
        told = file.stat()
    except OSError:
        return None
    return told.st_ino, told.st_size, told.st_mtime_ns, told.st_ctime_ns


def _written(stamp: Stamp) -> float:
    """Return when a file was last written or came by its name. [s]"""
    return max(stamp[2:]) / 1e9 if stamp else 0.0
