"""Many past years lived through, and the document that tells of them."""

from __future__ import annotations

import dataclasses
import hashlib
from collections.abc import Callable, Mapping, Sequence
from contextlib import closing, suppress
from dataclasses import dataclass, replace
from datetime import date
from os import cpu_count
from pathlib import Path
from typing import Any

import numpy as np

import fruitcast
from fruitcast.app.changed_model import numbers_of
from fruitcast.app.hindcast import (
    BY_HAND,
    FORESIGHT,
    NINE_WEEK,
    PLAN,
    POLICIES,
    SENSIBLE,
    HindcastParams,
    hold_out,
    season_days,
)
from fruitcast.app.known import KnownYard, read_known
from fruitcast.app.tasks import run_tasks
from fruitcast.atomic import write_atomically
from fruitcast.errors import InputError, OutputError
from fruitcast.hindcast.scores import (
    PolicySeason,
    SeasonScore,
    policy_summary,
    read_scores,
    scores_json,
    way_to_foresight,
)
from fruitcast.hindcast.truth import Truth
from fruitcast.outputs.evidence_words import Hindcast
from fruitcast.outputs.evidence_words import Truth as TruthTold
from fruitcast.progress import Progress, silent
from fruitcast.topics import WorkNumbers
from fruitcast.weather.stations import AS_USUAL, Fetching
from fruitcast.yard.reading import read_yard

Seasons = dict[int, list[SeasonScore]]
"""Scores of each policy by the weather year that came true."""

_MODEL = (
    *("forecast", "soaks", "hindcast", "biology", "topics.py"),
    *("app/hindcast.py", "app/choosing.py"),
)
"""The code by which a season is lived through."""


@dataclass(frozen=True)
class Workers:
    """Who lives through the seasons, and where finished ones are kept."""

    # Folder in which each finished season is kept, and looked for first; None keeps none
    kept_in: Path | None = None
    # At a time; as many as the machine has processors when None, this one itself when 1
    processes: int | None = None
    cluster: str | None = None  # which does it in their place, see `run_tasks`


def hindcast_years(
    known: KnownYard,
    years: Sequence[int],
    params: HindcastParams,
    workers: Workers,
    tell: Callable[[int], None] = lambda done: None,
) -> Seasons:
    """Return what each policy makes of each of some past years, held out one at a time.

    `known` is what is known on the first day of the season; `tell` is told how many seasons are
    done, first of those that were kept. Raises InputError if the yard sells nothing: what reaches
    its outlets is what seasons are compared by.
    """
    if not known.yard.sells:
        raise InputError(
            "A hindcast compares what reaches the outlets of yard.toml, and this yard has none: "
            "'fruitcast plan' tells what comes to your table."
        )
    files: dict[int, Path] = {}
    if workers.kept_in is not None:
        digest = inputs_digest(known, params)[:16]
        files = {year: workers.kept_in / f"{digest}-{year}.json" for year in years}
    seasons: Seasons = {}
    for year, file in files.items():
        if file.is_file():
            with suppress(ValueError, KeyError, TypeError):  # damaged: lived through again
                seasons[year] = read_scores(file.read_bytes())
    tell(len(seasons))
    missing = [year for year in years if year not in seasons]
    at_once = min(workers.processes or cpu_count() or 1, len(missing))
    tasks = ((year, (known, year, params)) for year in missing)
    with closing(run_tasks(hold_out, tasks, processes=at_once, cluster=workers.cluster)) as lived:
        for year, future in lived:
            seasons[year] = future.result()
            if year in files:
                with suppress(OutputError):  # kept only to save time
                    write_atomically(files[year], scores_json(seasons[year]))
            tell(len(seasons))
    return {year: seasons[year] for year in years}


def inputs_digest(known: KnownYard, params: HindcastParams) -> str:
    """Return what changes whenever the yard, its weather, the way or the model's code does."""
    digest = hashlib.sha256(fruitcast.__version__.encode())
    yard = replace(
        known.yard,
        folder=Path(),
        weather=replace(known.yard.weather, file=None),
        warnings=(),
    )
    own = {number.key: number.value for number in known.numbers.entries()}
    for part in (known.today, yard, known.state, known.years, own, params):
        digest.update(_canonical(part).encode())
    digest.update(known.weather.start.isoformat().encode())
    for name in sorted(known.weather.values):
        digest.update(np.ascontiguousarray(known.weather.values[name]).tobytes())
        digest.update(np.ascontiguousarray(known.weather.sources[name]).tobytes())
    package = Path(__file__).parents[1]
    for name in _MODEL:
        place = package / name
        for file in sorted(place.rglob("*.py")) if place.is_dir() else [place]:
            digest.update(file.read_bytes())
    return digest.hexdigest()


