"""The shared parts: what members take of them, and what fresh paths draw."""

from __future__ import annotations

import numpy as np
import pytest

from fruitcast.biology.spread import learn
from fruitcast.forecast.parts import (
    YardParts,
    leads_unknown,
    order_across,
    order_of_members,
    yield_case,
    yields_unknown,
)
from tests.forecast.yards import NUMBERS, stack

SPREAD = NUMBERS.spread
STACKS = (
    stack("A"),
    stack("B", logs=48),
    stack("C", tree="beech", logs=30),
    stack("D", strain_class="cold-weather", logs=18),
)
LOGS = np.array([row.logs for row in STACKS], dtype=float)
YEARS = tuple(range(1996, 2026))


def parts(yields=None) -> YardParts:
    return YardParts(
        yields or yields_unknown(SPREAD),
        leads_unknown(SPREAD),
        (1.0, 19.0),
        STACKS,
        LOGS / LOGS.sum(),
        (2027, 2028),
    )


def taught():
    """Sixty flushes of A and B in 2027, at two thirds of the table."""
    cases = [yield_case(STACKS[n % 2], 2027) for n in range(60)]
    known = yields_unknown(SPREAD).including(cases)
    scatter = np.exp(0.2 * np.random.default_rng(5).standard_normal(60))
    return known.knowing(
        learn(
            known.shares(cases),
            0.2 * scatter * 2 / 3,
            np.full(60, 0.2),
            True,
            prior_variance=known.variance,
            flush_variance=known.flush_variance,
            question_at=3.0,
        )
    )


@pytest.mark.parametrize("known", [None, taught()])
def test_fresh_paths_have_the_mean_and_the_spread_of_what_is_known(known):
    """Of a normal of the log with covariance V: means of the factors and their covariance."""
    made = parts(known)
    drawn = made.fresh(40_000, seed=3)
    cases = [[yield_case(row, season) for row in STACKS] for season in made.seasons]
    for n, season in enumerate(cases):
        assert drawn.yields[:, n].mean(axis=0) == pytest.approx(
            made.yields.factors(season), rel=0.02
        )
    every = [case for season in cases for case in season]
    all_known = made.yields.including(every)
    shares = all_known.shares(every)
    log = np.log(drawn.yields.reshape(40_000, -1))
    assert np.cov(log.T) == pytest.approx(shares @ all_known.covariance @ shares.T, abs=0.003)
    assert drawn.leads.mean(axis=0) == pytest.approx(np.ones(4), abs=0.005)
    assert np.log(drawn.leads).std(axis=0) == pytest.approx(np.hypot(0.10, 0.06), rel=0.03)
    assert drawn.fails.mean() == pytest.approx(0.05, rel=0.03)
    assert drawn.fails.std() == pytest.approx(np.sqrt(1 * 19 / (20**2 * 21)), rel=0.03)


def test_what_all_stacks_have_in_common_is_evenly_spread_over_few_paths():
    made = parts()
    means = []
    for seed in range(12):
        log = np.log(made.fresh(60, seed=seed).yields[:, 0])
        means.append((log @ made.share).mean())
    assert np.ptp(means) < 1e-9
    assert (made.fresh(60, 1).yields == made.fresh(60, 1).yields).all()
    assert not (made.fresh(60, 1).yields == made.fresh(60, 2).yields).any()


def test_members_take_what_is_common_and_flushes_the_rest():
    made = parts()
    weather = np.random.default_rng(2).standard_normal(30)
    shared = made.shared_yields(weather, seed=1)
    assert shared.mean(axis=1) == pytest.approx(1.0)
    lucks = made.lucks(["a", "a", "b", "c"], YEARS, 1)
    assert list(lucks) == ["a", "b", "c"]
    common = np.log(shared).var(axis=1)
    whole = 0.30**2 + 0.15**2 + 0.15**2 + 0.2**2 + 0.25**2
    # Nothing is counted twice and nothing lost, on the mean over logs.
    weight = np.array([72, 30, 18]) / 120
    own = np.array([luck.yield_log_sd**2 for luck in lucks.values()])
    assert weight @ own + common[0] == pytest.approx(whole, rel=0.01)
    assert lucks["a"].shared_log_sd == pytest.approx(np.sqrt(common[0]))
    assert all(luck.fails == pytest.approx(0.05) for luck in lucks.values())


def test_the_next_season_forgets_this_one():
    made = parts(taught())
    now, then = (
        made.yields.factors([yield_case(row, season) for row in STACKS]) for season in made.seasons
    )
    assert (now < then).all() and (then < 1).all()
    assert made.by_season[0] == 1 and made.by_season[1] == pytest.approx(
        (made.share @ then) / (made.share @ now)
    )


def test_orders_are_orders_and_go_evenly_across_the_weather():
    weather = np.random.default_rng(4).standard_normal(30)
    for seed in range(5):
        order = order_across(weather, seed, "yield")
        assert sorted(order.tolist()) == list(range(30))
        assert abs(np.corrcoef(order, weather)[0, 1]) < 0.25
        assert sorted(order_of_members(seed, YEARS, "lead").tolist()) == list(range(30))
    back = order_of_members(1, YEARS[::-1], "lead")
    assert back[::-1].tolist() == order_of_members(1, YEARS, "lead").tolist()
