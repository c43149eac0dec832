"""The linear bound: below every plan, and not too far below."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fruitcast.schedule.bound import group_stacks, lower_bound
from fruitcast.schedule.exact import relaxed_bound, solve_exact
from fruitcast.schedule.objective import evaluate
from fruitcast.schedule.problem import Problem
from fruitcast.schedule.rotation import nine_week, sensible
from fruitcast.schedule.search import Search, SearchParams
from fruitcast.schedule.supply import check_days
from tests.schedule.instances import small_problem, yard_like


@pytest.fixture(scope="module")
def yard() -> Problem:
    return yard_like(10, weeks=16, members=6)


@pytest.mark.parametrize("seed", range(8))
def test_no_optimum_lies_below_the_bound(seed: int) -> None:
    problem = small_problem(seed, stacks=3, weeks=9, members=2)
    exact = solve_exact(problem, seconds=30)
    assert lower_bound(problem) <= exact.bound + 1e-4


def test_sharing_arcs_only_loosens_the_linear_program_a_little(yard: Problem) -> None:
    # The same relaxation with every stack's arcs its own, built by other code.
    own = relaxed_bound(yard)
    shared = lower_bound(yard)
    assert shared <= own + 1e-4
    assert own - shared <= 0.02 * yard.demand


def test_every_policy_is_above_the_bound(yard: Problem) -> None:
    least = lower_bound(yard)
    for plan in (
        nine_week(yard),
        sensible(yard),
        Search(yard, SearchParams(rounds=10)).run(),
    ):
        assert evaluate(yard, plan, check_days(yard))[0].total >= least


def test_certainty_is_part_of_the_bound(yard: Problem) -> None:
    priced = replace(yard, prices=replace(yard.prices, certainty=2.0))
    plan = Search(priced, SearchParams(rounds=20)).run()
    total = evaluate(priced, plan, check_days(priced))[0].total
    assert lower_bound(yard) < lower_bound(priced) <= total


def test_wider_bands_make_fewer_groups_and_a_lower_bound(
    yard: Problem, monkeypatch: pytest.MonkeyPatch
) -> None:
    close, fine = lower_bound(yard), len(group_stacks(yard))
    monkeypatch.setattr("fruitcast.schedule.bound.BANDS", (1e9,))
    assert len(group_stacks(yard)) <= fine
    assert lower_bound(yard) <= close + 1e-4


def test_a_solver_says_nothing_on_standard_output(
    yard: Problem, capfd: pytest.CaptureFixture[str]
) -> None:
    lower_bound(yard)
    assert capfd.readouterr().out == ""
