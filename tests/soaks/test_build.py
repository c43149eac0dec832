"""The problem that is made from a small yard: rest to the day, and days away kept free."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from functools import lru_cache

import numpy as np
import pytest

from fruitcast.app.choosing import build
from fruitcast.forecast.outlook import YardOutlook
from fruitcast.forecast.stacks import Hold
from fruitcast.numbers import default_numbers
from fruitcast.soaks.build import BuiltProblem, build_problem
from fruitcast.soaks.search import MENDING, Search
from fruitcast.soaks.soak_days import soak_dates
from fruitcast.yard.model import Away
from tests.benchmarks.yards import known_yard
from tests.hindcast.small_yard import TODAY, small_yard, with_yard

WEEKS = 22
ONE = timedelta(days=1)


def built(published: dict[str, date] | None = None, **changes: object) -> BuiltProblem:
    known = with_yard(small_yard(5, WEEKS), **changes)
    known = replace(known, state=replace(known.state, published=published or {}))
    return build(known, weeks=WEEKS, seed=1, promise=0.8)


def test_a_stack_rested_just_long_enough_may_go_in_again() -> None:
    made = built()
    problem = made.problem
    # Nobody has fixed a soak, so none is refused.
    assert (made.fixed.kept, made.fixed.refused) == ({}, {})
    gaps = [problem.soak_days[kind.stop] - problem.soak_days[kind.start] for kind in problem.types]
    # Soak days come round weekly, and the rest is a whole number of weeks.
    assert problem.rest_days % 7 == 0
    assert min(gap.min() for gap in gaps if len(gap)) == problem.rest_days


def test_what_is_picked_past_the_days_that_count_is_left_out() -> None:
    # Ten weeks and five: what fruits by itself is picked until the last day and after it.
    problem = build(small_yard(5, WEEKS), weeks=10, seed=1).problem
    assert problem.days == 70 + problem.tail_days == 105
    assert max(int(kind.end_crops.day.max(initial=0)) for kind in problem.types) == 104
    assert max(int(one.first.none_crops.day.max(initial=0)) for one in problem.stacks) == 104


def test_a_published_soak_is_a_day_from_today() -> None:
    known = small_yard(5, WEEKS)
    name = next(iter(known.state.stacks))
    on = soak_dates(known.yard, TODAY, WEEKS)[3]
    made = built(published={name: on})
    (stack,) = (stack for stack in made.problem.stacks if stack.name == name)
    assert stack.was_published
    assert stack.published == (on - TODAY).days > 0
    assert made.problem.today == TODAY


def test_which_first_soaks_are_legal_does_not_hang_on_the_seed() -> None:
    known = known_yard(14, logs_per_pound_a_week=80, members=12)
    first = [build(known, weeks=WEEKS, seed=seed).problem.stacks for seed in (1, 2, 3)]
    for stacks in zip(*first, strict=True):
        one, *others = ([*stack.first.soak] for stack in stacks)
        assert all(one == other for other in others), stacks[0].name
    # Some stacks are held back for a while, so there is something to decide.
    assert len({len(stack.first.soak) for stack in first[0]}) > 3


def test_an_outlet_whose_target_is_0_is_paused() -> None:
    yard = small_yard(5, WEEKS).yard
    one, *rest = yard.outlets
    paused = replace(one, target_kg=0.0)
    sales = built(outlets=(paused, *rest)).problem.outlets
    assert {sale.outlet for sale in sales} == {outlet.name for outlet in rest}
    nothing = built(outlets=tuple(replace(o, target_kg=0.0) for o in yard.outlets)).problem
    assert nothing.demand == 0
    assert not any(Search(nothing, MENDING).run())


def pulls(made: BuiltProblem, kind: int) -> dict[date, bool]:
    """The pull day of each soak day, and whether the soak is allowed."""
    problem, arcs = made.problem, made.problem.types[kind]
    days = (problem.soak_days + arcs.nights).tolist()
    return {
        problem.today + timedelta(days=day): bool(allowed)
        for day, allowed in zip(days, arcs.allowed, strict=True)
    }


def test_nobody_pulls_logs_on_a_day_away() -> None:
    free = built(away=())
    allowed = [on for on, may in pulls(free, 0).items() if may]
    assert len(allowed) > 6
    gone = allowed[len(allowed) // 2]
    made = built(away=(Away(gone, gone),))
    before, after = pulls(free, 0), pulls(made, 0)
    assert not after.get(gone, False)
    assert {on: may for on, may in before.items() if on in after and on != gone} == {
        on: may for on, may in after.items() if on != gone
    }
    problem = made.problem
    k = [n for n, on in enumerate(after) if on == gone]
    for arcs in problem.types[:1]:
        assert not np.isin(arcs.start, k).any() and not np.isin(arcs.stop, k).any()


def test_the_end_flush_is_a_usual_one_as_far_as_it_can_be_sold(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # The bearing year at the end is made to give three quarters of the best one.
    monkeypatch.setattr("fruitcast.soaks.build._factor_on", lambda *_: 0.75)
    made = built(saleable=0.5)
    for stack, outlook in zip(made.problem.stacks, made.outlook.stacks, strict=True):
        usual = default_numbers().strain(outlook.kind.strain_class).yields.base
        assert stack.end_flush == pytest.approx(usual * 0.5 * outlook.effective_logs * 0.75)
        assert stack.end_flush > 0


def test_nothing_is_picked_on_days_away_and_everything_else_is_as_before() -> None:
    first, last = TODAY + timedelta(days=20), TODAY + timedelta(days=40)
    free, gone = built(away=()).problem, built(away=(Away(first, last),)).problem
    for kind in (*free.types, *gone.types):
        assert np.isfinite(kind.crops.kg).all() and np.isfinite(kind.end_crops.kg).all()
    seen = 0
    for before, after in zip(free.stacks, gone.stacks, strict=True):
        # Never soaked, a stack flushes by itself whoever is there to pick.
        crops = before.first.none_crops
        there = (crops.day < 20) | (crops.day > 40)
        assert after.first.none_crops.day.tolist() == crops.day[there].tolist()
        assert after.first.none_crops.kg == pytest.approx(crops.kg[there])
        seen += int((~there).sum())
    assert seen > 0


def test_a_visit_costs_lots_that_were_accepted_what_its_hours_are_worth() -> None:
    """An hour counts as it does in the price of soaking a log; other stacks pay nothing."""
    numbers = default_numbers()
    work = numbers.work
    known = small_yard(5, WEEKS)
    name = next(iter(known.state.stacks))
    known = replace(known, state=replace(known.state, accepted=frozenset({name})))
    problem = build(known, weeks=WEEKS, seed=1).problem
    hours_a_log = work.soak_hours_per_log + work.pull_hours_per_log
    price = numbers.schedule.soak_price / hours_a_log * work.lot_hours
    for stack in problem.stacks:
        assert stack.handling == pytest.approx(price if stack.name == name else 0.0)
    assert price > 0


@lru_cache(maxsize=1)
def known_outlook() -> YardOutlook:
    return built().outlook


def problem_of(outlook: YardOutlook) -> BuiltProblem:
    return build_problem(outlook, weeks=WEEKS, seed=1, promise=0.8)


def test_a_fixed_soak_of_logs_that_bear_no_more_is_refused_and_the_others_stand() -> None:
    outlook = known_outlook()
    on = outlook.futures.date(int(outlook.soak_rows[8]))
    over = (0.0,) * len(outlook.stacks[0].season_factors)
    one, other, *rest = (replace(stack, holds=()) for stack in outlook.stacks)
    one, other = (
        replace(stack, state=replace(stack.state, fixed=(on, None))) for stack in (one, other)
    )
    stacks = (one, replace(other, season_factors=over), *rest)
    made = problem_of(replace(outlook, stacks=stacks))
    assert made.fixed.kept == {one.name: 8}
    assert made.fixed.refused == {other.name: "its logs are not expected to bear then"}
    assert [stack.must for stack in made.problem.stacks] == [8, None, *(None for _ in rest)]
    first, barren, *_ = (stack.first.soak.tolist() for stack in made.problem.stacks)
    assert (first, barren) == ([8], [])


def test_the_table_wants_what_all_stacks_that_bear_give_those_kept_back_among_them(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    outlook = known_outlook()
    last = TODAY + timedelta(days=7 * WEEKS - 1)
    flushes: list[float] = []
    monkeypatch.setattr(
        "fruitcast.soaks.build.table_days", lambda today, days, kg, **_: flushes.append(kg) or ()
    )
    back = Hold("kept back", None)
    until = [(), (back,), (back, Hold("rest", last)), (back, Hold("rest", last + ONE)), (back,)]
    stacks = [
        replace(stack, holds=holds) for stack, holds in zip(outlook.stacks, until, strict=True)
    ]
    # The last one is kept back, and would bear nothing if it were not.
    stacks[4] = replace(stacks[4], effective_logs=0.0)
    home = replace(outlook, yard=replace(outlook.yard, outlets=()), stacks=tuple(stacks))
    problem = problem_of(home).problem
    assert [bool(len(stack.first.soak)) for stack in problem.stacks] == [True, *[False] * 4]
    gives = [stack.end_flush for stack in problem.stacks]
    assert min(gives[:4]) > 0
    assert flushes == [pytest.approx(sum(gives[:3]))]
