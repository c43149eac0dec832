"""What a programme brings and which price is settled on, with figures made up to be followed."""

from __future__ import annotations

from dataclasses import replace
from math import exp, log
from types import SimpleNamespace

import numpy as np
import pytest

from fruitcast.forecast.yield_tables import SEASON_DAYS, TAIL_DAYS
from fruitcast.inoculation.problem import Flow, Pool, SaleDay, soaked_units
from fruitcast.inoculation.solving import (
    class_crop,
    deliveries,
    sell,
    share_met,
    smallest_programme,
)
from tests.inoculation.small_programmes import pick_day, sale_day, soak_paths, table

AT = "fruitcast.inoculation.solving"
WISHED = 0.8


class Shares:
    """A program of which so many sales are met at each price tried, one after the other."""

    model = None

    def __init__(self, shares):
        self.shares = shares
        self.prices = []

    def solve(self, price):
        self.prices.append(price)
        at = len(self.prices) - 1
        share = self.shares(log(price)) if callable(self.shares) else self.shares[at]
        return SimpleNamespace(number=at, share=share)


@pytest.fixture
def settled(monkeypatch):
    monkeypatch.setattr(f"{AT}.deliveries", lambda model, solution: solution)
    monkeypatch.setattr(f"{AT}.share_met", lambda model, brought, judged: brought.share)

    def found(shares, *, lowest=1e-9, highest=1e9, start=1.0, rounds=None):
        program = Shares(shares)
        judged = np.array([0])
        best = smallest_programme(
            program, WISHED, judged, lowest=lowest, highest=highest, start=start, rounds=rounds
        )
        assert best.price == pytest.approx(program.prices[best.solution.number])
        assert best.chance == best.solution.share
        return best, program.prices

    return found


def logistic(slope):
    """Log odds of -1 at a price of 1, rising in a straight line with the logarithm of the price."""
    return lambda at: 1 / (1 + exp(1 - slope * at))


def test_the_price_is_sought_along_the_line_of_the_log_odds(settled):
    # Log odds of log 4 are wished. From -1 a usual slope of 0.8 leads 2.98 up; where the true
    # slope is 0.5, the line through both leads on to where it is met.
    up = (log(4) + 1) / 0.8
    best, prices = settled(logistic(0.5))
    assert np.log(prices) == pytest.approx([0.0, up, (log(4) + 1) / 0.5])
    assert best.reached
    assert best.chance == pytest.approx(WISHED)
    # Where the usual slope is right the second price is, and no third is tried.
    best, prices = settled(logistic(0.8))
    assert np.log(prices) == pytest.approx([0.0, up])
    assert best.reached


@pytest.mark.parametrize("start", [1.0, 2.5])
def test_no_price_past_the_ends_is_tried_and_none_twice(start, settled):
    top = exp(2.0)
    best, prices = settled(logistic(0.5), highest=top, start=start)
    assert prices == pytest.approx([start, top])
    assert not best.reached
    assert best.price == pytest.approx(top)
    # All is met at any price: down to the lowest, and no further.
    best, prices = settled(lambda at: 0.99, lowest=0.5, start=start)
    assert prices == pytest.approx([start, 0.5])
    assert best.reached
    # A start past an end is held to it.
    assert settled([WISHED], highest=0.25)[1] == pytest.approx([0.25])
    assert settled([WISHED], lowest=4.0)[1] == pytest.approx([4.0])


@pytest.mark.parametrize(
    ("shares", "tried", "best", "reached"),
    [
        # Reached within 1.5 in a hundred, from either side, is near enough.
        ([0.786], 1, 0, True),
        ([0.814], 1, 0, True),
        ([0.784, 0.8], 2, 1, True),
        ([0.816, 0.8], 2, 1, True),
        # Of those that reach the chance the one of fewest sales met has the fewest logs.
        ([0.95, 0.6, 0.9, 0.92, 0.7], 5, 2, True),
        ([0.6, 0.95, 0.7, 0.9, 0.5], 5, 3, True),
        ([0.9, 0.9, 0.9, 0.9, 0.9], 5, 0, True),
        # Where none reaches it, the one of most.
        ([0.3, 0.5, 0.4, 0.45, 0.2], 5, 1, False),
        ([0.5, 0.5, 0.5, 0.5, 0.5], 5, 0, False),
    ],
)
def test_the_fewest_logs_that_reach_the_chance_are_taken(shares, tried, best, reached, settled):
    found, prices = settled(shares)
    assert len(prices) == tried
    assert (found.solution.number, found.reached) == (best, reached)


