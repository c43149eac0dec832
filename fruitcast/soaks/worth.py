"""What a little more of each limited thing would bring over the season."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from fruitcast.progress import Progress, silent
from fruitcast.soaks.objective import evaluate
from fruitcast.soaks.problem import Crops, Plan, Problem, StackProblem
from fruitcast.soaks.search import MENDING, Search
from fruitcast.soaks.supply import check_days

Thing = Literal["tank place", "place to fruit", "soak day", "ten logs", "cold store day"]

MORE_LOGS = 10


@dataclass(frozen=True)
class Worth:
    """What one step more of something brings.

    Attributes
    ----------
    thing : str
        'tank place', 'place to fruit', 'soak day', 'ten logs' or 'cold store day'.
    which : str
        The weekday, or the stack whose kind the ten logs are of.
    kg : float
        Less shortfall over the counted days, mean over members. [kg]
    step : int
        How many were added to find it; `kg` is for one.
    """

    thing: Thing
    which: str
    kg: float
    step: int = 1


def worths(
    problem: Problem,
    plan: Plan,
    more_days: Sequence[tuple[int, Problem, Plan]],
    progress: Progress = silent,
) -> list[Worth]:
    """Return what a little more of each limited thing would bring, the plan mended for it.

    A single place in the tank or to fruit seldom lets another stack in, so both are tried with
    places for one more stack and the gain divided by them.

    Parameters
    ----------
    problem : Problem
        The problem.
    plan : Plan
        Its plan.
    more_days : sequence of (weekday, Problem, Plan)
        The problem with one more soak day of the week, and the plan for it.
    progress : callable, optional
        Told what is being tried.
    """
    progress("trying more of tank, places and cold store")
    now = _missing(problem, plan)
    places = int(np.median([s.logs for s in problem.stacks if s.logs] or [1]))
    larger = replace(problem, tank_logs=problem.tank_logs + places)
    found = [
        Worth("tank place", "", _gain(now, larger, plan) / places, places),
        Worth(
            "cold store day",
            "",
            _gain(now, replace(problem, cold_days=problem.cold_days + 1), plan),
        ),
    ]
    if problem.places is not None:
        wider = replace(problem, places=problem.places + places)
        found.append(Worth("place to fruit", "", _gain(now, wider, plan) / places, places))
    names = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
    for weekday, other, other_plan in more_days:
        found.append(Worth("soak day", names[weekday], max(now - _missing(other, other_plan), 0.0)))
    types = _one_of_each_type(problem)
    for done, index in enumerate(types):
        progress("trying ten more logs of each kind", done, len(types))
        stacks = list(problem.stacks)
        stacks[index] = with_more_logs(stacks[index], MORE_LOGS)
        grown = replace(problem, stacks=tuple(stacks))
        kind = f"{problem.types[stacks[index].type_index].name} (like {stacks[index].name})"
        found.append(Worth("ten logs", kind, _gain(now, grown, plan)))
    return sorted(found, key=lambda worth: (worth.thing, -worth.kg))


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
        scale=stack.scale * share,
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
        if known is None or stack.scale / stack.logs > (
            problem.stacks[known].scale / problem.stacks[known].logs
        ):
            best[stack.type_index] = index
    return list(best.values())


def _missing(problem: Problem, plan: Plan) -> float:
    checks = check_days(problem)
    _, ledger = evaluate(problem, plan, checks)
    return float((checks.target[:, None] - ledger.delivered).sum(axis=0).mean())


def _gain(now: float, problem: Problem, plan: Plan) -> float:
    return max(now - _missing(problem, Search(problem, MENDING).run(start=plan)), 0.0)
