"""The cold store of one possible future, day by day: what is sold where, what expires.

Written to be read and believed, not to be fast: plain lists of batches. It shares no code
with the search, so that the two can be held against each other.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from fruitcast.soaks.problem import OutletDay


@dataclass
class Batch:
    """Mushrooms of one pick still in the cold store. [day, kg]"""

    picked: int
    kg: float


@dataclass(frozen=True)
class Sales:
    """One member's sales.

    Attributes
    ----------
    delivered : tuple of float
        Sold on each outlet day, in the order the outlet days were given. [kg]
    available : tuple of float
        Saleable stock when that outlet's turn came: what it could have had with no limit. [kg]
    expired : float
        What passed its last day unsold, that day lying before the last of the ledger. [kg]
    store : tuple of (int, float)
        Stock at the end: day picked and weight, oldest first. [kg]
    """

    delivered: tuple[float, ...]
    available: tuple[float, ...]
    expired: float
    store: tuple[tuple[int, float], ...]

    @property
    def left(self) -> float:
        """Stock at the end. [kg]"""
        return sum(kg for _, kg in self.store)


def sell(
    picks: Iterable[tuple[int, float]],
    outlets: Sequence[OutletDay],
    cold_days: int,
    days: int,
) -> Sales:
    """Return what is sold and what expires when the oldest mushrooms always go first.

    A pick of day p is for sale on the days p+1 .. p+cold_days. On one day the outlet of
    larger weight is served first, equal weights by name.

    Parameters
    ----------
    picks : iterable of (int, float)
        Day picked (negative for stock on hand) and saleable weight. [day, kg]
    outlets : sequence of OutletDay
        Outlet days in any order.
    cold_days : int
        Last day after the pick on which it can be sold. [day]
    days : int
        Length of the ledger. [day]
    """
    picked_on: dict[int, float] = defaultdict(float)
    for day, kg in picks:
        picked_on[day] += kg
    served: dict[int, list[int]] = defaultdict(list)
    for index, outlet in enumerate(outlets):
        served[outlet.day].append(index)
    for queue in served.values():
        queue.sort(key=lambda index: (-outlets[index].weight, outlets[index].outlet))

    store = [Batch(day, picked_on[day]) for day in sorted(picked_on) if day < 0]
    delivered = [0.0] * len(outlets)
    available = [0.0] * len(outlets)
    expired = 0.0
    for today in range(days):
        expired += sum(batch.kg for batch in store if batch.picked + cold_days < today)
        store = [batch for batch in store if batch.picked + cold_days >= today]
        for index in served[today]:
            available[index] = sum(batch.kg for batch in store)
            wanted = outlets[index].target
            for batch in store:  # oldest first
                sold = min(batch.kg, wanted)
                batch.kg -= sold
                wanted -= sold
            delivered[index] = outlets[index].target - wanted
            store = [batch for batch in store if batch.kg > 0.0]
        if today in picked_on:  # for sale from tomorrow on
            store.append(Batch(today, picked_on[today]))
    # The night after the last day: what was sold until then at the latest has expired too.
    expired += sum(batch.kg for batch in store if batch.picked + cold_days < days)
    kept = tuple((b.picked, b.kg) for b in store if b.picked + cold_days >= days)
    return Sales(tuple(delivered), tuple(available), expired, kept)
