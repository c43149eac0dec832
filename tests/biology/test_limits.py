"""Limits that hold whatever the weather: monotony, no NaN, columns that don't look at others."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fruitcast.biology.forced import (
    bears,
    daily_loss,
    first_pick,
    mean_between,
    season_allows,
    soak_hours,
    surviving_share,
    thermal_time,
)
from fruitcast.biology.natural import flush_chain, natural_first_pick, trigger_days
from fruitcast.biology.picking import dry_cap_share, flush_days, shape_table
from fruitcast.biology.run_length import cumulate
from fruitcast.biology.spawn_run import ready_day
from fruitcast.biology.yields import rest_factor, temperature_factor
from fruitcast.numbers import default_numbers
from tests.biology.invented_weather import weather
from tests.biology.weathers import daily_progress

NUMBERS = default_numbers()
CLASSES = ("cold-weather", "wide-range", "warm-weather")
SEEDS = st.integers(0, 2**32 - 1)


def progress_of(tmin, tmax, moisture):
    return daily_progress(tmin, tmax, moisture, NUMBERS, shade=0.8)


def whole_biology(strain_class, sky):
    """Everything the package works out from weather, as a dictionary of arrays."""
    days, columns = sky.tmean.shape
    pull = np.arange(0, days, 7)
    progress = progress_of(sky.tmin, sky.tmax, sky.moisture)
    trigger = trigger_days(
        NUMBERS.strain(strain_class).natural,
        sky.tmin,
        sky.tmean,
        sky.rain,
        sky.moisture,
        NUMBERS.natural,
        urgent_below=NUMBERS.watering.urgent_below,
    )
    thermal = thermal_time(NUMBERS.strain(strain_class), sky.tmean)
    natural = natural_first_pick(
        NUMBERS.strain(strain_class).forced.requirement, thermal, trigger, NUMBERS.natural
    )
    chain = flush_chain(trigger, natural, int(NUMBERS.natural.rest_days), 0, most=4)
    need = NUMBERS.strain(strain_class).forced.requirement
    picked = first_pick(thermal, pull, np.full((len(pull), columns), need))
    mean = mean_between(cumulate(sky.tmean), pull[:, None], picked)
    length = flush_days("forced", mean, NUMBERS.picking, NUMBERS.natural)
    loss = cumulate(
        daily_loss(NUMBERS.strain(strain_class).forced, sky.tmin, sky.tmax, NUMBERS.forced)
    )
    every = np.arange(columns)
    trigger_of = np.minimum(chain, days - 1)
    return {
        "progress": progress,
        "ready": ready_day(progress, 120.0)[None],
        "trigger": trigger,
        "first pick": natural.first_pick,
        "aborted": natural.aborted,
        "chain": chain,
        "natural length": flush_days(
            "natural", sky.tmean[trigger_of, every], NUMBERS.picking, NUMBERS.natural
        ),
        "forced pick": picked,
        "bears": bears(pull, picked, days, longest_days=NUMBERS.forced.longest_days),
        "hours": soak_hours(mean, NUMBERS.forced),
        "shape": shape_table("forced", NUMBERS.picking, NUMBERS.natural)[length].sum(axis=2),
        "survives": surviving_share(loss, pull[:, None], picked + length),
        "caps": dry_cap_share(sky.rain, NUMBERS.picking),
        "fit": temperature_factor(NUMBERS.strain(strain_class).range, mean, NUMBERS.yields),
        "rest": rest_factor(picked - pull[:, None], NUMBERS.yields),
    }


@pytest.mark.parametrize("strain_class", CLASSES)
@given(seed=SEEDS, extreme=st.floats(0, 30))
@settings(max_examples=25, deadline=None)
def test_finite_weather_gives_finite_answers(strain_class, seed, extreme):
    found = whole_biology(strain_class, weather(120, 3, seed, extreme))
    for name, values in found.items():
        assert np.isfinite(values).all(), name
    for name in ("progress", "survives", "caps", "fit"):
        assert found[name].min() >= 0 and found[name].max() <= 1, name


@pytest.mark.parametrize("strain_class", CLASSES)
@given(seed=SEEDS)
@settings(max_examples=15, deadline=None)
def test_a_column_does_not_depend_on_the_others(strain_class, seed):
    sky = weather(200, 5, seed)
    together = whole_biology(strain_class, sky)
    for chosen in ([3], [4, 0]):
        alone = whole_biology(strain_class, sky.columns(chosen))
        for name, values in together.items():
            assert np.array_equal(values[:, chosen], alone[name]), name


@given(seed=SEEDS, day=st.integers(0, 59), warmer=st.floats(0, 15))
@settings(max_examples=60, deadline=None)
def test_warmer_within_the_range_is_never_later(seed, day, warmer):
    tmean = weather(60, 1, seed).tmean
    for strain_class in CLASSES:
        heated = tmean.copy()
        heated[day] += warmer
        pull = np.arange(0, 60, 5)
        cool, warm = (
            first_pick(thermal_time(NUMBERS.strain(strain_class), t), pull, 100.0)
            for t in (tmean, heated)
        )
        assert np.all(warm <= cool)


@given(seed=SEEDS, day=st.integers(0, 399), warmer=st.floats(0, 15))
@settings(max_examples=40, deadline=None)
def test_warmth_up_to_the_optimum_never_slows_the_spawn_run(seed, day, warmer):
    sky = weather(400, 1, seed)
    optimum = NUMBERS.mycelium.optimum_temperature
    as_it_was = [np.minimum(t, optimum) for t in (sky.tmin, sky.tmax)]
    heated = [t.copy() for t in as_it_was]
    for t in heated:
        t[day] = np.minimum(t[day] + warmer, optimum)
    cool, warm = (ready_day(progress_of(*t, sky.moisture), 90.0) for t in (as_it_was, heated))
    assert np.all(warm <= cool)


@given(seed=SEEDS, share=st.floats(0, 1))
@settings(max_examples=40, deadline=None)
def test_a_moister_log_is_never_ready_later(seed, share):
    sky = weather(400, 1, seed)
    drier = sky.moisture * share
    dry, moist = (
        ready_day(progress_of(sky.tmin, sky.tmax, m), 90.0) for m in (drier, sky.moisture)
    )
    assert np.all(moist <= dry)


def test_season_allows_reads_all_members_but_no_day_past_the_table():
    sky = weather(90, 7, 1)
    pull = np.arange(0, 90, 3)
    whole = season_allows(
        NUMBERS.strain("cold-weather").forced,
        sky.tmean,
        pull,
        season_days=NUMBERS.forced.season_days,
        in_summer=False,
    )
    assert whole.shape == pull.shape
    cut = season_allows(
        NUMBERS.strain("cold-weather").forced,
        sky.tmean[:60],
        pull[pull < 50],
        season_days=NUMBERS.forced.season_days,
        in_summer=False,
    )
    assert np.array_equal(whole[pull < 50], cut)
