"""How a log takes up water and gives it off: one function for each rule."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from fruitcast.biology.wood import (
    USUAL_DIAMETER,
    dry_from_wet,
    saturation_moisture,
    surface_per_dry_mass,
)
from fruitcast.topics import MoistureNumbers

FloatArray = npt.NDArray[np.float64]

REFERENCE_EVAPORATION = 5.0
"""A midsummer day's in the open at mid latitudes: drying is given for it. [mm/day]"""

RAINY_DAY_HOURS = 25.0
"""However hard it rains, a day adds no more than about a day in the tank would. [h]"""


def throughfall(rain: npt.ArrayLike, shade: npt.ArrayLike, *, canopy_storage: float) -> FloatArray:
    """Return the rain of a day that comes through the canopy.

    Parameters
    ----------
    rain : float array
        In the open. [mm/day]
    shade : float array
        Share of the sky's light kept off the logs. [0..1]
    canopy_storage : float
        What a closed canopy keeps of each day's rain. [mm]

    Returns
    -------
    float array
        [mm/day]
    """
    kept = canopy_storage * np.asarray(shade, dtype=np.float64)
    return np.maximum(np.asarray(rain, dtype=np.float64) - kept, 0.0)


def uptake_limit(
    diameter: npt.ArrayLike, specific_gravity: npt.ArrayLike, *, soak_uptake: float
) -> FloatArray:
    """Return what an empty log takes up at most in a day of rain: as much as in a day's soak.

    Parameters
    ----------
    diameter : float array
        [m]
    specific_gravity : float array
        [unitless]
    soak_uptake : float
        What an empty log takes up. [kg/m2/h^0.5]

    Returns
    -------
    float array
        Not above saturation. [kg/kg dry wood]
    """
    return soak_potential(RAINY_DAY_HOURS, diameter, specific_gravity, soak_uptake=soak_uptake)


def unused_share(
    water: npt.ArrayLike, *, rain_uptake_share: float, soak_uptake: float
) -> FloatArray:
    """Return the share of `uptake_limit` that is left unused with this much water on the logs.

    Parameters
    ----------
    water : float array
        Rain through the canopy and watering, as in a gauge among the logs. [mm/day]
    rain_uptake_share : float
        Share of the first rain that an empty log takes up. [0..1]
    soak_uptake : float
        What an empty log takes up in the tank. [kg/m2/h^0.5]

    Returns
    -------
    float array
        1 without water, falling towards 0. [unitless]

    Notes
    -----
    A lying log catches rain on 1/pi of its bark. Of the first millimetres an empty log takes up
    the share given; the more has come, the more runs off. The shares of two waters multiply.
    """
    limit = soak_uptake * math.sqrt(RAINY_DAY_HOURS)
    return np.exp(-rain_uptake_share / (np.pi * limit) * np.asarray(water, dtype=np.float64))


def drying_rate(
    evaporation: npt.ArrayLike,
    diameter: npt.ArrayLike,
    balance: MoistureNumbers,
) -> FloatArray:
    """Return how fast a log's moisture nears equilibrium.

    Parameters
    ----------
    evaporation : float array
        Evaporation at the logs, shade taken off. [mm/day]
    diameter : float array
        Over bark. [m]
    balance : MoistureNumbers
        Numbers of the water balance.

    Returns
    -------
    float array
        The inverse of the time constant. [1/day]

    Notes
    -----
    Judgement. Diffusion alone would make the time constant grow with the square of the diameter,
    a tight bark alone with its first power: the exponent lies between.
    """
    still = balance.drying_still_share
    days = balance.drying_days
    relative = np.asarray(diameter, dtype=np.float64) / USUAL_DIAMETER
    slowed = days * relative**balance.drying_diameter_exponent
    pull = np.asarray(evaporation, dtype=np.float64) / REFERENCE_EVAPORATION
    return (still + (1 - still) * pull) / slowed


def rewetting_share(moisture: npt.ArrayLike, balance: MoistureNumbers) -> FloatArray:
    """Return the share of its usual uptake that an over-dry log still manages.

    Parameters
    ----------
    moisture : float array
        [kg/kg dry wood]
    balance : MoistureNumbers
        Numbers of the water balance.

    Returns
    -------
    float array
        1 above the limit, below it a straight line down to none of oven-dry wood. [unitless]
    """
    limit = _dry(balance.danger_below)
    return np.minimum(np.asarray(moisture, dtype=np.float64) / limit, 1.0)


@lru_cache(maxsize=16)
def _dry(wet: float) -> float:
    """Return a limit on a dry basis; the rules ask for it on every day of a run."""
    return float(dry_from_wet(wet))


def taken_up(
    potential: npt.ArrayLike,
    moisture: npt.ArrayLike,
    saturation: npt.ArrayLike,
    balance: MoistureNumbers,
) -> FloatArray:
    """Return what a log takes up of what an empty one would: less the fuller and the drier it is.

    Parameters
    ----------
    potential : float array
        What an empty log would take up, not above saturation. [kg/kg dry wood]
    moisture : float array
        Before. [kg/kg dry wood]
    saturation : float array
        All pores full. [kg/kg dry wood]
    balance : MoistureNumbers
        Numbers of the water balance.

    Returns
    -------
    float array
        Never more than there is room for. [kg/kg dry wood]
    """
    full = np.asarray(saturation, dtype=np.float64)
    room = np.maximum(1 - np.asarray(moisture, dtype=np.float64) / full, 0.0)
    return np.asarray(potential, dtype=np.float64) * room * rewetting_share(moisture, balance)


def soak_potential(
    hours: npt.ArrayLike,
    diameter: npt.ArrayLike,
    specific_gravity: npt.ArrayLike,
    *,
    soak_uptake: float,
) -> FloatArray:
    """Return what an empty log would take up in the tank: with the square root of the time.

    Parameters
    ----------
    hours : float array
        In water. [h]
    diameter : float array
        [m]
    specific_gravity : float array
        [unitless]
    soak_uptake : float
        What an empty log takes up. [kg/m2/h^0.5]

    Returns
    -------
    float array
        Not above saturation. [kg/kg dry wood]

    Notes
    -----
    The square root is published for the early uptake of hardwoods: Rosen, penetration of water
    into hardwoods, Wood and Fiber Science. The factor, for logs with bark, is judgement.
    """
    early = soak_uptake * np.sqrt(np.asarray(hours, dtype=np.float64))
    return np.minimum(
        early * surface_per_dry_mass(diameter, specific_gravity),
        saturation_moisture(specific_gravity),
    )


def soak_gain(
    moisture: npt.ArrayLike,
    hours: npt.ArrayLike,
    diameter: npt.ArrayLike,
    specific_gravity: npt.ArrayLike,
    balance: MoistureNumbers,
) -> FloatArray:
    """Return the moisture that a log gains in the tank.

    Parameters
    ----------
    moisture : float array
        Before the soak. [kg/kg dry wood]
    hours : float array
        In water. [h]
    diameter : float array
        [m]
    specific_gravity : float array
        [unitless]
    balance : MoistureNumbers
        Numbers of the water balance.

    Returns
    -------
    float array
        [kg/kg dry wood]
    """
    potential = soak_potential(hours, diameter, specific_gravity, soak_uptake=balance.soak_uptake)
    return taken_up(potential, moisture, saturation_moisture(specific_gravity), balance)
