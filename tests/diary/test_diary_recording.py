"""Records in words: what is understood, asked back, refused."""

from __future__ import annotations

import re
import time
from dataclasses import replace
from datetime import timedelta
from types import SimpleNamespace

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from fruitcast.diary.book import Diary, read_events
from fruitcast.diary.entries import KINDS, kind_named
from fruitcast.diary.entry_faults import faults_of
from fruitcast.diary.events import (
    COMPETITOR_MOULDS,
    HEALTHY,
    LOOSE_BARK,
    SPAWN_RUN_DONE,
    WHITE_ENDS,
    Event,
)
from fruitcast.diary.recording import (
    OTHER_WORDS,
    NeedsYesError,
    Recorded,
    outlet_names,
    parse_record,
    undo_record,
)
from fruitcast.diary.spoken import parse_sentence, parse_sheet
from fruitcast.diary.state_from_diary import yard_state
from fruitcast.errors import FaultsError, FruitcastError, InputError
from fruitcast.units import in_own_units
from tests.diary.diary_samples import NOW, TODAY, bare_limits, day, entry, stack, yard
from tests.drawn import examples, stride

LB = 0.45359237

PAST = (
    # B stands in the tank since Tuesday; C bore after a soak; A has a sample log.
    entry("soak", "05-04", "B", hours=24.0),
    entry("soak", "04-20", "C", hours=24.0),
    entry("pull", "04-21", "C"),
    entry("pick", "05-05", "C", kg=4.0),
    entry("weigh", "03-01", "A", kg=35 * LB, start_kg=35 * LB, moisture_wet=0.42),
)


def read(line: str, past=PAST, units="us", yes=False) -> Recorded:
    here = yard()
    kind, _, words = line.partition(" ")
    return parse_record(
        kind,
        words,
        bare_limits(yard_state(here, past, TODAY).stacks, units),
        outlets=outlet_names(here),
        yes=yes,
    )


@pytest.mark.parametrize(
    ("line", "event"),
    [
        ("soak A 24 h", entry("soak", "05-07", "A", hours=24.0)),
        ("soak a 12 logs overnight", entry("soak", "05-07", "A", logs=12, hours=12.0)),
        ("soaked A yesterday for 36 hours", entry("soak", "05-06", "A", hours=36.0)),
        ("soak stack A", entry("soak", "05-07", "A")),
        ("soak H", entry("soak", "05-07", "H")),
        ("soak H/2 last Tue", entry("soak", "05-04", "H/2")),
        ("pull B", entry("pull", "05-07", "B")),
        ("pulled B on Wed", entry("pull", "05-05", "B")),
        ("pick A 2 lb 6 oz", entry("pick", "05-07", "A", kg=2.375 * LB)),
        ("picked A 1.1 kg yesterday", entry("pick", "05-06", "A", kg=1.1)),
        ("pick A 2", entry("pick", "05-07", "A", kg=2 * LB)),
        ("pick 2 lb from A", entry("pick", "05-07", "A", kg=2 * LB)),
        (
            "pick A 3 lb grade 2 for Saturday market last Fri (slugs)",
            entry(
                *("pick", "04-30", "A"),
                kg=3 * LB,
                grade="2",
                outlet="Saturday market",
                note="slugs",
            ),
        ),
        ("pick A 3 lb seconds", entry("pick", "05-07", "A", kg=3 * LB, grade="seconds")),
        ("pins A 2 days ago", entry("pins", "05-05", "A")),
        ("fruiting H/1", entry("fruiting", "05-07", "H/1")),
        ("pins A about 15 a log", entry("pins", "05-07", "A", note="about 15 a log")),
        (
            "pins A 20 per log yesterday (small)",
            entry("pins", "05-06", "A", note="about 20 a log; small"),
        ),
        ("nothing A last Tue", entry("nothing", "05-04", "A")),
        ("water", entry("water", "05-07")),
        ("water all 20 mm", entry("water", "05-07", mm=20.0)),
        ("watered A 1 in yesterday", entry("water", "05-06", "A", mm=25.4)),
        ("water A 100 gal", entry("water", "05-07", "A", litres=378.5411784)),
        ("water A 400 l", entry("water", "05-07", "A", litres=400.0)),
        ("rain 0.6 in yesterday", entry("rain", "05-06", mm=15.24)),
        ("rain 15 mm", entry("rain", "05-07", mm=15.0)),
        ("rain 1/2", entry("rain", "05-07", mm=12.7)),
        ("rain none Thu", entry("rain", "05-06", mm=0.0)),
        ("weigh A 29 lb", entry("weigh", "05-07", "A", kg=29 * LB)),
        (
            "weigh A 29 lb start 35 lb at 42 %",
            entry("weigh", "05-07", "A", kg=29 * LB, start_kg=35 * LB, moisture_wet=0.42),
        ),
        (
            "weigh B 16 kg 42% sample 2",
            entry("weigh", "05-07", "B", kg=16.0, start_kg=16.0, moisture_wet=0.42, sample="2"),
        ),
        ("inspect A", entry("inspect", "05-07", "A")),
        ("inspect A white ends", entry("inspect", "05-07", "A", findings=("white ends",))),
        (
            "inspect A spawn run done",
            entry("inspect", "05-07", "A", findings=("spawn run done",)),
        ),
        (
            "inspect A green mold and loose bark, 2 dead, beetles",
            entry(
                *("inspect", "05-07", "A"),
                logs=2,
                findings=("competitor moulds", "loose bark", "dead logs"),
                note="beetles",
            ),
        ),
        ("fix A tuesday 24 h", entry("fix", "05-07", "A", hours=24.0, into="2027-05-11")),
        ("fix A fri", entry("fix", "05-07", "A", into="2027-05-07")),
        ("fix A tomorrow", entry("fix", "05-07", "A", into="2027-05-08")),
        ("fix A on 3 march", entry("fix", "05-07", "A", into="2028-03-03")),
        ("hold A until 1 aug", entry("hold", "05-07", "A", into="2027-08-01")),
        ("hold A this season", entry("hold", "05-07", "A", into="season")),
        ("release A", entry("release", "05-07", "A")),
        (
            "promised Inn 2 kg friday",
            entry("promised", "05-07", kg=2.0, outlet="Inn", into="2027-05-07"),
        ),
        ("stock 5 lb", entry("stock", "05-07", kg=5 * LB)),
        ("stock none", entry("stock", "05-07", kg=0.0)),
        ("stock 2 kg picked Tue", entry("stock", "05-07", kg=2.0, picked_on=day("05-04"))),
        ("sold 5 lb Saturday market", entry("sold", "05-07", kg=5 * LB, outlet="Saturday market")),
        ("sold 2 kg to the inn from A", entry("sold", "05-07", "A", kg=2.0, outlet="Inn")),
        (
            "sold 1 lb lot A-2027-05-04 Inn",
            entry("sold", "05-07", "A", kg=LB, picked_on=day("05-04"), outlet="Inn"),
        ),
        ("discard 1 lb slimy", entry("discard", "05-07", kg=LB, note="slimy")),
        ("discard 300 g from A yesterday", entry("discard", "05-06", "A", kg=0.3)),
        ("split A 10 logs into K", entry("split", "05-07", "A", logs=10, into="K")),
        ("split A into North bank 10", entry("split", "05-07", "A", logs=10, into="North bank")),
        ("merge A into C", entry("merge", "05-07", "A", into="C")),
        ("merge A C", entry("merge", "05-07", "A", into="C")),
        ("lots A 2", entry("lots", "05-07", "A", into="2")),
        ("lots A into 2 lots yesterday", entry("lots", "05-06", "A", into="2")),
        ("lots H whole", entry("lots", "05-07", "H", into="whole")),
        ("move A to the north bank", entry("move", "05-07", "A", into="the north bank")),
        ("retire A all", entry("retire", "05-07", "A")),
        ("retire A 3 logs 4 May", entry("retire", "05-04", "A", logs=3)),
        ("note A bark peels", entry("note", "05-07", "A", note="bark peels")),
        ("note a new tank is wanted", entry("note", "05-07", note="a new tank is wanted")),
        ("note yesterday: tank cleaned", entry("note", "05-06", note="tank cleaned")),
    ],
)
def test_words_become_an_entry(line, event):
    recorded = read(line)
    assert recorded.questions == ()
    for name in ("kg", "mm", "litres", "start_kg"):
        value, wanted = getattr(recorded.event, name), getattr(event, name)
        assert value == (wanted if wanted is None else pytest.approx(wanted)), name
    same = {name: getattr(event, name) for name in ("kg", "mm", "litres", "start_kg")}
    assert replace(recorded.event, **same) == event
    assert faults_of(recorded.event) == []


