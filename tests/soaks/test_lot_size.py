"""Lots proposed for large stacks."""

from dataclasses import replace

import numpy as np
import pytest

from fruitcast.numbers import default_numbers
from fruitcast.soaks.bound import relax
from fruitcast.soaks.lot_size import lot_proposal
from fruitcast.soaks.search import Search
from fruitcast.soaks.search_tables import SearchTables
from fruitcast.soaks.supply import visits_cost
from tests.soaks.hand import hand_problem
from tests.soaks.instances import hemmed_in, small_problem
from tests.soaks.judge import judge

NUMBERS = default_numbers()


@pytest.fixture(scope="module")
def problem():
    made = small_problem(3, stacks=4)
    return replace(
        made,
        stacks=tuple(
            replace(stack, logs=logs, end_flush=0.12 * logs)
            for stack, logs in zip(made.stacks, (40, 30, 20, 10), strict=False)
        ),
    )


def wanting(problem, weekly):
    """The problem with the same weight wanted once each week, but for a week of plenty."""
    one = problem.outlets[0]
    days = range(2, problem.horizon_days, 7)
    sales = [replace(one, day=day, target=weekly if day > 7 else 9 * weekly) for day in days]
    return replace(problem, outlets=tuple(sales))


def proposed(problem, accepted=(), **numbers):
    given = {f"schedule.{name}": value for name, value in numbers.items()}
    return lot_proposal(problem, NUMBERS.with_overrides(given).schedule, accepted)


def test_a_flush_larger_than_its_share_of_a_usual_week_is_too_much_at_once(problem):
    # Half of 6 kg is 3 kg, 25 logs at 0.12 kg: the stacks of 40 and 30 logs give more.
    found = proposed(wanting(problem, 6.0), lot_flush=0.5)
    assert found.week_target == pytest.approx(6.0)
    assert [(each.stack, each.logs, len(each.lots)) for each in found.stacks] == [
        (problem.stacks[0].name, 40, 2),
        (problem.stacks[1].name, 30, 2),
    ]
    assert found.stacks[0].flush_kg == pytest.approx(4.8)


def test_small_flushes_and_yards_without_outlets_get_none(problem):
    assert proposed(wanting(problem, 60.0)) is None
    assert proposed(replace(problem, outlets=())) is None


def of_stacks(problem, *stacks):
    """Stacks of (logs, flush) or (logs, flush, name)."""
    one = problem.stacks[0]
    made = [
        replace(one, name=name[0] if name else f"S{n}", logs=logs, end_flush=flush)
        for n, (logs, flush, *name) in enumerate(stacks)
    ]
    return replace(problem, stacks=tuple(made))


def selling(problem, *sales):
    """Sales of (day, kg)."""
    one = problem.outlets[0]
    return replace(problem, outlets=tuple(replace(one, day=day, target=kg) for day, kg in sales))


@pytest.mark.parametrize(
    ("logs", "flush", "lots"),
    [
        (30, 8.1, 2),  # a hair more than a week's 8 kg
        (30, 8.0, None),
        (60, 16.1, 3),
        (60, 80.0, 3),  # never more than three
        (29, 80.0, 2),  # ten logs each
        (20, 9.0, 2),
        (19, 80.0, None),  # under twenty logs whole
    ],
)
def test_lots_are_few_and_not_too_small(problem, logs, flush, lots):
    yard = selling(of_stacks(problem, (logs, flush)), (1, 8.0))
    yard = replace(yard, tank_logs=60)
    found = proposed(yard, lot_flush=1.0)
    assert (found and len(found.stacks[0].lots)) == lots


def test_no_lot_gives_less_than_a_kilogram(problem):
    yard = replace(selling(of_stacks(problem, (60, 1.9), (60, 2.1)), (1, 0.5)), tank_logs=60)
    found = proposed(yard)
    assert [(each.stack, len(each.lots)) for each in found.stacks] == [("S1", 2)]


def test_parts_that_the_tank_makes_each_count_as_a_stack(problem):
    parts = ((36, 10.0, "H/1"), (36, 10.0, "H/2"))
    yard = replace(selling(of_stacks(problem, *parts), (1, 8.0)), tank_logs=60)
    found = proposed(yard, lot_flush=1.0)
    assert [(each.stack, each.logs, len(each.lots)) for each in found.stacks] == [("H", 72, 3)]


