"""Station weather: fetched once, refreshed daily, stale rather than absent, never dry by outage."""

import os
import re
import sqlite3
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

import meteostat
import numpy as np
import pytest
import requests
import responses
import time_machine

from fruitcast.errors import StationError, WeatherGapError
from fruitcast.weather.daily import Source
from fruitcast.weather.known import as_known_on, usable_years
from fruitcast.weather.station import fetch_station
from tests.weather.station_server import HOST, packed, serve_year, stations_db, year_csv, year_url
from tests.weather.tables import same

NOON = datetime(2027, 5, 3, 12, tzinfo=UTC)
TODAY = NOON.date()
INDEX = f"{HOST}/stations.db"
PORTAL = b"<!DOCTYPE html><html><body>Please log in to the guest network</body></html>"


@dataclass(frozen=True)
class Spot:
    latitude: float = 42.6
    longitude: float = -73.4
    elevation: float = 240.0


@pytest.fixture
def clock():
    with time_machine.travel(NOON, tick=False) as traveller:
        yield traveller


@pytest.fixture
def server(clock):
    with responses.RequestsMock(assert_all_requests_are_fired=False) as mock:
        yield mock


@pytest.fixture
def fetch(tmp_path):
    def call(station="AAA", first=date(2025, 1, 1), last=TODAY, site=None, **options):
        return fetch_station(
            site or Spot(),
            station,
            first,
            last,
            cache_folder=tmp_path / "cache",
            now=datetime.now(UTC),
            **options,
        )

    return call


def serve(server, station="AAA", years=(2025, 2026), **options):
    for year in years:
        serve_year(server, station, year)
    serve_year(server, station, 2027, until=TODAY - timedelta(days=1), **options)


def serve_index(server, folder, *stations):
    rows = stations or [("AAA", "Hollow Field", 42.7, -73.4, 250)]
    server.get(INDEX, body=stations_db(folder, rows))


def unplug(server):
    server.reset()
    server.get(re.compile(".*"), body=requests.ConnectionError("unplugged"))


def test_the_first_fetch_stores_and_the_second_makes_no_request(server, fetch, tmp_path):
    serve_index(server, tmp_path)
    serve(server)
    first = fetch()
    assert (first.start, first.end) == (date(2025, 1, 1), date(2027, 5, 2))
    assert first.origin == "Station Hollow Field (AAA), 11 km away"
    assert first.attribution == "Weather data: Meteostat (CC BY 4.0)"
    assert first.notes == ()
    assert first.rh[0] == 70.0
    assert (first.tmax - first.tmin == 10.0).all()
    assert (first.tmean - first.tmin == 4.5).all()
    assert set(first.rain.tolist()) == {0.0, 2.0}
    assert len(server.calls) == 4
    second = fetch()
    assert len(server.calls) == 4
    assert same(first, second)


def test_a_fetch_that_was_stopped_asks_only_for_the_rest(server, fetch, tmp_path):
    serve_index(server, tmp_path)
    serve(server)
    told = []

    def until(words, done=0, total=0):
        told.append((words, done, total))
        if done == 2 and len(told) == 3:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        fetch(progress=until)
    asked = len(server.calls)
    again = fetch(progress=until)
    assert told[:3] == [("years of station AAA", done, 3) for done in range(3)]
    assert told[3:] == told[:3]
    urls = [call.request.url for call in server.calls]
    assert urls[asked:] == [year_url("AAA", 2027)] and len(set(urls)) == len(urls)
    server.reset()
    assert same(again, fetch()) and again.end == date(2027, 5, 2)


def test_forecast_values_are_recognised_by_any_word_of_their_label(server, fetch, tmp_path):
    serve_index(server, tmp_path)
    for year in (2025, 2026):
        serve_year(server, "AAA", year)
    serve_year(server, "AAA", 2027, until=date(2027, 5, 12), forecast_from=TODAY)
    weather = fetch(last=date(2027, 5, 18))
    assert weather.end == date(2027, 5, 12)
    at = weather.index(TODAY)
    for name in ("tmin", "tmax", "tmean", "rain"):
        assert (weather.sources[name][:at] == Source.OBSERVED).all()
        assert (weather.sources[name][at:] == Source.FORECAST).all()
    assert as_known_on(weather, TODAY).end == date(2027, 5, 12)
    assert weather.attribution == (
        "Weather data: Meteostat (CC BY 4.0), from Deutscher Wetterdienst, MET Norway"
    )


def test_past_years_are_kept_and_this_year_is_refreshed_daily(server, fetch, tmp_path, clock):
    serve_index(server, tmp_path)
    serve(server)
    fetch()
    clock.shift(timedelta(hours=25))
    server.replace(responses.GET, year_url("AAA", 2027), body=packed(year_csv(2027, until=TODAY)))
    weather = fetch(last=date(2027, 5, 4))
    assert weather.end == TODAY
    assert [call.request.url for call in server.calls][4:] == [year_url("AAA", 2027)]


