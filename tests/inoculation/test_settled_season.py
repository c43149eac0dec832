"""Logs for a pound a week, soaks and crop of a life, from a settled season set by hand.

The last year's logs, 4 of one kind and 6 of another, are inoculated ever after. The first bear in
the first and second season after it, the others in the second alone: 30 logs stand, 14 bear.
"""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fruitcast.forecast.yield_tables import SEASON_DAYS
from fruitcast.inoculation.costs import life_sold_kg, soaks_in_life
from fruitcast.inoculation.problem import SaleDay, Year
from fruitcast.inoculation.programme import logs_bearing, logs_per_pound, logs_standing
from fruitcast.inoculation.solving import weekly_sales
from fruitcast.numbers import default_numbers
from fruitcast.units import KG_PER_LB

REPORTED = default_numbers().reported._replace(
    thumb_low=10.0, thumb_high=20.0, thumb_weeks=8.0, farm_low=30.0, farm_high=60.0
)
WIDE, COLD = "wide-range", "cold-weather"


def pool(season: int, strain_class: str, logs_per_unit: float) -> SimpleNamespace:
    return SimpleNamespace(season=season, strain_class=strain_class, logs_per_unit=logs_per_unit)


def flow(first: float, inner: float) -> SimpleNamespace:
    return SimpleNamespace(first=np.array([first, 0.0]), inner=np.array([inner]))


def sale(day: int, target: float) -> SimpleNamespace:
    return SimpleNamespace(season=day // SEASON_DAYS, day=day, target=target)


def settled(**changes: Any) -> Any:
    """Two weeks with sales in the settled season, 3 kg in all, of which 2.4 kg are sold."""
    table = SimpleNamespace(
        soak_weeks=np.array([20, 21]), first_soak=np.array([0, 1]), inner_to=np.array([1])
    )
    begin = SEASON_DAYS
    made: dict[str, Any] = {
        "kinds": (SimpleNamespace(strain_class=WIDE), SimpleNamespace(strain_class=COLD)),
        "kind_years": ((Year(1, 0, 1.0), Year(2, 0, 0.5)), (Year(2, 0, 0.8),)),
        "logs": np.array([[90, 70], [4, 6]]),
        "steady_season": 1,
        "model": SimpleNamespace(
            sales=[sale(9, 7.0), sale(begin + 142, 1.0), sale(begin + 145, 0.5),
                   sale(begin + 149, 1.5)],
            pools=[pool(0, WIDE, 9.0), pool(1, WIDE, 1.25), pool(1, COLD, 2.0)],
            tables={WIDE: table, COLD: table},
        ),
        "solution": SimpleNamespace(flows=[flow(50.0, 60.0), flow(5.0, 3.0), flow(1.0, 0.0)]),
        "brought": SimpleNamespace(
            sold=np.array([7.0, 1.0, 0.4, 1.0]), picked=np.array([[90.0, 80.0], [3.0, 5.0]])
        ),
        "yard": SimpleNamespace(saleable=0.8),
        "crops": {WIDE: 0.5, COLD: 0.25},
    }  # fmt: skip
    return SimpleNamespace(**(made | changes))


def test_logs_that_stand_are_those_of_every_age_and_those_that_bear_of_every_bearing_year() -> None:
    assert logs_standing(settled()) == 4 * 3 + 6 * 3
    assert logs_bearing(settled()) == 4 * 2 + 6
    # A kind that never bears stands for nothing.
    never = settled(kind_years=(settled().kind_years[0], ()))
    assert (logs_standing(never), logs_bearing(never)) == (12, 8)


def test_why_it_takes_more_logs_than_by_the_rule_of_thumb() -> None:
    found = logs_per_pound(settled(), REPORTED, flush=0.2)
    assert found is not None
    assert (found.logs, found.weekly_kg) == (30, pytest.approx(1.5))
    assert found.logs_per_lb_a_week == pytest.approx(30 / (1.5 / KG_PER_LB))
    # Soaked every eight weeks a log gives an eighth of its flush a week.
    assert found.rule_of_thumb_with_our_flush == pytest.approx(KG_PER_LB / (0.2 / 8))
    assert (found.rule_of_thumb, found.whole_farms) == ((10.0, 20.0), (30.0, 60.0))
    factors = {cause.cause: cause.factor for cause in found.causes}
    # Eight units of 1.25 logs and one of two logs are soaked: 9 units, 12 logs. The 14 logs that
    # bear would be soaked 3.5 times in these two weeks by the rule.
    assert factors == {
        "rotation": pytest.approx(14 * 2 / 8 / 12),
        "wear": pytest.approx(12 / 9),
        "weather": pytest.approx(9 * 0.2 * 0.8 / 4.0),  # of 9 units' flushes 4 kg are picked
        "loss": pytest.approx(1 / 0.8),
        "surplus": pytest.approx(4.0 / 2.4),
        "short": pytest.approx(2.4 / 3.0),
        "spawn run": pytest.approx(30 / 14),
    }
    assert found.rule_of_thumb_with_our_flush * np.prod(list(factors.values())) == pytest.approx(
        found.logs_per_lb_a_week
    )


def test_without_sales_logs_soaks_or_crop_nothing_is_said() -> None:
    usual = settled()
    early = SimpleNamespace(**{**vars(usual.model), "sales": usual.model.sales[:1]})
    none = np.zeros((2, 2))
    for changes in (
        {"model": early},
        {"logs": np.array([[4, 6], [0, 0]])},
        {"solution": SimpleNamespace(flows=[flow(50.0, 60.0), flow(0.0, 0.0), flow(0.0, 0.0)])},
        {"brought": SimpleNamespace(sold=usual.brought.sold, picked=none)},
        {"brought": SimpleNamespace(sold=np.zeros(4), picked=usual.brought.picked)},
    ):
        assert logs_per_pound(settled(**changes), REPORTED, flush=0.2) is None


def test_soaks_of_a_life_are_the_class_s_soaks_over_its_bearing_logs_times_bearing_years() -> None:
    # Ten logs' soaks a season among 8 bearing logs, two years each; two among 6, one year each.
    assert soaks_in_life(settled()) == pytest.approx((2 * 10 / 8, 1 * 2 / 6))
    both = (SimpleNamespace(strain_class=WIDE),) * 2
    # Of one class they share its soaks by the years in which they bear.
    assert soaks_in_life(settled(kinds=both)) == pytest.approx((2 * 10 / 14, 10 / 14))
    assert soaks_in_life(settled(logs=np.array([[4, 6], [0, 6]]))) == pytest.approx((0.0, 2 / 6))


def test_what_a_life_gives_to_sell_is_its_years_factors_times_its_class_s_crop() -> None:
    assert life_sold_kg(settled()) == pytest.approx((1.5 * 0.5 * 0.8, 0.8 * 0.25 * 0.8))
    never = settled(kind_years=((), settled().kind_years[1]))
    assert life_sold_kg(never)[0] == 0.0


def test_a_week_s_sales_are_one_on_its_last_day_where_mushrooms_keep_a_week() -> None:
    sales = (SaleDay(7, 1.0), SaleDay(9, 2.0), SaleDay(13, 4.0), SaleDay(14, 8.0), SaleDay(21, 1.0))
    assert weekly_sales(sales, 6) == sales
    together = (SaleDay(13, 7.0), SaleDay(14, 8.0), SaleDay(21, 1.0))
    assert weekly_sales(sales, 7) == together == weekly_sales(sales, 12)
    assert weekly_sales((), 9) == ()
    assert weekly_sales(tuple(replace(one, target=0.5) for one in sales), 7)[0].target == 1.5
