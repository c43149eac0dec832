"""The tank in winter."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fruitcast.biology.run_length import rolling_mean
from fruitcast.topics import DoubtNumbers

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]


def is_frozen(tmean: FloatArray, doubt: DoubtNumbers) -> BoolArray:
    """Return on which days an open tank is likely to carry ice.

    Parameters
    ----------
    tmean : (day, column) float array
        Daily mean air temperature. [degC]
    doubt : DoubtNumbers
        Numbers of what is asked about.

    Returns
    -------
    (day, column) bool array
        [unitless]
    """
    mean = rolling_mean(tmean, int(doubt.ice_days))
    return np.asarray(mean < doubt.ice_below)
