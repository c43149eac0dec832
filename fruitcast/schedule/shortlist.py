"""The most promising paths of one stack, scored again and again in little time.

While a few stacks are moved about, most of the hundreds of paths of each stay far from the
best. A shortlist keeps the ones that came out best when all were scored, with their supply
worked out, so that scoring them against everyone else's is one sum and a short loop.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fruitcast.schedule.problem import BoolArray, FloatArray, Path, Problem
from fruitcast.schedule.row_costs import Single
from fruitcast.schedule.supply import CheckDays, tail_mean


class AlternativeSales:
    """The sales of some alternatives, each a whole supply, in memory kept from call to call.

    Parameters
    ----------
    problem : Problem
        For members, promise and prices.
    checks : CheckDays
        Its check days and sales.
    count : int
        Number of alternatives.

    Attributes
    ----------
    picked : (check, alternative, member) float32 array
        Picked total of everyone, to be filled in. [kg]
    """

    def __init__(self, problem: Problem, checks: CheckDays, count: int) -> None:
        self._problem, self._checks = problem, checks
        members, sales = problem.members, len(checks.sale_day)
        self.picked = np.empty((len(checks.days), count, members), dtype=Single)
        # What is gone, sold or expired, before and after each sale. All are kept, so that a sale
        # takes three short steps, and what was sold is one difference for all sales together.
        self._before = np.empty((sales, count, members), dtype=Single)
        self._after = np.empty((sales, count, members), dtype=Single)
        self._targets = checks.target.astype(Single)
        # Views made once: making them costs as much as the sums.
        self._steps = [
            (self.picked[stale], self.picked[reach], self._before[sale], self._after[sale], target)
            for sale, (stale, reach, target) in enumerate(
                zip(checks.stale.tolist(), checks.reach.tolist(), self._targets, strict=True)
            )
        ]
        # Whatever is gone and was not sold has expired.
        self._worth = (checks.weight + problem.prices.expired).astype(Single)
        self._wanted = float(checks.weight @ checks.target)

    @property
    def nbytes(self) -> int:
        """Size of the large arrays. [byte]"""
        return self.picked.nbytes + self._before.nbytes + self._after.nbytes

    def costs(self) -> FloatArray:
        """Return the mean cost of sales of each alternative. [kg]"""
        prices, shape = self._problem.prices, self.picked.shape[1:]
        gone = np.zeros(shape, dtype=Single)
        for stale, reach, before, after, target in self._steps:
            np.maximum(gone, stale, out=before)
            gone = np.add(before, target, out=after)
            np.minimum(gone, reach, out=gone)
        all_gone = np.maximum(gone, self.picked[self._checks.final])
        sold = np.subtract(self._after, self._before, out=self._after)
        saved = (self._worth @ sold.reshape(len(sold), shape[0] * shape[1])).reshape(shape)
        cost: FloatArray = prices.expired * all_gone.mean(axis=1, dtype=np.float64)
        cost += self._wanted - saved.mean(axis=1, dtype=np.float64)
        if prices.certainty > 0:
            short = self._targets[:, None, None] - sold
            risk = tail_mean(short, 1 - self._problem.promise).sum(axis=0)
            cost += prices.certainty * risk
        return cost


class Shortlist:
    """Some paths of one stack with their supply.

    Parameters
    ----------
    problem : Problem
        The problem.
    sales : AlternativeSales
        The sales of as many alternatives as there are paths.
    paths : list of Path
        The paths.
    supply : (check, path, member) float32 array
        What the stack brings on each. [kg]
    own_cost : (path,) float array
        Soak price, change and end value of each. [kg]
    """

    def __init__(
        self,
        problem: Problem,
        sales: AlternativeSales,
        paths: list[Path],
        supply: npt.NDArray[np.float32],
        own_cost: FloatArray,
    ) -> None:
        self._sales = sales
        self.paths = paths
        self.place = {path: place for place, path in enumerate(paths)}
        self._supply, self._own_cost = supply, own_cost
        self._uses = np.zeros((len(paths), len(problem.soak_days)), dtype=bool)
        for place, path in enumerate(paths):
            self._uses[place, list(path)] = True
        self.scored = 0

    def costs(self, others: FloatArray) -> FloatArray:
        """Return the cost of each path, given everyone else's supply, limits left aside. [kg]"""
        self.scored += 1
        np.add(self._supply, others[:, None, :].astype(Single), out=self._sales.picked)
        return self._own_cost + self._sales.costs()

    def open(self, fits: BoolArray) -> BoolArray:
        """Return which paths use only soak days that fit."""
        return np.asarray(~self._uses[:, ~fits].any(axis=1))
