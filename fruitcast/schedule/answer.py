"""The plan as an answer: one document with plain values, what programs and people read."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import numpy as np

from fruitcast.forecast.thirst import thirsty_stacks
from fruitcast.numbers import Numbers
from fruitcast.schedule.build import BuiltProblem
from fruitcast.schedule.expected import natural_weeks, soak_outcome
from fruitcast.schedule.objective import Parts
from fruitcast.schedule.problem import Plan, Problem
from fruitcast.schedule.reasons import Explainer
from fruitcast.schedule.supply import Ledger

Document = dict[str, Any]

MET_WITHIN = 0.001
"""A target missed by less than a gram is met. [kg]"""


def plan_document(
    built: BuiltProblem,
    plan: Plan,
    parts: Parts,
    ledger: Ledger,
    explainer: Explainer,
    *,
    bound: float | None,
    warnings: list[str],
    numbers: Numbers,
) -> Document:
    """Return a plan as a document of plain values, unrounded, weights in kg and dates in ISO.

    Parameters
    ----------
    built : BuiltProblem
        The problem with what it was made from.
    plan : Plan
        The chosen paths.
    parts : Parts
        Its objective.
    ledger : Ledger
        What it delivers.
    explainer : Explainer
        For the reasons.
    bound : float or None
        Lower bound of the objective; None when it was not asked for. [kg]
    warnings : list of str
        What the grower should know.
    numbers : Numbers
        The numbers in use.
    """
    problem = built.problem
    return {
        "today": problem.today.isoformat(),
        "weeks": problem.weeks,
        "soaks": _soaks(built, plan, explainer),
        "outlets": _outlets(problem, ledger),
        "natural": [
            {
                "stack": week.stack,
                "week": week.week.isoformat(),
                "chance": week.chance,
                "expected_kg": week.kg,
            }
            for week in natural_weeks(built, plan)
        ],
        "water": _water(built, numbers),
        "not_soaked": _not_soaked(problem, plan, explainer),
        "objective": {
            "shortfall": parts.shortfall,
            "expired": parts.expired,
            "soaks": parts.soaks,
            "change": parts.change,
            "end_value": parts.end_value,
            **({"certainty": parts.certainty} if problem.prices.certainty else {}),
        },
        "objective_kg": parts.total,
        "bound_kg": bound,
        "demand_kg": problem.demand,
        "members": problem.members,
        "promise": problem.promise,
        "seed": problem.seed,
        "warnings": warnings,
    }


def _day(problem: Problem, number: int) -> date:
    return problem.today + timedelta(days=int(number))


def _soaks(built: BuiltProblem, plan: Plan, explainer: Explainer) -> list[Document]:
    problem, futures = built.problem, built.outlook.futures
    found: list[Document] = []
    for index, path in enumerate(plan):
        stack = problem.stacks[index]
        arcs = problem.types[stack.type_index]
        for step, soak in enumerate(path):
            outcome = soak_outcome(built, index, path, step)
            covers = explainer.covers(index, step)
            day = int(problem.soak_days[soak])
            found.append(
                {
                    "stack": stack.name,
                    "logs": stack.logs,
                    "soak_on": _day(problem, day).isoformat(),
                    "hours": float(arcs.hours[soak]),
                    "pull_on": _day(problem, day + int(arcs.nights[soak])).isoformat(),
                    "pick": {
                        f"p{share}": futures.date(outcome.first_pick(share / 100)).isoformat()
                        for share in (10, 50, 90)
                    },
                    "expected_kg": float(outcome.kg.mean()),
                    "covers": [
                        {
                            "outlet": cover.outlet,
                            "on": _day(problem, cover.day).isoformat(),
                            "kg": cover.kg,
                        }
                        for cover in covers
                    ],
                    "reasons": explainer.soak_reasons(index, step, covers),
                }
            )
    return sorted(found, key=lambda soak: (soak["soak_on"], soak["stack"]))


def _outlets(problem: Problem, ledger: Ledger) -> list[Document]:
    found: list[Document] = []
    for sale, outlet in enumerate(problem.outlets):
        if outlet.day >= problem.horizon_days:
            continue
        available, delivered = ledger.available[sale], ledger.delivered[sale]
        sure = float(np.quantile(available, 1 - problem.promise))
        found.append(
            {
                "outlet": outlet.outlet,
                "on": _day(problem, outlet.day).isoformat(),
                "target_kg": outlet.target,
                "delivered_kg": min(float(delivered.mean()), outlet.target),
                "available_p10_kg": float(np.quantile(available, 0.1)),
                "available_p90_kg": float(np.quantile(available, 0.9)),
                "chance": float((delivered >= outlet.target - MET_WITHIN).mean()),
                "promise_kg": min(outlet.target, sure),
            }
        )
    return found


def _water(built: BuiltProblem, numbers: Numbers) -> list[Document]:
    found: list[Document] = []
    for thirst in thirsty_stacks(built.outlook, numbers):
        advice = thirst.advice
        if thirst.on is None:
            continue
        found.append(
            {
                "stack": thirst.stack,
                "on": thirst.on.isoformat(),
                "moisture_wet": advice.moisture_wet,
                "mm": advice.amount,
                "hours": advice.hours,
                "litres_per_log": advice.litres_per_log,
                "urgent": advice.urgent,
                "reason": advice.reason,
            }
        )
    return sorted(found, key=lambda water: (water["on"], water["stack"]))


def _not_soaked(problem: Problem, plan: Plan, explainer: Explainer) -> list[Document]:
    found = []
    for index, path in enumerate(plan):
        if not path:
            alone = explainer.left_alone(index)
            found.append(
                {
                    "stack": problem.stacks[index].name,
                    "cause": alone.cause,
                    "reason": alone.reason,
                }
            )
    return found
