"""fruitcast foretold: a yard that planned, soaked, picked and sold for some weeks."""

from __future__ import annotations

import json

import pytest
from jsonschema import Draft202012Validator

from tests.cli.running import TODAY, done
from tests.diary.lived import live_through


@pytest.fixture
def lived(small):
    """Six soaks of A, each told 12 and 3 days before its middle day; the last comes 3 days late."""
    return live_through(small)


def test_a_season_is_held_against_what_was_told_at_the_time(lived):
    ran = done("--yard", lived, "--today", "2027-03-01", "foretold", "--json")
    schema = json.loads(done("foretold", "--json-schema").out)
    assert [*Draft202012Validator(schema).iter_errors(ran.document)] == []
    near, far = ran.document["first_picks"]
    assert (near["days_before_to"], far["days_before_to"]) == (7, 14)
    for row in (near, far):
        assert (row["outcomes"], row["inside"], row["above"]) == (6, 5, 1)
        assert row["days_late"] == pytest.approx(0.5)
    foretold = [row["foretold_kg"] for row in ran.document["weights"]]
    assert foretold == [18.0, 24.0]
    assert {row["picked_kg"] for row in ran.document["weights"]} == {12.0}


def test_it_is_told_in_words(lived):
    said = " ".join(done("--yard", lived, "--today", "2027-03-01", "foretold").out.split())
    assert "Of 6 first picks 5 came on the days told up to a week before; 5 should" in said
    assert "67% of what was told" in said and "50% of what was told" in said


def test_the_days_to_come_are_not_known_yet(lived):
    ran = done("--yard", lived, "--today", "2026-08-01", "foretold", "--json")
    assert {row["outcomes"] for row in ran.document["first_picks"]} == {2}
    said = done("--yard", lived, "--today", "2026-08-01", "foretold").out
    assert "too few to say" in said


def test_a_yard_without_a_diary_says_that_there_is_nothing_yet(small):
    said = done("--yard", small, "--today", TODAY, "foretold").out
    assert "too few" in said and "once there is a plan" in said
