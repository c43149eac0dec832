"""The spawn run: from inoculation until the fungus has taken the log and can fruit.

Progress is counted in days at the best temperature in a moist log ('optimum days').
"""

from __future__ import annotations

from collections.abc import Mapping
from statistics import NormalDist

import numpy as np
import numpy.typing as npt

from fruitcast.logs.wood import dry_from_wet
from fruitcast.numbers import Numbers
from fruitcast.shiitake.run_length import cumulate, first_reached
from fruitcast.shiitake.spread import log_scatter
from fruitcast.shiitake.temperature import beta_response

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

SLOW_CAUSES = ("cold", "hot", "dry", "thick", "plugs")
"""What can slow a spawn run, in the order in which `slowed_by` names it."""


def mycelium_speed(tmean: npt.ArrayLike, numbers: Numbers) -> FloatArray:
    """Return the speed of the mycelium at each day's mean temperature.

    Parameters
    ----------
    tmean : float array
        Daily mean temperature. [degC]
    numbers : Numbers
        The numbers in use.

    Returns
    -------
    float array
        Share of the speed at the optimum. [unitless]
    """
    return beta_response(
        tmean,
        numbers.mycelium.base_temperature,
        numbers.mycelium.optimum_temperature,
        numbers.mycelium.maximum_temperature,
    )


def moisture_factor(moisture: npt.ArrayLike, numbers: Numbers) -> FloatArray:
    """Return what log moisture leaves of growth or crop: all when moist, none when too dry.

    Full at the published ideal and none at the published limit of survival; the straight line
    between them is judgement.

    Parameters
    ----------
    moisture : float array
        Log moisture. [kg/kg dry wood]
    numbers : Numbers
        The numbers in use.

    Returns
    -------
    float array
        Between 0 and 1. [unitless]
    """
    none = float(dry_from_wet(numbers.moisture.dead_below))
    full = float(dry_from_wet(numbers.spawn_run.moisture_full))
    return np.clip((np.asarray(moisture, dtype=float) - none) / (full - none), 0.0, 1.0)


def daily_progress(tmean: FloatArray, moisture: FloatArray, numbers: Numbers) -> FloatArray:
    """Return how far the spawn run gets each day.

    Parameters
    ----------
    tmean : (day, column) float array
        Daily mean temperature. [degC]
    moisture : (day, column) float array
        Log moisture. [kg/kg dry wood]
    numbers : Numbers
        The numbers in use.

    Returns
    -------
    (day, column) float array
        Between 0 and 1. [day at the optimum]
    """
    return mycelium_speed(tmean, numbers) * moisture_factor(moisture, numbers)


def diameter_factor(diameter: float, numbers: Numbers) -> float:
    """Return how much longer a thick log's spawn run takes than a middling one's.

    Parameters
    ----------
    diameter : float
        Over bark. [m]
    numbers : Numbers
        The numbers in use.

    Returns
    -------
    float
        [unitless]
    """
    beyond = diameter - numbers.spawn_run.reference_diameter
    thick = max(diameter - numbers.spawn_run.thick_from, 0.0)
    factor = 1 + numbers.spawn_run.per_diameter * beyond
    factor += numbers.spawn_run.per_diameter_thick * thick
    return max(factor, numbers.spawn_run.least_diameter_factor)


def required_progress(
    strain_class: str, spawn: str, diameter: float, tree: str, numbers: Numbers
) -> float:
    """Return how much progress makes a log ready.

    Parameters
    ----------
    strain_class, spawn : str
        Strain class and form of spawn.
    diameter : float
        Over bark. [m]
    tree : str
        Tree species.
    numbers : Numbers
        The numbers in use.

    Returns
    -------
    float
        [day at the optimum]
    """
    return (
        numbers.spawn_run.requirement
        * numbers.strain(strain_class).spawn_run.factor
        * numbers.spawn_run.of_form(spawn)
        * diameter_factor(diameter, numbers)
        * numbers.tree(tree).starts
    )


def required_quantile(required: float, chance: float, numbers: Numbers) -> float:
    """Return the progress that is enough with a given chance, for a range of ready dates.

    Parameters
    ----------
    required : float
        The middle requirement, see `required_progress`. [day at the optimum]
    chance : float
        Chance that no more is needed. [0..1]
    numbers : Numbers
        The numbers in use.

    Returns
    -------
    float
        [day at the optimum]
    """
    sigma = log_scatter(numbers.spawn_run.scatter)
    return float(required * np.exp(sigma * NormalDist().inv_cdf(chance)))


def ready_day(
    progress: FloatArray, required: npt.ArrayLike, begun: npt.ArrayLike = 0.0
) -> IntArray:
    """Return the first day by whose morning the spawn run is done.

    Parameters
    ----------
    progress : (day, column) float array
        Daily progress. [day at the optimum]
    required : float or (column,) float array
        What must build up in all. [day at the optimum]
    begun : float or (column,) float array
        What had built up before the first day. [day at the optimum]

    Returns
    -------
    (column,) int array
        Day index; the number of days where the table ends too soon.
    """
    left = np.maximum(np.asarray(required, dtype=float) - np.asarray(begun, dtype=float), 0.0)
    return first_reached(cumulate(progress), 0, np.arange(progress.shape[1]), left)


def slowed_by(
    tmean: FloatArray, moisture: FloatArray, spawn: str, diameter: float, numbers: Numbers
) -> tuple[str, ...]:
    """Return what slows a spawn run noticeably, as words out of `SLOW_CAUSES`.

    Parameters
    ----------
    tmean, moisture : float array
        The days to judge, usually the season so far. [degC, kg/kg dry wood]
    spawn : str
        Form of spawn.
    diameter : float
        Over bark. [m]
    numbers : Numbers
        The numbers in use.

    Returns
    -------
    tuple of str
        Each costs at least the share `spawn_run.slow_share` of the speed, or for plugs any
        time at all against sawdust.
    """
    slow = numbers.spawn_run.slow_share
    lost = 1 - mycelium_speed(tmean, numbers)
    cool = np.asarray(tmean) < numbers.mycelium.optimum_temperature
    found: Mapping[str, bool] = {
        "cold": bool(np.mean(np.where(cool, lost, 0.0)) >= slow),
        "hot": bool(np.mean(np.where(cool, 0.0, lost)) >= slow),
        "dry": bool(np.mean(1 - moisture_factor(moisture, numbers)) >= slow),
        "thick": diameter_factor(diameter, numbers) >= 1 / (1 - slow),
        "plugs": numbers.spawn_run.of_form(spawn) > numbers.spawn_run.sawdust and spawn == "plug",
    }
    return tuple(cause for cause in SLOW_CAUSES if found[cause])
