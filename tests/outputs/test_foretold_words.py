"""What the yard says of the model, in a grower's words."""

from __future__ import annotations

from datetime import date

import pytest

from fruitcast.app.changed_model import Before, Model, learned_change
from fruitcast.diary.kept_plan import FIRST_PICK, PROMISE, Foretold
from fruitcast.diary.plan import LearnedChange
from fruitcast.forecast.outcome_scores import scored
from fruitcast.forecast.outcomes import Outcomes, Pair
from fruitcast.outputs.evidence_words import TOO_FEW, foretold_lines, foretold_rows
from fruitcast.outputs.plan_words import learned_change_words, yield_words
from tests.diary.diary_samples import TODAY
from tests.outputs.sample_plan import plan


@pytest.mark.parametrize(
    ("factor", "said"),
    [
        (0.80, "Your logs bear about a fifth less than the table; the plan reckons with it."),
        (0.66, "Your logs bear about a third less than the table; the plan reckons with it."),
        (1.12, "Your logs bear about a tenth more than the table; the plan reckons with it."),
        (0.97, "Your logs bear about what the table says."),
        (1.9, "Your logs bear about 1.9 times what the table says; the plan reckons with it."),
    ],
)
def test_how_the_logs_bear(factor, said):
    assert yield_words(factor, 5) == said


def test_a_few_flushes_say_nothing():
    assert yield_words(0.8, 4).endswith("the diary has only 4 whole flushes of them.")
    assert yield_words(0.8, 1).endswith("the diary has only one whole flush of them.")
    assert yield_words(None, 0).startswith(
        "How your logs bear isn't known yet: the diary has no whole flush"
    )


def outcomes(number: int) -> Outcomes:
    picks = [
        Pair(Foretold(FIRST_PICK, "A", f"2027-05-{n + 1:02d}", 8, 10, 14), 10.0 + 2 * n)
        for n in range(number)
    ]
    promises = [
        Pair(Foretold(PROMISE, "Inn", f"2027-05-{n + 1:02d}", least=2.0, chance=0.8), 1.0 + n)
        for n in range(number)
    ]
    return Outcomes({(FIRST_PICK, 0): picks, (PROMISE, 2): promises}, 1)


def test_first_picks_and_promises_in_sentences_and_rows():
    found = scored(outcomes(6), TODAY, None)
    _, picks, promises, silent = foretold_lines(found, "us")
    assert picks == (
        "Of 6 first picks 3 came on the days told up to a week before; 5 should; on the whole "
        "5.0 days late."
    )
    assert promises == "Of 6 promises made 2 to 4 weeks before 5 were kept; 5 should."
    assert silent.startswith("Of 1 soak the diary tells nothing")
    rows = foretold_rows(found, "us").rows
    # The root of 6 x 0.16 is 0.98.
    assert rows[0][:5] == (
        "First picks",
        "up to a week",
        "6",
        "3 in range",
        "4.8, give or take 1.0",
    )
    assert rows[0][5].startswith("0 early, 3 late; on the whole 5.0 days late, give or take ")
    assert rows[1][3] == "5 kept"


def test_under_five_outcomes_it_says_that_they_are_too_few():
    found = scored(outcomes(4), TODAY, None)
    assert any(
        "too few to say how well it foretells" in line for line in foretold_lines(found, "us")
    )
    rows = foretold_rows(found, "us").rows
    assert {row[3:] for row in rows} == {(TOO_FEW, "", "")}


@pytest.mark.parametrize(
    ("factor", "flushes", "said"),
    [
        (0.58, 1, "about two fifths less than in the plan of Mon 13 May. 1 flush has ended since."),
        (1.25, 2, "about a quarter more than in the plan of Mon 13 May. 2 flushes have ended"),
        (2.0, 0, "about 2.0 times what they were in the plan of Mon 13 May. Look whether all"),
    ],
)
def test_what_was_learned_since_the_plan_before_is_said(factor, flushes, said):
    change = LearnedChange(since=date(2019, 5, 13), factor=factor, flushes=flushes)
    assert said in learned_change_words(change, change.since)
    assert learned_change_words(None, date(2027, 5, 3)) == ""


def learned(factor: float, flushes: int = 1, tree: str = "beech"):
    return {
        "strain_class": "wide-range",
        "tree": tree,
        "flushes": flushes,
        "yield_factor": factor,
        "kg_per_log_before": 0.2,
        "kg_per_log_after": 0.2 * factor,
        "lead_flushes": 0,
        "lead_factor": 1.0,
        "lead_degree_days_before": 100.0,
        "lead_degree_days_after": 100.0,
        "asked": 0,
    }


@pytest.mark.parametrize(
    ("was", "now", "factor", "ended"),
    [
        ([], [learned(0.5)], 0.5, 1),
        ([learned(0.5)], [learned(1.0, 3)], 2.0, 2),
        ([learned(0.9)], [learned(0.93, 2)], None, 0),
        ([learned(0.9)], [learned(0.9), learned(0.4, tree="birch")], None, 0),
        ([], [], None, 0),
    ],
)
def test_a_learned_change_is_told_from_a_tenth_on(was, now, factor, ended):
    model = Model(version="1", numbers={}, own=())
    before = Before(plan(learned=was), model, same_inputs=False)
    change = learned_change(before, plan(learned=now))
    if factor is None:
        assert change is None
        return
    assert change is not None
    assert change.factor == pytest.approx(factor)
    assert change.flushes == ended
    told = Before(plan().model_copy(update={"learned_change": change}), model, same_inputs=True)
    assert learned_change(told, plan(learned=now)) == change  # planned again from the same