def test_a_year_fetched_while_it_ran_is_fetched_again_once_it_has_settled(
    server, fetch, tmp_path, clock
):
    serve_index(server, tmp_path)
    serve(server)
    fetch()
    clock.move_to(datetime(2028, 3, 2, tzinfo=UTC))
    server.replace(responses.GET, year_url("AAA", 2027), body=packed(year_csv(2027)))
    serve_year(server, "AAA", 2028, until=date(2028, 3, 1))
    weather = fetch(last=date(2028, 3, 2))
    assert np.isfinite(weather.rain).all()
    clock.shift(timedelta(days=300))
    server.reset()
    assert fetch(last=date(2027, 12, 31)).end == date(2027, 12, 31)


def test_with_the_network_down_the_stored_copy_is_used_and_its_age_told(
    server, fetch, tmp_path, clock
):
    serve_index(server, tmp_path)
    serve(server)
    before = fetch()
    unplug(server)
    clock.shift(timedelta(days=3, hours=1))
    weather = fetch()
    assert same(before, weather)
    assert weather.notes == (
        "Station Hollow Field (AAA), 11 km away: the stored copy of 2027 is 3 days old (fetched "
        "2027-05-03), because the network or the server can't be reached.",
    )


def test_nothing_stored_and_network_down_is_one_clear_error(server, fetch, tmp_path):
    unplug(server)
    with pytest.raises(
        StationError,
        match=r"Station AAA: the weather of 2025 can't be fetched, because the network or the "
        r"server can't be reached, and no copy of it is stored in .*cache\. Try again when",
    ):
        fetch()
    with pytest.raises(
        StationError, match="The list of weather stations can't be fetched, because the network"
    ):
        fetch("nearest")


def test_offline_makes_no_request(server, fetch, tmp_path, clock):
    serve_index(server, tmp_path)
    serve(server)
    before = fetch()
    server.reset()
    clock.shift(timedelta(days=100))
    weather = fetch(offline=True)
    assert same(before, weather)
    assert "100 days old" in weather.notes[-1]
    assert "working offline was asked for" in weather.notes[-1]
    with pytest.raises(StationError, match="2024 can't be fetched, because working offline"):
        fetch(first=date(2024, 1, 1), offline=True)


BROKEN = [
    pytest.param({"body": PORTAL, "content_type": "text/html"}, "web page, perhaps", id="portal"),
    pytest.param({"body": packed(year_csv(2027))[:900]}, "a broken archive", id="cut short"),
    pytest.param({"body": b"\x1f\x8bgarbage"}, "a broken archive", id="garbage"),
    pytest.param({"body": packed("a,b\n1,2\n")}, "no daily weather table", id="other table"),
    pytest.param(
        {"body": packed("year,month,day,tmin\n2027,1,x,4\n")}, "that can't be read", id="bad rows"
    ),
    pytest.param({"status": 503}, "the server answered 503", id="503"),
    pytest.param({"status": 403}, "the server answered 403", id="403"),
    pytest.param({"body": requests.Timeout()}, "the server does not answer", id="timeout"),
]


@pytest.mark.parametrize(("answer", "reason"), BROKEN)
def test_a_failure_without_a_stored_copy_is_an_error(server, fetch, tmp_path, answer, reason):
    serve_index(server, tmp_path)
    serve(server)
    server.replace(responses.GET, year_url("AAA", 2027), **answer)
    with pytest.raises(StationError, match=f"the weather of 2027 can't be fetched.*{reason}"):
        fetch()


@pytest.mark.parametrize(("answer", "reason"), BROKEN)
def test_a_failure_falls_back_on_the_stored_copy_and_leaves_it_stored(
    server, fetch, tmp_path, clock, answer, reason
):
    serve_index(server, tmp_path)
    serve(server)
    before = fetch()
    clock.shift(timedelta(days=2))
    server.replace(responses.GET, year_url("AAA", 2027), **answer)
    for _ in range(2):
        weather = fetch()
        assert same(before, weather)
        assert "2 days old" in weather.notes[0]
        assert reason in weather.notes[0]


def test_a_year_the_server_has_not_is_told_and_is_missing_not_dry(server, fetch, tmp_path):
    serve_index(server, tmp_path)
    serve(server, years=(2024, 2026))
    server.get(year_url("AAA", 2025), status=404)
    weather = fetch(first=date(2024, 1, 1))
    assert weather.notes == ("Station Hollow Field (AAA), 11 km away: there is no file of 2025.",)
    year = weather.cut(date(2025, 1, 1), date(2026, 1, 1))
    assert year.days == 365
    assert np.isnan(year.rain).all()
    calls = len(server.calls)
    fetch(first=date(2024, 1, 1))
    assert len(server.calls) == calls


