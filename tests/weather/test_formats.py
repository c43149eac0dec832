"""Weather files of every shape we claim to read give the same table."""

import time
from datetime import date, timedelta

import numpy as np
import pytest

from fruitcast.errors import FaultsError
from fruitcast.weather.daily import Source
from fruitcast.weather.formats import read_weather_file
from tests.requires import need_file
from tests.weather.tables import read

OURS = "date,tmin,tmax,rain\n2027-05-01,5.5,17,0\n2027-05-02,7,20.5,12.7\n2027-05-03,6,18,\n"


def assert_ours(weather):
    assert (weather.start, weather.end) == (date(2027, 5, 1), date(2027, 5, 3))
    np.testing.assert_allclose(weather.tmin, [5.5, 7.0, 6.0], atol=0.006)
    np.testing.assert_allclose(weather.tmax, [17.0, 20.5, 18.0], atol=0.006)
    np.testing.assert_allclose(weather.rain, [0.0, 12.7, np.nan], atol=0.006)


def test_our_own_columns(tmp_path):
    weather = read(tmp_path, OURS)
    assert_ours(weather)
    np.testing.assert_array_equal(weather.tmean, [11.25, 13.75, 12.0])
    assert np.isnan(weather.rh).all()
    assert weather.origin == "weather.csv"


def test_missing_rain_is_never_zero(tmp_path):
    weather = read(tmp_path, OURS)
    assert np.isnan(weather.rain[2])
    assert weather.sources["rain"].tolist() == [Source.OBSERVED, Source.OBSERVED, Source.MISSING]


def test_days_without_a_row_are_missing(tmp_path):
    weather = read(tmp_path, "date,tmin,tmax,rain\n2027-05-01,5,17,0\n2027-05-04,7,20,1\n")
    assert weather.days == 4
    assert np.isnan(weather.rain[1:3]).all()
    assert np.isnan(weather.tmin[1:3]).all()
    assert (weather.sources["tmin"][1:3] == Source.MISSING).all()


@pytest.mark.parametrize(
    "content",
    [
        OURS.replace(",", ";").replace(".", ","),
        OURS.replace(",", "\t"),
        OURS.replace(",", "\t").replace(".", ","),
        OURS.replace(",", "|"),
        OURS.replace("\n", "\r\n"),
        OURS.replace("\n", "\r"),
        OURS.replace("\n", ",,\n"),
        '"date","tmin","tmax","rain"\n2027-05-01,"5,5","17","0"\n2027-05-02,"7","20,5","12,7"\n'
        "2027-05-03,6,18,\n",
        "date,tmin,tmax,rain\n2027-05-03,6,18,NA\n2027-05-01,5.5,17,T\n2027-05-02,7,20.5,12.7\n",
        "Station Hollow\nfrom 2027\n\n" + OURS + "\n\n",
        "date,tmin,tmax,rain\n,°C,°C,mm\n" + OURS.split("\n", 1)[1],
        "date,tmin,tmax,rain\n2027-05-01,5.5,17,0\n2027-05-02,7,20.5,12.7\n2027-05-03,6,18,-9999\n",
        "date  tmin tmax rain\n2027-05-01 5.5 17 0\n2027-05-02 7 20.5 12.7\n2027-05-03 6 18 NA\n",
        "Date,Min Temp (°C),Max Temp (°C),Total Precipitation (mm)\n" + OURS.split("\n", 1)[1],
        "DATE,TN,TX,Rainfall [mm]\n" + OURS.split("\n", 1)[1],
    ],
)
def test_separators_marks_and_titles(tmp_path, content):
    assert_ours(read(tmp_path, content))


@pytest.mark.parametrize(
    "rain",
    [
        *("Daily Rain (mm)", "Daily Rain(mm)", "dailyrainmm", "Total Rain (mm)"),
        *("Daily Rainfall (mm)", "Precip. Sum (mm)", "Rain Daily mm", "Precip. Accum. (mm)"),
    ],
)
def test_titles_of_home_stations(tmp_path, rain):
    titles = f"Date,Low (C),High (C),{rain},Rain Rate (mm),Hourly Rain (mm)\n"
    rows = OURS.split("\n", 1)[1].replace("\n", ",9,9\n")
    assert_ours(read(tmp_path, titles + rows))


