"""A second reading of what is refused: nearly as it stands, without harmless doubts, or guessed.

What comes of it is never taken silently: it is asked about, with what was left aside. Every name,
amount and day that was told must be in the records.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from fruitcast.diary.beside import without_beside
from fruitcast.diary.events import HOLD, LOTS, PULL, SOAK, Event
from fruitcast.diary.guess import Reading, guesses
from fruitcast.diary.marks import Parts, marks_in
from fruitcast.diary.phrases import DAY, MONEY
from fruitcast.diary.plain_words import plainly
from fruitcast.diary.spoken_kind import CLOCK, CLOCK_OF_TANK, HOUR


def readings(text: str, parts: Parts) -> Iterator[Reading]:
    """Yield the ways to read a sentence, the nearest to its words first."""
    yield Reading((text,))
    plain = plainly(text)
    if (sure := without_beside(plain)) != plain:
        yield Reading((sure,), (), text)
    yield from guesses(text, parts)


_OF_LOGS = re.compile(
    r"\b(?:on )?\d+ (?:\w+ ){0,2}logs?\b|sprinkler for [\d.]+ (?:h|min)\b"
    r"|after \d+ ?h\w*|one crate of .*",
    re.IGNORECASE,
)
"""What a note may say in figures."""


def uses_all(text: str, events: Sequence[Event], parts: Parts) -> bool:
    """Return whether records use every stack, outlet, amount and day that a sentence names."""
    marks = marks_in(plainly(text), parts)
    named = {mark.text for mark in marks if mark.label == "stack"}
    told = {name for event in events for name in (event.stack, event.into)}
    told |= {
        name
        for event in events
        for name in parts.stacks
        if event.kind == LOTS and not event.into.isdigit() and name.startswith(f"{event.stack}/")
    }
    told |= {
        f"{event.stack}/{number}"
        for event in events
        if event.kind == LOTS and event.into.isdigit()
        for number in range(1, int(event.into) + 1)
    }
    lots = {name.rpartition("/")[0] for name in told}
    if not named <= told | lots or not all(
        name in told or any(name in event.note for event in events) for name in named
    ):
        return False
    outlets = {mark.text for mark in marks if mark.label == "outlet"}
    if not outlets <= {event.outlet for event in events}:
        return False
    money = any(mark.label == "money" for mark in marks)
    if money and not any(event.paid for event in events) and MONEY.search(text):
        return False
    for event in events:
        if event.kind == HOLD:
            continue  # from when it rests is kept in words
        note = _OF_LOGS.sub(" ", HOUR.sub(" ", CLOCK.sub(" ", CLOCK_OF_TANK.sub(" ", event.note))))
        if re.search(r"\d", note) or DAY.search(note):
            return False
    return True


def turns_back(events: Sequence[Event]) -> bool:
    """Return whether one stack goes into the tank and comes out on one day."""
    went = {(event.stack, event.on) for event in events if event.kind == SOAK}
    came = {(event.stack, event.on) for event in events if event.kind == PULL}
    return bool(went & came)


def with_told_lots(text: str, parts: Parts) -> Parts:
    """Return a yard's names with those of lots that a sentence makes: 'split P, picked P/1'."""
    lots = [
        f"{name}/{number}"
        for name in parts.stacks
        for number in re.findall(rf"(?<![\w/]){re.escape(name)}/([1-9])(?![\w/])", text)
    ]
    bases = [lot.rpartition("/")[0] for lot in dict.fromkeys(lots)]
    lots = [lot for lot in lots if bases.count(lot.rpartition("/")[0]) > 1]
    return parts._replace(stacks=tuple(dict.fromkeys((*parts.stacks, *lots))))