@pytest.mark.parametrize(
    ("line", "understood"),
    [
        ("soak A 24 h", "Put all logs of A into the tank on Fri 7 May 2027, for 24 h."),
        (
            "soak H",
            "Put all logs of H into the tank on Fri 7 May 2027. That is H/1 and H/2.",
        ),
        (
            "pick A 2 lb 6 oz yesterday for Saturday market",
            "Picked 2 lb 6 oz from A on Thu 6 May 2027, for Saturday market.",
        ),
        ("rain 0.6 in", "Rain gauge 0.60 in on Fri 7 May 2027."),
        ("inspect A 1 dead", "Inspected A on Fri 7 May 2027, 1 log dead. A now has 23 logs."),
        ("note A bark peels", 'Note about A on Fri 7 May 2027: "bark peels".'),
        ("discard 1 lb (ate)", "Eaten: 1 lb on Fri 7 May 2027."),
        ("discard 1 lb slimy", 'Threw away 1 lb on Fri 7 May 2027, note: "slimy".'),
        ("discard 1 lb dried out", "Threw away 1 lb on Fri 7 May 2027, dried out."),
        (
            "weigh A 29 lb start 35 lb at 42 %",
            "Weighed sample log of A: 29 lb on Fri 7 May 2027, starting point 35 lb at 42% "
            "moisture (wet basis).",
        ),
    ],
)
def test_what_was_understood_is_said(line, understood):
    assert read(line).understood == understood


@pytest.mark.parametrize(
    ("line", "understood"),
    [
        ("ate 1 lb", "Eaten: 1 lb on Fri 7 May 2027."),
        ("dried 1 lb yesterday", "Dried: 1 lb on Thu 6 May 2027."),
        (
            "gave 1 lb to my neighbour",
            'Given away: 1 lb on Fri 7 May 2027, note: "to my neighbour".',
        ),
    ],
)
def test_what_is_eaten_dried_or_given_away_is_called_so(line, understood):
    (recorded,) = parse_sentence(line, yard=yard(), events=PAST, today=TODAY)
    assert recorded.understood == understood and recorded.event.kind == "discard"


@pytest.mark.parametrize(
    "line",
    [
        "we ate 1 lb and dried the rest",
        "ate 1 lb, the rest was dried",
        "sold 1 lb to Saturday market, ate the rest",
    ],
)
def test_the_rest_of_the_stock_is_not_left_on_hand_in_silence(line):
    with pytest.raises(InputError, match=r"the rest.*: how much was that"):
        parse_sentence(line, yard=yard(), events=PAST, today=TODAY)


def test_metric_growers_see_metric():
    recorded = read("pick A 2.5", units="metric")
    assert recorded.event.kg == 2.5
    assert recorded.understood == "Picked 2.50 kg from A on Fri 7 May 2027."
    assert read("rain 15", units="metric").event.mm == 15.0


