"""A forecast is worth less day by day, and passes over into past years without a jump."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from fruitcast.forecast.members import (
    PERFECT,
    follow_on,
    make_futures,
    pass_over,
    rain_skill,
    temperature_skill,
)
from fruitcast.numbers import default_numbers
from fruitcast.topics import ForecastNumbers
from fruitcast.weather.daily import VARIABLES, Source
from fruitcast.weather.known import known_weather
from tests.weather.tables import steady, table

ERROR = default_numbers().forecast
USELESS = ForecastNumbers(temperature_error=1000.0, rain_error=1.0)


def weather_like_a_year(days: int, members: int, seed: int) -> np.ndarray:
    """Departures of daily means as they last: lag-one correlation 0.7, standard deviation 4 C."""
    drawn = np.random.default_rng(seed).standard_normal((days, members))
    made = drawn.copy()
    for day in range(1, days):
        made[day] = 0.7 * made[day - 1] + np.sqrt(1 - 0.7**2) * drawn[day]
    return 4.0 * made


def as_table(mean: np.ndarray, rain: np.ndarray, half_range: float) -> dict[str, np.ndarray]:
    return {
        "tmin": mean - half_range,
        "tmax": mean + half_range,
        "tmean": mean,
        "rain": rain,
        "rh": np.full_like(mean, 70.0),
    }


def thresholds(members: int) -> np.ndarray:
    return (np.arange(members) + 0.5) / members


def test_the_error_starts_at_one_degree_and_reaches_about_four_on_the_tenth_day():
    """Said of forecasts in the numbers; here what a wide-ranging climate makes of them."""
    wrong = ForecastNumbers(1.0, 0.3, rain_error=0.15, rain_growth=0.08)
    skill = temperature_skill(16, 8.0, wrong)
    assert np.sqrt(1 - skill[[0, 9]] ** 2) * 8.0 == pytest.approx([1.0, 3.7])
    narrow = temperature_skill(16, 2.0, wrong)
    assert (narrow[4:] == 0).all() and narrow[3] > 0
    share = rain_skill(16, wrong)
    assert share[0] == pytest.approx(0.85) and share[11:].max() == 0


def test_a_forecast_without_error_is_followed_to_the_bit():
    years = as_table(weather_like_a_year(40, 12, 1), np.full((40, 12), 3.0), 5.0)
    told = {name: column[:9, 0] + 0.1 for name, column in years.items()}
    made = pass_over(told, np.ones(9, dtype=bool), years, thresholds(12), PERFECT)
    for name, column in made.items():
        assert (column[:9] == told[name][:, None]).all()
        assert (column[9:] == years[name][9:]).all()


def test_a_worthless_forecast_leaves_the_past_years_to_the_bit():
    years = as_table(weather_like_a_year(40, 12, 1), np.full((40, 12), 3.0), 5.0)
    told = {name: column[:9, 0] + 7.0 for name, column in years.items()}
    made = pass_over(told, np.ones(9, dtype=bool), years, thresholds(12), USELESS)
    for name, column in made.items():
        assert (column == years[name]).all()


def test_members_lie_about_the_forecast_as_widely_as_it_errs():
    years = as_table(weather_like_a_year(60, 4000, 2), np.zeros((60, 4000)), 5.0)
    told = {name: column[:14, 0] * 0 + 6.0 for name, column in years.items()}
    made = pass_over(told, np.ones(14, dtype=bool), years, thresholds(4000), ERROR)
    for lead in (0, 3, 6, 9):
        wanted = min(1.0 + 0.3 * lead, 4.0)
        assert made["tmean"][lead].std() == pytest.approx(wanted, rel=0.05)
    centre = made["tmean"].mean(axis=1)
    assert centre[0] == pytest.approx(6.0, abs=0.3)
    assert (np.diff(centre[:10]) < 0.1).all() and abs(centre[20]) < 0.3
    # Errors last: a member too warm one day is too warm the next.
    assert np.corrcoef(made["tmean"][3], made["tmean"][4])[0, 1] == pytest.approx(0.7, abs=0.05)
    assert (made["tmin"] <= made["tmean"]).all() and (made["tmean"] <= made["tmax"]).all()


def test_what_comes_over_many_forecasts_is_distributed_as_the_years_are():
    """No jump: with forecasts as wide as years, each lead has the years' mean and spread."""
    many, members = 300, 40
    sum_, squares = np.zeros(30), np.zeros(30)
    for n in range(many):
        drawn = weather_like_a_year(30, members + 1, 100 + n)
        years = as_table(drawn[:, 1:], np.zeros((30, members)), 5.0)
        told = {name: column[:10] for name, column in as_table(drawn[:, 0], drawn[:, 0], 5).items()}
        mean = pass_over(told, np.ones(10, dtype=bool), years, thresholds(members), ERROR)["tmean"]
        sum_ += mean.mean(axis=1)
        squares += (mean**2).mean(axis=1)
    spread = np.sqrt(squares / many - (sum_ / many) ** 2)
    assert sum_ / many == pytest.approx(0.0, abs=0.6)
    assert spread == pytest.approx(4.0, rel=0.1)


