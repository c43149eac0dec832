"""The ledger of a season, worked out day by day: what is sold, what expires, what is left."""

from __future__ import annotations

import pytest

from fruitcast.hindcast.diary import Sales, sell
from fruitcast.soaks.problem import OutletDay


def ledger(*sales: tuple[int, float], picks: tuple[tuple[int, float], ...]) -> Sales:
    """Ten days, the first being day 0; what is picked keeps for three days."""
    return sell(picks, [OutletDay("Stall", day, kg, 1.0) for day, kg in sales], 3, 10)


def test_what_is_on_hand_and_what_is_picked_sells_oldest_first_from_the_next_day_on() -> None:
    found = ledger((1, 0.5), (2, 2.0), (3, 1.0), picks=((-1, 0.7), (1, 0.4), (2, 0.3), (2, 0.6)))
    # Half of the stock, then its rest and day 1's pick, then what was picked on day 2.
    assert found.available == pytest.approx((0.7, 0.6, 0.9))
    assert found.delivered == pytest.approx((0.5, 0.6, 0.9))
    assert (found.expired, found.store, found.left) == (0.0, (), 0)


def test_what_is_sold_out_is_no_part_of_the_store() -> None:
    found = ledger((9, 1.0), picks=((7, 1.0), (8, 0.5)))
    assert (found.store, found.expired) == (((8, 0.5),), 0.0)


def test_stock_keeps_from_its_own_day_on() -> None:
    # Picked two days ago it sells today and tomorrow; four days ago it is too old already.
    assert ledger((0, 1.0), (1, 1.0), picks=((-2, 1.5),)).delivered == pytest.approx((1.0, 0.5))
    late = ledger((0, 1.0), (2, 1.0), picks=((-2, 1.5), (-4, 3.0)))
    assert late.delivered == pytest.approx((1.0, 0.0))
    assert late.expired == pytest.approx(3.0 + 0.5)


def test_on_the_last_evening_what_cannot_be_sold_the_next_day_has_expired() -> None:
    # Day 9 is the last: picks of day 6 sell on it at the latest, those of day 7 on the next too.
    found = ledger(picks=((6, 1.0), (7, 2.0), (9, 4.0)))
    assert (found.expired, found.store, found.left) == (1.0, ((7, 2.0), (9, 4.0)), 6.0)


def test_of_two_sales_on_a_day_the_one_that_counts_more_comes_first_then_the_name() -> None:
    stalls = [OutletDay(name, 1, 1.0, weight) for name, weight in
              (("Market", 1.0), ("Gate", 1.0), ("Restaurant", 2.0))]  # fmt: skip
    found = sell([(0, 1.5)], stalls, 3, 10)
    assert found.delivered == pytest.approx((0.0, 0.5, 1.0))
    assert found.available == pytest.approx((0.0, 0.5, 1.5))