def test_a_soak_without_hours_takes_those_of_the_plan():
    plan = SimpleNamespace(soaks=[SimpleNamespace(stack="A", soak_on=TODAY, hours=48.0)])

    def told(line: str) -> Recorded:
        (recorded,) = parse_sentence(line, yard=yard(), events=PAST, today=TODAY, plan=lambda: plan)
        return recorded

    bare = told("soak A")
    assert bare.event.hours == 48.0
    assert bare.understood.endswith("for 48 h. The hours are the plan's.")
    assert told("soak A 24 h").event.hours == 24.0
    assert told("soak C").event.hours is None


@pytest.mark.parametrize(
    ("line", "question"),
    [
        ("retire A", "That takes all logs of A out for good. Is it right?"),
        (
            "pick A 24 lb",  # 24 logs: 1 lb is 454 g
            "24 lb in this flush from 24 logs is 1 lb a log, very much. Is it right?",
        ),
        (
            "pick C 4 lb",  # with what was picked two days ago
            "12 lb 13.1 oz in this flush from 12 logs is 1 lb 1.1 oz a log, very much. "
            "Is it right?",
        ),
        ("pick B 1 lb", "B is in the tank. Was it picked all the same?"),
        ("pick A 1 lb 2026-05-04", "Mon 4 May 2026 is long ago. Is the year right?"),
        ("pick A 1 lb for Joe", "There is no outlet 'Joe' in yard.toml; it would be recorded as"),
        ("soak A 80 h", "80 hours is a very long soak. Is it right?"),
        ("soak A 2 h", "2 hours is a very short soak. Is it right?"),
        ("fix A tuesday 2 h", "2 hours is a very short soak. Is it right?"),
        ("fix A tuesday 90 h", "90 hours is a very long soak. Is it right?"),
        ("rain 15", "15.00 in in a day? Is it right?"),
        ("water A 15 in", "15.00 in in a day? Is it right?"),
        ("inspect A 14 dead", "14 of 24 logs dead. Is it right?"),
        ("weigh A 60 lb", "That makes 66% moisture, very wet. Is the weight right?"),
    ],
)
def test_the_unlikely_is_asked_and_not_with_yes(line, question):
    recorded = read(line)
    assert len(recorded.questions) == 1
    assert recorded.questions[0].startswith(question)
    confirmed = read(line, yes=True)
    assert confirmed.questions == ()
    assert confirmed.event == recorded.event


@pytest.mark.parametrize(
    ("line", "choice"),
    [
        ("soak AA 24 h", "There is no stack 'AA'. Is A meant?"),
        ("fruiting H/3", "There is no stack 'H/3'. Is H/2 meant?"),
        ("sold 2 lb to Saterday markt", "There is no outlet 'Saterday markt' in yard.toml; it"),
    ],
)
def test_yes_never_chooses_between_readings(line, choice):
    assert read(line).questions[0].startswith(choice)
    with pytest.raises(InputError, match="Write it out; nothing was recorded"):
        read(line, yes=True)


def test_a_large_number_without_a_unit_is_no_weight():
    for yes in (False, True):
        with pytest.raises(InputError, match=r"'500' of what\? Write '500 kg' or '500 g'"):
            read("pick C 500 today", units="metric", yes=yes)
    assert read("pick C 2", units="metric").event.kg == 2.0


@pytest.mark.parametrize(
    ("line", "findings", "note"),
    [
        ("looked A over, no mould, bark springy", (), "no mould, bark springy"),
        (
            "look over A, mould and slugs at the ends",
            (COMPETITOR_MOULDS,),
            "slugs at the ends",
        ),
        ("inspect A bark springy and a dull sound", (), "bark springy and a dull sound"),
        ("A: inspected - healthy, but slugs at night", (HEALTHY,), "slugs at night"),
        ("inspect A, no white ends, , bark loose", (LOOSE_BARK,), "no white ends"),
    ],
)
def test_what_an_inspection_keeps_as_words_is_whole(line, findings, note):
    (recorded,) = parse_sentence(line, yard=yard(), events=PAST, today=TODAY)
    assert (recorded.event.findings, recorded.event.note) == (findings, note)


def test_the_signs_of_a_finished_spawn_run_are_taken_at_their_word():
    # As the jobs say what to look for: all of it is a finished spawn run.
    recorded = read("inspect A white ends, springy bark, a dull sound")
    assert set(recorded.event.findings) == {WHITE_ENDS, SPAWN_RUN_DONE}
    assert not recorded.questions and "write" not in recorded.understood
    for seen in ("white ends, bark springy", "white ends and a dull sound"):
        recorded = read(f"inspect A {seen}")
        assert recorded.event.findings == (WHITE_ENDS,) and not recorded.questions
        assert recorded.understood.endswith("write 'inspect A spawn run done'.")
    for seen in ("white ends", "bark springy", "white ends on 3 logs, bark springy"):
        recorded = read(f"inspect A {seen}")
        assert SPAWN_RUN_DONE not in recorded.event.findings and not recorded.questions


def test_counts_of_logs_stay_with_what_they_count():
    assert read("inspect A dead 4 logs").event.logs == 4
    assert read("inspect A mould 3 logs").event.note == "mould on 3 logs"
    assert read("inspect A no mould").event.findings == ()
    with pytest.raises(InputError, match="an inspection would keep that as words only"):
        read("inspect A dead")


def test_a_pick_far_above_all_others_is_asked_about():
    picks = [entry("pick", f"02-{on:02d}", "A", kg=0.8) for on in (1, 4, 7, 10, 13)]
    assert read("pick A 1.9 kg", picks).questions == ()
    assert "10 times the largest pick so far" in read("pick A 8 kg", picks).questions[0]
    assert read("pick A 8 kg", picks[:4]).questions == ()  # too few to tell what is usual