def test_rain_is_the_forecasts_in_a_share_of_the_members_that_falls():
    years = as_table(weather_like_a_year(30, 100, 3), np.full((30, 100), 2.0), 5.0)
    told = {name: np.full(16, 9.0) for name in VARIABLES}
    rain = pass_over(told, np.ones(16, dtype=bool), years, thresholds(100), ERROR)["rain"]
    share = (rain == 9.0).mean(axis=1)
    assert share[:3] == pytest.approx([0.85, 0.77, 0.69], abs=0.011)
    assert (np.diff(share[:12]) <= 0).all() and (rain[12:] == 2.0).all()
    assert not ((rain[1:] == 9.0) & (rain[:-1] != 9.0)).any()  # each turns once


def test_a_forecast_that_ends_early_fades_out():
    years = as_table(np.zeros((30, 50)) + weather_like_a_year(30, 50, 4), np.zeros((30, 50)), 5.0)
    told = {name: np.full(3, 8.0) for name in VARIABLES}
    error = ForecastNumbers(
        temperature_error=0.5,
        temperature_growth=0.1,
        rain_error=0.1,
        rain_growth=0.1,
        persistence=0.7,
    )
    centre = pass_over(told, np.ones(3, dtype=bool), years, thresholds(50), error)["tmean"].mean(1)
    assert centre[2] > centre[3] > centre[4] > centre[6]
    assert centre[3] == pytest.approx(0.7 * centre[2], abs=0.8)


TODAY = date(2027, 5, 3)


def with_forecast(skip: int, days: int):
    """Twelve years of steady weather, then a forecast of 20 C and 9 mm that may begin late."""
    start = date(2014, 1, 1)
    past = (TODAY - start).days
    nan = [float("nan")] * skip
    code = [Source.OBSERVED] * past + [Source.FORECAST] * (skip + days)
    columns = {"tmin": (8.0, 15.0), "tmax": (18.0, 25.0), "rain": (2.0, 9.0)}
    return table(
        start,
        **{name: [a] * past + nan + [b] * days for name, (a, b) in columns.items()},
        **{f"{name}_source": code for name in ("tmin", "tmax", "rain", "tmean")},
    )


def test_a_forecast_made_during_the_day_counts_from_tomorrow():
    known, years = known_weather(with_forecast(1, 5), TODAY, 60, {})
    made = make_futures(known, TODAY, years, lookback=5, days_ahead=60, seed=1)
    assert made.known_days == 6 and np.isnan(made.forecast["rain"][0])
    ahead = made.rain[made.lookback :]
    assert (ahead[0] == 2.0).all() and (ahead[1:6] == 9.0).all() and (ahead[6:] == 2.0).all()
    # Today's temperature lies between yesterday's and tomorrow's.
    assert made.tmean[made.lookback] == pytest.approx(16.5)
    assert not any("marked as forecast" in note for note in known.notes)


def test_a_forecast_that_begins_later_than_tomorrow_is_left_out():
    known, _ = known_weather(with_forecast(2, 5), TODAY, 60, {})
    assert known.end == TODAY - timedelta(days=1)
    assert any("behind a gap" in note for note in known.notes)


def test_without_a_forecast_steady_weather_stays_as_it_was():
    weather = steady(date(2014, 1, 1), TODAY - timedelta(days=1))
    years = tuple(range(2014, 2026))
    options = {"lookback": 5, "days_ahead": 60, "seed": 1}
    plain = make_futures(weather, TODAY, years, **options)
    other = make_futures(weather, TODAY, years, error=ERROR, **options)
    assert not plain.known_days
    for name in VARIABLES:
        np.testing.assert_allclose(getattr(plain, name), getattr(other, name), atol=1e-9)


def test_what_follows_on_yesterday_is_distributed_as_the_years_are():
    """A warm day is followed by days as warm as in real years, and none is warmer than those."""
    many, members = 300, 40
    made = np.zeros((many, 20, members))
    before = np.zeros(many)
    for n in range(many):
        drawn = weather_like_a_year(21, members + 1, 900 + n)
        before[n] = drawn[0, 0]
        years = as_table(drawn[1:, 1:], np.zeros((20, members)), 5.0)
        made[n] = follow_on(before[n], drawn[0, 1:], years, ERROR.persistence)["tmean"]
    assert made.std(axis=(0, 2)) == pytest.approx(4.0, rel=0.05)
    for day, lasts in ((0, 0.7), (1, 0.49), (4, 0.17)):
        slope = np.polyfit(before, made[:, day].mean(axis=1), 1)[0]
        assert slope == pytest.approx(lasts, abs=0.08)
    # As in the years themselves a day is like the day before, at the seam and after it.
    step = made[:, 0] - before[:, None]
    assert step.std() == pytest.approx(np.diff(made, axis=1)[:, 9].std(), rel=0.05)


def test_without_persistence_past_years_are_taken_as_they_were():
    years = as_table(weather_like_a_year(30, 12, 1), np.full((30, 12), 3.0), 5.0)
    made = follow_on(9.0, np.zeros(12), years, PERFECT.persistence)
    for name, column in made.items():
        assert (column == years[name]).all()
