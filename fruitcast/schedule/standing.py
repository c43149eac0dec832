"""The plan under construction: paths, supply and limits kept in step with each other."""

from __future__ import annotations

import copy
from dataclasses import dataclass

import numpy as np

from fruitcast.schedule.limits import Occupancy
from fruitcast.schedule.objective import path_cost, sales_parts
from fruitcast.schedule.problem import FloatArray, Path, Problem
from fruitcast.schedule.scoring import Scorer
from fruitcast.schedule.supply import allocate, stock_at_checks


@dataclass
class Standing:
    """Every stack's present path with what follows from it.

    Attributes
    ----------
    problem, scorer : Problem, Scorer
        What it is about.
    paths : list of Path
        One for each stack.
    supply : (check, member) float array
        Picked total of all stacks that are in, and the stock. [kg]
    own : list of (check, member) float array or None
        What each stack brings; None while it is taken out. [kg]
    own_cost : list of float
        Soak price, change and end value of each stack's path. [kg]
    occupancy : Occupancy
        Tank and hours of all stacks that are in.
    """

    problem: Problem
    scorer: Scorer
    paths: list[Path]
    supply: FloatArray
    own: list[FloatArray | None]
    own_cost: list[float]
    occupancy: Occupancy

    @classmethod
    def empty(cls, problem: Problem, scorer: Scorer) -> Standing:
        """Return the plan in which no stack is soaked."""
        checks = scorer.checks
        supply = np.repeat(stock_at_checks(problem, checks), problem.members, axis=1)
        count = len(problem.stacks)
        nothing: list[FloatArray | None] = [None] * count
        standing = cls(
            problem, scorer, [()] * count, supply, nothing, [0.0] * count, Occupancy(problem)
        )
        for stack in range(count):
            standing.put(stack, ())
        return standing

    def copy(self) -> Standing:
        """Return a copy that can go its own way."""
        return Standing(
            self.problem,
            self.scorer,
            list(self.paths),
            self.supply.copy(),
            list(self.own),
            list(self.own_cost),
            copy.deepcopy(self.occupancy, {id(self.problem): self.problem}),
        )

    def take_out(self, stack: int) -> None:
        """Take a stack's supply and soaks away."""
        own = self.own[stack]
        if own is None:
            raise ValueError(f"stack {stack} is out already")
        self.supply -= own
        self.own[stack] = None
        self.occupancy.add(stack, self.paths[stack], -1)

    def put(self, stack: int, path: Path) -> None:
        """Put a stack back on a path."""
        own = self.scorer.supply(stack, path)
        self.paths[stack] = path
        self.own[stack] = own
        self.own_cost[stack] = sum(path_cost(self.problem.stacks[stack], self.problem, path))
        self.supply += own
        self.occupancy.add(stack, path)

    def cost(self) -> float:
        """Return the objective of the present plan. [kg]"""
        ledger = allocate(self.supply, self.scorer.checks)
        sales = sum(sales_parts(ledger, self.problem, self.scorer.checks))
        return sales + sum(self.own_cost)
