"""What the search believes a path costs is what the objective says, whichever way it is found.

The truth is `evaluate`, which works out a whole plan in double precision and is itself held to the
judge elsewhere. The search's own figures are in single precision: 1e-4 kg is within it here.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fruitcast.schedule.arc_crops import BoundedCache
from fruitcast.schedule.objective import evaluate
from fruitcast.schedule.options import ArcOptions, Options, TableOptions
from fruitcast.schedule.problem import Crops, Path, Problem
from fruitcast.schedule.row_costs import RowOrder
from fruitcast.schedule.scoring import Scorer
from fruitcast.schedule.supply import check_days, plan_crops, stock_at_checks
from tests.schedule.brute_force import all_paths
from tests.schedule.instances import small_problem

NEAR = 1e-4
LISTED = "fruitcast.schedule.scoring.PATHS_WORTH_A_TABLE"


def problem_of(seed: int, certainty: float = 0.0, weights: float = 1.0) -> Problem:
    problem = small_problem(seed, stacks=3, weeks=9, members=4)
    outlets = tuple(
        replace(outlet, weight=weights if place % 2 else 1.0)
        for place, outlet in enumerate(problem.outlets)
    )
    prices = replace(problem.prices, certainty=certainty)
    return replace(problem, outlets=outlets, prices=prices)


def total(problem: Problem, plan: tuple[Path, ...]) -> float:
    return evaluate(problem, plan, check_days(problem))[0].total


def longest(problem: Problem, index: int) -> Path:
    return max(all_paths(problem, index), key=len)


def others_of(problem: Problem, plan: tuple[Path, ...], index: int) -> np.ndarray:
    """The stock and the picks of all stacks but one: (check, member). [kg]"""
    checks = check_days(problem)
    rest = replace(problem, stacks=tuple(s for n, s in enumerate(problem.stacks) if n != index))
    return plan_crops(rest, tuple(p for n, p in enumerate(plan) if n != index), checks)


def options_of(problem: Problem, plan: tuple[Path, ...], index: int) -> Options:
    fits = np.ones(len(problem.soak_days), dtype=bool)
    return Scorer(problem).options(index, others_of(problem, plan, index), fits)


CASES = [(1, 0.0, 1.0), (2, 0.0, 3.0), (3, 2.0, 1.0), (4, 2.0, 2.0)]


@pytest.mark.parametrize("kept", [5000, 1], ids=["listed", "over arcs"])
@pytest.mark.parametrize("seed, certainty, weights", CASES)
def test_each_path_costs_what_it_adds_to_the_objective(
    seed: int, certainty: float, weights: float, kept: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(LISTED, kept)
    problem = problem_of(seed, certainty, weights)
    start = tuple(longest(problem, index) for index in range(3))
    for index in range(3):
        options = options_of(problem, start, index)
        assert isinstance(options, TableOptions if kept > 1 else ArcOptions)
        without = total(problem, (*start[:index], (), *start[index + 1 :]))
        for path in all_paths(problem, index):
            with_it = total(problem, (*start[:index], path, *start[index + 1 :]))
            cost = options.cost(path) - options.cost(())
            assert cost == pytest.approx(with_it - without, abs=NEAR), path


@pytest.mark.parametrize("kept", [5000, 1], ids=["listed", "over arcs"])
@pytest.mark.parametrize("seed, certainty, weights", CASES)
def test_a_shortlist_scores_whole_supplies_as_the_objective_does(
    seed: int, certainty: float, weights: float, kept: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(LISTED, kept)
    problem = problem_of(seed, certainty, weights)
    start = tuple(longest(problem, index) for index in range(3))
    paths = all_paths(problem, 1)
    shortlist = Scorer(problem).shortlist(1, paths)
    costs = shortlist.costs(others_of(problem, start, 1))
    truths = [total(problem, (start[0], path, start[2])) for path in paths]
    # Soaks, change and end value of the other two are no part of one stack's costs.
    assert costs - costs[0] == pytest.approx(np.array(truths) - truths[0], abs=NEAR)
    closed = np.ones(len(problem.soak_days), dtype=bool)
    closed[start[1][0]] = False
    expected = [start[1][0] not in path for path in paths]
    assert shortlist.open(closed).tolist() == expected


@pytest.mark.parametrize("kept", [5000, 1], ids=["listed", "over arcs"])
@pytest.mark.parametrize("seed", [1, 2, 5])
def test_paths_are_ranked_cheapest_first_and_use_only_days_that_fit(
    seed: int, kept: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(LISTED, kept)
    problem = problem_of(seed)
    nobody = ((),) * 3
    for index in range(3):
        others = others_of(problem, nobody, index)
        fits = np.ones(len(problem.soak_days), dtype=bool)
        fits[list(longest(problem, index)[:1])] = False
        options = Scorer(problem).options(index, others, fits)
        ranked = options.ranked(5)
        assert options.best() == ranked[0]
        costs = [options.cost(path) for path in ranked]
        assert costs == sorted(costs)
        assert all(fits[list(path)].all() for path in ranked)
        assert len(set(ranked)) == len(ranked)
        open_paths = [p for p in all_paths(problem, index) if fits[list(p)].all()]
        assert len(ranked) == min(5, len(open_paths))


@pytest.mark.parametrize("seed", range(1, 7))
def test_where_all_that_is_picked_sells_arcs_find_the_cheapest_paths(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    # With targets never reached and nothing expiring, costs add up arc by arc exactly.
    monkeypatch.setattr(LISTED, 1)
    problem = problem_of(seed)
    plenty = tuple(replace(outlet, target=1000.0) for outlet in problem.outlets)
    problem = replace(problem, outlets=plenty, stock=())
    for index in range(3):
        options = options_of(problem, ((),) * 3, index)
        added = sorted(
            total(problem, (*((),) * index, path, *((),) * (2 - index))) - total(problem, ((),) * 3)
            for path in all_paths(problem, index)
        )
        found = [options.cost(path) - options.cost(()) for path in options.ranked(4)]
        assert found == pytest.approx(added[: len(found)], abs=5e-3)


@pytest.mark.parametrize("seed", [3, 5, 8, 10, 12])
def test_the_cheapest_path_over_arcs_is_among_the_few_sums_that_are_kept(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    # As above, with only the two best sums kept at each soak day and four in all.
    monkeypatch.setattr(LISTED, 1)
    monkeypatch.setattr("fruitcast.schedule.options.LABELS_KEPT", 2)
    problem = small_problem(seed, stacks=3, weeks=10, members=3)
    plenty = tuple(replace(outlet, target=300.0) for outlet in problem.outlets)
    prices = replace(problem.prices, soak=0.1, certainty=0.0)
    problem = replace(problem, outlets=plenty, stock=(), prices=prices)
    for index in range(3):
        options = options_of(problem, ((),) * 3, index)
        least = min(
            total(problem, (*((),) * index, path, *((),) * (2 - index)))
            for path in all_paths(problem, index)
        )
        best = options.best()
        plan = (*((),) * index, best, *((),) * (2 - index))
        assert total(problem, plan) == pytest.approx(least, abs=5e-3)
        assert len(options.ranked(100)) <= 5


@pytest.mark.parametrize("kept", [5000, 1], ids=["listed", "over arcs"])
@pytest.mark.parametrize("seed", [3, 10, 16])
def test_supplies_of_all_stacks_and_the_stock_are_the_plan_s(
    seed: int, kept: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(LISTED, kept)
    problem = problem_of(seed)
    checks = check_days(problem)
    plan = (longest(problem, 0), (), longest(problem, 2))
    assert min(len(plan[0]), len(plan[2])) >= 3
    cold, warm = Scorer(problem), Scorer(problem)
    for index in range(3):
        warm.table(problem.stacks[index].type_index)
        warm.own(index)
    for scorer in (cold, warm):
        supply = sum(scorer.supply(index, path) for index, path in enumerate(plan))
        assert supply + stock_at_checks(problem, checks) == pytest.approx(
            plan_crops(problem, plan, checks), abs=NEAR
        )
    with pytest.raises(KeyError):
        cold.supply(0, (len(problem.soak_days) - 1, 0))


def shuffled(crops: Crops, seed: int) -> Crops:
    order = np.random.default_rng(seed).permutation(len(crops.row))
    return Crops(*(np.asarray(a)[order] for a in (crops.row, crops.member, crops.day, crops.kg)))


def test_crops_may_stand_in_any_order() -> None:
    problem = problem_of(3)
    types = tuple(
        replace(kind, crops=shuffled(kind.crops, 1), end_crops=shuffled(kind.end_crops, 2))
        for kind in problem.types
    )
    stacks = tuple(
        replace(
            stack,
            first=replace(
                stack.first,
                crops=shuffled(stack.first.crops, 3),
                none_crops=shuffled(stack.first.none_crops, 4),
            ),
        )
        for stack in problem.stacks
    )
    mixed = Scorer(replace(problem, types=types, stacks=stacks))
    sorted_ = Scorer(problem)
    for index in range(3):
        for path in all_paths(problem, index):
            assert mixed.supply(index, path) == pytest.approx(sorted_.supply(index, path))


def test_a_cache_keeps_to_its_size_and_drops_what_was_longest_unused() -> None:
    made: list[int] = []

    def make(key: int) -> np.ndarray:
        made.append(key)
        return np.zeros(10, dtype=np.int8)

    cache = BoundedCache(make, 30)
    for key in (1, 2, 3, 1, 4, 1, 3):  # four are one too many: 2 goes
        assert cache[key].nbytes == 10
    assert made == [1, 2, 3, 4]
    assert cache.get(2) is None and cache.get(1) is not None
    assert cache[2].nbytes == 10  # and now 4 has been unused for longest
    assert cache.get(4) is None
    cache.clear()
    assert cache.get(1) is None
    for key in (5, 6, 7):
        cache[key]
    assert all(cache.get(key) is not None for key in (5, 6, 7))


def test_one_value_stays_however_large() -> None:
    cache = BoundedCache(lambda key: np.zeros(100, dtype=np.int8), 30)
    assert cache[1] is cache[1]
    assert cache[2] is not cache[1]


def test_rows_that_come_alive_together_take_over_from_one_that_already_was() -> None:
    # Row 0 is there from the start; 1, its child 2 and grandchild 3 come with the second sale,
    # 4, a child of 2, with the third.
    order = RowOrder.of(np.array([1, 4, 5]), np.array([0, 0, 1, 2, 2]))
    assert order.count.tolist() == [1, 4, 5]
    assert order.heir.tolist() == [0, 0, 0, 0, 2]


@pytest.mark.parametrize("seed", [3, 8, 16])
def test_sales_far_apart_let_several_soaks_fall_between_them(seed: int) -> None:
    problem = problem_of(seed, certainty=1.0, weights=2.0)
    problem = replace(problem, outlets=problem.outlets[2::8], cold_days=40)
    start = tuple(longest(problem, index) for index in range(3))
    options = options_of(problem, start, 1)
    without = total(problem, (start[0], (), start[2]))
    for path in all_paths(problem, 1):
        added = total(problem, (start[0], path, start[2])) - without
        assert options.cost(path) - options.cost(()) == pytest.approx(added, abs=NEAR), path
