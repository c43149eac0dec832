"""What the yard's own picks say: yield per log and lead time pulled from the table to the yard.

A normal update on the log scale, in closed form, for each strain class and tree species.
The table counts as so many flushes of the yard's own. A flush too far from what was to be
expected, such as a slip of the decimal point, becomes a question and is left out until the
grower confirms it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fruitcast.shiitake.spread import log_scatter

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Learned:
    """What was learned of one factor.

    Attributes
    ----------
    factor : float
        The yard's value over the table's; 1 before the first flush. [unitless]
    spread_before, spread_after : float
        Standard deviation of the factor's logarithm, before and after. [unitless]
    prior_flushes : float
        How many flushes the table counts as.
    used : int
        Flushes that counted.
    questions : tuple of int
        Positions of the flushes that were left out and should be asked about.
    """

    factor: float
    spread_before: float
    spread_after: float
    prior_flushes: float
    used: int
    questions: tuple[int, ...]


def posterior_mean(deviations: FloatArray, prior_flushes: float) -> float:
    """Return the mean of a normal with known spread after some observations.

    Parameters
    ----------
    deviations : (flush,) float array
        Observed minus expected, on the log scale. [unitless]
    prior_flushes : float
        Strength of the prior, whose mean is 0, in observations.

    Returns
    -------
    float
        sum / (number + prior_flushes). [unitless]
    """
    return float(deviations.sum() / (len(deviations) + prior_flushes))


def predictive_distance(deviations: FloatArray, prior_flushes: float, sigma: float) -> FloatArray:
    """Return how far each observation lies from what all the others predict.

    Parameters
    ----------
    deviations : (flush,) float array
        Observed minus expected, on the log scale. [unitless]
    prior_flushes : float
        Strength of the prior in observations.
    sigma : float
        Spread of one observation. [unitless]

    Returns
    -------
    (flush,) float array
        In standard deviations of the predictive distribution. [unitless]
    """
    weight = len(deviations) - 1 + prior_flushes
    others = (deviations.sum() - deviations) / weight
    return np.asarray(np.abs(deviations - others) / (sigma * np.sqrt(1 + 1 / weight)))


def learn(
    observed: npt.ArrayLike,
    expected: npt.ArrayLike,
    confirmed: npt.ArrayLike,
    *,
    scatter: float,
    prior_flushes: float,
    question_at: float,
) -> Learned:
    """Return the factor that the yard's own flushes put on the table's value.

    Parameters
    ----------
    observed : (flush,) float array
        Weight per log of each whole flush [kg/log], or the warmth from pull to first pick
        [degC day]; above 0.
    expected : (flush,) float array
        What the table expected of that flush in that weather, in the same unit, above 0.
    confirmed : (flush,) bool array
        Whether the grower has confirmed the record.
    scatter : float
        Coefficient of variation of one flush. [unitless]
    prior_flushes : float
        How many flushes the table counts as.
    question_at : float
        Flushes further out than this are left out and asked about. [standard deviation]

    Returns
    -------
    Learned
        The factor with its spread before and after, and the flushes to ask about.

    Notes
    -----
    The multiplier of a single flush has mean one, so its logarithm lies half its variance
    below zero: that is added back. The flush furthest out is set aside first and the rest
    are judged anew, so that one wild figure can't hide behind the shift it causes.
    """
    sigma, prior = log_scatter(scatter), prior_flushes
    ratio = np.asarray(observed, dtype=float) / np.asarray(expected, dtype=float)
    deviations = np.log(ratio) + sigma**2 / 2
    sure = np.broadcast_to(np.asarray(confirmed, dtype=bool), deviations.shape)
    counted = np.ones(deviations.shape, dtype=bool)
    while counted.any():
        index = np.flatnonzero(counted)
        distance = predictive_distance(deviations[index], prior, sigma)
        distance[sure[index]] = 0.0
        worst = int(np.argmax(distance))
        if distance[worst] <= question_at:
            break
        counted[index[worst]] = False
    used = int(counted.sum())
    return Learned(
        factor=float(np.exp(posterior_mean(deviations[counted], prior))),
        spread_before=float(sigma / np.sqrt(prior)),
        spread_after=float(sigma / np.sqrt(prior + used)),
        prior_flushes=prior,
        used=used,
        questions=tuple(int(i) for i in np.flatnonzero(~counted)),
    )
