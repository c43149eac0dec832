"""The spawn run: how far, how long, what slows it."""

import numpy as np
import pytest

from fruitcast.biology.spawn_run import (
    diameter_factor,
    moisture_factor,
    ready_day,
    required_progress,
    required_quantile,
    slowed_by,
)
from fruitcast.biology.wood import USUAL_DIAMETER, dry_from_wet
from fruitcast.numbers import default_numbers
from tests.biology.weathers import daily_progress

NUMBERS = default_numbers()
MOIST = float(dry_from_wet(0.42))


def steady(celsius, days=900):
    """Progress of moist logs at one temperature by day and night."""
    t = np.full((days, 1), float(celsius))
    return daily_progress(t, t, np.full((days, 1), MOIST), NUMBERS, shade=0.8)


def slowed(t, moisture, spawn, diameter, numbers=NUMBERS):
    """What slows a spawn run at one temperature by day and night."""
    return slowed_by(
        t,
        t,
        moisture,
        spawn,
        diameter,
        numbers.mycelium,
        numbers.moisture,
        numbers.spawn_run,
        shade=0.8,
    )


@pytest.mark.parametrize("spawn", ["plug", "thimble", "sawdust"])
def test_four_to_six_months_at_a_steady_24_degrees(spawn):
    # Common practice for a wide-range strain, no source.
    required = required_progress(
        spawn,
        0.125,
        NUMBERS.spawn_run,
        class_factor=NUMBERS.strain("wide-range").spawn_run.factor,
        tree_factor=NUMBERS.tree("red oak").starts,
    )
    months = ready_day(steady(24), required)[0] / 30.4
    assert 4 <= months <= 6


def test_wide_range_is_quickest_and_cold_weather_slowest():
    # Common practice.
    need = {
        c: required_progress(
            "plug",
            0.125,
            NUMBERS.spawn_run,
            class_factor=NUMBERS.strain(c).spawn_run.factor,
            tree_factor=NUMBERS.tree("red oak").starts,
        )
        for c in ("wide-range", "warm-weather", "cold-weather")
    }
    assert need["wide-range"] < need["warm-weather"] < need["cold-weather"]


def test_sawdust_beats_plugs_and_thick_logs_lag():
    def need(spawn, diameter):
        return required_progress(
            spawn,
            diameter,
            NUMBERS.spawn_run,
            class_factor=NUMBERS.strain("wide-range").spawn_run.factor,
            tree_factor=NUMBERS.tree("red oak").starts,
        )

    assert need("sawdust", 0.125) < need("thimble", 0.125) < need("plug", 0.125)
    assert need("plug", 0.25) / need("plug", 0.20) > need("plug", 0.15) / need("plug", 0.10)


def test_soft_maple_starts_sooner():
    # Published without a figure: Univ. of Kentucky FOR-90, abstract.
    soft, hard = (
        required_progress(
            "plug",
            0.125,
            NUMBERS.spawn_run,
            class_factor=NUMBERS.strain("wide-range").spawn_run.factor,
            tree_factor=NUMBERS.tree(tree).starts,
        )
        for tree in ("red maple", "sugar maple")
    )
    assert soft < hard


def test_an_unknown_tree_counts_as_other_hardwood():
    assert required_progress(
        "plug",
        0.125,
        NUMBERS.spawn_run,
        class_factor=NUMBERS.strain("wide-range").spawn_run.factor,
        tree_factor=NUMBERS.tree("quince").starts,
    ) == required_progress(
        "plug",
        0.125,
        NUMBERS.spawn_run,
        class_factor=NUMBERS.strain("wide-range").spawn_run.factor,
        tree_factor=NUMBERS.tree("other hardwood").starts,
    )


def test_moisture_is_judged_on_the_published_levels():
    # 23 % and 35 % wet: Hill, Univ. of Kentucky FOR-82.
    levels = moisture_factor(
        dry_from_wet(np.array([0.20, 0.23, 0.30, 0.35, 0.45])), NUMBERS.moisture, NUMBERS.spawn_run
    )
    assert levels[0] == levels[1] == 0
    assert 0.3 < levels[2] < 0.8
    assert levels[3] == pytest.approx(1)
    assert levels[4] == 1


