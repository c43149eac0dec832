"""Learning all parts of a yield at once, held against sums written down in other ways."""

from __future__ import annotations

import numpy as np
import pytest

from fruitcast.biology.spread import (
    expected_factor,
    failure_shape,
    learn,
    update,
)
from fruitcast.numbers import default_numbers

FLUSH = 0.25**2
PRIOR = np.array([0.30, 0.15, 0.15, 0.15, 0.15, 0.15, 0.20, 0.20]) ** 2
"""Yard, two classes, three stacks, two seasons."""


def diary(flushes: int, seed: int = 3) -> np.ndarray:
    """Which parts have a share in each flush: stacks 0 and 1 of class 0, stack 2 of class 1."""
    rng = np.random.default_rng(seed)
    shares = np.zeros((flushes, 8))
    stacks, seasons = rng.integers(0, 3, flushes), rng.integers(0, 2, flushes)
    shares[:, 0] = 1
    shares[np.arange(flushes), 1 + (stacks == 2)] = 1
    shares[np.arange(flushes), 3 + stacks] = 1
    shares[np.arange(flushes), 6 + seasons] = 1
    return shares


def conditioned(shares: np.ndarray, deviations: np.ndarray, flush: float | np.ndarray = FLUSH):
    """The same by the joint normal of parts and flushes, conditioned on the flushes.

    Eaton, M. L., Multivariate Statistics: a Vector Space Approach, 1983 (from memory): the
    mean of x given y is C_xy C_yy^-1 y, its covariance C_xx - C_xy C_yy^-1 C_yx.
    """
    joint = np.zeros((len(PRIOR) + len(shares),) * 2)
    both = np.vstack([np.eye(len(PRIOR)), shares])
    joint = both @ np.diag(PRIOR) @ both.T
    joint[len(PRIOR) :, len(PRIOR) :] += flush * np.eye(len(shares))
    cross, seen = joint[: len(PRIOR), len(PRIOR) :], joint[len(PRIOR) :, len(PRIOR) :]
    mean = cross @ np.linalg.solve(seen, deviations)
    return mean, np.diag(PRIOR) - cross @ np.linalg.solve(seen, cross.T)


@pytest.mark.parametrize("flushes", [1, 7, 60])
def test_the_update_is_the_joint_normal_conditioned_on_the_flushes(flushes):
    shares = diary(flushes)
    deviations = np.random.default_rng(flushes).normal(0, 0.4, flushes)
    mean, covariance = update(shares, deviations, prior_variance=PRIOR, flush_variance=FLUSH)
    other_mean, other_covariance = conditioned(shares, deviations)
    assert mean == pytest.approx(other_mean, abs=1e-12)
    assert covariance == pytest.approx(other_covariance, abs=1e-12)


def test_one_part_alone_is_the_textbook_s_normal_mean():
    """The conjugate normal: Gelman et al., Bayesian Data Analysis, section 2.5, from memory.

    Prior mean 0 and variance v, n observations of variance s: the mean is n v / (n v + s) of
    theirs and the variance v s / (n v + s).
    """
    seen = np.array([0.1, 0.4, 0.25])
    mean, covariance = update(
        np.ones((3, 1)), seen, prior_variance=np.array([0.09]), flush_variance=0.04
    )
    assert mean[0] == pytest.approx(seen.mean() * 3 * 0.09 / (3 * 0.09 + 0.04))
    assert covariance[0, 0] == pytest.approx(0.09 * 0.04 / (3 * 0.09 + 0.04))


def test_the_order_of_the_flushes_is_nothing_and_one_by_one_is_the_same():
    shares, deviations = diary(12), np.random.default_rng(1).normal(0, 0.4, 12)
    once = update(shares, deviations, prior_variance=PRIOR, flush_variance=FLUSH)
    turned = update(shares[::-1], deviations[::-1], prior_variance=PRIOR, flush_variance=FLUSH)
    mean, covariance = np.zeros(8), np.diag(PRIOR)
    for share, deviation in zip(shares, deviations, strict=True):
        gain = covariance @ share / (share @ covariance @ share + FLUSH)
        mean = mean + gain * (deviation - share @ mean)
        covariance = covariance - np.outer(gain, share @ covariance)
    for found in (turned, (mean, covariance)):
        assert found[0] == pytest.approx(once[0], abs=1e-12)
        assert found[1] == pytest.approx(once[1], abs=1e-12)


def test_a_stack_learns_from_its_neighbours_by_what_they_share():
    shares = diary(40)
    stack_0 = shares[:, 3] == 1
    deviations = np.full(stack_0.sum(), 0.5)
    mean, _ = update(shares[stack_0], deviations, prior_variance=PRIOR, flush_variance=FLUSH)
    own, same_class, other_class = mean[[0, 1, 3]].sum(), mean[[0, 1, 4]].sum(), mean[[0, 2, 5]]
    assert own > same_class > other_class.sum() > 0
    # Each part takes its share of the difference by its variance.
    assert mean[0] / mean[1] == pytest.approx(0.30**2 / 0.15**2)