def test_a_pick_while_the_logs_were_in_the_tank_is_asked_about():
    past = (entry("soak", "05-01", "A", hours=48.0), entry("pull", "05-03", "A"))
    assert read("pick A 1 lb 2 May", past).questions == (
        "A is in the tank. Was it picked all the same?",
    )
    assert read("pick A 1 lb 4 May", past).questions == ()


@pytest.mark.parametrize(
    ("line", "asked"),
    [
        ("sold 5 lb Inn", False),
        ("sold 9 kg Inn", True),
        ("discard 9 kg", True),
        ("sold 2 lb Inn 4 May", False),  # before the pick nothing was on record
    ],
)
def test_a_sale_beyond_what_is_on_hand_is_asked_about(line, asked):
    past = (entry("pick", "05-05", "C", kg=4.0),)
    (recorded,) = parse_sentence(line, yard=yard(), events=past, today=TODAY)
    assert bool(recorded.questions) == asked
    if asked:
        assert "by the diary 8 lb 13.1 oz were on hand on Fri 7 May 2027" in recorded.questions[0]


@pytest.mark.parametrize(
    "words",
    ["Saturday market", "the saturday Market", "at the Saturday market", "market", "sat market"],
)
def test_an_outlet_is_known_without_article_or_case(words):
    recorded = read(f"sold 2 lb {words}")
    assert (recorded.event.outlet, recorded.questions) == ("Saturday market", ())
    assert recorded.event.on == TODAY


def test_the_market_of_another_day_is_another():
    with pytest.raises(InputError, match="'market' is not understood"):
        read("sold 2 lb Sunday market")
    two = ("Saturday market", "Wednesday market")
    stacks = yard_state(yard(), PAST, TODAY).stacks
    with pytest.raises(InputError, match="'market' may be Saturday market or Wednesday market"):
        parse_record("sold", "2 lb market", bare_limits(stacks), outlets=two)


def sentence(text):
    found = parse_sentence(text, yard=yard(), events=PAST, today=TODAY)
    return [(r.event.kind, r.event.stack, r.event.on.isoformat()[5:], r.event.kg) for r in found]


def test_one_sentence_for_several_stacks():
    assert sentence("pins on A and C yesterday") == [
        ("pins", "A", "05-06", None),
        ("pins", "C", "05-06", None),
    ]
    counted = parse_sentence("pins A and C 20 a log", yard=yard(), events=PAST, today=TODAY)
    assert [r.event.note for r in counted] == ["about 20 a log"] * 2
    assert sentence("pick A 1 kg, C 200 g") == [
        ("pick", "A", "05-07", 1.0),
        ("pick", "C", "05-07", 0.2),
    ]
    assert sentence("water A-C") == [("water", name, "05-07", None) for name in "ABC"]
    assert sentence("pull everything") == [("pull", "B", "05-07", None)]
    with pytest.raises(InputError, match="how much of it is of each"):
        sentence("pick A and C 2 kg")
    with pytest.raises(InputError, match="is it soak or pull"):
        sentence("A soaked, pulled today")


def test_a_stack_may_have_the_word_stack_in_its_name():
    here = yard(stacks=(stack("Stack 1"), stack("Stack 11"), stack("Old oak")))
    for line in ("pins Stack 11", "pins stack 11", "pins on Stack 11", "Stack 11 is pinning"):
        (record,) = parse_sentence(line, yard=here, events=(), today=TODAY)
        assert (record.event.kind, record.event.stack) == ("pins", "Stack 11"), line
    both = parse_sentence("soak Stack 1 and Stack 11", yard=here, events=(), today=TODAY)
    assert [record.event.stack for record in both] == ["Stack 1", "Stack 11"]
    (record,) = parse_sentence("pick stack Old oak 1 kg", yard=here, events=(), today=TODAY)
    assert record.event.stack == "Old oak"


def test_a_sentence_may_say_last_what_it_is():
    assert sentence("yesterday: put A in the tank") == [("soak", "A", "05-06", None)]
    looked = parse_sentence("A and C look dry", yard=yard(), events=PAST, today=TODAY)
    assert [r.event.note for r in looked] == ["A and C look dry"] * 2
    assert sentence("B out of the water") == [("pull", "B", "05-07", None)]
    assert sentence("A deer knocked over C") == [("note", "C", "05-07", None)]
    with pytest.raises(InputError, match="'pcik' is not a kind of record"):
        sentence("pcik A")


def test_450_g_a_log_is_likely_and_more_is_asked():
    assert read("pick A 10.8 kg").questions == ()  # 24 logs
    assert read("pick A 10.9 kg").questions


def test_only_the_soaked_part_of_a_stack_counts_as_bearing():
    past = (entry("soak", "04-20", "A", logs=6, hours=24.0), entry("pull", "04-21", "A"))
    assert read("pick A 2.7 kg", past).questions == ()
    assert "from 6 logs" in read("pick A 2.8 kg", past).questions[0]


def test_an_earlier_flush_does_not_count():
    past = (
        entry("pick", "04-15", "A", kg=9.0),
        entry("soak", "04-20", "A", hours=24.0),
        entry("pull", "04-21", "A"),
    )
    assert read("pick A 9 kg", past).questions == ()
    assert read("pick A 9 kg", past[:1]).questions == ()  # over two weeks ago
    assert read("pick A 9 kg 25 Apr", past[:1]).questions


def test_pins_before_a_soak_are_asked_about():
    past = (entry("pins", "05-06", "A"),)
    assert "Pins were seen on A on Thu 6 May 2027" in read("soak A 24 h", past).questions[0]


