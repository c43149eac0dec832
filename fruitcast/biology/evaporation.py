"""What the air can evaporate in a day: sunlight and vapour, in the open and under shade.

Equations are those of FAO-56: Allen, R.G., Pereira, L.S., Raes, D., Smith, M. 1998. Crop
evapotranspiration. FAO Irrigation and Drainage Paper 56. Arguments are arrays of any shape, or
numbers: temperatures [degC], relative humidity [%], latitude north positive [degree], day of the
year with 1 January as 1 [day].
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fruitcast.arrays import FloatArray

# Water vapour in the air, from daily temperatures and, where known, relative humidity.


_E0 = 0.6108  # saturation vapour pressure at 0 degC [kPa], eq. 11
_A = 17.27
_B = 237.3  # [degC]


def saturation_vapour_pressure(temperature: npt.ArrayLike) -> FloatArray:
    """Return the vapour pressure of air saturated at a temperature: eq. 11. [kPa]"""
    t = np.asarray(temperature, dtype=np.float64)
    return _E0 * np.exp(_A * t / (t + _B))


def mean_saturation_vapour_pressure(tmin: npt.ArrayLike, tmax: npt.ArrayLike) -> FloatArray:
    """Return a day's mean saturation vapour pressure from its temperature extremes: eq. 12. [kPa]

    The pressure at the mean temperature would be too low, as eq. 11 is convex.
    """
    return (saturation_vapour_pressure(tmin) + saturation_vapour_pressure(tmax)) / 2


def actual_vapour_pressure(
    tmin: npt.ArrayLike, tmax: npt.ArrayLike, rh: npt.ArrayLike
) -> FloatArray:
    """Return a day's vapour pressure from its mean humidity, or from Tmin where that is NaN. [kPa]

    Eq. 19 where `rh` is known. Elsewhere eq. 48: the air is taken as saturated at the night's
    minimum, which in dry places puts the dew point 2-3 degC too high.
    """
    relative = np.asarray(rh, dtype=np.float64) / 100
    from_rh = relative * mean_saturation_vapour_pressure(tmin, tmax)
    return np.where(np.isnan(relative), saturation_vapour_pressure(tmin), from_rh)


def mean_relative_humidity(
    tmin: npt.ArrayLike, tmax: npt.ArrayLike, rh: npt.ArrayLike
) -> FloatArray:
    """Return a day's mean relative humidity, estimated from temperatures where it is NaN. [%]"""
    relative = actual_vapour_pressure(tmin, tmax, rh) / mean_saturation_vapour_pressure(tmin, tmax)
    return np.clip(100 * relative, 0.0, 100.0)


# Sunlight at the top of the atmosphere and the length of the day, anywhere on Earth.

SOLAR_CONSTANT = 0.0820
"""[MJ/m2/min]"""


def inverse_relative_distance(day_of_year: npt.ArrayLike) -> FloatArray:
    """Return the inverse relative distance from Earth to Sun: eq. 23. [unitless]

    The year is 365 days long in leap years too, as there.
    """
    return 1 + 0.033 * np.cos(2 * np.pi / 365 * np.asarray(day_of_year, dtype=np.float64))


def solar_declination(day_of_year: npt.ArrayLike) -> FloatArray:
    """Return the sun's declination, positive in the northern summer: eq. 24. [rad]"""
    return 0.409 * np.sin(2 * np.pi / 365 * np.asarray(day_of_year, dtype=np.float64) - 1.39)


def sunset_hour_angle(latitude: npt.ArrayLike, declination: npt.ArrayLike) -> FloatArray:
    """Return the angle the earth turns from noon to sunset at a declination [rad]. [rad]

    0 in the polar night, pi where the sun does not set. Eq. 25; the cosine is held within -1..1,
    which the paper leaves open.
    """
    phi = np.radians(np.asarray(latitude, dtype=np.float64))
    cosine = -np.tan(phi) * np.tan(np.asarray(declination, dtype=np.float64))
    angle: FloatArray = np.arccos(np.clip(cosine, -1.0, 1.0))
    return angle


def extraterrestrial_radiation(latitude: npt.ArrayLike, day_of_year: npt.ArrayLike) -> FloatArray:
    """Return a day's sunlight on a level surface above the atmosphere: eq. 21. [MJ/m2/day]"""
    phi = np.radians(np.asarray(latitude, dtype=np.float64))
    delta = solar_declination(day_of_year)
    ws = sunset_hour_angle(latitude, delta)
    geometry = ws * np.sin(phi) * np.sin(delta) + np.cos(phi) * np.cos(delta) * np.sin(ws)
    per_day = 24 * 60 / np.pi * SOLAR_CONSTANT * inverse_relative_distance(day_of_year)
    radiation: FloatArray = per_day * np.maximum(geometry, 0.0)
    return radiation


# What the air can evaporate in a day, in the open and under shade.

WATER_PER_ENERGY = 0.408
"""What 1 MJ/m2 evaporates: the inverse of 2.45 MJ/kg (FAO-56 eq. 20). [mm per MJ/m2]"""


def hargreaves_evaporation(
    tmin: npt.ArrayLike, tmax: npt.ArrayLike, tmean: npt.ArrayLike, radiation: npt.ArrayLike
) -> FloatArray:
    """Return the reference evapotranspiration of an open site from temperatures alone. [mm/day]

    Meant for means of five to seven days; single days scatter around it. `radiation` is that
    above the atmosphere [MJ/m2/day]. Eq. 52, with the day's own mean where the paper has (tmin +
    tmax) / 2. Below -17.8 degC the equation turns negative; 0 is returned there.
    """
    above_base = np.maximum(np.asarray(tmean, dtype=np.float64) + 17.8, 0.0)
    spread = np.maximum(
        np.asarray(tmax, dtype=np.float64) - np.asarray(tmin, dtype=np.float64), 0.0
    )
    return (
        0.0023
        * above_base
        * np.sqrt(spread)
        * WATER_PER_ENERGY
        * np.asarray(radiation, dtype=np.float64)
    )


def open_evaporation(
    tmin: npt.ArrayLike,
    tmax: npt.ArrayLike,
    tmean: npt.ArrayLike,
    latitude: float,
    day_of_year: npt.ArrayLike,
) -> FloatArray:
    """Return `hargreaves_evaporation` for a latitude and days of the year. [mm/day]

    Temperatures are (day, ...) arrays; `day_of_year` is (day,), or broadcasts with them.
    """
    radiation = extraterrestrial_radiation(latitude, day_of_year)
    trailing = np.ndim(tmean) - radiation.ndim
    return hargreaves_evaporation(
        tmin, tmax, tmean, radiation.reshape(radiation.shape + (1,) * max(trailing, 0))
    )


def shaded_share(shade: npt.ArrayLike, *, shade_effect: float) -> FloatArray:
    """Return the share of the open site's evaporation that is left under shade. [0..1]

    1 without shade [0..1], falling in a straight line; `shade_effect` is the share that full
    shade takes away.
    """
    return 1 - shade_effect * np.asarray(shade, dtype=np.float64)
