"""What the answer says of each sale, from a ledger with round figures."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fruitcast.diary.state import StackState
from fruitcast.forecast.stacks import Hold
from fruitcast.soaks.answer import (
    _outlets,
    _table,
    soak_dates_of,
    unkept_words,
)
from fruitcast.soaks.answer_parts import water_chance_entries
from fruitcast.soaks.lot_size import to_part
from fruitcast.soaks.problem import OutletDay
from fruitcast.soaks.supply import Ledger
from tests.soaks.hand import hand_problem


def test_a_sale_has_its_range_its_chance_and_what_can_be_promised() -> None:
    problem = hand_problem()
    last = problem.horizon_days - 1
    outlets = (OutletDay("Stall", 5, 4.0, 1.0), OutletDay("Stall", last, 9.0, 1.0))
    past = OutletDay("Stall", last + 1, 1.0, 1.0)
    years = tuple(range(2001, 2012))
    problem = replace(problem, outlets=(*outlets, past), promise=0.8, years=years)
    # Eleven years with 0, 1, ... 10 kg in the cold store: a twelfth is as likely in each gap.
    available = np.tile(np.arange(11.0), (3, 1))
    delivered = np.minimum(available, np.array([[4.0], [9.0], [1.0]]))
    first, second = _outlets(problem, Ledger(delivered, available, np.zeros(11)))
    assert [str(entry.on) for entry in (first, second)] == ["2027-05-08", "2027-07-25"]
    for entry in (first, second):
        assert entry.available_p10_kg == pytest.approx(0.0)
        assert entry.available_p90_kg == pytest.approx(10.0)
        # A twelfth has 1 kg in ten of twelve cases, the first that are eight in ten.
        assert entry.promise_kg == pytest.approx(1.0)
    assert first.chance == pytest.approx(7 / 11)
    assert second.chance == pytest.approx(2 / 11)
    assert first.delivered_kg == pytest.approx((0 + 1 + 2 + 3 + 7 * 4) / 11)
    little = replace(problem, outlets=(replace(outlets[0], target=0.5),))
    (entry,) = _outlets(little, Ledger(np.minimum(available[:1], 0.5), available[:1], np.zeros(11)))
    assert entry.promise_kg == 0.5  # never more than is wanted


def thirst(name: str, chances: list[float], on: date | None = None) -> SimpleNamespace:
    return SimpleNamespace(
        stack=name, on=on, advice=SimpleNamespace(chance_by_day=np.array(chances))
    )


def test_the_chance_of_a_watering_is_told_by_one_two_and_three_weeks_where_it_is_real() -> None:
    today = date(2027, 6, 1)
    rising = [0.04] * 6 + [0.05] + [0.2] * 6 + [0.3]  # fourteen days
    thirsts = [
        thirst("A", rising),
        thirst("B", [0.01] * 20 + [0.6]),
        thirst("C", [1.0] * 21, on=date(2027, 6, 3)),
        thirst("D", [0.9] * 6),
    ]
    outlook = SimpleNamespace(futures=SimpleNamespace(today=today))
    found = water_chance_entries(thirsts, outlook)
    assert [(e.stack, str(e.by), e.chance) for e in found] == [
        ("A", "2027-06-07", 0.05),
        ("A", "2027-06-14", 0.3),
        ("B", "2027-06-21", 0.6),
    ]


def test_the_table_is_told_from_one_day_of_counting_to_the_next() -> None:
    # On each day a share that counts in full and more that counts half; the last is past the
    # horizon of 84 days.
    days = (5, 12, 83, 84)
    outlets = tuple(
        OutletDay("table", day, kg, weight)
        for day in days
        for kg, weight in ((1.0, 1.0), (3.0, 0.5))
    )
    problem = replace(hand_problem(), outlets=outlets, years=tuple(range(2001, 2012)))
    # In eleven years the share of day 5 is filled by 0 to 10 tenths, what is more by 0 to 20.
    tenths = np.arange(11) / 10
    delivered = np.zeros((8, 11))
    delivered[0], delivered[1], delivered[2] = tenths, 2 * tenths, 1.0
    first, second, third = _table(problem, SimpleNamespace(delivered=delivered))  # type: ignore[arg-type]
    spans = [
        ((week.first - problem.today).days, (week.last - problem.today).days)
        for week in (first, second, third)
    ]
    # What is picked on day 4 is on the table by day 5; that day's picks are the next week's.
    assert spans == [(0, 4), (5, 11), (12, 82)]
    assert first.expected_kg == pytest.approx(1.5)
    assert (first.p10_kg, first.p90_kg) == (pytest.approx(0.0), pytest.approx(3.0))
    assert [week.most_kg for week in (first, second, third)] == [4.0, 4.0, 4.0]
    assert (second.expected_kg, second.p10_kg, second.p90_kg) == (1.0, 1.0, 1.0)
    assert third.expected_kg == 0.0


def test_what_is_counted_today_was_on_hand() -> None:
    problem = replace(hand_problem(), outlets=(OutletDay("table", 0, 1.0, 1.0),))
    (only,) = _table(problem, SimpleNamespace(delivered=np.ones((1, 2))))  # type: ignore[arg-type]
    assert (only.first, only.last) == (problem.today, problem.today)


def test_lots_are_told_by_their_logs() -> None:
    lots = to_part("A", 23, 5.0, 3)
    assert (lots.stack, lots.logs, lots.flush_kg, lots.lots) == ("A", 23, 5.0, (8, 8, 7))


def test_soaks_are_listed_in_order_of_day_then_of_name() -> None:
    problem = hand_problem()
    found = soak_dates_of(problem, ((1, 3), (1,)))
    assert [(kept.stack, (kept.soak_on - problem.today).days) for kept in found] == [
        ("A", 8), ("B", 8), ("A", 71),
    ]  # fmt: skip
    assert soak_dates_of(problem, ((), ())) == ()


def test_a_fixed_soak_that_cannot_be_kept_is_named_with_its_day_and_its_rule() -> None:
    def stack(name: str, day: int) -> SimpleNamespace:
        on = date(2027, 5, 3) + timedelta(days=day)
        return SimpleNamespace(name=name, state=StackState(name, 9, fixed=(on, None)))

    refused: dict[str, Any] = {"B": "the tank is small", "A": Hold("no logs", None)}
    built = SimpleNamespace(
        outlook=SimpleNamespace(stacks=(stack("A", 1), stack("B", 4), stack("C", 8))),
        fixed=SimpleNamespace(refused=refused),
        problem=SimpleNamespace(today=date(2027, 5, 3)),
    )
    assert unkept_words(built) == [  # type: ignore[arg-type]
        "B can't be soaked on Fri 7 May, as you fixed it: the tank is small.",
        "A can't be soaked on Tue 4 May, as you fixed it: no living logs are left.",
    ]
