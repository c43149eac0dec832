"""Costs and margins on figures small enough for the margin of a page."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from fruitcast.inoculation.costs import LogCost, log_cost, money_by_year
from fruitcast.numbers import default_numbers
from fruitcast.soaks.sale_days import break_even_kg, least_soak_kg, mean_price
from fruitcast.yard.model import Costs

NUMBERS = default_numbers().with_overrides(
    {"work.soak_hours_per_log": 0.06, "work.pull_hours_per_log": 0.04}
)


def test_a_log_s_costs_add_up():
    cost = LogCost(wood=1.0, spawn=0.5, wax=0.25, inoculating=2.0, soaking=4.0, left_out=())
    assert cost.start == 3.75
    assert cost.life == 7.75


@pytest.mark.parametrize(
    ("spawn", "each", "named"),
    [("plug", 1.5, "plugs"), ("thimble", 3.0, "thimbles"), ("sawdust", 0.4, "sawdust spawn")],
)
def test_each_form_of_spawn_has_its_own_price(spawn, each, named):
    takes = SimpleNamespace(pieces=300, sawdust_kg=4.0, wax_kg=0.5, hours=5.0)
    costs = Costs(log=3.0, plug=0.05, thimble=0.1, sawdust=1.0, wax=8.0, wage=20.0)
    cost = log_cost(10, spawn, takes, 2.0, costs, NUMBERS.work)
    assert (cost.wood, cost.spawn, cost.wax) == pytest.approx((3.0, each, 0.4))
    assert cost.inoculating == pytest.approx(10.0)
    assert cost.soaking == pytest.approx(20 * 2 * 0.1)
    none = log_cost(10, spawn, takes, 2.0, Costs(), NUMBERS.work)
    assert none.left_out == ("logs", named, "wax", "wages")
    assert none.life == 0.0
    nothing = SimpleNamespace(pieces=0, sawdust_kg=0.0, wax_kg=0.0, hours=0.0)
    assert log_cost(10, spawn, nothing, 2.0, Costs(), NUMBERS.work).left_out == ("logs",)


def test_a_kilogram_that_brings_just_its_work_never_pays_for_the_log():
    costs = Costs(wage=20.0, hours_per_kg=0.5)
    assert break_even_kg(6.0, 10.0, costs) is None
    assert break_even_kg(6.0, 12.0, costs) == pytest.approx(3.0)
    assert break_even_kg(6.0, 12.0, Costs(wage=20.0)) == pytest.approx(0.5)
    # However little is left of a kilogram, it pays in the end.
    assert break_even_kg(6.0, 10.25, costs) == pytest.approx(24.0)
    assert break_even_kg(6.0, 9.75, costs) is None


def test_outlets_without_a_price_or_a_target_do_not_count_for_the_mean():
    def outlet(target: float, price: float | None) -> SimpleNamespace:
        return SimpleNamespace(target_kg=target, price_per_kg=price)

    assert mean_price((outlet(3.0, 10.0), outlet(1.0, 30.0), outlet(9.0, None))) == 15.0
    assert mean_price((outlet(0.0, 10.0), outlet(9.0, None))) is None
    assert mean_price((outlet(0.5, 10.0),)) == 10.0


def programme() -> SimpleNamespace:
    """Two seasons and two weather years; logs of two kinds are inoculated in the second season.

    In the first season 8 units of ten logs are soaked in one pool and 1 of five in another; in
    the second, 2 of ten.
    """
    table = SimpleNamespace(
        soak_weeks=np.array([20, 21]), first_soak=np.array([0, 1, 0]), inner_to=np.array([1])
    )
    pools = [
        SimpleNamespace(season=0, strain_class="wide-range", logs_per_unit=10.0),
        SimpleNamespace(season=1, strain_class="wide-range", logs_per_unit=10.0),
        SimpleNamespace(season=0, strain_class="wide-range", logs_per_unit=5.0),
    ]
    flows = [
        SimpleNamespace(first=np.array([1.0, 2.0, 3.0]), inner=np.array([2.0])),
        SimpleNamespace(first=np.array([0.0, 2.0, 0.0]), inner=np.array([0.0])),
        SimpleNamespace(first=np.array([0.0, 0.0, 0.0]), inner=np.array([1.0])),
    ]
    return SimpleNamespace(
        model=SimpleNamespace(
            sales=[SimpleNamespace(season=s) for s in (0, 0, 1)],
            seasons=2,
            pools=pools,
            tables={"wide-range": table},
        ),
        solution=SimpleNamespace(flows=flows),
        logs=np.array([[7, 9], [4, 6]]),
        climate=SimpleNamespace(now=2027),
        brought=SimpleNamespace(
            delivered=np.array([[3.0, 5.0], [1.0, 1.0], [0.0, 0.0]]),
            picked=np.array([[6.0, 10.0], [0.0, 0.0]]),
        ),
        columns_born=lambda season: {0: 2, 1: 3} if season == 1 else {},
    )


def test_a_season_s_income_and_margin():
    costs = Costs(wage=20.0, hours_per_kg=0.5)
    first, second = money_by_year(programme(), (5.0, 2.0), 30.0, costs, NUMBERS.work)
    # Sold 4 and 6 kg: 120 and 180. 85 logs soaked at 0.1 h, 8.5 h: 170; half an hour for each of
    # 6 and 10 kg: 60 and 100. Margins 120 - 230 and 180 - 270.
    assert (first.year, first.income, first.spent) == (2027, pytest.approx(150), pytest.approx(250))
    assert first.margin == pytest.approx(-100)
    assert (first.margin_p10, first.margin_p90) == (pytest.approx(-108), pytest.approx(-92))
    assert first.margin_per_kg == pytest.approx(-20)
    # Four logs at 5 and six at 2; 20 logs soaked, 2 h: 40. Nothing sold.
    assert (second.year, second.income, second.spent) == (2028, 0.0, pytest.approx(72))
    assert (second.margin_p10, second.margin, second.margin_p90) == tuple([pytest.approx(-72)] * 3)
    assert second.margin_per_kg is None


def test_without_a_wage_only_the_logs_are_paid_for():
    first, second = money_by_year(
        programme(), (5.0, 2.0), 30.0, Costs(hours_per_kg=0.5), NUMBERS.work
    )
    assert (first.spent, second.spent) == (0.0, pytest.approx(32))
    first, second = money_by_year(programme(), (5.0, 2.0), 30.0, Costs(wage=20.0), NUMBERS.work)
    assert (first.spent, second.spent) == (pytest.approx(170), pytest.approx(72))


def test_a_few_grams_sold_have_their_margin_too():
    made = programme()
    made.brought.delivered[:] = [[0.1, 0.3], [0.0, 0.0], [0.0, 0.0]]
    first, second = money_by_year(made, (0.0, 0.0), 30.0, Costs(), NUMBERS.work)
    assert (first.income, first.margin_per_kg) == (pytest.approx(6.0), pytest.approx(30.0))
    assert second.margin_per_kg is None


def test_a_soak_must_bring_more_than_the_weakest_where_its_work_costs_more():
    # An hour costs 20, a kilogram sells for 12 less half an hour's work, 2 are left; a log's soak
    # takes an hour in ten: 2, or a kilogram to sell, and of what is picked 0.8 can be sold.
    work = NUMBERS.work._replace(soak_hours_per_log=0.06, pull_hours_per_log=0.04)
    outlets = (SimpleNamespace(target_kg=1.0, price_per_kg=12.0),)

    def least(costs: Costs, weak: float = 0.06) -> float:
        return least_soak_kg(outlets, costs, saleable=0.8, weak_soak=weak, work=work)

    costs = Costs(wage=20.0, hours_per_kg=0.5)
    assert least(costs) == pytest.approx(1.0 / 0.8)
    assert least(costs, weak=1.5) == 1.5
    # Where nothing is left of a kilogram, or the wage or the price isn't known, it is the weakest.
    assert least(Costs(wage=20.0, hours_per_kg=0.6)) == 0.06
    assert least(Costs(hours_per_kg=0.5)) == least(Costs(wage=0.0)) == 0.06
    outlets = (SimpleNamespace(target_kg=1.0, price_per_kg=None),)
    assert least(costs) == 0.06
