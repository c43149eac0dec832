"""The search's loop step by step: what it proposes, what it accepts and what it books.

It runs as plain Python here (`plain_loop.py`). What moves write is held to a second way of writing
them, what they cost and whether they are legal to the judge.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise, product
from typing import Any

import numpy as np
import pytest

from fruitcast.soaks.problem import OutletDay, Plan, Problem, SoakPath
from fruitcast.soaks.search import Search
from fruitcast.soaks.search_work import Work
from tests.soaks.brute_force import all_paths
from tests.soaks.hand import hand_problem, table
from tests.soaks.instances import hemmed_in, small_problem
from tests.soaks.judge import judge, mean_of_worst
from tests.soaks.plain_loop import annealing, paths, work_on

ROUNDED = 1e-4
"""Weights are whole numbers of a small unit in the loop. [kg]"""


# Chance


def xorshift(state: int) -> int:
    for left, by in ((True, 13), (False, 7), (True, 17)):
        state ^= (state << by) % 2**64 if left else state >> by
    return state


def test_chance_is_marsaglia_s_generator_and_even() -> None:
    state = np.array([1], dtype=np.uint64)
    annealing._draw(state, 5)
    assert int(state[0]) == 1_082_269_761  # his own first number
    drawn, expected = Counter[int](), int(state[0])
    for _ in range(2000):
        expected = xorshift(expected)
        number = int(annealing._draw(state, 5))
        assert (int(state[0]), number) == (expected, (expected >> 33) * 5 // 2**31)
        drawn[number] += 1
    assert sorted(drawn) == [0, 1, 2, 3, 4]
    assert all(300 < times < 500 for times in drawn.values())


def test_something_is_nudged_by_one_or_two_soak_days_either_way() -> None:
    work, _ = begun(hand_problem(), ((), ()))
    nudges = Counter(int(annealing._nudge(work.plan)) for _ in range(400))
    assert sorted(nudges) == [-2, -1, 1, 2]
    assert min(nudges.values()) > 60


# What moves write


def begun(problem: Problem, plan: Plan) -> tuple[Work, Any]:
    """Return a plan taken up by the loop, no move made yet."""
    work, loop = work_on(Search(problem), plan)
    loop(0, 0, 1, 0.0)
    return work, loop


def arcs(problem: Problem, stack: int) -> set[tuple[int, int]]:
    kind = problem.types[problem.stacks[stack].type_index]
    return set(zip(kind.start.tolist(), kind.stop.tolist(), strict=True))


def is_path(problem: Problem, stack: int, path: SoakPath) -> bool:
    first = problem.stacks[stack].first.soak
    return not path or (path[0] in first and set(pairwise(path)) <= arcs(problem, stack))


def added(problem: Problem, stack: int, path: SoakPath, skip: int, k: int) -> SoakPath | None:
    """The path with a soak more, or in place of another: as many of the others as have arcs."""
    joins, others = arcs(problem, stack), [soak for n, soak in enumerate(path) if n != skip]
    if k in others:
        return None
    # All up to the last soak from which an arc leads to the new one.
    before = [n for n, soak in enumerate(path) if soak in others and (soak, k) in joins]
    new = [soak for n, soak in enumerate(path) if n != skip and before and n <= before[-1]] + [k]
    for soak in path[before[-1] + 1 if before else 0 :]:
        if soak in others and soak > k and (new[-1], soak) in joins:
            new.append(soak)
    return tuple(new) if is_path(problem, stack, tuple(new)) else None


def dropped(problem: Problem, stack: int, path: SoakPath, gap: int) -> SoakPath:
    new = path[:gap]
    for soak in path[gap + 1 :]:
        if is_path(problem, stack, (*new, soak)):
            new = (*new, soak)
    return new


def shifted(problem: Problem, stack: int, path: SoakPath, first: int, by: int) -> SoakPath | None:
    moved = (*path[:first], *(soak + by for soak in path[first:]))
    new = tuple(soak for soak in moved if soak < len(problem.soak_days))
    return new if min(moved) >= 0 and is_path(problem, stack, new) else None


def crossed(problem: Problem, stack: int, path: SoakPath, k: int, other: SoakPath) -> Any:
    new = (*(soak for soak in path if soak < k), *(soak for soak in other if soak >= k))
    return new if is_path(problem, stack, new) else None


def written(function: Callable[..., int], work: Work, stack: int, path: SoakPath, *rest: Any):  # type: ignore[no-untyped-def]
    """What a function of the loop writes for a path: the new path, None where it can't."""
    row = np.zeros(work.plan.paths.shape[1], dtype=np.int64)
    row[: len(path)] = path
    new = work.plan.new[0]
    size = int(function(work.plan, stack, row, len(path), *rest, new))
    return None if size < 0 else tuple(new[:size].tolist())


