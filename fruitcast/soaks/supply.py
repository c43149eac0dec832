"""From picks to sales, first in first out, and the objective that they add up to.

The whole ledger is carried by one number a member: how much of the picked total is gone
(sold or expired). With P(t) the weight picked up to day t, an outlet on day d first finds
gone = max(gone, P(d - cold_days - 1)), whatever was older having expired, then takes
min(target, P(d - 1) - gone). So only P at a few days matters: the check days.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil

import numpy as np
import numpy.typing as npt

from fruitcast.arrays import FloatArray, IntArray
from fruitcast.soaks.problem import (
    Crops,
    Plan,
    Problem,
    SoakPath,
    StackProblem,
)


@dataclass(frozen=True)
class CheckDays:
    """The days on which the picked total must be known."""

    days: IntArray  # (check,): rising; the picked total counts up to and with that day
    reach: IntArray  # (sale,): for each sale, the check of the last pick day that can reach it
    stale: IntArray  # (sale,): for each sale, the check of the last pick day that is too old for it
    final: int  # check of the last pick day that has expired when the counted days end
    # target, weight, (sale,): of each sale [kg, unitless]
    target: FloatArray
    weight: FloatArray
    sale_day: IntArray  # (sale,): day of each sale


def check_days(problem: Problem) -> CheckDays:
    """Return the check days of a problem; its outlets are the sales, in their order."""
    sale_day = np.array([o.day for o in problem.outlets], dtype=np.int64)
    reach = sale_day - 1
    stale = sale_day - problem.cold_days - 1
    last = problem.days - 1 - problem.cold_days
    days = np.unique(np.concatenate([reach, stale, [last]]))
    return CheckDays(
        days=days,
        reach=np.searchsorted(days, reach),
        stale=np.searchsorted(days, stale),
        final=int(np.searchsorted(days, last)),
        target=np.array([o.target for o in problem.outlets], dtype=np.float64),
        weight=np.array([o.weight for o in problem.outlets], dtype=np.float64),
        sale_day=sale_day,
    )


def picked_between_checks(
    crops: Crops, rows: int, checks: CheckDays, members: int, dtype: npt.DTypeLike = np.float64
) -> npt.NDArray:
    """Return the weight picked from one check to the next: (check, row, member) array. [kg]"""
    at = np.searchsorted(checks.days, crops.day)
    seen = at < len(checks.days)
    flat = (at[seen] * rows + crops.row[seen]) * members + crops.member[seen]
    total = np.bincount(flat, weights=crops.kg[seen], minlength=len(checks.days) * rows * members)
    return total.astype(dtype, copy=False).reshape(len(checks.days), rows, members)


def stock_at_checks(problem: Problem, checks: CheckDays) -> FloatArray:
    """Return the picked total of the stock on hand: (check, 1) array. [kg]"""
    total = np.zeros((len(checks.days), 1))
    for day, kg in problem.stock:
        total[checks.days >= day] += kg
    return total


@dataclass(frozen=True)
class Ledger:
    """What a picked total comes to."""

    delivered: FloatArray  # (sale, member): sold on each outlet day, never above target [kg]
    available: FloatArray  # (sale, member): saleable stock before the sale, not capped [kg]
    # (member,): passed its last saleable day unsold within the counted days [kg]
    expired: FloatArray


def allocate(picked: FloatArray, checks: CheckDays) -> Ledger:
    """Return the ledger of a picked total, (check, member), oldest mushrooms first. [kg]"""
    sales, members = len(checks.sale_day), picked.shape[1]
    delivered = np.zeros((sales, members))
    available = np.zeros((sales, members))
    expired = np.zeros(members)
    gone = np.zeros(members)
    for sale in range(sales):
        lost = np.maximum(picked[checks.stale[sale]] - gone, 0.0)
        expired += lost
        gone += lost
        available[sale] = np.maximum(picked[checks.reach[sale]] - gone, 0.0)
        delivered[sale] = np.minimum(available[sale], checks.target[sale])
        gone += delivered[sale]
    expired += np.maximum(picked[checks.final] - gone, 0.0)
    return Ledger(delivered, available, expired)


def tail_mean(shortfall: npt.NDArray, share: float) -> npt.NDArray:
    """Return the mean of the worst `share` of the members (last axis), exact for fractions."""
    members = shortfall.shape[-1]
    worst = share * members
    if worst <= 0:
        return np.zeros(shortfall.shape[:-1], dtype=shortfall.dtype)
    ordered = -np.sort(-shortfall, axis=-1)
    weights = np.clip(worst - np.arange(members), 0.0, 1.0).astype(shortfall.dtype)
    tail: npt.NDArray = ordered @ (weights / shortfall.dtype.type(worst))
    return tail


def reached(weights: FloatArray, share: float) -> FloatArray:
    """Return the greatest weight that at least a share of the futures, the last axis, reaches.

    An order statistic, never a value between two: of 10 futures 0.8 takes the third smallest, and
    0.81 the second, because nine must have it. A share of 0 takes the greatest.
    """
    futures = weights.shape[-1]
    # A share such as 0.7 of 10 is 7 of them, whatever its last binary digit says.
    many = min(max(ceil(share * futures - 1e-9), 1), futures)
    ordered: FloatArray = np.sort(weights, axis=-1)[..., futures - many]
    return ordered


def promised(weights: FloatArray, share: float, members: int, years: int) -> FloatArray:
    """Return the greatest weight that a season like none of these reaches with some chance.

    `weights`, (..., path), are those of the members in their order, and again with other luck [kg];
    the members are made from so many past `years`: those put together know no more.

    The season to come is none of the weather years that the paths follow, and the weight that just
    so many of them reach is one that suits them. Of n years drawn alike, the k-th from above is
    reached by one more in k of n + 1 cases; where years matter less than what each path has for
    itself, the paths count as more than n: so many paths all apart would leave as much in doubt as
    these do, p (1 - p) over the variance of the share p of paths that reach a weight, told from how
    the years differ.
    """
    paths = weights.shape[-1]
    if members < 2:
        return reached(weights, share)
    has = weights >= reached(weights, share)[..., None]
    by_year = has.reshape(*weights.shape[:-1], paths // members, members).mean(axis=-2)
    variance = by_year.var(axis=-1, ddof=1) / years
    middle = has.mean(axis=-1)
    count = np.full(middle.shape, float(paths))
    np.divide(middle * (1 - middle), variance, out=count, where=variance > 0)
    ordered: FloatArray = np.sort(weights, axis=-1)
    wanted = share * (1 + 1 / np.clip(count, years, paths))
    many = np.clip(np.ceil(wanted * paths - 1e-9), 1, paths).astype(np.int64)
    found: FloatArray = np.take_along_axis(ordered, (paths - many)[..., None], axis=-1)[..., 0]
    return found


def likely_range(
    weights: FloatArray, share: float, members: int, years: int
) -> tuple[FloatArray, FloatArray]:
    """Return between which weights a season like none of these lies with a chance; see `promised`.

    As often below as above.
    """
    side = (1 + share) / 2
    return promised(weights, side, members, years), -promised(-weights, side, members, years)


def expected_shortfall(problem: Problem, ledger: Ledger) -> float:
    """Return what goes short inside the horizon, mean over the futures of a ledger. [kg]"""
    inside = [sale for sale, o in enumerate(problem.outlets) if o.day < problem.horizon_days]
    return problem.demand - float(ledger.delivered[inside].sum(axis=0).mean())


def plan_crops(problem: Problem, plan: Plan, checks: CheckDays) -> FloatArray:
    """Return the picked total of a whole plan with the stock: (check, member) array. [kg]"""
    picked = np.zeros((len(checks.days), problem.members))
    for stack, path in zip(problem.stacks, plan, strict=True):
        arcs = problem.types[stack.type_index]
        if not path:
            picked += _rows(stack.first.none_crops, [0], checks, problem.members, 1.0)
            continue
        first = int(np.flatnonzero(stack.first.soak == path[0])[0])
        picked += _rows(stack.first.crops, [first], checks, problem.members, 1.0)
        inner = [arcs.pairs[arc] for arc in pairwise(path)]
        picked += _rows(arcs.crops, inner, checks, problem.members, stack.effective_logs)
        picked += _rows(arcs.end_crops, [path[-1]], checks, problem.members, stack.effective_logs)
    return np.cumsum(picked, axis=0) + stock_at_checks(problem, checks)


def _rows(
    crops: Crops, rows: list[int], checks: CheckDays, members: int, scale: float
) -> FloatArray:
    wanted = np.isin(crops.row, rows)
    one = Crops(
        np.zeros(int(wanted.sum()), dtype=np.int64),
        crops.member[wanted],
        crops.day[wanted],
        crops.kg[wanted] * scale,
    )
    return picked_between_checks(one, 1, checks, members)[:, 0, :]


# The parts of the objective that add up stack by stack, and the whole for a plan.


@dataclass(frozen=True)
class Parts:
    """The objective in its parts; they add up to `total`. [kg]"""

    shortfall: float
    expired: float
    soaks: float
    change: float
    end_value: float
    certainty: float = 0.0

    @property
    def total(self) -> float:
        """The objective. [kg]"""
        return (
            self.shortfall
            + self.expired
            + self.soaks
            + self.change
            + self.end_value
            + self.certainty
        )


def end_value(stack: StackProblem, problem: Problem, last_soak_day: int | None) -> float:
    """Return what a stack is worth rested at the end: half a flush, by days of rest. [kg]"""
    since = stack.rested_from if last_soak_day is None else last_soak_day
    rested = (problem.next_soak_day - since) / problem.rest_days
    return 0.5 * stack.end_flush * min(1.0, max(0.0, rested))


def change_cost(stack: StackProblem, problem: Problem, first_soak_day: int | None) -> float:
    """Return the price of a next soak that differs from the one published. [kg]"""
    if not stack.was_published or first_soak_day == stack.published:
        return 0.0
    return problem.prices.change


def path_cost(stack: StackProblem, problem: Problem, path: SoakPath) -> tuple[float, float, float]:
    """Return soak price, change and (negative) end value of one stack's path. [kg]"""
    days = [int(problem.soak_days[k]) for k in path]
    return (
        problem.prices.soak * stack.logs * len(path),
        change_cost(stack, problem, days[0] if days else None),
        -end_value(stack, problem, days[-1] if days else None),
    )