def test_as_many_prices_are_tried_as_asked_for(settled):
    for rounds in (1, 2):
        assert len(settled([0.3, 0.5, 0.4], rounds=rounds)[1]) == rounds


def model_of(sales, scenarios, crop=0.3):
    """One class in one or more seasons; a unit soaked in week 20 gives `crop` and 0.5."""
    kg = ((crop, 0.5), (0.0, 0.0), (1.0, 1.0))
    seasons = len(scenarios)
    return SimpleNamespace(
        seasons=seasons,
        members=2,
        scenarios=tuple(np.array(seen) for seen in scenarios),
        tables={"a": table("a", kg)},
        pools=tuple(Pool(season, "a", 0, 0.0, {}, 1.0) for season in range(seasons)),
        sales=sales,
        cold_days=4,
    )


def soaked(*units):
    """So many units soaked in week 20 of each season."""
    flows = tuple(Flow(np.array([u, 0, 0]), np.zeros(1), np.array([u, 0, 0]), 0.0) for u in units)
    return SimpleNamespace(flows=flows)


def test_only_weather_years_that_the_program_did_not_look_at_judge_it():
    # Two units give 0.6 and 1.0; of 0.8 wanted, 0.6 and 0.8 are sold.
    sales = (SaleDay(sale_day(0), 0.8),)
    first = deliveries(model_of(sales, [[0]]), soaked(2.0))
    assert first.picked == pytest.approx(np.array([[0.6, 1.0]]))
    assert first.delivered == pytest.approx(np.array([[0.6, 0.8]]))
    assert (first.met.tolist(), first.sold.tolist()) == ([1.0], [pytest.approx(0.8)])
    second = deliveries(model_of(sales, [[1]]), soaked(2.0))
    assert (second.met.tolist(), second.sold.tolist()) == ([0.0], [pytest.approx(0.6)])
    # With no other year all judge.
    every = deliveries(model_of(sales, [[0, 1]]), soaked(2.0))
    assert (every.met.tolist(), every.sold.tolist()) == ([0.5], [pytest.approx(0.7)])


def test_a_target_is_met_within_a_gram():
    for short, met in ((0.0009, 1.0), (0.0011, 0.5)):
        sales = (SaleDay(sale_day(0), 0.6 + short),)
        found = deliveries(model_of(sales, [[0, 1]]), soaked(2.0))
        assert found.met.tolist() == [met]


def test_each_season_has_its_own_crop_sales_and_years():
    sales = (SaleDay(sale_day(0), 0.3), SaleDay(SEASON_DAYS + sale_day(0), 0.9))
    found = deliveries(model_of(sales, [[0], [1]]), soaked(1.0, 2.0))
    assert found.picked == pytest.approx(np.array([[0.3, 0.5], [0.6, 1.0]]))
    assert found.delivered == pytest.approx(np.array([[0.3, 0.3], [0.6, 0.9]]))
    assert found.met.tolist() == [1.0, 0.0]


def test_what_is_picked_in_the_tail_of_a_season_is_sold_in_the_next():
    made = model_of((SaleDay(SEASON_DAYS + 3, 1.0),), [[0, 1], [0, 1]])
    late = made.tables["a"].first
    late[0, SEASON_DAYS + 1] = late[0, pick_day(0)]
    late[0, pick_day(0)] = 0.0
    assert late.shape[1] == SEASON_DAYS + TAIL_DAYS
    found = deliveries(made, soaked(2.0, 0.0))
    assert found.delivered == pytest.approx(np.array([[0.6, 1.0]]))
    assert found.picked == pytest.approx(np.array([[0.6, 1.0], [0.0, 0.0]]))


