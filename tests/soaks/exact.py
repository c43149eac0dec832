"""The best plan of a small problem by mixed-integer programming: the search's measure.

The program may allocate mushrooms as it likes, while a plan is judged with the oldest
first and each day as it comes. At equal outlet weights and without a price on certainty
both give the same; else the program's value is only a bound, and plans are ruled out one
by one until the best judged one is proven.
"""

from __future__ import annotations

from dataclasses import dataclass
from time import monotonic

import highspy
import numpy as np

from fruitcast.errors import SolverError
from fruitcast.soaks.linear import silent_stdout
from fruitcast.soaks.problem import Plan, Problem
from tests.soaks.arc_flow import ArcFlow
from tests.soaks.judge import judge

TOLERANCE = 1e-6


@dataclass(frozen=True)
class Exact:
    """The best plan found and what is known of the best possible.

    Attributes
    ----------
    objective : float
        Objective of the plan as judged. [kg]
    bound : float
        No plan is better than this. [kg]
    plan : Plan
        The plan.
    rounds : int
        Programs solved; more than one when allocation made a difference.
    """

    objective: float
    bound: float
    plan: Plan
    rounds: int

    @property
    def proven(self) -> bool:
        """Whether no plan can be better."""
        return self.objective - self.bound <= 10 * TOLERANCE * max(1.0, abs(self.objective))


def solve_exact(problem: Problem, seconds: float = 60.0, rounds: int = 200) -> Exact:
    """Return the best plan, proven when time and rounds suffice.

    Parameters
    ----------
    problem : Problem
        A small problem: its arcs are not shared between stacks.
    seconds : float, default 60
        Time for all rounds. [s]
    rounds : int, default 200
        Most programs to solve.

    Raises
    ------
    SolverError
        If the solver finds no plan in that time.
    """
    model = ArcFlow(problem)
    until = monotonic() + seconds
    best: tuple[float, Plan] | None = None
    bound = -np.inf
    solved = 0
    with silent_stdout():
        solver = model.solver(integer=True)
        for _ in range(rounds):
            solver.setOptionValue("time_limit", max(until - monotonic(), 0.1))
            solver.setOptionValue("mip_rel_gap", 0.0)
            solver.setOptionValue("mip_abs_gap", TOLERANCE / 10)
            solver.run()
            solved += 1
            status = solver.getModelStatus()
            if status == highspy.HighsModelStatus.kInfeasible and best is not None:
                bound = best[0]  # every plan was looked at
                break
            lowest = float(solver.getInfo().mip_dual_bound)
            bound = lowest if best is None else min(lowest, best[0])
            plan = model.read_plan(np.array(solver.getSolution().col_value))
            if plan is not None:
                value = judge(problem, plan).objective_kg
                if best is None or value < best[0]:
                    best = (value, plan)
            done = best is not None and best[0] - bound <= TOLERANCE
            stopped = status != highspy.HighsModelStatus.kOptimal or monotonic() >= until
            if done or plan is None or stopped:
                break
            model.rule_out(solver, plan)
    if best is None:
        raise SolverError(
            f"The solver found no plan for {len(problem.stacks)} stacks in {seconds:g} s. "
            "Give it more time or a smaller problem."
        )
    return Exact(best[0], bound, best[1], solved)


def relaxed_bound(problem: Problem) -> float:
    """Return the value of the linear relaxation: no plan costs less. [kg]

    Raises
    ------
    SolverError
        If the solver doesn't end with an optimum.
    """
    model = ArcFlow(problem)
    with silent_stdout():
        solver = model.solver(integer=False)
        solver.run()
        status = solver.getModelStatus()
        value = float(solver.getInfo().objective_function_value)
    if status != highspy.HighsModelStatus.kOptimal:
        raise SolverError(f"The linear program ended with {status}, not with an optimum.")
    return value
