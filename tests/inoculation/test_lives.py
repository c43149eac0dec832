"""Logs through their lives, season by season: hand-made programmes small enough to count."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from types import SimpleNamespace

import numpy as np
import pytest

from fruitcast.biology.yields import hemisphere, season
from fruitcast.forecast.past_seasons import season_grid_start
from fruitcast.forecast.stacks import seasons_of
from fruitcast.forecast.yield_tables import SEASON_DAYS, SEASON_WEEKS
from fruitcast.inoculation.build import columns_born
from fruitcast.inoculation.costs import life_sold_kg, priced, soaks_in_life
from fruitcast.inoculation.problem import (
    Flow,
    LogKind,
    Pool,
    SaleDay,
    StandingLogs,
    Year,
    bearing_years,
    first_year,
    standing_logs,
    worth_keeping,
)
from fruitcast.inoculation.programme import (
    logs_bearing,
    logs_per_pound,
    logs_standing,
    season_summaries,
)
from fruitcast.inoculation.solving import _next_price, _odds, class_crop
from fruitcast.units import KG_PER_LB
from tests.inoculation.small_programmes import soak_paths, table
from tests.inoculation.yards import NUMBERS, TODAY, outlook_of, sample_yard

COOL = LogKind("cold-weather", "red oak", 0.12, 1.0, "plug")
WIDE = LogKind("wide-range", "red oak", 0.12, 1.0, "plug")


def flow(first, inner=0.0):
    """Units soaked first in each of three soak weeks, and again in the last after the first."""
    return Flow(np.array(first), np.array([inner]), np.zeros(3), 0.0)


def lives() -> SimpleNamespace:
    """Two kinds inoculated in seasons 1 and 2 and ever after; one stack stands.

    The cool kind bears in its next two seasons, the wide one in its second only.
    """
    kind_years = ((Year(1, 0, 0.5), Year(2, 0, 1.0)), (Year(2, 0, 0.8),))
    logs = np.array([[10.0, 20.0], [30.0, 40.0]])
    standing = (
        StandingLogs("A", "wide-range", 50, (Year(0, 0, 1.0), Year(1, 0, 0.5))),
        StandingLogs("B", "wide-range", 7, (Year(2, 0, 1.0),)),
    )
    sales = (
        SaleDay(7 * 20, 1.0),
        SaleDay(SEASON_DAYS + 7 * 20, 2.0),
        SaleDay(SEASON_DAYS + 7 * 20 + 3, 3.0),
        SaleDay(SEASON_DAYS + 7 * 21, 5.0),
    )
    model = SimpleNamespace(
        seasons=4,
        sales=sales,
        tables={
            "cold-weather": table("cold-weather", ((1.0, 1.0),) * 3),
            "wide-range": table("wide-range", ((1.0, 1.0),) * 3),
        },
        pools=(
            Pool(1, "cold-weather", 0, 0.0, {}, 2.0),
            Pool(1, "cold-weather", 0, 0.0, {}, 1.5),
            Pool(1, "wide-range", 0, 0.0, {}, 1.25),
            Pool(0, "wide-range", 0, 0.0, {}, 9.0),
        ),
    )
    flows = (
        flow([10.0, 0.0, 5.0], 10.0),
        flow([0.0, 20.0, 0.0]),
        flow([0.0, 8.0, 0.0]),
        flow([99.0, 99.0, 99.0], 99.0),
    )
    brought = SimpleNamespace(
        delivered=np.array([[0.5, 1.0], [1.0, 2.0], [3.0, 3.0], [4.0, 5.0]]),
        picked=np.array([[2.0, 4.0], [15.0, 17.0], [0.0, 0.0], [0.0, 0.0]]),
        sold=np.array([0.75, 1.5, 3.0, 4.5]),
        met=np.array([0.5, 0.5, 1.0, 0.6]),
    )
    return SimpleNamespace(
        standing=standing,
        logs=logs,
        kinds=(COOL, WIDE),
        kind_years=kind_years,
        columns_born=lambda number: columns_born(number, 1, 2, 2),
        model=model,
        solution=SimpleNamespace(flows=flows),
        steady_season=1,
        brought=brought,
        climate=SimpleNamespace(now=2027),
        yard=SimpleNamespace(saleable=0.9),
        crops={"cold-weather": 0.4, "wide-range": 0.6},
    )


def test_every_log_is_idle_until_it_bears_and_leaves_in_its_last_season():
    found = season_summaries(lives())
    assert [s.year for s in found] == [2027, 2028, 2029, 2030]
    assert [s.inoculated_logs for s in found] == [0, 30, 70, 70]
    # A bears in seasons 0 and 1, B in 2. The cool 10 of season 1 bear in 2 and 3, the 30 of
    # season 2 from 3 on; the wide 20 of season 1 bear in season 3.
    assert [s.bearing_logs for s in found] == [50, 50, 17, 60]
    # B until season 2; new logs in their first season, the wide ones in their second too.
    assert [s.spawn_run_logs for s in found] == [7, 37, 90, 110]
    assert [s.leaving_logs for s in found] == [0, 50, 7, 30]


def test_a_season_sums_its_own_sales():
    first, second, third, _ = season_summaries(lives())
    assert (first.target_kg, second.target_kg, third.target_kg) == (1.0, 10.0, 0.0)
    assert (first.picked_kg, second.picked_kg) == (3.0, 16.0)
    assert (first.sold_kg, second.sold_kg) == (0.75, 9.0)
    # 8 and 10 kg are sold in the two weather years: 10 and 90 of 100 lie a tenth inside.
    assert (second.sold_p10_kg, second.sold_p90_kg) == pytest.approx((8.2, 9.8))
    assert first.chance == 0.5
    assert second.chance == pytest.approx(0.7)
    assert third.chance is None


def test_the_settled_yard_holds_every_age_of_the_last_year_s_logs():
    # Of the cool kind 30 of the season of inoculation and of the two in which it bears; of
    # the wide one 40 in each of three seasons, the last of which it bears in.
    assert logs_standing(lives()) == 30 * 3 + 40 * 3
    assert logs_bearing(lives()) == 30 * 2 + 40


def test_soaks_in_a_life_are_those_of_a_season_over_the_logs_that_bear():
    # Cool: 25 units of 2 logs and 20 of 1.5 are 80 logs soaked, for 60 that bear: 4/3 a year
    # over two years. Wide: 10 logs for 40, one year.
    cool, wide = soaks_in_life(lives())
    assert cool == pytest.approx(2 * 80 / 60)
    assert wide == pytest.approx(10 / 40)


def test_the_settled_yard_is_of_the_last_year_s_logs_alone():
    made = lives()
    made.logs = np.array([[10.0, 20.0], [7.0, 9.0], [30.0, 40.0]])
    assert soaks_in_life(made) == soaks_in_life(lives())
    assert logs_standing(made) == logs_standing(lives())
    assert logs_bearing(made) == logs_bearing(lives())


def test_a_class_without_bearing_logs_is_never_soaked():
    made = lives()
    made.logs = np.array([[10.0, 20.0], [0.0, 40.0]])
    assert soaks_in_life(made)[0] == 0.0


def test_a_life_sells_its_years_crops():
    assert life_sold_kg(lives()) == pytest.approx((1.5 * 0.4 * 0.9, 0.8 * 0.6 * 0.9))


def test_logs_for_a_pound_a_week_cause_by_cause():
    made = lives()
    found = logs_per_pound(made, NUMBERS.reported, flush=NUMBERS.strain("wide-range").yields.base)
    # Two weeks with sales, 10 kg wanted in them: 5 kg a week from 210 logs.
    assert (found.logs, found.weekly_kg) == (210, 5.0)
    assert found.logs_per_lb_a_week == pytest.approx(210 / (5.0 / KG_PER_LB))
    rotation, flush = NUMBERS.reported.thumb_weeks, NUMBERS.strain("wide-range").yields.base
    assert found.rule_of_thumb_with_our_flush == pytest.approx(rotation * KG_PER_LB / flush)
    units, soaks = 25 + 20 + 8, 50 + 30 + 10
    causes = {cause.cause: cause.factor for cause in found.causes}
    assert causes == pytest.approx(
        {
            "rotation": 100 * 2 / (rotation * soaks),
            "wear": soaks / units,
            "weather": flush * units * 0.9 / 16.0,
            "loss": 1 / 0.9,
            "surplus": 16.0 / 9.0,
            "short": 9.0 / 10.0,
            "spawn run": 210 / 100,
        }
    )
    assert found.rule_of_thumb_with_our_flush * np.prod(list(causes.values())) == pytest.approx(
        found.logs_per_lb_a_week
    )


def test_without_sales_logs_or_soaks_there_are_no_logs_for_a_pound():
    nothing_sold, no_logs, no_soaks = lives(), lives(), lives()
    nothing_sold.steady_season = 3
    no_logs.logs = np.zeros((2, 2))
    no_soaks.solution.flows = (flow([0.0, 0.0, 0.0]),) * 4
    for made in (nothing_sold, no_logs, no_soaks):
        assert (
            logs_per_pound(made, NUMBERS.reported, flush=NUMBERS.strain("wide-range").yields.base)
            is None
        )


def test_a_log_is_kept_past_its_best_year_until_one_would_give_too_little():
    limit = NUMBERS.yields.retire_below
    factors = np.array([0.4, 1.0, 0.8, 0.5, 0.6, 0.3])
    # A poor first year does not count; the fourth gives under the limit.
    assert worth_keeping(factors, limit / 0.55, retire_below=NUMBERS.yields.retire_below) == 3
    assert worth_keeping(factors, limit / 0.45, retire_below=NUMBERS.yields.retire_below) == 5
    assert worth_keeping(factors, limit / 0.1, retire_below=NUMBERS.yields.retire_below) == 6
    assert worth_keeping(factors, limit / 2.0, retire_below=NUMBERS.yields.retire_below) == 2
    # Just the limit is not below it.
    assert (
        worth_keeping(np.array([1.0, 0.5]), limit / 0.5, retire_below=NUMBERS.yields.retire_below)
        == 2
    )


def test_bearing_years_follow_one_another_and_only_the_first_begins_late():
    years = bearing_years(COOL, 2, 24, 1.0, NUMBERS.tree(COOL.tree), NUMBERS.yields)
    assert [year.season for year in years] == [2 + n for n in range(len(years))]
    assert [year.start_week for year in years] == [24] + [0] * (len(years) - 1)
    assert len(years) >= 3
    assert years[0].factor < max(year.factor for year in years)


@pytest.mark.parametrize("where", ["north", "south"])
@pytest.mark.parametrize(("days", "week"), [(0, 0), (1, 2), (14, 2), (15, 4), (140, 20), (141, 22)])
def test_a_young_log_bears_from_the_even_week_past_the_day_that_it_is_ready(days, week, where):
    grid = season_grid_start(2028, where)
    ready = grid + timedelta(days=days)
    assert first_year(
        ready, date(2000, 1, 1), where, late_ready_days=NUMBERS.yields.late_ready_days
    ) == (2028, week)
    assert first_year(grid, ready, where, late_ready_days=NUMBERS.yields.late_ready_days) == (
        2028,
        week,
    )


def test_a_log_soakable_only_after_its_season_bears_in_no_week_of_it():
    grid = season_grid_start(2028, "north")
    late = first_year(
        grid, grid + timedelta(days=500), "north", late_ready_days=NUMBERS.yields.late_ready_days
    )
    assert late == (2028, SEASON_WEEKS)


def test_the_next_price_is_where_the_line_through_the_last_two_meets_the_wish():
    assert _next_price([], 2.0, 0.7) == 0.7
    # One point: a usual slope of 0.8; two: their own, 0.5 here; never flatter than 0.2.
    assert _next_price([(1.0, 0.4)], 2.0, 0.7) == pytest.approx(1.0 + 1.6 / 0.8)
    assert _next_price([(1.0, 0.5), (2.0, 1.0)], 2.0, 0.7) == pytest.approx(2.0 + 1.0 / 0.5)
    assert _next_price([(1.0, 1.0), (2.0, 1.0)], 2.0, 0.7) == pytest.approx(2.0 + 1.0 / 0.2)
    # Two at about one price say nothing of the slope.
    assert _next_price([(1.0, 0.0), (1.01, 1.0)], 2.0, 0.7) == pytest.approx(1.01 + 1.0 / 0.8)


def test_odds_are_held_where_all_or_nothing_is_met():
    assert _odds(0.5) == pytest.approx(0.0)
    assert _odds(0.8) == pytest.approx(np.log(4.0))
    assert _odds(1.0) == pytest.approx(np.log(0.995 / 0.005))
    assert _odds(0.0) == pytest.approx(-_odds(1.0))


def test_standing_logs_begin_with_what_the_outlook_has_of_them():
    # Effective logs are its logs times the factor of the best season that the outlook sees.
    outlook = outlook_of(sample_yard())
    now = season(TODAY, hemisphere(outlook.yard.site.latitude))
    ahead = [seen - now for seen in seasons_of(outlook.futures, outlook.yard.site)]
    crops = dict.fromkeys(("cold-weather", "wide-range", "warm-weather"), 10.0)
    found = {stack.name: stack for stack in standing_logs(outlook, TODAY, crops)}
    assert len(found) >= 5
    for stack in outlook.stacks:
        if stack.name in found:
            years = [year for year in found[stack.name].years if year.season in ahead]
            assert max(year.factor for year in years) * stack.state.logs == pytest.approx(
                stack.effective_logs
            )
            seasons = [year.season for year in found[stack.name].years]
            assert np.diff(seasons).tolist() == [1] * (len(seasons) - 1)
            assert all(year.start_week == 0 for year in found[stack.name].years[1:])


def test_units_that_are_never_soaked_are_a_path_of_no_soaks():
    cool = table("cold-weather", ((1.0, 1.0),) * 3)
    resting = Flow(np.zeros(3), np.zeros(1), np.zeros(3), 3.0)
    assert soak_paths(cool, resting) == [(3.0, ())]
    assert soak_paths(cool, flow([0.0, 0.0, 0.0])) == []


def test_natural_crops_come_of_the_units_that_are_never_soaked():
    # Two units of one pool, three of the other, each giving 0.25 kg by itself on day 200.
    cool = table("cold-weather", ((1.0, 1.0),) * 3)
    none = np.zeros_like(cool.none)
    none[0, 200] = 0.25
    made = SimpleNamespace(
        tables={"cold-weather": replace(cool, none=none)},
        pools=tuple(Pool(1, "cold-weather", 0, 0.0, {}, 1.0) for _ in range(2)),
        members=2,
    )
    flows = tuple(Flow(np.zeros(3), np.zeros(1), np.zeros(3), units) for units in (2.0, 3.0))
    crop = class_crop(made, SimpleNamespace(flows=flows), 1, "cold-weather")
    assert crop.sum(axis=1)[200] == pytest.approx(2 * 5 * 0.25)
    assert crop.sum() == pytest.approx(2 * 5 * 0.25)
    assert class_crop(made, SimpleNamespace(flows=flows), 0, "cold-weather").sum() == 0


@pytest.mark.parametrize(
    ("start", "missing", "known"),
    [(0.4, (), True), (30.0, (), True), (0.0, (), False), (0.4, ("wage",), False)],
)
def test_logs_are_weighed_by_cost_only_where_every_price_is_known(
    start, missing, known, monkeypatch
):
    # Of the second kind every price is known and a log costs something.
    costs = {"cold-weather": (start, missing), "wide-range": (2.0, ())}

    def cost(kind, soaks, *_):
        assert soaks == 0.0
        money, lacking = costs[kind.strain_class]
        return SimpleNamespace(start=money, left_out=lacking)

    monkeypatch.setattr("fruitcast.inoculation.costs.kind_cost", cost)
    yard = SimpleNamespace(costs=SimpleNamespace(wage=20.0))
    kinds, soak = priced((COOL, WIDE), yard, "angle grinder", NUMBERS.work, NUMBERS.inoculation)
    if known:
        hours = NUMBERS.work.soak_hours_per_log + NUMBERS.work.pull_hours_per_log
        assert [kind.cost for kind in kinds] == [start, 2.0]
        assert soak == pytest.approx(20.0 * hours)
    else:
        assert kinds == (COOL, WIDE)
        assert soak is None
