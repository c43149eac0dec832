"""Sunlight at the top of the atmosphere and the length of the day, anywhere on Earth."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

SOLAR_CONSTANT = 0.0820
"""[MJ/m2/min]"""


def inverse_relative_distance(day_of_year: npt.ArrayLike) -> FloatArray:
    """Return the inverse relative distance from Earth to Sun.

    Parameters
    ----------
    day_of_year : int array
        1 January is 1. [day]

    Returns
    -------
    float array
        [unitless]

    Notes
    -----
    Eq. 23 of FAO-56. The year is 365 days long in leap years too, as there.
    """
    return 1 + 0.033 * np.cos(2 * np.pi / 365 * np.asarray(day_of_year, dtype=np.float64))


def solar_declination(day_of_year: npt.ArrayLike) -> FloatArray:
    """Return the sun's declination.

    Parameters
    ----------
    day_of_year : int array
        1 January is 1. [day]

    Returns
    -------
    float array
        Positive in the northern summer. [rad]

    Notes
    -----
    Eq. 24 of FAO-56.
    """
    return 0.409 * np.sin(2 * np.pi / 365 * np.asarray(day_of_year, dtype=np.float64) - 1.39)


def sunset_hour_angle(latitude: npt.ArrayLike, declination: npt.ArrayLike) -> FloatArray:
    """Return the angle the earth turns from noon to sunset.

    Parameters
    ----------
    latitude : float array
        North positive. [degree]
    declination : float array
        [rad]

    Returns
    -------
    float array
        0 in the polar night, pi where the sun does not set. [rad]

    Notes
    -----
    Eq. 25 of FAO-56; the cosine is held within -1..1, which the paper leaves open.
    """
    phi = np.radians(np.asarray(latitude, dtype=np.float64))
    cosine = -np.tan(phi) * np.tan(np.asarray(declination, dtype=np.float64))
    angle: FloatArray = np.arccos(np.clip(cosine, -1.0, 1.0))
    return angle


def extraterrestrial_radiation(latitude: npt.ArrayLike, day_of_year: npt.ArrayLike) -> FloatArray:
    """Return a day's sunlight on a level surface above the atmosphere.

    Parameters
    ----------
    latitude : float array
        North positive. [degree]
    day_of_year : int array
        [day]

    Returns
    -------
    float array
        [MJ/m2/day]

    Notes
    -----
    Eq. 21 of FAO-56.
    """
    phi = np.radians(np.asarray(latitude, dtype=np.float64))
    delta = solar_declination(day_of_year)
    ws = sunset_hour_angle(latitude, delta)
    geometry = ws * np.sin(phi) * np.sin(delta) + np.cos(phi) * np.cos(delta) * np.sin(ws)
    per_day = 24 * 60 / np.pi * SOLAR_CONSTANT * inverse_relative_distance(day_of_year)
    radiation: FloatArray = per_day * np.maximum(geometry, 0.0)
    return radiation
