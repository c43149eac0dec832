"""From what is known to the chosen paths: the problem, and the search's answer to it."""

from __future__ import annotations

from datetime import date, timedelta

from fruitcast.app.known import DEFAULT_WEEKS, KnownYard
from fruitcast.forecast.learned import YardLearning
from fruitcast.forecast.outlook import outlook
from fruitcast.forecast.water import PastWater
from fruitcast.progress import Progress, silent
from fruitcast.soaks.build import BuiltProblem, build_problem
from fruitcast.soaks.changes import as_plan, published_soaks
from fruitcast.soaks.grower_word import fixed_dates
from fruitcast.soaks.permitted import soak_dates
from fruitcast.soaks.problem import Plan as Paths
from fruitcast.soaks.search import MENDING, Search, SearchParams
from fruitcast.soaks.search_tables import SearchTables

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
    known_past: PastWater | None = None,
) -> BuiltProblem:
    """Return the scheduling problem of what is known; see `outlook` for the last two."""
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
        known_past=known_past,
    )
    return build_problem(
        look, weeks=weeks, seed=seed, promise=yard.promise if promise is None else promise
    )


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
    progress: Progress | None = None,
) -> tuple[BuiltProblem, Paths, SearchTables]:
    """Return the problem, the plan chosen for it and the search's tables, and no more.

    Parameters are those of `make_plan`, which tells a plan whole.
    """
    tell = progress or silent
    tell("looking ahead")
    built = build(known, weeks=weeks, seed=seed, promise=promise)
    search = Search(built.problem, params, progress=tell)
    start = None
    if known.published:
        start = as_plan(built, published_soaks(known.published, known.today))
    return built, settle(search, start), search.tables


def settle(search: Search, published: Paths | None) -> Paths:
    """Return the best plan found, or the published one mended where that is about as good.

    With a plan published, the search starts from it: people plan around published dates, so
    a new plan must be better by more than a sliver, beyond what each changed date costs.
    """
    if published is None:
        return search.run()
    problem, tables = search.problem, search.tables
    mended = Search(problem, MENDING, tables=tables).run(start=published)
    if search.params == MENDING:
        return mended
    better = search.run(start=mended)
    gain = tables.cost(mended) - tables.cost(better)
    return better if gain > SLIVER * problem.demand else mended
