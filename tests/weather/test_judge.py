"""What is asked about, and what is set aside where nobody can be asked."""

from dataclasses import replace
from datetime import date, timedelta
from random import Random

import numpy as np
import pytest

from fruitcast.numbers import default_numbers
from fruitcast.weather.daily import DailyWeather, Source
from fruitcast.weather.doubts import doubts_of_weather
from fruitcast.weather.formats import read_weather_file
from fruitcast.weather.judge import questions, set_aside
from fruitcast.weather.own_signs import of_dry_stretches, questions_of_sums
from tests.requires import need_file
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


def test_what_stands_in_for_late_days_is_not_asked_about():
    late = in_fahrenheit(PLACE, TODAY - timedelta(days=15))
    assert doubts_of_weather(late, (), TODAY, 180, 42.6, "metric", LIMITS) != ()
    sources = {name: codes.copy() for name, codes in late.sources.items()}
    for codes in sources.values():
        codes[-15:] = Source.AWAITED
    awaited = replace(late, sources=sources)
    assert doubts_of_weather(awaited, (), TODAY, 180, 42.6, "metric", LIMITS) == ()


def test_a_new_yard_is_held_against_what_its_latitude_allows():
    year = PLACE.cut(date(2026, 1, 1), date(2027, 1, 1))
    assert questions(year, LIMITS, latitude=42.6) == ()
    (asked,) = questions(year, LIMITS, latitude=-42.6)
    assert "other half of the globe" in asked.cause
    (asked,) = questions(in_fahrenheit(year, year.start), LIMITS, latitude=42.6)
    assert "--units us" in asked.cause


def small_table(tmin, tmax, rain, first=date(2026, 1, 4)):
    """Return a table of a few days."""
    values = {"tmin": tmin, "tmax": tmax, "rain": rain}
    values["tmean"] = [(low + high) / 2 for low, high in zip(tmin, tmax, strict=True)]
    arrays = {name: np.array(column, dtype=float) for name, column in values.items()}
    sources = {name: np.full(len(rain), Source.OBSERVED, dtype=np.int8) for name in arrays}
    return DailyWeather(first, arrays, sources)


def test_rain_of_the_week_so_far_falls_back_on_one_weekday_only():
    rain = [4, 9, 9, 0, 2, 2, 6, 1, 1, 8, 0, 3, 3, 5, 2, 2, 2, 0, 1, 4, 4]
    week = [sum(rain[n - n % 7 : n + 1]) for n in range(21)]
    low, high = [1.0 + day % 2 for day in range(21)], [9.0 - day % 2 for day in range(21)]
    (asked,) = questions(small_table(low, high, week), LIMITS)
    assert "a running total" in asked.cause
    assert questions(small_table(low, high, rain), LIMITS) == ()


@pytest.mark.parametrize("days", [2, 3])
def test_a_few_spells_tell_the_sum_of_the_last_days(days):
    rain = [
        0,
        0,
        0,
        9,
        0,
        4,
        0,
        0,
        0,
        0,
        22,
        5,
        0,
        0,
        0,
        0,
        7,
        0,
        11,
        0,
        0,
        0,
        0,
        0,
        3,
        6,
        0,
        0,
        0,
        0,
    ]
    sums = [sum(rain[max(n - days + 1, 0) : n + 1]) for n in range(30)]
    low, high = [1.0 + day % 2 for day in range(30)], [9.0 - day % 2 for day in range(30)]
    (asked,) = questions(small_table(low, high, sums), LIMITS)
    assert "the rain of several days" in asked.cause
    assert questions(small_table(low, high, rain), LIMITS) == ()
    # A single day's rain between two without is no such sum.
    assert questions(small_table(low, high, [*sums[:-2], 6, 0]), LIMITS) == ()


def test_three_days_with_rain_that_are_all_mondays_are_asked_about():
    rain = [0.0] * 30
    rain[3] = rain[10] = rain[24] = 12.0
    low, high = [1.0 + day % 2 for day in range(30)], [9.0 - day % 2 for day in range(30)]
    (asked,) = questions(small_table(low, high, rain), LIMITS)
    assert "the rain of whole weeks" in asked.cause


def test_two_rainy_days_with_the_extremes_of_a_month_are_asked_about():
    (asked,) = questions(small_table([6.8, -4.1], [28.6, 18.2], [45.9, 16.6]), LIMITS)
    assert "extremes of a week or a month" in asked.cause
    assert questions(small_table([6.8, -4.1], [28.6, 18.2], [0, 0]), LIMITS) == ()
    assert questions(small_table([6.8, 4.1], [14.6, 12.2], [25.9, 16.6]), LIMITS) == ()


def test_whole_numbers_far_above_a_day_s_rain_are_asked_about():
    points = [2, 22, 2, 51, 9, 2, 31, 11, 3, 8]
    (asked,) = questions(small_table([1.0, 2.0] * 5, [9.0, 8.0] * 5, points), LIMITS)
    assert "points taken for mm" in asked.cause


REAL = {"champion": 40.4, "brussels": 50.8, "northumberland": 55.2, "hyderabad": 17.4}