def test_a_soak_soon_after_a_soak_or_a_first_pick_is_asked_about():
    soaked = (entry("soak", "04-24", "A", hours=24.0),)
    (question,) = read("soak A 3 May 24 h", soaked).questions
    assert question == (
        "A went into the tank on Sat 24 Apr 2027, and no pull is recorded. Did it come out and go "
        "in again?"
    )
    pulled = (*soaked, entry("pull", "04-25", "A"))
    assert "A was soaked on Sat 24 Apr 2027" in read("soak A 24 h", pulled).questions[0]
    picked = (entry("pick", "04-30", "A", kg=0.3),)
    assert "A was first picked on Fri 30 Apr 2027" in read("soak A 24 h", picked).questions[0]
    rested = (entry("pick", "04-20", "A", kg=0.3), entry("pick", "05-05", "B", kg=0.3))
    half = (entry("soak", "05-05", "A", logs=12, hours=24.0), entry("pull", "05-06", "A"))
    for past, words in ((rested, "soak A 24 h"), (half, "soak A 12 logs 24 h")):
        assert read(words, past).questions == ()


def test_a_sample_log_weighed_against_an_old_start_is_asked_about():
    past = (entry("weigh", "2026-05-01", "A", kg=15.0, start_kg=15.0, moisture_wet=0.42),)
    assert (
        "The starting weight is of Fri 1 May 2026; decay"
        in read("weigh A 14 kg", past).questions[0]
    )


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("soak B", "B is already in the tank on Fri 7 May 2027, since Tue 4 May 2027. Record the"),
        ("soak A 30 logs", "A has 24 logs, not 30. Check the number"),
        ("soak A 300 h", "No log stays in the water for 300 hours"),
        ("pull A", "A is not in the tank on Fri 7 May 2027: no soak of it is recorded"),
        ("pull C", "C is not in the tank on Fri 7 May 2027: its last soak was on Tue 20 Apr 2027"),
        ("pull B 3 May", "B is not in the tank on Mon 3 May 2027"),
        (
            "pick A 53 lb",
            "is 2 lb 3.3 oz a log, and no log bears more than 2 lb 3.3 oz. Check weight and stack",
        ),
        ("pick A 25 kg", "more than 2 lb 3.3 oz. Check weight and stack"),
        ("pick A 1 kg tomorrow", "Sat 8 May 2027 is still to come, today is Fri 7 May 2027"),
        ("rain 100 in", "100.00 in in a day can't be"),
    ],
)
def test_the_impossible_is_refused_unless_confirmed(line, message):
    with pytest.raises(InputError, match=message) as caught:
        read(line)
    assert "add --yes" in str(caught.value)
    assert read(line, yes=True).questions == ()


@pytest.mark.parametrize(
    ("line", "message"),
    [
        (
            "soak C 20 Apr",
            "That C was put into the tank on Tue 20 Apr 2027 is written down already",
        ),
        ("fix A tuesday 400 h", "No log stays in the water for 400 hours"),
        ("fix B tuesday", "63 are usual: it bears less, and the logs wear. Fix a later day\\.$"),
        ("inspect A 25 dead", "A has 24 living logs, 25 can't have died"),
        ("retire A 25 logs", "A has 24 logs, 25 can't be retired"),
        ("split A 24 into K", "A has 24 logs, 24 can't be split off"),
        ("split A 10 into B", "There is a stack B already"),
        ("split A 10 into H", "There is a stack H already"),
        ("split A 10 into K/1", "a stack's name can't hold '/'"),
        ("split B 10 into K", "B is in the tank. Record the pull first"),
        ("merge A into A", "can't be merged into itself"),
        ("lots A", "How many lots\\? Write it like 'lots A 3' or 'lots A whole'"),
        ("lots H/1 2", "H/1 is a lot already. Name its stack"),
        ("merge B into A", "B is in the tank. Record the pull first"),
        ("weigh A 10 lb", "10 lb is less than the dry wood of a log that weighed 35 lb at 42%"),
        ("weigh B 29 lb", "No starting weight of B is known"),
        ("weigh A 29 lb start 35 lb", "A starting weight needs the moisture"),
        ("stock 2 kg today picked tomorrow", "Picked on Sat 8 May 2027 is after Fri 7 May 2027"),
        ("soak A 0 logs", "A soak of 0 logs is no soak"),
        ("soak A -3 h", "'-3' is below 0"),
        ("pick A 1,250 g", "can be read as 1250 and as 1.250"),
        ("soak A 0 h", "hours is 0, expected above 0"),
        ("soak A 24", "'24': hours or logs\\? Write '24 h' or '24 logs'"),
        ("water A 10", "'10' of what\\? Write '10 mm', '10 litres' or '10 gal'"),
        ("soak Z 24 h", "There is no stack 'Z'. The yard has: A, B, C, H/1, H/2, H"),
        ("soak", "Which stack\\? Write it like 'soak A 24 h'"),
        ("pick A", "What weight\\? Write it like 'pick A 2 lb 6 oz'"),
        ("pick A 0 lb", "kg is 0, a pick entry needs a weight above 0"),
        ("pick A 2 lb yestdy", "'yestdy' is not understood. Write it like"),
        ("pick A 2 lb 3 lb", "'2 lb 3 lb' is not one weight"),
        ("pick A 2 lb yesterday today", "'today' is not understood"),
        ("pick A 6 oz 2 lb", "the larger unit comes first"),
        ("rain", "How much rain\\? Write it like"),
        ("move A", "Moved where\\? Write it like"),
        ("merge A", "Merge it into which stack\\?"),
        ("note", "a note entry needs 'note'"),
        ("sold 2 lb picked whenever", "picked when\\? Write it like 'picked Fri'"),
        ("pikc A 2 lb", "'pikc' is not a kind of record. Did you mean 'pick'\\?"),
        ("undo A", "An undo stands alone"),
        (f"{'9' * 5000} A 2 lb", "^'9{40}\\.\\.\\.' is not a kind of record. Known are: soak"),
        (f"note {'x' * 3000}", "The record has 3000 characters, at most 2500 are read"),
    ],
)
@pytest.mark.parametrize("yes", [False, True])
def test_what_cannot_be_read_or_be_true_is_refused_even_when_confirmed(line, message, yes):
    with pytest.raises(InputError, match=message):
        read(line, yes=yes)


