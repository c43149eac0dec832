"""Places to fruit, and hours that differ by weekday: what stands where, and who finds it out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fruitcast.hindcast.policies import rule_of_hand, sensible
from fruitcast.soaks.bound import relax
from fruitcast.soaks.problem import FirstArcs, Occupancy, OutletDay, Plan, Problem, dump_problem
from fruitcast.soaks.search import MENDING, Search, SearchParams
from fruitcast.soaks.search_tables import SearchTables
from fruitcast.soaks.shortage import short_sales
from fruitcast.soaks.supply import check_days, evaluate
from tests.drawn import stride
from tests.hindcast.rotations import nine_week
from tests.soaks.brute_force import brute_force, plans_of
from tests.soaks.exact import relaxed_bound, solve_exact
from tests.soaks.hand import hand_problem, table
from tests.soaks.instances import hemmed_in, small_problem, yard_like
from tests.soaks.judge import judge
from tests.soaks.problem_file import load_problem

QUICK = SearchParams(moves=20_000, moves_a_stack=0)


def broken(problem: Problem, plan: Plan) -> list[tuple[str, int]]:
    """Return rule and day of each violation."""
    return [
        (v.rule, (v.day - problem.today).days if v.day else -1)
        for v in judge(problem, plan).violations
    ]


def hungry(**changes: object) -> Problem:
    """Return the hand problem where every kilogram is wanted, in a tank for both stacks."""
    sales = tuple(OutletDay("Stall", day, 9.0, 1.0) for day in (12, 19, 26))
    return replace(hand_problem(), tank_logs=60, outlets=sales, **changes)


def test_logs_stand_from_the_pull_to_their_last_pick() -> None:
    # A (20 logs) goes in on day 1 for one night and stands for ten days: 2 to 11. B (30) goes in
    # on day 8 for two nights and stands for eleven: 10 to 20. So 50 stand on the days 10 and 11.
    problem = hungry(places=50)
    room = Occupancy(problem)
    room.add(0, (0,))
    room.add(1, (1,))
    there = {day: int(logs) for day, logs in enumerate(room.fruiting) if logs}
    assert there == dict.fromkeys(range(2, 10), 20) | {10: 50, 11: 50} | dict.fromkeys(
        range(12, 21), 30
    )
    assert broken(problem, ((0,), (1,))) == []
    assert broken(replace(problem, places=49), ((0,), (1,))) == [("places", 10), ("places", 11)]


@pytest.mark.parametrize(("places", "both"), [(50, True), (49, False)])
def test_both_are_soaked_only_where_both_can_fruit(places: int, both: bool) -> None:
    # Of one stack alone B brings more by the three sales, 2.5 against 1.7 kg in the mean. Both best
    # go in on day 8.
    problem = hungry(places=places)
    plan = Search(problem, QUICK).run()
    assert plan == (((1,), (1,)) if both else ((), (1,)))
    assert solve_exact(problem).plan == plan
    # What a machine finds a careful person finds: they look at the places too.
    assert not broken(problem, rule_of_hand(problem))


def test_who_stands_there_today_takes_the_place_of_others() -> None:
    # B fruits until day 9: A, pulled on day 2, would stand beside it until then.
    begun = hungry(places=49)
    a, b = begun.stacks
    none = FirstArcs(b.first.soak[:0], table(), table())
    b = replace(b, fixed_standing=10, first=none)
    problem = replace(begun, stacks=(a, b))
    assert Occupancy(problem).fits(0).tolist() == [False, True, True, True]
    assert broken(problem, ((0,), ())) == [("places", day) for day in range(2, 10)]
    assert broken(problem, ((1,), ())) == []
    plan = Search(problem, QUICK).run()
    assert not broken(problem, plan) and plan[0][:1] != (0,)
    assert solve_exact(problem).plan[0] == plan[0]
    # One that is in the tank until day 3 stands there from then on.
    wet = replace(problem, stacks=(a, replace(b, fixed_nights=3)))
    assert np.flatnonzero(Occupancy(wet).fruiting).tolist() == list(range(3, 13))


def test_hours_are_those_of_the_weekday() -> None:
    # Day 0 is a Monday. A is put in on Tuesday (day 1), 20 x 0.05 = 1 h, and pulled on Wednesday,
    # 20 x 0.04 = 0.8 h.
    enough = (0.0, 1.0, 0.8, 0.0, 0.0, 0.0, 0.0)
    assert broken(hungry(hours_a_day=enough), ((0,), ())) == []
    for short, day in (((0.0, 0.9, 0.8, 0, 0, 0, 0), 1), ((0.0, 1.0, 0.7, 0, 0, 0, 0), 2)):
        problem = hungry(hours_a_day=short)
        assert broken(problem, ((0,), ())) == [("hours", day)]
        assert not Occupancy(problem).fits(0)[0]
        assert Search(problem, QUICK).run()[0][:1] != (0,)
        assert solve_exact(problem).plan[0][:1] != (0,)
    assert Search(hungry(hours_a_day=enough), QUICK).run() == ((0,), ())
    # Seven times the same is the same as the number, and as seven of them in the file.
    same = hungry(hours_a_day=(1.2,) * 7)
    assert relax(same) == pytest.approx(relax(hungry(hours_a_day=1.2)))
    assert load_problem(dump_problem(same)).hours_a_day == (1.2,) * 7


def test_a_sale_that_wants_places_is_told_so() -> None:
    sales = (OutletDay("Stall", 12, 1.5, 1.0), OutletDay("Stall", 19, 2.5, 1.0))
    problem = replace(hungry(places=49), outlets=sales)
    plan: Plan = ((), (1,))
    _, ledger = evaluate(problem, plan, check_days(problem))
    short = short_sales(problem, plan, ledger, ledger, SearchTables.of(problem))
    assert {found.on: found.cause for found in short}[problem.on(12)] == "places"


# Random yards: lots, places and hours by weekday.

TINY_SEEDS = [n for n in range(60) if plans_of(hemmed_in(small_problem(n, stacks=2), n)) <= 3000]


@pytest.mark.parametrize(
    "seed",
    [*TINY_SEEDS[:5], *(pytest.param(n, marks=pytest.mark.long) for n in TINY_SEEDS[5:12])],
)
def test_the_best_plan_of_all_is_found_where_room_is_short(seed: int) -> None:
    problem = hemmed_in(small_problem(seed, stacks=2), seed)
    best, _ = brute_force(problem)
    exact = solve_exact(problem)
    plan = Search(problem, QUICK).run()
    found = judge(problem, plan)
    assert exact.proven and found.legal
    assert exact.objective == pytest.approx(best, abs=1e-6)
    assert found.objective_kg == pytest.approx(best, abs=1e-6)
    assert relax(problem) <= best + 1e-6
    assert relaxed_bound(problem) <= best + 1e-6


@stride(3)
def test_the_tiny_yards_are_hemmed_in(every: int) -> None:
    assert len(TINY_SEEDS) >= 12
    bound = 0
    for seed in TINY_SEEDS[:12:every]:
        problem = hemmed_in(small_problem(seed, stacks=2), seed)
        roomy = replace(problem, places=None)
        bound += brute_force(roomy)[0] < brute_force(problem)[0] - 1e-6
    assert bound >= 3 / every  # places decide in so many of them


def look_at(seed: int) -> int:
    """Plan one random yard in every way; return how many soaks its places forbid."""
    plain = small_problem(seed) if seed % 4 else yard_like(6, weeks=16, members=6, seed=seed)
    problem = hemmed_in(plain, seed)
    assert load_problem(dump_problem(problem)).places == problem.places
    plans = [
        Search(problem, QUICK).run(),
        Search(problem, MENDING).run(),
        rule_of_hand(problem),
        sensible(problem),
        nine_week(problem),
    ]
    least = relax(problem)
    for plan in plans:
        verdict = judge(problem, plan)
        parts, _ = evaluate(problem, plan, check_days(problem))
        assert verdict.violations == (), seed
        assert verdict.objective_kg >= least - 1e-4
        assert parts.total == pytest.approx(verdict.objective_kg, abs=1e-6)
    free = replace(problem, places=None)
    return len(judge(problem, Search(free, QUICK).run()).violations)


def test_four_random_yards_keep_every_rule() -> None:
    assert sum(look_at(seed) > 0 for seed in range(4)) >= 2


@pytest.mark.long
def test_a_hundred_random_yards_keep_every_rule() -> None:
    bound = [look_at(seed) for seed in range(100)]
    print(f"places forbid what would be planned in {sum(b > 0 for b in bound)} of 100 yards")
    assert sum(b > 0 for b in bound) >= 30
