"""What the yard's own picks say."""

import numpy as np
import pytest

from fruitcast.numbers import default_numbers
from fruitcast.shiitake.learning import predictive_distance
from fruitcast.shiitake.spread import log_scatter, multiplier
from tests.shiitake.by_numbers import learn_from

NUMBERS = default_numbers()
PRIOR = NUMBERS.learning.prior_flushes
SIGMA = log_scatter(NUMBERS.yields.scatter)


def learn_yield(observed, expected=0.15, confirmed=False):
    observed = np.asarray(observed, dtype=float)
    return learn_from("yield", observed, np.full(observed.shape, expected), confirmed, NUMBERS)


def test_without_a_flush_the_table_stands():
    learned = learn_yield([])
    assert learned.factor == 1
    assert learned.used == 0
    assert learned.spread_after == learned.spread_before


def test_the_update_agrees_with_bayes_on_a_grid():
    # Brute force: prior times likelihood on a fine grid of the factor's logarithm.
    observed = np.array([0.11, 0.21, 0.16])
    learned = learn_yield(observed)
    grid = np.linspace(-4, 4, 80_001)
    log_density = -(grid**2) / (2 * SIGMA**2 / PRIOR)
    for kg in observed:
        log_density -= (np.log(kg / 0.15) + SIGMA**2 / 2 - grid) ** 2 / (2 * SIGMA**2)
    density = np.exp(log_density - log_density.max())
    density /= density.sum()
    mean = (grid * density).sum()
    assert np.log(learned.factor) == pytest.approx(mean, abs=1e-6)
    spread = np.sqrt(((grid - mean) ** 2 * density).sum())
    assert learned.spread_after == pytest.approx(spread, abs=1e-6)


def test_the_pull_grows_with_the_number_of_flushes():
    factors = [learn_yield([0.20] * n).factor for n in (0, 1, 4, 40)]
    assert factors == sorted(factors)
    # With as many flushes as the table counts for, half the way on the log scale.
    assert np.log(factors[2]) == pytest.approx((np.log(0.20 / 0.15) + SIGMA**2 / 2) / 2)


def test_many_flushes_find_the_yard_s_true_factor():
    draws = np.random.default_rng(11).standard_normal(400)
    expected = np.linspace(0.08, 0.25, 400)
    observed = 0.7 * expected * multiplier(draws, NUMBERS.yields.scatter)
    learned = learn_from("yield", observed, expected, False, NUMBERS)
    assert learned.factor == pytest.approx(0.7, abs=0.04)
    assert learned.spread_after < 0.02


def test_a_slip_of_the_decimal_point_becomes_a_question():
    honest = [0.12, 0.17, 0.14, 0.16]
    learned = learn_yield([*honest, 1.5])
    assert learned.questions == (4,)
    assert learned.used == 4
    assert learned.factor == learn_yield(honest).factor


def test_a_wild_first_pick_is_asked_about_too():
    learned = learn_yield([1.5])
    assert learned.questions == (0,)
    assert learned.factor == 1


def test_confirmed_flushes_count_however_odd():
    learned = learn_yield([0.15, 1.5], confirmed=[False, True])
    assert learned.used >= 1 and 1 not in learned.questions
    assert learned.factor > 1.2


def test_one_pick_that_counts_cannot_swing_the_table_far():
    # The wildest single flush that isn't asked about.
    for kg in np.geomspace(0.01, 3, 400):
        assert 0.75 < learn_yield([kg]).factor < 1.35


def test_lead_time_has_its_own_scatter_and_prior():
    learned = learn_from("lead time", [120.0] * 4, [100.0] * 4, False, NUMBERS)
    assert learned.questions == ()
    assert learned.factor == pytest.approx(np.sqrt(1.2), abs=0.01)
    late = learn_from("lead time", [200.0], [100.0], False, NUMBERS)
    assert late.questions == (0,)


def test_the_order_of_the_flushes_does_not_matter():
    flushes = np.array([0.12, 0.17, 1.5, 0.14, 0.02, 0.16])
    one, other = learn_yield(flushes), learn_yield(flushes[::-1])
    assert one.factor == pytest.approx(other.factor)
    assert sorted(one.questions) == sorted(len(flushes) - 1 - q for q in other.questions)


def test_each_flush_is_measured_against_what_all_the_others_predict():
    # One left out at a time: the others' mean, and the spread of one more draw around it.
    deviations, prior, sigma = np.array([0.3, -0.2, 0.05, 0.9]), 4.0, 0.25
    for number, distance in enumerate(predictive_distance(deviations, prior, sigma)):
        others = np.delete(deviations, number)
        mean = others.sum() / (len(others) + prior)
        variance = sigma**2 + sigma**2 / (len(others) + prior)
        assert distance == pytest.approx(abs(deviations[number] - mean) / np.sqrt(variance))
