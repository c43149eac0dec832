"""Forced flushes: soak, pins, first pick, losses, and when a class may be soaked."""

import numpy as np
import pytest

from fruitcast.biology.forced import (
    bears,
    daily_loss,
    first_pick,
    mean_between,
    season_allows,
    soak_hours,
    summer,
    surviving_share,
    thermal_time,
)
from fruitcast.biology.run_length import cumulate
from fruitcast.numbers import default_numbers

NUMBERS = default_numbers()


def steady(celsius, days=60):
    return np.full((days, 1), float(celsius))


@pytest.mark.parametrize(("celsius", "hours"), [(27, 12), (22, 12), (18, 24), (12, 24), (8, 48)])
def test_soak_hours_follow_the_season(celsius, hours):
    # Overnight 8-12 h is published: Hill 2011, Univ. of Kentucky FOR-85. 24 h usual and 48 h
    # when cool are common practice.
    assert soak_hours(celsius, NUMBERS.forced) == hours


def test_soak_hours_take_many_days_at_once():
    assert soak_hours([30.0, 15.0, 5.0], NUMBERS.forced).tolist() == [12, 24, 48]


def test_first_pick_looks_up_every_start_and_member():
    tmean = np.hstack([steady(22), steady(15), steady(11)])
    thermal = thermal_time(NUMBERS.strain("wide-range"), tmean)
    found = first_pick(thermal, np.array([0, 10, 55]), 100.0)
    assert found.tolist() == [[6, 10, 17], [16, 20, 27], [60, 60, 60]]


def test_scatter_of_the_requirement_comes_from_outside():
    thermal = thermal_time(NUMBERS.strain("wide-range"), np.hstack([steady(15)] * 2))
    found = first_pick(thermal, np.array([0]), 100.0 * np.array([[0.85, 1.15]]))
    assert found.tolist() == [[9, 12]]


@pytest.mark.parametrize("celsius", [13, 15, 18])
def test_pins_show_after_three_to_five_days_in_cool_weather(celsius):
    # Common practice, no source.
    thermal = thermal_time(NUMBERS.strain("wide-range"), steady(celsius))
    pins = first_pick(thermal, np.array([0]), 100.0 * NUMBERS.forced.pins_share)
    assert 3 <= pins[0, 0] <= 5


def test_heat_beyond_the_cap_brings_nothing_sooner():
    warm, hot = (thermal_time(NUMBERS.strain("wide-range"), steady(c)) for c in (25, 33))
    assert first_pick(warm, np.array([0]), 100.0) == first_pick(hot, np.array([0]), 100.0)


def test_mean_between_takes_the_days_from_the_first_to_before_the_last():
    total = cumulate(np.arange(10.0)[:, None])
    assert mean_between(total, np.array([[2]]), np.array([[5]]))[0, 0] == 3
    assert mean_between(total, np.array([[4]]), np.array([[4]]))[0, 0] == 4
    assert mean_between(total, np.array([[10]]), np.array([[10]]))[0, 0] == 9


def does_bear(strain_class, celsius, days=60):
    tmean = steady(celsius, days)
    need = NUMBERS.strain(strain_class).forced.requirement
    pull = np.array([0])
    picked = first_pick(thermal_time(NUMBERS.strain(strain_class), tmean), pull, need)
    return bool(bears(pull, picked, days, longest_days=NUMBERS.forced.longest_days)[0, 0])


def test_where_it_is_too_cold_for_the_class_nothing_comes():
    assert not does_bear("wide-range", 8)
    assert does_bear("wide-range", 10)
    assert does_bear("cold-weather", 8)
    assert not does_bear("warm-weather", 11)
    assert does_bear("warm-weather", 20)


def test_a_pick_past_the_table_is_not_seen():
    assert does_bear("wide-range", 15, days=11)
    assert not does_bear("wide-range", 15, days=10)