def test_a_run_is_ready_when_its_progress_is_enough():
    progress = steady(25)
    assert ready_day(progress, 100.0)[0] == 100
    assert ready_day(progress, 0.0)[0] == 0
    assert ready_day(progress[:50], 100.0)[0] == 50  # past the end of the table


def test_the_range_surrounds_the_middle():
    early, middle, late = (
        required_quantile(125.0, p, scatter=NUMBERS.spawn_run.scatter) for p in (0.1, 0.5, 0.9)
    )
    assert early < middle < late
    assert middle == pytest.approx(125.0)
    assert late / middle == pytest.approx(middle / early)


@pytest.mark.parametrize(
    ("celsius", "wet", "spawn", "diameter", "causes"),
    [
        (24, 0.42, "sawdust", 0.12, ()),
        (12, 0.42, "sawdust", 0.12, ("cold",)),
        (31, 0.42, "sawdust", 0.12, ("hot",)),
        (24, 0.28, "thimble", 0.12, ("dry",)),
        (24, 0.42, "sawdust", 0.24, ("thick",)),
        (12, 0.28, "plug", 0.24, ("cold", "dry", "thick", "plugs")),
    ],
)
def test_what_slows_the_spawn_run_is_named(celsius, wet, spawn, diameter, causes):
    t, moisture = np.full(60, float(celsius)), np.full(60, float(dry_from_wet(wet)))
    assert slowed(t, moisture, spawn, diameter) == causes


def test_diameter_factor_is_one_for_a_middling_log_and_never_falls():
    sizes = np.arange(0.05, 0.35, 0.005)
    factors = [diameter_factor(d, NUMBERS.spawn_run) for d in sizes]
    assert diameter_factor(0.125, NUMBERS.spawn_run) == 1
    assert np.all(np.diff(factors) >= 0)
    assert min(factors) >= 0.7


def half(one, other):
    return np.array([[one], [other]], dtype=float)


def test_a_cause_that_costs_exactly_the_share_named_is_named_and_less_is_not():
    # Half of the days cost all of the speed, the other half none.
    numbers = NUMBERS.with_overrides({"spawn_run.slow_share": 0.5})
    best = numbers.mycelium.optimum_temperature
    base, top = numbers.mycelium.base_temperature, numbers.mycelium.maximum_temperature
    dead = float(dry_from_wet(numbers.moisture.dead_below))
    mild, moist = half(best, best), half(MOIST, MOIST)
    thin = USUAL_DIAMETER

    def causes(tmean=mild, moisture=moist, diameter=thin, numbers=numbers):
        return slowed(tmean, moisture, "sawdust", diameter, numbers)

    assert causes() == ()
    assert causes(tmean=half(base, best)) == ("cold",)
    assert causes(tmean=half(top, best)) == ("hot",)
    assert causes(moisture=half(dead, MOIST)) == ("dry",)
    more = numbers.with_overrides({"spawn_run.slow_share": 0.51})
    assert causes(half(base, best), half(dead, MOIST), numbers=more) == ()
    assert causes(half(top, best), numbers=more) == ()


def test_a_thick_log_is_slow_once_it_takes_a_quarter_longer():
    # A fifth of the speed lost is a quarter more time: here 4 a metre over twelve and a half
    # centimetres, 6.25 cm of them.
    own = {"per_diameter": 4, "thick_from": 0.25, "slow_share": 0.2}
    numbers = NUMBERS.with_overrides({f"spawn_run.{key}": value for key, value in own.items()})
    t, moisture = np.full(2, NUMBERS.mycelium.optimum_temperature), np.full(2, MOIST)
    found = [slowed(t, moisture, "sawdust", size, numbers) for size in (0.1874, 0.1876)]
    assert found == [(), ("thick",)]
