"""The parts that the programme's problem is made of, each worked out by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from types import SimpleNamespace

import numpy as np
import pytest

from fruitcast.forecast.past_seasons import season_grid_start
from fruitcast.forecast.typical_seasons import _next_inoculation
from fruitcast.forecast.yield_tables import SEASON_DAYS, SEASON_WEEKS, YOUNG_DAYS
from fruitcast.inoculation.build import (
    _changes,
    _costs,
    _limits,
    _scenarios,
    columns_born,
    judged_seasons,
    kind_years,
    make_pools,
    mean_cost,
    sales_of,
    weekly_capacity,
    whole_logs,
)
from fruitcast.inoculation.problem import LogKind, SaleDay, StandingLogs, Year, first_year
from fruitcast.yard.model import FruitingPlaces, Outlet
from tests.inoculation.yards import NUMBERS, sample_yard

COOL = LogKind("cold-weather", "red oak", 0.12, 1.0, "plug", cost=2.0)
WIDE = LogKind("wide-range", "red oak", 0.12, 1.0, "plug", cost=3.0)
WARM = LogKind("warm-weather", "white oak", 0.12, 1.0, "plug", cost=4.0, most_a_year=50, wood=1)
KINDS = (COOL, WIDE, WARM)


def market(target: float, weekday: int, first=(7, 1), last=(7, 14)) -> Outlet:
    return Outlet("Market", weekday, target, first, last, None, 1.0, frozenset())


def test_sales_of_one_day_add_up_and_those_before_the_wished_day_do_not_count():
    # In 2028 the first half of July has Saturdays on the 1st and 8th, a Monday on the 3rd and
    # 10th; in 2027 on the 3rd, 10th and the 5th, 12th.
    outlets = [market(2.0, 5), market(1.0, 5), market(0.5, 0)]
    sales = sales_of(outlets, date(2027, 7, 6), 2027, "north", 2)
    assert [sale.target for sale in sales] == [3.0, 0.5, 3.0, 0.5, 3.0, 0.5]
    assert [sale.season for sale in sales] == [0, 0, 1, 1, 1, 1]
    # Ten, twelve, then next year's first, third, eighth, tenth of July.
    days = np.array([sale.day % SEASON_DAYS for sale in sales])
    assert np.diff(days[:2]).tolist() == [2]
    assert np.diff(days[2:]).tolist() == [2, 5, 2]
    same_day = sales_of(outlets, date(2027, 7, 10), 2027, "north", 1)
    assert [sale.target for sale in same_day] == [3.0, 0.5]


def capacity(days=(0,), nights=1, tank=60, hours=None, count=None, places=None, standing=14):
    yard = replace(sample_yard(), fruiting=FruitingPlaces(places))
    soaking = replace(yard.soaking, days=days, tank_logs=tank, hours_a_day=hours)
    table = SimpleNamespace(
        soak_weeks=np.array([20]),
        soak_days=np.array([len(days) if count is None else count]),
        nights=np.array([nights]),
        standing=np.array([standing]),
    )
    return float(weekly_capacity(table, replace(yard, soaking=soaking), NUMBERS.work)[0])


def test_the_tank_is_filled_once_for_each_soak_day_that_finds_it_empty():
    assert capacity(days=(0,)) == 60
    assert capacity(days=(0, 3)) == 120
    assert capacity(days=(0, 1), nights=2) == 60  # Tuesday's go in beside Monday's
    assert capacity(days=(0, 2), nights=2) == 120
    assert capacity(days=(0, 6), nights=2) == 60  # Sunday's are still in on Monday
    assert capacity(days=(0, 3), count=1) == 60  # a week with one soak day only


def test_places_to_fruit_hold_the_week_s_logs_of_each_week_that_stand_at_once():
    # Two weeks at a place: those of this week and of the last; a day more, and of one day's three.
    assert capacity(places=60, standing=14, tank=1000) == 30
    assert capacity(places=60, standing=15, tank=1000) == 20
    assert capacity(places=60, standing=7, tank=1000) == 60
    # On two soak days a week, ten days each: on some days two of one and one of the other.
    assert capacity(days=(0, 3), places=60, standing=10, tank=1000) == 40
    assert capacity(places=60, standing=0, tank=1000) == 1000
    assert capacity(places=1000, standing=14) == 60


def test_hours_may_differ_by_weekday():
    soak, pull = NUMBERS.work.soak_hours_per_log, NUMBERS.work.pull_hours_per_log
    # In on Monday, out on Tuesday.
    hours = (1.0, 0.5, 0.0, 0.0, 0.0, 0.0, 0.0)
    assert capacity(hours=hours, tank=1000) == pytest.approx(min(1.0 / soak, 0.5 / pull))
    assert capacity(hours=(1.0, *6 * (0.0,)), tank=1000) == 0


def test_hands_hold_the_week_s_logs_where_they_are_fewer():
    soak, pull = NUMBERS.work.soak_hours_per_log, NUMBERS.work.pull_hours_per_log
    assert capacity(days=(0,), hours=1.0, tank=1000) == pytest.approx(1 / max(soak, pull))
    # Monday's logs come out on Tuesday, when others go in: both on one day.
    assert capacity(days=(0, 1), hours=1.0, tank=1000) == pytest.approx(2 / (soak + pull))
    # Sunday's come out on Monday.
    assert capacity(days=(0, 6), hours=1.0, tank=1000) == pytest.approx(2 / (soak + pull))
    assert capacity(days=(0,), hours=1e6) == 60


def test_pools_hold_logs_of_a_class_and_season_by_the_week_they_begin():
    standing = [
        StandingLogs("A", "wide-range", 20, (Year(0, 0, 1.0), Year(1, 0, 0.5))),
        StandingLogs("B", "wide-range", 10, (Year(0, 0, 0.6), Year(1, 0, 0.3))),
        StandingLogs("C", "wide-range", 5, (Year(0, 22, 0.8),)),
    ]
    years = ((Year(1, 18, 0.7), Year(2, 0, 1.0)), (Year(1, 0, 0.4),), ())
    pools = make_pools(standing, KINDS, years, {0: [(0, 0), (1, 1)], 1: [(0, 3), (1, 4)]})
    found = {(pool.season, pool.strain_class, pool.start_week): pool for pool in pools}
    assert list(found) == sorted(found)
    rested = found[0, "wide-range", 0]
    assert rested.standing_units == pytest.approx(20 * 1.0 + 10 * 0.6)
    assert rested.units == {}
    assert rested.logs_per_unit == pytest.approx(2 / 1.6)
    assert found[0, "wide-range", 22].standing_units == pytest.approx(5 * 0.8)
    mixed = found[1, "wide-range", 0]
    assert mixed.standing_units == pytest.approx(20 * 0.5 + 10 * 0.3)
    assert mixed.units == {1: pytest.approx(0.4)}
    assert mixed.logs_per_unit == pytest.approx(3 / 1.2)
    assert found[2, "wide-range", 0].units == {4: pytest.approx(0.4)}
    assert found[1, "cold-weather", 18].units == {0: pytest.approx(0.7)}
    assert found[2, "cold-weather", 18].units == {3: pytest.approx(0.7)}
    assert found[2, "cold-weather", 0].units == {0: pytest.approx(1.0)}
    assert not any(name == "warm-weather" for _, name, _ in found)


def test_the_last_year_s_columns_go_on_for_ever():
    assert columns_born(0, 1, 2, 3) == {}
    assert columns_born(1, 1, 2, 3) == {0: 0, 1: 1, 2: 2}
    assert columns_born(2, 1, 2, 3) == columns_born(5, 1, 2, 3) == {0: 3, 1: 4, 2: 5}


def test_seasons_are_judged_from_the_new_logs_second_year_on():
    bearing = ((Year(2, 0, 1.0), Year(3, 0, 1.0)), (), (Year(1, 0, 1.0),))
    # Inoculated in season 1, the quickest bear in season 2 and a second time in season 3.
    assert judged_seasons(1, bearing, 6).tolist() == [3, 4, 5]
    assert judged_seasons(1, bearing[:1], 6).tolist() == [4, 5]
    assert judged_seasons(5, bearing, 6).tolist() == [5]
    # Kinds that never bear count as those that bear in the season after.
    assert judged_seasons(1, ((), ()), 6).tolist() == judged_seasons(1, (), 6).tolist() == [3, 4, 5]


def test_of_logs_inoculated_for_ever_only_the_share_given_in_sight_is_paid():
    # Two years of inoculation from season 0, four seasons looked at. A log gives 1 and 3 parts
    # in its next two seasons. The last year's, season 1, gives both by season 3; season 2's
    # gives its first part, season 3's nothing: 4 + 1 of 4 parts.
    bearing = ((Year(1, 0, 0.25), Year(2, 0, 0.75)), (Year(1, 0, 1.0),), ())
    cost = _costs(KINDS, bearing, 0, 2, 4)
    assert cost[:3].tolist() == [2.0, 3.0, 4.0]
    assert cost[3] == pytest.approx(2.0 * 5 / 4)
    assert cost[4] == pytest.approx(3.0 * 2)  # two years' logs give all
    assert cost[5] == 4.0
    assert mean_cost(KINDS) == pytest.approx(3.0)
    # What a log gives in all does not matter, only the share of it.
    double = tuple(tuple(replace(year, factor=2 * year.factor) for year in run) for run in bearing)
    assert _costs(KINDS, double, 0, 2, 4) == pytest.approx(cost)
    # A single year of inoculation is paid from its first season on.
    assert _costs(KINDS, bearing, 1, 1, 4) == pytest.approx([2.0 * 5 / 4, 3.0 * 2, 4.0])


def test_each_class_is_paired_with_itself_a_year_later():
    two_cool = (COOL, WIDE, replace(COOL, tree="white oak"))
    assert _changes(two_cool, 3) == (
        ((0, 2), (3, 5)),
        ((3, 5), (6, 8)),
        ((1,), (4,)),
        ((4,), (7,)),
    )


def test_kinds_of_one_wood_share_the_logs_of_each_year():
    both = (COOL, replace(WARM, wood=2, most_a_year=7), WARM, replace(WIDE, wood=1, most_a_year=50))
    assert _limits(both, 2) == (((2, 3), 50.0), ((6, 7), 50.0), ((1,), 7.0), ((5,), 7.0))


def test_parts_of_a_log_are_rounded_up_but_crumbs_down_and_limits_kept():
    free = SimpleNamespace(most=np.array([np.inf, np.inf, 2.0]), limits=())
    assert whole_logs(np.array([3.2, 3.4, 5.0]), free).tolist() == [3, 4, 2]
    assert whole_logs(np.array([0.2, 0.0, 0.31]), free).tolist() == [0, 0, 1]
    # Rounded up to 4, 4 and 2 they are one too many for nine: the one furthest above its part goes.
    tight = SimpleNamespace(most=np.full(4, np.inf), limits=(((0, 1, 2), 9.0),))
    assert whole_logs(np.array([3.9, 3.4, 1.8, 5.0]), tight).tolist() == [4, 3, 2, 5]
    # A kind of which there are none gives up none.
    seven = SimpleNamespace(most=np.full(3, np.inf), limits=(((0, 1, 2), 7.0),))
    assert whole_logs(np.array([0.0, 3.5, 3.4]), seven).tolist() == [0, 4, 3]
    assert whole_logs(np.array([0.0, 3.5, 3.0]), seven).tolist() == [0, 4, 3]


@pytest.mark.parametrize(
    ("members", "sale_weeks", "count"),
    [
        (60, 100, 8),
        (60, 500, 6),
        (60, 5000, 4),
        (10, 100, 5),
        (3, 100, 1),
        (2, 100, 1),
        (1, 100, 1),
    ],
)
def test_every_weather_year_is_dealt_once_before_any_comes_again(members, sale_weeks, count):
    site = SimpleNamespace(seasons=SimpleNamespace(years=tuple(range(members))))
    dealt = _scenarios(6, sale_weeks, site, seed=3)
    assert [len(years) for years in dealt] == [count] * 6
    assert all(years.tolist() == sorted(set(years.tolist())) for years in dealt)
    before = members // count
    first = np.concatenate(dealt[:before])
    assert len(set(first.tolist())) == len(first)
    assert first.max() < members


def test_a_sale_stands_in_its_season():
    assert [SaleDay(day, 1.0).season for day in (0, SEASON_DAYS - 1, SEASON_DAYS)] == [0, 0, 1]


def test_young_logs_bear_when_ready_but_never_in_their_first_months(monkeypatch):
    # Ready after so many days, whatever the weather: what is looked at is the season that follows.
    inoculated = date(2027, 4, 10)
    months = int(NUMBERS.forced.first_after_days)
    learning = SimpleNamespace(of_new_logs=lambda *_: 1.0)
    site = SimpleNamespace(inoculated=inoculated, where="north", young=None, learning=learning)
    crops = {"cold-weather": 5.0, "wide-range": 5.0, "warm-weather": 5.0}
    for ready in (30, months - 20, months + 60, YOUNG_DAYS):
        monkeypatch.setattr(
            "fruitcast.inoculation.build.ready_quantiles",
            lambda *_, days=ready, **__: np.array([days]),
        )
        (found,) = kind_years((COOL,), site, crops, NUMBERS)
        if ready == YOUNG_DAYS:
            assert found == ()
            continue
        done = inoculated + timedelta(days=ready)
        soakable = inoculated + timedelta(days=months)
        begins, week = first_year(
            done, soakable, "north", late_ready_days=NUMBERS.yields.late_ready_days
        )
        assert (found[0].season, found[0].start_week) == (begins - 2027, week)
        grid = season_grid_start(begins, "north")
        if week < SEASON_WEEKS:
            assert grid + timedelta(weeks=week) >= min(max(done, soakable), grid)
            assert week == 0 or grid + timedelta(weeks=week) >= soakable


@pytest.mark.parametrize(
    ("windows", "expected"),
    [
        # Still to come; open today; closed today; past, so next year's; unknown, so next year's.
        ([((4, 1), (5, 20)), None], date(2027, 4, 1)),
        ([((2, 1), (5, 20)), None], date(2027, 3, 1)),
        ([((2, 1), (3, 1)), None], date(2027, 3, 1)),
        ([((1, 10), (2, 28)), ((3, 20), (5, 1))], date(2028, 3, 20)),
        ([None, ((3, 20), (5, 1))], date(2028, 3, 20)),
    ],
)
def test_logs_are_next_inoculated_in_the_window_that_is_not_past(windows, expected, monkeypatch):
    today = date(2027, 3, 1)

    def window(trees, *, fresh_days):
        year, days = trees
        return days and tuple(date(year, *day) for day in days)

    at = "fruitcast.forecast.typical_seasons"
    monkeypatch.setattr(f"{at}.tree_seasons", lambda runs, year, *_: (year, windows[year - 2027]))
    monkeypatch.setattr(f"{at}.inoculation_window", window)
    trees, day = _next_inoculation(None, today, 2027, "north", NUMBERS.leaf, NUMBERS.inoculation)
    assert day == expected
    assert trees[0] == expected.year


def test_where_leaf_out_cannot_be_told_logs_wait_for_next_midwinter(monkeypatch):
    at = "fruitcast.forecast.typical_seasons"
    monkeypatch.setattr(f"{at}.tree_seasons", lambda *_: None)
    monkeypatch.setattr(f"{at}.inoculation_window", lambda *_, **__: None)
    _, day = _next_inoculation(
        None, date(2027, 3, 1), 2027, "south", NUMBERS.leaf, NUMBERS.inoculation
    )
    wait = timedelta(days=int(NUMBERS.inoculation.blind_days))
    assert day == season_grid_start(2028, "south") + wait
