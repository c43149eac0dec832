"""One entry of the diary: what was done or seen, on which day, with which figures.

Entries are never changed or deleted. A wrong one is cancelled by a later entry of kind
'undo' that names it. All figures are SI here; words and other units end in `recording`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import UTC, date, datetime
from typing import Literal

from fruitcast.diary.pattern import pattern_of
from fruitcast.diary.plain_words import SOMEBODY, WAS_GIVEN

SOAK, PULL, PICK, PINS, FRUITING = "soak", "pull", "pick", "pins", "fruiting"
WATER, RAIN, SOLD, LOTS, UNDO = "water", "rain", "sold", "lots", "undo"
TURN, COVER, UNCOVER, INOCULATE = "turn", "cover", "uncover", "inoculate"
INSPECT, RETIRE, HOLD = "inspect", "retire", "hold"
"""The kinds that others than the kind's own class speak of; all stand in `entries`."""

WHITE_ENDS, SPAWN_RUN_DONE, COMPETITOR_MOULDS = "white ends", "spawn run done", "competitor moulds"
LOOSE_BARK, DEAD_LOGS, HEALTHY = "loose bark", "dead logs", "healthy"
FINDINGS = (WHITE_ENDS, SPAWN_RUN_DONE, COMPETITOR_MOULDS, LOOSE_BARK, DEAD_LOGS, HEALTHY)
"""What an inspection can find."""

SLUGS, RAIN_SOAKED, DRIED_OUT, OTHER_CAUSE = "slugs", "rain-soaked", "dried out", "other"
CAUSES = (SLUGS, RAIN_SOAKED, DRIED_OUT, OTHER_CAUSE)
"""Why mushrooms were lost."""

Use = Literal["eaten", "dried", "given away"]
"""What mushrooms came to that were neither sold nor thrown away."""

PASSED_ON = (
    r"(?:gifted|donated|swapped|traded|bartered|(?:gave|given|handed|passed|brought|took|taken|carried"
    rf"|sent|dropped)(?: away| over| round| on| off)?(?= {SOMEBODY} \d| [^,;]*?\bto {SOMEBODY})"
    r"|(?:left|dropped)(?![^,;]*\bon \u00a7)(?: off)?"
    rf"(?= {SOMEBODY} \d| [^,;]*?\b(?:with|for|at) {SOMEBODY}))"
)
"""Pattern of having let somebody have mushrooms that were picked before."""

_USE = pattern_of(
    r"(?:(?P<eaten>ate|eaten)|(?P<dried>dried)|(?P<given_away>(?:gave|given)(?: away)?)"
    rf"|(?=(?P<passed_on>{PASSED_ON})))\b(?! (?:out|up|in)\b)[\s,;:]*"
)
"""The grower's word for it; 'swapped for eggs' is told as it stands."""

_BY_ANOTHER = pattern_of(rf"(?:{SOMEBODY} (?!took|brought|left){PASSED_ON}|{WAS_GIVEN})\b")


@dataclass(frozen=True, slots=True)
class Event:
    """One entry of the diary."""

    kind: str  # one of `entries.KINDS`, or a later version's
    on: date  # day on which it was done or seen
    stack: str = ""  # stack or lot; empty for the whole yard
    # Logs concerned: soaked, found dead, split off, retired; None is all of them
    logs: int | None = None
    hours: float | None = None  # hours in water meant or kept [h]
    # Weight picked, on hand, sold, discarded, or of the sample log now [kg]
    kg: float | None = None
    # Weight of the sample log when its moisture was known: the baseline [kg]
    start_kg: float | None = None
    moisture_wet: float | None = None  # moisture of the sample log at `start_kg` [kg/kg wet]
    mm: float | None = None  # rain or watering [mm]
    litres: float | None = None  # water poured on the stack [l]
    # Day of the pick from which something was sold, discarded or is on hand
    picked_on: date | None = None
    # grade, outlet: grade of a pick; outlet it was meant for or sold to
    grade: str = ""
    outlet: str = ""
    # New or receiving stack of a split or merge, new place of a move, the day that the grower's
    # word is for
    into: str = ""
    sample: str = ""  # which sample log was weighed, when a stack has several
    findings: tuple[str, ...] = ()  # out of `FINDINGS`
    paid: float | None = None  # what was taken for all that was sold, in the grower's own money
    # second_kg, lost_kg: of the weight picked, what is second grade and what can't be sold [kg]
    second_kg: float | None = None
    lost_kg: float | None = None
    cause: str = ""  # why mushrooms were lost or thrown away: one of `CAUSES`
    by: str = ""  # who picked
    cancels: str = ""  # uuid of the entry that an undo cancels
    note: str = ""  # free text
    uuid: str = ""  # identity of the entry; given when it is written, if not before
    recorded_at: datetime | None = None  # when it was written, UTC


FIELDS = tuple(field.name for field in fields(Event))
"""Names of an entry's fields, in the order of the database and the CSV file."""


def noted(*told: str | re.Match[str] | None) -> str:
    """Return a note of several parts, those that are empty left out; of a match its words."""
    parts = (part[0].strip(" ,") if isinstance(part, re.Match) else part for part in told)
    return "; ".join(part for part in parts if part)


def put_to_use(event: Event) -> tuple[Use | None, str]:
    """Return what became of discarded mushrooms that were no loss, and the rest of the note.

    The diary has one kind for all that leaves the cold store unsold; the note has the grower's
    own word for it, first. A cause of loss tells more than the word.
    """
    found = None if event.cause else _USE.match(event.note)
    if found is None:  # 'my wife gave some to her sister' says it behind who did it
        by_another = not event.cause and _BY_ANOTHER.match(event.note)
        return ("given away" if by_another else None), event.note
    rest = event.note[found.end() :]
    if found["eaten"]:
        return "eaten", rest
    return ("dried" if found["dried"] else "given away"), rest


def in_force(events: Sequence[Event]) -> list[Event]:
    """Return the entries that hold: neither undo entries nor what they cancel.

    An undo of an undo brings the first entry back. What counts is that the grower has
    corrected the entry, whatever day the correction is dated.
    """
    cancelled = cancelled_entries(events)
    if not cancelled:
        return [event for event in events if event.kind != UNDO]
    return [event for event in events if event.kind != UNDO and event.uuid not in cancelled]


def cancelled_entries(events: Sequence[Event]) -> set[str]:
    """Return the uuids of the entries that an undo in force cancels, undo entries among them."""
    cancelled: set[str] = set()
    for event in reversed(events):
        if event.kind == UNDO and event.uuid not in cancelled:
            cancelled.add(event.cancels)
    return cancelled


def whole_seconds_utc(moment: datetime) -> datetime:
    """Return a moment in UTC without fractions of a second.

    Raises ValueError if it carries no time zone.
    """
    if moment.tzinfo is None:
        raise ValueError("recorded_at needs a time zone")
    return moment.astimezone(UTC).replace(microsecond=0)