def test_a_part_without_variance_stays_where_it_is():
    fixed = PRIOR.copy()
    fixed[0] = 0.0
    shares = diary(5)
    mean, covariance = update(shares, np.ones(5), prior_variance=fixed, flush_variance=FLUSH)
    assert mean[0] == 0 and not covariance[0].any() and mean[1] > 0


def learned(observed, confirmed=False, shares=None, expected=0.2):
    shares = diary(len(observed)) if shares is None else shares
    return learn(
        shares,
        observed,
        np.broadcast_to(expected, len(observed)),
        confirmed,
        prior_variance=PRIOR,
        flush_variance=FLUSH,
        question_at=3.0,
    )


def factors(found, shares):
    return expected_factor(
        shares, mean=found.mean, covariance=found.covariance, prior_variance=PRIOR
    )


def test_nothing_picked_leaves_every_factor_at_one():
    found = learned(np.zeros(0))
    assert factors(found, diary(6)) == pytest.approx(1.0)
    assert not found.mean.any() and np.diag(found.covariance) == pytest.approx(PRIOR)


def test_many_flushes_find_the_yard_s_own_factor():
    """Flushes drawn by the model itself, 0.7 of the table: their mean is found again."""
    rng = np.random.default_rng(4)
    shares = diary(400)
    scatter = np.exp(0.25 * rng.standard_normal(400) - FLUSH / 2)
    found = learned(0.7 * 0.2 * scatter, shares=shares)
    assert factors(found, shares).mean() == pytest.approx(0.7, abs=0.03)


def test_one_wild_flush_is_left_out_and_the_rest_judged_anew():
    honest = 0.2 * np.exp(np.random.default_rng(2).normal(0, 0.2, 10))
    slipped = honest.copy()
    slipped[4] *= 10
    assert np.flatnonzero(~learned(slipped).counted).tolist() == [4]
    assert learned(honest).counted.all()
    assert learned(slipped, confirmed=True).counted.all()
    rest = np.arange(10) != 4
    assert learned(slipped).mean == pytest.approx(
        learned(honest[rest], shares=diary(10)[rest]).mean
    )


def test_a_flush_that_is_less_sure_counts_as_one_of_more_scatter():
    shares = diary(8)
    observed = 0.2 * np.exp(np.random.default_rng(5).normal(0, 0.3, 8))
    doubt = np.array([0.0, 0.36, 0.0, 0.09, 0.0, 1.0, 0.0, 0.36])
    found = learn(
        shares,
        observed,
        np.full(8, 0.2),
        True,
        prior_variance=PRIOR,
        flush_variance=FLUSH,
        question_at=3.0,
        doubt_variance=doubt,
    )
    # The joint normal again, with the doubt in the flush's own variance.
    deviations = np.log(observed / 0.2) + (shares @ PRIOR + FLUSH) / 2
    mean, covariance = conditioned(shares, deviations, FLUSH + doubt)
    assert found.mean == pytest.approx(mean, abs=1e-12)
    assert found.covariance == pytest.approx(covariance, abs=1e-12)


def test_the_chance_of_failure_is_the_beta_s():
    """Gelman et al., section 2.4, from memory: beta(a, b) becomes beta(a + f, b + s)."""
    spread = default_numbers().spread._replace(fails=0.05, fails_soaks=20)
    a, b = failure_shape(3, 17, spread)
    assert (a, b) == pytest.approx((1 + 3, 19 + 17))
    assert a / (a + b) == pytest.approx(0.1)


def set_aside(shares: np.ndarray, deviations: np.ndarray, at: float) -> np.ndarray:
    """Which flushes count when the furthest from what the others predict goes, one by one."""
    counted = np.ones(len(shares), dtype=bool)
    while True:
        off = np.zeros(len(shares))
        for n in np.flatnonzero(counted):
            others = counted & (np.arange(len(shares)) != n)
            mean, covariance = conditioned(shares[others], deviations[others])
            spread = np.sqrt(shares[n] @ covariance @ shares[n] + FLUSH)
            off[n] = abs(deviations[n] - shares[n] @ mean) / spread
        if off.max() <= at:
            return counted
        counted[off.argmax()] = False


def test_several_wild_flushes_go_one_by_one_each_judged_by_those_that_are_left() -> None:
    several = 0
    for seed in range(40):
        shares = diary(6, seed)
        deviations = np.random.default_rng(seed).normal(0, 0.9, 6)
        expected = set_aside(shares, deviations, 1.5)
        ratio = np.exp(deviations - (shares @ PRIOR + FLUSH) / 2)
        learned = learn(
            shares, ratio, 1.0, False, prior_variance=PRIOR, flush_variance=FLUSH, question_at=1.5
        )
        assert learned.counted.tolist() == expected.tolist()
        several += (~expected).sum() > 1
    assert several > 10
