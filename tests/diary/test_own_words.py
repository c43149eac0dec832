"""Records in the words of a newcomer with two stacks, no outlet, and pounds and inches."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time

import pytest

from fruitcast.diary.events import Event
from fruitcast.diary.spoken import parse_sentence
from fruitcast.errors import InputError
from fruitcast.yard.model import Outlet, Soaking
from tests.diary.diary_samples import stack, yard

TODAY = date(2026, 5, 10)
PAST = (Event("pick", date(2026, 5, 9), "Birch", kg=1.0),)
OZ = 0.45359237 / 16
YARD = yard(
    units="us",
    soaking=Soaking((5,), 12, time(8), None, None, None),
    stacks=(replace(stack("Oak"), logs=12), replace(stack("Birch"), logs=10)),
    outlets=(),
)
SELLING = replace(YARD, outlets=(Outlet("Inn", 2, 2.0, None, None, None, 1.0, frozenset()),))


def read(text, of=YARD):
    return parse_sentence(text, yard=of, events=PAST, today=TODAY)


def refusal(text, of=YARD):
    with pytest.raises(InputError) as refused:
        read(text, of)
    return str(refused.value)


@pytest.mark.parametrize(
    ("text", "stack", "told"),
    [
        ("gave {} of the birch mushrooms to my neighbour", "Birch", "Given away"),
        ("gave my neighbour {} from Birch", "Birch", "Given away"),
        ("gave away {} from Birch", "Birch", "Given away"),
        ("gave {}", "", "Given away"),
        ("swapped {} of Birch for eggs", "Birch", "Given away"),
        ("brought {} to my mother", "", "Given away"),
        ("took {} from Oak to my sister", "Oak", "Given away"),
        ("left {} of Birch with Mary", "Birch", "Given away"),
        ("dropped {} off at mum's", "", "Given away"),
        ("donated {} to the food bank", "", "Given away"),
        ("my wife gave {} of birch to her sister", "Birch", "Given away"),
        ("neighbour got {}", "", "Given away"),
        ("the neighbour got {} off Birch", "Birch", "Given away"),
        ("Birch neighbours had {}", "Birch", "Given away"),
        ("ate {} from Birch", "Birch", "Eaten"),
        ("dried {}", "", "Dried"),
        ("dried {} from Birch", "Birch", "Dried"),
    ],
)
def test_what_somebody_was_given_is_no_second_harvest(text, stack, told):
    (record,) = read(text.format("4 oz"))
    assert (record.event.kind, record.event.stack) == ("discard", stack)
    assert record.event.kg == pytest.approx(4 * OZ)
    assert record.understood.startswith(f"{told}: 4 oz on ")
    assert not record.questions


@pytest.mark.parametrize(
    "text",
    [
        *("Birch gave 4 oz", "Birch gave 4 oz to my delight", "took 4 oz off Birch"),
        *("brought 4 oz from Birch to the kitchen", "picked 4 oz from Birch for my neighbour"),
        "the neighbour picked 4 oz off Birch",
    ],
)
def test_what_came_off_the_logs_is_still_a_pick(text):
    (record,) = read(text)
    assert (record.event.kind, record.event.stack) == ("pick", "Birch")


def test_a_pick_and_what_was_given_of_it_are_two_records():
    for words in ("gave 4 oz to my neighbour", "the neighbour got 4 oz"):
        picked, given = read(f"picked 8 oz from Birch, {words}")
        assert (picked.event.kind, given.event.kind) == ("pick", "discard")
        assert (picked.event.kg, given.event.kg) == pytest.approx((8 * OZ, 4 * OZ))


def test_what_was_given_of_several_stacks_is_asked_one_by_one():
    assert refusal("gave 3 oz birch and 5 oz oak").endswith(
        "Off the logs: write 'pick A 2 lb'. To somebody: write 'gave away 8 oz from A'. One record "
        "for each stack."
    )
    assert refusal("gave away 3 oz birch and 5 oz oak") == (
        "'5 oz' too: how much of it is of each? Write one record for each, like 'gave away 8 oz "
        "from A'."
    )


def test_what_may_have_been_given_is_never_asked_as_a_pick():
    refusal("left 2 lb on Oak for my wife")
    assert "was it picked, or given away?" in refusal("4 oz of birch to my neighbour")
    assert refusal("gave 4 oz from Birch to the Inn", SELLING).endswith(
        "To somebody: write 'gave away 8 oz from A'. One record for each stack."
    )


def test_examples_go_by_the_yards_units():
    metric = replace(YARD, units="metric")
    assert "'gave away 8 oz from A'" in refusal("gave Birch 4 oz")
    assert "'gave away 250 g from A'" in refusal("gave Birch 100 g", metric)
    assert "'pick A 2 lb'" in refusal("pick Birch 9 slugs")
    assert "'pick A 1 kg'" in refusal("pick Birch 9 slugs", metric)
    assert "'ate 14 oz' and 'dried 2 lb'" in refusal("ate 8 oz and dried the rest")


@pytest.mark.parametrize("text", ["promised market 2 lb 15 may", "promised 2 lb to Bull Fri"])
def test_a_promise_needs_an_outlet_that_the_yard_has(text):
    name = "market" if "market" in text else "Bull"
    assert refusal(text) == (
        f"'{text}': there is no outlet '{name}'. The yard has no outlet yet: add an [[outlet]] to "
        "yard.toml, so that the plan minds the promise; 'note ...' keeps the words."
    )
    assert "The yard sells to Inn: write one of them, or add" in refusal(text, SELLING)
    (promise,) = read("promised Inn 2 lb 15 may", SELLING)
    assert (promise.event.kind, promise.event.outlet) == ("promised", "Inn")


@pytest.mark.parametrize(
    "text",
    [
        *("{} is done with its spawn run", "{} finished its spawn run", "{} is fully colonised"),
        *("done with the spawn run on {}", "{} has completed the spawn run", "{} finished running"),
    ],
)
@pytest.mark.parametrize("stack", ["Oak", "Birch"])
def test_a_finished_spawn_run_is_recorded_however_it_is_said(text, stack):
    (record,) = read(text.format(stack))
    assert (record.event.kind, record.event.stack) == ("inspect", stack)
    assert record.event.findings == ("spawn run done",)
    assert not record.questions


@pytest.mark.parametrize(
    "text", ["started bearing {}", "{} has started bearing", "{} is bearing", "{} began to bear"]
)
def test_logs_that_bear_are_seen_fruiting(text):
    (record,) = read(text.format("Oak"))
    assert (record.event.kind, record.event.stack) == ("fruiting", "Oak")


@pytest.mark.parametrize(
    "text",
    ["Oak is not bearing", "Oak spawn run not done", "Oak is nearly through with its run"],
)
def test_what_is_not_so_yet_is_no_finished_spawn_run(text):
    refusal(text)


def test_a_stack_is_never_told_to_be_a_slip_for_a_kind():
    for text in ("Oak is done", "Oak's first crop is showing"):
        assert "'soak'" not in refusal(text)
    assert "'inspect Oak spawn run done'" in refusal("Oak is done")


def test_a_refusal_quotes_what_was_typed_and_nothing_else():
    text = "slugs ate about a third of what I picked today, 6 oz left, birch"
    said = refusal(text)
    assert said.startswith(f"'{text}': not all of it is understood. Write it like 'pick A 2 lb")
    assert refusal("pick Birch 2 lb frobnicated 3").startswith(
        "'pick Birch 2 lb frobnicated 3': 'frobnicated 3' is not understood."
    )


def test_an_amount_below_0_says_so():
    assert refusal("pick Oak -3 lb").startswith("'-3 lb' is below 0")


@pytest.mark.parametrize("text", ["watered everything for two hours", "hosed Oak for 2 h"])
def test_watering_by_the_clock_names_no_device_that_nobody_named(text):
    (record,) = read(text)
    assert record.event.mm == pytest.approx(12.0)
    assert record.event.note == "water for 2 h"
    assert record.understood.endswith("That is reckoned at 0.24 in an hour, as a sprinkler gives.")