def test_heat_and_frost_on_the_way_take_their_share():
    tmin, tmax = steady(10), steady(25)
    tmax[5] = 36.0
    tmin[20] = -4.0
    loss = cumulate(daily_loss(NUMBERS.strain("wide-range").forced, tmin, tmax, NUMBERS.forced))

    def share(first, past):
        return surviving_share(loss, np.array([[first]]), np.array([[past]]))[0, 0]

    assert share(6, 20) == 1
    assert share(0, 10) == pytest.approx(np.exp(-0.04))  # 4 degrees at 1 %
    assert share(15, 25) == pytest.approx(np.exp(-0.15))  # 3 degrees at 5 %
    assert share(0, 400) == pytest.approx(share(0, 10) * share(15, 25))  # days past the end


def test_frost_is_borne_best_by_cold_weather_and_heat_by_warm_weather_strains():
    frost = [
        daily_loss(NUMBERS.strain(c).forced, steady(-4), steady(3), NUMBERS.forced)[0, 0]
        for c in ("cold-weather", "wide-range", "warm-weather")
    ]
    heat = [
        daily_loss(NUMBERS.strain(c).forced, steady(20), steady(36), NUMBERS.forced)[0, 0]
        for c in ("cold-weather", "wide-range", "warm-weather")
    ]
    assert frost == sorted(frost)
    assert heat == sorted(heat, reverse=True)


def test_a_cold_weather_strain_is_not_soaked_for_summer():
    # Poor response to a summer soak is published: Bruhn, Mihail & Pickens 2009.
    tmean = np.vstack([np.full((30, 3), 12.0), np.full((30, 3), 24.0)])
    start = np.array([0, 10, 40, 58])
    assert season_allows(
        NUMBERS.strain("cold-weather").forced,
        tmean,
        start,
        season_days=NUMBERS.forced.season_days,
        in_summer=False,
    ).tolist() == [1, 1, 0, 0]
    assert season_allows(
        NUMBERS.strain("wide-range").forced,
        tmean,
        start,
        season_days=NUMBERS.forced.season_days,
        in_summer=False,
    ).all()
    assert season_allows(
        NUMBERS.strain("warm-weather").forced,
        tmean,
        start,
        season_days=NUMBERS.forced.season_days,
        in_summer=False,
    ).all()


def test_a_cold_weather_strain_sits_the_summer_out_however_cool_it_is():
    # A class that responds poorly to a summer soak: Bruhn, Mihail & Pickens 2009 (abstract).
    months = np.arange(1, 13)
    assert months[summer(months, "north")].tolist() == [6, 7, 8]
    assert months[summer(months, "south")].tolist() == [1, 2, 12]
    tmean, start = np.full((60, 3), 14.0), np.array([0, 10, 20])
    hot_month = np.array([False, True, False])
    for strain_class, expected in (
        ("cold-weather", [True, False, True]),
        ("wide-range", [True, True, True]),
        ("warm-weather", [True, True, True]),
    ):
        found = season_allows(
            NUMBERS.strain(strain_class).forced,
            tmean,
            start,
            season_days=NUMBERS.forced.season_days,
            in_summer=hot_month,
        )
        assert found.tolist() == expected


def test_the_middle_member_decides_and_exactly_18_degrees_is_allowed():
    tmean = np.hstack([steady(5), steady(18), steady(30)])
    assert season_allows(
        NUMBERS.strain("cold-weather").forced,
        tmean,
        np.array([0]),
        season_days=NUMBERS.forced.season_days,
        in_summer=False,
    ).all()
    tmean = np.hstack([steady(5), steady(18.1), steady(30)])
    assert not season_allows(
        NUMBERS.strain("cold-weather").forced,
        tmean,
        np.array([0]),
        season_days=NUMBERS.forced.season_days,
        in_summer=False,
    ).any()


def test_a_flush_comes_in_time_and_within_the_table():
    longest = int(NUMBERS.forced.longest_days)
    pull = np.array([2])

    def comes(lead, days=longest + 100):
        pick = np.array([[2 + lead]])
        return bool(bears(pull, pick, days, longest_days=NUMBERS.forced.longest_days)[0, 0])

    assert comes(longest)
    assert not comes(longest + 1)
    assert comes(5, days=8)
    assert not comes(5, days=7)