def test_a_stack_without_logs_is_not_soaked():
    past = (entry("retire", "05-01", "A"),)
    with pytest.raises(InputError, match=r"A has no logs left\. Check the stack"):
        read("soak A", past)
    assert read("pick A 1 lb", past).questions == ("A has no logs left. Is it the right stack?",)


def test_a_forgotten_pull_can_be_recorded_late():
    past = (entry("soak", "04-20", "A", hours=24.0),)
    assert read("pull A 22 Apr", past).event == entry("pull", "04-22", "A")


def test_every_kind_of_record_has_an_example_that_is_understood():
    how_to = {kind: in_own_units(kind_named(kind).how_to, "us") for kind in KINDS if kind != "undo"}
    examples = {kind: re.findall(r"'([^']+)'", text) for kind, text in how_to.items()}
    assert all(examples.values())
    here = yard(stacks=(stack("A"), stack("B"), stack("C")))
    for kind, lines in examples.items():
        past = [entry("soak", "05-04", "A")] if kind == "pull" else []
        past.append(entry("weigh", "05-01", "A", kg=35 * LB, start_kg=35 * LB, moisture_wet=0.4))
        stacks = yard_state(here, past, TODAY).stacks
        for line in lines:
            words = line.removeprefix(f"{kind} ")
            assert words != line
            recorded = parse_record(kind, words, bare_limits(stacks), outlets=outlet_names(here))
            assert (recorded.event.kind, recorded.questions) == (kind, ()), line


def test_other_words_for_the_kinds():
    assert set(OTHER_WORDS.values()) < set(KINDS)
    for word, kind in (("picked", "pick"), ("Soaked", "soak"), (" watered ", "water")):
        words = "A 1 lb" if kind == "pick" else "A"
        stacks = yard_state(yard(), PAST, TODAY).stacks
        assert parse_record(word, words, bare_limits(stacks)).event.kind == kind


def test_undo_names_the_last_entry_in_force_and_cancels_it(tmp_path):
    file = tmp_path / "diary.db"
    with Diary(file) as diary:
        with pytest.raises(
            InputError, match=r"The diary holds no entry\. There is nothing to undo"
        ):
            undo_record(diary.events(), "us")
        soak, pick = diary.add(
            [entry("soak", "05-04", "A"), entry("pick", "05-06", "B", kg=1)], NOW
        )
        undo = undo_record(diary.events(), "metric")
        assert undo.event.cancels == pick.uuid
        assert undo.understood == "Cancelled: Picked 1.00 kg from B on Thu 6 May 2027."
        diary.add([undo.event], NOW)
        again = undo_record(diary.events(), "us")
        assert again.event.cancels == soak.uuid
    assert len(read_events(file)) == 3


def test_undo_of_a_named_entry():
    events = [replace(entry("soak", "05-04", "A"), uuid=uuid) for uuid in ("abc", "abd", "xyz")]
    assert undo_record(events, "us", "abd").event.cancels == "abd"
    with pytest.raises(InputError, match="2 entries begin with 'ab'"):
        undo_record(events, "us", "ab")
    with pytest.raises(InputError, match="No entry in force begins with 'q'"):
        undo_record(events, "us", "q")


SHEET = """
# Week of 3 May
Mon 3 May 2027:
soak A 24 h
water all 1 in
Tue
pull A
pick C 1 lb 4 oz
Wed
pick C 12 oz yesterday
note tank cleaned
pick H/1 2 lb 2027-05-06
"""


def test_a_sheet_of_several_days():
    records = parse_sheet(SHEET.splitlines(), yard=yard(), events=(), today=TODAY)
    assert [(r.event.kind, r.event.stack, r.event.on.isoformat()[5:]) for r in records] == [
        ("soak", "A", "05-03"),
        ("water", "", "05-03"),
        ("pull", "A", "05-04"),
        ("pick", "C", "05-04"),
        ("pick", "C", "05-06"),
        ("note", "", "05-05"),
        ("pick", "H/1", "05-06"),
    ]
    assert records[5].event.note == "tank cleaned"


def test_a_sheet_with_a_fault_is_refused_whole_and_every_fault_is_named():
    lines = ["soak A 24 h", "soak A 24 h", "pick C lots", "pull A"]
    with pytest.raises(FaultsError) as caught:
        parse_sheet(lines, yard=yard(), events=(), today=TODAY)
    first, second = caught.value.faults
    assert first.place == "line 2, 'soak A 24 h'"
    assert "That A was put into the tank on Fri 7 May 2027 is written down" in first.problem
    assert second.place == "line 3, 'pick C lots'"
    assert first.remedy == "Nothing of the sheet was recorded"


def test_a_sheet_counts_what_stands_above():
    lines = ["pick C 5 lb", "pick C 5.1 lb", "pick C 5.2 lb"]
    records = parse_sheet(lines, yard=yard(), events=(), today=TODAY)
    assert [bool(r.questions) for r in records] == [False, False, True]


def test_an_empty_sheet_is_refused():
    with pytest.raises(InputError, match="The sheet holds no record"):
        parse_sheet(["", "# nothing", "Tue"], yard=yard(), events=(), today=TODAY)


