"""What is on its way whatever the plan, from flushes and holds set by hand.

Row 10 is today, Monday 3 May; ten members are told apart.
"""

from __future__ import annotations

from datetime import date, timedelta
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fruitcast.diary.state import Soak, StackState
from fruitcast.forecast.stacks import Hold
from fruitcast.forecast.under_way import UnderWay
from fruitcast.numbers import default_numbers
from fruitcast.soaks.coming import coming, flushes_under_way, so_far_words
from fruitcast.soaks.expected import _Walk
from fruitcast.yard.model import FruitingPlaces

TODAY = date(2027, 5, 3)
BACK = 10
NUMBERS = default_numbers().with_overrides({"schedule.clear_chance": 0.8})


def on(day: int) -> date:
    return TODAY + timedelta(days=day)


def flush(kind: Any = "forced", **changes: Any) -> UnderWay:
    """First picked on days 1 to 10, over three days; 0.1 to 1 kg a log are still to come."""
    made: dict[str, Any] = {
        "pick": BACK + np.arange(1, 11),
        "past": BACK + np.arange(4, 14),
        "kg": np.arange(1, 11) / 10,
        "share": np.zeros((40, 10)),
    }
    return UnderWay(kind, on(-6), **(made | changes))


def stack(name: str = "A", soaks: tuple[Soak, ...] = (), *holds: Hold) -> SimpleNamespace:
    return SimpleNamespace(
        name=name,
        stack=SimpleNamespace(inoculated=date(2026, 5, 3)),
        state=StackState(name, 30, soaks=soaks),
        effective_logs=20.0,
        holds=holds,
    )


def outlook(
    *stacks: SimpleNamespace, places: int | None = None, **flushes: UnderWay
) -> SimpleNamespace:
    return SimpleNamespace(
        stacks=stacks,
        flushes=flushes,
        futures=SimpleNamespace(
            today=TODAY, lookback=BACK, date=lambda row: on(row - BACK), days=40
        ),
        yard=SimpleNamespace(units="metric", fruiting=FruitingPlaces(places=places)),
        numbers=NUMBERS,
    )


PULLED = Soak(on(-6), 24, 48.0, on(-4))


def lists(made: SimpleNamespace) -> tuple[list[Any], list[Any], list[Any]]:
    under_way, rest_ends, ready = coming(made)
    return list(under_way), list(rest_ends), list(ready)


def test_a_soak_of_the_diary_is_told_with_its_own_days_and_what_is_still_to_come() -> None:
    (entry,), rests, ready = lists(outlook(stack("A", (PULLED,)), A=flush(fails=0.2)))
    assert (rests, ready) == ([], [])
    assert (entry.stack, entry.logs, entry.hours) == ("A", 24, 48.0)
    assert (entry.soak_on, entry.pull_on, entry.clear_on) == (on(-6), on(-4), None)
    assert (entry.pick.p10, entry.pick.p50, entry.pick.p90) == (on(1), on(5), on(9))
    # Of 20 effective logs; where it comes at all it is more, a fifth of soaks failing.
    assert entry.expected_kg == pytest.approx(20 * 0.55)
    assert (entry.kg_p10, entry.kg_p90) == pytest.approx((20 * 0.1 / 0.8, 20 * 0.9 / 0.8))
    assert entry.reasons == ()


def test_members_that_bear_nothing_tell_nothing_of_the_days() -> None:
    some = np.array([0.0, 0.0, 0.3, 0.0, 0.4, 0.0, 0.5, 0.0, 0.0, 0.0])
    (entry,), _, _ = lists(outlook(stack("A", (PULLED,)), A=flush(kg=some)))
    assert (entry.pick.p10, entry.pick.p50, entry.pick.p90) == (on(3), on(5), on(7))
    assert entry.expected_kg == pytest.approx(20 * 0.12)
    # One that bears in no member is not under way, nor is a natural one the soak's.
    assert lists(outlook(stack("A", (PULLED,)), A=flush(kg=0 * some)))[0] == []
    assert lists(outlook(stack("A", (PULLED,)), A=flush("natural")))[0] == []
    assert lists(outlook(stack("A"), A=flush()))[0] == []
    assert lists(outlook(stack("A", (PULLED,)), B=flush()))[0] == []


def test_places_are_clear_again_when_eight_of_ten_are_picked_out() -> None:
    (entry,), _, _ = lists(outlook(stack("A", (PULLED,)), places=90, A=flush()))
    assert entry.clear_on == on(11)


def test_hours_that_the_diary_has_not_are_the_usual_ones() -> None:
    inside = Soak(on(0), 24, None, None)
    (entry,), _, _ = lists(outlook(stack("A", (inside,)), A=flush()))
    assert (entry.hours, entry.pull_on) == (24.0, on(1))


def test_rest_ends_with_the_last_of_what_keeps_a_stack_rested() -> None:
    def rests(*holds: Hold, soaks: tuple[Soak, ...] = (PULLED,)) -> list[tuple[str, date, str]]:
        found = lists(outlook(stack("A", soaks, *holds)))[1]
        return [(entry.stack, entry.on, entry.reason) for entry in found]

    soaked = "last soaked on Tue 27 Apr"
    for cause in ("rest", "tank", "natural rest"):
        assert rests(Hold(cause, on(40))) == [("A", on(40), soaked)]
    both = Hold("rest", on(40)), Hold("natural rest", on(50)), Hold("kept back", on(90))
    assert rests(*both) == [("A", on(50), soaked)]
    assert rests(Hold("rest", on(40)), soaks=()) == [("A", on(40), "flushed by itself")]
    # What waits for something else, or for ever, has no rest to wait for.
    for cause in ("pins", "spawn run", "first year", "kept back"):
        assert rests(Hold(cause, on(40))) == []
    assert rests(Hold("rest", on(40)), Hold("dead", None)) == []
    assert rests(Hold("rest", None)) == []


