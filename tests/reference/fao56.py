"""Equations that only checks against the literature use."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fruitcast.arrays import FloatArray
from fruitcast.biology.evaporation import (
    _A,
    _B,
    _E0,
    solar_declination,
    sunset_hour_angle,
)


def dew_point(vapour_pressure: npt.ArrayLike) -> FloatArray:
    """Return the temperature at which air of this vapour pressure is saturated.

    Parameters
    ----------
    vapour_pressure : float array
        Actual vapour pressure, above 0. [kPa]

    Returns
    -------
    float array
        Dew point. [degC]

    Notes
    -----
    Eq. 11 of FAO-56 solved for the temperature, so that the two invert each other exactly;
    the paper's own eq. 3-11 rounds the same constants.
    """
    x = np.log(np.asarray(vapour_pressure, dtype=np.float64) / _E0)
    return _B * x / (_A - x)


def day_length(latitude: npt.ArrayLike, day_of_year: npt.ArrayLike) -> FloatArray:
    """Return the hours from sunrise to sunset.

    Parameters
    ----------
    latitude : float array
        North positive. [degree]
    day_of_year : int array
        [day]

    Returns
    -------
    float array
        Without refraction, so some minutes shorter than almanacs say. [h]

    Notes
    -----
    Eq. 34 of FAO-56.
    """
    return 24 / np.pi * sunset_hour_angle(latitude, solar_declination(day_of_year))
