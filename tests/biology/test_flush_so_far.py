"""A flush inferred from its baskets, held against the same sum by brute force and by hand."""

from __future__ import annotations

from itertools import pairwise, product
from math import exp, log, sqrt
from statistics import NormalDist

import numpy as np
import pytest

from fruitcast.biology.picking import size_belief, start_weights, still_to_come

STARTS = np.arange(-2, 7)
SHAPE = np.array([0.1, 0.25, 0.3, 0.2, 0.1, 0.05])
MEMBERS = 60
CHANCES = (np.arange(MEMBERS) + 0.5) / MEMBERS


def near(starts=STARTS, tau=2.0):
    return np.repeat(np.exp(-np.abs(starts) / tau)[:, None], MEMBERS, axis=1)


def come(days, kg, table=6.0, spread=0.35, most=20.0, weights=None, chances=CHANCES):
    return still_to_come(
        np.array(days),
        np.array(kg, dtype=float),
        np.full((1, MEMBERS), table),
        np.repeat(SHAPE[:, None], MEMBERS, axis=1),
        STARTS,
        near() if weights is None else weights,
        chances,
        size=(-(spread**2) / 2, spread),
        basket_log_sd=0.5,
        stray=0.02,
        most=most,
    )


def by_hand(days, kg, table=6.0, spread=0.35, most=20.0) -> float:
    """The mean still to come: every weight and start, one by one, in plain sums."""
    total = weight = 0.0
    picked = sum(kg)
    for n, start in product(range(2000), STARTS.tolist()):
        left = (most - picked) * exp(-11.5 * (n + 0.5) / 2000)
        ripe = [0.0] + [sum(SHAPE[: max(day - start + 1, 0)]) for day in days]
        since = [max(b - a, 0.02) for a, b in pairwise(ripe)]
        rest = SHAPE[max(days[-1] - start + 1, 0) :]
        later = max(sum(rest), 0.02)
        past_share = sum(x * x for x in since) / sum(since) ** 2
        rest_share = sum(x * x for x in rest) / later**2 if sum(rest) > 0.02 else 1.0
        sd = 0.5 * sqrt(past_share + rest_share)
        chance = exp(-abs(start) / 2.0)
        chance *= NormalDist(log(later / sum(since)), sd).pdf(log(left / picked))
        chance *= NormalDist(log(table) - spread**2 / 2, spread).pdf(log(picked + left))
        offs = [log(basket / share) for basket, share in zip(kg, since, strict=True)]
        middle = sum(offs) / len(offs)
        chance *= exp(-0.5 * sum((off - middle) ** 2 for off in offs) / 0.5**2)
        total += chance * left
        # Where no more than a stray share is left, nothing at all is as likely.
        weight += chance * (2 if later <= 0.02 else 1)
    return total / weight


@pytest.mark.parametrize(
    ("days", "kg"), [([0], [0.3]), ([0], [1.2]), ([0, 2], [0.5, 2.0]), ([0, 1, 4], [0.4, 3.0, 2.0])]
)
def test_the_mean_is_that_of_plain_sums(days, kg):
    assert come(days, kg).kg.mean() == pytest.approx(by_hand(days, kg), rel=0.02)


def test_a_small_first_basket_is_mostly_early_a_big_one_is_no_promise_of_ten():
    small, usual, big = (come([0], [kg]).kg.mean() for kg in (0.05, 0.6, 4.0))
    assert 2.0 < small < usual
    assert big < 12.0


def test_baskets_use_the_flush_up():
    days, kg, left = [], [], []
    for day, share in enumerate(SHAPE):
        days.append(day)
        kg.append(6.0 * share)
        left.append(come(days, kg).kg.mean())
    assert left == sorted(left, reverse=True)
    assert left[-1] < 0.6 and left[2] == pytest.approx(6.0 * SHAPE[3:].sum(), rel=0.35)


