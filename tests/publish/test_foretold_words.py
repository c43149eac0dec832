"""What the yard says of the model, in a grower's words."""

from __future__ import annotations

import pytest

from fruitcast.forecast.outcome_scores import scored
from fruitcast.forecast.outcomes import Outcomes, Pair
from fruitcast.publish.foretold_words import TOO_FEW, foretold_lines, foretold_rows
from fruitcast.publish.yield_words import yield_words
from fruitcast.yard.foretold import FIRST_PICK, PROMISE, Foretold
from tests.yard.diary_samples import TODAY


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
    assert yield_words(0.8, 4).startswith("Only 4 flushes in the diary are over: too few")
    assert yield_words(0.8, 1).startswith("Only one flush in the diary is over: too few")
    assert yield_words(None, 0).startswith("No flush in the diary is over: too few")


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