def test_a_soak_added_to_the_hand_problem() -> None:
    """Arcs join 0 to 2, 0 to 3 and 1 to 3; B can't begin on 0."""
    work, _ = begun(hand_problem(), ((), ()))

    def add(stack: int, path: SoakPath, skip: int, k: int) -> SoakPath | None:
        return written(annealing._add_soak, work, stack, path, skip, k)  # type: ignore[no-any-return]

    assert add(0, (), -1, 3) == (3,)
    assert add(0, (3,), -1, 0) == (0, 3)
    assert add(0, (3,), -1, 3) is None
    # Soaks too near go, one behind the other or not.
    assert add(0, (0, 2), -1, 3) == (0, 3)
    assert add(0, (0, 3), -1, 1) == (1, 3)
    assert add(0, (0, 2), -1, 1) == (1,)
    # In place of another.
    assert add(0, (0, 3), 0, 1) == (1, 3)
    assert add(0, (0, 3), 1, 3) == (0, 3)
    assert add(1, (3,), -1, 0) is None
    assert add(1, (), -1, 1) == (1,)


def with_fewer_arcs(problem: Problem, seed: int) -> Problem:
    """Return a problem without crops in which a fifth of the arcs is missing."""
    random = np.random.default_rng(seed)
    types = []
    for kind in problem.types:
        kept = random.random(len(kind.start)) < 0.8
        types.append(replace(kind, start=kind.start[kept], stop=kind.stop[kept], crops=table()))
    return replace(problem, types=tuple(types))


@pytest.mark.parametrize("seed", [3, 14, 17])
def test_moves_of_one_path_are_written_as_by_hand(seed: int) -> None:
    problem = with_fewer_arcs(small_problem(seed, stacks=2, weeks=9, members=1), seed)
    work, _ = begun(problem, ((), ()))
    days, random = len(problem.soak_days), np.random.default_rng(seed)
    for stack in (0, 1):
        every = all_paths(problem, stack)
        for turn in random.choice(len(every), min(len(every), 8), replace=False).tolist():
            path, other = every[turn], every[turn - 1]
            for k in range(days):
                for skip in range(-1, len(path)):
                    wanted = added(problem, stack, path, skip, k)
                    assert written(annealing._add_soak, work, stack, path, skip, k) == wanted
                row = np.array([*other, 0], dtype=np.int64)
                wanted = crossed(problem, stack, path, k, other)
                assert (
                    written(annealing._cross_over, work, stack, path, k, row, len(other)) == wanted
                )
            for n in range(len(path)):
                assert written(annealing._drop_soak, work, stack, path, n) == dropped(
                    problem, stack, path, n
                )
                for by in (-2, -1, 1, 2):
                    wanted = shifted(problem, stack, path, n, by)
                    assert written(annealing._shift_soaks, work, stack, path, n, by) == wanted


def test_two_paths_that_make_one_too_long_are_not_crossed() -> None:
    work, _ = begun(hand_problem(), ((), ()))
    room = np.zeros(2, dtype=np.int64)
    path, other = np.array([0, 0]), np.array([2, 3])
    size = annealing._cross_over(work.plan, 0, path, 1, 2, other, 2, room)
    assert size == -1


