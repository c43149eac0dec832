"""Records in the words of people who have not read how: most are understood, none wrongly."""

import re
from collections import Counter
from dataclasses import replace
from datetime import date, time
from pathlib import Path

import pytest

from fruitcast.diary.events import Event
from fruitcast.diary.spoken import parse_sentence
from fruitcast.errors import FruitcastError
from fruitcast.yard.model import Outlet, Soaking
from tests.diary.diary_samples import stack, yard

TODAY = date(2026, 6, 10)
NAMES = "ABCDEFGHJKLMN"
YARD = yard(
    units="metric",
    soaking=Soaking((1, 4), 600, time(8), None, None, None),
    stacks=tuple(replace(stack(name), logs=40) for name in NAMES),
    outlets=tuple(
        Outlet(name, 5, 6.4, None, None, None, 1.0, frozenset())
        for name in ("Saturday market", "Restaurant", "Shop")
    ),
)
IN_TANK = tuple(Event("soak", date(2026, 6, 3), name, hours=24.0) for name in NAMES)
FIGURES = ("logs", "hours", "kg", "paid", "mm", "litres", "outlet", "into", "grade")


def phrases(name):
    """Return each phrase of a file and what it means, '?' where that is open."""
    lines = Path(__file__).with_name(name).read_text(encoding="utf-8").splitlines()
    return [tuple(line.split(" | ")) for line in lines if line and not line.startswith("#")]


def in_short(event):
    """Return an entry as the files write what is meant."""
    day = f"{event.on:%m-%d}" if event.on.year == TODAY.year else str(event.on)
    parts = [event.kind, event.stack or "-", day]
    for name in FIGURES:
        value = getattr(event, name)
        if value not in (None, ""):
            shown = round(value, 3) if isinstance(value, float) else value
            parts.append(f"{name}={shown}".replace(" ", "_"))
    parts += [finding.replace(" ", "_") for finding in event.findings]
    return " ".join([*parts, "note"] if event.note else parts)


def outcome(phrase, meant):
    """Return 'right', 'asked', 'refused' or 'wrong', and what was understood."""
    past = IN_TANK if "pull" in meant else ()
    try:
        records = parse_sentence(phrase, yard=YARD, events=past, today=TODAY)
    except FruitcastError as error:
        return "refused", str(error)
    found = "; ".join(in_short(record.event) for record in records)
    if found == meant:
        return "right", found
    return ("asked" if any(record.questions for record in records) else "wrong"), found


@pytest.mark.parametrize(
    ("file", "share"), [("grower_phrases.txt", 0.9), ("more_grower_phrases.txt", 0.85)]
)
def test_most_are_understood_and_none_wrongly(file, share):
    found = [(phrase, meant, *outcome(phrase, meant)) for phrase, meant in phrases(file)]
    wrong = [row for row in found if row[2] == "wrong"]
    assert wrong == []
    told = Counter(kind for _, meant, kind, _ in found if meant != "?")
    print(f"{file}: {dict(told)} of {sum(told.values())} with one meaning, {len(found)} in all")
    assert told["right"] >= share * sum(told.values())


def test_what_is_refused_says_what_to_write():
    for phrase, meant in phrases("grower_phrases.txt"):
        kind, words = outcome(phrase, meant)
        if kind == "refused":
            assert re.search(
                "[Ww]rite|Give|Known are|Did you|The yard has|add --yes|shows", words
            ), (phrase, words)
