"""Scatter that weather doesn't explain: multipliers of mean one for yield and lead time.

The draws themselves come from outside, so that the same seed gives the same plan.
"""

from __future__ import annotations

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


def multiplier(normal: npt.ArrayLike, variation: float) -> FloatArray:
    """Return a log-normal multiplier of mean one for each standard normal draw.

    Parameters
    ----------
    normal : float array
        Standard normal draws. [unitless]
    variation : float
        Coefficient of variation of the multipliers. [unitless]

    Returns
    -------
    float array
        [unitless]
    """
    sigma = log_scatter(variation)
    return np.asarray(np.exp(sigma * np.asarray(normal, dtype=float) - sigma**2 / 2))
