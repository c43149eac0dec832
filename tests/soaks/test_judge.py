"""The judge against figures worked out by hand, and against plans that break each rule."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fruitcast.hindcast.diary import sell
from fruitcast.soaks.problem import OutletDay, Plan, Problem
from tests.soaks.hand import PRICES, hand_problem
from tests.soaks.instances import small_problem, yard_like
from tests.soaks.judge import judge, mean_of_worst


def stall(day: int, target: float, weight: float = 1.0, name: str = "Stall") -> OutletDay:
    return OutletDay(name, day, target, weight)


class TestLedger:
    def test_picked_today_is_sold_tomorrow_at_the_earliest(self) -> None:
        sales = sell([(5, 1.0)], [stall(5, 1.0), stall(6, 1.0)], cold_days=3, days=10)
        assert sales.delivered == (0.0, 1.0)
        assert sales.available == (0.0, 1.0)

    def test_the_last_day_still_sells_and_the_next_does_not(self) -> None:
        on_time = sell([(2, 1.0)], [stall(5, 1.0)], cold_days=3, days=10)
        assert (on_time.delivered, on_time.expired) == ((1.0,), 0.0)
        late = sell([(2, 1.0)], [stall(6, 1.0)], cold_days=3, days=10)
        assert (late.delivered, late.expired) == ((0.0,), 1.0)

    def test_the_oldest_go_first(self) -> None:
        # 1 kg of day 0 (sold until 4), 1 kg of day 3 (until 7). The first sale takes the old
        # kilogram, so the second still finds the young one. Youngest first would lose one.
        sales = sell([(0, 1.0), (3, 1.0)], [stall(4, 1.0), stall(7, 1.0)], cold_days=4, days=12)
        assert sales.delivered == (1.0, 1.0)
        assert sales.expired == 0.0

    def test_on_one_day_the_larger_weight_then_the_name_comes_first(self) -> None:
        outlets = [stall(3, 1.0, 1.0, "B"), stall(3, 1.0, 1.0, "A"), stall(3, 1.0, 2.0, "C")]
        sales = sell([(0, 2.5)], outlets, cold_days=4, days=6)
        assert sales.delivered == (0.5, 1.0, 1.0)
        # What was there when each outlet's turn came: C first, then A, then B.
        assert sales.available == (0.5, 1.5, 2.5)

    def test_an_earlier_sale_is_served_whatever_its_weight(self) -> None:
        sales = sell([(0, 1.0)], [stall(2, 1.0, 0.5), stall(3, 1.0, 9.0)], cold_days=5, days=6)
        assert sales.delivered == (1.0, 0.0)

    def test_expiry_counts_only_when_the_last_day_lies_inside(self) -> None:
        # Days 0..9. Picked on 5 and kept 4 days: last day 9, counts. Picked on 6: last day
        # 10, so it is merely left over. Stock of day -2: last day 2.
        sales = sell([(-2, 0.25), (5, 1.0), (6, 2.0)], [], cold_days=4, days=10)
        assert sales.expired == pytest.approx(1.25)
        assert sales.left == pytest.approx(2.0)

    def test_picks_after_the_last_day_are_nobodys(self) -> None:
        assert sell([(10, 1.0)], [], cold_days=4, days=10).left == 0.0

    @pytest.mark.parametrize("seed", range(20))
    def test_every_gram_is_sold_expired_or_left(self, seed: int) -> None:
        rng = np.random.default_rng(seed)
        picks = [
            (int(day), float(kg))
            for day, kg in zip(rng.integers(-3, 40, 30), rng.random(30), strict=True)
        ]
        outlets = [stall(int(day), float(rng.random())) for day in rng.integers(0, 40, 15)]
        sales = sell(picks, outlets, cold_days=int(rng.integers(1, 10)), days=40)
        gone = sum(sales.delivered) + sales.expired + sales.left
        assert gone == pytest.approx(sum(kg for _, kg in picks))


class TestObjective:
    def test_a_plan_worked_out_by_hand(self) -> None:
        # A is soaked on day 1, B on day 8 (held to day 10). Cold store 7 days.
        # Member 0 picks 2.0 (A) on day 9, 3.0 (B) on day 17, B's natural 0.04 x 30 = 1.2 on
        # day 50. Member 1 picks 1.0 (A) on day 11, 2.0 (B) on day 19. Stock 0.5 of day -1.
        #   day 5   both sell 0.5 of stock (its last day is 6): short 0.5 | 0.5
        #   day 12  member 0 has 2.0, sells 1.0; member 1 has 1.0, sells 1.0: short 0 | 0
        #   day 16  member 0's 1.0 of day 9 expires
        #   day 19  member 0 has 3.0, sells 1.0; member 1 has none for sale: short 0 | 1
        #   day 24  member 0's 2.0 of day 17 had its last day: expired 2.0
        #   day 26  Restaurant (weight 2) first. Member 0 none: short 1.5 and 1.0.
        #           member 1 has 2.0: Restaurant 1.5, Stall 0.5: short 0 and 0.5
        #   day 57  member 0's natural 1.2 expired
        # Weighted shortfall: member 0: 0.5 + 0 + 0 + 3.0 + 1.0 = 4.5; member 1: 0.5 + 0 + 1 +
        # 0 + 0.5 = 2.0; mean 3.25. Expired 1.0 + 2.0 + 1.2 = 4.2 | 0; mean 2.1 x 0.02 = 0.042.
        # Soaks 0.01 x 50 = 0.5. Change: A as published, B added: 0.1.
        # End value: A (85-1)/63 > 1: 2/2 = 1; B (85-8)/63 > 1: 3/2 = 1.5.
        verdict = judge(hand_problem(), ((0,), (1,)))
        assert verdict.legal
        assert verdict.objective == pytest.approx(
            {
                "shortfall": 3.25,
                "expired": 0.042,
                "soaks": 0.5,
                "change": 0.1,
                "certainty": 0.0,
                "end_value": -2.5,
            }
        )
        assert verdict.objective_kg == pytest.approx(1.392)
        np.testing.assert_allclose(
            verdict.delivered, [[0.5, 0.5], [1.0, 1.0], [1.0, 0.0], [0.0, 1.5], [0.0, 0.5]]
        )
        np.testing.assert_allclose(
            verdict.available, [[0.5, 0.5], [2.0, 1.0], [3.0, 0.0], [0.0, 2.0], [0.0, 0.5]]
        )
        np.testing.assert_allclose(verdict.expired, [4.2, 0.0])
        np.testing.assert_allclose(verdict.chance, [0.0, 1.0, 0.5, 0.5, 0.0])

    def test_interior_arcs_scale_with_the_stack_and_the_soaks_are_listed(self) -> None:
        # A on days 1 and 64 (arc 0: 0.10 | 0.06 a unit, 20 effective logs).
        verdict = judge(hand_problem(), ((0, 2), ()))
        assert verdict.legal
        assert [(s.stack, s.day, s.pull_day, s.logs) for s in verdict.soaks] == [
            ("A", 1, 2, 20),
            ("A", 64, 66, 20),
        ]
        assert [s.expected for s in verdict.soaks] == pytest.approx([1.5, 1.6])
        # Last soak on day 64: (85 - 64) / 63 = 1/3 of half of 2 kg; B counts from day -55.
        assert verdict.objective["end_value"] == pytest.approx(-(1 / 3 + 1.5))

    def test_a_natural_flush_before_the_soak_is_not_its_crop(self) -> None:
        # Arc 8 -> 71: member 1's 0.05 on day 40 came by itself, its 0.02 on day 81 was forced.
        verdict = judge(hand_problem(), ((1, 3), ()))
        assert verdict.soaks[1].expected == pytest.approx(20 * (0.10 + 0.02) / 2)

    @pytest.mark.parametrize(
        ("plan", "changes"),
        [
            (((0,), ()), 0),  # as published
            (((1,), ()), 1),  # A moved
            (((), ()), 1),  # A dropped
            (((), (1,)), 2),  # A dropped, B added
            (((0, 2), ()), 0),  # later soaks were not promised
        ],
    )
    def test_each_stack_whose_next_soak_changed_costs_once(self, plan: Plan, changes: int) -> None:
        assert judge(hand_problem(), plan).objective["change"] == pytest.approx(0.1 * changes)

    def test_nothing_was_published_so_nothing_changes(self) -> None:
        problem = hand_problem()
        stacks = tuple(replace(s, was_published=False, published=None) for s in problem.stacks)
        assert judge(replace(problem, stacks=stacks), ((1,), (1,))).objective["change"] == 0.0

    def test_a_stack_that_is_ready_past_the_horizon_has_no_end_value(self) -> None:
        problem = hand_problem()
        young = replace(problem.stacks[0], rested_from=90)
        verdict = judge(replace(problem, stacks=(young, problem.stacks[1])), ((), ()))
        assert verdict.objective["end_value"] == pytest.approx(-1.5)

    def test_the_worst_share_counts_a_straddling_member_in_part(self) -> None:
        kg = np.array([3.0, 1.0, 2.0])
        assert mean_of_worst(kg, 1 / 3) == pytest.approx(3.0)
        assert mean_of_worst(kg, 2 / 3) == pytest.approx(2.5)
        assert mean_of_worst(kg, 0.5) == pytest.approx((3.0 + 0.5 * 2.0) / 1.5)
        assert mean_of_worst(kg, 0.2) == pytest.approx(3.0)  # less than one member: the worst
        assert mean_of_worst(kg, 0.0) == pytest.approx(3.0)
        assert mean_of_worst(kg, 1.0) == pytest.approx(2.0)
        assert mean_of_worst(np.arange(10.0), 0.2) == pytest.approx(8.5)

    def test_certainty_adds_the_worst_shortfall_of_each_outlet_day(self) -> None:
        # Shortfalls by hand above: (0.5, 0.5), (0, 0), (0, 1), (1.5, 0), (1, 0.5). At a
        # promise of 0.5 the worst half of two members is the worse one: 0.5+0+1+1.5+1 = 4.
        problem = replace(hand_problem(), prices=replace(PRICES, certainty=0.3), promise=0.5)
        assert judge(problem, ((0,), (1,))).objective["certainty"] == pytest.approx(1.2)


class TestRules:
    def rules(self, problem: Problem, plan: Plan) -> list[str]:
        return [violation.rule for violation in judge(problem, plan).violations]

    def test_legal_plans_pass(self) -> None:
        for plan in [((), ()), ((0,), (1,)), ((0, 2), (1, 3)), ((0, 3), ())]:
            assert self.rules(hand_problem(), plan) == []

    def test_too_short_a_rest(self) -> None:
        verdict = judge(hand_problem(), ((1, 2), ()))
        assert [v.rule for v in verdict.violations] == ["rest", "arc"]
        assert str(verdict.violations[0]) == (
            "A, 2027-07-06: soaked after 56 days of rest, 63 needed"
        )

    def test_a_path_that_runs_backwards(self) -> None:
        assert "rest" in self.rules(hand_problem(), ((2, 0), ()))
        assert "rest" in self.rules(hand_problem(), ((2, 2), ()))

    def test_a_first_soak_before_the_stack_is_rested(self) -> None:
        verdict = judge(hand_problem(), ((), (0,)))
        assert [(v.rule, v.stack) for v in verdict.violations] == [("first arc", "B")]

    def test_a_type_that_may_not_be_soaked_that_day(self) -> None:
        problem = hand_problem()
        kind = replace(problem.types[0], allowed=np.array([True, True, True, False]))
        assert self.rules(replace(problem, types=(kind,)), ((0, 3), ())) == ["season"]

    def test_the_tank_is_held_until_the_pull(self) -> None:
        # A (20) and B (30) on day 8 for two nights: 50 logs in a tank for 40, on days 8 and 9.
        verdict = judge(hand_problem(), ((1,), (1,)))
        assert [(v.rule, str(v.day)) for v in verdict.violations] == [
            ("tank", "2027-05-11"),
            ("tank", "2027-05-12"),
        ]
        assert "50 logs in a tank for 40 (A, B)" in str(verdict.violations[0])

    def test_logs_already_in_the_tank_take_places(self) -> None:
        problem = hand_problem()
        wet = replace(problem.stacks[1], fixed_nights=2)
        held = replace(problem, stacks=(problem.stacks[0], wet))
        assert self.rules(held, ((0,), ())) == ["tank"]
        out = replace(problem, stacks=(problem.stacks[0], replace(wet, fixed_nights=1)))
        assert self.rules(out, ((0,), ())) == []

    def test_a_stack_in_the_tank_is_not_soaked_again(self) -> None:
        problem = hand_problem()
        wet = replace(problem.stacks[0], fixed_nights=2)
        problem = replace(problem, tank_logs=100, stacks=(wet, problem.stacks[1]))
        assert self.rules(problem, ((0,), ())) == ["in the tank"]

    def test_hours_of_a_day_count_soaking_and_pulling(self) -> None:
        # Soaking A takes 20 x 0.05 = 1.0 h on day 1, pulling 20 x 0.04 = 0.8 h on day 2.
        problem = replace(hand_problem(), hours_a_day=1.0)
        assert self.rules(problem, ((0,), ())) == []
        verdict = judge(replace(problem, hours_a_day=0.9), ((0,), ()))
        assert [str(v) for v in verdict.violations] == [
            "2027-05-04: 1.00 hours of soaking and pulling, 0.9 allowed"
        ]
        # A stack still in the tank until day 1 is pulled on the day A is soaked: 1.2 h more.
        wet = replace(problem.stacks[1], fixed_nights=1)
        problem = replace(problem, hours_a_day=2.0, stacks=(problem.stacks[0], wet))
        assert self.rules(problem, ((0,), ())) == ["hours"]

    def test_a_plan_of_the_wrong_length_is_refused(self) -> None:
        with pytest.raises(ValueError, match="1 paths for 2 stacks"):
            judge(hand_problem(), ((0,),))
        with pytest.raises(ValueError, match="no soak day number 9"):
            judge(hand_problem(), ((9,), ()))


@pytest.mark.parametrize("seed", range(10))
def test_order_of_stacks_changes_nothing(seed: int) -> None:
    problem = small_problem(seed, stacks=4)
    plan = tuple(tuple(stack.first.soak[-1:].tolist()) for stack in problem.stacks)
    turned = replace(problem, stacks=problem.stacks[::-1])
    straight, other = judge(problem, plan), judge(turned, plan[::-1])
    assert other.objective == pytest.approx(straight.objective)
    assert {str(v.day) for v in other.violations} == {str(v.day) for v in straight.violations}


def test_a_whole_yard_is_judged_in_a_moment() -> None:
    problem = yard_like(40)
    plan: Plan = tuple(() for _ in problem.stacks)
    verdict = judge(problem, plan)
    assert verdict.legal
    assert verdict.delivered.shape == (len(problem.outlets), problem.members)
    assert (verdict.shortfall >= 0).all()


class TestStacksInTheTankToday:
    def held(self, nights: int, hours: float | None = None, tank: int = 60) -> Problem:
        problem = hand_problem()
        first = replace(problem.stacks[0], fixed_nights=nights)
        return replace(
            problem, stacks=(first, problem.stacks[1]), hours_a_day=hours, tank_logs=tank
        )

    def test_a_stack_may_go_in_again_on_the_day_it_comes_out_and_not_before(self) -> None:
        assert judge(self.held(1), ((0,), ())).legal
        early = judge(self.held(2), ((0,), ()))
        assert not early.legal
        assert "in the tank" in [violation.rule for violation in early.violations]

    def test_its_pull_takes_hours_of_that_day(self) -> None:
        # 20 logs pulled on day 1 at 0.04 h and 30 put in at 0.05 h: 0.8 + 1.5 = 2.3 h.
        plan = ((), (0,))
        rules = [v.rule for v in judge(self.held(1, hours=2.3), plan).violations]
        assert "hours" not in rules
        told = [v for v in judge(self.held(1, hours=2.29), plan).violations if v.rule == "hours"]
        assert [str(v) for v in told] == [
            "2027-05-04: 2.30 hours of soaking and pulling, 2.29 allowed"
        ]

    def test_it_holds_its_place_until_then(self) -> None:
        # A's 20 logs are in the water in the nights before days 1 and 2, B's 30 from day 1 on.
        plan = ((), (0,))
        assert "tank" not in [v.rule for v in judge(self.held(1, tank=30), plan).violations]
        assert "tank" not in [v.rule for v in judge(self.held(2, tank=50), plan).violations]
        told = [v for v in judge(self.held(2, tank=49), plan).violations if v.rule == "tank"]
        assert [str(v) for v in told] == ["2027-05-04: 50 logs in a tank for 49 (A, B)"]


def test_of_many_stacks_in_the_tank_eight_are_named() -> None:
    problem = hand_problem()
    for count, words in ((8, "8)"), (9, "8 and more)")):
        stacks = tuple(
            replace(problem.stacks[0], name=f"{number + 1}", logs=10) for number in range(count)
        )
        crowded = replace(problem, stacks=stacks)
        told = judge(crowded, ((0,),) * count).violations
        assert [v.rule for v in told] == ["tank"]
        assert str(told[0]).endswith(words)
        assert f"{10 * count} logs in a tank for 40 (1, 2, " in str(told[0])


class TestLedgerStores:
    def test_an_outlet_day_past_the_ledger_gets_and_finds_nothing(self) -> None:
        sales = sell([(0, 1.0)], [stall(10, 1.0), stall(9, 0.25)], cold_days=20, days=10)
        assert sales.delivered == (0.0, 0.25)
        assert sales.available == (0.0, 1.0)
        assert sales.store == ((0, 0.75),)

    def test_the_store_is_told_by_day_of_picking_oldest_first(self) -> None:
        picks = [(7, 1.0), (-1, 0.5), (7, 0.25), (6, 2.0), (9, 4.0)]
        sales = sell(picks, [stall(8, 1.0)], cold_days=4, days=10)
        # Stock of day -1 has passed on day 3; the sale takes a kilogram of day 6.
        assert sales.expired == 0.5
        assert sales.store == ((6, 1.0), (7, 1.25), (9, 4.0))
        assert sales.left == 6.25

    def test_stock_is_for_sale_from_today_and_today_s_pick_from_tomorrow(self) -> None:
        sales = sell([(-1, 1.0), (0, 2.0)], [stall(0, 9.0), stall(1, 9.0)], cold_days=5, days=3)
        assert sales.delivered == (1.0, 2.0)
        assert sales.available == (1.0, 2.0)

    def test_what_is_sold_out_expires_no_more(self) -> None:
        sales = sell([(0, 1.0), (1, 1.0)], [stall(2, 1.5)], cold_days=2, days=9)
        assert sales.delivered == (1.5,)
        assert sales.expired == 0.5
        assert sales.store == ()
        # Nor does a batch of nothing stay in the store.
        assert sell([(0, 1.0)], [stall(2, 1.0)], cold_days=9, days=4).store == ()
