"""The days of picking: how long a flush lasts, how its weight spreads, what rain and heat do."""

from __future__ import annotations

from typing import Literal

import numpy as np
import numpy.typing as npt

from fruitcast.numbers import Numbers

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

FlushKind = Literal["forced", "natural"]


def flush_days(kind: FlushKind, tmean: npt.ArrayLike, numbers: Numbers) -> IntArray:
    """Return how many days a flush is picked: few in warm weather, more in cool.

    Parameters
    ----------
    kind : str
        'forced' or 'natural'.
    tmean : float array
        Mean temperature around the first pick. [degC]
    numbers : Numbers
        The numbers in use.

    Returns
    -------
    int array
        First and last day of picking included. [day]
    """
    ends = numbers.picking if kind == "forced" else numbers.natural
    shortest, longest = ends.shortest_flush, ends.longest_flush
    warm, cool = numbers.picking.warm, numbers.picking.cool
    coolness = np.clip((warm - np.asarray(tmean, dtype=float)) / (warm - cool), 0.0, 1.0)
    return np.rint(shortest + (longest - shortest) * coolness).astype(np.int64)


def pick_shape(days: int, numbers: Numbers) -> FloatArray:
    """Return the share of a flush that is picked on each of its days.

    Rises in a straight line to the peak and falls in one to the end: a triangle cut into days.

    Parameters
    ----------
    days : int
        Length of the flush, at least 1. [day]
    numbers : Numbers
        The numbers in use.

    Returns
    -------
    (days,) float array
        Adds up to 1. [unitless]
    """
    peak = numbers.picking.peak
    edge = np.linspace(0.0, 1.0, days + 1)
    picked = np.where(edge <= peak, edge**2 / peak, 1 - (1 - edge) ** 2 / (1 - peak))
    return np.asarray(np.diff(picked))


def shape_table(kind: FlushKind, numbers: Numbers) -> FloatArray:
    """Return the shapes of all lengths a flush can have, to look up by `flush_days`.

    Parameters
    ----------
    kind : str
        'forced' or 'natural'.
    numbers : Numbers
        The numbers in use.

    Returns
    -------
    (length + 1, longest) float array
        Row n is the shape of a flush of n days, zero past its end; row 0 is all zero.
    """
    ends = numbers.picking if kind == "forced" else numbers.natural
    longest = int(np.rint(max(ends.shortest_flush, ends.longest_flush)))
    table = np.zeros((longest + 1, longest))
    for days in range(1, longest + 1):
        table[days, :days] = pick_shape(days, numbers)
    return table


def dry_cap_share(rain: npt.ArrayLike, numbers: Numbers) -> FloatArray:
    """Return what rain on open caps leaves saleable of a day's pick.

    Wet caps keep badly. Covering the fruiting logs keeps all of it.

    Parameters
    ----------
    rain : float array
        Rain of the day. [mm/day]
    numbers : Numbers
        The numbers in use.

    Returns
    -------
    float array
        1 in dry weather. [unitless]
    """
    start, full = numbers.picking.rain_from, numbers.picking.rain_full
    wet = np.clip((np.asarray(rain, dtype=float) - start) / (full - start), 0.0, 1.0)
    return 1 - numbers.picking.rain_loss * wet


def cover_wanted(rain: npt.ArrayLike, numbers: Numbers) -> BoolArray:
    """Return on which days fruiting logs want a cover against rain. Parameters as above."""
    return np.asarray(np.asarray(rain, dtype=float) > numbers.picking.rain_from)


def pick_twice(tmax: npt.ArrayLike, numbers: Numbers) -> BoolArray:
    """Return on which days caps open so fast that they should be picked twice.

    Parameters
    ----------
    tmax : float array
        Daily maximum temperature. [degC]
    numbers : Numbers
        The numbers in use.

    Returns
    -------
    bool array
        [unitless]
    """
    return np.asarray(np.asarray(tmax, dtype=float) >= numbers.picking.twice_from)
