"""Whole stacks in the place of parts: a plan drawn from the bound's.

The bound's plan soaks parts of stacks. Each stack takes one of the ways its parts go, with the
chance of its share; parts that go together through a soak day go on together. Of many lots such a
draw soaks about as many on each day as the bound does, which no search that moves a few lots at a
time finds as soon: a good place to search from. Of few stacks it is as good as any other.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fruitcast.schedule.bound import GroupFlow, Relaxed
from fruitcast.schedule.limits import Occupancy
from fruitcast.schedule.objective import evaluate
from fruitcast.schedule.problem import FloatArray, Path, Plan, Problem
from fruitcast.schedule.search import FEW_STACKS, REAL_GAIN, Search

NEAR_ROUNDS, NEAR_HEAT = 400, 0.0002
"""Rounds and heat of the search from a drawn plan, which is near the best already."""


def better_near_bound(
    search: Search, plan: Plan, relaxed: Relaxed, gain: float = REAL_GAIN
) -> Plan:
    """Return the best plan near the bound's if it is better than a plan, else that plan.

    Parameters
    ----------
    search : Search
        The search that found the plan.
    plan : Plan
        The plan.
    relaxed : Relaxed
        The best plan with parts of stacks.
    gain : float
        By how much it must be better. [kg]
    """
    problem, checks = search.problem, search.scorer.checks
    if len(problem.stacks) <= FEW_STACKS:
        return plan
    rounds = min(search.params.rounds, NEAR_ROUNDS)
    params = replace(search.params, rounds=rounds, heat=NEAR_HEAT)
    drawn = drawn_plan(problem, relaxed, np.random.default_rng(problem.seed))
    near = Search(problem, params, progress=search.progress, scorer=search.scorer).run(drawn)
    costs = [evaluate(problem, each, checks)[0].total for each in (plan, near)]
    return near if costs[0] - costs[1] > gain else plan


def drawn_plan(problem: Problem, relaxed: Relaxed, random: np.random.Generator) -> Plan:
    """Return a plan drawn from the bound's; a stack whose draw no longer fits is left unsoaked.

    Parameters
    ----------
    problem : Problem
        The problem.
    relaxed : Relaxed
        Its best plan with parts of stacks.
    random : numpy Generator
        Source of chance.
    """
    drawn: list[Path] = [()] * len(problem.stacks)
    for flow in relaxed.groups:
        for stack, first in zip(flow.group.stacks, flow.first, strict=True):
            drawn[stack] = _path(problem, flow, stack, first, random)
    occupancy = Occupancy(problem)
    for stack in random.permutation(len(drawn)).tolist():
        if not occupancy.fits(stack)[list(drawn[stack])].all():
            drawn[stack] = ()
        occupancy.add(stack, drawn[stack])
    return tuple(drawn)


def _path(
    problem: Problem, flow: GroupFlow, stack: int, first: FloatArray, random: np.random.Generator
) -> Path:
    """Return one stack's way through the soak days."""
    arcs = problem.types[flow.group.type_index]
    start = _drawn(first, random)
    if start == len(first) - 1:
        return ()
    path = [int(problem.stacks[stack].first.soak[start])]
    while True:
        onward = np.flatnonzero(arcs.start == path[-1])
        way = _drawn(np.append(flow.flow[onward], flow.last[path[-1]]), random)
        if way == len(onward):
            return tuple(path)
        path.append(int(arcs.stop[onward[way]]))


def _drawn(shares: FloatArray, random: np.random.Generator) -> int:
    """Return one place by chance, in proportion to its share; the last when all are nought."""
    upto = np.cumsum(np.maximum(shares, 0.0))
    if upto[-1] <= 0:
        return len(shares) - 1
    return int(np.searchsorted(upto, random.random() * upto[-1], side="right"))
