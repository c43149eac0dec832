"""What the diary of a season says on a morning, from flushes set by hand.

The season begins on 1 May; logs are soaked for one night on day 10, and a flush is picked on days
20 and 22. The cold store keeps ten days.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from types import SimpleNamespace

import pytest

from fruitcast.diary.state import Soak, StackState, YardState
from fruitcast.hindcast.diary import SimulatedYard, SoakDone
from fruitcast.hindcast.truth import CarriedSoak, TrueFlush
from fruitcast.numbers import default_numbers
from fruitcast.soaks.problem import OutletDay
from tests.soaks.test_rules import YARD

FIRST = date(2018, 5, 1)
NUMBERS = default_numbers().with_overrides({"forced.longest_days": 30})


def on(day: int) -> date:
    return FIRST + timedelta(days=day)


def done(day: int, nights: int = 1, stack: str = "A") -> SoakDone:
    return SoakDone(stack, 24, 24.0 * nights, CarriedSoak(on(day), nights))


def picked(*picks: tuple[int, float], soak: int | None = 10, begun: int = 15) -> TrueFlush:
    days = tuple((on(day), kg) for day, kg in picks)
    return (
        TrueFlush("natural", on(begun), days)
        if soak is None
        else TrueFlush("forced", on(soak), days)
    )


def season(
    *flushes: TrueFlush,
    sales: tuple[OutletDay, ...] = (),
    stock: tuple[tuple[date, float], ...] = (),
) -> SimulatedYard:
    """Stack A has these flushes, B none; half of a forced pick can be sold, all of another."""
    states = {name: StackState(name, 30) for name in ("A", "B")}
    begin = YardState(stacks=states, lot_of={"A": "A", "B": "B"}, stock=stock)
    true = SimpleNamespace(
        outlook=SimpleNamespace(futures=SimpleNamespace(today=FIRST)),
        flushes=lambda name, soaks: flushes if name == "A" else (),
        saleable=lambda day, kind: 0.5 if kind == "forced" else 1.0,
    )
    return SimulatedYard(YARD, begin, true, 26, sales, NUMBERS)  # type: ignore[arg-type]


def state(yard: SimulatedYard, day: int, *soaks: SoakDone) -> StackState:
    return yard.state_on(soaks, {}, on(day)).stacks["A"]


@pytest.mark.parametrize("nights", [1, 2])
def test_a_soak_is_written_down_in_the_evening_and_its_pull_in_the_morning(nights: int) -> None:
    yard, soak = season(), done(10, nights)
    assert state(yard, 10, soak).soaks == ()
    for day in range(11, 11 + nights):
        (inside,) = state(yard, day, soak).soaks
        assert inside == Soak(on(10), 24, 24.0 * nights, None)
    (out,) = state(yard, 11 + nights, soak).soaks
    assert out == Soak(on(10), 24, 24.0 * nights, on(10 + nights))
    # Of the other stack nothing is said.
    assert yard.state_on([soak], {}, on(60)).stacks["B"] == StackState("B", 30)


def test_picks_are_written_down_day_by_day_and_all_of_one_day_together() -> None:
    yard = season(picked((20, 1.0), (22, 0.5)), picked((22, 0.25), soak=None))
    for day, picks in (
        (20, []),
        (21, [(20, 1.0)]),
        (22, [(20, 1.0)]),
        (23, [(20, 1.0), (22, 0.75)]),
    ):
        found = state(yard, day, done(10)).picks
        assert [(pick.on, pick.kg) for pick in found] == [(on(d), kg) for d, kg in picks]
        assert all(pick.soaked_on == on(10) for pick in found)


@pytest.mark.parametrize("nights", [1, 3])
def test_that_nothing_came_is_written_down_when_the_plan_asks_after_it(nights: int) -> None:
    # Asked the day after the longest time from the pull, and so known on the next morning.
    asked = 10 + nights + 31
    for day, said in ((asked, False), (asked + 1, True), (asked + 90, True)):
        (soak,) = state(season(), day, done(10, nights)).soaks
        assert soak.brought_nothing is said
        # One that has brought something is no failure, nor one whose flush was picked all the same.
        (bore,) = state(season(picked((20, 1.0))), day, done(10, nights)).soaks
        assert not bore.brought_nothing
        # A flush that nobody was there to pick is as good as none.
        (away,) = state(season(picked()), day, done(10, nights)).soaks
        assert away.brought_nothing is said
        # What came by itself is none of its.
        natural = season(picked((90, 1.0), soak=None, begun=10))
        assert state(natural, day, done(10, nights)).soaks[0].brought_nothing is said


def test_each_of_two_soaks_is_told_for_itself() -> None:
    yard = season(picked((85, 1.0), soak=75))
    first, second = state(yard, 160, done(75), done(10)).soaks
    assert (first.on, first.brought_nothing) == (on(10), True)
    assert (second.on, second.brought_nothing) == (on(75), False)


def test_the_cold_store_holds_what_can_be_sold_and_was_not() -> None:
    sale = OutletDay("Stall", 21, 0.3, 1.0)
    yard = season(
        picked((20, 1.0), (22, 0.5)),
        picked((22, 0.25), soak=None),
        sales=(sale, replace(sale, day=23, target=9.0)),
        stock=((on(-1), 0.4), (on(-3), 0.2)),
    )
    for day, expected in (
        (0, [(-3, 0.2), (-1, 0.4)]),
        (8, [(-1, 0.4)]),
        (20, []),
        (21, [(20, 0.5)]),
        (22, [(20, 0.2)]),
        (23, [(20, 0.2), (22, 0.5)]),
        (24, []),
    ):
        stock = yard.state_on([done(10)], {"A": on(80)}, on(day)).stock
        assert stock == tuple((on(d), pytest.approx(kg)) for d, kg in expected), day
    sold = yard.sold_by([done(10)], on(24))
    assert sold.delivered == (pytest.approx(0.3), pytest.approx(0.7))
    assert sold.expired == pytest.approx(0.6)
    # A sale on the morning's own day is not yet past.
    assert yard.sold_by([done(10)], on(23)).delivered == (pytest.approx(0.3),)


def test_the_plan_published_last_is_kept_with_the_state() -> None:
    assert season().state_on([], {"B": on(80)}, on(5)).published == {"B": on(80)}