def _canonical(value: Any) -> str:
    """Return a text that is the same for the same content, whatever the order of a set."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        inner = [
            f"{field.name}={_canonical(getattr(value, field.name))}"
            for field in dataclasses.fields(value)
        ]
        return f"{type(value).__name__}({','.join(inner)})"
    if isinstance(value, Mapping):
        pairs = sorted(f"{_canonical(key)}:{_canonical(item)}" for key, item in value.items())
        return f"{{{','.join(pairs)}}}"
    if isinstance(value, set | frozenset):
        return f"{{{','.join(sorted(map(_canonical, value)))}}}"
    if isinstance(value, list | tuple):
        return f"({','.join(map(_canonical, value))})"
    return repr(value)


# The hindcast of a yard as one document: each policy over past years, under several truths.

KEPT_IN = ".hindcast"
"""Folder in the yard in which finished seasons are kept."""

CAUTION = (
    "Here the model judges itself: the seasons come true by its own rules, so that this shows "
    "what planning gains where the rules hold, not that they do. Truths that differ show what "
    "it loses where they don't hold."
)

OTHER_TRUTHS = {
    "lead time 15 % longer": Truth(lead_factor=1.15),
    "lead time 15 % shorter": Truth(lead_factor=0.85),
    "yield 30 % lower": Truth(yield_factor=0.7),
}
UNDER_OTHER_TRUTHS = (PLAN, NINE_WEEK, SENSIBLE, BY_HAND, FORESIGHT)
AS_BELIEVED = "as the planner believes"


def hindcast_yard(
    folder: Path,
    today: date,
    params: HindcastParams,
    *,
    years: int,
    other_truths: int = 0,
    fresh: bool = False,
    workers: Workers = Workers(),
    fetching: Fetching = AS_USUAL,
    progress: Progress = silent,
) -> Hindcast:
    """Return how the yard's coming season would have gone with the weather of past years.

    Season and weather begin `today`. `years` are the latest past years to hold out, one at a time;
    for the latest `other_truths` the season is lived through again under truths that differ, with
    and without learning. Finished seasons are kept in the yard; `fresh` lives through all again,
    kept or not.
    """
    tail_days = numbers_of(read_yard(folder, today)).schedule.tail_days
    days = season_days(params.weeks, tail_days=tail_days)
    known = read_known(folder, today, days, fetching=fetching, progress=progress)
    kept_in = folder / KEPT_IN
    if fresh:
        for file in kept_in.glob("*.json"):
            file.unlink()
    workers = replace(workers, kept_in=kept_in)
    return hindcast_document(known, params, years, other_truths, workers, progress)


def hindcast_document(
    known: KnownYard,
    params: HindcastParams,
    years: int,
    other_truths: int,
    workers: Workers,
    progress: Progress = silent,
) -> Hindcast:
    """Return the hindcast of what is known, as `hindcast_yard`."""
    asked = max(years, other_truths)
    work = known.numbers.work
    held_out = known.years[-years:]
    some = known.years[-other_truths:] if other_truths else ()
    total = len(known.years[-asked:]) + (1 + 2 * len(OTHER_TRUTHS)) * len(some)
    lived = 0

    def live(words: str, these: Sequence[int], how: HindcastParams) -> Seasons:
        nonlocal lived

        def tell(done: int) -> None:
            progress(f"seasons lived through, {words}", lived + done, total)

        found = hindcast_years(known, these, how, workers, tell)
        lived += len(these)
        return found

    believed = live(AS_BELIEVED, known.years[-asked:], params)
    base = {year: believed[year] for year in held_out}
    results = [_result(AS_BELIEVED, params, base, base, work)]
    seed = params.truth.seed
    ways = {AS_BELIEVED: params} | {
        words: replace(params, truth=replace(truth, seed=seed), policies=UNDER_OTHER_TRUTHS)
        for words, truth in OTHER_TRUTHS.items()
    }
    for words, how in ways.items() if some else ():
        if how is params:
            found = {year: believed[year] for year in some}
        else:
            found = live(words, some, how)
            results.append(_result(words, how, found, found, work))
        # The same truth for a planner that has stopped learning.
        off = replace(how, learning=False, policies=(PLAN,))
        alone = live(f"{words}, learning off", some, off)
        results.append(_result(words, off, alone, found, work))
    notes = (
        []
        if len(known.years) >= asked
        else [f"Only {len(known.years)} past years of weather are usable; {asked} were asked for."]
    )
    return Hindcast(
        today=known.today,
        weeks=params.weeks,
        years=tuple(held_out),
        members=len(known.years) - 1,
        forecast_days=params.forecast_days,
        promise=known.yard.promise,
        seed=params.seed,
        units=known.yard.units,
        caution=CAUTION,
        results=tuple(results),
        seasons=tuple(
            PolicySeason.taken_from(score, soaks=len(score.soaks))
            for scores in base.values()
            for score in scores
        ),
        warnings=(*known.warnings, *notes),
    )


def _result(
    words: str, params: HindcastParams, found: Seasons, beside: Seasons, work: WorkNumbers
) -> TruthTold:
    """Return one truth's table; the rotation and foresight of `beside` are the yardsticks."""
    yardsticks = {name: _of_policy(beside, name) for name in (NINE_WEEK, FORESIGHT)}
    policies = []
    for name in POLICIES:
        scores = _of_policy(found, name) or _of_policy(beside, name)
        if scores:
            way = None
            if all(yardsticks.values()):
                way = way_to_foresight(scores, yardsticks[NINE_WEEK], yardsticks[FORESIGHT])
            plan = [] if name == PLAN else _of_policy(found, PLAN)
            policies.append(policy_summary(scores, way, plan, work=work))
    return TruthTold(
        truth=words,
        lead_factor=params.truth.lead_factor,
        yield_factor=params.truth.yield_factor,
        learning=params.learning,
        policies=tuple(policies),
    )


def _of_policy(seasons: Seasons, policy: str) -> list[SeasonScore]:
    return [score for scores in seasons.values() for score in scores if score.policy == policy]
