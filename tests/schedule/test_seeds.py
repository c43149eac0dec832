"""What the seed alone does to the objective of one and the same plan."""

from __future__ import annotations

import numpy as np

from fruitcast.app.planning import build
from fruitcast.schedule.objective import evaluate
from fruitcast.schedule.search import Search, SearchParams
from fruitcast.schedule.supply import check_days
from tests.forecast.yards import sample_known


def test_the_seed_moves_the_objective_of_a_plan_little():
    """Other seeds than the one it was chosen with; the luck of single flushes is left."""
    known = sample_known()
    plan = Search(build(known, seed=1).problem, SearchParams(moves=20_000, moves_a_stack=0)).run()
    costs = []
    for seed in range(2, 10):
        problem = build(known, seed=seed).problem
        if any(
            path and path[0] not in stack.first.soak
            for stack, path in zip(problem.stacks, plan, strict=True)
        ):
            continue  # a first soak that bears in just half of the members does so by luck
        parts, _ = evaluate(problem, plan, check_days(problem))
        costs.append(100 * parts.total / problem.demand)
    assert len(costs) >= 5
    print(
        f"\nobjective over demand by seed: {np.round(costs, 2)} %, sd {np.std(costs, ddof=1):.2f}"
    )
    assert np.std(costs, ddof=1) < 0.8
