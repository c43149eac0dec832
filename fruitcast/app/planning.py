"""Planning: from what is known on a day to the plan and its publication, also unasked."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path

from fruitcast.app.changed_model import learned_change, model_change, model_of
from fruitcast.app.choosing import DEFAULT_SEED, PlanBeside, choose
from fruitcast.app.doubts import doubts_of_plan
from fruitcast.app.known import DEFAULT_WEEKS, KnownYard, horizon_days, read_known
from fruitcast.app.publication import fingerprint, publish
from fruitcast.diary.plan import OtherSoak, Plan, YoungCare, plan_changes
from fruitcast.errors import WeatherGapError
from fruitcast.outputs.care import yard_care
from fruitcast.progress import Progress, silent
from fruitcast.soaks.answer import (
    Beside,
    broken_promises,
    plan_document,
    soak_dates_of,
    unkept_words,
)
from fruitcast.soaks.build import BuiltProblem
from fruitcast.soaks.coming import coming, flushes_under_way, year_round
from fruitcast.soaks.expected import fresh_ledger
from fruitcast.soaks.lot_size import LotProposal, advice_words, lot_proposal
from fruitcast.soaks.problem import Plan as Paths
from fruitcast.soaks.problem import Problem
from fruitcast.soaks.reasons import Explainer, published_soaks
from fruitcast.soaks.search import QUICK, SearchParams
from fruitcast.soaks.supply import evaluate
from fruitcast.weather.stations import AS_USUAL, Fetching
from fruitcast.yard.reading import read_yard


@dataclass(frozen=True)
class Planned:
    """A plan with all that it was made from."""

    known: KnownYard
    built: BuiltProblem
    plan: Paths
    document: Plan


def make_plan(
    known: KnownYard,
    *,
    weeks: int = DEFAULT_WEEKS,
    seed: int = DEFAULT_SEED,
    promise: float | None = None,
    bound: bool = False,
    params: SearchParams | None = None,
    progress: Progress = silent,
) -> Planned:
    """Return the plan for what is known; nothing is written.

    Parameters
    ----------
    known : KnownYard
        What is known on the day.
    weeks : int
        Horizon. [week]
    seed : int
        Seed of all random draws.
    promise : float or None
        Chance asked of a promise; the yard's own when None. [0..1]
    bound : bool
        Whether to prove how good the plan is.
    params : SearchParams, optional
        How long to search.
    """
    built, plan, tables = choose(
        known, weeks=weeks, seed=seed, promise=promise, params=params, progress=progress
    )
    least = None
    if bound:
        progress("proving how good the plan is")
        from fruitcast.soaks.bound import relax

        least = relax(built.problem)
    parts, ledger = evaluate(built.problem, plan, tables.checks)
    progress("trying the plan on fresh luck")
    fresh = fresh_ledger(built, plan)
    progress("giving reasons")
    document = plan_document(
        built,
        plan,
        parts,
        ledger,
        fresh,
        Explainer(built, plan, tables),
        published=published_soaks(known.published, known.today),
        bound=least,
        beside=_beside(known, built, plan, seed),
    )
    if known.state.promised or any(s.fixed or s.held_since for s in known.state.stacks.values()):
        from fruitcast.app.grower_word import decisions

        progress("reckoning what your own word costs")
        here = PlanBeside(built, plan, ledger.delivered.mean(axis=1))
        said = decisions(known, here, document, seed=seed, promise=promise)
        document = document.model_copy(update={"decisions": said})
    # What can't be as the grower said comes before all other notes.
    broken = [*unkept_words(built), *broken_promises(document, known.yard.units)]
    if broken:
        document = document.model_copy(update={"warnings": (*broken, *document.warnings)})
    if known.before is not None:
        change = model_change(known.before, document, model_of(known.numbers.entries()))
        learned = learned_change(known.before, document)
        update = {"model_change": change, "learned_change": learned}
        document = document.model_copy(update=update)
    return Planned(known, built, plan, document)


def _beside(known: KnownYard, built: BuiltProblem, paths: Paths, seed: int) -> Beside:
    """Return what a plan tells besides its soaks and what they bring."""
    from fruitcast.soaks.machine_code import complaints

    doubts = doubts_of_plan(built.outlook, soak_dates_of(built.problem, paths), known.numbers.doubt)
    under_way, rest_ends, ready = coming(built.outlook)
    care: tuple[YoungCare, ...] = ()
    try:
        care = tuple(yard_care(built.outlook, known.weather, seed))
    except WeatherGapError as error:
        # It looks further ahead than the plan does, so it wants a longer record.
        doubts = (*doubts, f"No dates for the care of young logs are given: {error}")
    year = None
    if not known.yard.sells:
        try:
            year = year_round(
                built.outlook, known.weather, seed, least_kg=known.numbers.schedule.weak_soak
            )
        except WeatherGapError as error:
            doubts = (*doubts, f"When logs bear by themselves is not told: {error}")
    lots = proposal_for(known, built.problem)
    return Beside(
        notes=(*known.warnings, *built.outlook.futures.notes, *complaints()),
        doubts=doubts,
        goes_by=known.published,
        under_way=under_way,
        flushes=flushes_under_way(built.outlook),
        rest_ends=rest_ends,
        ready=ready,
        advice=advice_words(lots, known.yard.soaking, known.yard.units, known.numbers.yields),
        care=care,
        lots=lots,
        year_round=year,
    )


def proposal_for(known: KnownYard, problem: Problem) -> LotProposal | None:
    """Return the lots to propose; none where the grower's lot_logs says how to soak."""
    if known.yard.soaking.lot_logs is not None or not known.yard.sells:
        return None
    return lot_proposal(problem, known.numbers.schedule, known.state.accepted)


