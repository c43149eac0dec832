"""The spawn run: from inoculation until the fungus has taken the log and can fruit.

Progress is counted in days at the best temperature in a moist log ('optimum days'). A log of
12.5 cm follows the air within an hour or two, so by the day its mean temperature is the air's.
Growth bends with temperature, so the course of the day counts as well: `log_course`.
"""

from __future__ import annotations

from collections.abc import Mapping
from statistics import NormalDist

import numpy as np
import numpy.typing as npt

from fruitcast.arrays import FloatArray, IntArray
from fruitcast.biology.run_length import cumulate, first_reached
from fruitcast.biology.spread import log_scatter
from fruitcast.biology.wood import USUAL_DIAMETER, dry_from_wet
from fruitcast.topics import MoistureNumbers, MyceliumNumbers, SpawnRunNumbers

SLOW_CAUSES = ("cold", "hot", "dry", "thick", "plugs")
"""What can slow a spawn run, in the order in which `slowed_by` names it."""

LEAST_DIAMETER_FACTOR = 0.7
"""Holes are some 15 cm apart along a log however thin it is. Ours; reached below 5 cm only, thinner
than any log that is inoculated: it keeps a grower's own numbers from making the factor negative."""


def cardinal_response(
    t: npt.ArrayLike, *, base: float, optimum: float, maximum: float
) -> FloatArray:
    """Return the speed of growth at a temperature, as a share of the speed at the optimum.

    Rises slowly from the base, bends, is flat around the optimum and falls steeply to the
    maximum; nothing grows outside. The cool limb does not depend on how steep the hot one is.
    Made for micro-organisms at steady temperatures; the optimum lies beyond the middle of the
    other two. [degC]

    Notes
    -----
    r = (T - Tm) (T - Tb)^2 / {(To - Tb) [(To - Tb) (T - To) - (To - Tm) (To + Tb - 2 T)]}, the
    cardinal temperature model with inflection, from memory.

    References
    ----------
    [1] Rosso, L., Lobry, J.R., Bajard, S., Flandrois, J.P. 1993. J. Theor. Biol. 162:447-463.
    [2] For moulds: Rosso, L., Robinson, T.P. 2001. Int. J. Food Microbiol. 63:131-134.
    """
    inside = np.clip(np.asarray(t, dtype=float), base, maximum)
    rising = optimum - base
    bent = rising * (inside - optimum) - (optimum - maximum) * (optimum + base - 2 * inside)
    return np.asarray((inside - maximum) * (inside - base) ** 2 / (rising * bent))


def log_course(
    tmin: npt.ArrayLike, tmax: npt.ArrayLike, *, shade: float, cooling: float, lag: float
) -> FloatArray:
    """Return the temperatures of a log at four moments that stand for the course of a day. [degC]

    The air is taken to swing like a sine between the day's minimum and maximum. Shade [0..1] lowers
    the maximum by a share of the swing, `cooling` for full shade, and the log follows with a lag
    [h] that flattens the rest. The mean over the four moments, the first axis, of anything that
    depends smoothly on temperature is its mean over the day.

    Notes
    -----
    The moments are the four nodes of Gauss and Chebyshev, whose weights are equal: the quadrature
    of a function of the sine over its period. A first-order lag leaves 1 / sqrt(1 + (w lag)^2) of
    a swing of angular speed w.
    """
    low, air = np.asarray(tmin, dtype=float), np.asarray(tmax, dtype=float)
    high = air - cooling * shade * (air - low)
    swing = (high - low) / 2 / np.hypot(1.0, 2 * np.pi * lag / 24)
    nodes = np.cos(np.pi * (2 * np.arange(4) + 1) / 8)
    return np.asarray((low + high) / 2 + np.multiply.outer(nodes, swing))


def mycelium_speed(
    tmin: npt.ArrayLike, tmax: npt.ArrayLike, mycelium: MyceliumNumbers, *, shade: float
) -> FloatArray:
    """Return the speed of the mycelium on each day, as a share of that at the optimum. [unitless]

    Growth bends upwards where it is cool: a warm afternoon adds more than a cold night takes,
    so the mean temperature alone would make a cool site too slow. By the air's daily extremes
    [degC] and the share of the sky's light kept off the logs [0..1].
    """
    return np.asarray(_speeds(tmin, tmax, shade, mycelium)[1].mean(axis=0))


