"""Records in the words of a whole yard's people: what a careful clerk would write down."""

import re
from collections import Counter
from dataclasses import replace
from datetime import date, time
from functools import cache
from pathlib import Path

import pytest

from fruitcast.diary.events import Event
from fruitcast.diary.spoken import parse_sentence
from fruitcast.errors import FruitcastError
from fruitcast.yard.model import Outlet, Soaking
from tests.diary import outcomes
from tests.diary.diary_samples import stack, yard
from tests.diary.outcomes import Reader
from tests.drawn import stride

TODAY = date(2027, 5, 28)  # a Friday
NAMES = ("A", "B", "C", "E", "F", "G", "K", "N", "P", "Oak 1", "North")
YARD = yard(
    soaking=Soaking((1, 4), 600, time(8), None, None, None),
    stacks=tuple(replace(stack(name), logs=40) for name in NAMES),
    outlets=tuple(
        Outlet(name, 5, 6.4, None, None, None, 1.0, frozenset())
        for name in ("Saturday market", "Shop", "Wedding", "Bull")
    ),
)
PAST = (
    Event("lots", date(2027, 3, 1), "G", into="2"),
    *(
        Event("weigh", date(2027, 3, 1), name, kg=9.0, start_kg=9.0, moisture_wet=0.42)
        for name in ("A", "B", "C", "E", "North", "Oak 1")
    ),
    *(Event("soak", date(2027, 5, 14), name, hours=24.0) for name in "NPG"),
    *(Event("pull", date(2027, 5, 15), name) for name in "NPG"),
    Event("stock", date(2027, 5, 26), "", kg=15.0),
    *(Event("soak", date(2027, 5, 27), name, hours=24.0) for name in "FK"),
)
outcome = Reader(YARD, PAST, TODAY).outcome


def phrases(name):
    """Return each phrase of a file beside this one and what it means."""
    return outcomes.phrases(Path(__file__).with_name(name))


@pytest.mark.parametrize(
    ("file", "share"),
    [
        ("clerk_phrases.txt", 0.9),
        ("more_clerk_phrases.txt", 0.9),
        ("third_clerk_phrases.txt", 0.9),
        ("fresh_phrases.txt", 0.9),
    ],
)
def test_most_are_understood_and_none_wrongly(file, share):
    found = [(phrase, meant, *outcome(phrase, meant)) for phrase, meant in phrases(file)]
    assert [row for row in found if row[2] == "wrong"] == []
    told = Counter(kind for _, meant, kind, _ in found if meant != "?")
    print(f"{file}: {dict(told)} of {sum(told.values())} with one meaning, {len(found)} in all")
    assert told["right"] >= share * sum(told.values())


@cache
def readings(name):
    """Return each phrase of a file that is read, and as what."""
    found = [(phrase, *outcome(phrase, "")) for phrase, _ in phrases(name)]
    return [(phrase, said) for phrase, kind, said in found if kind == "wrong"]


def read_alike(changed, said):
    """Return which changed phrases are read as they were before the change."""
    return [phrase for phrase in changed if outcome(phrase, said)[0] == "right"]


@stride(10)
def test_no_number_is_passed_over(every):
    for phrase, said in readings("third_clerk_phrases.txt")[::every]:
        changed = [
            f"{phrase[: found.start()]}{int(found[0]) + 3}{phrase[found.end() :]}"
            for found in re.finditer(r"(?<![\w/.,])\d+", phrase)
        ]
        assert read_alike(changed, said) == []


@stride(10)
def test_what_is_hoped_asked_or_denied_is_never_recorded(every):
    hedged = (
        *("maybe {}", "hopefully {}", "will {}", "{}, not sure", "{}?", "{} tomorrow"),
        *("did not {}", "{} not", "forgot to {}", "planning to {}"),
    )
    for number, (phrase, said) in enumerate(readings("third_clerk_phrases.txt")):
        if not said.startswith(("note", "promised")):
            for words in hedged[number % every :: every]:
                assert outcome(words.format(phrase), "")[0] == "refused", words


@stride(12)
def test_what_is_left_over_is_never_dropped(every):
    torn = ("{} 7", "{} 3 lb", "{} from Q", "{} and Q", "{} last week")
    for number, (phrase, said) in enumerate(readings("third_clerk_phrases.txt")):
        changed = [
            words.format(phrase) for n, words in enumerate(torn) if (number + n) % every == 0
        ]
        assert read_alike(changed, said) == []


@pytest.mark.parametrize("words", ["undo that", "Forget the last thing I wrote, it was a mistake"])
def test_the_last_entry_is_taken_back_in_words_when_that_is_confirmed(words):
    kept = Event("pins", TODAY, "A", uuid="11111111-2222-4333-8444-555555555555")
    (read,) = parse_sentence(words, yard=YARD, events=(*PAST, kept), today=TODAY)
    assert (read.event.kind, read.event.cancels) == ("undo", kept.uuid)
    assert read.questions == (
        "The last entry is taken back: Saw pins on A on Fri 28 May 2027. Is it right?",
    )
    with pytest.raises(FruitcastError, match="leave out the line above"):
        parse_sentence(words, yard=YARD, events=(replace(kept, uuid=""),), today=TODAY)