@pytest.mark.parametrize(
    "titles",
    [
        "Datum;Lägsta temperatur;Högsta temperatur;Nederbörd (mm)\n",
        "Datum;Lägsta temp (°C);Högsta temp (°C);Regn (mm)\n",
        "datum;mintemperatur;maxtemperatur;nederbörd\n",
    ],
)
def test_swedish_titles(tmp_path, titles):
    rows = OURS.split("\n", 1)[1].replace(",", ";").replace(".", ",")
    assert_ours(read(tmp_path, titles + rows))
    in_old_bytes = (titles + rows).encode("windows-1252")
    assert_ours(read(tmp_path, in_old_bytes))


@pytest.mark.parametrize(
    "rain", ["Rain Rate (mm)", "Hourly Rain (mm)", "Monthly Rain (mm)", "Event Rain (mm)"]
)
def test_rain_of_other_times_is_no_rain_of_a_day(tmp_path, rain):
    with pytest.raises(FaultsError, match="there is no column 'rain'"):
        read(tmp_path, OURS.replace("rain", rain))


def test_a_total_beside_the_rain_of_the_day_is_left_alone(tmp_path):
    titles = "date,tmin,tmax,Total Rain (mm),Daily Rain (mm)\n"
    rows = "2027-05-01,5.5,17,100,0\n2027-05-02,7,20.5,112.7,12.7\n2027-05-03,6,18,112.7,\n"
    assert_ours(read(tmp_path, titles + rows))


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "utf-16-le", "windows-1252", "utf-32"])
def test_encodings(tmp_path, encoding):
    content = OURS.replace("tmin,tmax,rain", "tmin (°C),tmax (°C),rain (mm)")
    assert_ours(read(tmp_path, content.encode(encoding)))


@pytest.mark.parametrize(
    ("titles", "options"),
    [
        ("date,tmin_f,tmax_f,rain_in", {}),
        ("date,tmin (°F),tmax (°F),rain (inch)", {}),
        ("date,tmin [F],tmax [deg F],rain [in]", {}),
        ("date,Low (degrees Fahrenheit),High (degrees F),Precip. (inches/day)", {}),
        ("date,tmin,tmax,rain", {"units": "us"}),
    ],
)
def test_fahrenheit_and_inches_by_title_or_option(tmp_path, titles, options):
    rows = "2027-05-01,41.9,62.6,0\n2027-05-02,44.6,68.9,0.5\n2027-05-03,42.8,64.4,\n"
    assert_ours(read(tmp_path, f"{titles}\n{rows}", **options))


def test_a_title_with_a_unit_wins_over_the_option(tmp_path):
    rows = "2027-05-01,5.5,17,0\n2027-05-02,7,20.5,0.5\n2027-05-03,6,18,\n"
    assert_ours(read(tmp_path, f"date,tmin_c,tmax_c,rain\n{rows}", units="us"))


def noaa(rows, titles='"STATION","NAME","DATE","PRCP","TAVG","TMAX","TMIN"'):
    lines = [f'"USC00000001","HOLLOW, NY US","{day}",{cells}' for day, cells in rows]
    return "\n".join([titles, *lines]) + "\n"


def test_noaa_daily_summaries_in_us_units_by_the_values(tmp_path):
    start = date(2027, 5, 1)
    rows = [
        (start + timedelta(days=d), f"{[0, 0.5, 0.03][d % 3]:.2f},,{60 + d % 20},{40 + d % 10}")
        for d in range(120)
    ]
    weather = read(tmp_path, noaa(rows))
    assert weather.tmax[5] == pytest.approx((65 - 32) / 1.8, abs=1e-3)
    assert weather.rain[1] == pytest.approx(12.7)
    assert any("read as F and inches" in note for note in weather.notes)


def test_noaa_daily_summaries_in_metric_units_by_the_values(tmp_path):
    start = date(2027, 1, 1)
    rows = [
        (start + timedelta(days=d), f"{[0, 12.7, 0.3][d % 3]:.1f},,{10.6 + d % 20},{4.4 + d % 5}")
        for d in range(120)
    ]
    weather = read(tmp_path, noaa(rows))
    assert (weather.tmax[5], weather.rain[1]) == (15.6, 12.7)
    assert any("read as C and mm" in note for note in weather.notes)


