"""Log moisture: published levels, events, and limits that hold in any weather."""

from __future__ import annotations

import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from fruitcast.biology.moisture import (
    _check_balance,
    drying_rate,
    presumed_dead,
    rewetting_share,
    simulate_moisture,
    soak_gain,
    throughfall,
)
from fruitcast.biology.wood import dry_from_wet, dry_mass, saturation_moisture, wet_from_dry
from fruitcast.errors import BalanceError, WeatherGapError
from fruitcast.numbers import default_numbers
from tests.biology.weathers import steady, weekly_rain

NUMBERS = default_numbers()
FALLS = [(2,), (1, 4), (0, 2, 5)]  # the week's rain on one, two or three days


# What University of Kentucky FOR-82 (Hill, Monitoring Moisture Content of Logs) publishes.


@pytest.mark.parametrize("on", FALLS)
@pytest.mark.parametrize("wet", [0.36, 0.40, 0.44])
def test_an_inch_a_week_keeps_a_well_shaded_log_moist(on, wet):
    """FOR-82: 25 mm a week is enough under 85 to 95 % shade; 35 % or more is ideal."""
    rain = weekly_rain(25, on, 20)
    run = steady(dry_from_wet(wet), len(rain), rain=rain, shade=0.9)
    moisture = wet_from_dry(run.moisture)
    assert moisture.min() >= 0.35
    assert moisture.max() <= 0.45


@pytest.mark.parametrize("on", FALLS)
@pytest.mark.parametrize("wet", [0.38, 0.42, 0.45])
def test_an_exposed_log_with_little_rain_dries_out(on, wet):
    """FOR-82: air-exposed logs with under 25 mm a week fall to 20-25 %. Here after 12 weeks."""
    rain = weekly_rain(10, on, 12)
    run = steady(dry_from_wet(wet), len(rain), rain=rain, shade=0.3)
    assert 0.20 <= wet_from_dry(run.moisture[-7:].mean()) <= 0.25
    assert np.all(np.diff(run.moisture[6::7, 0]) < 0), "drier from week to week"


def test_between_the_two_moisture_rises_with_shade_and_with_rain():
    end = np.array(
        [
            [
                steady(0.7, 84, rain=weekly_rain(mm, (1, 4), 12), shade=shade).moisture[-1, 0]
                for mm in np.linspace(10, 25, 6)
            ]
            for shade in np.linspace(0.3, 0.9, 7)
        ]
    )
    assert np.all(np.diff(end, axis=0) > 0)
    assert np.all(np.diff(end, axis=1) > 0)


def test_below_23_per_cent_spawn_is_presumed_dead():
    dead = presumed_dead(
        dry_from_wet(np.array([0.20, 0.229, 0.231, 0.35])), dead_below=NUMBERS.moisture.dead_below
    )
    assert dead.tolist() == [True, True, False, False]


# Rules one by one.


def test_soak_of_a_thirsty_log_adds_a_plausible_weight():
    """Judgement, not measurement: 24 h at 35 % wet adds 0.6 to 1.1 kg to an oak of 12.5 cm."""
    moisture = dry_from_wet(0.35)
    gain = soak_gain(moisture, 24, 0.125, 0.58, NUMBERS.moisture)
    assert 0.6 < gain * dry_mass(0.125, 1.0, 0.58) < 1.1
    assert 0.37 < wet_from_dry(moisture + gain) < 0.42


def test_soak_gain_grows_with_the_square_root_of_time_up_to_saturation():
    """Rosen, penetration of water into hardwoods, Wood and Fiber Science: early uptake ~ root t."""
    gains = soak_gain(0.5, np.array([6.0, 24.0, 96.0]), 0.125, 0.58, NUMBERS.moisture)
    np.testing.assert_allclose(gains / gains[0], [1, 2, 4])
    room = saturation_moisture(0.58) - 0.5
    assert soak_gain(0.5, 1e6, 0.125, 0.58, NUMBERS.moisture) == pytest.approx(float(room))
    assert soak_gain(saturation_moisture(0.58), 24, 0.125, 0.58, NUMBERS.moisture) == 0
    assert soak_gain(0.5, 0, 0.125, 0.58, NUMBERS.moisture) == 0


