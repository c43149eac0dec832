"""Whatever the file holds, the reader answers with a table or with a message of ours."""

import numpy as np
from hypothesis import example, given
from hypothesis import strategies as st

from fruitcast.errors import FruitcastError
from fruitcast.weather.daily import VARIABLES, Source
from fruitcast.weather.formats import read_weather_file
from tests.drawn import examples

TITLES = st.sampled_from(
    [
        "date,tmin,tmax,rain",
        "date;tmin;tmax;rain;rh;source",
        "Day\tMonth\tYear\tTmin(C)\tTmax(C)\tPrcp(mm)",
        '"STATION","DATE","PRCP","TMAX","TMIN"',
        "year doy tmin tmax rain",
        "time,temperature_2m_max (°F),temperature_2m_min (°F),precipitation_sum (inch)",
    ]
)
CELL = st.one_of(
    st.sampled_from(
        [
            "0",
            "-1",
            "3.5",
            "3,5",
            "T",
            "NA",
            "-9999",
            "1e9",
            "nan",
            "inf",
            "2027-05-03",
            "3/5/2027",
            "31.12.2026",
            "46510",
            "Total",
            "2028",
            "366",
            "12",
            '"',
            '""',
            "\x00",
            "",
        ]
    ),
    st.text(max_size=6),
)
ROW = st.builds(
    lambda cells, mark: mark.join(cells),
    st.lists(CELL, max_size=7),
    st.sampled_from([",", ";", "\t", " "]),
)


def check(path):
    try:
        weather = read_weather_file(path)
    except FruitcastError as error:
        assert str(error)
        return
    assert weather.days >= 1
    with np.errstate(invalid="ignore"):
        assert not (weather.tmin > weather.tmax).any()
        assert not (weather.rain < 0).any()
    for name in VARIABLES:
        assert ((weather.sources[name] == Source.MISSING) == np.isnan(weather.values[name])).all()


@examples(40, 150)
@given(titles=TITLES, rows=st.lists(ROW, max_size=6))
@example(titles="date,tmin,tmax,rain", rows=["2027-05-03,1,2,3"])
def test_any_rows_below_known_titles(tmp_path_factory, titles, rows):
    path = tmp_path_factory.mktemp("any") / "weather.csv"
    path.write_text("\n".join([titles, *rows]), encoding="utf-8", errors="replace", newline="")
    check(path)


@examples(30, 100)
@given(st.binary(max_size=300))
def test_any_bytes(tmp_path_factory, content):
    path = tmp_path_factory.mktemp("any") / "weather.csv"
    path.write_bytes(content)
    check(path)


@examples(20, 50)
@given(st.text(max_size=300))
def test_any_text(tmp_path_factory, content):
    path = tmp_path_factory.mktemp("any") / "weather.csv"
    path.write_text(content, encoding="utf-8", errors="replace", newline="")
    check(path)
