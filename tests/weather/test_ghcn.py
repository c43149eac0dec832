"""GHCN-Daily's own layouts. The shapes are those of its readme, from memory; values invented."""

import numpy as np
import pytest

from fruitcast.errors import FaultsError
from tests.weather.tables import read

LONG = """USC00000001,20270501,TMAX,206,,,7,0700
USC00000001,20270501,TMIN,44,,,7,0700
USC00000001,20270501,PRCP,0,T,,7,0700
USC00000001,20270501,SNOW,0,,,7,
USC00000001,20270502,TMAX,211,,,7,0700
USC00000001,20270502,TMIN,-6,,,7,0700
USC00000001,20270502,PRCP,127,,,7,0700
USC00000001,20270504,TMAX,300,,X,7,0700
USC00000001,20270504,TMIN,50,,,7,0700
"""


def fixed(element, values, month="202705"):
    cells = [f"{value:5d}{flags}" for value, flags in values]
    cells += ["-9999   "] * (31 - len(values))
    return f"USC00000001{month}{element}{''.join(cells)}\n"


def check(weather):
    np.testing.assert_array_equal(weather.tmax, [20.6, 21.1, np.nan, np.nan])
    np.testing.assert_array_equal(weather.tmin, [4.4, -0.6, np.nan, 5.0])
    np.testing.assert_array_equal(weather.rain, [0.0, 12.7, np.nan, np.nan])
    assert any("tenths of C and tenths of mm" in note for note in weather.notes)
    assert any("1 values that failed NOAA's own quality check" in note for note in weather.notes)


def test_one_element_of_one_day_a_line(tmp_path):
    check(read(tmp_path, LONG))
    check(read(tmp_path, "ID,DATE,ELEMENT,DATA_VALUE,M_FLAG,Q_FLAG,S_FLAG,OBS_TIME\n" + LONG))


def test_fixed_width_months(tmp_path):
    content = (
        fixed("TMAX", [(206, "  7"), (211, "  7"), (-9999, "   "), (300, " X7")])
        + fixed("TMIN", [(44, "  7"), (-6, "  7"), (-9999, "   "), (50, "  7")])
        + fixed("SNOW", [(0, "  7")])
        + fixed("PRCP", [(0, "T 7"), (127, "  7")])
    )
    check(read(tmp_path, content, name="USC00000001.dly"))


def test_a_station_without_precipitation_is_a_fault(tmp_path):
    content = "".join(line for line in LONG.splitlines(True) if "PRCP" not in line)
    with pytest.raises(FaultsError, match=r"the file has no 'rain' at all\. Choose a station"):
        read(tmp_path, content)


def test_several_stations_and_clashing_values_are_faults(tmp_path):
    with pytest.raises(FaultsError, match="the file holds 2 stations: USC00000001, USC00000002"):
        read(tmp_path, LONG + LONG.replace("00001,", "00002,"))
    with pytest.raises(FaultsError, match="line 10, 2027-05-02: tmin stands in the file twice"):
        read(tmp_path, LONG + "USC00000001,20270502,TMIN,-9,,,7,0700\n")
    with pytest.raises(FaultsError, match=r"line 10: .* has no whole number as its fourth value"):
        read(tmp_path, LONG + "USC00000001,20270502,TMIN,cold,,,7,0700\n")


def test_a_damaged_fixed_width_line_is_a_fault_and_no_value_of_another_day(tmp_path):
    """A character lost shifts all values behind it: they would seem to have failed the check."""
    days = range(30)
    good = [
        fixed(element, [(20 + change(day), "  7") for day in days])
        for element, change in (
            ("TMIN", lambda day: -3 * day),
            ("TMAX", lambda day: 3 * day),
            # 20 on day 7, and no day like the one before.
            ("PRCP", lambda day: (day - 6) ** 2 % 11 * 10),
        )
    ]
    assert read(tmp_path, "".join(good)).days == 30
    line = good[2]
    for damaged, problem in (
        (
            line[:100] + line[101:],
            r"line 3: the line has 265 characters, .* take 266 to 269\. Down",
        ),
        (line[:100] + line[108:], r"line 3: the line has 258 characters"),
        (
            line[:70] + line[71:100] + " " + line[100:],
            r"line 3: '20' for day 7 is not a whole num",
        ),
    ):
        with pytest.raises(FaultsError, match=problem):
            read(tmp_path, "".join(good[:2]) + damaged)


def test_a_value_of_hundreds_of_digits_is_a_fault(tmp_path):
    with pytest.raises(FaultsError, match=r"line 1: .* has no whole number as its fourth value"):
        read(tmp_path, LONG.replace("206", "9" * 400))


def test_a_code_for_missing_that_lost_its_sign_is_missing(tmp_path):
    weather = read(tmp_path, LONG.replace("PRCP,127", "PRCP,9999"))
    np.testing.assert_array_equal(weather.rain, [0.0, np.nan, np.nan, np.nan])
