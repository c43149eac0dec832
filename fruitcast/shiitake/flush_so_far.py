"""What a flush that is being picked will still bring, inferred from the picks so far.

How big the flush is and when it began are both uncertain: a small first basket may be the start
of a poor flush, or come early in a good one. Each pair of size and beginning is weighed by how
well it fits the baskets, beside what was to be expected; nothing is ever divided by the share
that should have been picked by now.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fruitcast.shiitake.spread import normal_scores

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

SIZES = 25
"""Sizes tried, at even steps of chance: a grid of the calculation."""


@dataclass(frozen=True)
class SoFar:
    """What is held to be true of a flush under way, in each member.

    Attributes
    ----------
    start : (member,) int array
        Day on which it began, days from the first basket. [day]
    kg : (member,) float array
        What is still to come after the last basket. [kg, as the baskets]
    """

    start: IntArray
    kg: FloatArray


def size_belief(
    log_sd: float, *, counted_ratio: float | None, count_log_sd: float
) -> tuple[float, float]:
    """Return mean and spread of the log of a flush's size over the table's, pins counted or not.

    Parameters
    ----------
    log_sd : float
        Spread of the size before anything is seen; its mean factor is one. [unitless]
    counted_ratio : float or None
        What the counted pins should come to over the table's weight; None: not counted.
        [unitless]
    count_log_sd : float
        Spread of what such a count comes to. [unitless]

    Returns
    -------
    (float, float)
        Two normals multiplied: means weighed by their precisions. [unitless]
    """
    mean, variance = -(log_sd**2) / 2, log_sd**2
    if counted_ratio is None or counted_ratio <= 0 or variance == 0:
        return mean, log_sd
    weight = variance / (variance + count_log_sd**2)
    found = mean + weight * (float(np.log(counted_ratio)) - mean)
    return found, float(np.sqrt(variance * (1 - weight)))


def start_weights(
    starts: IntArray,
    warmth: FloatArray,
    need: FloatArray,
    *,
    log_sd: float,
    near_days: float,
    doubt: float,
) -> FloatArray:
    """Return how likely each day is the one on which a flush began, baskets left aside.

    Parameters
    ----------
    starts : (start,) int array
        Days tried, days from the first basket. [day]
    warmth : (start, member) float array
        Warmth from the pull to each of them. [degC day]
    need : (member,) float array
        Warmth that the table has from the pull to the beginning. [degC day]
    log_sd : float
        Spread of that. [unitless]
    near_days : float
        The first basket comes about so near to the beginning, before or after. [day]
    doubt : float
        Weight, against the likeliest warmth, of a warmth far from the table's: mushrooms that
        are there are believed before the table. [unitless]

    Returns
    -------
    (start, member) float array
        Not scaled. [unitless]
    """
    ratio = np.maximum(warmth, 1e-6) / np.maximum(need, 1e-6)
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

    Parameters
    ----------
    days : (basket,) int array
        Day of each pick from the first, rising. [day]
    kg : (basket,) float array
        Their weights, above 0. [kg]
    table : (guess, member) float array
        What the table has for the whole flush, above 0; guesses are equally likely beforehand.
        [kg]
    shape : (day, member) float array
        Share of the flush that ripens on each of its days. [unitless]
    starts : (start,) int array
        Days on which it may have begun, days from the first basket. [day]
    weights : (start, member) float array
        How likely each is, see `start_weights`.
    chances : (member,) float array
        Where in what is believed each member stands: even shares of 0 to 1, in any order.
    size : (float, float)
        Mean and spread of the log of its size over the table's, see `size_belief`.
    basket_log_sd : float
        Spread of one basket about what should have ripened since the one before. [unitless]
    stray : float
        Share of a flush that a basket may hold outside its days: a few come early or late.
    most : float
        What such logs can give in one flush. [kg]
    """
    after = np.concatenate([np.zeros((1, shape.shape[1])), np.cumsum(shape, axis=0)])
    # Ripe by the evening of each basket, by start: (start, basket, member)
    gone = np.clip(days[None, :] - starts[:, None] + 1, 0, len(shape))
    ripe = after[gone]
    since = np.diff(ripe, axis=1, prepend=0.0)
    mean, spread = size
    sizes = np.exp(mean + spread * normal_scores(SIZES))
    # (guess and size, member)
    whole = np.minimum(sizes[:, None] * table[:, None], most).reshape(-1, table.shape[-1])
    expected = np.maximum(since, stray)[:, None] * whole[None, :, None, :]
    off = (np.log(kg)[None, None, :, None] - np.log(expected)) / basket_log_sd
    fit = -0.5 * (off**2).sum(axis=2) + np.log(np.maximum(weights, 1e-300))[:, None, :]
    left = whole[None] * (1 - ripe[:, -1])[:, None, :]
    left = np.minimum(left, max(most - float(kg.sum()), 0.0))
    return _drawn(fit, left, starts, chances)


def _drawn(fit: FloatArray, left: FloatArray, starts: IntArray, chances: FloatArray) -> SoFar:
    """Draw one pair of size and start a member, from least to most still to come."""
    members = fit.shape[2]
    fit = fit.reshape(-1, members)
    left = left.reshape(-1, members)
    begun = np.repeat(starts, len(fit) // len(starts))
    order = np.argsort(left, axis=0, kind="stable")
    chance = np.exp(fit - fit.max(axis=0))
    chance = np.take_along_axis(chance / chance.sum(axis=0), order, axis=0)
    place = (np.cumsum(chance, axis=0) < chances).sum(axis=0).clip(max=len(fit) - 1)
    at = order[place, np.arange(members)]
    return SoFar(begun[at], left[at, np.arange(members)])
