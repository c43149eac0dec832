"""What a yard can spare for shared sales: what its own sales, now and later, do not want.

Each yard plans for itself. On every path its own sales take what they take without the group; what
is over may go to the shared sales, and never more than leaves those own sales as they were. As in
`schedule.supply` a path's whole ledger is one number, the weight gone so far. Counted without what
own sales take, it may move between a floor, below which mushrooms have grown too old, and a
ceiling, above which an own sale would go short.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
from pydantic import Field

from fruitcast.document import Day, Document, Number
from fruitcast.soaks.build import BuiltProblem
from fruitcast.soaks.fresh_paths import fresh_picked
from fruitcast.soaks.limits import Occupancy
from fruitcast.soaks.problem import FloatArray, OutletDay, Path, Plan, Problem
from fruitcast.soaks.search_tables import SearchTables
from fruitcast.soaks.supply import CheckDays, allocate, check_days

LEAST_MORE = 0.1
"""A soak that brings a shared sale less is not worth asking for. [kg]"""

MOST_LESS = 0.05
"""So much less may own sales get, all together, of a soak that a yard could put in. [kg]"""


@dataclass(frozen=True)
class SharedSale:
    """A sale that several yards fill together.

    Attributes
    ----------
    outlet : str
        Its name.
    on : date
        Its day.
    target : float
        Wanted of all yards together. [kg]
    """

    outlet: str
    on: date
    target: float


class FillIn(Document):
    """One more soak by which a yard could bring more to a shared sale; no other soak moves."""

    stack: str
    soak_on: Day
    kg: Number = Field(description="more for the sale, mean over the weather years")


class Spare(Document):
    """What one yard can spare, on each path; rounded to a tenth of a gram.

    Paths are the weather years in their order, and again, with other luck.
    """

    years: tuple[int, ...]
    promise: Number = Field(description="chance that the yard asks of what it promises")
    floor: tuple[tuple[Number, ...], ...] = Field(description="of each shared sale, each path [kg]")
    ceiling: tuple[tuple[Number, ...], ...]
    fill_in: tuple[FillIn | None, ...] = Field(description="the best soak for each shared sale")


def spare_of(
    built: BuiltProblem, plan: Plan, shared: Sequence[SharedSale], *, seed: int, sells: bool
) -> Spare:
    """Return what a yard can spare for shared sales inside its plan's weeks.

    Parameters
    ----------
    built : BuiltProblem
        The yard's problem with what it was made from.
    plan : Plan
        Its own plan.
    shared : sequence of SharedSale
        In order of day.
    seed : int
        Of the yard's own luck: no other yard of the group may have the same.
    sells : bool
        Whether the yard sells anything by itself; else all that it picks can be spared.
    """
    named = {sale.outlet.casefold() for sale in shared}
    # What it has planned for a shared outlet in its own settings is what it brings there.
    own = [sale for sale in built.problem.outlets if sells and sale.outlet.casefold() not in named]
    problem, at = with_shared(built.problem, own, shared)
    checks = check_days(problem)
    fresh = fresh_picked(replace(built, problem=replace(problem, seed=seed)), plan, checks)
    floor, ceiling = spare_between(fresh, checks, at)
    return Spare(
        years=problem.years,
        promise=problem.promise,
        floor=_rounded(floor),
        ceiling=_rounded(ceiling),
        fill_in=fill_ins(problem, plan, at),
    )


def with_shared(
    problem: Problem, own: Sequence[OutletDay], shared: Sequence[SharedSale]
) -> tuple[Problem, list[int]]:
    """Return a problem with shared sales that want nothing behind its own, and their places."""
    added = [
        OutletDay(f"shared {number:04}", (sale.on - problem.today).days, 0.0, 0.0)
        for number, sale in enumerate(shared)
    ]
    sales = sorted([*own, *added], key=lambda sale: (sale.day, -sale.weight, sale.outlet))
    place = {sale.outlet: n for n, sale in enumerate(sales) if sale.weight == 0.0}
    return replace(problem, outlets=tuple(sales)), [place[sale.outlet] for sale in added]


def spare_between(
    picked: FloatArray, checks: CheckDays, shared: Sequence[int]
) -> tuple[FloatArray, FloatArray]:
    """Return between what the weight gone to shared sales may lie, by shared sale and path.

    Parameters
    ----------
    picked : (check, path) float array
        Weight picked up to and with each check day. [kg]
    checks : CheckDays
        The check days, with all sales.
    shared : sequence of int
        Places of the shared sales among them, rising.

    Returns
    -------
    floor, ceiling : (shared sale, path) float array
        So much is gone before the sale at the least, what has expired among it, and may be gone
        after it at the most. [kg]
    """
    paths = picked.shape[1]
    count, wanted = len(checks.sale_day), set(shared)
    delivered = np.zeros((count, paths))
    gone = np.zeros(paths)
    for sale in range(count):
        gone = np.maximum(gone, picked[checks.stale[sale]])
        if sale not in wanted:
            here = np.maximum(picked[checks.reach[sale]] - gone, 0.0)
            delivered[sale] = np.minimum(here, checks.target[sale])
            gone = gone + delivered[sale]
    own = np.cumsum(delivered, axis=0) - delivered
    most = np.full(paths, np.inf)
    ceiling = np.zeros((count, paths))
    for sale in reversed(range(count)):
        if sale in wanted:
            ceiling[sale] = np.minimum(picked[checks.reach[sale]], most) - own[sale]
        else:
            most = np.minimum(picked[checks.reach[sale]], most) - delivered[sale]
    floor = np.maximum.accumulate(np.maximum(picked[checks.stale] - own, 0.0), axis=0)
    at = list(shared)
    return floor[at], np.maximum(ceiling[at], floor[at])


def available(floor: FloatArray, ceiling: FloatArray, gone: FloatArray) -> FloatArray:
    """Return what a yard has for a shared sale, after what is gone to those before. [kg]"""
    return np.maximum(ceiling - np.maximum(gone, floor), 0.0)


def fill_ins(problem: Problem, plan: Plan, shared: Sequence[int]) -> tuple[FillIn | None, ...]:
    """Return for each shared sale the one more soak that brings it most, None where none does.

    All soaks of the plan stay, and own sales get no less.

    Parameters
    ----------
    problem : Problem
        With the shared sales, see `with_shared`.
    plan : Plan
        The yard's own.
    shared : sequence of int
        Places of the shared sales.
    """
    tables = SearchTables.of(problem)
    checks, total = tables.checks, tables.total(plan)
    before = _spare_means(total, checks, shared)
    own_before = _own_sold(total, checks)
    best: list[FillIn | None] = [None] * len(shared)
    occupancy = Occupancy(problem)
    for index, path in enumerate(plan):
        occupancy.add(index, path)
    for index, path in enumerate(plan):
        without: FloatArray = total - tables.supply(index, path)
        for soak in np.flatnonzero(occupancy.fits(index)).tolist():
            more_soaks: Path = tuple(sorted({*path, soak}))
            if soak in path or not tables.allows(index, more_soaks):
                continue
            picked: FloatArray = without + tables.supply(index, more_soaks)
            if _own_sold(picked, checks) < own_before - MOST_LESS:
                continue
            more = _spare_means(picked, checks, shared) - before
            on = problem.today + timedelta(days=int(problem.soak_days[soak]))
            for sale in np.flatnonzero(more >= LEAST_MORE).tolist():
                found = best[sale]
                if found is None or more[sale] > found.kg:
                    name = problem.stacks[index].name
                    best[sale] = FillIn(stack=name, soak_on=on, kg=float(more[sale]))
    return tuple(best)


def _spare_means(picked: FloatArray, checks: CheckDays, shared: Sequence[int]) -> FloatArray:
    floor, ceiling = spare_between(picked, checks, shared)
    means: FloatArray = (ceiling - floor).mean(axis=1)
    return means


def _own_sold(picked: FloatArray, checks: CheckDays) -> float:
    return float(allocate(picked, checks).delivered.sum(axis=0).mean())


def _rounded(kg: FloatArray) -> tuple[tuple[float, ...], ...]:
    return tuple(tuple(row) for row in np.round(kg, 4).tolist())
