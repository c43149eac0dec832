"""One stack's part of the problem, and what a problem says of itself, worked by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from types import SimpleNamespace

import numpy as np
import pytest

from fruitcast.diary.state import Soak
from fruitcast.forecast.log_weather import LogKind
from fruitcast.forecast.stacks import Hold
from fruitcast.forecast.under_way import UnderWay
from fruitcast.numbers import default_numbers
from fruitcast.soaks.build import (
    _factor_on,
    _kept_back_alone,
    _published_row,
    _season_on,
    _sharing,
    _stack_problem,
    _types,
)
from fruitcast.soaks.problem import FirstArcs, OutletDay, StackProblem
from fruitcast.soaks.soak_days import Fixed
from tests.soaks.hand import hand_problem, table

NUMBERS = default_numbers()
TODAY = date(2027, 5, 3)
FIRST = FirstArcs(np.array([0]), table(), table())


def on(day: int) -> date:
    return TODAY + timedelta(days=day)


def stack_problem(
    last: Soak | None = None,
    published: dict[str, date] | None = None,
    soakable_from: date | None = TODAY,
    unplanned: tuple[str, ...] = (),
    flush: SimpleNamespace | None = None,
    places: int | None = 80,
) -> StackProblem:
    stack = SimpleNamespace(
        name="A",
        effective_logs=22.5,
        state=SimpleNamespace(last_soak=last, logs=24, soaking_logs=24),
        soakable_from=soakable_from,
    )
    state = SimpleNamespace(published=published or {}, unplanned=frozenset(unplanned))
    futures = SimpleNamespace(today=TODAY, lookback=100)
    flushes = {} if flush is None else {"A": flush}
    yard = SimpleNamespace(fruiting=SimpleNamespace(places=places))
    outlook = SimpleNamespace(
        yard=yard, futures=futures, state=state, flushes=flushes, numbers=NUMBERS
    )
    return _stack_problem(outlook, stack, 3, FIRST, 1.75, 12, handling=0.0, must=None)


def test_a_stack_s_own_figures():
    made = stack_problem()
    assert (made.name, made.logs, made.type_index, made.effective_logs) == ("A", 24, 3, 22.5)
    assert (made.end_flush, made.first) == (1.75, FIRST)
    assert (made.published, made.was_published, made.fixed_nights) == (None, False, 0)


def test_logs_in_the_water_stay_until_their_pull():
    # In since yesterday: for a day at the usual hours, for two at 48, for longer than thought.
    for hours, began, nights in (
        (None, 0, 1),
        (48.0, -1, 1),
        (48.0, 0, 2),
        (25.0, 0, 2),
        (24.0, -5, 0),
    ):
        made = stack_problem(Soak(on(began), 24, hours, None))
        assert made.fixed_nights == nights
        assert made.rested_from == began
    assert stack_problem(Soak(on(-1), 24, 48.0, on(1))).fixed_nights == 0  # pulled already


def test_logs_that_fruit_stay_until_their_last_pick():
    # The last is picked on day 8 in four of five weather years that have it: free from day 9 on.
    def forced(kind="forced"):
        past = np.array([105, 106, 107, 109, 115, 130])
        kg = np.array([0.1, 0.1, 0.1, 0.1, 0.1, 0.0])
        flush = UnderWay(kind, on(-9), past - 3, past, kg, np.zeros((1, 6)))
        return SimpleNamespace(kind=kind, clear_row=flush.clear_row)

    pulled = Soak(on(-9), 24, 24.0, on(-8))
    assert stack_problem(pulled, flush=forced()).fixed_standing == 9
    assert stack_problem(pulled, flush=forced(), places=None).fixed_standing == 0
    wet = stack_problem(Soak(on(0), 24, 48.0, None), flush=forced())
    assert (wet.fixed_nights, wet.fixed_standing) == (2, 7)
    # Natural flushes come where the logs lie.
    assert stack_problem(pulled, flush=forced("natural")).fixed_standing == 0
    assert stack_problem(pulled).fixed_standing == 0


def test_rest_counts_from_the_last_soak_or_from_the_day_of_being_ready():
    assert stack_problem(Soak(on(-40), 24, 24.0, on(-39))).rested_from == -40
    assert stack_problem(soakable_from=on(30)).rested_from == 30
    assert stack_problem(soakable_from=on(-63)).rested_from == -63
    assert stack_problem(soakable_from=on(-64)).rested_from == -63
    assert stack_problem(soakable_from=date.min).rested_from == -63
    # Not ready within the days looked at: no rest at the end of twelve weeks.
    assert stack_problem(soakable_from=None).rested_from > 12 * 7


def test_what_was_published_is_known_of_every_stack_of_that_plan():
    made = stack_problem(published={"A": on(8), "B": on(9)})
    assert (made.published, made.was_published) == (8, True)
    made = stack_problem(published={"B": on(9)})
    assert (made.published, made.was_published) == (None, True)
    made = stack_problem(published={"B": on(9)}, unplanned=("A", "C"))
    assert (made.published, made.was_published) == (None, False)
    assert stack_problem(published={"A": on(8)}, unplanned=("C",)).was_published


def outlook_of(
    days: int, latitude: float = 42.6, today: date = date(2027, 10, 1)
) -> SimpleNamespace:
    futures = SimpleNamespace(
        today=today,
        lookback=10,
        days=10 + days,
        date=lambda row: today + timedelta(days=row - 10),
        row=lambda day: 10 + (day - today).days,
    )
    return SimpleNamespace(
        futures=futures,
        yard=SimpleNamespace(site=SimpleNamespace(latitude=latitude)),
        parts=SimpleNamespace(by_season=np.ones(3)),
    )


@pytest.mark.parametrize(
    ("day", "factor"), [(0, 1.0), (91, 1.0), (92, 0.8), (457, 0.8), (458, 0.3)]
)
def test_a_day_s_bearing_year_is_that_of_its_season(day, factor):
    # Seasons turn on 1 January, 92 days from 1 October, and 366 later. Of the days looked at the
    # last 45 do not count.
    stack = SimpleNamespace(season_factors=(1.0, 0.8), later=0.3)
    outlook = outlook_of(200)
    assert _factor_on(stack, _season_on(day, outlook), outlook) == factor


def test_a_season_s_own_yield_counts_and_the_last_one_stands_for_those_after_it():
    stack = SimpleNamespace(season_factors=(1.0, 0.8), later=0.5)
    outlook = outlook_of(200)
    outlook.parts = SimpleNamespace(by_season=np.array([0.9, 0.75]))
    factors = [_factor_on(stack, place, outlook) for place in range(4)]
    assert factors == pytest.approx([1.0 * 0.9, 0.8 * 0.75, 0.5 * 0.75, 0.5 * 0.75])


def test_in_the_south_seasons_turn_in_midyear():
    stack = SimpleNamespace(season_factors=(1.0, 0.8), later=0.3)
    south = outlook_of(400, latitude=-33.0)
    # 1 July 2028 is 274 days from 1 October 2027.
    seasons = [_season_on(day, south) for day in (0, 273, 274)]
    assert [_factor_on(stack, place, south) for place in seasons] == [1.0, 1.0, 0.8]


def test_stacks_of_one_kind_and_course_share_a_type_in_the_order_of_the_yard():
    thin, thick = LogKind("wide-range", 0.1), LogKind("wide-range", 0.15)
    stacks = [
        SimpleNamespace(kind=kind, season_factors=course)
        for kind, course in (
            (thin, (1.0, 0.5)),
            (thick, (1.0, 0.5)),
            (thin, (1.0, 0.5)),
            (thin, (0.5, 1.0)),
        )
    ]
    assert _types(tuple(stacks)) == {thin: [[0, 2], [3]], thick: [[1]]}


def sharing(
    *stacks: tuple[float, int], groups: list[list[int]], least: float = 0.5
) -> list[tuple[list[int], list[float], list[bool]]]:
    """Which of some stacks, (effective logs, logs), go together, by arcs of 1, 0.55 and 0.3 kg."""
    expected = np.array([1.0, 0.55, 0.3])
    arcs = SimpleNamespace(
        brings_at_least=lambda course, scale, least: expected * course[0] * scale >= least
    )
    outlook = SimpleNamespace(
        stacks=[
            SimpleNamespace(
                effective_logs=own,
                state=SimpleNamespace(logs=logs),
                season_factors=(1.0, 0.8) if n in groups[0] else (0.4, 1.0),
            )
            for n, (own, logs) in enumerate(stacks)
        ]
    )
    found = _sharing(arcs, groups, outlook, np.array([0, 0, 1]), least)
    return [(alike, course.tolist(), kept.tolist()) for alike, course, kept in found]


def test_stacks_of_about_one_yield_a_log_go_by_what_the_poorest_of_them_gives():
    rich, poor = (20.0, 20), (18.0, 20)
    course = [1.0, 1.0, 0.8]
    # At 0.9 of a log's yield the second arc brings 0.495 kg: too little, for the rich one as well.
    assert sharing(rich, poor, groups=[[0, 1]]) == [([0, 1], course, [True, False, False])]
    assert sharing(rich, groups=[[0]]) == [([0], course, [True, True, False])]
    # A stack that gives half goes by itself, to which the first arc alone is worth it.
    half = (10.0, 20)
    assert sharing(half, rich, groups=[[0, 1]]) == [
        ([0], course, [True, False, False]),
        ([1], course, [True, True, False]),
    ]
    # What is worth the same arcs is one type, whatever it gives, in the order of the yard.
    assert sharing(rich, half, poor, groups=[[0, 1, 2]]) == [
        ([0, 1, 2], course, [True, False, False])
    ]
    # Logs that bear nothing, or none at all, are worth none.
    assert sharing((0.0, 20), rich, (0.0, 0), groups=[[0, 1, 2]]) == [
        ([0, 2], course, [False, False, False]),
        ([1], course, [True, True, False]),
    ]


def test_stacks_of_other_bearing_years_share_nothing():
    rich = (20.0, 20)
    assert sharing(rich, rich, rich, groups=[[0, 2], [1]], least=0.35) == [
        ([0, 2], [1.0, 1.0, 0.8], [True, True, False]),
        ([1], [0.4, 0.4, 1.0], [True, False, False]),
    ]


@pytest.mark.parametrize(
    ("holds", "alone"),
    [
        ((), False),
        ((("kept back", None),), True),
        ((("kept back", 99),), True),
        ((("rest", 20),), False),
        # What else there is must be over by day 30, all of it.
        ((("kept back", None), ("rest", 30)), True),
        ((("rest", 20), ("kept back", None), ("first year", 30)), True),
        ((("kept back", None), ("rest", 31)), False),
        ((("kept back", None), ("rest", 20), ("first year", 31)), False),
        ((("kept back", None), ("rest", 20), ("dead", None)), False),
    ],
)
def test_a_stack_bears_as_ever_where_only_the_grower_keeps_it_back(holds, alone):
    told = [Hold(cause, None if day is None else on(day)) for cause, day in holds]
    assert _kept_back_alone(SimpleNamespace(holds=told), on(30)) is alone


def test_the_next_soak_that_stands_is_the_fixed_one_or_else_the_published_one():
    outlook = SimpleNamespace(
        soak_rows=np.array([103, 110, 117]),
        state=SimpleNamespace(published={"A": on(17), "B": on(10)}),
        futures=SimpleNamespace(row=lambda day: 100 + (day - TODAY).days),
    )
    fixed = Fixed({"A": 1}, {"B": "the tank is full"}, np.zeros(3, dtype=bool))
    rows = [_published_row(outlook, SimpleNamespace(name=name), fixed) for name in "ABC"]
    assert rows == [110, 110, -1]


def test_a_problem_counts_its_days_and_what_is_wanted_within_the_horizon():
    problem = replace(
        hand_problem(),
        outlets=tuple(
            OutletDay("Stall", day, kg, 1.0)
            for day, kg in ((0, 1.0), (83, 2.0), (84, 4.0), (90, 8.0))
        ),
    )
    assert (problem.members, problem.horizon_days, problem.days) == (2, 84, 119)
    assert problem.demand == 3.0
