"""The search: the best path of one stack against everyone else's, swept to rest.

One step takes a stack out, scores all its paths exactly against the supply of the others,
and puts it back on the best one. Sweeps over all stacks repeat until none moves. From
there a few stacks at a time are taken out together and put back one after the other on
their best paths; a plan that came out a little worse is kept with a chance that falls to
nothing (annealing), so that the search can leave a plan no single stack can improve. Last,
pairs of stacks move together where one alone cannot gain. The best plan is kept.

The search stops on counts, never on the clock, so the same problem, parameters and seed
give the same plan.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from fruitcast.schedule.problem import IntArray, Path, Plan, Problem
from fruitcast.schedule.scoring import Options, Scorer
from fruitcast.schedule.shortlist import Shortlist
from fruitcast.schedule.standing import Standing

REAL_GAIN = 1e-4
"""Least gain that counts as one, above the noise of single precision. [kg]"""

FEW_STACKS = 60
"""Up to so many stacks each weighs enough for a search with more heat."""

MANY_STACKS = 150
"""From so many stacks on, the tables of all types together may not fit into memory."""

SHORTLIST_PATHS = 60
"""Paths of a stack that are scored while a few stacks move about."""

SHORTLIST_USES = 24
"""So often a shortlist is scored before it is made anew from all paths."""

BEST_SHARE = 0.6
"""Chance that a stack goes back on its very best path, and so on down the ranks."""

TELL_EVERY = 20
"""Rounds between two words of progress."""


@dataclass(frozen=True)
class SearchParams:
    """How long to search.

    Attributes
    ----------
    sweeps : int
        Most sweeps over all stacks in one descent.
    rounds : int
        How often some stacks are taken out together.
    together : int
        How many at a time.
    heat : float
        Worsening that is accepted half-heartedly in the first round, as a share of the
        demand; falls to nothing by the last. [unitless]
    blur : int
        From how many of its best paths a stack that was taken out gets one, mostly the best.
    pairs : int
        Most pairs tried at the end.
    pair_width : int
        Best paths of the first of a pair that are tried in earnest.
    """

    sweeps: int = 12
    rounds: int = 400
    together: int = 8
    heat: float = 0.003
    blur: int = 4
    pairs: int = 10
    pair_width: int = 6

    @classmethod
    def for_size(cls, stacks: int) -> SearchParams:
        """Return parameters that keep the time about linear in the number of stacks."""
        if stacks <= 8:
            return cls(rounds=200, together=3, heat=0.02, blur=8, pairs=56, pair_width=12)
        if stacks <= FEW_STACKS:
            return cls()
        # Many small lots part the demand finely: less heat, and many more rounds, bring them near
        # the bound. From some hundreds on the shortlists of all would take too much memory, and
        # so many leave each other room.
        rounds = 800 if stacks <= 300 else 0
        return cls(sweeps=4, rounds=rounds, heat=0.001, pairs=0)


class Search:
    """One search on one problem; `run` gives the best plan found."""

    def __init__(
        self,
        problem: Problem,
        params: SearchParams | None = None,
        *,
        progress: Callable[[str], None] | None = None,
        scorer: Scorer | None = None,
    ) -> None:
        self.problem = problem
        self.params = params or SearchParams.for_size(len(problem.stacks))
        self.scorer = scorer or Scorer(problem)
        self.progress = progress or (lambda _: None)
        self._random = np.random.default_rng(problem.seed)
        self._standing = Standing.empty(problem, self.scorer)
        self._shortlists: dict[int, Shortlist] = {}

    def run(self, start: Plan | None = None) -> Plan:
        """Return the best plan found.

        Parameters
        ----------
        start : Plan, optional
            A plan to start from, for instance last week's; else stacks start unsoaked.
        """
        if start is not None:
            for stack, path in enumerate(start):
                self._assign(stack, path)
        self._descend(self._order())
        self._anneal()
        self._descend(self._order())
        self._move_pairs()
        return tuple(self._standing.paths)

    def _anneal(self) -> None:
        """Take a few stacks out together, again and again, and leave the best plan standing."""
        cost = best_cost = self._cost()
        best = list(self._standing.paths)
        rounds = self.params.rounds
        heat = self.params.heat * max(self.problem.demand, 1.0)
        for number in range(rounds):
            if number % TELL_EVERY == 0:
                self.progress(f"searching, {number} of {rounds} rounds")
            out = self._order()[: self.params.together]
            before = [self._standing.paths[stack] for stack in out]
            self._put_back(out)
            now = self._cost()
            temperature = heat * (1 - number / rounds)
            if now < cost - REAL_GAIN or self._random.random() < _chance(now - cost, temperature):
                cost = now
                if cost < best_cost - REAL_GAIN:
                    best, best_cost = list(self._standing.paths), cost
            else:
                self._assign_all(out, before)
        changed = [s for s, path in enumerate(best) if path != self._standing.paths[s]]
        self._assign_all(changed, [best[s] for s in changed])

    def _put_back(self, out: list[int]) -> None:
        """Take stacks out, put each back on one of its best paths, then let each move once."""
        standing = self._standing
        for stack in out:
            standing.take_out(stack)
        for stack in out:
            shortlist = self._shortlist(stack)
            ranked = self._ranked(stack, shortlist)
            blurred = min(int(self._random.geometric(BEST_SHARE)), self.params.blur, len(ranked))
            standing.put(stack, shortlist.paths[int(ranked[blurred - 1])])
        for stack in out:
            standing.take_out(stack)
            shortlist = self._shortlist(stack)
            best = int(self._ranked(stack, shortlist)[0])
            standing.put(stack, shortlist.paths[best])

    def _ranked(self, stack: int, shortlist: Shortlist) -> IntArray:
        """Return places in a taken-out stack's shortlist that fit, the cheapest first."""
        standing = self._standing
        costs = shortlist.costs(standing.supply)
        costs[~shortlist.open(standing.occupancy.fits(stack))] = np.inf
        order: IntArray = np.argsort(costs, kind="stable")
        return order[: max(1, int(np.isfinite(costs).sum()))]

    def _shortlist(self, stack: int) -> Shortlist:
        """Return the shortlist of a taken-out stack, made anew when it has served for long."""
        known = self._shortlists.get(stack)
        present = self._standing.paths[stack]
        if known is not None and known.scored < SHORTLIST_USES and present in known.place:
            return known
        paths = self._options(stack, whatever_fits=True).ranked(SHORTLIST_PATHS)
        made = self.scorer.shortlist(stack, list(dict.fromkeys([*paths, present, ()])))
        self._shortlists[stack] = made
        return made

    # -- steps ------------------------------------------------------------------------

    def _descend(self, order: list[int]) -> None:
        """Sweep over the stacks until none moves any more."""
        quiet = 0
        for step in range(self.params.sweeps * len(order)):
            if self._improve(order[step % len(order)]):
                quiet = 0
            else:
                quiet += 1
                if quiet >= len(order):
                    return

    def _improve(self, stack: int) -> bool:
        """Move one stack to its best path; return whether that gained anything."""
        standing = self._standing
        before = standing.paths[stack]
        standing.take_out(stack)
        options = self._options(stack)
        best = options.best()
        moved = options.cost(best) < options.cost(before) - REAL_GAIN
        standing.put(stack, best if moved else before)
        return moved

    def _move_pairs(self) -> None:
        """Move two stacks at once where that gains what one alone cannot."""
        count = len(self.problem.stacks)
        if count < 2:
            return
        for _ in range(self.params.pairs):
            pairs = self._pairs(count)
            if not any(self._improve_pair(a, b) for a, b in pairs[: self.params.pairs]):
                return
            self._descend(self._order())

    def _pairs(self, count: int) -> list[tuple[int, int]]:
        order = self._order()
        ordered = [(a, b) for a in order for b in order if a != b]
        # A stack that is kept off its best path by a full tank first goes with a blocker.
        blocked: list[tuple[int, int]] = []
        if count > 8:
            for a in order:
                blocked.extend((a, b) for b in self._blockers(a))
            picks = self._random.permutation(len(ordered))[: self.params.pairs]
            ordered = [ordered[int(p)] for p in picks]
        return blocked[: self.params.pairs // 2] + ordered

    def _blockers(self, stack: int) -> list[int]:
        standing, problem = self._standing, self.problem
        before = standing.paths[stack]
        standing.take_out(stack)
        wanted = self._options(stack, whatever_fits=True).best()
        fits = standing.occupancy.fits(stack)
        standing.put(stack, before)
        days = {int(problem.soak_days[k]) for k in wanted if not fits[k]}
        return [
            other
            for other, path in enumerate(standing.paths)
            if other != stack
            and any(abs(int(problem.soak_days[k]) - d) < 3 for k in path for d in days)
        ]

    def _improve_pair(self, a: int, b: int) -> bool:
        standing = self._standing
        before = standing.paths[a], standing.paths[b]
        cost_before = self._cost()
        standing.take_out(a)
        standing.take_out(b)
        best, best_cost = before, cost_before - REAL_GAIN
        for path in self._options(a).ranked(self.params.pair_width):
            standing.put(a, path)
            options = self._options(b)
            other = options.best()
            standing.put(b, other)
            cost = self._cost()
            if cost < best_cost:
                best, best_cost = (path, other), cost
            standing.take_out(b)
            standing.take_out(a)
        standing.put(a, best[0])
        standing.put(b, best[1])
        return best != before

    def _options(self, stack: int, *, whatever_fits: bool = False) -> Options:
        """Score the paths of a stack that was taken out."""
        fits = self._standing.occupancy.fits(stack)
        if whatever_fits:
            fits = np.ones_like(fits)
        return self.scorer.options(stack, self._standing.supply, fits)

    def _assign(self, stack: int, path: Path) -> None:
        self._assign_all([stack], [path])

    def _assign_all(self, stacks: list[int], paths: list[Path]) -> None:
        for stack in stacks:
            self._standing.take_out(stack)
        for stack, path in zip(stacks, paths, strict=True):
            self._standing.put(stack, path)

    def _cost(self) -> float:
        return self._standing.cost()

    def _order(self) -> list[int]:
        """Return the stacks in random order; type by type when there are many.

        Stacks of one type together need its table once in a sweep.
        """
        order = [int(s) for s in self._random.permutation(len(self.problem.stacks))]
        if len(order) <= MANY_STACKS:
            return order
        rank = self._random.permutation(len(self.problem.types))
        return sorted(order, key=lambda s: rank[self.problem.stacks[s].type_index])


def _chance(worse: float, temperature: float) -> float:
    """Return the chance of keeping a plan that came out worse."""
    return float(np.exp(-max(worse, 0.0) / temperature)) if temperature > 0 else 0.0
