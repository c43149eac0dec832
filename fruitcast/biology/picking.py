"""The days of picking: how a flush's weight spreads, and what is still to come of one."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Literal

import numpy as np
import numpy.typing as npt

from fruitcast.arrays import BoolArray, FloatArray, IntArray
from fruitcast.topics import NaturalNumbers, PickingNumbers

FlushKind = Literal["forced", "natural"]


def flush_days(
    kind: FlushKind, tmean: npt.ArrayLike, picking: PickingNumbers, natural: NaturalNumbers
) -> IntArray:
    """Return how many days a flush is picked: few in warm weather, more in cool. [day]

    By the mean temperature around the first pick [degC]; first and last day of picking included.
    """
    ends = picking if kind == "forced" else natural
    shortest, longest = ends.shortest_flush, ends.longest_flush
    warm, cool = picking.warm, picking.cool
    coolness = np.clip((warm - np.asarray(tmean, dtype=float)) / (warm - cool), 0.0, 1.0)
    return np.rint(shortest + (longest - shortest) * coolness).astype(np.int64)


def clear_row(past: IntArray, comes: BoolArray, chance: float) -> IntArray:
    """Return the day on which logs have left the place where they fruited: (...).

    By the days after the last pick of the members in which anything comes, (..., member): of
    these so large a share has picked by then [0..1]. 0 where nothing comes in any member.
    """
    late = np.sort(np.where(comes, past, np.iinfo(np.int64).max), axis=-1)
    count = comes.sum(axis=-1, keepdims=True)
    at = np.maximum(np.ceil(chance * count).astype(np.int64) - 1, 0)
    clear = np.take_along_axis(late, at, axis=-1)
    return np.asarray(np.where(count > 0, clear, 0)[..., 0])


def pick_shape(days: int, *, peak: float) -> FloatArray:
    """Return the share of a flush that is picked on each of its days: (days,), adding up to 1.

    Rises in a straight line to the peak [0..1] and falls in one to the end: a triangle cut into
    days.
    """
    edge = np.linspace(0.0, 1.0, days + 1)
    picked = np.where(edge <= peak, edge**2 / peak, 1 - (1 - edge) ** 2 / (1 - peak))
    return np.asarray(np.diff(picked))


@cache
def shape_table(kind: FlushKind, picking: PickingNumbers, natural: NaturalNumbers) -> FloatArray:
    """Return the shapes of all lengths a flush can have, to look up by `flush_days`.

    (length + 1, longest): row n is the shape of a flush of n days, zero past its end; row 0 is
    all zero.
    """
    ends = picking if kind == "forced" else natural
    longest = int(np.rint(max(ends.shortest_flush, ends.longest_flush)))
    table = np.zeros((longest + 1, longest))
    for days in range(1, longest + 1):
        table[days, :days] = pick_shape(days, peak=picking.peak)
    table.flags.writeable = False  # whoever asks gets the same one
    return table


def dry_cap_share(rain: npt.ArrayLike, picking: PickingNumbers) -> FloatArray:
    """Return what rain [mm/day] on open caps leaves saleable of a day's pick: 1 in dry weather.

    Wet caps keep badly. Covering the fruiting logs keeps all of it.
    """
    start, full = picking.rain_from, picking.rain_full
    wet = np.clip((np.asarray(rain, dtype=float) - start) / (full - start), 0.0, 1.0)
    return 1 - picking.rain_loss * wet


def cover_wanted(rain: npt.ArrayLike, *, rain_from: float) -> BoolArray:
    """Return on which days fruiting logs want a cover against rain. [mm/day]"""
    return np.asarray(np.asarray(rain, dtype=float) > rain_from)


def pick_twice(tmax: npt.ArrayLike, *, twice_from: float) -> BoolArray:
    """Return on which days caps open so fast, by the maximum [degC], that they are picked twice."""
    return np.asarray(np.asarray(tmax, dtype=float) >= twice_from)


# What a flush that is being picked will still bring, inferred from the picks so far.
#
# How big the flush is and when it began are both uncertain: a small first basket may be the start
# of a poor flush, or come early in a good one. Each pair of size and beginning is weighed by how
# well it fits the baskets, beside what was to be expected; nothing is ever divided by the share
# that should have been picked by now.

LEFTOVERS: FloatArray = np.geomspace(1e-5, 1.0, 100)
"""What is tried for what is still to come, as a share of what such logs can give: even steps of its
logarithm, a grid of the calculation."""


@dataclass(frozen=True)
class SoFar:
    """What is held to be true of a flush under way, in each member."""

    start: IntArray  # (member,): day on which it began, days from the first basket [day]
    kg: FloatArray  # (member,): what is still to come after the last basket [kg, as the baskets]


def size_belief(
    log_sd: float, *, counted_ratio: float | None, count_log_sd: float
) -> tuple[float, float]:
    """Return mean and spread of the log of a flush's size over the table's, pins counted or not.

    Two normals multiplied: means weighed by their precisions. The mean factor is one before
    anything is seen; the counted pins should come to `counted_ratio` of the table's weight, with
    a spread of its own; None: not counted.
    """
    mean, variance = -(log_sd**2) / 2, log_sd**2
    if counted_ratio is None or counted_ratio <= 0 or variance == 0:
        return mean, log_sd
    weight = variance / (variance + count_log_sd**2)
    found = mean + weight * (float(np.log(counted_ratio)) - mean)
    return found, float(np.sqrt(variance * (1 - weight)))


def start_weights(
    starts: IntArray,
    thermal_time: FloatArray,
    need: FloatArray,
    *,
    log_sd: float,
    near_days: float,
    doubt: float,
) -> FloatArray:
    """Return how likely each day is the one on which a flush began: (start, member), not scaled.

    Baskets are left aside. `starts` are days tried, counted from the first basket, which comes
    within about `near_days` of the beginning; `thermal_time` the warmth from the pull to each,
    (start, member), `need` what the table has for it, (member,) [degC day], and `log_sd` the
    spread of that. A warmth far from the table's keeps the weight `doubt` of the likeliest one:
    mushrooms that are there are believed before the table.
    """
    ratio = np.maximum(thermal_time, 1e-6) / np.maximum(need, 1e-6)
    off = (np.log(ratio) + log_sd**2 / 2) / max(log_sd, 1e-6)
    near = np.exp(-np.abs(starts) / near_days)[:, None]
    return np.asarray((doubt + (1 - doubt) * np.exp(-(off**2) / 2)) * near)


def still_to_come(
    days: IntArray,
    kg: FloatArray,
    table: FloatArray,
    shape: FloatArray,
    starts: IntArray,
    weights: FloatArray,
    chances: FloatArray,
    *,
    size: tuple[float, float],
    basket_log_sd: float,
    stray: float,
    most: float,
) -> SoFar:
    """Return what is still to come of a flush, one even draw of what is believed a member.

    `days` and `kg` are the picks' days from the first, rising, and weights, above 0, (basket,);
    starts and weights as in `start_weights`, size as in `size_belief`.

    Parameters
    ----------
    table : (guess, member) float array
        What the table has for the whole flush, above 0; guesses are equally likely beforehand.
        [kg]
    shape : (day, member) float array
        Share of the flush that ripens on each of its days. [unitless]
    chances : (member,) float array
        Where in what is believed each member stands: even shares of 0 to 1, in any order.
    basket_log_sd : float
        Spread of one basket about what should have ripened since the one before, picked or
        still to be picked. [unitless]
    stray : float
        Share of a flush that a basket may hold outside its days: a few come early or late.
    most : float
        What such logs can give in one flush; those that gave more than half of it already may
        give as much again. [kg]

    Notes
    -----
    Baskets share out what the flush holds, so the heavier one was by chance the less is left.
    What is left over what was picked lies about what should be ripe later over what should be
    ripe by now, with the spread of all those baskets' sum; how the baskets lie to one another
    tells of the beginning alone. Once no more than a stray share should be left, it is as likely
    that nothing is.
    """
    shape, table = _where_alike(shape), _where_alike(table)
    picked = float(kg.sum())
    room = max(most - picked, picked)
    left = room * LEFTOVERS
    since, later, sd = _ripening(days, shape, starts, basket_log_sd, stray)
    off = np.log(kg)[None, :, None] - np.log(since)
    pattern = ((off - off.mean(axis=1, keepdims=True)) ** 2).sum(axis=1) / basket_log_sd**2
    shared = np.log(later / since.sum(axis=1))
    fit = np.log(np.maximum(weights, 1e-300)) - np.log(sd) - pattern / 2
    # By weight first, so that even chances spread evenly over it: (weight, start, member). The
    # arrays are large, so each step is made in place; the first row is that nothing is left.
    held = np.empty((1 + len(left), *fit.shape))
    off = np.log(left / picked)[:, None, None] - shared
    off /= sd
    off *= off
    off /= 2
    chance = np.subtract(fit, off, out=held[1:])
    chance += _prior(picked + left, table, size)[:, None]
    chance -= chance.max(axis=0).max(axis=0)
    # Numbers too small to be held in full are slow to reckon with.
    np.exp(np.maximum(chance, -600.0, out=chance), out=chance)
    held[0] = np.where(later <= stray, chance.sum(axis=0), 0.0)
    # First how much is left, then of that the beginning.
    by_weight = held.sum(axis=1)
    upto = np.cumsum(by_weight, axis=0)
    goal, member = chances * upto[-1], np.arange(len(chances))
    weight = (upto < goal).sum(axis=0).clip(max=len(left))
    within = np.cumsum(held[weight, :, member], axis=1)
    goal -= (upto - by_weight)[weight, member]
    start = (within < goal[:, None]).sum(axis=1).clip(max=len(starts) - 1)
    return SoFar(starts[start], np.append(0.0, left)[weight])


def _where_alike(columns: FloatArray) -> FloatArray:
    """Return one column for all members where they are alike, as most days so far make them."""
    return columns[:, :1] if (columns == columns[:, :1]).all() else columns


def _ripening(
    days: IntArray, shape: FloatArray, starts: IntArray, basket_log_sd: float, stray: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return what should ripen for each basket and later, and the spread of their ratio's log.

    Shares of the flush, (start, basket, member) and (start, member); no basket is without a
    stray share.
    """
    after = np.concatenate([np.zeros((1, shape.shape[1])), np.cumsum(shape, axis=0)])
    square = np.concatenate([np.zeros((1, shape.shape[1])), np.cumsum(shape**2, axis=0)])
    gone = np.clip(days[None, :] - starts[:, None] + 1, 0, len(shape))
    since = np.maximum(np.diff(after[gone], axis=1, prepend=0.0), stray)
    later = after[-1] - after[gone[:, -1]]
    of_later = (square[-1] - square[gone[:, -1]]) / np.maximum(later, 1e-12) ** 2
    of_later = np.where(later > stray, of_later, 1.0)  # one stray basket
    of_past = (since**2).sum(axis=1) / since.sum(axis=1) ** 2
    return since, np.maximum(later, stray), basket_log_sd * np.sqrt(of_past + of_later)


def _prior(whole: FloatArray, table: FloatArray, size: tuple[float, float]) -> FloatArray:
    """Return the log of how likely each weight of the whole flush is: (weight, member)."""
    mean, spread = size
    off = (np.log(whole)[None, :, None] - np.log(table)[:, None] - mean) / max(spread, 1e-6)
    return np.asarray(np.logaddexp.reduce(-(off**2) / 2, axis=0))