def test_nine_lots_are_the_most_however_many_parts_the_tank_makes(problem):
    parts = [(40, 30.0, f"H/{n}") for n in (1, 2, 3, 4)]
    yard = replace(selling(of_stacks(problem, *parts), (1, 2.0)), tank_logs=60)
    (found,) = proposed(yard, lot_flush=1.0).stacks
    assert (found.logs, len(found.lots)) == (160, 9)


def test_lots_accepted_before_stay(problem):
    yard = selling(of_stacks(problem, (36, 10.0, "H/1"), (36, 10.0, "H/2"), (40, 9.0)), (1, 8.0))
    assert [each.stack for each in proposed(yard, ("H/1", "H/2")).stacks] == ["S2"]


def test_the_largest_comes_first_then_the_name(problem):
    yard = selling(of_stacks(problem, (20, 8.0), (40, 10.0), (20, 8.0)), (1, 6.0))
    assert [each.stack for each in proposed(yard).stacks] == ["S1", "S0", "S2"]


def test_a_usual_week_is_the_middle_of_those_that_want_something(problem):
    yard = of_stacks(replace(problem, weeks=4), (40, 100.0))

    def week(*sales):
        return proposed(selling(yard, *sales)).week_target

    assert week((0, 3.0)) == 3.0
    assert week((6, 3.0), (7, 5.0)) == 4.0
    assert week((0, 1.0), (6, 2.0), (7, 5.0), (14, 9.0)) == 5.0
    assert week((27, 3.0), (28, 50.0), (29, 50.0)) == 3.0  # past the horizon
    assert week((-1, 9.0), (3, 2.0)) == 2.0
    assert proposed(selling(yard, (28, 50.0))) is None
    assert proposed(selling(yard, (3, 0.0))) is None


def test_lots_of_one_stack_that_go_in_on_one_day_are_one_visit_and_all_of_them_cost_nothing():
    # Two lots of a stack: alone each costs a visit less its half. A stack whole costs nothing.
    hand = hand_problem()
    lots = [replace(stack, handling=0.5) for stack in hand.stacks]
    apart = replace(hand, stacks=tuple(lots))
    of_one = [replace(stack, name=f"A/{n + 1}") for n, stack in enumerate(lots)]
    together = replace(hand, stacks=tuple(of_one))
    assert (apart.visits.tolist(), together.visits.tolist()) == ([0, 1], [0, 0])
    plans = {((1,), (1,)): (0.0, 0.0), ((0, 2), (1,)): (0.0, 0.75), ((0, 3), (3,)): (0.0, 0.25)}
    for plan, prices in plans.items():
        for problem, price in zip((apart, together), prices, strict=True):
            assert visits_cost(problem, plan) == pytest.approx(price)
            free = replace(
                problem, stacks=tuple(replace(stack, handling=0.0) for stack in problem.stacks)
            )
            costs = SearchTables.of(problem).cost(plan), SearchTables.of(free).cost(plan)
            assert costs[0] - costs[1] == pytest.approx(price)
            assert relax(problem) <= costs[0] + 1e-9


@pytest.mark.parametrize("seed", range(6))
def test_visits_cost_what_the_judge_says_and_never_less_than_nothing(seed):
    problem = hemmed_in(small_problem(seed, stacks=3), seed)
    random = np.random.default_rng(seed)
    free = replace(problem, stacks=tuple(replace(stack, handling=0.0) for stack in problem.stacks))
    for _ in range(20):
        plan = tuple(
            (int(random.choice(stack.first.soak)),) if len(stack.first.soak) else ()
            for stack in problem.stacks
        )
        cost = visits_cost(problem, plan)
        assert cost >= -1e-12
        judged = [judge(each, plan).objective["soaks"] for each in (problem, free)]
        assert judged[0] - judged[1] == pytest.approx(cost)


def test_a_search_lets_lots_go_in_together_where_a_visit_is_dear():
    dear = replace(hemmed_in(small_problem(12, stacks=3), 12), places=None, hours_a_day=None)
    stacks = tuple(replace(stack, handling=0.3) for stack in dear.stacks)
    problem = replace(dear, stacks=stacks, tank_logs=sum(stack.logs for stack in stacks))
    free = replace(problem, stacks=tuple(replace(stack, handling=0.0) for stack in stacks))
    assert len(set(problem.visits.tolist())) < len(stacks)

    def visits(plan):
        paths = zip(problem.visits.tolist(), plan, strict=True)
        return len({(visit, k) for visit, path in paths for k in path})

    assert visits(Search(problem).run()) < visits(Search(free).run())