def test_over_dry_log_does_not_take_its_water_back():
    """FOR-82: a fully dried log does not take its water back by soaking."""
    assert rewetting_share(dry_from_wet([0.25, 0.35]), NUMBERS.moisture).tolist() == [1, 1]
    dry_gain, moist_gain = (
        soak_gain(m, 24, 0.125, 0.58, NUMBERS.moisture) / (saturation_moisture(0.58) - m)
        for m in (0.08, 0.4)
    )
    assert dry_gain < 0.5 * moist_gain


def test_drying_slows_with_diameter_and_quickens_with_evaporation():
    rate = drying_rate(4.0, np.array([0.08, 0.125, 0.2]), NUMBERS.moisture)
    # Slower than by the bark alone (first power), faster than by diffusion alone (second power).
    power = -np.log(rate[2] / rate[0]) / np.log(0.2 / 0.08)
    assert 1 < power < 2
    assert np.all(np.diff(drying_rate(np.array([0.0, 2.0, 5.0]), 0.125, NUMBERS.moisture)) > 0)


def test_canopy_keeps_the_first_millimetres():
    assert throughfall(
        np.array([1.0, 10.0]), 1.0, canopy_storage=NUMBERS.watering.rain_day
    ).tolist() == [0, 8]
    assert throughfall(10.0, 0.0, canopy_storage=NUMBERS.watering.rain_day) == 10


def test_frozen_days_exchange_nothing():
    run = steady(0.6, 30, tmin=-9, tmax=-1, rain=20.0)
    assert np.all(run.moisture == 0.6)
    watered = steady(0.3, 30, tmin=-9, tmax=-1, keep_above_wet=0.35)
    assert np.all(watered.watered == 0)


def test_a_soak_and_a_watering_count_on_their_day():
    hours, mm = np.zeros((10, 1)), np.zeros((10, 1))
    hours[3], mm[6] = 24, 12
    plain, wetted = steady(0.6, 10), steady(0.6, 10, soak_hours=hours, watered=mm)
    before = plain.moisture[2, 0]
    assert wetted.moisture[2, 0] == before
    gain = float(soak_gain(before, 24, 0.125, 0.58, NUMBERS.moisture))
    assert wetted.moisture[3, 0] == pytest.approx(before + gain), "no drying in the tank"
    assert np.flatnonzero(np.diff(wetted.moisture[:, 0]) > 0).tolist() == [3 - 1, 6 - 1]


def test_weighed_sample_log_resets_the_state_and_shows_the_correction():
    seen = np.full((10, 2), np.nan)
    seen[4, 1] = dry_from_wet(0.38)
    run = steady(np.array([0.6, 0.6]), 10, weighed=seen)
    plain = steady(0.6, 10)
    np.testing.assert_array_equal(run.moisture[:, 0], plain.moisture[:, 0])
    assert run.moisture[4, 1] == pytest.approx(dry_from_wet(0.38))
    assert run.correction is not None
    assert run.correction[4, 1] == pytest.approx(dry_from_wet(0.38) - plain.moisture[4, 0])
    assert np.isfinite(run.correction).sum() == 1
    assert run.moisture[5, 1] < run.moisture[4, 1]


def test_a_weight_beyond_saturation_counts_as_saturation():
    seen = np.array([[3.0]])
    run = steady(0.6, 1, weighed=seen)
    assert run.moisture[0, 0] == pytest.approx(float(saturation_moisture(0.58)))


# Possible futures that water.


def test_futures_water_when_dry():
    run = steady(dry_from_wet(0.36), 120, shade=0.7, keep_above_wet=0.35)
    days = np.flatnonzero(run.watered[:, 0])
    assert days.size > 3
    begins = wet_from_dry(np.concatenate([[dry_from_wet(0.36)], run.moisture[:-1, 0]]))
    assert np.all(begins[days] < 0.35)
    assert np.all(run.watered[days] == NUMBERS.watering.amount)
    assert wet_from_dry(run.moisture).min() > 0.33
    unwatered = steady(dry_from_wet(0.36), 120, shade=0.7)
    assert wet_from_dry(unwatered.moisture[-1, 0]) < 0.30
    assert np.all(unwatered.watered == 0)