def test_noaa_tenths_with_quality_flags(tmp_path):
    titles = '"STATION","NAME","DATE","PRCP","PRCP_ATTRIBUTES","TMAX","TMIN"'
    rows = [
        (
            date(2027, 5, 1) + timedelta(days=d),
            f'{127 if d % 3 == 1 else 0},"{flag}",{206 + d},{44 - d % 2}',
        )
        for d, flag in [(d, ",I,W,2400" if d == 4 else ",,W,2400") for d in range(40)]
    ]
    weather = read(tmp_path, noaa(rows, titles))
    assert (weather.tmax[0], weather.tmin[0], weather.rain[1]) == (20.6, 4.4, 12.7)
    assert np.isnan(weather.rain[4])
    assert any("tenths of C" in note for note in weather.notes)
    assert any("1 values that failed NOAA's own quality check" in note for note in weather.notes)


def test_noaa_without_evidence_of_units_asks(tmp_path):
    rows = [(date(2027, 1, 1) + timedelta(days=d), "0.5,,41,30") for d in range(20)]
    with pytest.raises(
        FaultsError, match=r"name no units.*Say --units us or --units metric, or put"
    ):
        read(tmp_path, noaa(rows))


def test_a_slip_of_the_pen_does_not_decide_the_units(tmp_path):
    rows = [
        (date(2027, 1, 1) + timedelta(days=d), f"0.3,,{10.6 + d % 20 if d else 60},{4.4 + d % 5}")
        for d in range(120)
    ]
    with pytest.raises(FaultsError, match=r"line 2, 2027-01-01: tmax '60' is outside -70 to 57 C"):
        read(tmp_path, noaa(rows))


def test_meteostat_columns_with_forecast_providers(tmp_path):
    content = (
        "date,tavg,tmin,tmax,rhum,prcp,tmin_source,tmax_source,prcp_source\n"
        "2027-05-01,11.0,5.5,17.0,71,0.0,ghcnd,ghcnd,ghcnd\n"
        "2027-05-02,13.0,7.0,20.5,66,12.7,dwd_poi,dwd_poi dwd_mosmix,metno_forecast\n"
        "2027-05-03,12.0,6.0,18.0,,,ghcnd,ghcnd,\n"
    )
    weather = read(tmp_path, content)
    assert_ours(weather)
    assert weather.tmean.tolist() == [11.0, 13.0, 12.0]
    np.testing.assert_array_equal(weather.rh, [71.0, 66.0, np.nan])
    assert weather.sources["tmin"].tolist() == [1, 1, 1]
    assert weather.sources["tmax"].tolist() == [1, 3, 1]
    assert weather.sources["rain"].tolist() == [1, 3, 0]


def test_meteostat_bulk_columns(tmp_path):
    content = (
        "year,month,day,temp,tmin,tmax,rhum,prcp,temp_source,tmin_source,tmax_source,prcp_source\n"
        "2027,5,1,11.0,5.5,17.0,71,0.0,ghcnd,ghcnd,ghcnd,ghcnd\n"
        "2027,5,2,13.0,7.0,20.5,66,12.7,ghcnd,ghcnd,ghcnd,ghcnd\n"
        "2027,5,3,12.0,6.0,18.0,,,ghcnd,ghcnd,ghcnd,\n"
    )
    assert_ours(read(tmp_path, content))


@pytest.mark.parametrize(
    ("temperature", "rain", "rows"),
    [
        (
            "°C",
            "mm",
            "2027-05-01,17.0,5.5,0.0\n2027-05-02,20.5,7.0,12.7\n2027-05-03,18.0,6.0,NaN\n",
        ),
        ("°F", "inch", "2027-05-01,62.6,41.9,0\n2027-05-02,68.9,44.6,0.5\n2027-05-03,64.4,42.8,\n"),
    ],
)
def test_open_meteo_columns_below_metadata(tmp_path, temperature, rain, rows):
    content = (
        "latitude,longitude,elevation,utc_offset_seconds,timezone,timezone_abbreviation\n"
        "42.6,-73.4,240.0,-14400,America/New_York,GMT-4\n"
        "\n"
        f"time,temperature_2m_max ({temperature}),temperature_2m_min ({temperature}),"
        f"precipitation_sum ({rain})\n{rows}"
    )
    assert_ours(read(tmp_path, content))


