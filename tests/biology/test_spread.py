"""Multipliers of mean one and balanced scores, beside the tables of the normal distribution."""

from __future__ import annotations

import numpy as np
import pytest

from fruitcast.biology.spread import balanced, evened, log_scatter, multiplier, normal_scores, root


def test_multipliers_have_mean_one_and_the_stated_spread():
    draws = np.random.default_rng(3).standard_normal(200_000)
    scatter = multiplier(draws, log_scatter(0.35))
    assert scatter.mean() == pytest.approx(1, abs=0.003)
    assert scatter.std() == pytest.approx(0.35, abs=0.005)
    assert multiplier(draws[:5], 0.0).tolist() == [1] * 5
    assert log_scatter(0.0) == 0


def test_normal_scores_are_the_table_s_quantiles():
    """Any table has 1.95996, 1.43953 and 0.06271 for chances of 0.975, 0.925 and 0.525."""
    scores = normal_scores(20)
    assert scores.mean() == pytest.approx(0, abs=1e-15) and scores.std() == pytest.approx(1)
    stretch = scores[-1] / 1.95996
    assert 1 < stretch < 1.05
    assert scores[[18, 10, 0]] == pytest.approx(
        np.array([1.43953, 0.06271, -1.95996]) * stretch, abs=1e-5
    )
    assert normal_scores(1).tolist() == [0.0]


def test_balanced_draws_have_the_covariance_asked_for_whatever_the_order():
    wanted = np.array([[0.13, 0.09, 0.01], [0.09, 0.15, 0.02], [0.01, 0.02, 0.05]])
    for seed in range(4):
        rng = np.random.default_rng(seed)
        ranks = np.array([rng.permutation(30) for _ in range(3)])
        drawn = balanced(ranks, wanted)
        assert drawn.mean(axis=1) == pytest.approx(0, abs=1e-12)
        assert np.cov(drawn, bias=True) == pytest.approx(wanted, abs=1e-12)
        assert np.sort(drawn[0]) == pytest.approx(np.sort(normal_scores(30)) * np.sqrt(0.13))


def test_a_sum_known_to_be_sure_has_no_spread():
    flat = np.array([[0.04, -0.04], [-0.04, 0.04]])
    ranks = np.array([np.arange(10), np.arange(10)[::-1]])
    assert balanced(ranks, flat).sum(axis=0) == pytest.approx(0, abs=1e-12)
    assert not balanced(ranks, np.zeros((2, 2))).any()


def test_the_root_is_that_of_cholesky():
    random = np.random.default_rng(5).standard_normal((6, 6))
    square = random @ random.T
    assert root(square) == pytest.approx(np.linalg.cholesky(square))


def test_evened_draws_keep_their_order_and_lose_their_chance():
    draws = np.random.default_rng(1).standard_normal((5, 30))
    even = evened(draws)
    assert (np.argsort(even, axis=1) == np.argsort(draws, axis=1)).all()
    assert np.sort(even, axis=1) == pytest.approx(np.tile(normal_scores(30), (5, 1)))
    copies = np.repeat(draws[:, :1], 10, axis=1)
    assert (evened(copies) == copies).all()
