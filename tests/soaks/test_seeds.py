"""What the seed alone does to the objective of one and the same plan."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from fruitcast.app.choosing import build
from fruitcast.soaks.problem import Problem, SoakPath, StackProblem
from fruitcast.soaks.search import Search, SearchParams
from fruitcast.soaks.supply import check_days, evaluate
from tests.forecast.yards import sample_known


def is_open(problem: Problem, stack: StackProblem, path: SoakPath) -> bool:
    arcs = problem.types[stack.type_index]
    pairs = set(zip(arcs.start.tolist(), arcs.stop.tolist(), strict=True))
    return not path or (path[0] in stack.first.soak and pairs.issuperset(pairwise(path)))


def always_open(problems: list[Problem], stack: int, path: SoakPath) -> SoakPath:
    """Return as much of the beginning of a path as is open whatever the seed."""
    while not all(is_open(problem, problem.stacks[stack], path) for problem in problems):
        path = path[:-1]
    return path


def test_the_seed_moves_the_objective_of_a_plan_little():
    """Other seeds than the one it was chosen with; the luck of single flushes is left."""
    known = sample_known()
    plan = Search(build(known, seed=1).problem, SearchParams(moves=20_000, moves_a_stack=0)).run()
    problems = [build(known, seed=seed).problem for seed in range(2, 10)]
    # A soak that bears in just half of the members is open by luck: only what always is stays.
    kept = tuple(always_open(problems, number, path) for number, path in enumerate(plan))
    assert sum(map(len, kept)) > sum(map(len, plan)) / 2
    costs = []
    for problem in problems:
        parts, _ = evaluate(problem, kept, check_days(problem))
        costs.append(100 * parts.total / problem.demand)
    print(
        f"\nobjective over demand by seed: {np.round(costs, 2)} %, sd {np.std(costs, ddof=1):.2f}"
    )
    assert np.std(costs, ddof=1) < 0.8
