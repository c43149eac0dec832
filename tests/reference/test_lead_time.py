"""Days from pull to first pick against common practice and the design fit; no source exists."""

import numpy as np
import pytest

from fruitcast.biology.forced import first_pick, soak_hours, thermal_time
from fruitcast.numbers import default_numbers
from tests.biology.real_weather import series

NUMBERS = default_numbers()


def lead(strain_class, celsius):
    tmean = np.full((60, 1), float(celsius))
    need = NUMBERS.strain(strain_class).forced.requirement
    thermal = thermal_time(NUMBERS.strain(strain_class), tmean)
    return int(first_pick(thermal, np.array([0]), need)[0, 0])


@pytest.mark.parametrize(("celsius", "days"), [(22, 6), (15, 10), (11, 17)])
def test_wide_range_lead_times(celsius, days):
    # Judgement, fitted to common practice: about 100 degree-days above 5 C from the pull.
    assert lead("wide-range", celsius) == days


def test_a_cool_spell_takes_seven_to_ten_days():
    # Common practice.
    assert all(7 <= lead("wide-range", celsius) <= 10 for celsius in (15, 16, 17, 18, 19))


@pytest.mark.parametrize("strain_class", ["wide-range", "warm-weather"])
def test_a_24_hour_soak_in_midsummer_gives_mushrooms_within_two_weeks(strain_class):
    # Common practice. Weather: Champion, Nebraska, 1982-2018, see real_weather; soaks on
    # every day of July, even those on which an overnight soak would do.
    weather = series("champion")
    soak = np.flatnonzero(weather.months == 7)
    need = NUMBERS.strain(strain_class).forced.requirement
    thermal = thermal_time(NUMBERS.strain(strain_class), weather.tmean)
    days = first_pick(thermal, soak + 1, need)[:, 0] - soak
    print(f"{strain_class}: soak to first pick in July {days.min()} to {days.max()} days")
    assert days.max() <= 14


def test_more_than_two_weeks_in_autumn():
    # Common practice. Pulls in the first half of October at Champion.
    weather = series("champion")
    dates = np.array([(d.month == 10) and (d.day <= 15) for d in weather.days])
    pull = np.flatnonzero(dates)
    thermal = thermal_time(NUMBERS.strain("wide-range"), weather.tmean)
    assert np.median(first_pick(thermal, pull, 100.0)[:, 0] - pull) > 14


def test_soak_hours_stay_in_the_common_range_all_year():
    weather = series("champion")
    hours = soak_hours(weather.tmean, NUMBERS.forced)
    assert hours.min() >= 8 and hours.max() <= 48
    by_month = {m: float(hours[weather.months == m].mean()) for m in (1, 5, 7)}
    assert by_month[1] > by_month[5] > by_month[7]