def _speeds(
    tmin: npt.ArrayLike, tmax: npt.ArrayLike, shade: float, mycelium: MyceliumNumbers
) -> tuple[FloatArray, FloatArray]:
    """Return (moment, ...) temperature and speed over the course of each day."""
    temperatures = log_course(
        tmin, tmax, shade=shade, cooling=mycelium.shade_cooling, lag=mycelium.log_lag
    )
    speed = cardinal_response(
        temperatures,
        base=mycelium.base_temperature,
        optimum=mycelium.optimum_temperature,
        maximum=mycelium.maximum_temperature,
    )
    return temperatures, speed


def moisture_factor(
    moisture: npt.ArrayLike, balance: MoistureNumbers, spawn_run: SpawnRunNumbers
) -> FloatArray:
    """Return what log moisture leaves of growth or crop: all when moist, none when too dry. [0..1]

    Full at the published ideal and none at the published limit of survival; the straight line
    between them is judgement. By the moisture on a dry basis. [kg/kg dry wood]
    """
    none = float(dry_from_wet(balance.dead_below))
    full = float(dry_from_wet(spawn_run.moisture_full))
    return np.clip((np.asarray(moisture, dtype=float) - none) / (full - none), 0.0, 1.0)


def diameter_factor(diameter: float, spawn_run: SpawnRunNumbers) -> float:
    """Return how much longer the spawn run of a thick log takes than a middling one's.

    `diameter` is over bark. [m]
    """
    beyond = diameter - USUAL_DIAMETER
    thick = max(diameter - spawn_run.thick_from, 0.0)
    factor = 1 + spawn_run.per_diameter * beyond
    factor += spawn_run.per_diameter_thick * thick
    return max(factor, LEAST_DIAMETER_FACTOR)


def required_progress(
    spawn: str,
    diameter: float,
    spawn_run: SpawnRunNumbers,
    *,
    class_factor: float,
    tree_factor: float,
) -> float:
    """Return how much progress makes a log ready. [day at the optimum]

    `class_factor` and `tree_factor` are the requirements of strain class and tree species against
    the reference, diameter is over bark [m].
    """
    return (
        spawn_run.requirement
        * class_factor
        * spawn_run.of_form(spawn)
        * diameter_factor(diameter, spawn_run)
        * tree_factor
    )


def required_quantile(required: float, chance: float, *, scatter: float) -> float:
    """Return the progress that is enough with a given chance, for a range of ready dates.

    `required` is the middle, see `required_progress`, `scatter` its coefficient of variation.
    [day at the optimum]
    """
    sigma = log_scatter(scatter)
    return float(required * np.exp(sigma * NormalDist().inv_cdf(chance)))


def ready_day(progress: FloatArray, required: npt.ArrayLike) -> IntArray:
    """Return the first day by whose morning the spawn run is done, (..., column).

    The number of days where the table ends too soon. `progress` is (day, column), `required` what
    must build up, (..., column) with leading axes as alternatives. [day at the optimum]
    """
    return first_reached(cumulate(progress), 0, np.arange(progress.shape[1]), required)


def slowed_by(
    tmin: FloatArray,
    tmax: FloatArray,
    moisture: FloatArray,
    spawn: str,
    diameter: float,
    mycelium: MyceliumNumbers,
    balance: MoistureNumbers,
    spawn_run: SpawnRunNumbers,
    *,
    shade: float,
) -> tuple[str, ...]:
    """Return what slows a spawn run noticeably, as words out of `SLOW_CAUSES`.

    Each costs at least the share `spawn_run.slow_share` of the speed, or for plugs any time at
    all against sawdust. The days to judge are usually the season so far; parameters otherwise as
    in `mycelium_speed` and `moisture_factor`, diameter over bark [m].
    """
    slow = spawn_run.slow_share
    damp = moisture_factor(moisture, balance, spawn_run)
    temperatures, speed = _speeds(tmin, tmax, shade, mycelium)
    lost = 1 - speed
    cool = temperatures < mycelium.optimum_temperature
    found: Mapping[str, bool] = {
        "cold": bool(np.mean(np.where(cool, lost, 0.0)) >= slow),
        "hot": bool(np.mean(np.where(cool, 0.0, lost)) >= slow),
        "dry": bool(np.mean(1 - damp) >= slow),
        "thick": diameter_factor(diameter, spawn_run) >= 1 / (1 - slow),
        "plugs": spawn_run.of_form(spawn) > spawn_run.sawdust and spawn == "plug",
    }
    return tuple(cause for cause in SLOW_CAUSES if found[cause])
