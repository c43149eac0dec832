"""The parts of the objective that add up stack by stack, and the whole for a plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fruitcast.soaks.problem import FloatArray, Path, Plan, Problem, StackProblem
from fruitcast.soaks.supply import CheckDays, Ledger, allocate, plan_crops, tail_mean


@dataclass(frozen=True)
class Parts:
    """The objective in its parts; they add up to `total`. [kg]"""

    shortfall: float
    expired: float
    soaks: float
    change: float
    end_value: float
    certainty: float = 0.0

    @property
    def total(self) -> float:
        """The objective. [kg]"""
        return (
            self.shortfall
            + self.expired
            + self.soaks
            + self.change
            + self.end_value
            + self.certainty
        )


def end_value(stack: StackProblem, problem: Problem, last_soak_day: int | None) -> float:
    """Return what a stack is worth rested at the end: half a flush, by days of rest. [kg]"""
    since = stack.rested_from if last_soak_day is None else last_soak_day
    rested = (problem.next_soak_day - since) / problem.rest_days
    return 0.5 * stack.end_flush * min(1.0, max(0.0, rested))


def change_cost(stack: StackProblem, problem: Problem, first_soak_day: int | None) -> float:
    """Return the price of a next soak that differs from the one published. [kg]"""
    if not stack.was_published or first_soak_day == stack.published:
        return 0.0
    return problem.prices.change


def path_cost(stack: StackProblem, problem: Problem, path: Path) -> tuple[float, float, float]:
    """Return soak price, change and (negative) end value of one stack's path. [kg]"""
    days = [int(problem.soak_days[k]) for k in path]
    return (
        problem.prices.soak * stack.logs * len(path),
        change_cost(stack, problem, days[0] if days else None),
        -end_value(stack, problem, days[-1] if days else None),
    )


def visits_cost(problem: Problem, plan: Sequence[Path]) -> float:
    """Return the price of a plan's visits: lots of one stack on one day are one. [kg]"""
    stacks = zip(problem.stacks, problem.visits.tolist(), plan, strict=True)
    visits = {(visit, k): stack.handling for stack, visit, path in stacks for k in path}
    return sum(visits.values())


def sales_parts(ledger: Ledger, problem: Problem, checks: CheckDays) -> tuple[float, float, float]:
    """Return shortfall, expiry and certainty parts of a ledger. [kg]"""
    short: FloatArray = checks.target[:, None] - ledger.delivered
    certainty = 0.0
    if problem.prices.certainty > 0 and len(short):
        certainty = problem.prices.certainty * float(tail_mean(short, 1 - problem.promise).sum())
    return (
        float((checks.weight[:, None] * short).sum(axis=0).mean()),
        problem.prices.expired * float(ledger.expired.mean()),
        certainty,
    )


def evaluate(problem: Problem, plan: Plan, checks: CheckDays) -> tuple[Parts, Ledger]:
    """Return the objective of a plan, in parts, and its ledger."""
    ledger = allocate(plan_crops(problem, plan, checks), checks)
    shortfall, expired, certainty = sales_parts(ledger, problem, checks)
    own = np.array(
        [path_cost(s, problem, path) for s, path in zip(problem.stacks, plan, strict=True)]
    ).reshape(-1, 3)
    soaks, change, end = (float(column) for column in own.sum(axis=0))
    soaks += visits_cost(problem, plan)
    return Parts(shortfall, expired, soaks, change, end, certainty), ledger
