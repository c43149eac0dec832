"""The cost of sales of many alternative supplies at once: the search's inner loop."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fruitcast.schedule.problem import FloatArray, IntArray, Prices
from fruitcast.schedule.supply import CheckDays, tail_mean

Single = np.float32
"""Alternatives are scored in single precision; a chosen plan is re-evaluated in double."""


@dataclass(frozen=True)
class RowOrder:
    """In which order rows come alive: until then a row's past is its parent's.

    Attributes
    ----------
    count : (sale,) int array
        Rows that can differ from their parent at each sale, never falling.
    heir : (row,) int array
        For each row the row whose ledger it takes over when it comes alive.
    """

    count: IntArray
    heir: IntArray

    @classmethod
    def of(cls, count: IntArray, parent: IntArray) -> RowOrder:
        """Return the order for rows that stand behind their parents."""
        alive_before = np.zeros(len(parent), dtype=np.int64)
        steps = [*sorted({int(c) for c in count}), len(parent)]
        for before, after in zip([0, *steps[:-1]], steps, strict=True):
            alive_before[before:after] = before
        heir = parent.copy()
        for row in range(len(parent)):
            # Parents stand in front; one that came alive together with the row hands on its own.
            if heir[row] >= alive_before[row]:
                heir[row] = heir[heir[row]] if row else 0
        return cls(np.asarray(count, dtype=np.int64), heir)

    @classmethod
    def all_alive(cls, rows: int, sales: int) -> RowOrder:
        """Return the order of rows that have nothing in common."""
        return cls(np.full(sales, rows), np.arange(rows))


def score_rows(
    prices: Prices,
    promise: float,
    checks: CheckDays,
    inner: npt.NDArray[np.float32],
    scale: np.float32,
    base: npt.NDArray[np.float32],
    base_row: IntArray,
    order: RowOrder,
) -> FloatArray:
    """Return the mean cost of sales of many rows, each an alternative for one stack.

    Row r has picked ``base[:, base_row[r]] + scale * inner[:, r]``.

    Parameters
    ----------
    prices : Prices
        Prices of expiry and certainty.
    promise : float
        Chance asked of a promise. [0..1]
    checks : CheckDays
        The check days and sales.
    inner : (check, row, member) float array
        [kg per unit of scale]
    scale : float
        What `inner` is multiplied by.
    base : (check, base row, member) float array
        [kg]
    base_row : (row,) int array
        Row of `base`.
    order : RowOrder
        When each row comes alive.

    Returns
    -------
    (row,) float array
        [kg]
    """
    rows, members = inner.shape[1], inner.shape[2]
    gone = np.zeros((rows, members), dtype=Single)
    cost = np.zeros(rows)
    picked = np.empty((rows, members), dtype=Single)
    work = np.empty((rows, members), dtype=Single)
    mean = np.full(members, 1.0 / members, dtype=Single)
    heir = order.heir
    live = 0

    def total_at(check: int, count: int) -> npt.NDArray[np.float32]:
        total = np.multiply(inner[check, :count], scale, out=picked[:count])
        # 'clip' spares numpy a copy of the result; the rows are all in range.
        total += base[check].take(base_row[:count], axis=0, out=work[:count], mode="clip")
        return total

    for sale, target in enumerate(checks.target.tolist()):
        count = int(order.count[sale])
        if count > live:
            if live:
                gone[live:count] = gone[heir[live:count]]
                cost[live:count] = cost[heir[live:count]]
            live = count
        now = gone[:count]
        lost = total_at(int(checks.stale[sale]), count)
        lost -= now
        np.maximum(lost, 0, out=lost)
        now += lost
        cost[:count] += prices.expired * (lost @ mean)
        sold = total_at(int(checks.reach[sale]), count)
        sold -= now
        np.minimum(sold, Single(target), out=sold)
        now += sold
        if prices.certainty > 0:
            cost[:count] += prices.certainty * tail_mean(Single(target) - sold, 1 - promise)
        cost[:count] += checks.weight[sale] * (target - sold @ mean)
    if live < rows:
        gone[live:] = gone[heir[live:]]
        cost[live:] = cost[heir[live:]]
    lost = total_at(checks.final, rows)
    lost -= gone
    np.maximum(lost, 0, out=lost)
    cost += prices.expired * (lost @ mean)
    return cost
