"""What the search's tables and its compiled loop make of a plan is what the judge says."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fruitcast.soaks import search_tables
from fruitcast.soaks.problem import Crops, Problem, SoakPath
from fruitcast.soaks.search import MENDING, Search, SearchParams, _plan
from fruitcast.soaks.search_tables import Beside, SearchTables, _Rows
from fruitcast.soaks.supply import check_days, evaluate, plan_crops
from tests.soaks.brute_force import all_paths
from tests.soaks.hand import hand_problem, table
from tests.soaks.instances import hemmed_in, small_problem
from tests.soaks.judge import judge, violations_of

SEEDS = range(1, 9)

ROUNDED = 1e-5
"""Weights are kept in 32 bits, and reckoned with as whole numbers of a small unit. [kg]"""


def problem_of(seed: int, certainty: float = 0.0) -> Problem:
    problem = small_problem(seed, stacks=3, weeks=9, members=4, equal_weights=False)
    return replace(problem, prices=replace(problem.prices, certainty=certainty))


def some_plan(problem: Problem, seed: int) -> tuple[SoakPath, ...]:
    random = np.random.default_rng(seed)
    choices = [all_paths(problem, index) for index in range(len(problem.stacks))]
    return tuple(paths[int(random.integers(len(paths)))] for paths in choices)


@pytest.mark.parametrize("certainty", [0.0, 2.0])
@pytest.mark.parametrize("seed", SEEDS)
def test_a_plan_s_supply_and_cost_are_the_judge_s(seed: int, certainty: float) -> None:
    problem = problem_of(seed, certainty)
    tables = SearchTables.of(problem)
    for turn in range(4):
        plan = some_plan(problem, 100 * seed + turn)
        assert tables.total(plan) == pytest.approx(plan_crops(problem, plan, check_days(problem)))
        assert tables.cost(plan) == pytest.approx(judge(problem, plan).objective_kg, abs=ROUNDED)


@pytest.mark.parametrize("certainty", [0.0, 2.0])
@pytest.mark.parametrize("seed", SEEDS)
def test_what_the_compiled_loop_believes_after_thousands_of_moves_is_so(
    seed: int, certainty: float
) -> None:
    problem = problem_of(seed, certainty)
    search = Search(problem)
    everyone = np.arange(3)
    work = search.work(some_plan(problem, seed), problem.seed)
    move = search.mover(work, everyone)
    arrays = search.tables.arrays
    for turn in range(5):
        first = 1000 * turn
        move(first, first + 1000, 5000, 0.5)
        plan = _plan(work.plan.paths, work.plan.counts)
        assert work.plan.value[0] == pytest.approx(judge(problem, plan).objective_kg, abs=ROUNDED)
        picked = search.tables.total(plan)[arrays.reach]
        come = work.ledger.come[:, : problem.members].cumsum(axis=0) * arrays.unit[0]
        assert come == pytest.approx(picked, abs=ROUNDED)
        young = work.ledger.young[:, : problem.members] * arrays.unit[0]
        assert young == pytest.approx(picked - search.tables.total(plan)[arrays.stale], abs=ROUNDED)
        assert not work.ledger.change.any()
        best = _plan(work.plan.best_paths, work.plan.best_counts)
        assert work.plan.value[1] == pytest.approx(judge(problem, best).objective_kg, abs=ROUNDED)
        assert work.plan.value[1] <= work.plan.value[0] + ROUNDED


@pytest.mark.parametrize("seed", [1, 4, 10, 12])
def test_beside_the_others_a_stack_s_paths_differ_in_cost_as_the_judge_has_it(seed: int) -> None:
    problem = hemmed_in(problem_of(seed), seed)
    tables, plan = SearchTables.of(problem), some_plan(problem, seed)
    supply, before = tables.total(plan), judge(problem, plan).objective_kg
    random, visited = np.random.default_rng(seed), 0
    for stack in range(len(plan)):
        beside, paths = Beside(tables, plan, supply, stack), all_paths(problem, stack)
        for turn in random.integers(len(paths), size=6).tolist():
            other = (*plan[:stack], paths[turn], *plan[stack + 1 :])
            rise = judge(problem, other).objective_kg - before
            found = beside.cost(paths[turn]) - beside.cost(plan[stack])
            assert found == pytest.approx(rise, abs=ROUNDED)
            visited += bool(set(paths[turn]) & beside._visited)
    assert visited


def test_a_yard_a_million_times_as_large_has_units_as_much_larger() -> None:
    def larger(crops: Crops) -> Crops:
        return replace(crops, kg=np.asarray(crops.kg) * 2.0**20)

    problem = problem_of(5)
    types = [
        replace(kind, crops=larger(kind.crops), end_crops=larger(kind.end_crops))
        for kind in problem.types
    ]
    firsts = [
        replace(one.first, crops=larger(one.first.crops), none_crops=larger(one.first.none_crops))
        for one in problem.stacks
    ]
    vast = replace(
        problem,
        types=tuple(types),
        stacks=tuple(
            replace(one, first=to) for one, to in zip(problem.stacks, firsts, strict=True)
        ),
        outlets=tuple(replace(sale, target=sale.target * 2.0**20) for sale in problem.outlets),
        stock=tuple((day, kg * 2.0**20) for day, kg in problem.stock),
    )
    search = Search(vast)
    unit = search.tables.arrays.unit
    assert unit[0] * unit[1] == 1.0
    assert unit[0] == 2.0**20 * SearchTables.of(problem).arrays.unit[0]
    work = search.work(some_plan(problem, 5), 5)
    search.mover(work, np.arange(3))(0, 5000, 5000, 2.0**20)
    plan = _plan(work.plan.paths, work.plan.counts)
    assert work.plan.value[0] == pytest.approx(judge(vast, plan).objective_kg, rel=1e-6)


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
    mixed = SearchTables.of(replace(problem, types=types, stacks=stacks))
    ordered = SearchTables.of(problem)
    for index in range(3):
        for path in all_paths(problem, index):
            assert mixed.supply(index, path) == pytest.approx(ordered.supply(index, path))


def test_a_path_that_the_arcs_do_not_allow_is_refused() -> None:
    problem = problem_of(3)
    backwards = (len(problem.soak_days) - 1, 0)
    with pytest.raises(KeyError):
        SearchTables.of(problem).supply(0, backwards)
    with pytest.raises(KeyError):
        Search(problem, MENDING).run(start=(backwards, (), ()))


@pytest.mark.parametrize("seed", SEEDS)
def test_no_path_has_more_soaks_than_there_is_room_for(seed: int) -> None:
    problem = small_problem(seed)
    longest = max(len(p) for s in range(len(problem.stacks)) for p in all_paths(problem, s))
    assert longest <= problem.most_soaks


def test_limits_alone_need_no_tables_of_their_own() -> None:
    problem = problem_of(4)
    narrow = replace(problem, tank_logs=max(s.logs for s in problem.stacks), hours_a_day=2.5)
    shared = SearchTables.of(problem).with_limits(narrow)
    params = SearchParams(moves=2000, moves_a_stack=0)
    assert Search(narrow, params, tables=shared).run() == Search(narrow, params).run()
    checks = check_days(narrow)
    plan = Search(narrow, params, tables=shared).run()
    assert judge(narrow, plan).violations == ()
    assert shared.cost(plan) == pytest.approx(evaluate(narrow, plan, checks)[0].total)


def test_of_paths_that_are_not_allowed_the_first_is_named_as_far_as_it_goes() -> None:
    tables = SearchTables.of(hand_problem())
    # Arcs join 0 to 2 and 3, 1 to 3; B may not begin with 0. What stands past a path's end is old.
    for plan, refused in (
        (((0, 2), (1,)), None),
        (((), ()), None),
        (((0, 2), (0,)), (0,)),
        (((0, 1), (1, 3)), (0, 1)),
        (((1, 2), (0, 2)), (1, 2)),
        (((1, 3), (1, 2)), (1, 2)),
    ):
        paths, counts = np.full((2, 3), 1), np.array([len(path) for path in plan])
        for stack, path in enumerate(plan):
            paths[stack, : len(path)] = path
        if refused is None:
            tables.refuse_other_paths(paths, counts)
            continue
        with pytest.raises(KeyError) as found:
            tables.refuse_other_paths(paths, counts)
        assert found.value.args == (refused,)


@pytest.mark.parametrize("at_a_time", [0, search_tables.AT_A_TIME])
def test_picks_of_one_flush_between_the_same_checks_become_one_entry(
    monkeypatch, at_a_time
) -> None:
    monkeypatch.setattr(search_tables, "AT_A_TIME", at_a_time)
    problem = hand_problem()
    rows = _Rows(check_days(problem), problem.members)
    # Checks are on the days -3, 4, 11, 18, 25 and at the end.
    crops = table(
        (0, 0, 5, 1.0), (0, 0, 6, 2.0), (0, 1, 6, 4.0), (0, 0, 12, 8.0), (0, 0, 13, 16.0),
        (1, 0, 12, 0.5), (1, 0, 13, 0.25), (1, 1, 20, 3.0), (3, 1, 20, 5.0), (3, 1, 21, 6.0),
    )  # fmt: skip
    assert rows.add(crops, 4) == 0
    # In another order they come to the same, and those that come after are counted on.
    turned = Crops(
        *(np.asarray(part)[::-1] for part in (crops.row, crops.member, crops.day, crops.kg))
    )
    assert rows.add(turned, 4) == 4
    # What is picked after the last check day is seen by none.
    assert rows.add(table((0, 0, problem.days + 9, 1.0)), 1) == 8
    arrays, most = rows.arrays()
    counts = (arrays["row"][:, 1] - arrays["row"][:, 0]).tolist()
    assert counts == [3, 2, 0, 1, 3, 2, 0, 1, 0]
    assert arrays["kg"][:6].tolist() == [3.0, 4.0, 24.0, 0.75, 3.0, 11.0]
    assert arrays["kg"][6:].sum() == pytest.approx(arrays["kg"][:6].sum())
    cells = arrays["cell"][:6].tolist()
    assert cells[2] == cells[3] and len(set(cells)) == 4
    assert most.tolist() == [27.0, 27.0, 0.0]


def test_no_path_is_longer_than_the_problem_says() -> None:
    hand = hand_problem()
    # From day 1 to day 71 the shortest way between two soaks, 63 days, fits once.
    assert hand.most_soaks == 2 == max(map(len, all_paths(hand, 0)))
    close = replace(hand.types[0], start=np.array([0, 1, 2]), stop=np.array([1, 2, 3]))
    assert replace(hand, types=(close,)).most_soaks == 1 + 70 // 7
    alone = replace(hand.types[0], start=close.start[:0], stop=close.stop[:0])
    assert replace(hand, types=(alone,)).most_soaks == 1
    for seed in SEEDS:
        problem = problem_of(seed)
        longest = max(len(path) for n in range(3) for path in all_paths(problem, n))
        assert longest <= problem.most_soaks <= longest + 2


def test_whether_a_plan_has_room_is_what_the_judge_says() -> None:
    said = set()
    for seed in SEEDS:
        problem = problem_of(seed)
        logs = sorted(stack.logs for stack in problem.stacks)
        for tank, places in ((logs[-1], None), (sum(logs), logs[-1]), (sum(logs), sum(logs))):
            tight = replace(problem, tank_logs=tank, places=places)
            tables = SearchTables.of(tight)
            if not tables.has_room(((), (), ())):
                continue  # what is in the tank already may be more than it holds
            for turn in range(6):
                plan = some_plan(tight, 10 * seed + turn)
                broken = {each.rule for each in violations_of(tight, plan)}
                room = not broken & {"tank", "hours", "places"}
                assert tables.has_room(plan) is room, (seed, tank, places, broken)
                said.add((room, places is None))
    assert len(said) == 4
