"""What the air can evaporate in a day, in the open and under shade."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fruitcast.biology.radiation import extraterrestrial_radiation

FloatArray = npt.NDArray[np.float64]

WATER_PER_ENERGY = 0.408
"""What 1 MJ/m2 evaporates: the inverse of 2.45 MJ/kg (FAO-56 eq. 20). [mm per MJ/m2]"""


def hargreaves_evaporation(
    tmin: npt.ArrayLike,
    tmax: npt.ArrayLike,
    tmean: npt.ArrayLike,
    radiation: npt.ArrayLike,
) -> FloatArray:
    """Return the reference evapotranspiration of an open site from temperatures alone.

    Meant for means of five to seven days; single days scatter around it.

    Parameters
    ----------
    tmin, tmax, tmean : float array
        Daily minimum, maximum and mean air temperature. [degC]
    radiation : float array
        Extraterrestrial radiation. [MJ/m2/day]

    Returns
    -------
    float array
        Never negative. [mm/day]

    Notes
    -----
    Eq. 52 of FAO-56, with the day's own mean where the paper has (tmin + tmax) / 2. Below
    -17.8 degC the equation turns negative; 0 is returned there.
    """
    warmth = np.maximum(np.asarray(tmean, dtype=np.float64) + 17.8, 0.0)
    spread = np.maximum(
        np.asarray(tmax, dtype=np.float64) - np.asarray(tmin, dtype=np.float64), 0.0
    )
    return (
        0.0023
        * warmth
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
    """Return `hargreaves_evaporation` for a latitude and days of the year.

    Parameters
    ----------
    tmin, tmax, tmean : (day, ...) float array
        Daily temperatures. [degC]
    latitude : float
        North positive. [degree]
    day_of_year : (day,) int array, or one that broadcasts with the temperatures
        [day]

    Returns
    -------
    (day, ...) float array
        [mm/day]
    """
    radiation = extraterrestrial_radiation(latitude, day_of_year)
    trailing = np.ndim(tmean) - radiation.ndim
    return hargreaves_evaporation(
        tmin, tmax, tmean, radiation.reshape(radiation.shape + (1,) * max(trailing, 0))
    )


def shaded_share(shade: npt.ArrayLike, *, shade_effect: float) -> FloatArray:
    """Return the share of the open site's evaporation that is left under shade.

    Parameters
    ----------
    shade : float array
        Share of the sky's light kept off the logs. [0..1]
    shade_effect : float
        Share of evaporation taken away by full shade. [0..1]

    Returns
    -------
    float array
        1 without shade, falling in a straight line. [0..1]
    """
    return 1 - shade_effect * np.asarray(shade, dtype=np.float64)
