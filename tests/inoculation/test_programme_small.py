"""The linear program of inoculations against looking at every possibility."""

from dataclasses import replace

import numpy as np
import pytest

from fruitcast.inoculation.problem import SaleDay, soaked_units
from fruitcast.inoculation.solving import (
    ProgrammeProgram,
    deliveries,
    share_met,
    smallest_programme,
    weekly_sales,
)
from tests.inoculation.small_programmes import Small, soak_paths

COOL = ((0.3, 0.25), (0.05, 0.0), (0.35, 0.2))
WARM = ((0.1, 0.05), (0.3, 0.35), (0.1, 0.2))

SMALL = {
    "one season": Small({"a": COOL, "b": WARM}, 0.7, ((0.6, 0.5, 0.6),), 3.0, (1.0, 1.0)),
    "dear logs": Small({"a": COOL, "b": WARM}, 0.7, ((0.6, 0.5, 0.6),), 3.0, (1.0, 2.5)),
    "small tank": Small({"a": COOL, "b": WARM}, 0.7, ((0.6, 0.5, 0.6),), 1.0, (1.0, 1.0)),
    "some stand": Small({"a": COOL, "b": WARM}, 0.7, ((0.6, 0.5, 0.6),), 3.0, (1.0, 1.0), 2),
    "two seasons": Small(
        {"a": COOL, "b": WARM}, 0.8, ((0.3, 0.3, 0.3), (0.6, 0.3, 0.6)), 2.0, (1.0, 1.1), most=3
    ),
}


@pytest.mark.parametrize("price", [2.0, 6.0])
@pytest.mark.parametrize("name", list(SMALL))
def test_whole_numbers_are_the_best_of_all_and_the_relaxation_bounds_them(name, price):
    small = SMALL[name]
    least, logs = small.best_by_looking(price)
    program = ProgrammeProgram(small.model())
    whole = program.solve(price, whole=True)
    assert whole.objective == pytest.approx(least, abs=1e-6)
    relaxed = program.solve(price)
    assert relaxed.objective <= least + 1e-6
    # Logs rounded up, as the programme does, with the soaks free: no worse than a log or two.
    rounded = program.solve(price, logs=np.ceil(relaxed.logs - 1e-6))
    assert relaxed.objective - 1e-6 <= rounded.objective <= least + small.years * max(small.cost)
    at_best = program.solve(price, logs=np.ravel(logs).astype(float))
    assert at_best.objective <= least + 1e-6  # parts of logs may be soaked


def test_each_class_is_soaked_in_its_season():
    small = SMALL["one season"]
    program = ProgrammeProgram(small.model())
    solution = program.solve(6.0)
    cool, warm = (
        soaked_units(program.model, pool, flow)
        for pool, flow in zip(program.model.pools, solution.flows, strict=True)
    )
    assert cool[1] < 1e-6 < warm[1]
    assert cool[[0, 2]].min() > 0


def test_paths_carry_the_whole_flow():
    small = SMALL["two seasons"]
    model = small.model()
    solution = ProgrammeProgram(model).solve(6.0)
    for pool, flow in zip(model.pools, solution.flows, strict=True):
        paths = soak_paths(model.tables[pool.strain_class], flow)
        fed = sum(units * solution.logs[column] for column, units in pool.units.items())
        assert sum(units for units, _ in paths) == pytest.approx(
            fed + pool.standing_units, abs=1e-4
        )
        weeks = model.tables[pool.strain_class].soak_weeks.tolist()
        again = np.zeros(len(weeks))
        for units, path in paths:
            for week in path:
                again[weeks.index(week)] += units
        assert again == pytest.approx(soaked_units(model, pool, flow), abs=1e-4)


def test_what_is_sold_adds_up_with_what_is_short():
    small = SMALL["one season"]
    program = ProgrammeProgram(small.model())
    solution = program.solve(6.0)
    brought = deliveries(program.model, solution)
    wanted = sum(sale.target for sale in program.model.sales)
    assert brought.sold.sum() + solution.shortfall.sum() == pytest.approx(wanted, abs=1e-3)


def test_a_higher_price_buys_more_logs_and_more_sales_met():
    # All scenarios judge here, as there are no others.
    program = ProgrammeProgram(SMALL["one season"].model())
    cheap, dear = program.solve(0.5), program.solve(20.0)
    assert cheap.logs.sum() < dear.logs.sum()
    judged = np.array([0])
    met = [share_met(program.model, deliveries(program.model, s), judged) for s in (cheap, dear)]
    assert met[0] < met[1]


def test_the_price_is_settled_where_the_wished_chance_is_met_by_the_fewest_logs():
    program = ProgrammeProgram(SMALL["one season"].model())
    judged = np.array([0])
    sure = smallest_programme(program, 0.99, judged, lowest=0.1, highest=50.0, start=1.0)
    half = smallest_programme(program, 0.5, judged, lowest=0.1, highest=50.0, start=1.0)
    assert sure.reached and half.reached
    assert sure.chance >= 0.97
    assert half.solution.logs.sum() < sure.solution.logs.sum()


def test_a_chance_out_of_reach_is_told_not_hidden():
    tight = replace(SMALL["small tank"], capacity=0.2)
    settled = smallest_programme(
        ProgrammeProgram(tight.model()), 0.9, np.array([0]), lowest=0.1, highest=50.0, start=1.0
    )
    assert not settled.reached
    assert settled.chance < 0.9


def test_sales_of_a_week_are_one_only_where_mushrooms_keep_a_week():
    sales = (SaleDay(2, 1.0), SaleDay(5, 2.0), SaleDay(9, 1.0))
    assert weekly_sales(sales, 6) == sales
    assert weekly_sales(sales, 7) == (SaleDay(5, 3.0), SaleDay(9, 1.0))


def test_a_log_soaked_is_paid_for_however_many_make_a_unit():
    # Two logs to a unit at half the price, in a tank for twice as many, are the same program.
    small = SMALL["some stand"]
    model = small.model()
    double = replace(
        model,
        pools=tuple(replace(pool, logs_per_unit=2.0) for pool in model.pools),
        capacity={key: 2 * limit for key, limit in model.capacity.items()},
        soak_price=small.soak_price / 2,
    )
    one, other = (ProgrammeProgram(m).solve(6.0) for m in (model, double))
    assert other.objective == pytest.approx(one.objective, abs=1e-6)
    # At the same price a log they are dearer by what the soaks cost.
    dear = ProgrammeProgram(replace(double, soak_price=small.soak_price)).solve(
        6.0, logs=other.logs
    )
    soaked = sum(
        soaked_units(double, pool, flow).sum()
        for pool, flow in zip(double.pools, dear.flows, strict=True)
    )
    again = other.objective + small.soak_price * soaked
    assert dear.objective == pytest.approx(again, abs=1e-3)
    assert soaked > 1
