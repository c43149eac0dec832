"""Scores of what was foretold, against cases worked out by hand."""

from __future__ import annotations

from math import isnan, sqrt

import numpy as np
import pytest

from fruitcast.diary.kept_plan import AVAILABLE, FIRST_PICK, FLUSH_WEIGHT, PROMISE, Foretold
from fruitcast.forecast.outcome_scores import (
    error_of_share,
    mean_and_error,
    ratio_and_error,
    scored,
)
from fruitcast.forecast.outcomes import Outcomes, Pair
from tests.diary.diary_samples import TODAY


def test_the_error_of_a_share_is_the_binomial_one_where_outcomes_are_independent():
    assert error_of_share(np.full(16, 0.8), range(16)) == pytest.approx(0.4 / 4)


def test_outcomes_of_one_day_count_as_one_piece_of_luck():
    assert error_of_share(np.full(16, 0.8), [1] * 16) == pytest.approx(0.4)
    # Groups of three and one: the root of 0.16 (9 + 1), over four.
    assert error_of_share(np.full(4, 0.8), [1, 1, 1, 2]) == pytest.approx(sqrt(1.6) / 4)


def test_chances_of_their_own_make_up_the_error_of_a_sum():
    chance = np.array([0.5, 0.1, 1.0])
    assert 3 * error_of_share(chance, "abc") == pytest.approx(sqrt(0.25 + 0.09))


def test_the_error_of_a_share_is_what_simulated_luck_makes_of_it():
    rng = np.random.default_rng(5)
    days = np.repeat(np.arange(12), 3)
    came = (rng.random((20_000, 12)) < 0.8)[:, days].mean(axis=1)
    assert came.std() == pytest.approx(error_of_share(np.full(36, 0.8), days.tolist()), rel=0.03)


def test_a_mean_and_its_error():
    mean, error = mean_and_error(np.array([1.0, 2.0, 6.0]), "abc")
    # The textbook's: the root of 14 / 2, over the root of three.
    assert (mean, error) == pytest.approx((3.0, sqrt(7.0 / 3.0)))
    mean, error = mean_and_error(np.array([1.0, 2.0, 6.0]), "aab")
    # Sums about the mean are -3 and 3.
    assert (mean, error) == pytest.approx((3.0, sqrt(2 * 18) / 3))
    assert isnan(mean_and_error(np.array([1.0, 2.0]), "aa")[1])
    assert isnan(mean_and_error(np.array([]), "")[0])


def test_a_ratio_and_its_error():
    ratio, error = ratio_and_error(np.array([2.0, 4.0]), np.array([1.0, 5.0]), "ab")
    # Six came of six; the residuals are -1 and 1.
    assert (ratio, error) == pytest.approx((1.0, sqrt(2 * 2) / 6))
    assert all(map(isnan, ratio_and_error(np.zeros(3), np.ones(3), "abc")))


def test_the_error_of_a_ratio_is_what_simulated_luck_makes_of_it():
    rng = np.random.default_rng(6)
    told = np.linspace(1.0, 3.0, 40)
    came = told * rng.normal(0.8, 0.3, (4_000, 40))
    ratios, errors = np.transpose([ratio_and_error(told, row, range(40)) for row in came])
    assert ratios.mean() == pytest.approx(0.8, abs=0.01)
    assert ratios.std() == pytest.approx(np.sqrt((errors**2).mean()), rel=0.1)


def pick(day: int, came: float) -> Pair:
    return Pair(Foretold(FIRST_PICK, "A", f"2027-05-{day:02d}", 8, 10, 14), came)


def test_first_picks_in_their_range_early_and_late():
    days = [7.0, 8.0, 10.0, 14.0, 15.0, 12.0]
    rows = [pick(number + 1, came) for number, came in enumerate(days)]
    (row,) = scored(Outcomes({(FIRST_PICK, 1): rows}, 0), TODAY, None).first_picks
    assert (row.days_before_from, row.days_before_to, row.outcomes) == (8, 14, 6)
    assert (row.inside, row.below, row.above) == (4, 1, 1)
    assert row.expected_inside == pytest.approx(4.8)
    assert row.standard_error == pytest.approx(sqrt(6 * 0.16))
    assert row.days_late == pytest.approx(1.0)


def test_under_five_outcomes_no_figure_is_given():
    rows = [pick(number + 1, 10.0) for number in range(4)]
    four = scored(Outcomes({(FIRST_PICK, 0): rows}, 0), TODAY, None).first_picks[0]
    assert not four.enough and four.days_late is None and four.standard_error is None
    five = scored(Outcomes({(FIRST_PICK, 0): [*rows, pick(9, 10.0)]}, 0), TODAY, None)
    assert five.first_picks[0].enough and five.first_picks[0].days_late == 0.0


def test_weights_of_flushes_that_came_are_held_against_their_range():
    told = [
        Foretold(FLUSH_WEIGHT, "A", f"2027-05-0{n}", p10=1.0, p90=3.0, mean=2.0)
        for n in range(1, 8)
    ]
    came = [0.0, 0.5, 1.0, 2.0, 3.0, 3.004, 3.1]
    rows = [Pair(*each) for each in zip(told, came, strict=True)]
    rows.append(Pair(Foretold(FLUSH_WEIGHT, "A", "2026-05-01", mean=2.0), 9.0))  # of before ranges
    (found,) = scored(Outcomes({(FLUSH_WEIGHT, 1): rows}, 0), TODAY, None).weight_ranges
    # What brought nothing is out of no range: the chance of that is told by itself.
    assert (found.outcomes, found.inside, found.below, found.above) == (6, 4, 1, 1)
    assert found.expected_inside == pytest.approx(4.8)


def test_weights_promises_and_what_was_on_hand():
    day = "2027-05-0{}".format
    weights = [Pair(Foretold(FLUSH_WEIGHT, "A", day(n), mean=2.0), 1.5) for n in range(1, 7)]
    promised = [
        Pair(Foretold(PROMISE, "Inn", day(n), least=least, chance=0.8), came)
        for n, (least, came) in enumerate([(4, 5), (4, 4), (4, 3.996), (4, 3.9), (0, 0), (4, 9)])
    ]
    stock = [
        Pair(Foretold(AVAILABLE, "Inn", day(n), p10=3, p90=6, least=4, chance=0.7), came)
        for n, came in enumerate([2.9, 3, 6, 6.2, 4])
    ]
    pairs = {(FLUSH_WEIGHT, 0): weights, (PROMISE, 0): promised, (AVAILABLE, 2): stock}
    found = scored(Outcomes(pairs, 2), TODAY, None)
    (weight,), (promise,), (hand,) = found.weights, found.promises, found.on_hand
    assert (weight.foretold_kg, weight.picked_kg) == (12.0, 9.0)
    assert weight.picked_for_each_kg == pytest.approx(0.75)
    assert weight.standard_error == pytest.approx(0.0, abs=1e-12)
    # A promise of nothing is none; 4 g are lost in rounding.
    assert (promise.outcomes, promise.came, promise.expected) == (5, 4, pytest.approx(4.0))
    assert promise.missing_kg == pytest.approx(0.104)
    assert (hand.inside, hand.below, hand.above) == (3, 1, 1)
    assert found.silent_soaks == 2
