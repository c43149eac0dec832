"""Water vapour in the air, from daily temperatures and, where known, relative humidity."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

_E0 = 0.6108  # saturation vapour pressure at 0 degC [kPa], eq. 11
_A = 17.27
_B = 237.3  # [degC]


def saturation_vapour_pressure(temperature: npt.ArrayLike) -> FloatArray:
    """Return the vapour pressure of air saturated at a temperature.

    Parameters
    ----------
    temperature : float array
        Air temperature. [degC]

    Returns
    -------
    float array
        Saturation vapour pressure, shaped as the input. [kPa]

    Notes
    -----
    Eq. 11 of [1].

    References
    ----------
    [1] Allen, R.G., Pereira, L.S., Raes, D., Smith, M. 1998. Crop evapotranspiration.
        FAO Irrigation and Drainage Paper 56.
    """
    t = np.asarray(temperature, dtype=np.float64)
    return _E0 * np.exp(_A * t / (t + _B))


def mean_saturation_vapour_pressure(tmin: npt.ArrayLike, tmax: npt.ArrayLike) -> FloatArray:
    """Return a day's mean saturation vapour pressure from its temperature extremes.

    Parameters
    ----------
    tmin, tmax : float array
        Daily minimum and maximum air temperature. [degC]

    Returns
    -------
    float array
        Mean of the saturation vapour pressures at both. [kPa]

    Notes
    -----
    Eq. 12 of FAO-56. The pressure at the mean temperature would be too low, as eq. 11 is convex.
    """
    return (saturation_vapour_pressure(tmin) + saturation_vapour_pressure(tmax)) / 2


def actual_vapour_pressure(
    tmin: npt.ArrayLike, tmax: npt.ArrayLike, rh: npt.ArrayLike | None = None
) -> FloatArray:
    """Return a day's vapour pressure from its mean humidity, or from Tmin where that is missing.

    Parameters
    ----------
    tmin, tmax : float array
        Daily minimum and maximum air temperature. [degC]
    rh : float array, default None
        Daily mean relative humidity; NaN, or None for all days, where unknown. [%]

    Returns
    -------
    float array
        Actual vapour pressure. [kPa]

    Notes
    -----
    Eq. 19 of FAO-56 where `rh` is known. Elsewhere eq. 48: the air is taken as saturated at
    the night's minimum, which in dry places puts the dew point 2-3 degC too high.
    """
    from_tmin = saturation_vapour_pressure(tmin)
    if rh is None:
        return from_tmin
    relative = np.asarray(rh, dtype=np.float64) / 100
    from_rh = relative * mean_saturation_vapour_pressure(tmin, tmax)
    return np.where(np.isnan(relative), from_tmin, from_rh)


def mean_relative_humidity(
    tmin: npt.ArrayLike, tmax: npt.ArrayLike, rh: npt.ArrayLike | None = None
) -> FloatArray:
    """Return a day's mean relative humidity, estimated from temperatures where it is missing.

    Parameters
    ----------
    tmin, tmax : float array
        Daily minimum and maximum air temperature. [degC]
    rh : float array, default None
        Daily mean relative humidity where measured; NaN, or None, elsewhere. [%]

    Returns
    -------
    float array
        Mean relative humidity, 0 to 100. [%]
    """
    relative = actual_vapour_pressure(tmin, tmax, rh) / mean_saturation_vapour_pressure(tmin, tmax)
    return np.clip(100 * relative, 0.0, 100.0)