def visits_cost(problem: Problem, plan: Sequence[SoakPath]) -> float:
    """Return the price of a plan's visits beyond those of stacks soaked whole. [kg]"""
    stacks = zip(problem.stacks, problem.visits.tolist(), plan, strict=True)
    visits = {(visit, k): stack.handling for stack, visit, path in stacks for k in path}
    soaks = [len(path) for path in plan]
    return sum(visits.values()) - float(problem.spared @ np.array(soaks, dtype=np.float64))


def sales_parts(ledger: Ledger, problem: Problem, checks: CheckDays) -> tuple[float, float, float]:
    """Return shortfall, expiry and certainty parts of a ledger. [kg]"""
    short: FloatArray = checks.target[:, None] - ledger.delivered
    certainty = 0.0
    if problem.prices.certainty > 0 and len(short):
        certainty = problem.prices.certainty * float(tail_mean(short, 1 - problem.promise).sum())
    return (
        float((checks.weight[:, None] * short).sum(axis=0).mean()),
        problem.prices.expired * float(ledger.expired.mean()),
        certainty,
    )


def evaluate(problem: Problem, plan: Plan, checks: CheckDays) -> tuple[Parts, Ledger]:
    """Return the objective of a plan, in parts, and its ledger."""
    ledger = allocate(plan_crops(problem, plan, checks), checks)
    shortfall, expired, certainty = sales_parts(ledger, problem, checks)
    own = np.array(
        [path_cost(s, problem, path) for s, path in zip(problem.stacks, plan, strict=True)]
    ).reshape(-1, 3)
    soaks, change, end = (float(column) for column in own.sum(axis=0))
    soaks += visits_cost(problem, plan)
    return Parts(shortfall, expired, soaks, change, end, certainty), ledger
