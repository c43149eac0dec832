"""What is asked about, and what is set aside where nobody can be asked."""

from datetime import date, timedelta

import numpy as np
import pytest

from fruitcast.numbers import default_numbers
from fruitcast.weather.daily import DailyWeather, Source
from fruitcast.weather.doubts import doubts_of_weather
from fruitcast.weather.judge import questions, set_aside
from tests.weather.invented import invented_weather

LIMITS = default_numbers().doubt.weather
TODAY = date(2027, 2, 20)
PLACE = invented_weather(date(2015, 1, 1), TODAY - timedelta(days=1), seed=3)


def in_fahrenheit(weather: DailyWeather, first: date) -> DailyWeather:
    """Return weather whose temperatures from a day on are F, as if they were C."""
    rows = np.arange(weather.days) >= weather.index(first)
    values = {
        name: np.where(rows, column * 1.8 + 32.0, column)
        if name in ("tmin", "tmax", "tmean")
        else column
        for name, column in weather.values.items()
    }
    return DailyWeather(weather.start, values, weather.sources, "station 1")


def test_a_true_record_is_not_asked_about_and_nothing_is_set_aside():
    for seed in range(12):
        record = invented_weather(date(2012, 1, 1), TODAY - timedelta(days=1), seed=seed)
        first = record.cut(record.start, date(2020, 1, 1))
        assert questions(record, LIMITS, latitude=42.6) == ()
        for year in range(2020, 2027):
            update = record.cut(date(year, 1 + seed, 1), date(year, 1 + seed, 26))
            assert questions(update, LIMITS, known=first, latitude=42.6) == ()
        assert set_aside(record, TODAY, LIMITS) is record


@pytest.mark.parametrize("days", [5, 20, 45])
def test_late_days_in_another_unit_are_set_aside_and_the_rest_used(days):
    since = TODAY - timedelta(days=days)
    kept = set_aside(in_fahrenheit(PLACE, since), TODAY, LIMITS)
    honest = [day for day in kept.doubtful if day < since]
    assert len(kept.doubtful) >= 0.8 * days and len(honest) <= 1
    (note,) = kept.notes
    assert "can hardly be right and were set aside" in note and "station 1" in note
    for name in ("tmin", "tmax", "rain"):
        gone = np.isnan(kept.values[name])
        assert gone.sum() == len(kept.doubtful)
        assert (kept.sources[name][gone] == Source.MISSING).all()
        np.testing.assert_array_equal(kept.values[name][~gone][:3000], PLACE.values[name][:3000])


def test_one_fall_beyond_all_others_is_set_aside():
    rain = PLACE.rain.copy()
    rain[-3] = 700.0
    odd = DailyWeather(PLACE.start, {**PLACE.values, "rain": rain}, PLACE.sources)
    assert set_aside(odd, TODAY, LIMITS).doubtful == (TODAY - timedelta(days=3),)


def test_a_winter_update_in_fahrenheit_that_was_taken_in_is_doubted():
    stored = in_fahrenheit(PLACE, TODAY - timedelta(days=40))
    (doubt,) = doubts_of_weather(stored, (), TODAY, 180, 42.6, "metric", LIMITS)
    assert "look like Fahrenheit taken for Celsius" in doubt and "--replace" in doubt
    assert doubts_of_weather(PLACE, (), TODAY, 180, 42.6, "metric", LIMITS) == ()


def test_a_new_yard_is_held_against_what_its_latitude_allows():
    year = PLACE.cut(date(2026, 1, 1), date(2027, 1, 1))
    assert questions(year, LIMITS, latitude=42.6) == ()
    (asked,) = questions(year, LIMITS, latitude=-42.6)
    assert "other half of the globe" in asked.cause
    (asked,) = questions(in_fahrenheit(year, year.start), LIMITS, latitude=42.6)
    assert "--units us" in asked.cause
