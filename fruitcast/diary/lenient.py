"""A second, lenient reading of what is refused: words that can have no part in it are left aside.

'Bull's chef came by, squidgy lot but 3 lb off B' is read as a pick of B. What comes of it is never
taken silently: it is asked about, with what was left aside. So words are left aside only where
nothing among them could belong to the record or turn its meaning: no name, number, unit or day, no
deed of another kind, no doubt.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from fruitcast.diary.asides import Reading, without_asides
from fruitcast.diary.beside import without_beside
from fruitcast.diary.events import HOLD, LOTS, PULL, SOAK, Event
from fruitcast.diary.guess import guesses
from fruitcast.diary.marks import Parts, marks_in
from fruitcast.diary.phrases import DAY, MONEY
from fruitcast.diary.plain_words import plainly
from fruitcast.diary.spoken_kind import CLOCK, CLOCK_OF_TANK, HOUR


def readings(text: str, parts: Parts) -> Iterator[Reading]:
    """Yield the ways to read a sentence, the nearest to its words first."""
    yield Reading((text,))
    core = without_asides(text, parts)
    if core.aside:
        yield core
    plain = plainly(text)
    if (sure := without_beside(plain)) != plain:
        yield Reading((sure,), (), text)
    yield from guesses(text, parts)


_OF_LOGS = re.compile(
    r"\b(?:on )?\d+ (?:\w+ ){0,2}logs?\b|sprinkler for [\d.]+ h|after \d+ ?h\w*|one crate of .*",
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
