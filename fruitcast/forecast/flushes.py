"""What follows a first pick: natural flushes one after another, and what a soak then gives."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil

import numpy as np

from fruitcast.arrays import BoolArray, FloatArray, IntArray
from fruitcast.biology.natural import NaturalPick, flush_chain
from fruitcast.biology.yields import rest_factor
from fruitcast.forecast.fruiting import Fruiting
from fruitcast.forecast.log_weather import columns_of
from fruitcast.topics import NaturalNumbers, YieldsNumbers

FOLLOWED_DAYS = 462
"""Natural flushes are followed for so much rest in a row, six at the usual one: with the days
from trigger to pick more than a year and a half, which no outlook and no season's table
reaches. A bound of the calculation, nothing about logs. [day]"""


@dataclass(frozen=True)
class Following:
    """What happens after each of several starts if nothing is soaked."""

    # (start, member): row of the last first pick at the start; -inf when there was none yet
    last_pick: FloatArray
    # trigger, pick, past, (flush, start, member): rows of the trigger, the first pick and the day
    # after the last pick of each natural flush; the number of rows where there is none
    trigger: IntArray
    pick: IntArray
    past: IntArray
    # (flush, start, member): weight of each flush; 0 where there is none [kg per unit of stack
    # factor and log]
    kg: FloatArray

    def of_starts(self, starts: list[int] | slice) -> Following:
        """Return what follows some of the starts."""
        return Following(
            self.last_pick[starts],
            self.trigger[:, starts],
            self.pick[:, starts],
            self.past[:, starts],
            self.kg[:, starts],
        )

    def times_bearing(self, bearing: FloatArray) -> Following:
        """Return the same flushes with their weights times a factor by day of the trigger."""
        at = np.minimum(self.trigger, len(bearing) - 1)
        return replace(self, kg=self.kg * bearing[at])


def follow(
    fruiting: Fruiting,
    last_pick: FloatArray,
    ready_row: IntArray,
    today_row: int,
    kind: IntArray | None = None,
) -> Following:
    """Return the natural flushes that follow each start.

    A start is told by the row of the last first pick, -inf when there was none yet, and the first
    row on which the logs could be set off, rest left aside (spawn run done, pulled): (start,
    member). Flushes that would have been picked before today did not happen: nobody saw them.
    `kind` is the place of each start's kind in `fruiting` where there are several, (start,).
    """
    numbers = fruiting.weather.numbers
    natural = fruiting.natural
    days, members = len(natural.trigger), last_pick.shape[1]
    column = np.arange(members) if kind is None else columns_of(kind, members)
    rest = int(numbers.natural.rest_days)
    rested = np.where(np.isfinite(last_pick), last_pick + rest, -1).astype(np.int64)
    # What was set off earlier than this has been picked, or has died.
    early = max(today_row - int(numbers.natural.longest_days), 0)
    buds = NaturalPick(natural.pick.first_pick[early:] - early, natural.pick.aborted[early:])
    coming = natural.trigger[early:] & (buds.first_pick >= today_row - early)
    start = np.maximum(rested, ready_row) - early
    most = ceil(FOLLOWED_DAYS / rest)
    chain = flush_chain(coming, buds, rest, start, most, column) + early
    used = int((chain < days).any(axis=(1, 2)).sum())
    chain = chain[:used]
    at = np.minimum(chain, days - 1)
    none = chain >= days
    pick = np.where(none, days, natural.pick.first_pick[at, column]).astype(np.int64)
    past = np.where(none, days, pick + natural.length[at, column])
    before = np.concatenate([last_pick[None], pick[:-1].astype(float)]) if used else pick
    factor = rest_factor(np.maximum(chain - before, 0.0), numbers.yields)
    kg = np.where(none, 0.0, natural.kg[at, column] * factor)
    following = Following(last_pick, chain, pick, past, kg)
    if used:
        _count_as_coming(following, numbers.natural)
    return following


def _count_as_coming(following: Following, natural: NaturalNumbers) -> None:
    """Let a first flush that is all but sure stand in the members that have none, without weight.

    A soak after it then finds rested logs in no member, and nobody counts on the few in which
    the rules of its trigger, which are judgement, happen to fail.
    """
    comes = following.kg[0] > 0
    starts = np.flatnonzero(comes.any(axis=1) & ~comes.all(axis=1))
    there = comes[starts]
    rows = np.stack([following.trigger[0], following.pick[0], following.past[0]])[:, starts]
    middle = _middle(rows, there)
    near = np.abs(rows[1] - middle[1]) <= natural.longest_flush
    sure = (near & there).mean(axis=1, keepdims=True) > natural.sure_chance
    usual = np.where(sure & ~there, middle, rows)
    following.trigger[0, starts], following.pick[0, starts], following.past[0, starts] = usual


def _middle(rows: IntArray, there: BoolArray) -> IntArray:
    """Return the median of the rows that are there, (what, start, 1), downwards to a whole one."""
    rising = np.sort(np.where(there, rows, np.iinfo(np.int64).max), axis=2)
    count, start = there.sum(axis=1), np.arange(len(there))
    low, high = (rising[:, start, at // 2] for at in (count - 1, count))
    return np.asarray((low + high) // 2)[:, :, None]


def soak_factor(
    following: Following, soak_row: IntArray, yields: YieldsNumbers, start: IntArray | None = None
) -> FloatArray:
    """Return what rest and natural flushes leave of a soak after each start.

    The rest since the member's last first pick scales the crop; while a natural flush is
    between its trigger and its last pick, the natural crop stands and the soak gives nothing.
    A factor on `Forced.kg`, by the rows on which the soaks start, (soak,): (start, soak, member),
    or (soak, member) with the `start` before each soak, (soak,). What a soak before its start is
    given has no meaning.
    """
    soak = np.asarray(soak_row)[:, None]
    before = np.s_[:, None] if start is None else start
    last = following.last_pick[before]
    under_way = np.zeros(np.broadcast_shapes(last.shape, soak.shape), dtype=bool)
    for trigger, pick, past in zip(following.trigger, following.pick, following.past, strict=True):
        begun = trigger[before] < soak
        under_way |= begun & (past[before] > soak)
        last = np.where(begun, pick[before], last)
    rest = np.maximum(soak - last, 0.0)
    return np.where(under_way, 0.0, rest_factor(rest, yields))