def test_bark_dries_between_waterings():
    gap = int(NUMBERS.watering.gap_days)
    run = steady(dry_from_wet(0.25), 20, shade=0.0, keep_above_wet=0.35)
    assert np.flatnonzero(run.watered[:, 0]).tolist() == list(range(0, 20, gap))
    done = np.zeros((20, 1))
    done[4] = 20.0
    run = steady(dry_from_wet(0.25), 20, shade=0.0, keep_above_wet=0.35, watered=done)
    assert np.flatnonzero(run.watered[:7, 0]).tolist() == [0, 3, 4]


def test_logs_in_the_tank_are_not_sprinkled():
    hours = np.zeros((6, 1))
    hours[3] = 2.0
    run = steady(dry_from_wet(0.20), 6, shade=0.0, keep_above_wet=0.35, soak_hours=hours)
    assert np.flatnonzero(run.watered[:, 0]).tolist() == [0, 4]


def test_each_column_waters_by_its_own_moisture():
    run = steady(dry_from_wet(np.array([0.34, 0.44])), 3, keep_above_wet=0.35)
    assert run.watered[0].tolist() == [NUMBERS.watering.amount, 0]


# Limits.

TEMPERATURE = st.floats(-40, 45)


@st.composite
def weathers(draw, days=25, columns=4):
    shape = (days, columns)
    tmin = draw(hnp.arrays(float, shape, elements=TEMPERATURE, fill=st.just(12.0)))
    spread = draw(hnp.arrays(float, shape, elements=st.floats(0, 25), fill=st.just(9.0)))
    rain = draw(hnp.arrays(float, shape, elements=st.floats(0, 300), fill=st.just(0.0)))
    rh = draw(
        hnp.arrays(float, shape, elements=st.floats(0, 100) | st.just(np.nan), fill=st.just(70.0))
    )
    return {"tmin": tmin, "tmax": tmin + spread, "tmean": tmin + spread / 2, "rain": rain, "rh": rh}


@st.composite
def log_sets(draw, columns=4):
    def each(low, high):
        return draw(hnp.arrays(float, columns, elements=st.floats(low, high)))

    return {
        "initial": each(0, 3),
        "shade": each(0, 1),
        "diameter": each(0.06, 0.3),
        "specific_gravity": each(0.35, 0.75),
    }


def simulate(weather, logs, **more):
    logs = dict(logs)
    days = len(weather["rain"])
    return simulate_moisture(
        logs.pop("initial"),
        **weather,
        **logs,
        latitude=-35.0,
        day_of_year=np.arange(300, 300 + days) % 365 + 1,
        balance=NUMBERS.moisture,
        watering=NUMBERS.watering,
        shade_effect=NUMBERS.log.shade_effect,
        **more,
    )


@settings(max_examples=60, deadline=None)
@given(weathers(), log_sets(), st.sampled_from([None, 0.35]))
def test_moisture_stays_within_physical_bounds(weather, logs, keep):
    run = simulate(weather, logs, keep_above_wet=keep)
    saturation = saturation_moisture(logs["specific_gravity"])
    assert np.all(np.isfinite(run.moisture))
    assert np.all(run.moisture >= 0)
    assert np.all(run.moisture <= saturation + 1e-12)


@settings(max_examples=60, deadline=None)
@given(weathers(), log_sets(), st.integers(0, 24), st.floats(0, 100))
def test_more_rain_never_dries(weather, logs, day, more):
    wetter = dict(weather, rain=weather["rain"].copy())
    wetter["rain"][day] += more
    less, rest = simulate(weather, logs).moisture, simulate(wetter, logs).moisture
    assert np.all(rest >= less - 1e-12)


@settings(max_examples=30, deadline=None)
@given(weathers(), log_sets(), st.integers(0, 3))
def test_a_column_does_not_depend_on_its_neighbours(weather, logs, column):
    together = simulate(weather, logs, keep_above_wet=0.35)
    only = slice(column, column + 1)
    alone = simulate(
        {k: v[:, only] for k, v in weather.items()},
        {k: v[only] for k, v in logs.items()},
        keep_above_wet=0.35,
    )
    np.testing.assert_array_equal(together.moisture[:, only], alone.moisture)
    np.testing.assert_array_equal(together.watered[:, only], alone.watered)


