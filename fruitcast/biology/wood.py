"""Wood and water: the one conversion of moisture bases, equilibrium moisture, a log's measures.

Growers' literature gives log moisture on a wet basis (water over total weight); inside the
program it is always on a dry basis (water over oven-dry weight).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

WATER_DENSITY = 1000.0
"""[kg/m3]"""

USUAL_DIAMETER = 0.125
"""A middling log's, over bark: drying and spawn run are given for it. [m]"""

_CELL_WALL = 1.54  # specific gravity of the cell walls themselves, see `saturation_moisture`


def dry_from_wet(wet: npt.ArrayLike) -> FloatArray:
    """Return moisture on a dry basis from moisture on a wet basis.

    Parameters
    ----------
    wet : float array
        Water over total weight, below 1. [kg/kg wet]

    Returns
    -------
    float array
        Water over oven-dry weight. [kg/kg dry wood]
    """
    share = np.asarray(wet, dtype=np.float64)
    return share / (1 - share)


def wet_from_dry(dry: npt.ArrayLike) -> FloatArray:
    """Return moisture on a wet basis from moisture on a dry basis.

    Parameters
    ----------
    dry : float array
        Water over oven-dry weight. [kg/kg dry wood]

    Returns
    -------
    float array
        Water over total weight. [kg/kg wet]
    """
    ratio = np.asarray(dry, dtype=np.float64)
    return ratio / (1 + ratio)


def equilibrium_moisture(temperature: npt.ArrayLike, rh: npt.ArrayLike) -> FloatArray:
    """Return the moisture that wood comes to rest at in steady air.

    Parameters
    ----------
    temperature : float array
        Air temperature. [degC]
    rh : float array
        Relative humidity. [%]

    Returns
    -------
    float array
        Equilibrium moisture. [kg/kg dry wood]

    Notes
    -----
    Eq. 4-5 of [1], after Simpson 1973, in its form for degC.

    References
    ----------
    [1] Forest Products Laboratory. Wood handbook: wood as an engineering material. USDA Forest
        Service.
    """
    t = np.asarray(temperature, dtype=np.float64)
    h = np.clip(np.asarray(rh, dtype=np.float64) / 100, 0.0, 1.0)
    w = 349 + t * (1.29 + 0.0135 * t)
    k = 0.805 + t * (0.000736 - 0.00000273 * t)
    k1 = 6.27 - t * (0.00938 + 0.000303 * t)
    k2 = 1.91 + t * (0.0407 - 0.000293 * t)
    kh = k * h
    first = k1 * kh  # K1 K h
    second = first * k2 * kh  # K1 K2 K^2 h^2
    hydrate = (first + 2 * second) / (1 + first + second)
    percent = 1800 / w * (kh / (1 - kh) + hydrate)
    return percent / 100


def saturation_moisture(specific_gravity: npt.ArrayLike) -> FloatArray:
    """Return the moisture of wood with every pore full of water: no log holds more.

    Parameters
    ----------
    specific_gravity : float array
        Basic specific gravity: oven-dry weight over green volume, relative to water. [unitless]

    Returns
    -------
    float array
        [kg/kg dry wood]

    Notes
    -----
    From memory, Wood Handbook chapter 4: (1.54 - G) / (1.54 G), 1.54 being the specific gravity of
    the cell wall.
    """
    g = np.asarray(specific_gravity, dtype=np.float64)
    return 1 / g - 1 / _CELL_WALL


def log_volume(diameter: npt.ArrayLike, length: npt.ArrayLike) -> FloatArray:
    """Return a log's volume, as of a cylinder. [m3]

    Parameters
    ----------
    diameter, length : float array
        [m]
    """
    return (
        np.pi
        / 4
        * np.asarray(diameter, dtype=np.float64) ** 2
        * np.asarray(length, dtype=np.float64)
    )


def dry_mass(
    diameter: npt.ArrayLike, length: npt.ArrayLike, specific_gravity: npt.ArrayLike
) -> FloatArray:
    """Return a log's oven-dry weight. [kg]

    Parameters
    ----------
    diameter, length : float array
        [m]
    specific_gravity : float array
        Basic specific gravity. [unitless]
    """
    return (
        log_volume(diameter, length)
        * WATER_DENSITY
        * np.asarray(specific_gravity, dtype=np.float64)
    )


def fresh_mass(
    diameter: npt.ArrayLike, length: npt.ArrayLike, density: npt.ArrayLike
) -> FloatArray:
    """Return a log's weight as felled. [kg]

    Parameters
    ----------
    diameter, length : float array
        [m]
    density : float array
        Green density of the species. [kg/m3]
    """
    return log_volume(diameter, length) * np.asarray(density, dtype=np.float64)


def fresh_moisture(density: npt.ArrayLike, specific_gravity: npt.ArrayLike) -> FloatArray:
    """Return the moisture of a log as felled, from its green density.

    Parameters
    ----------
    density : float array
        Green density. [kg/m3]
    specific_gravity : float array
        Basic specific gravity. [unitless]

    Returns
    -------
    float array
        Not above `saturation_moisture`. [kg/kg dry wood]
    """
    g = np.asarray(specific_gravity, dtype=np.float64)
    moisture = np.asarray(density, dtype=np.float64) / (WATER_DENSITY * g) - 1
    return np.minimum(moisture, saturation_moisture(g))


def surface_per_dry_mass(diameter: npt.ArrayLike, specific_gravity: npt.ArrayLike) -> FloatArray:
    """Return the bark surface that each kilogram of dry wood lies behind.

    Parameters
    ----------
    diameter : float array
        [m]
    specific_gravity : float array
        Basic specific gravity. [unitless]

    Returns
    -------
    float array
        Without the ends, so the same for every length. [m2/kg dry wood]
    """
    d = np.asarray(diameter, dtype=np.float64)
    return 4 / (d * WATER_DENSITY * np.asarray(specific_gravity, dtype=np.float64))
