"""The search: legal, reproducible, near the best possible, and blind to names."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from fruitcast.schedule.objective import evaluate
from fruitcast.schedule.problem import OutletDay, Problem
from fruitcast.schedule.search import Search, SearchParams, _chance
from fruitcast.schedule.supply import check_days
from tests.schedule.brute_force import all_paths, brute_force
from tests.schedule.hand import hand_problem
from tests.schedule.instances import small_problem, yard_like
from tests.schedule.judge import judge

QUICK = SearchParams(rounds=20, pairs=4)


def small(seed: int) -> Problem:
    random = np.random.default_rng(seed)
    return small_problem(
        seed,
        stacks=int(random.integers(2, 5)),
        weeks=int(random.integers(6, 11)),
        members=int(random.integers(1, 4)),
    )


def objective(problem: Problem, plan: tuple[tuple[int, ...], ...]) -> float:
    parts, _ = evaluate(problem, plan, check_days(problem))
    return parts.total


@pytest.fixture(scope="module")
def yard() -> Problem:
    return yard_like(12, weeks=20, members=8)


def test_plan_of_a_yard_keeps_every_hard_rule(yard: Problem) -> None:
    judgement = judge(yard, Search(yard, QUICK).run())
    assert judgement.violations == ()


def test_objective_agrees_with_the_judge_part_by_part(yard: Problem) -> None:
    plan = Search(yard, QUICK).run()
    parts, _ = evaluate(yard, plan, check_days(yard))
    judged = judge(yard, plan)
    for name, value in judged.objective.items():
        assert getattr(parts, name) == pytest.approx(value, abs=1e-6), name
    assert parts.total == pytest.approx(judged.objective_kg, abs=1e-6)


def test_same_seed_same_plan_other_seed_may_differ(yard: Problem) -> None:
    first = Search(yard, QUICK).run()
    assert Search(yard, QUICK).run() == first
    others = {Search(replace(yard, seed=seed), QUICK).run() for seed in (2, 3, 4)}
    assert others - {first}


def test_longer_search_is_never_worse_than_one_descent(yard: Problem) -> None:
    descent = Search(yard, replace(QUICK, rounds=0, pairs=0)).run()
    longer = Search(yard, replace(QUICK, rounds=60)).run()
    assert objective(yard, longer) <= objective(yard, descent) + 1e-3


def test_renaming_stacks_changes_nothing_but_names(yard: Problem) -> None:
    renamed = replace(
        yard,
        stacks=tuple(replace(s, name=f"stack {n}") for n, s in enumerate(reversed(yard.stacks)))[
            ::-1
        ],
    )
    assert Search(renamed, QUICK).run() == Search(yard, QUICK).run()


def test_a_start_plan_that_is_best_stays(yard: Problem) -> None:
    plan = Search(yard, replace(QUICK, rounds=60)).run()
    again = Search(yard, replace(QUICK, rounds=0, pairs=0)).run(start=plan)
    assert objective(yard, again) <= objective(yard, plan) + 1e-3


def test_certainty_term_moves_shortfall_out_of_the_bad_years(yard: Problem) -> None:
    priced = replace(yard, prices=replace(yard.prices, certainty=3.0))
    plain, sure = Search(yard, QUICK).run(), Search(priced, QUICK).run()
    plain_parts, _ = evaluate(priced, plain, check_days(priced))
    sure_parts, _ = evaluate(priced, sure, check_days(priced))
    assert sure_parts.certainty < plain_parts.certainty
    assert sure_parts.total < plain_parts.total


def test_paths_too_many_to_list_are_found_over_arcs(
    yard: Problem, monkeypatch: pytest.MonkeyPatch
) -> None:
    listed = objective(yard, Search(yard, QUICK).run())
    monkeypatch.setattr("fruitcast.schedule.scoring.PATHS_WORTH_A_TABLE", 5)
    search = Search(yard, QUICK)
    assert search.scorer.table(0).paths is None
    plan = search.run()
    assert judge(yard, plan).violations == ()
    # Sums of arcs are only a guide there, so a little may be lost: 2 % of the demand here.
    assert objective(yard, plan) <= listed + 0.02 * yard.demand


def test_tables_dropped_for_memory_change_nothing(
    yard: Problem, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = Search(yard, QUICK).run()
    monkeypatch.setattr("fruitcast.schedule.scoring.TABLE_BYTES", 1)
    monkeypatch.setattr("fruitcast.schedule.scoring.OWN_BYTES", 1)
    assert Search(yard, QUICK).run() == plan


@pytest.mark.parametrize("seed", range(200, 208))
def test_of_two_stacks_moved_together_every_combination_is_tried(seed: int) -> None:
    # One stack on each of all its paths in turn, the other on its best then: nothing is left out.
    problem = small_problem(seed, stacks=2, weeks=7, members=2)
    every = SearchParams(rounds=0, pairs=4, pair_width=10_000)
    plan = Search(problem, every).run()
    assert judge(problem, plan).legal
    assert objective(problem, plan) == pytest.approx(brute_force(problem)[0], abs=2e-3)


@pytest.mark.parametrize("rounds", [0, 15])
@pytest.mark.parametrize("seed", range(300, 304))
def test_no_stack_alone_could_do_better_in_the_end(seed: int, rounds: int) -> None:
    problem = small_problem(seed, stacks=4, weeks=7, members=2)
    plan = Search(problem, SearchParams(rounds=rounds, together=2, pairs=0)).run()
    assert judge(problem, plan).legal
    now = objective(problem, plan)
    for index in range(4):
        for path in all_paths(problem, index):
            moved = (*plan[:index], path, *plan[index + 1 :])
            if objective(problem, moved) < now - 1e-3:
                assert not judge(problem, moved).legal


@pytest.mark.parametrize(
    "params",
    [
        SearchParams(rounds=25, together=2, heat=0.0, pairs=0),
        # All that comes out worse is accepted: it wanders, and the best it saw is what counts.
        SearchParams(rounds=25, together=2, heat=100.0, pairs=0),
        SearchParams(rounds=0, pairs=12, pair_width=12),
    ],
)
def test_rounds_and_pairs_leave_plans_that_no_single_stack_improves(params: SearchParams) -> None:
    # One descent ends in the nearest such plan. These stacks, two years and two months are chosen
    # by chance; a better plan exists for each.
    gained = []
    for seed in (400, 401, 407, 409, 410, 411):
        problem = small_problem(seed, stacks=4, weeks=9, members=2)
        descent = Search(problem, SearchParams(rounds=0, pairs=0)).run()
        further = Search(problem, params).run()
        assert judge(problem, further).legal
        gained.append(objective(problem, descent) - objective(problem, further))
    assert min(gained) > -1e-3
    assert sum(gain > 0.05 for gain in gained) >= 4


def test_a_worse_plan_is_kept_with_a_chance_that_falls_with_its_loss_and_the_heat() -> None:
    assert _chance(0.0, 0.5) == _chance(-1.0, 0.5) == 1.0
    assert _chance(0.5, 0.5) == pytest.approx(math.exp(-1))
    assert _chance(0.5, 0.25) == pytest.approx(math.exp(-2))
    assert _chance(0.1, 0.0) == 0.0


def test_words_of_progress_come_with_the_rounds(yard: Problem) -> None:
    told: list[str] = []
    Search(yard, replace(QUICK, rounds=41, pairs=0), progress=told.append).run()
    assert told == [f"searching, {number} of 41 rounds" for number in (0, 20, 40)]


def test_a_stack_is_blocked_by_those_in_the_tank_on_the_day_it_wants() -> None:
    # Of 4.0 kg wanted on day 20 B on day 8 brings part; A wants that day too, but the tank holds
    # B alone. C, soaked on day 1, is out again by then.
    hand = hand_problem()
    third = replace(hand.stacks[0], name="C", logs=5, scale=5.0)
    problem = replace(
        hand,
        stacks=(*hand.stacks, third),
        outlets=(OutletDay("Stall", 20, 4.0, 1.0),),
        stock=(),
        tank_logs=30,
    )
    search = Search(problem, replace(QUICK, rounds=0, pairs=0, sweeps=0))
    assert search.run(start=((), (1,), (0,))) == ((), (1,), (0,))
    assert search._blockers(0) == [1]
    assert search._blockers(1) == []  # it has the day it wants


def off_the_optimum(seed: int) -> float:
    """Return how far the search is from the proven optimum, in percent of the demand."""
    from tests.schedule.exact import solve_exact

    problem = small(seed)
    exact = solve_exact(problem, seconds=900)
    assert exact.proven
    judged = judge(problem, Search(problem).run())
    assert judged.violations == ()
    assert judged.objective_kg >= exact.objective - 1e-4
    return 100 * (judged.objective_kg - exact.objective) / problem.demand


# Against the optimum that HiGHS proves for the same model as a mixed-integer program.


def test_small_instances_reach_the_proven_optimum() -> None:
    off = np.array([off_the_optimum(seed) for seed in range(8)])
    assert (off < 0.01).sum() >= len(off) - 1
    assert off.max() <= 1.0


@pytest.mark.long
def test_two_hundred_small_instances_reach_the_proven_optimum() -> None:
    off = np.array([off_the_optimum(seed) for seed in range(200)])
    print(f"within 0.01 %: {(off < 0.01).mean():.1%}, furthest {off.max():.2f} % of the demand")
    assert (off < 0.01).mean() >= 0.95
    assert off.max() <= 1.0
