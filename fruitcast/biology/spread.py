"""Spread that weather doesn't explain: multipliers of mean one, balanced scores, draws.

The seeds come from outside, so that the same seed gives the same plan.
"""

from __future__ import annotations

from functools import lru_cache
from statistics import NormalDist

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]


def log_scatter(variation: float) -> float:
    """Return the standard deviation on the log scale that belongs to a coefficient of variation.

    Parameters
    ----------
    variation : float
        Standard deviation over mean. [unitless]

    Returns
    -------
    float
        Of the natural logarithm. [unitless]
    """
    return float(np.sqrt(np.log1p(variation**2)))


def multiplier(normal: npt.ArrayLike, log_sd: npt.ArrayLike) -> FloatArray:
    """Return a log-normal multiplier of mean one for each standard normal draw.

    Parameters
    ----------
    normal : float array
        Standard normal draws. [unitless]
    log_sd : float array
        Standard deviation of the multipliers' natural logarithm. [unitless]

    Returns
    -------
    float array
        [unitless]
    """
    sigma = np.asarray(log_sd, dtype=float)
    return np.asarray(np.exp(sigma * np.asarray(normal, dtype=float) - sigma**2 / 2))


@lru_cache(maxsize=64)
def normal_scores(count: int) -> FloatArray:
    """Return the quantiles of a standard normal at the middles of equal shares of chance.

    Parameters
    ----------
    count : int
        How many, at least 1.

    Returns
    -------
    (count,) float array
        Rising, of mean 0, stretched by a few percent to a variance of exactly 1 (a single one
        is 0). [unitless]
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

    Parameters
    ----------
    draws : (row, member) float array
        Standard normal draws. [unitless]

    Returns
    -------
    (row, member) float array
        Normal scores in the order of each row's draws; the draws themselves where the members
        are copies of one year, all with the same draw. [unitless]
    """
    order = np.argsort(np.argsort(draws, axis=1), axis=1)
    copies = np.ptp(draws, axis=1, keepdims=True) == 0
    return np.where(copies, draws, normal_scores(draws.shape[1])[order])


def balanced(ranks: npt.NDArray[np.int64], covariance: FloatArray) -> FloatArray:
    """Return balanced draws of several normals whose covariance is met exactly.

    Parameters
    ----------
    ranks : (quantity, member) int array
        An order of the members for each quantity: 0 to members - 1, each once.
    covariance : (quantity, quantity) float array
        [unitless]

    Returns
    -------
    (quantity, member) float array
        Of mean 0. The first is normal scores in the order of its ranks; a later one is freed
        of what chance likeness its scores have with those before, so that seeds differ in
        nothing but the order. [unitless]
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
    """Return a lower triangle whose product with its transpose is a covariance, even a flat one.

    Parameters
    ----------
    covariance : (n, n) float array
        Without negative variances. [unitless]

    Returns
    -------
    (n, n) float array
        [unitless]
    """
    size = len(covariance)
    found = np.zeros((size, size))
    for j in range(size):
        rest = covariance[j:, j] - found[j:, :j] @ found[j, :j]
        if rest[0] > 1e-14:
            found[j:, j] = rest / np.sqrt(rest[0])
    return found