WORDS = """
A B H H/1 C 2 lb 6 oz kg 1.1 ½ -3 0 24 h hours logs yesterday last Fri 2027-05-04 May 4 2027-13-99
5/4/2027 for to from into Inn Saturday market grade note ( ) : , % start sample picked lot dead none
A-2027-05-04 A-2027-99-99 all mm in gal # ' = \\ / 99999999999999999999 1e308 nan é 🍄 9999-12-31
0001-01-01 1/0 overnight
"""
PIECES = st.sampled_from([*WORDS.split(), "\x00", "\ud800"])


@examples(60, 400)
@given(st.sampled_from(list(KINDS)), st.lists(PIECES | st.text(max_size=5), max_size=9))
@example("sold", ["1 lb", "A-2027-99-99"])
@example("soak", ["A", "9" * 400, "h"])
@example("pick", ["A", "1/0 lb"])
def test_any_words_give_a_record_or_one_message(kind, words):
    stacks = yard_state(yard(), PAST, TODAY).stacks
    try:
        recorded = parse_record(
            kind, " ".join(words), bare_limits(stacks), outlets=("Inn",), yes=True
        )
    except FruitcastError as error:
        assert str(error)
        return
    assert faults_of(recorded.event) == []
    assert isinstance(recorded.event, Event)
    state = yard_state(yard(), [*PAST, recorded.event], TODAY + timedelta(days=1))
    assert all(s.logs >= 0 for s in state.stacks.values())


@stride(9)
def test_long_words_are_read_quickly(every):
    begun = time.process_time()
    for words in ("1 " * 1200, "9" * 2400, "A " + "2 lb " * 480, "(" * 2400, "may " * 600):
        for kind in list(KINDS)[::every]:
            try:
                read(f"{kind} {words}")
            except FruitcastError:
                continue
    assert time.process_time() - begun < 5 / every


@pytest.mark.parametrize(
    "words", ["pick A 2 lb", "water A 1 in", "retire A 3 logs", "inspect A 2 dead"]
)
def test_what_two_wrote_down_is_asked_about_once_more(words):
    (first,) = parse_sentence(words, yard=yard(), events=(), today=TODAY)
    known = [replace(first.event, uuid="a")]
    (again,) = parse_sentence(words, yard=yard(), events=known, today=TODAY)
    assert again.event == first.event
    assert "that is in the diary already. Was it done once more?" in again.questions[0]
    (confirmed,) = parse_sentence(words, yard=yard(), events=known, today=TODAY, yes=True)
    assert not confirmed.questions
    undone = [*known, entry("undo", "05-07", cancels="a")]
    assert not parse_sentence(words, yard=yard(), events=undone, today=TODAY)[0].questions
    (other_day,) = parse_sentence(f"{words} yesterday", yard=yard(), events=known, today=TODAY)
    assert not any("already" in question for question in other_day.questions)


def test_what_is_the_same_done_twice_is_not_asked_about():
    for words in ("turn A", "cover A", "pins A", "inoculate A"):
        (first,) = parse_sentence(words, yard=yard(), events=(), today=TODAY)
        (again,) = parse_sentence(words, yard=yard(), events=[first.event], today=TODAY)
        assert not again.questions


YOUNG = r"E was inoculated on .* 2027 by stacks.csv, and logs .* Is it the right stack\?"


@pytest.mark.parametrize(
    "words", ["pick E 1 kg", "fruiting E", "pins E", "soak E 24 h", "pick E/1 1 kg"]
)
def test_logs_too_young_to_bear_are_asked_about(words):
    born = TODAY - timedelta(days=31)
    logs = 100 if "/" in words else 24
    young = yard(stacks=(stack("E", logs, inoculated=born),))
    (read,) = parse_sentence(words, yard=young, events=(), today=TODAY)
    assert any(re.match(YOUNG, question) for question in read.questions), read.questions
    assert not parse_sentence(words, yard=young, events=(), today=TODAY, yes=True)[0].questions
    first = timedelta(days=365 if words.startswith("soak") else 180)
    for age, asked in ((first, False), (first - timedelta(days=1), True)):
        old = yard(stacks=(stack("E", logs, inoculated=TODAY - age),))
        (read,) = parse_sentence(words, yard=old, events=(), today=TODAY)
        assert any("right stack" in question for question in read.questions) == asked
    bearing = yard(stacks=(stack("E", logs, inoculated=born, bearing_since=born),))
    assert not parse_sentence(words, yard=bearing, events=(), today=TODAY)[0].questions
    borne = [entry("pick", "04-20", "E", kg=1.0)]
    assert not any(
        "right stack" in question
        for question in parse_sentence(words, yard=young, events=borne, today=TODAY)[0].questions
    )


def test_how_soon_logs_bear_is_the_growers_own_number():
    young = yard(
        stacks=(stack("E", inoculated=TODAY - timedelta(days=31)),),
        numbers={"diary.first_bearing_days": 30.0, "forced.first_after_days": 31.0},
    )
    for words in ("pick E 1 kg", "fruiting E", "soak E 24 h"):
        assert not parse_sentence(words, yard=young, events=(), today=TODAY)[0].questions


def test_logs_are_not_inoculated_before_the_day_in_stacks_csv_that_plans_count_from():
    later = yard(stacks=(stack("E", inoculated=TODAY + timedelta(days=1)),))
    for yes in (False, True):
        with pytest.raises(InputError, match=r"write 2027-05-07 under inoculated in stacks\.csv"):
            parse_sentence("inoculate E", yard=later, events=(), today=TODAY, yes=yes)
    for born in (TODAY, TODAY - timedelta(days=3)):
        here = yard(stacks=(stack("E", inoculated=born),))
        (read,) = parse_sentence("inoculate E", yard=here, events=(), today=TODAY)
        assert read.event.kind == "inoculate" and not read.questions


