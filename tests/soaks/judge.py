"""An independent judge of any plan: every hard rule, and the objective part by part.

It works from the problem alone and shares no code with the search. A plan that breaks a
rule is still priced, so that one can see what the breach was worth.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from math import floor

import numpy as np
import numpy.typing as npt

from fruitcast.hindcast.diary import sell
from fruitcast.soaks.problem import Crops, Plan, Problem, SoakPath, StackProblem

FloatArray = npt.NDArray[np.float64]

GRAM = 0.001
"""A target met to within this weight is met. [kg]"""


@dataclass(frozen=True)
class Violation:
    """One broken rule, in words.

    Attributes
    ----------
    rule : str
        Short name of the rule: 'rest', 'tank', 'hours', 'season' ...
    stack : str or None
        The stack, where one is to blame.
    day : date or None
        The day.
    message : str
        What is wrong, with the figures.
    """

    rule: str
    stack: str | None
    day: date | None
    message: str

    def __str__(self) -> str:
        place = ", ".join(str(part) for part in (self.stack, self.day) if part is not None)
        return f"{place}: {self.message}" if place else self.message


@dataclass(frozen=True)
class JudgedSoak:
    """One planned soak as the judge sees it.

    Attributes
    ----------
    stack : str
        Stack or lot.
    day, pull_day : int
        Days from today. [day]
    logs : int
        Logs in the water.
    expected : float
        Mean over members of what is picked on the arc into this soak from the pull on;
        saleable weight, zeros included. [kg]
    """

    stack: str
    day: int
    pull_day: int
    logs: int
    expected: float


@dataclass(frozen=True)
class Judgement:
    """What the judge found.

    Attributes
    ----------
    violations : tuple of Violation
        Empty when every hard rule is kept.
    objective : dict of str to float
        'shortfall', 'expired', 'soaks', 'change', 'certainty', 'end_value'; the last is
        negative, so that the parts add up. [kg]
    delivered, available : (outlet day, member) float array
        Sold, and saleable stock when the outlet's turn came; rows as `Problem.outlets`. [kg]
    shortfall : (outlet day, member) float array
        Target less delivered. [kg]
    expired : (member,) float array
        Unsold past its last day. [kg]
    soaks : tuple of JudgedSoak
        In order of day, then stack.
    """

    violations: tuple[Violation, ...]
    objective: dict[str, float]
    delivered: FloatArray
    available: FloatArray
    shortfall: FloatArray
    expired: FloatArray
    soaks: tuple[JudgedSoak, ...]

    @property
    def legal(self) -> bool:
        """Whether every hard rule is kept."""
        return not self.violations

    @property
    def objective_kg(self) -> float:
        """The objective: the sum of its parts. [kg]"""
        return sum(self.objective.values())

    @property
    def chance(self) -> FloatArray:
        """Share of members in which each outlet day's target is met within a gram. [0..1]"""
        return np.asarray((self.shortfall <= GRAM).mean(axis=1), dtype=np.float64)


def violations_of(problem: Problem, plan: Plan) -> list[Violation]:
    """Return which hard rules a plan breaks, without a look at what it brings."""
    walked = (_walk(problem, *each)[0] for each in zip(problem.stacks, plan, strict=True))
    broken = [violation for one in walked for violation in one]
    return broken + _tank(problem, plan) + _hours(problem, plan) + _places(problem, plan)


