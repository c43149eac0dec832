"""The linear program on one class and one or two seasons, its best solution worked out by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fruitcast.forecast.yield_tables import SEASON_DAYS, TAIL_DAYS
from fruitcast.inoculation.problem import ProgrammeModel, ProgrammeSolution, SaleDay
from fruitcast.inoculation.solving import ProgrammeProgram, _binned, _kept_rests, weekly_sales
from tests.inoculation.small_programmes import Small, table

NOTHING = ((0.0, 0.0),) * 3
EARLY = ((0.3, 0.3), (0.0, 0.0), (0.0, 0.0))


def model(targets, kg=EARLY, **changed) -> ProgrammeModel:
    """Class a gives `kg` in the soak weeks 20, 22 and 24, class b nothing; a log costs 1."""
    options = {"capacity": 50.0, "cost": (1.0, 1.0), "most": 40}
    small = Small({"a": kg, "b": NOTHING}, 1.0, targets, **(options | changed))
    return small.model()


def solved(made: ProgrammeModel, price=20.0, **options) -> ProgrammeSolution:
    return ProgrammeProgram(made).solve(price, **options)


def test_logs_are_inoculated_where_a_kilogram_short_costs_more_than_what_brings_it() -> None:
    # Two logs bring the 0.6 kg wanted, at 1.01 each with their soak: 3.37 a kilogram.
    made = model(((0.6, 0.0, 0.0),))
    dear = solved(made, 3.4)
    assert dear.logs == pytest.approx([2.0, 0.0], abs=1e-6)
    assert dear.objective == pytest.approx(2.02)
    assert dear.shortfall == pytest.approx([0.0], abs=1e-9)
    flow = dear.flows[0]
    assert flow.first == pytest.approx([2.0, 0.0, 0.0], abs=1e-6)
    assert flow.last == pytest.approx([2.0, 0.0, 0.0], abs=1e-6)
    assert flow.none == pytest.approx(0.0, abs=1e-6)
    cheap = solved(made, 3.3)
    assert cheap.logs == pytest.approx([0.0, 0.0], abs=1e-6)
    assert cheap.objective == pytest.approx(3.3 * 0.6)
    assert cheap.shortfall == pytest.approx([0.6])


def test_what_is_short_is_the_mean_over_the_weather_years() -> None:
    # Given two logs, 0.2 and 0.6 kg are picked of the 0.9 wanted.
    made = model(((0.9, 0.0, 0.0),), ((0.1, 0.3), (0.0, 0.0), (0.0, 0.0)))
    found = solved(made, 5.0, logs=np.array([2.0, 0.0]))
    assert found.logs == pytest.approx([2.0, 0.0])
    assert found.shortfall == pytest.approx([(0.7 + 0.3) / 2])
    assert found.objective == pytest.approx(2.0 + 0.02 + 5.0 * 0.5)
    # Looked at in the second year alone.
    one = replace(made, scenarios=(np.array([1]),))
    assert solved(one, 5.0, logs=np.array([2.0, 0.0])).shortfall == pytest.approx([0.3])


def test_a_rested_log_serves_two_sales_and_its_second_soak_is_paid_too() -> None:
    # Soaked in week 20 and again in week 24.
    made = model(((0.6, 0.0, 0.6),), ((0.3, 0.3), (0.0, 0.0), (0.3, 0.3)))
    found = solved(made)
    assert found.logs == pytest.approx([2.0, 0.0], abs=1e-6)
    assert found.objective == pytest.approx(2.0 + 4 * 0.01)
    assert found.flows[0].inner == pytest.approx([2.0], abs=1e-6)
    assert found.flows[0].last == pytest.approx([0.0, 0.0, 2.0], abs=1e-6)


def test_tank_and_hands_hold_the_logs_of_a_week_whatever_their_class() -> None:
    # 1.5 logs a week: 0.45 kg in week 20, the other 0.15 are short.
    found = solved(model(((0.6, 0.0, 0.0),), capacity=1.5))
    assert found.logs == pytest.approx([1.5, 0.0], abs=1e-6)
    assert found.shortfall == pytest.approx([0.15])
    # Shares of what each class could have alone: half of 1.5 logs and half of 3.
    made = model(((0.9, 0.0, 0.0),))
    tables = {name: replace(made.tables["a"], strain_class=name) for name in ("a", "b")}
    capacity = {key: 1.5 if key[1] == "a" else 3.0 for key in made.capacity}
    shared = replace(made, tables=tables, capacity=capacity)
    fixed = solved(shared, logs=np.array([0.75, 9.0]))
    assert fixed.shortfall == pytest.approx([0.0], abs=1e-6)  # b alone: three logs of 0.3
    small = solved(
        replace(shared, sales=(SaleDay(shared.sales[0].day, 2.0),)), logs=np.array([0.75, 9])
    )
    assert small.shortfall == pytest.approx([2.0 - 0.9])
    # A pool of two logs to a unit holds twice the places.
    two = replace(made, pools=tuple(replace(pool, logs_per_unit=2.0) for pool in made.pools))
    tight = replace(two, capacity=dict.fromkeys(two.capacity, 1.5))
    assert solved(tight).shortfall == pytest.approx([0.9 - 0.75 * 0.3])


def test_logs_to_be_had_and_logs_that_stand() -> None:
    made = model(((0.9, 0.0, 0.0),))
    limited = solved(replace(made, limits=(((0, 1), 2.0),)))
    assert limited.logs.sum() == pytest.approx(2.0)
    assert limited.shortfall == pytest.approx([0.3])
    few = solved(replace(made, most=np.array([1.0, 9.0])))
    assert few.logs[0] == pytest.approx(1.0)
    stands = solved(model(((0.9, 0.0, 0.0),), standing=2))
    assert stands.logs == pytest.approx([1.0, 0.0], abs=1e-6)
    assert stands.objective == pytest.approx(1.0 + 3 * 0.01)


def test_a_year_that_differs_from_the_one_before_is_paid_for_either_way() -> None:
    for first, second in ((0.3, 0.9), (0.9, 0.3)):
        made = model(((first, 0.0, 0.0), (second, 0.0, 0.0)), change_price=0.2)
        found = solved(made)
        assert found.logs[[0, 2]] == pytest.approx([first / 0.3, second / 0.3], abs=1e-6)
        assert found.objective == pytest.approx(4 * 1.01 + 2 * 0.2)
    # Dearer than a log that is not needed, the change is left out.
    made = model(((0.3, 0.0, 0.0), (0.9, 0.0, 0.0)), change_price=1.2)
    assert solved(made).logs[[0, 2]] == pytest.approx([3.0, 3.0], abs=1e-6)


def test_parts_of_logs_are_whole_where_they_must_be() -> None:
    made = model(((0.7, 0.0, 0.0),))
    assert solved(made).logs[0] == pytest.approx(0.7 / 0.3)
    whole = solved(made, whole=True)
    assert whole.logs[0] == pytest.approx(3.0)
    assert whole.objective == pytest.approx(3.03)


def test_mushrooms_wait_as_long_as_they_keep_and_are_not_sold_on_the_day_of_the_pick() -> None:
    # All is picked on day 148; kept four days it is sold on the days 149 to 152.
    made = model(((0.3, 0.0, 0.0),))
    picked = 7 * 20 + 8
    for day, short in ((picked, 0.3), (picked + 1, 0.0), (picked + 4, 0.0), (picked + 5, 0.3)):
        found = solved(replace(made, sales=(SaleDay(day, 0.3),)), logs=np.array([1.0, 0.0]))
        assert found.shortfall == pytest.approx([short], abs=1e-6)
    two = (SaleDay(picked + 2, 0.2), SaleDay(picked + 3, 0.3))
    found = solved(replace(made, sales=two), logs=np.array([1.0, 0.0]))
    assert found.shortfall == pytest.approx([0.2])


@pytest.mark.parametrize("season", [0, 1])
@pytest.mark.parametrize("day", [0, SEASON_DAYS + TAIL_DAYS - 1])
def test_the_first_day_of_a_season_counts_and_the_last_of_its_tail(season: int, day: int) -> None:
    made = model(((0.3, 0.0, 0.0), (0.3, 0.0, 0.0), (0.0, 0.0, 0.0)))
    crop = made.tables["a"].first
    crop[:] = 0.0
    crop[0, day] = 0.3
    picked = SEASON_DAYS * season + day
    sold = replace(made, sales=(SaleDay(picked + 1, 0.3),))
    logs = np.zeros(6)
    logs[2 * season] = 1.0
    assert solved(sold, logs=logs).shortfall == pytest.approx(np.zeros(3), abs=1e-6)
    early = solved(replace(made, sales=(SaleDay(picked, 0.3),)), logs=logs)
    assert early.shortfall.sum() == pytest.approx(0.3)


def test_what_is_never_soaked_gives_its_natural_flushes() -> None:
    made = model(((0.3, 0.0, 0.0),))
    resting = made.tables["a"].none
    resting[0, 7 * 20 + 8] = 0.15
    found = solved(made, logs=np.array([2.0, 0.0]))
    assert found.shortfall == pytest.approx([0.0], abs=1e-6)
    # One log soaked would do, and so do two that rest, which cost no soak.
    assert found.flows[0].none == pytest.approx(2.0, abs=1e-4)
    assert found.objective == pytest.approx(2.0, abs=1e-5)


def test_young_logs_begin_with_the_soaks_of_their_week() -> None:
    # The second start reaches the soaks of week 22 and 24 only.
    made = model(((0.3, 0.3, 0.0),), ((0.3, 0.3), (0.3, 0.3), (0.0, 0.0)))
    late = replace(
        made.tables["a"],
        starts=np.array([0, 21]),
        first_start=np.array([0, 0, 0, 1]),
        first_soak=np.array([0, 1, 2, 1]),
        first=np.concatenate([made.tables["a"].first, made.tables["a"].first[1:2]]),
        none=np.zeros((2, SEASON_DAYS + TAIL_DAYS, 2), dtype=np.float32),
    )
    pools = tuple(
        replace(pool, start_week=21 if n == 0 else 0) for n, pool in enumerate(made.pools)
    )
    young = replace(made, tables={**made.tables, "a": late}, pools=pools)
    found = solved(young, logs=np.array([2.0, 0.0]))
    assert found.shortfall == pytest.approx([0.3])
    assert found.flows[0].first == pytest.approx([0.0, 0.0, 0.0, 1.0], abs=1e-4)


def test_rests_past_fourteen_weeks_are_looked_at_every_fourth_week_only() -> None:
    weeks = np.arange(0, 30)
    made = replace(
        table("a", NOTHING),
        soak_weeks=weeks,
        inner_from=np.zeros(29, dtype=np.int64),
        inner_to=np.arange(1, 30),
    )
    kept = weeks[1:][_kept_rests(made)].tolist()
    assert kept == [*range(1, 15), 16, 20, 24, 28]
    # Counted from the soak before, whenever that is.
    late = replace(made, inner_from=np.full(4, 9), inner_to=np.array([23, 24, 25, 29]))
    assert _kept_rests(late).tolist() == [True, False, True, True]


def test_crops_are_added_up_between_two_edges() -> None:
    crop = np.zeros((2, SEASON_DAYS + TAIL_DAYS, 3), dtype=np.float32)
    crop[0, [0, 4, 5], 2] = 1.0, 2.0, 4.0
    crop[1, SEASON_DAYS + TAIL_DAYS - 1, 0] = 8.0
    found = _binned(crop, np.array([0, 5, 5, SEASON_DAYS + TAIL_DAYS]), np.array([2, 0]))
    assert found[0].tolist() == [[3.0, 0.0], [0.0, 0.0], [4.0, 0.0]]
    assert found[1].tolist() == [[0.0, 0.0], [0.0, 0.0], [0.0, 8.0]]
    assert _binned(crop[:0], np.array([0, 5]), np.array([0])).shape == (0, 1, 1)


def test_the_sales_of_a_week_are_one_on_its_last_sale_day() -> None:
    # Weeks begin on the days 0 and 7.
    sales = (SaleDay(0, 1.0), SaleDay(6, 2.0), SaleDay(7, 4.0), SaleDay(20, 8.0))
    assert weekly_sales(sales, 7) == (SaleDay(6, 3.0), SaleDay(7, 4.0), SaleDay(20, 8.0))
    assert weekly_sales(sales, 6) == sales
