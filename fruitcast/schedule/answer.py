"""The plan as an answer: one document with plain values, what programs and people read."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import numpy as np

from fruitcast.forecast.jobs import Job
from fruitcast.forecast.picking_jobs import PickWindow
from fruitcast.forecast.thirst import StackThirst, thirsty_stacks
from fruitcast.schedule.answer_state import (
    all_jobs,
    job_entries,
    learned_entries,
    question_words,
    spawn_run_entries,
    water_chance_entries,
    weighing_entries,
)
from fruitcast.schedule.build import BuiltProblem
from fruitcast.schedule.changes import Change
from fruitcast.schedule.expected import SoakOutcome, natural_weeks, soak_outcome
from fruitcast.schedule.objective import Parts
from fruitcast.schedule.problem import Plan, Problem
from fruitcast.schedule.reasons import Explainer
from fruitcast.schedule.shortage import SHORT_WORDS, ShortSale
from fruitcast.schedule.supply import Ledger

Document = dict[str, Any]

Outcomes = dict[tuple[int, int], SoakOutcome]
"""What every planned soak brings, by stack and step of its path."""

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
    """
    problem, outlook = built.problem, built.outlook
    outcomes = _outcomes(built, plan)
    windows = _windows(built, outcomes)
    jobs = all_jobs(outlook, windows)
    thirsts = thirsty_stacks(outlook)
    asked = [question_words(q, outlook.yard.units) for q in outlook.learned.questions]
    return {
        "today": problem.today.isoformat(),
        "weeks": problem.weeks,
        "soaks": _soaks(built, plan, explainer, outcomes, jobs),
        "outlets": _outlets(problem, ledger),
        "natural": [
            {
                "stack": week.stack,
                "week": week.week.isoformat(),
                "chance": week.chance,
                "expected_kg": week.kg,
                "first_pick": week.first_pick.isoformat(),
                "days": week.days,
            }
            for week in natural_weeks(built, plan)
        ],
        "water": _water(thirsts),
        "water_chance": water_chance_entries(thirsts, outlook),
        "not_soaked": _not_soaked(problem, plan, explainer),
        "jobs": job_entries(jobs),
        "spawn_run": spawn_run_entries(outlook),
        "weighings": weighing_entries(outlook),
        "learned": learned_entries(outlook.learned),
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
        "warnings": [*warnings, *asked],
    }


def _day(problem: Problem, number: int) -> date:
    return problem.today + timedelta(days=int(number))


def _outcomes(built: BuiltProblem, plan: Plan) -> Outcomes:
    """Return what every planned soak brings, by stack and step."""
    return {
        (index, step): soak_outcome(built, index, path, step)
        for index, path in enumerate(plan)
        for step in range(len(path))
    }


def _windows(built: BuiltProblem, outcomes: Outcomes) -> list[PickWindow]:
    """Return the pick windows of the planned soaks."""
    return [
        PickWindow(built.problem.stacks[index].name, out.pick_row, out.past_row, out.comes)
        for (index, _), out in outcomes.items()
    ]


def _cover(jobs: list[Job], stack: str, first: date, last: date) -> Document | None:
    """Return the cover that one flush wants; None when no rain is forecast on it."""
    wanted = [
        job
        for job in jobs
        if job.kind == "cover" and job.stack == stack and first <= job.on <= last
    ]
    if not wanted:
        return None
    return {
        "from": wanted[0].on.isoformat(),
        "to": wanted[-1].until.isoformat(),
        "reason": wanted[0].reason,
    }


def _soaks(
    built: BuiltProblem, plan: Plan, explainer: Explainer, outcomes: Outcomes, jobs: list[Job]
) -> list[Document]:
    problem, futures = built.problem, built.outlook.futures
    found: list[Document] = []
    for index, path in enumerate(plan):
        stack = problem.stacks[index]
        arcs = problem.types[stack.type_index]
        for step, soak in enumerate(path):
            outcome = outcomes[index, step]
            covers = explainer.covers(index, step)
            day = int(problem.soak_days[soak])
            first = futures.date(outcome.first_pick(0.1))
            last = futures.date(int(np.quantile(outcome.past_row[outcome.comes], 0.9)))
            cover = _cover(jobs, stack.name, first, last)
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
                    "pins_on": futures.date(outcome.pins(0.5)).isoformat(),
                    "expected_kg": float(outcome.kg.mean()),
                    **({"cover": cover} if cover else {}),
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


def _water(thirsts: list[StackThirst]) -> list[Document]:
    found: list[Document] = []
    for thirst in thirsts:
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


def change_entries(changed: list[Change]) -> list[Document]:
    """Return what a plan changes in the one published before, in plain values."""
    return [
        {
            "stack": change.stack,
            "kind": change.kind,
            "before": None if change.before is None else change.before.isoformat(),
            "after": None if change.after is None else change.after.isoformat(),
            "gain_kg": change.gain,
            "reason": change.reason,
        }
        for change in changed
    ]


def short_entries(problem: Problem, short: list[ShortSale]) -> list[Document]:
    """Return the sales that go short and what binds each, in plain values."""
    return [
        {
            "outlet": problem.outlets[sale.sale].outlet,
            "on": _day(problem, problem.outlets[sale.sale].day).isoformat(),
            "missing_kg": sale.missing,
            "cause": sale.cause,
            "reason": SHORT_WORDS[sale.cause],
        }
        for sale in short
    ]
