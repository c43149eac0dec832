"""Wood and water: the one conversion of moisture bases, equilibrium moisture, a log's measures.

Growers' literature gives log moisture on a wet basis (water over total weight); inside the
program it is always on a dry basis (water over oven-dry weight).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fruitcast.arrays import FloatArray

WATER_DENSITY = 1000.0
"""[kg/m3]"""

USUAL_DIAMETER = 0.125
"""A middling log's, over bark: drying and spawn run are given for it. [m]"""

_CELL_WALL = 1.54  # specific gravity of the cell walls themselves, see `saturation_moisture`


def dry_from_wet(wet: npt.ArrayLike) -> FloatArray:
    """Return water over oven-dry weight from water over total weight, which is below 1."""
    share = np.asarray(wet, dtype=np.float64)
    return share / (1 - share)


def wet_from_dry(dry: npt.ArrayLike) -> FloatArray:
    """Return water over total weight from water over oven-dry weight."""
    ratio = np.asarray(dry, dtype=np.float64)
    return ratio / (1 + ratio)


def equilibrium_moisture(temperature: npt.ArrayLike, rh: npt.ArrayLike) -> FloatArray:
    """Return the moisture that wood comes to rest at in steady air. [kg/kg dry wood]

    By its temperature [degC] and relative humidity [%]. Eq. 4-5, after Simpson 1973, in its form
    for degC, of Forest Products Laboratory. Wood handbook: wood as an engineering material. USDA
    Forest Service.
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
    """Return the moisture of wood with every pore full: no log holds more. [kg/kg dry wood]

    By its basic specific gravity: oven-dry weight over green volume, relative to water. From
    memory, Wood Handbook chapter 4: (1.54 - G) / (1.54 G), 1.54 being the specific gravity of the
    cell wall.
    """
    g = np.asarray(specific_gravity, dtype=np.float64)
    return 1 / g - 1 / _CELL_WALL


def log_volume(diameter: npt.ArrayLike, length: npt.ArrayLike) -> FloatArray:
    """Return a log's volume, as of a cylinder. [m3]"""
    return (
        np.pi
        / 4
        * np.asarray(diameter, dtype=np.float64) ** 2
        * np.asarray(length, dtype=np.float64)
    )


def dry_mass(
    diameter: npt.ArrayLike, length: npt.ArrayLike, specific_gravity: npt.ArrayLike
) -> FloatArray:
    """Return a log's oven-dry weight by its sizes [m] and basic specific gravity. [kg]"""
    return (
        log_volume(diameter, length)
        * WATER_DENSITY
        * np.asarray(specific_gravity, dtype=np.float64)
    )


def fresh_mass(
    diameter: npt.ArrayLike, length: npt.ArrayLike, density: npt.ArrayLike
) -> FloatArray:
    """Return a log's weight as felled by its sizes [m] and green density [kg/m3]. [kg]"""
    return log_volume(diameter, length) * np.asarray(density, dtype=np.float64)


def fresh_moisture(density: npt.ArrayLike, specific_gravity: npt.ArrayLike) -> FloatArray:
    """Return the moisture of a log as felled, not above `saturation_moisture`. [kg/kg dry wood]

    By its green density [kg/m3] and basic specific gravity.
    """
    g = np.asarray(specific_gravity, dtype=np.float64)
    moisture = np.asarray(density, dtype=np.float64) / (WATER_DENSITY * g) - 1
    return np.minimum(moisture, saturation_moisture(g))


def surface_per_dry_mass(diameter: npt.ArrayLike, specific_gravity: npt.ArrayLike) -> FloatArray:
    """Return the bark surface that each kilogram of dry wood lies behind. [m2/kg dry wood]

    By diameter [m] and basic specific gravity; without the ends, so the same for every length.
    """
    d = np.asarray(diameter, dtype=np.float64)
    return 4 / (d * WATER_DENSITY * np.asarray(specific_gravity, dtype=np.float64))
