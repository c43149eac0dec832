"""Money in the grower's own prices, worked by hand."""

from dataclasses import replace

import numpy as np
import pytest

from fruitcast.inoculation.costs import (
    kind_cost,
    kind_materials,
    life_sold_kg,
    log_cost,
    money_by_year,
    priced,
    soaks_in_life,
)
from fruitcast.inoculation.programme import available_kinds
from fruitcast.numbers import default_numbers
from fruitcast.soaks.sale_days import break_even_kg, least_soak_kg, mean_price
from fruitcast.yard.model import Costs, Outlet, Wood
from tests.inoculation.yards import quick, quick_kinds, quick_programme, quick_yard, sample_yard

NUMBERS = default_numbers()
COSTS = Costs(log=2.0, plug=0.03, thimble=0.05, sawdust=6.0, wax=8.0, wage=20.0, hours_per_kg=0.25)


def test_a_log_s_cost_worked_by_hand():
    kind = replace(quick_kinds()[0], spawn="plug", diameter=0.127, length=1.02)
    takes = kind_materials(kind, 100, "drill", NUMBERS.inoculation)
    cost = log_cost(100, "plug", takes, 12.0, COSTS, NUMBERS.work)
    assert cost.wood == 2.0
    assert cost.spawn == pytest.approx(takes.pieces * 0.03 / 100)
    assert cost.wax == pytest.approx(takes.wax_kg * 8 / 100)
    assert cost.inoculating == pytest.approx(takes.hours * 20 / 100)
    assert cost.soaking == pytest.approx(12 * 0.09 * 20)  # three minutes in, two and a half out
    assert cost.life == pytest.approx(cost.start + cost.soaking)
    assert cost.left_out == ()


def test_what_was_not_entered_is_left_out_and_said():
    sawdust = replace(quick_kinds()[0], spawn="sawdust")
    takes = kind_materials(sawdust, 100, "drill", NUMBERS.inoculation)
    cost = log_cost(100, "sawdust", takes, 12.0, Costs(log=2.0), NUMBERS.work)
    assert (cost.life, cost.start) == (2.0, 2.0)
    assert cost.left_out == ("sawdust spawn", "wax", "wages")
    thimbles = kind_materials(
        replace(quick_kinds()[0], spawn="thimble"), 10, "drill", NUMBERS.inoculation
    )
    assert "wax" not in log_cost(10, "thimble", thimbles, 0.0, Costs(), NUMBERS.work).left_out


def test_break_even():
    # 10 a log, 30 a kilogram of which a quarter of an hour at 20 is work: 10 / 25.
    assert break_even_kg(10.0, 30.0, COSTS) == pytest.approx(0.4)
    assert break_even_kg(10.0, 5.0, COSTS) is None
    assert break_even_kg(10.0, 30.0, Costs()) == pytest.approx(1 / 3)


def test_the_price_is_the_outlets_mean_by_target():
    outlets = sample_yard().outlets
    wanted = np.array([o.target_kg for o in outlets])
    prices = np.array([o.price_per_kg for o in outlets])
    assert mean_price(outlets) == pytest.approx((wanted * prices).sum() / wanted.sum())
    assert mean_price(tuple(replace(o, price_per_kg=None) for o in outlets)) is None


def test_each_year_s_money_adds_up():
    made = quick_programme()
    years = money_by_year(made, (5.0,), 30.0, COSTS, NUMBERS.work)
    sold_by_sale = made.brought.delivered.mean(axis=1)
    of_sale = np.array([sale.season for sale in made.model.sales])
    for year in years:
        season = year.year - made.climate.now
        born = made.columns_born(season)
        started = sum(made.logs.ravel()[column] * 5.0 for column in born.values())
        sold = sold_by_sale[of_sale == season].sum()
        assert year.income == pytest.approx(30 * sold)
        assert year.spent > started
        assert year.margin == pytest.approx(year.income - year.spent)
        assert year.margin_p10 <= year.margin <= year.margin_p90
        assert year.margin_per_kg == pytest.approx(year.margin / sold)
    free = money_by_year(made, (0.0,), 30.0, Costs(), NUMBERS.work)
    assert all(year.margin == pytest.approx(year.income) for year in free)


def test_a_wood_s_own_price_goes_before_the_general_one():
    yard = replace(quick_yard(), costs=COSTS, woods=(Wood("red oak", 0.14, 1.0, log_cost=7.0),))
    kind = quick_kinds()[0]
    assert kind_cost(kind, 0.0, yard, "drill", NUMBERS.work, NUMBERS.inoculation).wood == 7.0


def test_prices_turn_the_fewest_logs_into_the_cheapest_ones():
    yard = replace(
        quick_yard(),
        costs=COSTS,
        woods=(
            Wood("red oak", 0.14, 1.0, log_cost=40.0, strain_class="wide-range"),
            Wood("red maple", 0.14, 1.0, log_cost=1.0, strain_class="wide-range"),
        ),
    )
    kinds, soak = priced(available_kinds(yard), yard, "drill", NUMBERS.work, NUMBERS.inoculation)
    assert soak == pytest.approx(0.09 * 20)
    assert kinds[0].cost > kinds[1].cost > 1
    cheap = quick(yard, kinds=kinds, years=1, chance=0.6, soak_cost=0.0)
    few = quick(yard, kinds=available_kinds(yard), years=1, chance=0.6)
    assert cheap.logs[0, 1] > 0 and cheap.logs[0, 0] == 0  # dear oak is not worth it
    assert few.logs[0, 0] > 0 and few.logs[0, 1] == 0  # but gives most for a log
    assert cheap.logs.sum() > few.logs.sum()


def test_without_all_prices_every_log_counts_the_same():
    yard = replace(quick_yard(), costs=Costs(log=2.0))
    kinds, soak = priced(quick_kinds(), yard, "drill", NUMBERS.work, NUMBERS.inoculation)
    assert soak is None
    assert [kind.cost for kind in kinds] == [1.0] * len(kinds)


def test_soaks_and_crop_of_a_life_are_plausible():
    (soaks,), (kg,) = soaks_in_life(quick_programme()), life_sold_kg(quick_programme())
    # Two or three forced flushes a year, four at the outside (common practice).
    assert 1.5 <= soaks / len(quick_programme().kind_years[0]) <= 4
    assert 1.0 <= kg <= 3.0


def test_a_soak_must_bring_what_its_hours_are_worth_where_price_and_wage_are_known():
    def least(costs, price, saleable=0.8):
        shop = Outlet("Shop", 2, 4.0, None, None, price, 1.0, frozenset())
        return least_soak_kg(
            (shop,),
            costs,
            saleable=saleable,
            weak_soak=0.06,
            work=NUMBERS.work._replace(soak_hours_per_log=0.05, pull_hours_per_log=0.04),
        )

    # 0.09 hours at 20 are 1.80; a kilogram at 30, less an hour on it, leaves 10; of 0.225 kg picked
    # 0.18 can be sold.
    assert least(Costs(wage=20.0, hours_per_kg=1.0), 30.0) == pytest.approx(0.225)
    assert least(Costs(wage=20.0), 60.0) == 0.06  # 0.0375 kg would do
    assert least(Costs(), 30.0) == least(Costs(wage=20.0), None) == 0.06
    # A kilogram that brings less than the work on it says nothing about soaks.
    assert least(Costs(wage=20.0, hours_per_kg=2.0), 30.0) == 0.06