def test_the_crop_of_a_class_is_that_of_every_arc_by_the_units_on_it():
    # Each arc gives its own power of two, in member 1 ten times as much, on a day of its own.
    made = model_of((), [[0, 1], [0, 1]])
    arcs = made.tables["a"]
    arcs = replace(arcs, none=np.zeros((2, *arcs.none.shape[1:]), dtype=np.float32))
    arcs = replace(arcs, starts=np.array([0, 8]))
    arcs.first[:], arcs.inner[:] = 0.0, 0.0
    for place, (kind, arc) in enumerate(
        [
            ("first", 0),
            ("first", 2),
            ("inner", 0),
            ("last", 1),
            ("last", 2),
            ("none", 0),
            ("none", 1),
        ]
    ):
        getattr(arcs, kind)[arc, 100 + place] = [2.0**place, 10 * 2.0**place]
    made.tables = {"a": arcs}
    made.pools = (
        Pool(1, "a", 0, 0.0, {}, 1.0),
        Pool(1, "a", 8, 0.0, {}, 1.0),
        Pool(0, "a", 0, 0.0, {}, 1.0),
    )
    one = Flow(np.array([1.0, 0.0, 2.0]), np.array([3.0]), np.array([0.0, 4.0, 5.0]), 6.0)
    other = Flow(np.array([10.0, 0.0, 0.0]), np.array([20.0]), np.array([0.0, 0.0, 30.0]), 40.0)
    past = Flow(np.ones(3), np.ones(1), np.ones(3), 1.0)
    crop = class_crop(made, SimpleNamespace(flows=(one, other, past)), 1, "a")
    assert crop.shape == (SEASON_DAYS + TAIL_DAYS, 2)
    units = [11.0, 2.0, 23.0, 4.0, 35.0, 6.0, 40.0]
    assert crop[100:107, 0] == pytest.approx([n * 2.0**k for k, n in enumerate(units)])
    assert crop[:, 1] == pytest.approx(10 * crop[:, 0])
    assert crop.sum(axis=0)[0] == pytest.approx(crop[100:107, 0].sum())


def test_mushrooms_are_sold_from_the_day_after_the_pick_until_they_are_too_old():
    # Kept two days: the kilogram of day 0 serves days 1 and 2, the two of day 2 days 3 and 4.
    picked = np.cumsum([[1.0], [0.0], [2.0], [0.0], [1.0], [0.0], [0.0], [0.0]], axis=0)
    wanted = ((0, 1.0), (1, 0.4), (2, 0.1), (3, 1.5), (5, 3.0), (7, 1.0))
    sales = tuple(SaleDay(day, kg) for day, kg in wanted)
    ledger = sell(SimpleNamespace(sales=sales, cold_days=2), picked)
    assert ledger.available[:, 0] == pytest.approx([0.0, 1.0, 0.6, 2.0, 1.0, 0.0])
    assert ledger.delivered[:, 0] == pytest.approx([0.0, 0.4, 0.1, 1.5, 1.0, 0.0])


def test_the_share_met_is_the_mean_over_the_sales_of_the_seasons_judged():
    sales = [SaleDay(SEASON_DAYS * season + 10, 1.0) for season in (0, 1, 1, 2)]
    made = SimpleNamespace(sales=sales)
    brought = SimpleNamespace(met=np.array([0.0, 0.5, 0.9, 0.2]))
    assert share_met(made, brought, np.array([1])) == pytest.approx(0.7)
    assert share_met(made, brought, np.array([1, 2])) == pytest.approx(1.6 / 3)
    assert share_met(made, brought, np.array([5])) == 1.0


def test_units_that_part_after_a_soak_are_paths_of_their_own():
    # Three units are soaked in week 20: one rests after it, two are soaked again in week 24. Four
    # more are soaked in week 22 only, half a unit never.
    made = table("a", ((1.0, 1.0),) * 3)
    flow = Flow(np.array([3.0, 4.0, 0.0]), np.array([2.0]), np.array([1.0, 4.0, 2.0]), 0.5)
    paths = soak_paths(made, flow)
    assert sorted(paths) == [(0.5, ()), (1.0, (20,)), (2.0, (20, 24)), (4.0, (22,))]
    assert flow.first.tolist() == [3.0, 4.0, 0.0]  # what was given is left as it was
    model = SimpleNamespace(tables={"a": made})
    units = soaked_units(model, Pool(0, "a", 0, 0.0, {}, 1.0), flow)
    assert units.tolist() == [3.0, 4.0, 2.0]


def test_units_lost_to_rounding_end_their_path_where_they_are_lost():
    made = table("a", ((1.0, 1.0),) * 3)
    flow = Flow(np.array([3.0, 0.0, 0.0]), np.array([0.0]), np.zeros(3), 0.0)
    assert soak_paths(made, flow) == [(3.0, (20,))]