def test_ranges_hold_in_flushes_drawn_as_they_are_believed() -> None:
    """Sizes and baskets drawn anew: the 80 % range holds the flush about as often as it says."""
    random = np.random.default_rng(8)
    for picked_days in (2, 4):
        held = []
        for _ in range(400):
            whole = 6.0 * exp(0.35 * random.standard_normal() - 0.35**2 / 2)
            uneven = SHAPE * np.exp(0.5 * random.standard_normal(len(SHAPE)))
            baskets = whole * uneven / uneven.sum()
            only = near() * 1e-12
            only[STARTS == 0] = 1.0
            kg = baskets[:picked_days].tolist()
            found = come(list(range(picked_days)), kg, weights=only)
            low, high = np.quantile(found.kg, (0.1, 0.9))
            held.append(low <= baskets[picked_days:].sum() <= high)
        assert 0.74 < np.mean(held) < 0.86, picked_days


def test_nothing_goes_beyond_what_such_logs_can_give():
    for kg in (0.3, 1.2, 4.0, 5.0):
        found = come([0], [kg], most=10.0)
        assert (found.kg >= 0).all() and (found.kg + kg).max() <= 10.0 + 1e-9


def test_logs_that_gave_more_than_such_logs_can_are_not_taken_to_be_done():
    """Day three of six, with more in the baskets than the table's most: the rest still comes."""
    found = come([0, 1, 2], [2.0, 5.0, 6.0], most=10.0)
    assert 3.0 < np.median(found.kg) < 10.0
    assert found.kg.max() <= 13.0 + 1e-9


def test_a_flush_that_should_be_over_is_as_likely_over() -> None:
    days, kg = list(range(len(SHAPE))), (6.0 * SHAPE).tolist()
    only = near() * 1e-12
    only[STARTS == 0] = 1.0
    found = come(days, kg, weights=only).kg
    assert (found == 0).mean() == pytest.approx(0.5, abs=0.02)
    assert found.max() < 0.1 * sum(kg)
    assert (come(days[:4], kg[:4], weights=only).kg > 0).all()


def test_the_order_of_members_moves_nothing_but_their_order():
    turned = come([0, 1], [0.5, 1.0], chances=CHANCES[::-1])
    assert turned.kg[::-1].tolist() == come([0, 1], [0.5, 1.0]).kg.tolist()


def test_a_count_of_pins_narrows_the_size():
    assert size_belief(0.4, counted_ratio=None, count_log_sd=0.5) == pytest.approx((-0.08, 0.4))
    mean, spread = size_belief(0.4, counted_ratio=0.5, count_log_sd=0.4)
    # Two normals of one variance: halfway, with half the variance.
    assert mean == pytest.approx((log(0.5) - 0.08) / 2)
    assert spread == pytest.approx(0.4 / sqrt(2))


def test_a_beginning_far_from_the_table_s_warmth_is_doubted_not_denied():
    warmth = np.repeat(np.array([[40.0], [100.0], [180.0]]), 2, axis=1)
    weights = start_weights(
        np.zeros(3, dtype=int), warmth, np.full(2, 100.0), log_sd=0.15, near_days=2.0, doubt=0.02
    )
    assert weights[1] == pytest.approx(1.0, abs=0.01)
    assert weights[0] == pytest.approx(0.02, abs=0.001) and (weights[2] < 0.05).all()


def test_each_member_is_told_by_its_own_table():
    """Half of the members have a table of 3 kg, half of 9: the same as each half alone."""
    own = np.where(np.arange(MEMBERS) < MEMBERS // 2, 3.0, 9.0)
    found = come([0, 2], [1.0, 1.5], table=own)
    for part, table in ((slice(None, MEMBERS // 2), 3.0), (slice(MEMBERS // 2, None), 9.0)):
        alone = come([0, 2], [1.0, 1.5], table=table)
        assert found.kg[part].tolist() == alone.kg[part].tolist()
    assert found.kg[MEMBERS // 2 :].mean() > found.kg[: MEMBERS // 2].mean()
