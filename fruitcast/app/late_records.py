"""Records made where the yard was out of reach, taken when they arrive: each once, at its time."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from typing import Literal

from fruitcast.app.serving import Situation, write_entries
from fruitcast.diary.book import read_events
from fruitcast.diary.entries.kind import shares_logs
from fruitcast.diary.events import PICK, Event, in_force
from fruitcast.diary.recording import Recorded, bare, describe
from fruitcast.errors import InputError
from fruitcast.words import time_words

CLOCKS_AGREE = timedelta(minutes=2)
"""A phone's clock that differs by no more is taken at its word. Judgement."""

LONGEST = timedelta(days=400)
"""A record that waited longer is asked about: its phone's clock was wrong. Judgement."""

TOGETHER = timedelta(hours=4)
"""Two picks of one stack made within so long may be one that two people wrote down. Judgement."""

ALIKE = 0.1
"""So much of the larger weight may two scales or two readings of one pick differ. Judgement."""


@dataclass(frozen=True)
class Late:
    """A record as it arrives."""

    uuid: str  # made on the phone: it stays the same however often the record is sent
    made_at: datetime  # when it was made, by the clock here
    # The questions that were answered with yes; None when all are.
    confirmed: Collection[str] | None = ()
    own: Collection[str] = ()  # uuids of other records that the same phone made


@dataclass(frozen=True)
class Taken:
    """What became of a record."""

    # 'written' now; 'known': it was written before; 'asked': it waits for a yes; 'refused': it
    # can't be written as it is.
    answer: Literal["written", "known", "asked", "refused"]
    words: tuple[str, ...]  # what was written, the questions, or why it was refused


def time_made(made: datetime, sent: datetime, now: datetime) -> datetime:
    """Return when a record was made by the clock here, from what its phone's clock said.

    `made` and `sent` are by the phone's clock. Raises InputError if that can't be: the phone's
    clock was set meanwhile.
    """
    if not timedelta() <= sent - made <= LONGEST:
        raise InputError(
            "By this phone's clock the record was made "
            f"{'after it was sent' if made > sent else 'more than a year ago'}. Has the clock "
            "been set since? Mend the record: look at its day."
        )
    wrong_by = now - sent
    if abs(wrong_by) > CLOCKS_AGREE:
        made += wrong_by
    return min(made, now).astimezone(UTC)


def day_made(now: Situation, made_at: datetime, moment: datetime) -> date:
    """Return the yard's day on which a record was made.

    The yard's day may be set apart from the clock.
    """
    zone = now.yard.site.timezone
    return now.today - (moment.astimezone(zone).date() - made_at.astimezone(zone).date())


def take_late(
    now: Situation, late: Late, weigh: Callable[[Situation], Sequence[Recorded]], moment: datetime
) -> Taken:
    """Write a record with the time it was made, or ask, or say why not.

    `weigh` returns what it means and what speaks against it, seen from the day it was made; its
    first entry gets the record's own uuid. Raises InputError if the diary can't be read or written:
    the record may be sent again.
    """
    known = _known(now, late.uuid)
    if known:
        return known
    try:
        weighed = weigh(replace(now, today=day_made(now, late.made_at, moment)))
    except InputError as error:
        return Taken("refused", (str(error),))
    written = read_events(now.yard.diary_file)
    entries = [replace(one.event, recorded_at=late.made_at) for one in weighed]
    doubts = [doubt for one in weighed for doubt in one.questions]
    doubts += [words for entry in entries for words in _like(entry, written, late, now)]
    asked = [] if late.confirmed is None else [d for d in doubts if d not in late.confirmed]
    if asked:
        return Taken("asked", tuple(dict.fromkeys(asked)))
    try:
        write_entries(now, entries, moment)
    except InputError:
        # Sent twice at one moment, the other was quicker.
        known = _known(now, late.uuid)
        if known:
            return known
        raise
    return Taken("written", tuple(one.understood for one in weighed))


def _known(now: Situation, uuid: str) -> Taken | None:
    """Return what was written under a uuid; all entries of a record are written or none."""
    for event in read_events(now.yard.diary_file):
        if event.uuid == uuid:
            return Taken("known", (describe(event, now.yard.units),))
    return None


def _like(entry: Event, written: Sequence[Event], late: Late, now: Situation) -> list[str]:
    """Ask about a pick that another phone may have written down too."""
    if entry.kind != PICK:
        return []
    zone = now.yard.site.timezone
    return [
        f"{describe(event, now.yard.units)} That was written down at "
        f"{time_words(event.recorded_at.astimezone(zone))} already. Is this another pick?"
        for event in in_force(written)
        if event.kind == PICK
        and event.recorded_at is not None
        and event.uuid not in late.own
        and bare(event) != bare(entry)  # that is asked about whoever wrote it
        and event.on == entry.on
        and shares_logs(event.stack, entry.stack)
        and abs(event.recorded_at - late.made_at) <= TOGETHER
        and _near(event.kg or 0.0, entry.kg or 0.0)
    ]


def _near(one: float, other: float) -> bool:
    return abs(one - other) <= ALIKE * max(one, other)