def judge(problem: Problem, plan: Plan) -> Judgement:
    """Return which hard rules a plan breaks, what it delivers and what it costs.

    Parameters
    ----------
    problem : Problem
        The problem.
    plan : Plan
        One path for each stack, in the order of `Problem.stacks`.

    Notes
    -----
    An arc that does not exist is a violation and yields nothing. The pull of a stack that
    is in the tank today counts towards the hours of its pull day.
    """
    if len(plan) != len(problem.stacks):
        raise ValueError(f"The plan has {len(plan)} paths for {len(problem.stacks)} stacks.")
    picks: list[list[tuple[int, float]]] = [list(problem.stock) for _ in problem.years]
    violations = violations_of(problem, plan)
    soaks: list[JudgedSoak] = []
    for stack, path in zip(problem.stacks, plan, strict=True):
        _, legs = _walk(problem, stack, path)
        for crops, row, effective_logs, soak in legs:
            pull = 0 if soak is None else _pull_day(problem, stack, soak)
            after_pull = 0.0
            for entry in np.flatnonzero(crops.row == row):
                day, kg = int(crops.day[entry]), effective_logs * float(crops.kg[entry])
                picks[crops.member[entry]].append((day, kg))
                after_pull += kg * (day >= pull)
            if soak is not None:
                soaks.append(
                    JudgedSoak(
                        stack=stack.name,
                        day=int(problem.soak_days[soak]),
                        pull_day=pull,
                        logs=stack.logs,
                        expected=after_pull / problem.members,
                    )
                )

    outlets = problem.outlets
    sales = [sell(member, outlets, problem.cold_days, problem.days) for member in picks]
    delivered = np.array([sale.delivered for sale in sales], dtype=float).T
    available = np.array([sale.available for sale in sales], dtype=float).T
    target = np.array([outlet.target for outlet in outlets], dtype=float)
    weight = np.array([outlet.weight for outlet in outlets], dtype=float)
    shortfall = target[:, None] - delivered
    expired = np.array([sale.expired for sale in sales])
    prices = problem.prices
    objective = {
        "shortfall": float((weight[:, None] * shortfall).sum() / problem.members),
        "expired": float(prices.expired * expired.mean()),
        "soaks": prices.soak * sum(soak.logs for soak in soaks) + _visits(problem, plan),
        "change": prices.change * _changes(problem, plan),
        "certainty": prices.certainty
        * sum(mean_of_worst(row, 1.0 - problem.promise) for row in shortfall),
        "end_value": -sum(
            end_value(problem, stack, path)
            for stack, path in zip(problem.stacks, plan, strict=True)
        ),
    }
    soaks.sort(key=lambda soak: (soak.day, soak.stack))
    return Judgement(
        tuple(violations), objective, delivered, available, shortfall, expired, tuple(soaks)
    )


def mean_of_worst(shortfall: FloatArray, share: float) -> float:
    """Return the mean shortfall of the worst `share` of equally likely members. [kg]

    A member that straddles the boundary counts in part: of 3 members, the worst half is
    the worst one and half of the next. A share under one member's is that worst member.
    """
    worst = sorted((float(kg) for kg in shortfall), reverse=True)
    wanted = max(share * len(worst), 1.0)
    whole = floor(wanted + 1e-9)
    part = max(wanted - whole, 0.0)
    total = sum(worst[:whole])
    if part > 1e-9 and whole < len(worst):
        total += part * worst[whole]
    return total / wanted


def end_value(problem: Problem, stack: StackProblem, path: SoakPath) -> float:
    """Return what a stack's rest at the end is worth. [kg]

    Half a forced flush for a full rest by the first permitted soak day past the horizon, in
    proportion for less.
    """
    last = int(problem.soak_days[path[-1]]) if path else stack.rested_from
    rested = (problem.next_soak_day - last) / problem.rest_days
    return 0.5 * stack.end_flush * min(1.0, max(0.0, rested))


def _walk(
    problem: Problem, stack: StackProblem, path: SoakPath
) -> tuple[list[Violation], list[tuple[Crops, int, float, int | None]]]:
    """Return one path's breaches and its legs: crops, row, effective logs, soak at their end."""
    kind = problem.types[stack.type_index]
    broken: list[Violation] = []
    legs: list[tuple[Crops, int, float, int | None]] = []

    def breach(rule: str, soak: int, message: str) -> None:
        broken.append(Violation(rule, stack.name, _date(problem, soak), message))

    if not path:
        return [], [(stack.first.none_crops, 0, 1.0, None)]
    for soak in path:
        if not 0 <= soak < len(problem.soak_days):
            raise ValueError(f"Stack {stack.name}: there is no soak day number {soak}.")
    for soak in path:
        if not kind.allowed[soak]:
            breach("season", soak, f"soaked although type '{kind.name}' isn't allowed that day")
    for before, after in pairwise(path):
        gap = int(problem.soak_days[after] - problem.soak_days[before])
        if gap < problem.rest_days:
            breach("rest", after, f"soaked after {gap} days of rest, {problem.rest_days} needed")
    first = np.flatnonzero(stack.first.soak == path[0])
    if len(first):
        legs.append((stack.first.crops, int(first[0]), 1.0, path[0]))
    else:
        breach("first arc", path[0], "not ready, rested or allowed for a first soak on that day")
    if problem.soak_days[path[0]] < stack.fixed_nights:
        breach("in the tank", path[0], f"still in the tank until day {stack.fixed_nights}")
    for before, after in pairwise(path):
        arc = np.flatnonzero((kind.start == before) & (kind.stop == after))
        if len(arc):
            legs.append((kind.crops, int(arc[0]), stack.effective_logs, after))
        else:
            breach("arc", after, f"no soak is allowed here after one on {_date(problem, before)}")
    legs.append((kind.end_crops, path[-1], stack.effective_logs, None))
    return broken, legs


