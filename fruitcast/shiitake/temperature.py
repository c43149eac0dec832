"""How fast the fungus works at a temperature, and how well a temperature suits a flush.

Log temperature is taken as the daily mean air temperature: a log of 12.5 cm follows the air
within an hour or two.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]


def beta_response(t: npt.ArrayLike, base: float, optimum: float, maximum: float) -> FloatArray:
    """Return the speed of growth at a temperature, as a share of the speed at the optimum.

    Rises slowly from the base, is flat around the optimum and falls steeply to the maximum;
    nothing grows outside. Made for growth and development of living tissue at steady
    temperatures; here it takes daily means.

    Parameters
    ----------
    t : float array
        Temperature. [degC]
    base, optimum, maximum : float
        Where growth starts, is fastest and stops. [degC]

    Returns
    -------
    float array
        Between 0 and 1. [unitless]

    Notes
    -----
    r = ((Tm - T) / (Tm - To)) * ((T - Tb) / (To - Tb)) ^ ((To - Tb) / (Tm - To)).
    With Tb = 0 it is the form of [1]; the base temperature is added from memory.

    References
    ----------
    [1] Yan, W., Hunt, L.A. 1999. An equation for modelling the temperature response of plants
    using only the cardinal temperatures. Annals of Botany 84:607-614.
    """
    temperature = np.asarray(t, dtype=float)
    inside = np.clip(temperature, base, maximum)
    falling = (maximum - inside) / (maximum - optimum)
    rising = ((inside - base) / (optimum - base)) ** ((optimum - base) / (maximum - optimum))
    return np.asarray(falling * rising)


def degree_days(tmean: npt.ArrayLike, base: float, cap: float) -> FloatArray:
    """Return each day's warmth above the base temperature.

    Beyond the cap more heat does not bring the mushrooms any sooner.

    Parameters
    ----------
    tmean : float array
        Daily mean temperature. [degC]
    base, cap : float
        Temperatures at which development starts and is fastest. [degC]

    Returns
    -------
    float array
        [degC day]
    """
    return np.asarray(np.clip(np.asarray(tmean, dtype=float), base, cap) - base)


def range_fit(
    t: npt.ArrayLike, lower: float, best_low: float, best_high: float, upper: float
) -> FloatArray:
    """Return how well a temperature suits a flush: 1 in the best range, 0 beyond the limits.

    Parameters
    ----------
    t : float array
        Temperature. [degC]
    lower, best_low, best_high, upper : float
        Where fruiting starts, is best from, is best to, and stops. [degC]

    Returns
    -------
    float array
        Between 0 and 1, straight lines between the four points. [unitless]
    """
    points = [lower, best_low, best_high, upper]
    return np.asarray(np.interp(np.asarray(t, dtype=float), points, [0.0, 1.0, 1.0, 0.0]))