# What is proposed


def changes(problem: Problem, plan: Plan, stack: int) -> set[SoakPath]:
    """Every path that one stack may be given by a move of its own."""
    path, days = plan[stack], range(len(problem.soak_days))
    found = {added(problem, stack, path, -1, k) for k in days}
    for n, soak in enumerate(path):
        found.add(dropped(problem, stack, path, n))
        for by in (-2, -1, 1, 2):
            if soak + by in days:
                found.add(added(problem, stack, path, n, soak + by))
            if len(path) > 1:
                found.add(shifted(problem, stack, path, n, by))
    return {new for new in found if new is not None}


def long_problem() -> tuple[Problem, Plan]:
    """Three stacks soaked on any of nine weeks, two weeks apart at least: thrice, once, never."""
    return small_problem(17, stacks=3, weeks=9, members=1), ((1, 4, 7), (3,), ())


def new_path(work: Work, place: int) -> SoakPath:
    return tuple(work.plan.new[place, : work.plan.size[place]].tolist())


def test_of_one_stack_every_change_is_proposed_and_nothing_else() -> None:
    problem, plan = long_problem()
    work, _ = begun(problem, plan)
    seen: dict[int, set[SoakPath]] = {0: set(), 1: set(), 2: set()}
    for _ in range(1500):
        if annealing._propose(work.plan, np.array([0, 1, 2])):
            seen[int(work.plan.stack[0])].add(new_path(work, 0))
    for stack, proposed in seen.items():
        assert proposed == changes(problem, plan, stack)
    assert paths(work) == plan


def test_only_stacks_that_may_move_are_proposed() -> None:
    problem, plan = long_problem()
    work, _ = begun(problem, plan)
    stacks = set()
    for _ in range(100):
        annealing._propose(work.plan, np.array([0, 2]))
        stacks.add(int(work.plan.stack[0]))
        annealing._propose_pair(work.plan, np.array([0, 2]))
        assert set(work.plan.stack.tolist()) == {0, 2}
    assert stacks == {0, 2}


def test_a_lot_is_offered_the_days_of_the_lot_beside_it(monkeypatch: pytest.MonkeyPatch) -> None:
    problem, plan = long_problem()
    names = zip(problem.stacks, ("G/1", "G/2", "A"), strict=True)
    problem = replace(problem, stacks=tuple(replace(one, name=name) for one, name in names))
    work, _ = begun(problem, plan)

    def offered(stack: int, *chance: int) -> SoakPath:
        """What a stack is offered by some draws: 0 of 4 looks beside it, then left or right."""
        drawn = iter([stack, 0, *chance])
        monkeypatch.setattr(annealing, "_draw", lambda random, below: next(drawn))
        assert annealing._propose(work.plan, np.array([0, 1, 2]))
        assert next(drawn, None) is None
        return new_path(work, 0)

    # The third soak of the lot to the left, the only one of that to the right.
    assert offered(1, 0, 2) == (3, 7)
    assert offered(0, 1, 0) == (1, 3, 7)
    # No lot lies before the first, A is none of G, and G/2 is none of A: any way, any day.
    assert offered(0, 0, 0, 8) == (1, 4, 8)
    assert offered(1, 1, 0, 5) == (3, 5)
    assert offered(2, 0, 0, 5) == (5,)
    # Nor is there a day to take where the lot beside it is not soaked, or a stack past the last.
    assert offered(2, 1, 0, 6) == (6,)
    work.plan.counts[0] = 0
    assert offered(1, 0, 0, 6) == (3, 6)


