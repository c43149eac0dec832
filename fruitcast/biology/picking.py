"""The days of picking: how long a flush lasts, how its weight spreads, what rain and heat do."""

from __future__ import annotations

from functools import cache
from typing import Literal

import numpy as np
import numpy.typing as npt

from fruitcast.topics import NaturalNumbers, PickingNumbers

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

FlushKind = Literal["forced", "natural"]


def flush_days(
    kind: FlushKind, tmean: npt.ArrayLike, picking: PickingNumbers, natural: NaturalNumbers
) -> IntArray:
    """Return how many days a flush is picked: few in warm weather, more in cool.

    Parameters
    ----------
    kind : str
        'forced' or 'natural'.
    tmean : float array
        Mean temperature around the first pick. [degC]
    picking : PickingNumbers
        Numbers of picking.
    natural : NaturalNumbers
        Numbers of natural flushes.

    Returns
    -------
    int array
        First and last day of picking included. [day]
    """
    ends = picking if kind == "forced" else natural
    shortest, longest = ends.shortest_flush, ends.longest_flush
    warm, cool = picking.warm, picking.cool
    coolness = np.clip((warm - np.asarray(tmean, dtype=float)) / (warm - cool), 0.0, 1.0)
    return np.rint(shortest + (longest - shortest) * coolness).astype(np.int64)


def clear_row(past: IntArray, comes: BoolArray, chance: float) -> IntArray:
    """Return the day on which logs have left the place where they fruited.

    Parameters
    ----------
    past : (..., member) int array
        Day after the last pick.
    comes : (..., member) bool array
        Whether anything comes.
    chance : float
        Share of the members that bear by whose last pick the place is counted on. [0..1]

    Returns
    -------
    (...) int array
        0 where nothing comes in any member. [day]
    """
    late = np.sort(np.where(comes, past, np.iinfo(np.int64).max), axis=-1)
    count = comes.sum(axis=-1, keepdims=True)
    at = np.maximum(np.ceil(chance * count).astype(np.int64) - 1, 0)
    clear = np.take_along_axis(late, at, axis=-1)
    return np.asarray(np.where(count > 0, clear, 0)[..., 0])


def pick_shape(days: int, *, peak: float) -> FloatArray:
    """Return the share of a flush that is picked on each of its days.

    Rises in a straight line to the peak and falls in one to the end: a triangle cut into days.

    Parameters
    ----------
    days : int
        Length of the flush, at least 1. [day]
    peak : float
        Where in the flush it peaks. [0..1]

    Returns
    -------
    (days,) float array
        Adds up to 1. [unitless]
    """
    edge = np.linspace(0.0, 1.0, days + 1)
    picked = np.where(edge <= peak, edge**2 / peak, 1 - (1 - edge) ** 2 / (1 - peak))
    return np.asarray(np.diff(picked))


@cache
def shape_table(kind: FlushKind, picking: PickingNumbers, natural: NaturalNumbers) -> FloatArray:
    """Return the shapes of all lengths a flush can have, to look up by `flush_days`.

    Parameters
    ----------
    kind : str
        'forced' or 'natural'.
    picking : PickingNumbers
        Numbers of picking.
    natural : NaturalNumbers
        Numbers of natural flushes.

    Returns
    -------
    (length + 1, longest) float array
        Row n is the shape of a flush of n days, zero past its end; row 0 is all zero.
    """
    ends = picking if kind == "forced" else natural
    longest = int(np.rint(max(ends.shortest_flush, ends.longest_flush)))
    table = np.zeros((longest + 1, longest))
    for days in range(1, longest + 1):
        table[days, :days] = pick_shape(days, peak=picking.peak)
    table.flags.writeable = False  # whoever asks gets the same one
    return table


def dry_cap_share(
    rain: npt.ArrayLike, *, rain_from: float, rain_full: float, rain_loss: float
) -> FloatArray:
    """Return what rain on open caps leaves saleable of a day's pick.

    Wet caps keep badly. Covering the fruiting logs keeps all of it.

    Parameters
    ----------
    rain : float array
        Rain of the day. [mm/day]
    rain_from : float
        From here on caps are wet. [mm/day]
    rain_full : float
        From here on all are. [mm/day]
    rain_loss : float
        Share lost when all are. [0..1]

    Returns
    -------
    float array
        1 in dry weather. [unitless]
    """
    start, full = rain_from, rain_full
    wet = np.clip((np.asarray(rain, dtype=float) - start) / (full - start), 0.0, 1.0)
    return 1 - rain_loss * wet


def cover_wanted(rain: npt.ArrayLike, *, rain_from: float) -> BoolArray:
    """Return on which days fruiting logs want a cover against rain. Parameters as above."""
    return np.asarray(np.asarray(rain, dtype=float) > rain_from)


def pick_twice(tmax: npt.ArrayLike, *, twice_from: float) -> BoolArray:
    """Return on which days caps open so fast that they should be picked twice.

    Parameters
    ----------
    tmax : float array
        Daily maximum temperature. [degC]
    twice_from : float
        Daily maximum from which to pick twice. [degC]

    Returns
    -------
    bool array
        [unitless]
    """
    return np.asarray(np.asarray(tmax, dtype=float) >= twice_from)