def test_of_two_rain_columns_all_precipitation_counts(tmp_path):
    content = (
        "time,temperature_2m_max (°C),temperature_2m_min (°C),rain_sum (mm),"
        "precipitation_sum (mm)\n"
        "2027-01-01,1,-5,0.5,4.0\n"
    )
    assert read(tmp_path, content).rain.tolist() == [4.0]


def test_day_month_year_columns_of_a_real_file():
    # Champion, Nebraska, 1982-2018, from the installed aquacrop package; no gaps.
    path = need_file("aquacrop", "data/champion_climate.txt")
    weather = read_weather_file(path)
    assert (weather.start, weather.end, weather.days) == (
        date(1982, 1, 1),
        date(2018, 12, 31),
        13514,
    )
    assert weather.notes == ()
    raw = np.loadtxt(path, skiprows=1)
    np.testing.assert_array_equal(weather.tmin, raw[:, 3])
    np.testing.assert_array_equal(weather.tmax, raw[:, 4])
    np.testing.assert_array_equal(weather.rain, raw[:, 5])


@pytest.mark.benchmark
def test_a_real_file_of_37_years_is_read_within_300_ms():
    path = need_file("aquacrop", "data/champion_climate.txt")
    seconds = []
    for _ in range(3):
        begun = time.process_time()
        read_weather_file(path)
        seconds.append(time.process_time() - begun)
    assert min(seconds) < 0.3


def test_other_titles_for_day_month_year_columns():
    # Hyderabad, 2000-2010, aquacrop: Day Month Year MinTemp MaxTemp Precipitation ReferenceET.
    weather = read_weather_file(need_file("aquacrop", "data/hyderabad_climate.txt"))
    assert (weather.start, weather.end) == (date(2000, 1, 1), date(2010, 12, 31))
    assert weather.tmax[0] == 27.3


def test_year_and_day_of_the_year(tmp_path):
    content = "year,doy,tmin,tmax,rain\n2028,60,1,9,0\n2028,61,2,9,0\n2027,365,0,1,0\n"
    weather = read(tmp_path, content)
    assert (weather.start, weather.end) == (date(2027, 12, 31), date(2028, 3, 1))


def test_a_source_column_speaks_for_the_row(tmp_path):
    content = (
        "date,tmin,tmax,rain,source\n"
        "2027-05-01,5,17,0,observed\n2027-05-02,5,17,0,filled\n2027-05-03,5,17,,forecast\n"
    )
    weather = read(tmp_path, content)
    assert weather.sources["tmean"].tolist() == [1, 2, 3]
    assert weather.sources["rain"].tolist() == [1, 2, 0]


def test_inches_taken_for_millimetres_are_suspected(tmp_path):
    days = [date(2026, 1, 1) + timedelta(days=d) for d in range(400)]
    rows = "".join(f"{day},5.0,17.5,{0.35 if day.day % 3 == 0 else 0}\n" for day in days)
    with pytest.raises(FaultsError, match=r"look like inches or cm .*--as-it-stands"):
        read(tmp_path, f"date,tmin,tmax,rain\n{rows}")
    table = read(tmp_path, f"date,tmin,tmax,rain\n{rows}", as_it_stands=True)
    assert table.rain.max() == 0.35


def test_missing_value_codes_are_told(tmp_path):
    weather = read(tmp_path, "date,tmin,tmax,rain\n2027-05-01,-9999,17,0\n2027-05-02,5,17,-99.9\n")
    assert np.isnan(weather.tmin[0])
    assert np.isnan(weather.rain[1])
    assert "weather.csv: 2 values like -9999 are taken as missing." in weather.notes


def test_whole_degrees_and_a_gauge_in_inches_are_still_celsius_in_our_own_columns(tmp_path):
    days = [date(2027, 1, 1) + timedelta(days=d) for d in range(60)]
    rows = "".join(
        f"{day},{5 + day.day % 3},{17 - day.day % 4},{2.54 if day.day % 2 else 0}\n" for day in days
    )
    weather = read(tmp_path, f"date,tmin,tmax,rain\n{rows}")
    assert (weather.tmin[0], weather.rain[0]) == (6.0, 2.54)


def test_tenths_by_title(tmp_path):
    titles = "date,TMIN (tenths of degrees C),TMAX (tenths of C),PRCP (tenths of mm)"
    rows = "2027-05-01,55,170,0\n2027-05-02,70,205,127\n2027-05-03,60,180,\n"
    assert_ours(read(tmp_path, f"{titles}\n{rows}"))
