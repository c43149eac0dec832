"""The yard's outlook as a whole: hemispheres, seasons of the year, short weather, speed."""

from __future__ import annotations

import time
from datetime import date, timedelta

import numpy as np
import pytest

from fruitcast.diary.state import Pick, Soak, StackState, YardState
from fruitcast.errors import NoPlanError
from fruitcast.forecast.jobs import thirsty_stacks
from fruitcast.forecast.members import LEAST_MEMBERS
from fruitcast.forecast.outlook import days_ahead, outlook
from fruitcast.soaks.build import build_problem
from fruitcast.weather.daily import DailyWeather
from tests.forecast.yards import (
    NUMBERS,
    TODAY,
    UNTAUGHT,
    known,
    look,
    stack,
    yard,
    years_of_weather,
)
from tests.weather.invented import invented_weather

SHIFT = 182
"""Half a year of whole weeks: 26. [day]"""


def half_a_year_on(weather: DailyWeather) -> DailyWeather:
    """The same weather half a year later: a southern site."""
    return DailyWeather(
        weather.start + timedelta(days=SHIFT), weather.values, weather.sources, weather.origin
    )


def test_a_southern_yard_is_a_northern_one_half_a_year_on():
    shift = timedelta(days=SHIFT)
    born = date(2023, 4, 5)
    on = TODAY - timedelta(days=80)
    state = StackState(
        "A",
        24,
        soaks=(Soak(on, 24, 24.0, on + timedelta(days=1)),),
        picks=(Pick(on + timedelta(days=12), 2.0, "forced", on),),
    )
    later = StackState(
        "A",
        24,
        soaks=(Soak(on + shift, 24, 24.0, on + shift + timedelta(days=1)),),
        picks=(Pick(on + shift + timedelta(days=12), 2.0, "forced", on + shift),),
    )
    always = {
        "soaking": yard().soaking.__class__((1, 4), 60, yard().soaking.start, None, None, None)
    }
    north = look(yard(stack(inoculated=born), **always), state, learned=UNTAUGHT)
    south = look(
        yard(stack(inoculated=born + shift), latitude=-42.6, **always),
        later,
        today=TODAY + shift,
        weather=half_a_year_on(years_of_weather()),
        learned=UNTAUGHT,
    )
    a, b = north.stacks[0], south.stacks[0]
    assert a.bearing_year == b.bearing_year
    assert a.season_factors == b.season_factors
    assert abs((a.spawn.ready_on + shift - b.spawn.ready_on).days) <= 3
    assert [h.cause for h in a.holds] == [h.cause for h in b.holds]
    assert a.wear == pytest.approx(b.wear, abs=0.02)
    # The Earth is nearest to the Sun in January: the southern summer dries a little more.
    assert b.moisture == pytest.approx(a.moisture, rel=0.05)
    years = len(south.futures.years)
    first, second = (o.kinds[o.stacks[0].kind].forced for o in (north, south))
    days = [(o.pick_row - o.pull_row[:, None]).mean(axis=1)[:15] for o in (first, second)]
    assert years == len(north.futures.years)
    assert days[0] == pytest.approx(days[1], rel=0.15)


@pytest.mark.parametrize(
    "today",
    [
        date(2026, 1, 15),
        date(2026, 12, 31),
        date(2027, 1, 1),
        date(2024, 2, 29),
        date(2026, 10, 21),
    ],
)
def test_any_day_of_the_year_can_be_planned_from(today):
    rows = (
        stack("A", date(2022, 4, 5)),
        stack("B", today - timedelta(days=1)),
        stack("C", today + timedelta(days=60)),
        stack("D", date(2023, 4, 5), strain_class="cold-weather"),
    )
    weather = years_of_weather().cut(date(2011, 1, 1), today)
    for weeks in (1, 26, 52):
        outlook = look(yard(*rows), today=today, weather=weather, weeks=weeks)
        built = build_problem(outlook, weeks=weeks, seed=1, promise=0.8)
        assert outlook.futures.days == outlook.futures.lookback + days_ahead(
            weeks, tail_days=NUMBERS.schedule.tail_days
        )
        for type_arcs in built.problem.types:
            assert np.isfinite(type_arcs.crops.kg).all() and (type_arcs.crops.kg >= 0).all()
        for own in built.problem.stacks:
            assert np.isfinite(own.first.crops.kg).all()
            assert own.first.crops.day.min(initial=0) >= 0


