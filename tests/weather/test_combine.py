"""Two tables of one site put together: nothing known is lost, nothing observed overruled unseen."""

from datetime import date

import numpy as np

from fruitcast.weather.daily import VARIABLES, DailyWeather, Source
from fruitcast.weather.table import combined, contradictions, derive_mean

NAN = float("nan")


def table(start, tmin, tmax, rain, source=Source.OBSERVED):
    days = len(rain)
    given = {"tmin": tmin, "tmax": tmax, "rain": rain}
    values = {name: np.array(given.get(name, [NAN] * days), dtype=float) for name in VARIABLES}
    sources = {
        name: np.where(np.isnan(column), Source.MISSING, source).astype(np.int8)
        for name, column in values.items()
    }
    derive_mean(values, sources)
    return DailyWeather(start, values, sources)


OLD = table(date(2027, 5, 1), [1, 2, NAN], [11, 12, NAN], [0, NAN, 5])


def test_days_of_both_are_joined_and_gaps_between_stay_missing():
    new = table(date(2027, 5, 6), [3], [13], [7])
    both = combined(OLD, new)
    assert (both.start, both.end) == (date(2027, 5, 1), date(2027, 5, 6))
    np.testing.assert_array_equal(both.rain, [0, NAN, 5, NAN, NAN, 7])
    assert both.sources["rain"].tolist() == [1, 0, 1, 0, 0, 1]


def test_what_is_new_fills_gaps_and_comes_first():
    new = table(date(2027, 5, 2), [9, 8], [19, 18], [4, NAN])
    both = combined(OLD, new)
    np.testing.assert_array_equal(both.rain, [0, 4, 5])
    np.testing.assert_array_equal(both.tmin, [1, 9, 8])
    np.testing.assert_array_equal(both.tmean, [6, 14, 13])


def test_temperatures_of_a_day_come_from_one_table():
    new = table(date(2027, 5, 1), [15, NAN, 4], [NAN, NAN, NAN], [NAN, NAN, NAN])
    both = combined(OLD, new)
    np.testing.assert_array_equal(both.tmin, [1, 2, 4])
    np.testing.assert_array_equal(both.tmax, [11, 12, NAN])


def test_halves_of_a_day_that_would_cross_are_not_put_together():
    old = table(date(2027, 5, 1), [NAN], [10], [0])
    both = combined(old, table(date(2027, 5, 1), [15], [NAN], [NAN]))
    assert both.tmin[0] == 15 and np.isnan(both.tmax[0]) and np.isnan(both.tmean[0])
    both = combined(old, table(date(2027, 5, 1), [4], [NAN], [NAN]))
    assert (both.tmin[0], both.tmax[0], both.tmean[0]) == (4, 10, 7)


def test_a_forecast_never_replaces_what_was_observed():
    new = table(date(2027, 5, 1), [7, 7, 7], [17, 17, 17], [9, 9, 9], Source.FORECAST)
    both = combined(OLD, new)
    np.testing.assert_array_equal(both.rain, [0, 9, 5])
    np.testing.assert_array_equal(both.tmin, [1, 2, 7])
    assert both.sources["rain"].tolist() == [1, 3, 1]
    assert combined(new, OLD).rain.tolist() == [0, 9, 5]


def test_contradictions_are_days_observed_in_both_and_not_the_same():
    new = table(date(2027, 5, 1), [1, 2, 3], [11, 12, 13], [0.5, 3, 5])
    assert contradictions(OLD, new).tolist() == [True, False, False]
    forecast = table(date(2027, 5, 1), [9], [19], [9], Source.FORECAST)
    assert not contradictions(OLD, forecast).any()
    assert contradictions(OLD, table(date(2027, 4, 30), [0, 4], [9, 11], [0, 0])).tolist() == [
        False,
        True,
    ]
