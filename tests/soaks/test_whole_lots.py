"""The bound's rows of whole lots: by hand, and between the plain bound and the exact optimum."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fruitcast.soaks import bound, whole_lots
from fruitcast.soaks.bound import relax
from fruitcast.soaks.problem import OutletDay, Problem
from tests.soaks.exact import solve_exact
from tests.soaks.hand import hand_problem, table
from tests.soaks.instances import hemmed_in, small_problem


def lots(names: tuple[str, ...], *, handling: float, sales: tuple[OutletDay, ...]) -> Problem:
    """Stacks of 10 logs that may go in on day 1 or 8, for a kilogram each eight days later."""
    hand = hand_problem()
    crops = table(*((soak, m, (9, 16)[soak], 1.0) for soak in (0, 1) for m in (0, 1)))
    first = replace(hand.stacks[0].first, soak=np.array([0, 1]), crops=crops, none_crops=table())
    stack = replace(
        hand.stacks[0],
        logs=10,
        effective_logs=10.0,
        first=first,
        end_flush=0.0,
        handling=handling,
        was_published=False,
        published=None,
    )
    return replace(
        hand,
        stacks=tuple(replace(stack, name=name) for name in names),
        outlets=sales,
        stock=(),
        cold_days=3,
        prices=replace(hand.prices, soak=0.02, expired=0.0),
    )


def test_a_sale_takes_of_a_flush_no_more_than_it_wants() -> None:
    # A quarter kilogram is wanted: a quarter of the stack for 0.05, whole it costs 0.2.
    problem = lots(("A",), handling=0.0, sales=(OutletDay("Stall", 11, 0.25, 1.0),))
    assert relax(problem, rounds=0) == pytest.approx(0.05, abs=1e-4)
    assert relax(problem) == pytest.approx(0.2, abs=1e-4)
    # And is not worth it for a tenth.
    problem = lots(("A",), handling=0.0, sales=(OutletDay("Stall", 11, 0.1, 1.0),))
    assert relax(problem) == pytest.approx(0.1, abs=1e-4)


def test_several_sales_take_no_more_of_a_flush_than_keeps_for_them() -> None:
    # Days 11 and 12 want half a kilogram each and get it from one flush; day 13 comes too late.
    sales = tuple(OutletDay("Stall", day, 0.5, 1.0) for day in (11, 12, 13))
    problem = lots(("A",), handling=0.0, sales=sales)
    assert relax(problem) == pytest.approx(0.2 + 0.5, abs=1e-4)


def test_what_is_picked_today_sells_as_long_as_it_keeps() -> None:
    # A kilogram comes by itself today and keeps for three days: on the fourth all goes short.
    for day, short in ((3, 0.0), (4, 0.5)):
        problem = lots(("A",), handling=0.0, sales=(OutletDay("Stall", day, 0.5, 1.0),))
        (stack,) = problem.stacks
        first = replace(stack.first, none_crops=table((0, 0, 0, 1.0), (0, 1, 0, 1.0)))
        problem = replace(problem, stacks=(replace(stack, first=first),))
        assert relax(problem) == pytest.approx(short, abs=1e-4)


def test_lots_that_go_in_alone_pay_their_part_of_a_visit() -> None:
    # One lot for each sale: two visits for half of 0.3 each. Both at once would cost no visit, but
    # their second kilogram finds nobody to take it.
    sales = tuple(OutletDay("Stall", day, 1.0, 9.0) for day in (11, 18))
    problem = lots(("A/1", "A/2"), handling=0.3, sales=sales)
    assert relax(problem, rounds=0) == pytest.approx(0.4, abs=1e-4)
    assert relax(problem) == pytest.approx(0.4 + 0.3, abs=1e-4)
    assert solve_exact(problem, seconds=30).objective == pytest.approx(0.7, abs=1e-4)
    # Stacks of their own pay none, nor lots whose fellow is no part of it.
    apart = lots(("A", "B"), handling=0.0, sales=sales)
    assert relax(apart) == pytest.approx(0.4, abs=1e-4)


@pytest.mark.parametrize("larger_first", [True, False])
def test_of_unequal_lots_the_larger_may_be_the_one_that_goes_in(larger_first: bool) -> None:
    # Two kilograms are wanted at once. The lot of 20 logs brings them for 0.4 and half a visit of
    # 0.3; both lots together bring a third kilogram that nobody takes, for 0.6.
    problem = lots(("A/1", "A/2"), handling=0.3, sales=(OutletDay("Stall", 11, 2.0, 9.0),))
    small, other = problem.stacks
    crops = replace(other.first.crops, kg=2.0 * np.asarray(other.first.crops.kg))
    first = replace(other.first, crops=crops)
    large = replace(other, logs=20, effective_logs=20.0, first=first)
    stacks = (replace(large, name="A/1"), replace(small, name="A/2"))
    problem = replace(problem, stacks=stacks if larger_first else (small, large))
    assert solve_exact(problem, seconds=30).objective == pytest.approx(0.4 + 0.15, abs=1e-4)
    # The bound may halve it: both lots, and one, of which it knows but that it has 10 logs or more
    # and sells no more than the larger. Half of 30 and of 10 are 20 logs, with half of the visit.
    assert relax(problem) == pytest.approx(0.4 + 0.15 / 2, abs=1e-4)


@pytest.mark.parametrize(
    "seed", [*range(6), *(pytest.param(seed, marks=pytest.mark.long) for seed in range(6, 60))]
)
def test_the_rows_raise_the_bound_but_not_above_the_optimum(seed: int) -> None:
    problem = hemmed_in(small_problem(seed, stacks=2, weeks=8, members=2), seed)
    # Less is wanted of each sale than lots bear at once, and visits are dear.
    problem = replace(
        problem,
        stacks=tuple(replace(stack, handling=0.2) for stack in problem.stacks),
        outlets=tuple(replace(sale, target=sale.target / 3) for sale in problem.outlets),
    )
    plain, tight = relax(problem, rounds=0), relax(problem)
    assert plain - 1e-4 <= tight <= solve_exact(problem, seconds=30).bound + 1e-4


def test_of_many_stacks_the_bound_is_the_plain_one(monkeypatch: pytest.MonkeyPatch) -> None:
    problem = lots(("A",), handling=0.0, sales=(OutletDay("Stall", 11, 0.25, 1.0),))
    monkeypatch.setattr(bound, "MOST_LOTS", 0)
    assert relax(problem) == relax(problem, rounds=0)
    assert whole_lots.MOST_LOTS > 40


def test_a_flush_is_as_heavy_as_the_heaviest_arc_brings_from_the_pull_on() -> None:
    """By hand: two arcs into soak 1, pulled on day 3; what was picked before is not its flush."""
    most = np.zeros((2, 1, 6))
    crops = table((0, 0, 2, 9.0), (0, 0, 3, 4.0), (1, 0, 3, 6.0), (1, 0, 5, 1.0), (1, 0, 6, 8.0))
    whole_lots._raise_to(most, crops, np.array([1, 1]), np.array([0, 3]), 2.0)
    assert most[0].max() == 0
    assert most[1, 0].tolist() == [0, 0, 0, 3.0, 0, 0.5]
