"""Dates in their many spellings."""

from datetime import date

import numpy as np
import pytest

from fruitcast.tables.faults import FaultList
from fruitcast.weather.cells import parse_dates


def days_of(*cells):
    faults = FaultList("weather.csv")
    days = parse_dates(cells, range(2, 2 + len(cells)), faults)
    assert faults.faults() == []
    return days.tolist()


@pytest.mark.parametrize(
    "cell",
    [
        "2027-05-03",
        "2027/05/03",
        "2027/5/3",
        "2027.05.03",
        "20270503",
        "2027-05-03 00:00:00",
        "2027-05-03T00:00",
        "3 May 2027",
        "03-May-2027",
        "May 3, 2027",
        "Sept 3, 2027",
        "03.05.2027",
        "'2027-05-03'",
    ],
)
def test_one_day_in_many_spellings(cell):
    month = 9 if cell.startswith("Sept") else 5
    assert days_of(cell) == [date(2027, month, 3)]


def test_a_day_above_twelve_settles_the_order_of_the_whole_column():
    assert days_of("3/5/2027", "13/5/2027") == [date(2027, 5, 3), date(2027, 5, 13)]
    assert days_of("3/5/2027", "3/13/2027") == [date(2027, 3, 5), date(2027, 3, 13)]
    assert days_of("03-05-2027 00:00", "28-05-2027 00:00") == [date(2027, 5, 3), date(2027, 5, 28)]


def test_dots_mean_day_first_unless_the_column_says_otherwise():
    assert days_of("3.5.2027") == [date(2027, 5, 3)]
    assert days_of("3.5.2027", "3.13.2027") == [date(2027, 3, 5), date(2027, 3, 13)]


def test_leap_days():
    assert days_of("2028-02-29", "2028-03-01") == [date(2028, 2, 29), date(2028, 3, 1)]


def test_a_bad_date_leaves_the_others_readable():
    faults = FaultList("weather.csv")
    days = parse_dates(["2027-05-03", "soon", "2027-05-05"], [2, 3, 4], faults)
    assert np.isnat(days).tolist() == [False, True, False]
    assert str(faults.faults()[0]).startswith("weather.csv line 3: 'soon' is no date.")
