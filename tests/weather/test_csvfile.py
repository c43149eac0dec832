"""What is written is read back value for value."""

from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fruitcast.errors import OutputError
from fruitcast.weather.daily import DailyWeather, Source
from fruitcast.weather.formats import read_weather_file
from fruitcast.weather.table import weather_csv, write_weather_csv
from tests.drawn import examples
from tests.weather.tables import NAN, same, steady, table

MAY = date(2027, 5, 1)


def some(low, high):
    return st.one_of(st.just(NAN), st.floats(low, high))


@st.composite
def tables(draw):
    length = draw(st.integers(1, 12))
    column = lambda values: draw(st.lists(values, min_size=length, max_size=length))  # noqa: E731
    tmin, range_ = column(some(-60, 30)), column(some(0, 20))
    columns = {
        "tmin": tmin,
        "tmax": [low + more for low, more in zip(tmin, range_, strict=True)],
        "rain": column(some(0, 500)),
    }
    if draw(st.booleans()):
        columns["rh"] = column(some(0, 100))
    if draw(st.booleans()):
        columns["tmean"] = [
            low + more * draw(st.floats(0, 1)) for low, more in zip(tmin, range_, strict=True)
        ]
    codes = st.sampled_from([Source.OBSERVED, Source.FILLED, Source.FORECAST])
    if draw(st.booleans()):
        row = column(codes)
        columns |= {f"{name}_source": row for name in list(columns)}
    elif draw(st.booleans()):
        columns |= {f"{name}_source": column(codes) for name in list(columns)}
    return table(draw(st.dates(date(1900, 1, 1), date(2100, 1, 1))), **columns)


@examples(40, 150)
@given(tables())
def test_reads_back_identically(tmp_path_factory, weather):
    path = tmp_path_factory.mktemp("csv") / "weather.csv"
    write_weather_csv(weather, path)
    known = any(np.isfinite(column).any() for column in weather.values.values())
    if known:
        assert same(read_weather_file(path, as_it_stands=True), weather)


def test_a_plain_table_has_plain_columns():
    text = weather_csv(table(MAY, tmin=[5.5, NAN], tmax=[17.0, 18.0], rain=[0.0, NAN]))
    assert text == "date,tmin,tmax,rain\n2027-05-01,5.5,17.0,0.0\n2027-05-02,,18.0,\n"


def test_sources_are_written_when_not_all_observed():
    weather = steady(MAY, MAY, rain_source=[Source.FILLED])
    assert weather_csv(weather).splitlines() == [
        "date,tmin,tmax,rain,tmin_source,tmax_source,rain_source",
        "2027-05-01,8.0,18.0,2.0,observed,observed,filled",
    ]


def test_the_licence_line_stays_with_the_data(tmp_path):
    plain = steady(MAY, MAY)
    weather = DailyWeather(MAY, plain.values, plain.sources, attribution="Weather data: Someone")
    write_weather_csv(weather, tmp_path / "weather.csv")
    assert read_weather_file(tmp_path / "weather.csv").attribution == "Weather data: Someone"


def test_a_failed_write_leaves_the_old_file(tmp_path):
    path = tmp_path / "weather.csv"
    path.write_text("old", encoding="utf-8")
    broken = DailyWeather(MAY, {"tmin": np.zeros(1)}, {})
    with pytest.raises(KeyError):
        write_weather_csv(broken, path)
    assert path.read_text(encoding="utf-8") == "old"
    with pytest.raises(OutputError, match="cannot be written"):
        write_weather_csv(steady(MAY, MAY), path / "weather.csv")
    assert [p.name for p in tmp_path.iterdir()] == ["weather.csv"]
