"""What the answer says of each sale, from a ledger with round figures."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fruitcast.schedule.answer import _outlets
from fruitcast.schedule.problem import OutletDay
from fruitcast.schedule.supply import Ledger
from tests.schedule.hand import hand_problem


def test_a_sale_has_its_range_its_chance_and_what_can_be_promised() -> None:
    problem = hand_problem()
    last = problem.horizon_days - 1
    outlets = (OutletDay("Stall", 5, 4.0, 1.0), OutletDay("Stall", last, 9.0, 1.0))
    past = OutletDay("Stall", last + 1, 1.0, 1.0)
    problem = replace(problem, outlets=(*outlets, past), promise=0.8)
    # Eleven weather years with 0, 1, ... 10 kg in the cold store.
    available = np.tile(np.arange(11.0), (3, 1))
    delivered = np.minimum(available, np.array([[4.0], [9.0], [1.0]]))
    first, second = _outlets(problem, Ledger(delivered, available, np.zeros(11)))
    assert [entry["on"] for entry in (first, second)] == ["2027-05-08", "2027-07-25"]
    for entry in (first, second):
        assert entry["available_p10_kg"] == pytest.approx(1.0)
        assert entry["available_p90_kg"] == pytest.approx(9.0)
        # In eight of ten years 2 kg and more are there.
        assert entry["promise_kg"] == pytest.approx(2.0)
    assert first["chance"] == pytest.approx(7 / 11)
    assert second["chance"] == pytest.approx(2 / 11)
    assert first["delivered_kg"] == pytest.approx((0 + 1 + 2 + 3 + 7 * 4) / 11)
    little = replace(problem, outlets=(replace(outlets[0], target=1.5),))
    (entry,) = _outlets(little, Ledger(np.minimum(available[:1], 1.5), available[:1], np.zeros(11)))
    assert entry["promise_kg"] == 1.5  # never more than is wanted
