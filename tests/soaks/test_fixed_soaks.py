"""Which soaks fixed by the grower a plan keeps: tank, hours, places and rules, worked by hand.

Row 10 is today, Monday 3 May; the yard soaks on Tuesdays and Fridays in a tank for 50.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fruitcast.diary.state import Soak, StackState, YardState
from fruitcast.forecast.stacks import CAUSES, Hold
from fruitcast.numbers import default_numbers
from fruitcast.soaks.soak_days import CARE, cares, fixed_dates, fixed_soaks
from fruitcast.yard.model import FruitingPlaces, Yard
from tests.soaks.test_rules import YARD

TODAY = date(2027, 5, 3)
BACK = 10
NUMBERS = default_numbers().with_overrides(
    {"work.soak_hours_per_log": 0.05, "work.pull_hours_per_log": 0.04, "forced.usual_hours": 24}
)
DAYS = (1, 4, 8, 28)
"""Soak days; logs stay in up to the second one from the first, up to the third from the second,
and for a night from the others. The last pull, on Tuesday 1 June, falls into the days away."""


def on(day: int) -> date:
    return TODAY + timedelta(days=day)


def stack(name: str, logs: int, day: int | None, **of_stack: Any) -> SimpleNamespace:
    """A stack whose next soak is fixed for a day."""
    state = StackState(
        name,
        logs,
        fixed=None if day is None else (on(day), None),
        soaks=of_stack.pop("soaks", ()),
    )
    usual = {"holds": (), "kind": "oak", "effective_logs": float(logs)}
    listed = SimpleNamespace(strain_class="wide-range")
    return SimpleNamespace(name=name, stack=listed, state=state, **(usual | of_stack))


def outlook(
    *stacks: SimpleNamespace, yard: Yard = YARD, stands: int = 20, **of_outlook: Any
) -> SimpleNamespace:
    forced = SimpleNamespace(
        pull_row=BACK + np.array([4, 8, 9, 29]),
        standing_days=lambda chance: np.full(4, stands),
        kg=of_outlook.pop("kg", np.full((4, 2), 0.1)),
        allowed=of_outlook.pop("allowed", np.ones(4, dtype=bool)),
    )
    futures = SimpleNamespace(
        today=TODAY,
        lookback=BACK,
        days=120,
        date=lambda row: on(row - BACK),
        row=lambda day: BACK + (day - TODAY).days,
    )
    made = {
        "futures": futures,
        "yard": yard,
        "numbers": NUMBERS,
        "stacks": stacks,
        "flushes": {},
        "soak_rows": BACK + np.array(DAYS),
        "kinds": {"oak": SimpleNamespace(forced=forced)},
    }
    return SimpleNamespace(**(made | of_outlook))


def becomes(*stacks: SimpleNamespace, **of_outlook: Any) -> dict[str, Any]:
    """Return, by stack, the day that is kept or what forbids it."""
    found = fixed_soaks(outlook(*stacks, **of_outlook))
    assert not set(found.kept) & set(found.refused)
    return {name: DAYS[soak] for name, soak in found.kept.items()} | found.refused


def soaking(**changes: Any) -> Yard:
    return replace(YARD, soaking=replace(YARD.soaking, **changes))


def test_what_the_grower_has_not_fixed_is_nobody_s_business() -> None:
    assert becomes(stack("A", 30, None), stack("B", 30, 4)) == {"B": 4}


def test_the_tank_is_shared_by_those_whose_nights_overlap() -> None:
    # Logs of day 1 come out on day 4, when the tank is free for others.
    full = "the tank has no room for it beside A"
    assert becomes(stack("A", 30, 1), stack("B", 20, 1)) == {"A": 1, "B": 1}
    assert becomes(stack("A", 30, 1), stack("B", 21, 1)) == {"A": 1, "B": full}
    assert becomes(stack("A", 30, 1), stack("B", 50, 4)) == {"A": 1, "B": 4}
    # One that finds no room takes none from the next; both that are there are named.
    assert becomes(*(stack(n, logs, 1) for n, logs in (("A", 30), ("B", 21), ("C", 20)))) == {
        "A": 1, "B": full, "C": 1,
    }  # fmt: skip
    assert becomes(stack("A", 30, 1), stack("B", 20, 1), stack("C", 1, 1))["C"] == f"{full} and B"
    assert becomes(stack("A", 51, 1)) == {
        "A": "its 51 logs are more than the 50 that the tank holds"
    }
    assert becomes(stack("A", 50, 1), stack("B", 50, 1)) == {"A": 1, "B": full}
    # Whoever is out by then, or goes in only when it comes out, isn't in its way.
    four = (stack("A", 30, 1), stack("B", 30, 4), stack("C", 30, 8), stack("D", 30, 4))
    assert becomes(*four)["D"] == "the tank has no room for it beside B"


@pytest.mark.parametrize(
    ("begun", "hours", "kept"),
    [
        (0, 24.0, True),  # out on day 1, before the others go in
        (0, 25.0, False),  # out on day 2
        (0, None, True),  # a usual soak of a day
        (-3, 24.0, True),  # to be pulled two days ago, and not written down yet
    ],
)
def test_logs_in_the_tank_today_hold_their_room_until_the_pull(
    begun: int, hours: float | None, kept: bool
) -> None:
    inside = stack("A", 40, None, soaks=(Soak(on(begun), 30, hours, None),))
    room = becomes(inside, stack("B", 21, 1))["B"]
    assert room == (1 if kept else "the tank has no room for it beside A")
    # Only what was soaked of it counts, and once it is out nothing of it.
    assert becomes(inside, stack("B", 20, 1)) == {"B": 1}
    out = stack("A", 40, None, soaks=(Soak(on(-1), 30, 48.0, on(0)),))
    assert becomes(out, stack("B", 50, 1)) == {"B": 1}


def test_logs_that_should_be_out_already_take_their_hours_today() -> None:
    # Pulling 30 logs takes 1.2 h, soaking 20 on day 1 an hour of that day's 1.5.
    yard = soaking(hours_a_day=1.5)
    for begun, kept in ((-3, True), (0, False)):
        inside = stack("A", 40, None, soaks=(Soak(on(begun), 30, 24.0, None),))
        assert (becomes(inside, stack("B", 20, 1), yard=yard) == {"B": 1}) is kept


def test_hours_of_the_soak_day_and_of_the_pull_s_day_must_both_suffice() -> None:
    # 30 logs go in within 1.5 h and come out within 1.2 h; Tuesday is the soak, Friday the pull.
    late = "the hours of work of the day do not suffice"

    def week(tuesday: float, friday: float) -> Yard:
        return soaking(hours_a_day=(9.0, tuesday, 9.0, 9.0, friday, 9.0, 9.0))

    for hours, expected in (
        ((1.5, 1.2), 1),
        ((1.49, 1.2), late),
        ((1.5, 1.19), late),
    ):
        assert becomes(stack("A", 30, 1), yard=week(*hours)) == {"A": expected}
    # What the first takes the second lacks, on either day.
    both = stack("A", 30, 1), stack("B", 20, 1)
    assert becomes(*both, yard=week(2.5, 2.0)) == {"A": 1, "B": 1}
    assert becomes(*both, yard=week(2.49, 2.0)) == {"A": 1, "B": late}
    assert becomes(*both, yard=week(2.5, 1.99)) == {"A": 1, "B": late}


def test_pulling_what_is_in_the_tank_today_takes_hours_of_that_day() -> None:
    # Of A 20 logs come out on Tuesday, day 1: 0.8 h. B's 20 logs go in within 1 h.
    inside = stack("A", 40, None, soaks=(Soak(on(0), 20, 24.0, None),))
    for hours, expected in (
        (1.8, 1),
        (1.79, "the hours of work of the day do not suffice"),
    ):
        yard = soaking(hours_a_day=(9.0, hours, 9.0, 9.0, 9.0, 9.0, 9.0))
        assert becomes(inside, stack("B", 20, 1), yard=yard) == {"B": expected}
        # A pull that is overdue is today's work.
        late = stack("A", 40, None, soaks=(Soak(on(-3), 20, 24.0, None),))
        assert becomes(late, stack("B", 20, 1), yard=yard) == {"B": 1}


def test_places_to_fruit_are_taken_from_the_pull_to_the_last_pick() -> None:
    none = "no places to fruit are left for it then"

    def places(count: int) -> Yard:
        return replace(YARD, fruiting=FruitingPlaces(places=count))

    # A stands from day 4 on, B would from day 8 on.
    both = stack("A", 30, 1), stack("B", 20, 4)
    assert becomes(*both, yard=places(50)) == {"A": 1, "B": 4}
    assert becomes(*both, yard=places(49)) == {"A": 1, "B": none}
    for days, expected in ((4, 4), (5, none)):
        assert becomes(*both, yard=places(30), stands=days)["B"] == expected
    assert becomes(both[1], both[0], yard=places(30), stands=4) == {"B": 4, "A": 1}
    # A forced flush under way stands until it is clear; a natural one stays where it is.
    wet = stack("A", 30, None, soaks=(Soak(on(-9), 30, 24.0, on(-8)),))
    for kind, clear, expected in (
        ("forced", BACK + 8, 4),
        ("forced", BACK + 9, none),
        ("natural", BACK + 9, 4),
    ):
        flush = SimpleNamespace(kind=kind, clear_row=lambda chance, clear=clear: clear)
        found = becomes(wet, stack("B", 21, 4), yard=places(50), flushes={"A": flush})
        assert found == {"B": expected}
    # Logs in the tank stand from their pull on.
    inside = stack("A", 30, None, soaks=(Soak(on(0), 30, 24.0, None),))
    flush = SimpleNamespace(kind="forced", clear_row=lambda chance: BACK + 9)
    found = becomes(inside, stack("B", 21, 4), yard=places(50), flushes={"A": flush})
    assert found == {"B": none}


@pytest.mark.parametrize("cause", CAUSES)
def test_a_hold_forbids_unless_it_is_care_alone_or_over_by_then(cause: str) -> None:
    for until, over in ((on(4), True), (on(5), False), (None, False)):
        hold = Hold(cause, until)
        expected = 4 if over or cause in CARE else hold
        assert becomes(stack("A", 30, 4, holds=(hold,))) == {"A": expected}


def test_the_first_hold_that_is_more_than_care_is_told() -> None:
    holds = (Hold("rest", on(60)), Hold("tank", on(2)), Hold("pins", on(30)), Hold("dead", None))
    assert becomes(stack("A", 30, 4, holds=holds)) == {"A": holds[2]}


def test_each_rule_against_a_day_is_told_in_its_words() -> None:
    away = replace(YARD, away=(*YARD.away, replace(YARD.away[0], first=on(4), last=on(4))))
    assert becomes(stack("A", 30, 4), yard=away) == {"A": "you are away on that day"}
    assert becomes(stack("A", 30, 28)) == {"A": "you are away on the day of the pull"}
    assert becomes(stack("A", 30, 29)) == {"A": "you are away on that day"}
    assert becomes(stack("A", 30, 80)) == {"A": "the day lies beyond the plan's weeks"}
    nothing = "nothing would come of it in any of the weather years"
    barren = np.array([[0.1, 0.1], [0.0, 0.0], [0.0, 0.1], [0.1, 0.1]])
    for day, expected in ((1, 1), (4, nothing), (8, 8)):
        assert becomes(stack("A", 30, day), kg=barren) == {"A": expected}
    assert becomes(stack("A", 30, 4, effective_logs=0.0)) == {"A": nothing}


def test_days_that_are_none_of_the_yard_s_own_are_marked() -> None:
    # Wednesday 5 May is fixed for A alone.
    rows = BACK + np.array([1, 2, 8, 28])
    found = fixed_soaks(outlook(stack("A", 30, 2), soak_rows=rows))
    assert found.kept == {"A": 1}
    assert found.unusual.tolist() == [False, True, False, True]  # day 28 is a Monday


def test_logs_that_turn_out_barren_lose_their_day_and_the_others_keep_theirs() -> None:
    found = fixed_soaks(outlook(stack("A", 30, 1), stack("B", 50, 4), stack("C", 60, 8)))
    less = found.without(["B"])
    assert less.kept == {"A": 0}
    assert less.refused == {
        **found.refused,
        "B": "its logs are not expected to bear then",
    }
    assert found.without([]) == found


def test_a_grower_is_asked_about_what_is_care_alone() -> None:
    held = stack("A", 30, 4, holds=(Hold("natural rest", on(5)),))
    rests = "A rests until Sat 8 May after it flushed by itself"
    poorly = "Wide-range logs answer a soak poorly in summer and in the warmth: little may come"
    seldom = "In most weather years nothing would come of it"
    # Half of the years is not most of them; what the class refuses is said before the weather.
    kg = np.array([[0.1, 0.1], [0.0, 0.0], [0.0, 0.1], [0.0, 0.0]])
    made = outlook(held, kg=kg, allowed=np.array([True, True, True, False]))
    assert [cares(held, soak, made) for soak in range(4)] == [
        [rests],
        [rests, seldom],
        [],
        [poorly, "Mon 31 May is none of the soak days in yard.toml"],
    ]
    for hold in (Hold("natural rest", on(4)), Hold("rest", on(60)), Hold("natural rest", None)):
        assert cares(stack("A", 30, 4, holds=(hold,)), 1, outlook()) == []


def test_fixed_days_from_today_to_the_last_one_are_soak_days_unless_one_is_away() -> None:
    days = (-1, 0, 2, 10, 11, 29)
    stacks = {str(day): stack(str(day), 9, day).state for day in days} | {"X": StackState("X", 9)}
    state = YardState(stacks=stacks, lot_of={name: name for name in stacks})
    assert fixed_dates(YARD, state, TODAY, on(10)) == {on(0), on(2), on(10)}
    # Day 29 is the first of June, when nobody is there.
    assert fixed_dates(YARD, state, TODAY, on(40)) == {on(0), on(2), on(10), on(11)}
