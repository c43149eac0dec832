"""Words that would change an entry never write a second one."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fruitcast.diary.events import Event
from fruitcast.diary.spoken import parse_sentence
from fruitcast.errors import InputError
from tests.diary.diary_samples import TODAY, stack, yard

YARD = replace(yard(), units="metric", stacks=(stack("A"), stack("H")))
NAMED_SO = replace(YARD, stacks=(*YARD.stacks, stack("Update"), stack("Correct Hill")))
PAST = (Event("pick", TODAY, "H", kg=1.2),)


def read(words, past=PAST, of=YARD):
    return parse_sentence(words, yard=of, events=past, today=TODAY)


@pytest.mark.parametrize(
    "words",
    [
        *("correct H 1.2 kg", "amend H 1.9 kg", "replace pick H 2.4 kg", "edit H 2.6 kg"),
        *("update H 2.7kg", "H was really 1.6 kg", "H 1.75 kg (was 1.2)", "H 1.75 kg, was 1.2 kg"),
        *("delete pick H 1.25 kg", "strike pick H 1.45 kg", "take back pick H 1.55 kg"),
        *("undo pick H 1 kg", "change H to 2 kg", "change the pick of H to 2 kg", "make H 2 kg"),
        *("remove pick H", "remove the pick of H 1.3 kg", "scrap pick H 1.3 kg", "erase H 1.3 kg"),
        *("corrected H 1.2 kg", "updated pick H 1.2 kg", "adjusted H 2 kg", "H 2 kg (corrected)"),
        *("deduct 0.2 kg from H", "reduce H to 1 kg", "redo pick H 2 kg", "H corrected to 2 kg"),
        *("pick H edit 2 kg", "pick edit H 2 kg", "the correct weight for H is 2 kg"),
        *("pick H 2 kg delete", "pick H 2 kg replaces the last", "pick H (was 1.2) 2 kg"),
        *("yesterday: amend H 1.9 kg", "please amend H 1.9 kg", "pick A 2 kg, amend H 1.9 kg"),
        *(
            "amend rain 5 mm",
            "undo soak A 12 h",
            "delete note H bark peels",
            "the pick of H was really 2 kg",
        ),
    ],
)
def test_an_entry_is_taken_back_and_written_anew(words):
    with pytest.raises(InputError, match=r"corrects an entry\. .*'fruitcast record undo'.* anew"):
        read(words)


@pytest.mark.parametrize(
    ("words", "kind", "stack"),
    [
        ("pick H 2 kg for the update", "pick", "H"),
        ("update on H: 2 kg picked", "pick", "H"),
        ("note H was really 2 kg, delete pick H", "note", "H"),
        ("pick H 2 kg note correct H label", "pick", "H"),
        ("remove 2 logs from H", "retire", "H"),
        ("retire H 2 logs", "retire", "H"),
        ("H 2 kg, was good", "pick", "H"),
    ],
)
def test_ordinary_words_keep_their_reading(words, kind, stack):
    (record,) = read(words)
    assert (record.event.kind, record.event.stack) == (kind, stack)


@pytest.mark.parametrize("name", ["Update", "Correct Hill"])
def test_a_stack_may_bear_such_a_word_as_its_name(name):
    (record,) = read(f"{name} 2 kg", of=NAMED_SO)
    assert (record.event.kind, record.event.stack) == ("pick", name)


def test_what_it_was_corrects_only_a_pick_that_is_written_down():
    (record,) = read("H 1.75 kg (was 1.2)", past=())
    assert (record.event.kind, record.event.kg) == ("pick", 1.75)
    (record,) = read(
        "weigh H 9 kg (was 10)",
        past=(*PAST, Event("weigh", TODAY, "H", kg=10.0, start_kg=10.0, moisture_wet=0.4)),
    )
    assert record.event.kind == "weigh"