def test_a_file_that_vanishes_from_the_server_stays_in_the_store(server, fetch, tmp_path, clock):
    serve_index(server, tmp_path)
    serve(server)
    before = fetch()
    clock.shift(timedelta(days=2))
    server.replace(responses.GET, year_url("AAA", 2027), status=404)
    weather = fetch()
    assert same(before, weather)
    assert "the server says it no longer has the file" in weather.notes[0]
    unplug(server)
    assert same(before, fetch())


def test_a_station_without_any_file_is_an_error(server, fetch, tmp_path):
    serve_index(server, tmp_path)
    for year in (2025, 2026, 2027):
        server.get(year_url("ZZZ", year), status=404)
    with pytest.raises(StationError, match=r"Station ZZZ.*there is no daily weather between 2025"):
        fetch("ZZZ")


def test_half_a_year_of_data_is_a_gap_not_a_drought(server, fetch, tmp_path):
    serve_index(server, tmp_path)
    for year in range(2020, 2027):
        serve_year(server, "AAA", year, until=date(2023, 6, 30) if year == 2023 else None)
    serve_year(server, "AAA", 2027, until=date(2027, 3, 20))
    weather = fetch(first=date(2020, 1, 1))
    assert np.isnan(weather.rain[weather.index(date(2023, 7, 1))])
    with pytest.raises(WeatherGapError, match=r"Station Hollow Field.*lacks the 43 days since"):
        usable_years(as_known_on(weather, TODAY), TODAY, 100)


def test_several_stations_fill_each_others_gaps(server, fetch, tmp_path):
    serve_index(
        server,
        tmp_path,
        ("AAA", "Hollow Field", 42.7, -73.4, 250),
        ("BBB", "Ridge", 42.9, -73.4, 300),
    )
    gap = [date(2026, 7, 1) + timedelta(days=d) for d in range(10)]
    serve_year(server, "AAA", 2025)
    serve_year(server, "AAA", 2026, without_rain=gap)
    serve_year(server, "AAA", 2027, until=date(2027, 4, 25))
    serve(server, "BBB", warmer=1.0, rain=7.0)
    alone = fetch("AAA")
    weather = fetch("AAA, BBB")
    rows = slice(weather.index(gap[0]), weather.index(gap[-1]) + 1)
    assert np.isnan(alone.rain[rows]).all()
    assert (weather.sources["rain"][rows] == Source.FILLED).all()
    assert (weather.tmin[-7:] - alone.tmin[-14:-7] == 1.0).all()
    assert weather.notes == (
        "Gaps were filled from Station Ridge (BBB), 33 km away: temperature on 7 days, rain on 17 "
        "days.",
    )


def test_nearest_passes_over_stations_without_rain_and_fills_from_the_next(server, fetch, tmp_path):
    serve_index(
        server,
        tmp_path,
        ("DDD", "Closed", 42.61, -73.4, 240),
        ("NNN", "No gauge", 42.62, -73.4, 240),
        ("AAA", "Hollow Field", 42.7, -73.4, 250),
        ("BBB", "Ridge", 42.9, -73.4, 300),
        ("CCC", "Beyond", 43.0, -73.4, 300),
    )
    for year in (2026, 2027):
        server.get(year_url("DDD", year), status=404)
        no_rain = "\n".join(line.replace("prcp", "wpgt") for line in year_csv(year).splitlines())
        serve_year(server, "NNN", year, packed(no_rain))
    serve_year(server, "AAA", 2025)
    serve_year(server, "AAA", 2026, until=date(2026, 6, 30))
    serve_year(server, "AAA", 2027, until=date(2027, 5, 2))
    serve(server, "BBB")
    weather = fetch("nearest")
    assert weather.origin == "Station Hollow Field (AAA), 11 km away"
    assert np.isfinite(weather.rain).all()
    assert (weather.sources["rain"] == Source.FILLED).sum() == 184
    assert not any("CCC" in call.request.url for call in server.calls)


def test_an_outage_at_one_station_near_by_is_told(server, fetch, tmp_path):
    serve_index(
        server,
        tmp_path,
        ("AAA", "Hollow Field", 42.7, -73.4, 250),
        ("BBB", "Ridge", 42.9, -73.4, 300),
    )
    for year in (2025, 2026, 2027):
        server.get(year_url("AAA", year), status=503)
    serve(server, "BBB")
    weather = fetch("nearest")
    assert weather.origin == "Station Ridge (BBB), 33 km away"
    assert "Passed over: Station AAA: the weather of 2027 can't be fetched" in weather.notes[0]


