"""Short gaps of temperature are closed, rain never; other stations fill the rest."""

from datetime import date

import numpy as np

from fruitcast.weather.daily import Source
from fruitcast.weather.table import fill_gaps, merge
from tests.weather.tables import NAN, same, steady, table

MAY = date(2027, 5, 1)


def test_three_days_of_temperature_are_interpolated_and_told():
    weather = fill_gaps(
        table(MAY, tmin=[2, NAN, NAN, NAN, 6], tmax=[10, NAN, NAN, NAN, 18], rain=[0] * 5)
    )
    assert weather.tmin.tolist() == [2, 3, 4, 5, 6]
    assert weather.tmax.tolist() == [10, 12, 14, 16, 18]
    assert weather.tmean.tolist() == [6, 7.5, 9, 10.5, 12]
    for name in ("tmin", "tmax", "tmean"):
        assert weather.sources[name].tolist() == [1, 2, 2, 2, 1]
    assert weather.notes == (
        "Temperature was interpolated on 3 days in gaps of up to 3 days: 2027-05-02, 2027-05-03, "
        "2027-05-04.",
    )


def test_four_days_and_the_ends_of_the_table_stay_missing():
    weather = table(MAY, tmin=[NAN, 2, NAN, NAN, NAN, NAN, 6, NAN], tmax=[9.0] * 8, rain=[0.0] * 8)
    assert same(fill_gaps(weather), weather)
    assert fill_gaps(weather).notes == ()


def test_rain_is_never_filled():
    weather = table(MAY, tmin=[2, NAN, 4], tmax=[9, NAN, 9], rain=[5.0, NAN, 5.0])
    filled = fill_gaps(weather)
    assert np.isnan(filled.rain[1])
    assert filled.sources["rain"][1] == Source.MISSING


def test_an_interpolated_minimum_stays_below_the_measured_maximum():
    filled = fill_gaps(table(MAY, tmin=[10, NAN, 10], tmax=[18, 4, 18], rain=[0, 0, 0]))
    assert filled.tmin.tolist() == [10, 4, 10]
    assert filled.tmax.tolist() == [18, 4, 18]


def test_the_given_table_is_left_as_it_was():
    weather = table(MAY, tmin=[2, NAN, 4], tmax=[9, NAN, 9], rain=[0, 0, 0])
    fill_gaps(weather)
    assert np.isnan(weather.tmin[1])


def test_gaps_of_the_first_station_are_filled_from_the_others_in_order():
    first = table(MAY, "A", tmin=[2, NAN, NAN], tmax=[9, NAN, NAN], rain=[0, 3, NAN])
    second = table(MAY, "B", tmin=[5, 5, NAN], tmax=[15, 15, NAN], rain=[8, 8, NAN])
    third = table(MAY, "C", tmin=[6, 6, 6], tmax=[16, 16, 16], rain=[7, 7, 7])
    merged = merge(first, [second, third])
    assert merged.tmin.tolist() == [2, 5, 6]
    assert merged.rain.tolist() == [0, 3, 7]
    assert merged.sources["tmin"].tolist() == [1, 2, 2]
    assert merged.sources["rain"].tolist() == [1, 1, 2]
    assert merged.notes == (
        "Gaps were filled from B: temperature on 1 day, rain on 0 days.",
        "Gaps were filled from C: temperature on 1 day, rain on 1 day.",
    )


def test_merging_spans_both_tables_and_keeps_forecasts_forecasts():
    first = steady(date(2027, 5, 3), date(2027, 5, 4))
    other = steady(date(2027, 5, 1), date(2027, 5, 6), rain_source=[1, 1, 1, 1, 3, 3])
    merged = merge(first, [other])
    assert (merged.start, merged.end) == (date(2027, 5, 1), date(2027, 5, 6))
    assert merged.sources["rain"].tolist() == [2, 2, 1, 1, 3, 3]


def test_temperatures_of_two_places_never_cross():
    first = table(MAY, tmin=[NAN], tmax=[9.0], rain=[0.0])
    merged = merge(first, [table(MAY, tmin=[12.0], tmax=[20.0], rain=[0.0])])
    assert (merged.tmin[0], merged.tmax[0], merged.tmean[0]) == (12.0, 20.0, 16.0)