def _begun(stack: StackProblem) -> int:
    """Return the logs that stand in the water today: only a part of a stack may have gone in."""
    return stack.logs if stack.fixed_logs is None else stack.fixed_logs


def _tank(problem: Problem, plan: Plan) -> list[Violation]:
    held: dict[int, list[tuple[str, int]]] = defaultdict(list)
    planned_days = set()
    for stack, path in zip(problem.stacks, plan, strict=True):
        for day in range(stack.fixed_nights):
            held[day].append((stack.name, _begun(stack)))
        for soak in path:
            for day in range(int(problem.soak_days[soak]), _pull_day(problem, stack, soak)):
                held[day].append((stack.name, stack.logs))
                planned_days.add(day)
    broken = []
    for day in sorted(planned_days):
        logs = sum(count for _, count in held[day])
        if logs > problem.tank_logs:
            names = ", ".join(name for name, _ in held[day][:8])
            names += " and more" if len(held[day]) > 8 else ""
            broken.append(
                Violation(
                    "tank",
                    None,
                    problem.today + timedelta(days=day),
                    f"{logs} logs in a tank for {problem.tank_logs} ({names})",
                )
            )
    return broken


def _places(problem: Problem, plan: Plan) -> list[Violation]:
    """Logs that stand where they fruit, from the pull to the last pick counted on."""
    if problem.places is None:
        return []
    there: dict[int, int] = defaultdict(int)
    planned_days = set()
    for stack, path in zip(problem.stacks, plan, strict=True):
        for day in range(stack.fixed_nights, stack.fixed_nights + stack.fixed_standing):
            there[day] += _begun(stack)
        for soak in path:
            pull = _pull_day(problem, stack, soak)
            for later in range(int(problem.types[stack.type_index].standing[soak])):
                there[pull + later] += stack.logs
                planned_days.add(pull + later)
    return [
        Violation(
            "places",
            None,
            problem.today + timedelta(days=day),
            f"{there[day]} logs fruit where {problem.places} can stand",
        )
        for day in sorted(planned_days)
        if there[day] > problem.places
    ]


def _allowed_hours(problem: Problem, day: int) -> float:
    if isinstance(problem.hours_a_day, tuple):
        return problem.hours_a_day[(problem.today + timedelta(days=day)).weekday()]
    assert problem.hours_a_day is not None
    return problem.hours_a_day


def _hours(problem: Problem, plan: Plan) -> list[Violation]:
    if problem.hours_a_day is None:
        return []
    work: dict[int, float] = defaultdict(float)
    planned_days = set()
    for stack, path in zip(problem.stacks, plan, strict=True):
        if stack.fixed_nights > 0:
            work[stack.fixed_nights] += _begun(stack) * problem.pull_hours_per_log
        for soak in path:
            day, pull = int(problem.soak_days[soak]), _pull_day(problem, stack, soak)
            work[day] += stack.logs * problem.soak_hours_per_log
            work[pull] += stack.logs * problem.pull_hours_per_log
            planned_days |= {day, pull}
    return [
        Violation(
            "hours",
            None,
            problem.today + timedelta(days=day),
            f"{work[day]:.2f} hours of soaking and pulling, "
            f"{_allowed_hours(problem, day):g} allowed",
        )
        for day in sorted(planned_days)
        if work[day] > _allowed_hours(problem, day) + 1e-9
    ]


def _visits(problem: Problem, plan: Plan) -> float:
    """Return the price of the days on which some lots of a stack go in, but not all. [kg]"""
    price = 0.0
    lots = Counter(stack.name.split("/")[0] for stack in problem.stacks)
    for soak in range(len(problem.soak_days)):
        going_in = [s for s, path in zip(problem.stacks, plan, strict=True) if soak in path]
        by_stack = {stack.name.split("/")[0]: stack.handling for stack in going_in}
        together = Counter(stack.name.split("/")[0] for stack in going_in)
        price += sum(by_stack[name] * (1 - together[name] / lots[name]) for name in by_stack)
    return price


def _changes(problem: Problem, plan: Plan) -> int:
    """Return how many stacks' next soak differs from the plan last published."""
    count = 0
    for stack, path in zip(problem.stacks, plan, strict=True):
        following = int(problem.soak_days[path[0]]) if path else None
        count += stack.was_published and following != stack.published
    return count


def _pull_day(problem: Problem, stack: StackProblem, soak: int) -> int:
    nights = problem.types[stack.type_index].nights[soak]
    return int(problem.soak_days[soak] + nights)


def _date(problem: Problem, soak: int) -> date:
    return problem.today + timedelta(days=int(problem.soak_days[soak]))