def test_young_logs_are_told_when_they_should_be_ready_and_when_they_may_be_soaked() -> None:
    def ready(*holds: Hold) -> list[tuple[date, str]]:
        found = lists(outlook(stack("A", (), *holds)))[2]
        return [(entry.on, entry.reason) for entry in found]

    run = Hold("spawn run", on(20))
    inoculated = "385 days from inoculation"
    assert ready(run) == [(on(20), inoculated)]
    assert ready(run, Hold("first year", on(20))) == [(on(20), inoculated)]
    assert ready(run, Hold("first year", on(21))) == [
        (on(20), "first soak from Mon 24 May on, a full year from inoculation")
    ]
    assert ready(Hold("spawn run", None)) == ready(Hold("first year", on(21))) == []


def test_a_flush_is_told_once_something_of_it_was_seen() -> None:
    def told(found: UnderWay) -> list[tuple[date, date]]:
        entries = flushes_under_way(outlook(stack("A", (PULLED,)), A=found))
        assert all(entry.expected_kg == pytest.approx(20 * found.kg.mean()) for entry in entries)
        assert all((entry.stack, entry.kind) == ("A", found.kind) for entry in entries)
        return [(entry.begun, entry.last) for entry in entries]

    # Eight of ten are picked out on day 10, the day before the place is clear.
    assert told(flush()) == []
    assert told(flush(picked_kg=0.1)) == told(flush("natural")) == [(on(-6), on(10))]
    over = flush("natural", pick=np.full(10, BACK - 4), past=np.full(10, BACK - 1))
    assert told(over) == [(on(-6), on(0))]
    # A tenth of a kilogram is the least that is told: of twenty logs 5 g each.
    assert told(flush("natural", kg=np.full(10, 0.0051))) != []
    assert told(flush("natural", kg=np.full(10, 0.0049))) == []
    assert flushes_under_way(outlook(stack("A"), stack("B"), B=flush("natural")))[0].stack == "B"


def test_what_was_picked_so_far_stands_beside_what_it_should_come_to() -> None:
    # Eleven members, so that a tenth and nine tenths of them lie on one each: 0.1 and 0.9.
    even = flush(picked_kg=3.0, kg=np.arange(11) / 10)
    assert so_far_words(even, 20.0, "metric") == (
        "so far 3.0 kg, in all 5.0 kg to 21.0 kg most likely",
    )
    assert so_far_words(flush(picked_kg=0.0), 20.0, "metric") == ()


def still_to_come(
    found: UnderWay, draws: tuple[float, ...] = (0.5,) * 3, days: int = 20
) -> list[tuple[int, int, float]]:
    """What three paths have of A, which take the members 0, 0 and 9; half of it can be sold."""
    paths = SimpleNamespace(
        count=3,
        under_way=np.array([0, 0, 9]),
        fails=np.full(3, 0.2),
        chances=lambda *name: np.array(draws),
    )
    walk = SimpleNamespace(outlook=outlook(stack("B"), stack("A"), A=found), paths=paths)
    walk.mine, walk.rows, walk.classes = [0, 1], {0: 0, 1: 0}, ["wide-range"]
    sold = np.full((40, 3), 0.5)
    pick_days = SimpleNamespace(today_row=BACK, days=days, share_of=lambda kind: sold)
    _, path, day, kg = _Walk._under_way(walk, pick_days)  # type: ignore[arg-type]
    return [
        (int(p), int(d), pytest.approx(float(w))) for p, d, w in zip(path, day, kg, strict=True)
    ]


def test_fresh_paths_have_what_is_still_to_come_of_flushes_from_today_on() -> None:
    share = np.zeros((40, 10))
    share[[BACK - 1, BACK, BACK + 19, BACK + 20]] = np.array([[0.1], [0.3], [0.2], [0.4]])
    found = flush("natural", share=share)
    # Member 0 brings 0.1 kg a log, member 9 ten times as much; half of 20 logs' can be sold.
    day_0, day_19 = ([(p, d, w) for p, w in enumerate((k, k, 10 * k))] for d, k in
                     ((0, 0.3), (19, 0.2)))  # fmt: skip
    assert still_to_come(found) == [*day_0, *day_19]
    assert still_to_come(found, days=19) == day_0
    assert still_to_come(found, days=40)[6:] == [(0, 20, 0.4), (1, 20, 0.4), (2, 20, 4.0)]


def test_of_soaks_without_a_mushroom_yet_some_paths_have_nothing_and_others_all() -> None:
    share = np.zeros((40, 10))
    share[BACK + 5] = 1.0
    found = flush(share=share, fails=0.2)
    # By a chance of 0.2 it fails; the members say the mean, so that the others have a quarter more.
    assert still_to_come(found, (0.19, 0.2, 0.9)) == [(1, 5, 1 / 0.8), (2, 5, 10 / 0.8)]
    assert still_to_come(flush(share=share), (0.1, 0.1, 0.1)) == [(0, 5, 1.0), (1, 5, 1.0),
                                                                  (2, 5, 10.0)]  # fmt: skip
