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


class Shortlist:
    """Some paths of one stack with their supply.

    Parameters
    ----------
    problem : Problem
        The problem.
    checks : CheckDays
        Its check days and sales.
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
        checks: CheckDays,
        paths: list[Path],
        supply: npt.NDArray[np.float32],
        own_cost: FloatArray,
    ) -> None:
        self._problem, self._checks = problem, checks
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
        return self._own_cost + sale_costs(
            self._problem, self._checks, self._supply + others[:, None, :].astype(Single)
        )

    def open(self, fits: BoolArray) -> BoolArray:
        """Return which paths use only soak days that fit."""
        return np.asarray(~self._uses[:, ~fits].any(axis=1))


def sale_costs(problem: Problem, checks: CheckDays, picked: npt.NDArray[np.float32]) -> FloatArray:
    """Return the mean cost of sales of some alternatives, each a whole supply.

    Parameters
    ----------
    problem : Problem
        For the prices.
    checks : CheckDays
        The check days and sales.
    picked : (check, alternative, member) float32 array
        Picked total of everyone. [kg]

    Returns
    -------
    (alternative,) float array
        [kg]
    """
    prices = problem.prices
    count, members = picked.shape[1:]
    gone = np.zeros((count, members), dtype=Single)
    expired = np.zeros((count, members), dtype=Single)
    served = np.zeros((count, members), dtype=Single)
    work = np.empty((count, members), dtype=Single)
    risk = np.zeros(count)
    targets, weights = checks.target.tolist(), checks.weight.tolist()
    stale, reach = checks.stale.tolist(), checks.reach.tolist()
    plain = len(set(weights)) <= 1 and prices.certainty == 0
    for sale, target in enumerate(targets):
        np.subtract(picked[stale[sale]], gone, out=work)
        np.maximum(work, 0.0, out=work)
        gone += work
        expired += work
        np.subtract(picked[reach[sale]], gone, out=work)
        np.minimum(work, target, out=work)
        gone += work
        if not plain:
            if prices.certainty > 0:
                risk += prices.certainty * tail_mean(Single(target) - work, 1 - problem.promise)
            work *= weights[sale]
            served += work
    if plain:
        # All weights are alike, so what was served is what is gone and not expired.
        np.subtract(gone, expired, out=served)
        served *= weights[0] if weights else 0.0
    np.subtract(picked[checks.final], gone, out=work)
    np.maximum(work, 0.0, out=work)
    expired += work
    wanted = float(checks.weight @ checks.target)
    cost: FloatArray = prices.expired * expired.mean(axis=1, dtype=np.float64) + risk
    cost += wanted - served.mean(axis=1, dtype=np.float64)
    return cost
