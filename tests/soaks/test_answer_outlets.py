"""What the answer says of each sale, from a ledger with round figures."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from types import SimpleNamespace

import numpy as np
import pytest

from fruitcast.soaks.answer import _outlets
from fruitcast.soaks.answer_parts import water_chance_entries
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
