"""Every plan of a tiny problem, judged one by one."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from math import prod

from fruitcast.soaks.problem import Plan, Problem, SoakPath
from tests.soaks.judge import judge


def all_paths(problem: Problem, index: int) -> list[SoakPath]:
    """Return every path of one stack along existing arcs, the empty one included."""
    stack = problem.stacks[index]
    kind = problem.types[stack.type_index]
    following: dict[int, list[int]] = {}
    for before, after in zip(kind.start.tolist(), kind.stop.tolist(), strict=True):
        following.setdefault(before, []).append(after)

    def extend(path: SoakPath) -> Iterator[SoakPath]:
        yield path
        for after in following.get(path[-1], []):
            yield from extend((*path, after))

    paths: list[SoakPath] = [()]
    for soak in stack.first.soak.tolist():
        paths += extend((soak,))
    return paths


def plans_of(problem: Problem) -> int:
    """Return how many plans there are, legal or not."""
    return prod(len(all_paths(problem, index)) for index in range(len(problem.stacks)))


def brute_force(problem: Problem) -> tuple[float, Plan]:
    """Return the objective and the plan of the best legal plan."""
    best: tuple[float, Plan] | None = None
    for plan in product(*(all_paths(problem, index) for index in range(len(problem.stacks)))):
        verdict = judge(problem, plan)
        if verdict.legal and (best is None or verdict.objective_kg < best[0]):
            best = (verdict.objective_kg, plan)
    assert best is not None, "the empty plan is always legal"
    return best
