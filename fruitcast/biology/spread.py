"""Spread that weather doesn't explain, and what the yard's own picks teach of it.

The seeds come from outside, so that the same seed gives the same plan.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist

import numpy as np
import numpy.typing as npt

from fruitcast.arrays import BoolArray, FloatArray, IntArray
from fruitcast.topics import SpreadNumbers


def log_scatter(variation: float) -> float:
    """Return the standard deviation on the log scale that belongs to a coefficient of variation."""
    return float(np.sqrt(np.log1p(variation**2)))


def multiplier(normal: npt.ArrayLike, log_sd: npt.ArrayLike) -> FloatArray:
    """Return a log-normal multiplier of mean one for each standard normal draw.

    `log_sd` is the standard deviation of the multipliers' natural logarithm.
    """
    sigma = np.asarray(log_sd, dtype=float)
    return np.asarray(np.exp(sigma * np.asarray(normal, dtype=float) - sigma**2 / 2))


@lru_cache(maxsize=64)
def normal_scores(count: int) -> FloatArray:
    """Return the quantiles of a standard normal at the middles of equal shares of chance.

    Rising, of mean 0, stretched by a few percent to a variance of exactly 1; a single one is 0.
    """
    middle = (np.arange(count) + 0.5) / count
    scores = np.array([NormalDist().inv_cdf(p) for p in middle])
    scores = (scores - scores[::-1]) / 2  # exactly even, so that the mean is 0
    spread = scores.std()
    found = scores / spread if spread > 0 else scores
    found.flags.writeable = False
    return np.asarray(found)


def evened(draws: FloatArray) -> FloatArray:
    """Return draws in the order of others, but evenly spread over the members.

    Normal scores in the order of each row's draws, (row, member); the draws themselves where the
    members are copies of one year, all with the same draw.
    """
    order = np.argsort(np.argsort(draws, axis=1), axis=1)
    copies = np.ptp(draws, axis=1, keepdims=True) == 0
    return np.where(copies, draws, normal_scores(draws.shape[1])[order])


def balanced(ranks: IntArray, covariance: FloatArray) -> FloatArray:
    """Return balanced draws of several normals whose covariance is met exactly: (quantity, member).

    Of mean 0, by an order of the members for each quantity: 0 to members - 1, each once. The
    first is normal scores in the order of its ranks; a later one is freed of what chance likeness
    its scores have with those before, so that seeds differ in nothing but the order.
    """
    count, members = ranks.shape
    free: list[FloatArray] = []
    for row in ranks:
        scores = normal_scores(members)[row]
        for other in free:
            scores = scores - other * (scores @ other) / max(float(other @ other), 1e-12)
        spread = scores.std()
        free.append(scores / spread if spread > 1e-9 else np.zeros(members))
    return np.asarray(root(covariance) @ np.array(free).reshape(count, members))


def root(covariance: FloatArray) -> FloatArray:
    """Return a lower triangle whose product with its transpose is a covariance, even a flat one."""
    size = len(covariance)
    found = np.zeros((size, size))
    for j in range(size):
        rest = covariance[j:, j] - found[j:, :j] @ found[j, :j]
        if rest[0] > 1e-14:
            found[j:, j] = rest / np.sqrt(rest[0])
    return found


# What the yard's own picks say: all parts of a yield or a lead time learned at once.
#
# Why a flush gives more or less than the table has several causes that flushes share: the yard,
# its strain class on its tree, the stack, the season; what is left is the flush's own. On the
# log scale they add up, so every flush of the diary tells a little of each cause, and one exact
# normal update takes all flushes together. A flush too far from what the others say, such as a
# slip of the decimal point, becomes a question and is left out until the grower confirms it.


@dataclass(frozen=True)
class PartsLearned:
    """What is known of all parts together: a normal of as many dimensions."""

    mean: FloatArray  # (part,): of the logarithm of each part, its prior mean being 0 [unitless]
    covariance: FloatArray  # (part, part): [unitless]
    # (flush,): which flushes were learned from; the others should be asked about
    counted: BoolArray


def update(
    shares: FloatArray, deviations: FloatArray, *, prior_variance: FloatArray, flush_variance: float
) -> tuple[FloatArray, FloatArray]:
    """Return mean and covariance of all parts after some flushes: (part,) and (part, part).

    `shares` are 1 where a part has a share in a flush, else 0, (flush, part); `deviations` observed
    minus expected on the log scale, (flush,). Each part's prior has the mean 0 and its variance,
    (part,), of which 0 holds it there; what is the flush's own varies too, above 0.

    The normal equations of the linear model with a normal prior, scaled by the prior's
    standard deviations so that a part of no variance needs no case of its own.
    """
    spread = np.sqrt(prior_variance)
    scaled = shares * spread
    inner = np.eye(len(spread)) + scaled.T @ scaled / flush_variance
    covariance = spread[:, None] * np.linalg.inv(inner) * spread
    mean = covariance @ (shares.T @ deviations) / flush_variance
    return mean, (covariance + covariance.T) / 2


def _distance(residual: FloatArray, leverage: FloatArray, flush_variance: float) -> FloatArray:
    left = np.maximum(1 - leverage, 1e-12)
    return np.asarray(np.abs(residual) / np.sqrt(flush_variance * left))


def learn(
    shares: npt.ArrayLike,
    observed: npt.ArrayLike,
    expected: npt.ArrayLike,
    confirmed: npt.ArrayLike,
    *,
    prior_variance: npt.ArrayLike,
    flush_variance: float,
    question_at: float,
    doubt_variance: npt.ArrayLike = 0.0,
) -> PartsLearned:
    """Return what the yard's own flushes say of the parts of a yield or of a lead time.

    Of each flush `observed` has the weight per log [kg/log], or the warmth from pull to first pick
    [degC day], `expected` the same by the table in that weather, both above 0; `confirmed` that the
    grower stands by the record, `doubt_variance` how far what was written down may be from what was
    picked, 0 where it was weighed. The others are those of `update`. A flush further than
    `question_at` standard deviations from what the others predict is left out.

    A flush that is less sure than others counts as one of their sureness with its shares and its
    deviation made smaller in that measure.

    The factor of each part has mean one, so its logarithm lies half its variance below zero:
    that is added back. The flush furthest out is set aside first and the rest are judged
    anew, so that one wild figure can't hide behind the shift it causes.
    """
    share = np.asarray(shares, dtype=float)
    prior = np.asarray(prior_variance, dtype=float)
    ratio = np.asarray(observed, dtype=float) / np.asarray(expected, dtype=float)
    deviations = np.log(ratio) + (share @ prior + flush_variance) / 2
    sureness = np.sqrt(flush_variance / (flush_variance + np.asarray(doubt_variance, dtype=float)))
    share, deviations = share * np.reshape(sureness, (-1, 1)), deviations * sureness
    sure = np.broadcast_to(np.asarray(confirmed, dtype=bool), deviations.shape)
    counted = np.ones(deviations.shape, dtype=bool)
    mean, covariance = update(
        share, deviations, prior_variance=prior, flush_variance=flush_variance
    )
    residual = deviations - share @ mean
    leverage = ((share @ covariance) * share).sum(axis=1) / flush_variance
    while True:
        distance = _distance(residual, leverage, flush_variance)
        distance[sure | ~counted] = 0.0
        if distance.max(initial=0.0) <= question_at:
            break
        worst = int(np.argmax(distance))
        counted[worst] = False
        # What the others say without it: the update undone for one flush.
        along = covariance @ share[worst]
        left = flush_variance - float(share[worst] @ along)
        toward = share @ along
        residual = residual + toward * residual[worst] / left
        leverage = leverage + toward**2 / left / flush_variance
        covariance = covariance + np.outer(along, along) / left
    if not counted.all():
        # Afresh, so that nothing of the rounding of many steps is left.
        mean, covariance = update(
            share[counted], deviations[counted], prior_variance=prior, flush_variance=flush_variance
        )
    return PartsLearned(mean, covariance, counted)


def expected_factor(
    shares: FloatArray, *, mean: FloatArray, covariance: FloatArray, prior_variance: FloatArray
) -> FloatArray:
    """Return what some parts together make of the table's value, on average: (case,).

    1 where nothing was learned. `shares` is (case, part): 1 where a part has a share in a case,
    else 0. The rest is what is known of the parts, and their variance before, see `update`.
    """
    known = ((shares @ covariance) * shares).sum(axis=1)
    return np.asarray(np.exp(shares @ mean + (known - shares @ prior_variance) / 2))


def failure_shape(failed: int, bore: int, spread: SpreadNumbers) -> tuple[float, float]:
    """Return the beta distribution of the chance that a soak brings nothing: its two parameters.

    The mean is the first over their sum. By the soaks of the diary that brought nothing, and that
    brought something; the usual chance before any of them counts as so many soaks.
    """
    usual, soaks = spread.fails, spread.fails_soaks
    return usual * soaks + failed, (1 - usual) * soaks + bore