def test_of_fourteen_ways_four_add_three_nudge_one_drops_and_six_shift(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    problem, plan = long_problem()
    work, _ = begun(problem, plan)

    def offered(stack: int, *chance: int) -> SoakPath | None:
        """What a stack is offered by some draws, the first of which looks at no lot beside it."""
        drawn = iter([stack, 1, *chance])
        limits: list[int] = []

        def draw(random: Any, below: int) -> int:
            limits.append(below)
            number = next(drawn)
            assert 0 <= number < below
            return number

        monkeypatch.setattr(annealing, "_draw", draw)
        stands = annealing._propose(work.plan, np.array([0, 1, 2]))
        assert next(drawn, None) is None
        assert limits[:3] == [3, 4, 14]
        return new_path(work, 0) if stands else None

    # A is soaked in weeks 1, 4 and 7 of 0 to 8: a day more takes the place of those too near.
    assert [offered(0, way, 8) for way in (0, 3)] == [(1, 4, 8)] * 2
    # One of its soaks is nudged: the first by one week, the last by two back or past the end.
    assert [offered(0, way, 0, 2) for way in (4, 6)] == [(2, 4, 7)] * 2
    assert offered(0, 4, 2, 0) == (1, 5)
    assert offered(0, 4, 2, 3) is None
    assert offered(0, 7, 1) == (1, 7)
    # All from the second on a week earlier; all two weeks later, where the last falls out.
    assert [offered(0, way, 1, 1) for way in (8, 13)] == [(1, 3, 6)] * 2
    assert offered(0, 8, 0, 3) == (3, 6)
    # A single soak is nudged instead, and where there is none a day is added.
    assert offered(1, 8, 0, 2) == (4,)
    assert [offered(2, way, 5) for way in (5, 7, 13)] == [(5,)] * 3


def test_two_stacks_trade_a_soak_day_or_all_from_some_day_on() -> None:
    problem, plan = long_problem()
    work, _ = begun(problem, plan)
    days = range(len(problem.soak_days))
    seen = set()
    for _ in range(3000):
        if annealing._propose_pair(work.plan, np.array([0, 1])):
            seen.add((tuple(work.plan.stack.tolist()), new_path(work, 0), new_path(work, 1)))
    wanted = set()
    for one, other in ((0, 1), (1, 0)):
        a, b = plan[one], plan[other]
        for k in days:
            pair = crossed(problem, one, a, k, b), crossed(problem, other, b, k, a)
            wanted.add(((one, other), *pair))
        for gap, k in enumerate(a):
            # Given up for nothing, or for any day; taken beside or in place of one of the other's.
            given = [dropped(problem, one, a, gap), *(added(problem, one, a, gap, j) for j in days)]
            wanted |= {((one, other), new, added(problem, other, b, -1, k)) for new in given}
            for skip, j in enumerate(b):
                new = added(problem, one, a, gap, j)
                wanted.add(((one, other), new, added(problem, other, b, skip, k)))
    assert seen == {each for each in wanted if None not in each}


def test_every_change_of_a_single_stack_comes_round_once() -> None:
    problem, plan = long_problem()
    work, _ = begun(problem, plan)
    free = np.array([2, 0, 1])
    found = Counter[tuple[int, SoakPath]]()
    while work.plan.cursor[3] < len(free):
        if annealing._neighbour(work.plan, free):
            found[int(work.plan.stack[0]), new_path(work, 0)] += 1
    days, wanted = range(len(problem.soak_days)), Counter[tuple[int, SoakPath]]()
    for stack, path in enumerate(plan):
        for skip in range(-1, len(path)):
            for k in days:
                new = added(problem, stack, path, skip, k)
                if new is not None:
                    wanted[stack, new] += 1
        for gap in range(len(path)):
            wanted[stack, dropped(problem, stack, path, gap)] += 1
    assert found == wanted
    assert work.plan.cursor.tolist() == [0, -1, -1, 3]


# What is accepted and booked


@dataclass(frozen=True)
class Tried:
    """A move that was tried: the plan with it, the rise allowed, and whether it stands."""

    plan: Plan
    allowed: float
    stands: bool
    objective: float


@pytest.fixture
def tried(monkeypatch: pytest.MonkeyPatch) -> list[Tried]:
    """Every move that the loop tries."""
    found: list[Tried] = []
    original = annealing._try

    def trying(plan: Any, *parts: Any) -> bool:
        *_, moved, allowed = parts
        new = {
            int(plan.stack[n]): tuple(plan.new[n, : plan.size[n]].tolist()) for n in range(moved)
        }
        now = [tuple(p[:n]) for p, n in zip(plan.paths.tolist(), plan.counts.tolist(), strict=True)]
        with_it = tuple(new.get(stack, path) for stack, path in enumerate(now))
        stands = bool(original(plan, *parts))
        found.append(Tried(with_it, float(allowed), stands, float(plan.value[0])))
        return stands

    monkeypatch.setattr(annealing, "_try", trying)
    return found


def tight(seed: int) -> Problem:
    """Three stacks or more, lots among them, short of tank, hours and places; certainty counts."""
    problem = hemmed_in(
        small_problem(seed, stacks=3, weeks=8, members=3, equal_weights=False), seed
    )
    certainty = 2.0 if seed % 2 else 0.0
    return replace(problem, prices=replace(problem.prices, certainty=certainty))


@pytest.mark.parametrize("seed", [2, 3, 4, 6, 9])
def test_a_move_stands_where_the_judge_allows_it_and_it_costs_no_more_than_chance_lets_it(
    tried: list[Tried], seed: int
) -> None:
    problem = tight(seed)
    stacks = len(problem.stacks)
    work, loop = work_on(Search(problem), ((),) * stacks)
    loop(0, 60, 120, 1.0)
    plan: Plan = ((),) * stacks
    assert (tried[0].plan, tried[0].allowed, tried[0].stands) == (plan, np.inf, True)
    cost = lowest = judge(problem, plan).objective_kg
    assert tried[0].objective == pytest.approx(cost, abs=ROUNDED)
    for one in tried[1:]:
        verdict = judge(problem, one.plan)
        rise = verdict.objective_kg - cost
        if abs(rise - one.allowed) > ROUNDED:
            assert one.stands == (verdict.legal and rise < one.allowed)
        if one.stands:
            plan, cost = one.plan, verdict.objective_kg
            lowest = min(lowest, cost)
        assert one.objective == pytest.approx(cost, abs=ROUNDED)
    assert paths(work) == plan
    assert work.plan.value[1] == pytest.approx(lowest, abs=ROUNDED)
    assert {one.stands for one in tried[1:]} == {True, False}
    # What is booked, and what is taken up, is that of the plan as it stands.
    members = problem.members
    sold = judge(problem, plan).delivered.sum(axis=1)
    unit = Search(problem).tables.arrays.unit[0]
    assert work.ledger.sold[:-1] * unit == pytest.approx(sold, abs=ROUNDED * members)
    assert not work.ledger.change.any()
    again, _ = begun(problem, plan)
    for name in ("tank", "fruiting", "visits"):
        assert np.array_equal(getattr(work.room, name), getattr(again.room, name)), name
    assert work.room.hours == pytest.approx(again.room.hours)
    assert work.plan.value[2] == pytest.approx(again.plan.value[2])
    assert work.ledger.sure == pytest.approx(again.ledger.sure, abs=ROUNDED)


@pytest.mark.parametrize(("keeps", "target"), [(3, 0.5), (20, 0.2), (60, 0.15)])
def test_whatever_led_to_a_plan_its_sales_are_booked_to_the_unit_as_if_begun_with_it(
    keeps: int, target: float
) -> None:
    """Sales are booked anew only as far as something changes: what comes, or what is left."""
    hand = hand_problem()
    # Where mushrooms keep long, one sold instead of another is missed weeks later.
    sales = tuple(OutletDay("Stall", day, target, 1.0) for day in range(3, 118, 5))
    prices = replace(hand.prices, certainty=1.0)
    problem = replace(hand, outlets=sales, cold_days=keeps, prices=prices, tank_logs=50)
    every = list(product(*(all_paths(problem, n) for n in (0, 1))))[:: 3 if keeps > 3 else 5]
    ledgers = {plan: begun(problem, plan)[0] for plan in every}
    for turn, (plan, wanted) in enumerate(ledgers.items()):
        # From another plan to this one, first one stack and then the other.
        work, _ = begun(problem, every[turn - 7])
        for stack, path in enumerate(plan):
            work.plan.stack[0], work.plan.size[0] = stack, len(path)
            work.plan.new[0, : len(path)] = path
            assert annealing._try(*work, problem.members, 1, np.inf)
        assert paths(work) == plan
        for name in ("come", "young", "left", "sold"):
            found, again = (getattr(one.ledger, name) for one in (work, wanted))
            assert np.array_equal(found, again), name
        assert work.ledger.sure == pytest.approx(wanted.ledger.sure)
        assert work.plan.value[0] == pytest.approx(wanted.plan.value[0])
        assert wanted.plan.value[0] == pytest.approx(judge(problem, plan).objective_kg, abs=ROUNDED)


def test_what_chance_allows_falls_with_the_square_of_what_is_left(tried: list[Tried]) -> None:
    problem = small_problem(3, stacks=1, weeks=9, members=2)
    work = Search(problem).work(((),), 1)
    given = (*work, problem.members, np.array([0]), np.array([1.5]))
    seen = 0
    for number in range(10):
        tried.clear()
        annealing.search(*given, number, number + 1, 10, 2.0)
        for one in tried[1:]:
            assert one.allowed == pytest.approx(2.0 * 1.5 * (1 - number / 10) ** 2)
            seen += 1
    assert seen > 5


def test_so_many_moves_are_made_as_asked_for_half_of_them_of_two_stacks(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    made = Counter[str]()
    for name in ("_propose", "_propose_pair"):

        def count(plan: Any, free: Any, name: str = name) -> bool:
            made[name] += 1
            return False

        monkeypatch.setattr(annealing, name, count)
    problem, plan = long_problem()
    work, search = work_on(Search(problem), plan)
    search(100, 400, 1000, 1.0)
    assert sum(made.values()) == 300
    assert 120 < made["_propose_pair"] < 180
    assert paths(work) == plan
    made.clear()
    _, search = work_on(Search(problem), plan, free=(1,))
    search(0, 50, 50, 1.0)
    assert made == {"_propose": 50}


def test_mending_ends_where_no_change_of_a_stack_gains(tried: list[Tried]) -> None:
    problem = replace(hand_problem(), tank_logs=30, hours_a_day=30 * 0.05)
    # B has just as many logs as the tank holds, and the hours just suffice.
    work, loop = work_on(Search(problem), ((0,), ()), free=(1,))
    loop(0, 0, 0, 0.0)
    assert paths(work) == ((0,), (1,))
    tried.clear()
    work, loop = work_on(Search(problem), ((), ()))
    loop(0, 0, 0, 0.0)
    plan = paths(work)
    assert judge(problem, plan).legal
    assert all(one.allowed == -annealing.LEAST_GAIN for one in tried[1:])
    cost = judge(problem, plan).objective_kg
    assert cost < judge(problem, ((), ())).objective_kg - 1
    for stack in (0, 1):
        for path in changes(problem, plan, stack):
            other = tuple(path if n == stack else one for n, one in enumerate(plan))
            verdict = judge(problem, other)
            assert not verdict.legal or verdict.objective_kg > cost - ROUNDED


@pytest.mark.parametrize("share", [0.0, 0.1, 0.25, 0.4, 0.5, 0.9, 1.0])
def test_the_worst_members_are_those_of_the_judge(share: float) -> None:
    short = np.array([3.0, 0.0, 7.0, 2.0, 5.0])
    work, _ = begun(hand_problem(), ((), ()))
    work.ledger.prices[2] = share
    found = annealing._worst(work.ledger, 5, short.copy())
    # A share of less than one member is that of the worst.
    expected = mean_of_worst(short, share) if share else 0.0
    assert found == pytest.approx(expected)
