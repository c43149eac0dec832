"""How fast the fungus works at a temperature, and how well a temperature suits a flush.

A log of 12.5 cm follows the air within an hour or two, so by the day its mean temperature is the
air's. Where growth bends with temperature the course of the day counts as well: `log_course`.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]


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


def degree_days(tmean: npt.ArrayLike, base: float, cap: float) -> FloatArray:
    """Return each day's warmth above the base temperature. [degC day]

    Beyond the cap more heat does not bring the mushrooms any sooner.
    """
    return np.asarray(np.clip(np.asarray(tmean, dtype=float), base, cap) - base)


def range_fit(
    t: npt.ArrayLike, lower: float, best_low: float, best_high: float, upper: float
) -> FloatArray:
    """Return how well a temperature suits a flush: 1 in the best range, 0 beyond the limits.

    Straight lines between the four points at which fruiting starts, is best from, is best to, and
    stops. [degC]
    """
    points = [lower, best_low, best_high, upper]
    return np.asarray(np.interp(np.asarray(t, dtype=float), points, [0.0, 1.0, 1.0, 0.0]))