def test_winter_brings_no_natural_flush_and_few_soaks_that_bear():
    today = date(2026, 12, 1)
    weather = years_of_weather().cut(date(2011, 1, 1), today)
    outlook = look(yard(stack(inoculated=date(2022, 4, 5))), today=today, weather=weather, weeks=8)
    logs = next(iter(outlook.kinds.values()))
    begin = outlook.futures.lookback
    end = begin + 75  # to mid-February
    first = logs.natural.pick.first_pick[logs.natural.kg > 0]
    assert not ((first >= begin + 10) & (first < end)).any()


def test_a_record_of_four_years_and_a_stack_older_than_it_are_enough():
    today = date(2015, 3, 20)
    weather = invented_weather(date(2011, 1, 1), today - timedelta(days=1), seed=5)
    row = stack(inoculated=date(2010, 4, 5))
    outlook = look(yard(row), today=today, weather=weather)
    assert len(outlook.futures.years) == LEAST_MEMBERS and outlook.futures.years[-1] < 0
    assert outlook.stacks[0].spawn.ready_on is not None  # older than the weather


def test_a_yard_without_stacks_is_told_to_list_some():
    now = known(yard())
    with pytest.raises(NoPlanError, match=r"stacks.csv lists no stacks"):
        outlook(
            yard(),
            YardState({}, {}),
            now.weather,
            TODAY,
            now.years,
            [],
            weeks=12,
            seed=1,
            numbers=NUMBERS,
        )


def test_the_same_question_gets_the_same_answer():
    one, two = (look(yard(stack(inoculated=date(2026, 5, 20)))) for _ in range(2))
    assert one.stacks[0].spawn.ready.p50 == two.stacks[0].spawn.ready.p50
    kinds = [next(iter(o.kinds.values())) for o in (one, two)]
    assert (kinds[0].forced.kg == kinds[1].forced.kg).all()


def forty_stacks():
    classes = ("wide-range", "wide-range", "warm-weather", "cold-weather")
    trees = ("red oak", "white oak", "sugar maple", "beech")
    rows = tuple(
        stack(
            f"S{n}",
            date(2021 + n % 5, 4, 5),
            strain_class=classes[n % 4],
            tree=trees[n // 4 % 4],
            diameter=(0.1, 0.125, 0.15)[n % 3],
        )
        for n in range(40)
    )
    on = [date(2026, 6, 2) + timedelta(days=7 * (n % 15)) for n in range(40)]
    states = [
        StackState(
            row.name,
            24,
            soaks=(Soak(on[n], 24, 24.0, on[n] + timedelta(days=1)),),
            picks=(Pick(on[n] + timedelta(days=10), 2.4, "forced", on[n]),),
        )
        for n, row in enumerate(rows)
        if row.inoculated.year < 2025
    ]
    return rows, states


@pytest.mark.benchmark
def test_outlook_and_problem_of_forty_stacks_are_made_within_half_a_second():
    rows, states = forty_stacks()
    made = yard(*rows)
    long_record = invented_weather(date(1990, 1, 1), date(2027, 5, 2), seed=5)
    best, parts = float("inf"), (0.0, 0.0, 0.0)
    for _ in range(4):
        begun = time.process_time()
        outlook = look(made, *states, weather=long_record, weeks=26)
        looked = time.process_time()
        build_problem(outlook, weeks=26, seed=1, promise=0.8)
        built = time.process_time()
        thirsty_stacks(outlook)
        done = time.process_time()
        if built - begun < best:
            best, parts = built - begun, (looked - begun, built - looked, done - built)
    look_ms, build_ms, water_ms = (1000 * part for part in parts)
    print(
        f"\n40 stacks, 26 weeks, {len(outlook.futures.years)} weather years: outlook "
        f"{look_ms:.0f} ms (gaps of the weather looked for again), problem {build_ms:.0f} ms, "
        f"watering {water_ms:.0f} ms of processor time"
    )
    assert best < 0.5
