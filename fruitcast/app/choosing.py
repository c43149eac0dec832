"""From what is known to the chosen paths, and to a plan beside them that differs in one word."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date, timedelta

from fruitcast.app.known import DEFAULT_WEEKS, KnownYard
from fruitcast.app.publication import last_plan
from fruitcast.arrays import FloatArray
from fruitcast.forecast.learned import YardLearning
from fruitcast.forecast.outlook import YardOutlook, outlook
from fruitcast.progress import Progress, silent
from fruitcast.soaks.answer import soak_dates_of
from fruitcast.soaks.build import BuiltProblem, build_problem
from fruitcast.soaks.problem import Plan as Paths
from fruitcast.soaks.reasons import as_plan, published_soaks
from fruitcast.soaks.search import MENDING, QUICK, REAL_GAIN, Search, SearchParams, within_limits
from fruitcast.soaks.search_tables import Beside, SearchTables
from fruitcast.soaks.soak_days import fixed_dates, soak_dates
from fruitcast.soaks.supply import allocate
from fruitcast.soaks.waiting import path_with

DEFAULT_SEED = 1

SLIVER = 0.001
"""A new plan takes the mended one's place when it is better by this share of the demand."""


def build(
    known: KnownYard,
    *,
    weeks: int = DEFAULT_WEEKS,
    seed: int = DEFAULT_SEED,
    promise: float | None = None,
    learned: YardLearning | None = None,
    before: YardOutlook | None = None,
    beside: YardOutlook | None = None,
    crops: bool = True,
) -> BuiltProblem:
    """Return the scheduling problem of what is known.

    See `outlook` for `learned`, `before` and `beside`, `build_problem` for `crops`.
    """
    yard = known.yard
    look = outlook(
        yard,
        known.state,
        known.weather,
        known.today,
        known.years,
        _soak_dates(known, weeks),
        weeks=weeks,
        seed=seed,
        numbers=known.numbers,
        learned=learned,
        before=before,
        beside=beside,
    )
    promise = yard.promise if promise is None else promise
    return build_problem(look, weeks=weeks, seed=seed, promise=promise, crops=crops)


def _soak_dates(known: KnownYard, weeks: int) -> list[date]:
    """Return the days on which a soak may start, those that the grower has fixed among them."""
    last = known.today + timedelta(days=7 * weeks - 1)
    usual = soak_dates(known.yard, known.today, weeks)
    return sorted({*usual, *fixed_dates(known.yard, known.state, known.today, last)})


def choose(
    known: KnownYard,
    *,
    weeks: int = DEFAULT_WEEKS,
    seed: int = DEFAULT_SEED,
    promise: float | None = None,
    params: SearchParams | None = None,
    progress: Progress = silent,
) -> tuple[BuiltProblem, Paths, SearchTables]:
    """Return the problem, the plan chosen for it and the search's tables, and no more.

    Parameters are those of `make_plan`, which tells a plan whole.
    """
    progress("looking ahead")
    built = build(known, weeks=weeks, seed=seed, promise=promise)
    search = Search(built.problem, params, progress=progress)
    return built, choose_paths(search, _published(known, built)), search.tables


def _published(known: KnownYard, built: BuiltProblem) -> Paths | None:
    """Return the published plan in terms of a problem, if there is one."""
    if not known.published:
        return None
    return as_plan(built, published_soaks(known.published, known.today))


def choose_paths(
    search: Search, published: Paths | None, glance: SearchParams | None = None
) -> Paths:
    """Return the best plan found, or the published one mended where that is about as good.

    With a plan published, the search starts from it: people plan around published dates, so
    a new plan must be better by more than a sliver, beyond what each changed date costs. With a
    `glance`, a shorter search, only where that gains anything is gone on from there, with half
    of the moves: that found as much as all of them from the mended plan.
    """
    if published is None:
        return search.run()
    problem, tables = search.problem, search.tables
    mended = Search(problem, MENDING, tables=tables).run(start=published)
    if search.params == MENDING:
        return mended
    if glance is not None:
        seen = Search(problem, glance, tables=tables).run(start=mended)
        if seen == mended or tables.cost(seen) > tables.cost(mended) - REAL_GAIN:
            return mended
        better = Search(problem, search.params.half, tables=tables).run(start=seen)
    else:
        better = search.run(start=mended)
    gain = tables.cost(mended) - tables.cost(better)
    return better if gain > SLIVER * problem.demand else mended


# A plan beside another that differs in one word of the grower, and what sales get less.


def as_it_stands(known: KnownYard) -> KnownYard:
    """Return what is known with the last plan to go by, one published today among them."""
    last = last_plan(known.yard, known.today)
    return known if last is None else replace(known, published=last.kept_dates())


@dataclass(frozen=True)
class PlanBeside:
    """A plan made to be held beside another."""

    built: BuiltProblem
    paths: Paths
    delivered: FloatArray  # (sale,): what reaches each sale, mean over members or fresh paths [kg]


def less_delivered(before: PlanBeside, after: PlanBeside) -> dict[tuple[str, date], float]:
    """Return how much less of each sale the second plan serves. [kg]"""
    found: dict[tuple[str, date], float] = {}
    for side, sign in ((before, 1), (after, -1)):
        problem = side.built.problem
        for sale, kg in zip(problem.outlets, side.delivered.tolist(), strict=True):
            on = problem.on(sale.day)
            found[sale.outlet, on] = found.get((sale.outlet, on), 0.0) + sign * kg
    return found


def beside_published(known: KnownYard, built: BuiltProblem) -> PlanBeside:
    """Return the plan near the published one, by a short search."""
    problem = built.problem
    # Near the published plan, so that the word makes the difference and not the search's luck.
    search = Search(problem, MENDING if known.published else QUICK)
    return _beside(built, choose_paths(search, _published(known, built)), search.tables)


def _beside(built: BuiltProblem, plan: Paths, tables: SearchTables) -> PlanBeside:
    delivered: FloatArray = allocate(tables.total(plan), tables.checks).delivered.mean(axis=1)
    return PlanBeside(built, plan, delivered)


def mended(here: PlanBeside, after: BuiltProblem | None = None) -> PlanBeside:
    """Return a plan in which every stack has looked for better days, from the same or another word.

    What a word costs is told between two plans mended alike, from one plan that was mended before:
    what mending gains is no word's doing, and all other stacks make room for it as the next plan
    will have them do.
    """
    built = after or here.built
    return with_room(here, built, tuple(stack.name for stack in built.problem.stacks))


def with_room(here: PlanBeside, after: BuiltProblem, also: Collection[str] = ()) -> PlanBeside:
    """Return a plan for a problem that differs in one word, all soaks as they were where they can.

    Stacks in `also` look for other days whether they have to or not.
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
            beside = Beside(tables, kept, tables.total(kept), n)
            path = path_with(tables, beside, stack.must, planned)
            kept = (*kept[:n], path, *kept[n + 1 :])
    start = within_limits(problem, kept, tables)
    names = [stack.name for stack in problem.stacks]
    free = [n for n, path in enumerate(start) if path != kept[n] or names[n] in also]
    return _beside(after, search.run(start, free), tables)
