"""The tank in winter."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fruitcast.numbers import Numbers
from fruitcast.shiitake.run_length import rolling_mean

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]


def is_frozen(tmean: FloatArray, numbers: Numbers) -> BoolArray:
    """Return on which days an open tank is likely to carry ice.

    Parameters
    ----------
    tmean : (day, column) float array
        Daily mean air temperature. [degC]
    numbers : Numbers
        The numbers in use.

    Returns
    -------
    (day, column) bool array
        [unitless]
    """
    mean = rolling_mean(tmean, int(numbers.doubt.ice_days))
    return np.asarray(mean < numbers.doubt.ice_below)
