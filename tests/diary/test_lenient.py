"""A second, lenient reading: asked about with what was left aside, and never taken silently."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from fruitcast.diary.spoken import parse_sentence
from fruitcast.errors import FruitcastError, InputError
from tests.diary.outcomes import in_short, phrases
from tests.diary.test_yard_phrases import PAST, READER, TODAY, YARD, outcome
from tests.drawn import stride

LINES = Path(__file__).with_name("lenient_phrases.txt").read_text(encoding="utf-8").splitlines()
PHRASES = [
    tuple(part.strip() for part in line.split("|")) for line in LINES if not line.startswith("#")
]
read = READER.read
GUESSED = phrases(Path(__file__).with_name("guessed_phrases.txt"))


@pytest.mark.parametrize(("phrase", "meant", "aside"), PHRASES)
def test_what_was_left_aside_is_asked_about(phrase, meant, aside):
    records = read(phrase)
    found = "; ".join(in_short(record.event) for record in records)
    assert re.sub(r' "[^"]*"', "", found) == meant
    question = records[0].questions[0]
    assert question.startswith("Is this right: ")
    for record in records:  # the answer stands first
        assert record.understood.rstrip(".") in question
    assert (f"'{aside}' was left aside" in question) == bool(aside)
    assert not aside or aside in records[0].event.note


@stride(8)
def test_yes_beforehand_is_no_answer_to_it(every):
    for phrase, _, _ in PHRASES[::every]:
        assert read(phrase)[0].questions[0] in read(phrase)[0].choices
        with pytest.raises(InputError, match=r"^Is this right: .*Nothing was recorded\.$"):
            parse_sentence(phrase, yard=YARD, events=PAST, today=TODAY, yes=True)


@pytest.mark.parametrize(("phrase", "meant", "aside"), PHRASES)
def test_the_command_that_is_shown_is_read_without_a_question(phrase, meant, aside):
    """What the grower learns from the question says the same."""
    records = read(phrase)
    shown = re.search(r"Plainly it is (.+)\.$", records[0].questions[0])
    assert shown
    plain = [read(command) for command in re.findall(r"'([^']+)'", shown[1])]
    assert all("Is this right" not in "".join(one.questions) for (one,) in plain)
    told = [(one.event.kind, one.event.stack, one.event.on, one.event.logs) for (one,) in plain]
    assert told == [(r.event.kind, r.event.stack, r.event.on, r.event.logs) for r in records]


@stride(18)
def test_no_amount_name_or_day_is_left_aside(every):
    torn = ("{} 7", "{}, 3 lb", "{} from Q", "{} and Q", "{} last week", "{}, 5 of them", "{} at C")
    for number, (phrase, _, _) in enumerate(PHRASES):
        meant = "; ".join(in_short(record.event) for record in read(phrase))
        for words in torn[number % every :: every]:
            try:
                records = read(words.format(phrase.rstrip(".")))
            except FruitcastError:
                continue
            found = "; ".join(in_short(record.event) for record in records)
            assert found != meant, words.format(phrase)


@stride(16)
@pytest.mark.parametrize(
    "hedged",
    [
        *("maybe {}", "will {}", "{}?", "{} tomorrow", "did not {}", "{} not", "tomorow {}"),
        *(
            "shud {}",
            "{} or not",
            "{}, I thnik",
            "{}, but I didnt",
            "{} if it rains",
            "hopfully {}",
        ),
        *("{}, but we never did", "{}, so it never got done", "dreamt that {}", "I wish {}"),
    ],
)
def test_what_is_hoped_asked_or_denied_is_never_asked_about(hedged, every):
    for phrase, _, _ in PHRASES[len(hedged) % every :: every]:
        words = hedged.format(phrase.rstrip("."))
        if words.endswith("needs sharpening tomorrow"):
            continue  # that is of the knife
        assert outcome(words, "")[0] == "refused", words


@pytest.mark.parametrize(
    "phrase",
    [
        "dad says he put F in the tank but he didnt, it was just the bucket",
        "Fixin' to soak North come Sunday",
        "Dreamt North gave forty pounds",
        "2 lb off C, that would be grand",
        "2 lb off C because the chef wants it for supper",
        "picked C 1 lb yesterday, P 2 lb",
        "soaked C for 24 h and pulled C",
        "pinched 3 kg off B",
    ],
)
def test_what_may_mean_something_else_is_refused(phrase):
    assert outcome(phrase, "")[0] == "refused"


def test_a_sheet_that_came_off_one_stack_covers_it_not():
    records = read("tarps on N and P, off F")
    assert [(one.event.kind, one.event.stack) for one in records] == [
        ("cover", "N"),
        ("cover", "P"),
        ("uncover", "F"),
    ]
    assert records[0].questions
    records = read("tarp off N, on F")
    assert [(one.event.kind, one.event.stack) for one in records] == [
        ("uncover", "N"),
        ("cover", "F"),
    ]
    assert records[0].choices


@pytest.mark.parametrize(
    ("phrase", "left"),
    [
        (
            "turnd G/1 and G/2 today and noticed pins in the first of them",
            "noticed pins in the first of them",
        ),
    ],
)
def test_work_that_is_left_in_a_note_is_asked_about(phrase, left):
    question = read(phrase)[0].questions[0]
    assert left in question
    assert "makes no record" in question


@pytest.mark.parametrize(("phrase", "meant"), GUESSED)
def test_what_is_guessed_by_its_cues_is_asked_about(phrase, meant):
    told, found = outcome(phrase, "")
    if meant == "?":
        assert told == "refused", found
        return
    records = read(phrase)
    assert re.sub(r' "[^"]*"', "", "; ".join(in_short(one.event) for one in records)) == meant
    assert records[0].choices[0].startswith("Is this right: ")


@stride(8)
def test_yes_beforehand_is_no_answer_to_a_guess_either(every):
    for phrase in [phrase for phrase, meant in GUESSED if meant != "?"][::every]:
        with pytest.raises(InputError, match=r"Nothing was recorded\.$"):
            parse_sentence(phrase, yard=YARD, events=PAST, today=TODAY, yes=True)


def test_work_that_a_guess_leaves_out_is_told():
    question = read("P took a soaking and gave 1.1 kg by breakfast")[0].questions[0]
    assert "makes no record" in question


@pytest.mark.parametrize(
    ("line", "meant"),
    [
        ("stack=B action=pick kg=1.9 date=2027-05-26", "pick B 05-26 kg=1.9"),
        ("buyer=Shop action=sale kg=2 paid=26", "sold - 05-28 kg=2.0 paid=26.0 outlet=Shop"),
        ("stack=F action=water mm=7", "water F 05-28 mm=7.0"),
        (
            "stack=C action=inspect pins=0 mould=3 dead=2",
            'inspect C 05-28 logs=2 competitor_moulds dead_logs "no pins; mould on 3 logs"',
        ),
        ("stack=N action=loss g=300 reason=mice", 'discard N 05-28 kg=0.3 "reason: mice"'),
        ("stack=P action=rest weeks=5", "hold P 05-28 into=2027-07-02"),
        ("pick | N | 1.2 kg | 27.05.", "pick N 05-27 kg=1.2"),
    ],
)
def test_a_line_of_named_fields_or_of_cells_is_read_as_a_sentence(line, meant):
    (record,) = read(line)
    assert in_short(record.event) == meant
    assert not record.questions
