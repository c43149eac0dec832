"""The hindcast of a yard as one document: each policy over past years, under several truths."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path

from fruitcast.app.changed_model import numbers_of
from fruitcast.app.hindcast_known import (
    BY_HAND,
    FORESIGHT,
    NINE_WEEK,
    PLAN,
    POLICIES,
    SENSIBLE,
    HindcastParams,
    season_days,
)
from fruitcast.app.hindcast_years import Seasons, hindcast_years
from fruitcast.app.known import KnownYard, read_known
from fruitcast.hindcast.scores import PolicySeason, SeasonScore, policy_summary, way_to_foresight
from fruitcast.hindcast.truth import Truth
from fruitcast.outputs.hindcast_words import Hindcast
from fruitcast.outputs.hindcast_words import Truth as TruthTold
from fruitcast.progress import Progress, silent
from fruitcast.yard.reading import read_yard

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
    processes: int | None = None,
    cluster: str | None = None,
    now: datetime | None = None,
    offline: bool = False,
    progress: Progress | None = None,
) -> Hindcast:
    """Return how the yard's coming season would have gone with the weather of past years.

    Parameters
    ----------
    folder : Path
        The yard's folder.
    today : date
        First day of the season.
    params : HindcastParams
        How, with the truth as the planner believes it.
    years : int
        Latest past years to hold out, one at a time.
    other_truths : int
        Latest past years for which the season is lived through again under truths that
        differ, with and without learning; 0 leaves that out.
    fresh : bool
        Whether to live through all seasons again, kept or not.
    processes, cluster
        How many at a time, and where; see `hindcast_years`.
    now, offline
        See `app.known.read_weather`.
    progress : callable, optional
        Told what is being lived through, how many seasons are done, and of how many in all.
    """
    days = season_days(
        params.weeks, tail_days=numbers_of(read_yard(folder, today)).schedule.tail_days
    )
    known = read_known(folder, today, days, now=now, offline=offline, progress=progress or silent)
    kept_in = folder / KEPT_IN
    if fresh:
        for file in kept_in.glob("*.json"):
            file.unlink()
    return hindcast_document(
        known,
        params,
        years=years,
        other_truths=other_truths,
        kept_in=kept_in,
        processes=processes,
        cluster=cluster,
        progress=progress,
    )


def hindcast_document(
    known: KnownYard,
    params: HindcastParams,
    *,
    years: int,
    other_truths: int = 0,
    kept_in: Path | None = None,
    processes: int | None = None,
    cluster: str | None = None,
    progress: Progress | None = None,
) -> Hindcast:
    """Return the hindcast of what is known; see `hindcast_yard` for the parameters."""
    tell = progress or silent
    asked = max(years, other_truths)
    held_out = known.years[-years:]
    some = known.years[-other_truths:] if other_truths else ()
    total = len(known.years[-asked:]) + (1 + 2 * len(OTHER_TRUTHS)) * len(some)
    lived = 0

    def live(words: str, these: Sequence[int], how: HindcastParams) -> Seasons:
        nonlocal lived
        found = hindcast_years(
            known,
            these,
            how,
            kept_in=kept_in,
            processes=processes,
            cluster=cluster,
            progress=lambda done: tell(f"seasons lived through, {words}", lived + done, total),
        )
        lived += len(these)
        return found

    believed = live(AS_BELIEVED, known.years[-asked:], params)
    base = {year: believed[year] for year in held_out}
    results = [_result(AS_BELIEVED, params, base, base)]
    if some:
        same = {year: believed[year] for year in some}
        results += _with_learning_off(AS_BELIEVED, some, params, same, live)
        for words, truth in OTHER_TRUTHS.items():
            how = replace(
                params, truth=replace(truth, seed=params.truth.seed), policies=UNDER_OTHER_TRUTHS
            )
            found = live(words, some, how)
            results.append(_result(words, how, found, found))
            results += _with_learning_off(words, some, how, found, live)
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
        seasons=tuple(_season(score) for scores in base.values() for score in scores),
        warnings=(*known.warnings, *notes),
    )


def _with_learning_off(
    words: str,
    years: Sequence[int],
    params: HindcastParams,
    learning: Seasons,
    live: Callable[[str, Sequence[int], HindcastParams], Seasons],
) -> list[TruthTold]:
    """Return the same truth for a planner that has stopped learning."""
    how = replace(params, learning=False, policies=(PLAN,))
    found = live(f"{words}, learning off", years, how)
    return [_result(words, how, found, learning)]


def _result(words: str, params: HindcastParams, found: Seasons, beside: Seasons) -> TruthTold:
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
            policies.append(policy_summary(scores, way, plan))
    return TruthTold(
        truth=words,
        lead_factor=params.truth.lead_factor,
        yield_factor=params.truth.yield_factor,
        learning=params.learning,
        policies=tuple(policies),
    )


def _of_policy(seasons: Seasons, policy: str) -> list[SeasonScore]:
    return [score for scores in seasons.values() for score in scores if score.policy == policy]


def _season(score: SeasonScore) -> PolicySeason:
    return PolicySeason(
        year=score.year,
        policy=score.policy,
        demand_kg=score.demand_kg,
        shortfall_kg=score.shortfall_kg,
        expired_kg=score.expired_kg,
        soaks=len(score.soaks),
        logs_soaked=sum(soak.logs for soak in score.soaks),
    )