def test_members_and_size_bands_as_axes_equal_members_repeated():
    rng = np.random.default_rng(3)
    tmin = rng.normal(12, 5, (40, 1, 5))
    weather = {
        "tmin": tmin,
        "tmax": tmin + 10,
        "tmean": tmin + 5,
        "rain": rng.gamma(0.3, 8, (40, 1, 5)),
        "rh": None,
    }
    logs = {"initial": 0.6, "shade": 0.8, "specific_gravity": 0.58}
    bands = np.array([0.09, 0.12, 0.16])
    axes = simulate(weather, dict(logs, diameter=bands[:, None])).moisture
    flat = simulate(
        {k: None if v is None else np.tile(v[:, 0], (1, 3)) for k, v in weather.items()},
        dict(logs, diameter=np.repeat(bands, 5)),
    ).moisture
    np.testing.assert_array_equal(axes.reshape(40, 15), flat)


def test_saturation_holds_with_a_growers_own_numbers_at_their_limits():
    numbers = NUMBERS.with_overrides(
        {
            "moisture.soak_uptake": 5,
            "moisture.rain_uptake_share": 1,
            "moisture.danger_below": 0.15,
            "moisture.drying_days": 5,
        }
    )
    run = steady(0.2, 1, rain=5000.0, rh=100.0, shade=0.0, diameter=0.06, numbers=numbers)
    assert run.moisture[0, 0] == pytest.approx(float(saturation_moisture(0.58)), abs=1e-12)


def test_missing_rain_is_an_error_and_never_a_dry_day():
    rain = weekly_rain(25, (1,), 2)
    rain[8] = np.nan
    with pytest.raises(WeatherGapError, match=r"rain is missing on day 8 of the run \(1 values"):
        steady(0.6, 14, rain=rain)


def test_one_weather_needs_its_column_axis():
    with pytest.raises(ValueError, match="column axis"):
        steady(0.6, 7, rain=np.zeros(7))


def test_an_account_that_does_not_close_is_an_internal_fault():
    with pytest.raises(BalanceError, match=r"out by 0.01 kg/kg. This is a fault in the program"):
        _check_balance(np.array([0.5, 0.51]), np.array([0.5, 0.5]))
    with pytest.raises(BalanceError):
        _check_balance(np.array([np.nan]), np.array([0.0]))


@pytest.mark.benchmark
@pytest.mark.parametrize("columns", [300, 3000, 30000])
def test_speed_of_400_days(columns, capsys):
    rng = np.random.default_rng(1)
    tmin = rng.normal(10, 6, (400, columns))
    weather = {
        "tmin": tmin,
        "tmax": tmin + 11,
        "tmean": tmin + 5.5,
        "rain": rng.gamma(0.3, 8, tmin.shape),
        "rh": None,
    }
    logs = {
        "initial": 0.6,
        "shade": 0.8,
        "diameter": np.linspace(0.08, 0.2, columns),
        "specific_gravity": 0.58,
    }
    best = np.inf
    for _ in range(3):
        start = time.perf_counter()
        simulate(weather, logs, keep_above_wet=0.35)
        best = min(best, time.perf_counter() - start)
    with capsys.disabled():
        print(f"\nlog moisture, {columns} columns x 400 days: {best:.3f} s")
    assert best < 0.4 * max(columns / 3000, 0.25)


@pytest.mark.parametrize("mm", [0.5, 20.0])
def test_a_watering_that_was_done_puts_off_the_next_by_the_gap(mm: float) -> None:
    gap = int(NUMBERS.watering.gap_days)
    days = 2 * gap + 1
    done = np.zeros((days, 1))
    done[0] = mm
    keep = np.full((days, 1), 0.35)
    keep[0] = np.nan  # nobody waters by the threshold on the first day
    run = steady(dry_from_wet(0.2), days, shade=0.0, keep_above_wet=keep, watered=done)
    assert np.flatnonzero(run.watered[:, 0]).tolist() == [0, gap, 2 * gap]
    free = steady(dry_from_wet(0.2), days, shade=0.0, keep_above_wet=keep)
    assert np.flatnonzero(free.watered[:, 0]).tolist()[0] == 1
