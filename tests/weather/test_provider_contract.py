"""What we rely on inside Meteostat, which is not its public interface, still holds."""

import io
from datetime import date, datetime
from importlib.metadata import version

import meteostat
import pandas as pd
from meteostat.core.providers import provider_service
from meteostat.enumerations import Grade
from meteostat.utils.data import reshape_by_source

from fruitcast.weather.daily import FORECAST_PROVIDERS
from fruitcast.weather.station_files import (
    PARAMETERS,
    PROVIDER,
    YearFile,
    parse_year,
    read_daily,
    register,
)
from tests.weather.station_server import HOST, packed, year_csv


def test_the_version_is_the_one_the_registration_was_written_for():
    assert version("meteostat").startswith("2.1.")


def test_the_bulk_files_are_where_we_ask_for_them():
    assert meteostat.config.daily_endpoint == f"{HOST}/daily/{{year}}/{{station}}.csv.gz"


def test_registering_twice_leaves_one_provider_and_meteostats_cache_off():
    register()
    register()
    assert [provider.id for provider in provider_service.providers].count(PROVIDER) == 1
    assert provider_service.get_provider(PROVIDER).parameters == PARAMETERS
    assert meteostat.config.cache_enable is False


def test_meteostat_hands_our_files_through_with_their_sources():
    table = parse_year(packed(year_csv(2027, until=date(2027, 1, 10))))
    files = [YearFile(2027, table, datetime(2027, 5, 3).astimezone())]
    weather = read_daily("AAA", files, date(2027, 1, 3), date(2027, 1, 8))
    assert (weather.start, weather.end) == (date(2027, 1, 3), date(2027, 1, 8))
    assert weather.attribution.startswith("Weather data: Meteostat")
    assert read_daily("AAA", files, date(2027, 2, 3), date(2027, 2, 8)) is None
    empty = [YearFile(2027, None, datetime(2027, 5, 3).astimezone())]
    assert read_daily("AAA", empty, date(2027, 1, 3), date(2027, 1, 8)) is None


def test_forecast_providers_are_those_meteostat_grades_as_forecasts():
    graded = {str(p.id) for p in provider_service.providers if p.grade is Grade.FORECAST}
    assert graded == FORECAST_PROVIDERS


def test_our_parsing_agrees_with_meteostats_own():
    # Steps of meteostat 2.1.5, providers/meteostat/daily.py, on the same bytes.
    text = year_csv(2027, forecast_from=date(2027, 6, 1), without_rain=[date(2027, 2, 2)])
    theirs = pd.read_csv(io.StringIO(text), sep=",")
    parts = theirs.columns[0:3]
    theirs["time"] = pd.to_datetime(theirs[parts])
    theirs = reshape_by_source(theirs.drop(parts, axis=1).set_index("time"))
    ours = parse_year(packed(text))
    theirs = theirs[ours.columns].dropna(how="all")
    pd.testing.assert_frame_equal(
        ours.sort_index(), theirs.sort_index(), check_dtype=False, check_index_type=False
    )