def test_a_station_far_away_or_much_higher_is_told(server, fetch, tmp_path):
    serve_index(server, tmp_path, ("AAA", "Summit", 43.4, -73.4, 900))
    serve(server)
    notes = fetch("nearest").notes
    assert notes[0].startswith("Station Summit (AAA), 89 km away: rain may differ much")
    assert notes[1].startswith("Station Summit (AAA), 89 km away lies 660 m higher than the yard")


def test_no_station_near_by_is_an_error(server, fetch, tmp_path):
    serve_index(server, tmp_path, ("AAA", "Elsewhere", 52.0, 5.0, 10))
    with pytest.raises(StationError, match=r"no weather station within 150 km of 42\.6, -73\.4"):
        fetch("nearest")


def test_no_station_near_by_with_rain_is_an_error(server, fetch, tmp_path):
    serve_index(server, tmp_path)
    for year in (2026, 2027):
        server.get(year_url("AAA", year), status=404)
    with pytest.raises(StationError, match="None of the 1 weather stations nearest"):
        fetch("nearest")


def test_a_given_station_does_without_the_list_of_stations(server, fetch, tmp_path):
    server.get(INDEX, body=PORTAL, content_type="text/html")
    server.get(meteostat.config.stations_db_endpoints[1], status=500)
    serve(server)
    weather = fetch("AAA")
    assert weather.origin == "Station AAA (AAA)"
    assert weather.notes == (
        "How far station AAA is away is not known: the list of stations can't be had just now.",
    )
    assert not (tmp_path / "cache" / "stations.db").exists()


def test_an_old_list_of_stations_serves_when_a_new_one_can_not_be_had(
    server, fetch, tmp_path, clock
):
    serve_index(server, tmp_path)
    serve(server)
    fetch("nearest")
    clock.shift(timedelta(days=120))
    server.replace(responses.GET, INDEX, body=PORTAL)
    notes = fetch("nearest").notes
    assert notes[0].startswith("The list of stations is 120 days old: a newer one can't be")


def test_a_day_with_crossed_temperatures_is_missing(server, fetch, tmp_path):
    serve_index(server, tmp_path)
    serve(server)
    bad = year_csv(2026).replace("2026,7,1,", "2026,7,1,,40.0,10.0,70,0.0,,,,x,x,x,x,x,x,x,x\n#")
    bad = "\n".join(line for line in bad.splitlines() if not line.startswith("#"))
    server.replace(responses.GET, year_url("AAA", 2026), body=packed(bad))
    weather = fetch()
    assert np.isnan(weather.tmin[weather.index(date(2026, 7, 1))])
    assert any("tmin is above tmax on 1 day" in note for note in weather.notes)


def test_a_damaged_store_is_told_with_its_remedy(server, fetch, tmp_path):
    serve_index(server, tmp_path)
    folder = tmp_path / "cache"
    folder.mkdir()
    (folder / "station_files.sqlite").write_bytes(b"not a database " * 100)
    with pytest.raises(StationError, match=r"station_files\.sqlite: the store .* Delete this file"):
        fetch()


def test_a_damaged_list_of_stations_is_told(server, fetch, tmp_path):
    serve_index(server, tmp_path)
    serve(server)
    fetch()
    path = tmp_path / "cache" / "stations.db"
    with sqlite3.connect(path) as connection:
        connection.execute("DROP TABLE stations")
    connection.close()
    os.utime(path, (NOON.timestamp(), NOON.timestamp()))
    with pytest.raises(StationError, match="the stored list of stations can't be used"):
        fetch("nearest")


def test_more_than_thirty_years_in_one_go(server, fetch, tmp_path):
    serve_index(server, tmp_path)
    serve(server, years=range(1990, 2027))
    assert fetch(first=date(1990, 1, 1)).days == 13636


def test_the_file_of_a_year_to_come_may_be_absent(server, fetch, tmp_path, clock):
    clock.move_to(datetime(2027, 12, 25, tzinfo=UTC))
    serve_index(server, tmp_path)
    serve_year(server, "AAA", 2027, until=date(2027, 12, 24))
    server.get(year_url("AAA", 2028), body=requests.ConnectionError("unplugged"))
    weather = fetch(first=date(2027, 1, 1), last=date(2028, 1, 9))
    assert weather.end == date(2027, 12, 24)
    assert weather.notes == ()


def test_years_without_a_file_are_told_as_spans(server, fetch, tmp_path):
    serve_index(server, tmp_path)
    for year in (*range(2015, 2021), 2023):
        server.get(year_url("AAA", year), status=404)
    serve(server, years=(2021, 2022, 2024, 2025, 2026))
    assert fetch(first=date(2015, 1, 1)).notes[0].endswith("there is no file of 2015-2020, 2023.")
