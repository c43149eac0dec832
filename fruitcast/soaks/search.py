"""The search: many small changes to whole plans, most of them turned down.

Each move gives one stack another soak day, takes one away, shifts all its soaks from one on, lets a
lot go in with another of its stack, or lets two stacks change places, for one soak or from some day
on; it stands if the plan gets better, or worse by no more than chance allows, which is less and
less (annealing, `annealing.py`). Last, every soak of every stack is tried on every day until
nothing gains any more. With a plan to start from and no moves by chance only that is done: the plan
is mended. Where stacks are few, one search hangs much on its luck, so several short ones share the
moves and the best of them counts.

The search stops on counts, never on the clock, so the same problem, parameters and seed give the
same plan.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from fruitcast.arrays import FloatArray, IntArray
from fruitcast.soaks.problem import Occupancy, Plan, Problem, SoakPath
from fruitcast.soaks.search_tables import SearchTables
from fruitcast.soaks.search_work import Work, work_on

REAL_GAIN = 1e-4
"""Least gain that is worth a word. [kg]"""

FEW_STACKS, MORE_ALLOWED = 8, 4
"""Of so few stacks each soak counts for much, and the same moves leave time to begin hotter."""

ALONE = 30
"""Of more stacks than these a single long search does as well as the best of several short ones.

On 16 problems of 12 and 14 stacks the best of four was better by 0.1 % of demand in the mean,
and the worst of several seeds by 0.3; at 25 stacks and lots they were even, at 40 the long one was
better.
"""

OTHER_LUCK = 1_000_003
"""What a search's seed is apart from the seed of the one before."""

STEPS = 10
"""Words of progress in one search; between two of them it can be stopped."""

CHANCES: FloatArray = np.asarray(-np.log((np.arange(1024) + 0.5) / 1024)).round(6)
"""Quantiles of the exponential distribution: rises accepted, in units of the allowance."""


