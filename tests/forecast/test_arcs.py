"""What the forecast's holds, spawn runs and flushes under way make of the schedule's arcs."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from fruitcast.diary.state import Pick, Soak, StackState
from fruitcast.soaks.build import build_problem
from tests.forecast.yards import NUMBERS, TODAY, UNTAUGHT, look, stack, yard

OLD = stack(inoculated=date(2023, 4, 5))


def problem(*states: StackState, row=OLD, weeks=12, **options):
    outlook = look(yard(row), *states, weeks=weeks, learned=UNTAUGHT, **options)
    return build_problem(outlook, weeks=weeks, seed=1, promise=0.8)


def first_soaks(built) -> list[date]:
    own = built.problem.stacks[0]
    return [TODAY + timedelta(days=int(built.problem.soak_days[k])) for k in own.first.soak]


def day(offset: int) -> date:
    return TODAY + timedelta(days=offset)


def soaked(days_ago: int) -> StackState:
    on = day(-days_ago)
    pick = Pick(on + timedelta(days=11), 2.0, "forced", on)
    return StackState("A", 24, soaks=(Soak(on, 24, 24.0, on + timedelta(days=1)),), picks=(pick,))


def test_without_a_hold_the_first_soak_day_is_open():
    assert first_soaks(problem())[0] == date(2027, 5, 4)


@pytest.mark.parametrize(
    ("state", "cause"),
    [
        (soaked(30), "rest"),
        (StackState("A", 24, soaks=(Soak(day(-1), 24, 24.0, None),)), "tank"),
        (StackState("A", 24, pins_on=day(-1)), "pins"),
        (
            StackState("A", 24, picks=(Pick(day(-9), 1.0, "natural"),), natural_seen_on=day(-9)),
            "natural rest",
        ),
    ],
)
def test_a_hold_forbids_every_soak_until_it_ends_and_none_after(state, cause):
    built = problem(state)
    (hold,) = [h for h in built.outlook.stacks[0].holds if h.cause == cause]
    soaks = first_soaks(built)
    assert min(soaks) >= hold.until
    assert (min(soaks) - hold.until).days <= 4  # the next soak day
    # Without what the diary says, those days are open: the cause decides.
    assert min(first_soaks(problem())) < hold.until


def test_no_soak_before_the_first_year_is_over():
    row = stack(inoculated=date(2026, 6, 10))
    done = StackState("A", 24, inspected_on=day(-5), spawn_run_seen_on=day(-5))
    assert min(first_soaks(problem(done, row=row))) == date(2027, 6, 11)
    assert min(first_soaks(problem(done, row=stack(inoculated=date(2026, 5, 1))))) < day(7)


def test_a_soak_gives_nothing_where_the_spawn_run_is_not_done():
    row = stack(inoculated=date(2026, 5, 20))
    built = problem(row=row, weeks=20)
    rows = built.outlook.stacks[0].spawn.rows
    own, work = built.problem.stacks[0], built.types[0]
    early = int(own.first.soak[0])
    late = rows > built.outlook.soak_rows[early]
    assert late.any() and not late.all()
    assert (work.first_factor[0, early, late] == 0).all()
    # Most other members bear; a warm spell may have set off a natural flush in some.
    assert (work.first_factor[0, early, ~late] > 0).mean() > 0.5
    seen = StackState("A", 24, inspected_on=day(-5), spawn_run_seen_on=day(-5))
    certain = problem(seen, row=row, weeks=20)
    assert (certain.types[0].first_factor[0, early, late] > 0).any()


def test_a_flush_under_way_is_part_of_every_path():
    on = day(-8)
    state = StackState("A", 24, soaks=(Soak(on, 24, 24.0, day(-7)),))
    built = problem(state)
    flush = built.outlook.flushes["A"]
    own = built.problem.stacks[0]
    soon = own.first.none_crops.day < 30
    supply = own.first.none_crops.kg[soon].sum()
    sold = flush.share * flush.kg * own.effective_logs * built.outlook.yard.saleable
    keeping = next(iter(built.outlook.kinds.values())).keeping
    assert supply == pytest.approx((sold * keeping).sum(), rel=1e-5)
    for arc in range(len(own.first.soak)):
        mine = (own.first.crops.row == arc) & (own.first.crops.day < 30)
        assert own.first.crops.kg[mine].sum() >= supply * (1 - 1e-5)


def test_a_dead_stack_promises_nothing():
    from tests.forecast.test_stacks import drought

    outlook = look(
        yard(stack(inoculated=date(2024, 4, 5)), keep_above=None),
        weather=drought(),
        learned=UNTAUGHT,
    )
    built = build_problem(outlook, weeks=12, seed=1, promise=0.8)
    own = built.problem.stacks[0]
    assert len(own.first.soak) == 0
    assert own.first.none_crops.kg.sum() == 0


def test_stacks_of_one_kind_differ_by_their_factor_alone():
    rows = (OLD, stack("B", OLD.inoculated, logs=48))
    outlook = look(yard(*rows), learned=UNTAUGHT)
    built = build_problem(outlook, weeks=12, seed=1, promise=0.8)
    one, two = built.problem.stacks
    assert one.type_index == two.type_index
    assert two.effective_logs == pytest.approx(2 * one.effective_logs)
    assert two.first.crops.kg == pytest.approx(2 * one.first.crops.kg)


def test_types_of_one_kind_share_their_arcs():
    rows = (OLD, stack("B", date(2025, 4, 5)))
    # However little a soak brings: what is not worth it differs from type to type.
    numbers = NUMBERS.with_overrides({"schedule.weak_soak": 0.0})
    outlook = look(yard(*rows), weeks=40, learned=UNTAUGHT, numbers=numbers)
    built = build_problem(outlook, weeks=40, seed=1, promise=0.8)
    assert len(outlook.kinds) == 1 and len(built.problem.types) == 2
    one, two = built.problem.types
    assert one.crops.row is two.crops.row
    assert not np.array_equal(one.crops.kg, two.crops.kg)


def test_no_soak_is_open_that_is_expected_to_bring_under_sixty_grams_a_log():
    """Counted again from the flushes themselves, first soaks and those after one another."""
    rows = (OLD, stack("B", date(2025, 4, 5)), stack("C", date(2021, 4, 5), tree="red maple"))
    outlook = look(yard(*rows), weeks=40, learned=UNTAUGHT)
    built = build_problem(outlook, weeks=40, seed=1, promise=0.8)
    numbers = NUMBERS.with_overrides({"schedule.weak_soak": 0.0})
    every = look(yard(*rows), weeks=40, learned=UNTAUGHT, numbers=numbers)
    free = build_problem(every, weeks=40, seed=1, promise=0.8)
    least = NUMBERS.schedule.weak_soak
    closed = 0
    for position, own in enumerate(outlook.stacks):
        problem = built.problem.stacks[position]
        type_index, effective_logs = problem.type_index, own.effective_logs / own.state.logs
        arcs, work = built.problem.types[type_index], built.types[type_index]
        kg = work.fruiting.forced.kg  # with the course of bearing years
        for before, soak in zip(arcs.start.tolist(), arcs.stop.tolist(), strict=True):
            inner = (kg[soak] * work.left(before, soak)).mean() * effective_logs
            assert inner >= least - 1e-9
        place = work.stacks.index(position)
        first = problem.first.soak
        # First soaks are judged with even luck, these flushes have their own.
        brought = (kg[first] * work.first_factor[place][first]).mean(axis=1) * effective_logs
        assert (brought >= 0.8 * least).all()
        other = free.problem.stacks[position]
        open_to = free.problem.types[other.type_index]
        closed += len(open_to.start) - len(arcs.start) + len(other.first.soak) - len(first)
    assert closed > 0