def plan_yard(
    folder: Path,
    today: date,
    *,
    weeks: int = DEFAULT_WEEKS,
    seed: int = DEFAULT_SEED,
    promise: float | None = None,
    bound: bool = False,
    problem_file: Path | None = None,
    fetching: Fetching = AS_USUAL,
    publish: bool = True,
    progress: Progress = silent,
) -> Planned:
    """Plan a yard and publish the plan to its `out` folder and diary.

    Into `problem_file` goes the problem with the chosen arcs, for others to recompute. Without
    `publish` nothing is changed. The others as in `make_plan`.
    """
    # Taken first: what is recorded while this plan is made is not in it.
    inputs = fingerprint(read_yard(folder)) if publish else None
    known = read_known(folder, today, horizon_days(weeks), fetching=fetching, progress=progress)
    planned = make_plan(
        known, weeks=weeks, seed=seed, promise=promise, bound=bound, progress=progress
    )
    if problem_file is not None:
        from fruitcast.atomic import write_atomically
        from fruitcast.soaks.problem import dump_problem

        text = dump_problem(planned.built.problem, planned.plan)
        write_atomically(problem_file, text.encode("utf-8"))
    if publish:
        publish_plan(planned, inputs)
    return planned


def publish_plan(planned: Planned, inputs: str | None) -> None:
    """Write plan.csv, plan.json and calendar.ics, and keep plan and calendar in the diary.

    `inputs` is the yard's fingerprint when it was read for the plan; None takes the present one.
    """
    known = planned.known
    publish(planned.document, known.yard, known.state, known.today, inputs)


# Planning again in the background: publish a good plan soon, then the thorough one.


@dataclass(frozen=True)
class Replanned:
    """A plan just published."""

    changes: tuple[OtherSoak, ...]  # from the plan before, see `plan_changes`
    inputs: str  # fingerprint of the yard that it was made from


def replan(
    folder: Path,
    today: date,
    before: Plan | None,
    *,
    thorough: bool,
    fetching: Fetching = AS_USUAL,
    progress: Progress = silent,
) -> Replanned:
    """Plan a yard and publish the plan.

    It is compared with `before`. A thorough one is searched for as long as in `plan_yard`, which
    gives the same plan as that; else a good one comes soon.
    """
    inputs = fingerprint(read_yard(folder))
    known = read_known(folder, today, horizon_days(), fetching=fetching)
    planned = make_plan(known, params=None if thorough else QUICK, progress=progress)
    publish_plan(planned, inputs)
    changes = plan_changes(before, planned.document, today) if before else ()
    return Replanned(changes, inputs)


def is_outdated(folder: Path, done: Replanned) -> bool:
    """Return whether the yard's files or its diary have changed since a plan was made."""
    return fingerprint(read_yard(folder)) != done.inputs
