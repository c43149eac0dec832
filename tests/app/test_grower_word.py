"""The grower's word: the plan works round it, or names the rule that forbids it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from fruitcast.app.grower_word import WordCost, cost_words
from fruitcast.app.planning import make_plan
from fruitcast.soaks.problem import OutletDay
from fruitcast.soaks.sale_days import with_promised
from fruitcast.soaks.search import SearchParams
from fruitcast.soaks.soak_days import Fixed
from tests.hindcast.small_yard import TODAY, small_yard

QUICK = SearchParams(moves=2000, moves_a_stack=0)
WEEKS = 10


def test_logs_that_do_not_bear_then_are_a_rule_too() -> None:
    fixed = Fixed({"A": 3, "B": 5}, {"C": "you are away on that day"}, np.zeros(9, dtype=bool))
    left = fixed.without(["B"])
    assert left.kept == {"A": 3}
    assert left.refused == {
        "B": "its logs are not expected to bear then",
        "C": "you are away on that day",
    }


def test_a_promise_counts_more_than_what_is_only_wanted() -> None:
    sales = (OutletDay("Stall", 5, 4.0, 1.0), OutletDay("Stall", 12, 4.0, 1.0))
    promised = [
        ("Stall", TODAY + timedelta(days=5), 2.0),
        ("Stall", TODAY + timedelta(days=12), 6.0),
        ("Wedding", TODAY + timedelta(days=12), 1.0),
        ("Stall", TODAY + timedelta(days=90), 1.0),
    ]
    assert with_promised(sales, promised, TODAY, 30, promised_weight=3.0) == (
        OutletDay("Stall", 5, 4.0, 2.0),
        OutletDay("Stall", 12, 6.0, 3.0),
        OutletDay("Wedding", 12, 1.0, 3.0),
    )
    assert with_promised(sales, (), TODAY, 30, promised_weight=3.0) == sales


@pytest.mark.parametrize(
    ("cost", "words"),
    [
        (WordCost(kg=0.4, outlet="Stall", on=date(2027, 6, 5), outlet_kg=0.3), "mostly"),
        (WordCost(kg=0.04, outlet="", on=None, outlet_kg=0.0), "nothing to speak of."),
        (WordCost(kg=-0.4, outlet="", on=None, outlet_kg=0.0), "It brings about 400 g more."),
        (
            WordCost(kg=0.4, outlet="table", on=date(2027, 6, 5), outlet_kg=0.3),
            "less in the week before Sat 5 Jun.",
        ),
    ],
)
def test_what_a_word_costs_is_a_sentence(cost: WordCost, words: str) -> None:
    assert words in cost_words(cost, "metric")


def test_what_a_decision_costs_is_what_the_yard_would_sell_more_without_it() -> None:
    free = small_yard(3, WEEKS)
    rich = make_plan(free, weeks=WEEKS).document
    assert rich.decisions == ()
    name = max(rich.soaks, key=lambda soak: soak.expected_kg).stack
    state = replace(free.state.stacks[name], held_since=TODAY)
    held = replace(free, state=replace(free.state, stacks={**free.state.stacks, name: state}))
    poor = make_plan(held, weeks=WEEKS).document
    (decision,) = poor.decisions
    assert (decision.kind, decision.stack, decision.kept) == ("hold", name, True)
    assert rich.objective and poor.objective and decision.cost_kg
    more = poor.objective.shortfall - rich.objective.shortfall
    assert decision.cost_kg == pytest.approx(more, rel=0.25)
    assert decision.most is not None and decision.most.kg <= decision.cost_kg
    assert "kept out of the tank this season. It costs about" in decision.words


@pytest.mark.parametrize(("on_hand", "likely"), [(1.5, "only 1.5 kg"), (0.0, "none")])
def test_a_promise_that_is_too_unlikely_says_how_much_is_likely_enough(
    on_hand: float, likely: str
) -> None:
    known = small_yard(2, WEEKS)
    first = make_plan(known, weeks=WEEKS, params=QUICK).document.outlets[0]
    yard = replace(known.yard, units="metric")
    given = ((first.outlet, first.on, 5.0),)
    stock = ((first.on - timedelta(days=2), on_hand),) if on_hand else ()
    state = replace(known.state, promised=given, stock=stock)
    promised = replace(known, yard=yard, state=state)
    document = make_plan(promised, weeks=WEEKS, params=QUICK).document
    (decision,) = document.decisions
    said = f"{likely} of it is likely enough"
    assert not decision.kept
    assert decision.words.endswith(f"{said[:1].upper()}{said[1:]}: tell them in time.")
    assert said in document.warnings[0]


def test_a_decision_that_a_rule_forbids_is_not_kept_and_has_no_cost() -> None:
    known = small_yard(2, WEEKS)
    name = next(iter(known.state.stacks))
    state = replace(known.state.stacks[name], fixed=(TODAY + timedelta(days=400), None))
    far = replace(known, state=replace(known.state, stacks={**known.state.stacks, name: state}))
    (decision,) = make_plan(far, weeks=WEEKS, params=QUICK).document.decisions
    assert not decision.kept and decision.cost_kg is None and decision.most is None
    assert decision.words.endswith("It can't be kept.")