def test_inoculating_a_stack_that_is_not_there_names_the_file():
    (read,) = parse_sentence("inoculated Q", yard=yard(), events=(), today=TODAY)
    assert "A new stack is first a row of stacks.csv" in read.questions[0]
    assert (read.event.kind, read.event.note) == ("note", "inoculated Q")
    with pytest.raises(InputError, match="of which stack are they"):
        parse_sentence("inoculated Q", yard=yard(), events=(), today=TODAY, yes=True)


@pytest.mark.parametrize("words", ["first pick from A 5 oz", "A 2 lb, the first this year"])
def test_the_first_pick_is_no_grade(words):
    assert read(f"pick {words}").event.grade == ""


def test_a_weight_half_understood_is_refused():
    with pytest.raises(InputError, match="figures"):
        sentence("picked A two and a bit kilos")


def asked(words: str, *known: Event) -> tuple[str, ...]:
    (found,) = parse_sentence(words, yard=yard(), events=known, today=TODAY)
    return found.questions


def test_the_same_rain_of_one_day_is_asked_about():
    rain = entry("rain", "05-07", mm=12.7, uuid="a")
    (question,) = asked("rain 12.7 mm", rain)
    assert "in the diary already. The gauge of a day counts once" in question
    assert not asked("rain 12.7 mm yesterday", rain)


def test_another_rain_of_one_day_is_asked_about_with_both():
    rain = entry("rain", "05-07", mm=50.8, uuid="a")
    (question,) = asked("rain 2 mm", rain)
    assert "Rain gauge 0.08 in on Fri 7 May 2027: the diary has 2.00 in for that day" in question
    assert not asked("rain 2 mm yesterday", rain)
    assert not asked("rain 2 mm", rain, entry("undo", "05-07", cancels="a", uuid="b"))


def test_rain_is_told_as_it_was_read_off_the_gauge():
    (found,) = parse_sentence("rain 12,5 mm", yard=yard(units="metric"), events=(), today=TODAY)
    assert found.understood.startswith("Rain gauge 12.5 mm on")


@pytest.mark.parametrize("days", [("", "yesterday", "Wed"), ("Wed", "yesterday", "")])
def test_what_a_log_gives_in_a_flush_is_asked_about_in_either_order(days):
    known: list[Event] = []
    told = []
    for on in days:
        try:
            (found,) = parse_sentence(
                f"pick A 8 kg {on}", yard=yard(units="metric"), events=known, today=TODAY
            )
        except NeedsYesError as refusal:
            told.append(str(refusal))
            break
        told.append(" ".join(found.questions))
        known.append(found.event)
    assert told[0] == ""
    assert "16.00 kg in this flush from 24 logs is 667 g a log, very much" in told[1]
    assert "24.00 kg in this flush from 24 logs is 1.00 kg a log" in told[2]


def test_picks_of_another_flush_do_not_count_to_one():
    later = (
        entry("soak", "05-02", "A", hours=24.0),
        entry("pull", "05-03", "A"),
        entry("pick", "05-06", "A", kg=10.0),
    )
    assert not asked("pick A 10 lb 1 May", *later)
    assert "in this flush" in asked("pick A 10 lb 5 May", *later)[0]
    # Two windows, and the day stands in both: no log gave more than it can in either.
    around = (entry("pick", "04-20", "A", kg=5.0), entry("pick", "05-07", "A", kg=5.0))
    assert not asked("pick A 10 lb 29 Apr", *around)


def test_a_soak_written_down_after_the_next_one_is_held_against_it():
    later = entry("soak", "05-07", "A", hours=12.0)
    with pytest.raises(NeedsYesError, match="A went into the tank on Fri 7 May 2027, and by this"):
        asked("soak A 24 h yesterday", later)
    (question,) = asked("soak A 24 h 1 May", later)
    assert "A was soaked on Fri 7 May 2027 too; soaked so soon after one another" in question
    assert not asked("soak A 24 h 1 Mar", later)
    assert not asked("soak A 6 logs 24 h 1 May", entry("soak", "05-07", "A", logs=6, hours=12.0))


def test_a_new_stack_may_not_be_named_as_a_lot_is_said():
    with pytest.raises(InputError, match=r"'H2' is taken for lot 2 of H\. Choose another"):
        asked("split A 10 logs into H2")
    assert not asked("split A 10 logs into K2")


def test_an_inspection_that_finds_dead_logs_tells_how_many_are_left():
    assert read("inspect A 3 dead").understood.endswith("A now has 21 logs.")
    assert "now has" not in read("inspect A white ends").understood


def test_dead_logs_thrown_away_may_be_those_found_dead():
    dead = entry("inspect", "05-06", "A", logs=3, findings=("dead logs",), uuid="a")
    (question,) = asked("retire A 2 logs", dead)
    assert "3 logs of A found dead" in question and "it has 21" in question
    assert "Are these 2 other ones" in question
    assert not asked("retire B 2 logs", dead)
    assert not asked("retire A 2 logs", dead, entry("undo", "05-06", cancels="a"))
    assert not asked("retire A 2 logs", replace(dead, on=day("02-01")))
    assert not asked("retire A 1 log", dead, entry("retire", "05-07", "A", logs=2))


def test_a_soak_told_late_counts_what_went_in_while_its_logs_were_in():
    later = entry("soak", "05-07", "B", hours=24.0)  # 30 of the 60 that the tank holds
    fuller = entry("soak", "05-07", "C")
    questions = asked("soak A yesterday", later, fuller)
    assert any("With A beside B, C 66 logs" in question for question in questions)
    assert not asked("soak A yesterday", later)
    assert not asked("soak A yesterday 12 h", later, fuller)
    assert asked("soak A yesterday 36 h", later, fuller)