@dataclass(frozen=True)
class SearchParams:
    """How long to search."""

    moves: int = 300_000  # moves by chance, whatever the number of stacks
    moves_a_stack: int = 6_000  # and for each stack
    # Rise that is accepted half-heartedly at first, as a share of the mean demand for each stack;
    # falls to nothing [unitless]
    allowance: float = 0.04
    tries: int = 4  # searches that share the moves where stacks are few; the best counts
    swept: bool = True  # whether at last every soak of every stack is tried on every day

    def moves_of(self, stacks: int) -> int:
        """Return the moves by chance for so many stacks."""
        return self.moves + self.moves_a_stack * stacks

    @property
    def half(self) -> SearchParams:
        """The same with half of the moves."""
        return replace(self, moves=self.moves // 2, moves_a_stack=self.moves_a_stack // 2)


MENDING = SearchParams(moves=0, moves_a_stack=0, tries=1)
"""Only what gains, from the plan to start from."""

QUICK = SearchParams(moves=50_000, moves_a_stack=2_000, allowance=0.02, tries=1)
"""For a first look, or not far from a plan that was searched at length."""

GLANCE = SearchParams(moves=3_000, moves_a_stack=100, allowance=0.01, tries=1, swept=False)
"""Whether a search near a plan that was mended will find anything.

In 300 weeks of six seasons `QUICK` gained 0.030 % of the demand a week over mending, in 35 of them;
this, gone on from where it gained, 0.021 % in a quarter of the time.
"""

ONE_FUTURE = SearchParams(moves=150_000, moves_a_stack=3_000, tries=2)
"""Where there is no luck to be ready for. In eight years twice the moves found plans better by
0.04 % of the demand."""


class Search:
    """One search on one problem; `run` gives the best plan found."""

    def __init__(
        self,
        problem: Problem,
        params: SearchParams | None = None,
        *,
        progress: Callable[[str], None] | None = None,
        tables: SearchTables | None = None,
    ) -> None:
        self.problem = problem
        self.params = params or SearchParams()
        self.tables = tables or SearchTables.of(problem)
        self.progress = progress or (lambda _: None)

    def run(self, start: Plan | None = None, free: Sequence[int] | None = None) -> Plan:
        """Return the best plan found.

        Parameters
        ----------
        start : Plan, optional
            A plan to start from, for instance last week's, less what has no room by now; else
            stacks start unsoaked.
        free : sequence of int, optional
            Stacks that may move; else all.

        Raises
        ------
        KeyError
            If a stack's arcs do not allow its path in `start`.
        """
        problem, params = self.problem, self.params
        stacks = len(problem.stacks)
        plan: Plan = ((),) * stacks if start is None else start
        plan = within_limits(problem, plan, self.tables)
        movable = np.arange(stacks) if free is None else np.array(free, dtype=np.int64)
        if not len(movable) or not len(problem.soak_days):
            return plan
        moves = params.moves_of(len(movable))
        allowance = (
            params.allowance
            * (MORE_ALLOWED if stacks <= FEW_STACKS else 1)
            * problem.demand
            / stacks
        )
        tries = params.tries if stacks <= ALONE else 1
        found = [
            self._once(plan, movable, moves // tries, allowance, (luck, tries))
            for luck in range(tries)
        ]
        return min(found, key=self.tables.cost) if tries > 1 else found[0]

    def _once(
        self, plan: Plan, movable: IntArray, moves: int, allowance: float, luck: tuple[int, int]
    ) -> Plan:
        """Return what one search finds; `luck` is which of how many it is."""
        nth, tries = luck
        work = self.work(plan, self.problem.seed + nth * OTHER_LUCK)
        move, tried = self.mover(work, movable), work.plan
        if moves:
            edges = [moves * step // STEPS for step in range(STEPS + 1)]
            for step, (first, past) in enumerate(pairwise(edges)):
                done = 100 * (nth * STEPS + step) // (tries * STEPS)
                self.progress(f"searching, {done} % done")
                move(first, past, moves, allowance)
            tried.paths[:], tried.counts[:] = tried.best_paths, tried.best_counts
        if self.params.swept:
            move(0, 0, 0, 0.0)
        return _plan(tried.paths, tried.counts)

    def work(self, plan: Plan, seed: int) -> Work:
        """Return a plan with room for moves, whose luck hangs on the seed.

        Raises
        ------
        KeyError
            If a stack's arcs do not allow its path.
        """
        counts = np.array([len(path) for path in plan], dtype=np.int64)
        paths = np.zeros((len(plan), 1 + self.problem.most_soaks), dtype=np.int64)
        paths[np.arange(paths.shape[1]) < counts[:, None]] = [k for path in plan for k in path]
        self.tables.refuse_other_paths(paths, counts)
        return work_on(self.tables.arrays, self.problem.members, paths, counts, seed)

    def mover(self, work: Work, free: IntArray) -> Callable[[int, int, int, float], None]:
        """Return what moves by chance, or with no moves makes every change of a stack that gains.

        Its arguments are the last four of `annealing.search`.
        """
        from fruitcast.soaks.machine_code import ready_search

        given = (*work, self.problem.members, free, CHANCES)
        return ready_search(given, self.progress)


def within_limits(problem: Problem, plan: Plan, tables: SearchTables) -> Plan:
    """Return a plan to start from, without soaks that tank or hours have no room for any more."""
    # What the grower has fixed comes first: it has room, else it would not be fixed.
    fixed: list[SoakPath] = [() if one.must is None else (one.must,) for one in problem.stacks]
    begun = all(path[: len(first)] == first for path, first in zip(plan, fixed, strict=True))
    if begun and tables.has_room(plan):
        return plan
    occupancy, kept = Occupancy(problem), []
    for stack, first in enumerate(fixed):
        occupancy.add(stack, first)
    for stack, path in enumerate(plan):
        first = fixed[stack]
        occupancy.add(stack, first, sign=-1)
        if path[: len(first)] != first:
            path = first
        fits = occupancy.fits(stack)
        if not all(fits[list(path)]):
            room: SoakPath = ()
            for k in path:
                if fits[k] and tables.allows(stack, (*room, k)):
                    room = (*room, k)
            path = room
        occupancy.add(stack, path)
        kept.append(path)
    return tuple(kept)


def _plan(paths: IntArray, counts: IntArray) -> Plan:
    each = zip(paths.tolist(), counts.tolist(), strict=True)
    return tuple(tuple(path[:count]) for path, count in each)
