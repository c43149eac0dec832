"""A plan beside another that differs in one word of the grower, and what sales get less."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date, timedelta

from fruitcast.app.choosing import settle
from fruitcast.app.known import KnownYard
from fruitcast.app.publication import last_plan
from fruitcast.soaks.answer import soak_dates_of
from fruitcast.soaks.build import BuiltProblem
from fruitcast.soaks.changes import as_plan, published_soaks
from fruitcast.soaks.problem import FloatArray
from fruitcast.soaks.problem import Plan as Paths
from fruitcast.soaks.search import MENDING, QUICK, Search, within_limits
from fruitcast.soaks.supply import allocate
from fruitcast.soaks.waiting import path_with


def as_it_stands(known: KnownYard) -> KnownYard:
    """Return what is known with the last plan to go by, one published today among them."""
    last = last_plan(known.yard, known.today)
    return known if last is None else replace(known, published=last.kept_dates())


@dataclass(frozen=True)
class PlanBeside:
    """A plan made to be held beside another.

    Attributes
    ----------
    built : BuiltProblem
        Its problem.
    paths : Paths
        Its paths.
    delivered : (sale,) float array
        What reaches each sale, mean over members or fresh paths. [kg]
    """

    built: BuiltProblem
    paths: Paths
    delivered: FloatArray


def less_delivered(before: PlanBeside, after: PlanBeside) -> dict[tuple[str, date], float]:
    """Return how much less of each sale the second plan serves. [kg]"""
    found: dict[tuple[str, date], float] = {}
    for side, sign in ((before, 1), (after, -1)):
        problem = side.built.problem
        for sale, kg in zip(problem.outlets, side.delivered.tolist(), strict=True):
            on = problem.today + timedelta(days=sale.day)
            found[sale.outlet, on] = found.get((sale.outlet, on), 0.0) + sign * kg
    return found


def beside_published(known: KnownYard, built: BuiltProblem) -> PlanBeside:
    """Return the plan near the published one, by a short search."""
    problem = built.problem
    # Near the published plan, so that the word makes the difference and not the search's luck.
    search = Search(problem, MENDING if known.published else QUICK)
    start = None
    if known.published:
        start = as_plan(built, published_soaks(known.published, known.today))
    plan = settle(search, start)
    tables = search.tables
    delivered: FloatArray = allocate(tables.total(plan), tables.checks).delivered.mean(axis=1)
    return PlanBeside(built, plan, delivered)


def with_room(here: PlanBeside, after: BuiltProblem, also: Collection[str] = ()) -> PlanBeside:
    """Return a plan for a problem that differs in one word, all soaks as they were where they can.

    Parameters
    ----------
    here : PlanBeside
        The plan as it is.
    after : BuiltProblem
        The other problem.
    also : collection of str
        Stacks that look for other days whether they have to or not.
    """
    wanted: dict[str, tuple[date, ...]] = {}
    for soak in soak_dates_of(here.built.problem, here.paths):
        wanted[soak.stack] = (*wanted.get(soak.stack, ()), soak.soak_on)
    problem = after.problem
    search = Search(problem, QUICK)
    tables, kept = search.tables, as_plan(after, wanted)
    index = {int(day): k for k, day in enumerate(problem.soak_days)}
    for n, stack in enumerate(problem.stacks):
        if stack.must is not None and kept[n][:1] != (stack.must,):
            days = [(day - problem.today).days for day in wanted.get(stack.name, ())]
            planned = tuple(index[day] for day in days if day in index)
            path = path_with(tables, kept, n, stack.must, planned)
            kept = (*kept[:n], path, *kept[n + 1 :])
    start = within_limits(problem, kept, tables)
    names = [stack.name for stack in problem.stacks]
    free = [n for n, path in enumerate(start) if path != kept[n] or names[n] in also]
    plan = search.run(start, free)
    delivered = allocate(tables.total(plan), tables.checks).delivered.mean(axis=1)
    return PlanBeside(after, plan, delivered)