@pytest.mark.parametrize("site", REAL)
def test_true_tables_of_real_places_are_hardly_asked_about(site):
    record = read_weather_file(need_file("aquacrop", f"data/{site}_climate.txt"), as_it_stands=True)
    half = record.day(record.days // 2)
    known = record.cut(record.start, half)
    random, asked = Random(7), 0
    for _ in range(60):
        days = random.choice((20, 30, 60, 180, 365))
        first = record.day(record.index(half) + random.randrange(record.days // 2 - days - 1))
        table = record.cut(first, first + timedelta(days=days))
        asked += bool(questions(table, LIMITS, known=known, latitude=REAL[site]))
        assert questions_of_sums(table) == []
    assert asked <= 2


def test_sums_of_three_days_are_asked_about_and_each_day_s_rain_is_not():
    for seed in range(10):
        record = invented_weather(date(2026, 1, 1), date(2026, 7, 1), seed=seed)
        since = np.arange(record.days) // 3 * 3
        whole = np.concatenate([[0.0], np.cumsum(record.rain)])
        for rain in (
            whole[1:] - whole[since],
            whole[1:] - whole[np.maximum(np.arange(record.days) - 2, 0)],
        ):
            values = {**record.values, "rain": np.round(rain, 1)}
            sums = DailyWeather(record.start, values, record.sources)
            assert len(questions_of_sums(sums)) == 1
        assert questions_of_sums(record) == []


def without_a_drop(weather: DailyWeather, first: date, past: date) -> DailyWeather:
    """Return weather whose gauge tells nothing from one day up to another."""
    rain = weather.rain.copy()
    rain[weather.index(first) : weather.index(past)] = 0.0
    return replace(weather, values={**weather.values, "rain": rain})


@pytest.mark.parametrize(
    ("first", "past"),
    [
        (date(2025, 1, 1), date(2026, 1, 1)),
        (date(2016, 4, 1), date(2016, 8, 1)),
        (date(2024, 1, 1), date(2026, 1, 1)),
    ],
)
def test_a_long_time_without_a_drop_where_it_rains_in_other_years_is_asked_about(first, past):
    (asked,) = questions(without_a_drop(PLACE, first, past), LIMITS, latitude=42.6)
    days, between, and_ = asked.problem.split()[1], *asked.problem.split()[4:7:2]
    # Days beside it may have been dry as well.
    assert 0 <= int(days) - (past - first).days < 20
    assert 0 <= (first - date.fromisoformat(between)).days < 20
    assert 0 < (date.fromisoformat(and_) - past).days + 2 < 20
    assert "blocked" in asked.cause


def test_two_years_without_a_drop_among_others_are_both_asked_about():
    table = without_a_drop(PLACE, date(2018, 1, 1), date(2019, 1, 1))
    table = without_a_drop(table, date(2023, 1, 1), date(2024, 1, 1))
    (asked,) = questions(table, LIMITS)
    days = int(asked.problem.split()[1])
    assert 730 <= days <= 730 + 60


def test_a_year_without_a_drop_that_was_taken_in_is_doubted():
    table = without_a_drop(PLACE, date(2025, 1, 1), date(2026, 1, 1))
    told = doubts_of_weather(table, range(2015, 2027), TODAY, 200, 42.6, "metric", LIMITS)
    assert any("not a drop is told" in doubt for doubt in told)


def test_a_dry_season_of_every_year_and_a_desert_are_not_asked_about():
    months = np.array([PLACE.day(row).month for row in range(PLACE.days)])
    years = np.array([PLACE.day(row).year for row in range(PLACE.days)])
    for dry in (
        (months >= 5) & (months <= 10),
        (months >= 6) & (months <= 8 + years % 3),
        (months != 2) | (years % 4 > 0),  # some showers in one year of four
    ):
        rain = np.where(dry, 0.0, PLACE.rain)
        table = replace(PLACE, values={**PLACE.values, "rain": rain})
        assert of_dry_stretches(table) is None
    monsoon = replace(PLACE, values={**PLACE.values, "rain": np.where(months > 9, 0.0, PLACE.rain)})
    assert of_dry_stretches(monsoon) is None
    assert of_dry_stretches(without_a_drop(monsoon, date(2020, 1, 1), date(2021, 1, 1)))


def test_days_that_nobody_measured_are_no_stretch_without_rain():
    rain = PLACE.rain.copy()
    rain[PLACE.index(date(2025, 1, 1)) : PLACE.index(date(2026, 1, 1))] = np.nan
    assert of_dry_stretches(replace(PLACE, values={**PLACE.values, "rain": rain})) is None


@pytest.mark.parametrize("site", REAL)
def test_true_rain_of_real_places_is_no_stretch_and_a_year_of_zeros_is_one(site):
    record = read_weather_file(need_file("aquacrop", f"data/{site}_climate.txt"), as_it_stands=True)
    assert of_dry_stretches(record) is None
    year = record.day(record.days // 2).year
    assert of_dry_stretches(without_a_drop(record, date(year, 1, 1), date(year + 1, 1, 1)))
