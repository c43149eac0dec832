"""The cost of sales of many alternative supplies at once: the search's inner loop."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fruitcast.schedule.problem import FloatArray, IntArray, Problem
from fruitcast.schedule.supply import CheckDays, tail_mean

Single = np.float32
"""Alternatives are scored in single precision; a chosen plan is re-evaluated in double."""


def score_rows(
    problem: Problem,
    checks: CheckDays,
    inner: npt.NDArray[np.float32],
    scale: np.float32,
    base: npt.NDArray[np.float32],
    base_row: IntArray,
    parent: IntArray,
    rows_by_sale: IntArray,
) -> FloatArray:
    """Return the mean cost of sales of many rows, each an alternative for one stack.

    Row r has picked ``base[:, base_row[r]] + scale * inner[:, r]``; -1 is the last row of
    `base`. Rows past ``rows_by_sale[s]`` do not yet differ from their parent at sale s, so
    they inherit the parent's ledger when their turn comes.

    Parameters
    ----------
    inner : (check, row, member) float array
        [kg per unit of scale]
    base : (check, base row, member) float array
        [kg]
    base_row, parent : (row,) int array
        Row of `base`, and the row whose past is the same.
    rows_by_sale : (sale,) int array
        Rows to compute at each sale, never falling.
    """
    rows, members = inner.shape[1], inner.shape[2]
    gone = np.zeros((rows, members), dtype=Single)
    cost = np.zeros(rows)
    picked = np.empty((rows, members), dtype=Single)
    work = np.empty((rows, members), dtype=Single)
    mean = np.full(members, 1.0 / members, dtype=Single)
    risk = problem.prices.certainty
    live = 0

    def total_at(check: int, count: int) -> npt.NDArray[np.float32]:
        total = np.multiply(inner[check, :count], scale, out=picked[:count])
        total += np.take(base[check], base_row[:count], axis=0, out=work[:count])
        return total

    for sale in range(len(checks.sale_day)):
        count = int(rows_by_sale[sale])
        if count > live:
            if live:
                _inherit(gone, cost, parent, live, count)
            live = count
        now = gone[:count]
        lost = total_at(int(checks.stale[sale]), count)
        lost -= now
        np.maximum(lost, 0, out=lost)
        now += lost
        cost[:count] += problem.prices.expired * (lost @ mean)
        sold = total_at(int(checks.reach[sale]), count)
        sold -= now
        np.clip(sold, 0, Single(checks.target[sale]), out=sold)
        now += sold
        if risk > 0:
            short = Single(checks.target[sale]) - sold
            cost[:count] += risk * tail_mean(short, 1 - problem.promise)
        cost[:count] += checks.weight[sale] * (checks.target[sale] - sold @ mean)
    if live < rows:
        _inherit(gone, cost, parent, live, rows)
    lost = total_at(checks.final, rows)
    lost -= gone
    np.maximum(lost, 0, out=lost)
    cost += problem.prices.expired * (lost @ mean)
    return cost


def _inherit(
    gone: npt.NDArray[np.float32], cost: FloatArray, parent: IntArray, live: int, count: int
) -> None:
    # Parents stand before their rows, but may be as new as they are.
    source = parent[live:count].copy()
    while (source >= live).any():
        late = source >= live
        source[late] = parent[source[late]]
    gone[live:count] = gone[source]
    cost[live:count] = cost[source]
