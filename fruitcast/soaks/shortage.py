"""Which limit makes a week go short, and what a little more of each would bring."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

import numpy as np
from pydantic import Field

from fruitcast.arrays import FloatArray
from fruitcast.diary.plan import Shortage
from fruitcast.document import Document, Number
from fruitcast.progress import Progress, silent
from fruitcast.soaks.problem import NO_LIMIT, Crops, Plan, Problem, StackProblem
from fruitcast.soaks.search import MENDING, Search
from fruitcast.soaks.search_tables import SearchTables
from fruitcast.soaks.supply import Ledger, allocate, check_days, evaluate

ShortCause = Literal["too early", "tank", "hours", "places", "cold store", "too few logs"]

SHORT_WORDS: dict[ShortCause, str] = {
    "too early": "no soak from today on can bear by then",
    "tank": "the tank is full on the days that would serve it",
    "hours": "the hours of work a day are used up on the days that would serve it",
    "places": "the places to fruit are taken on the days that would serve it",
    "cold store": "the mushrooms that come before it would not keep so long",
    "too few logs": "too few logs are ready and rested for it",
}
"""What binds, in words; last, where none of the limits does."""

SHORT_BY = 0.1
"""A sale is short when it misses this share of its target, mean over members."""

HELPS_BY = 0.25
"""A limit binds a sale when easing it takes away this share of what is missing."""

MUCH_COLDER = 14
"""More days in the cold store that the cold store's limit is tried with. [day]"""


def short_sales(
    problem: Problem, plan: Plan, ledger: Ledger, fresh: Ledger, tables: SearchTables
) -> tuple[Shortage, ...]:
    """Return the sales within the horizon that go short, each with the limit that binds.

    `ledger` is what the plan delivers to the members that it was chosen by, `fresh` what on fresh
    paths: these say which sales go short, and by how much. The problem's tables also serve where
    only tank, hours or places are eased.
    """
    checks = tables.checks
    missing: FloatArray = checks.target - ledger.delivered.mean(axis=1)
    said: FloatArray = checks.target - fresh.delivered.mean(axis=1)
    inside = checks.sale_day < problem.horizon_days
    short = np.flatnonzero(inside & (said > SHORT_BY * checks.target))
    if not len(short):
        return ()
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
        outlet = problem.outlets[sale]
        found.append(
            Shortage(
                outlet=outlet.outlet,
                on=problem.on(outlet.day),
                missing_kg=float(said[sale]),
                cause=cause,
                reason=SHORT_WORDS[cause],
            )
        )
    return tuple(found)


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


# What a little more of each limited thing would bring over the season.

MORE_LOGS = 10


class MoreOf(Document):
    """What one more of something would bring."""

    thing: str = Field(
        description="tank place, place to fruit, soak day, ten logs or cold store day"
    )
    which: str = Field(description="the weekday, or the stack whose kind the ten logs are of")
    kg: Number = Field(description="less missing over the season")


def gains_of_more(
    problem: Problem,
    plan: Plan,
    more_days: Sequence[tuple[str, Problem, Plan]],
    progress: Progress = silent,
) -> tuple[MoreOf, ...]:
    """Return what a little more of each limited thing would bring, the plan mended for it.

    `more_days` has for a day of the week the problem with it as one more soak day, and the plan
    for that. A single place in the tank or to fruit seldom lets another stack in, so both are tried
    with places for one more stack and the gain divided by them.
    """
    progress("trying more of tank, places and cold store")
    now = _unmet(problem, plan)
    places = int(np.median([s.logs for s in problem.stacks if s.logs] or [1]))
    larger = replace(problem, tank_logs=problem.tank_logs + places)
    colder = replace(problem, cold_days=problem.cold_days + 1)
    found = [
        ("tank place", "", _gain(now, larger, plan) / places),
        ("cold store day", "", _gain(now, colder, plan)),
    ]
    if problem.places is not None:
        wider = replace(problem, places=problem.places + places)
        found.append(("place to fruit", "", _gain(now, wider, plan) / places))
    for weekday, other, other_plan in more_days:
        found.append(("soak day", weekday, max(now - _unmet(other, other_plan), 0.0)))
    types = _one_of_each_type(problem)
    for done, index in enumerate(types):
        progress("trying ten more logs of each kind", done, len(types))
        stacks = list(problem.stacks)
        stacks[index] = with_more_logs(stacks[index], MORE_LOGS)
        grown = replace(problem, stacks=tuple(stacks))
        kind = f"{problem.types[stacks[index].type_index].name} (like {stacks[index].name})"
        found.append(("ten logs", kind, _gain(now, grown, plan)))
    found.sort(key=lambda worth: (worth[0], -worth[2]))
    return tuple(MoreOf(thing=thing, which=which, kg=kg) for thing, which, kg in found)


def with_more_logs(stack: StackProblem, logs: int) -> StackProblem:
    """Return a stack with more logs of the same kind, state and age."""
    share = (stack.logs + logs) / stack.logs

    def grown(crops: Crops) -> Crops:
        return replace(crops, kg=np.asarray(crops.kg) * share)

    first = replace(
        stack.first,
        crops=grown(stack.first.crops),
        none_crops=grown(stack.first.none_crops),
    )
    return replace(
        stack,
        logs=stack.logs + logs,
        effective_logs=stack.effective_logs * share,
        end_flush=stack.end_flush * share,
        first=first,
    )


def _one_of_each_type(problem: Problem) -> list[int]:
    """Return the most productive soakable stack of each type."""
    best: dict[int, int] = {}
    for index, stack in enumerate(problem.stacks):
        if not stack.logs or not len(stack.first.soak):
            continue
        known = best.get(stack.type_index)
        if known is None or stack.effective_logs / stack.logs > (
            problem.stacks[known].effective_logs / problem.stacks[known].logs
        ):
            best[stack.type_index] = index
    return list(best.values())


def _unmet(problem: Problem, plan: Plan) -> float:
    checks = check_days(problem)
    _, ledger = evaluate(problem, plan, checks)
    return float((checks.target[:, None] - ledger.delivered).sum(axis=0).mean())


def _gain(now: float, problem: Problem, plan: Plan) -> float:
    return max(now - _unmet(problem, Search(problem, MENDING).run(start=plan)), 0.0)
