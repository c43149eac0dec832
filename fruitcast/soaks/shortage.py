"""Why a week goes short: the limit that would have to give for its target to be met."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from fruitcast.soaks.limits import NO_LIMIT
from fruitcast.soaks.problem import FloatArray, Plan, Problem
from fruitcast.soaks.search import MENDING, Search
from fruitcast.soaks.search_tables import SearchTables
from fruitcast.soaks.supply import Ledger, allocate

ShortCause = Literal["too early", "tank", "hours", "places", "cold store", "too few logs"]

SHORT_BY = 0.1
"""A sale is short when it misses this share of its target, mean over members."""

HELPS_BY = 0.25
"""A limit binds a sale when easing it takes away this share of what is missing."""

MUCH_COLDER = 14
"""More days in the cold store that the cold store's limit is tried with. [day]"""


@dataclass(frozen=True)
class ShortSale:
    """One sale that goes short.

    Attributes
    ----------
    sale : int
        Position in `Problem.outlets`.
    missing : float
        Mean over fresh paths. [kg]
    cause : str
        What binds: no soak from today on can bear by then, the tank, the hours of work, the
        places to fruit, the days in the cold store, or none of these: too few logs are ready and
        rested.
    """

    sale: int
    missing: float
    cause: ShortCause


def short_sales(
    problem: Problem, plan: Plan, ledger: Ledger, fresh: Ledger, tables: SearchTables
) -> list[ShortSale]:
    """Return the sales within the horizon that go short, each with the limit that binds.

    Parameters
    ----------
    problem, plan : Problem, Plan
        The plan to explain.
    ledger : Ledger
        What it delivers to the members that it was chosen by.
    fresh : Ledger
        What it delivers on fresh paths: this says which sales go short, and by how much.
    tables : SearchTables
        Tables of the problem; they also serve where only tank, hours or places are eased.
    """
    checks = tables.checks
    missing: FloatArray = checks.target - ledger.delivered.mean(axis=1)
    said: FloatArray = checks.target - fresh.delivered.mean(axis=1)
    inside = checks.sale_day < problem.horizon_days
    short = np.flatnonzero(inside & (said > SHORT_BY * checks.target))
    if not len(short):
        return []
    earliest = _earliest_sale(problem)
    eased = {
        cause: missing - _missing(problem_eased, plan, tables)
        for cause, problem_eased in _eased(problem, plan, ledger).items()
    }
    found = []
    for sale in short.tolist():
        cause: ShortCause = "too few logs"
        if checks.sale_day[sale] < earliest:
            cause = "too early"
        else:
            best = max(eased, key=lambda name: eased[name][sale], default=None)
            if best is not None and eased[best][sale] >= HELPS_BY * missing[sale]:
                cause = best
        found.append(ShortSale(sale, float(said[sale]), cause))
    return found


def _earliest_sale(problem: Problem) -> int:
    """Return the first day on which anything soaked from today on could be sold."""
    first = problem.days
    for stack in problem.stacks:
        crops = stack.first.crops
        if len(stack.first.soak):
            soaked = problem.soak_days[stack.first.soak[np.asarray(crops.row)]]
            after = np.asarray(crops.day)[np.asarray(crops.day) > soaked]
            first = min(first, int(after.min(initial=first)) + 1)
    return first


def _eased(problem: Problem, plan: Plan, ledger: Ledger) -> dict[ShortCause, Problem]:
    """Return the problem with each limit eased that could bind at all."""
    eased: dict[ShortCause, Problem] = {}
    if any(plan):
        eased["tank"] = replace(problem, tank_logs=NO_LIMIT)
        if problem.hours_a_day is not None:
            eased["hours"] = replace(problem, hours_a_day=None)
        if problem.places is not None:
            eased["places"] = replace(problem, places=None)
    if ledger.expired.mean() > 0:
        eased["cold store"] = replace(problem, cold_days=problem.cold_days + MUCH_COLDER)
    return eased


def _missing(problem: Problem, start: Plan, tables: SearchTables) -> FloatArray:
    if problem.cold_days == tables.problem.cold_days:
        eased = tables.with_limits(problem)
    else:
        eased = SearchTables.of(problem)
    plan = Search(problem, MENDING, tables=eased).run(start=start)
    delivered = allocate(eased.total(plan), eased.checks).delivered
    missing: FloatArray = eased.checks.target - delivered.mean(axis=1)
    return missing


SHORT_WORDS: dict[ShortCause, str] = {
    "too early": "no soak from today on can bear by then",
    "tank": "the tank is full on the days that would serve it",
    "hours": "the hours of work a day are used up on the days that would serve it",
    "places": "the places to fruit are taken on the days that would serve it",
    "cold store": "the mushrooms that come before it would not keep so long",
    "too few logs": "too few logs are ready and rested for it",
}
"""Each cause in words."""
