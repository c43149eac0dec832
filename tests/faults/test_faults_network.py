"""A network that fails in other ways than being down: one message, nothing lost, then it works.

Portals, broken archives, refusals, half a year and a station that is gone are in
`tests/weather/test_station.py`.
"""

from __future__ import annotations

import re
import sqlite3
from datetime import UTC, date, datetime, timedelta

import pytest
import responses
import time_machine

from fruitcast.errors import StationError
from fruitcast.outputs.caldav_client import CalendarCollection
from fruitcast.outputs.caldav_client import CalendarServerError as ServerError
from fruitcast.weather.station import fetch_station
from tests.cli.running import change, contents, run
from tests.faults.servers import files_handler, serving
from tests.weather.station_server import HOST, packed, serve_year, stations_db, year_csv, year_url
from tests.weather.tables import same
from tests.weather.test_station import Spot

NOON = datetime(2027, 5, 3, 12, tzinfo=UTC)
INDEX = f"{HOST}/stations.db"
PORTAL = b"<!DOCTYPE html><html><body>Welcome, guest! Please log in.</body></html>"


@pytest.fixture
def server():
    with (
        time_machine.travel(NOON, tick=False) as clock,
        responses.RequestsMock(assert_all_requests_are_fired=False) as mock,
    ):
        mock.clock = clock
        yield mock


@pytest.fixture
def fetch(tmp_path):
    def call(station="AAA", **options):
        return fetch_station(
            Spot(),
            station,
            date(2025, 1, 1),
            date(2027, 5, 3),
            cache_folder=tmp_path / "cache",
            now=datetime.now(UTC),
            **options,
        )

    return call


def serve(server, tmp_path, *stations):
    for year in (2025, 2026):
        serve_year(server, "AAA", year)
    serve_year(server, "AAA", 2027, until=date(2027, 5, 2))
    rows = stations or [("AAA", "Hollow Field", 42.7, -73.4, 250)]
    server.get(INDEX, body=stations_db(tmp_path, rows))


def circle(server, address):
    """Let an address send to a log-in, which sends back."""
    login = "https://login.example/portal"
    server.get(address, status=302, headers={"Location": login})
    server.get(login, status=302, headers={"Location": address})


def test_a_redirect_loop_ends_with_one_message_and_few_requests(server, fetch):
    for year in (2025, 2026, 2027):
        circle(server, year_url("AAA", year))
    server.get(INDEX, status=404)
    with pytest.raises(StationError, match=r"2025 can't be fetched, because the server, or a netw"):
        fetch()
    assert len(server.calls) < 60  # one round of the library's, not one for every year


def test_after_a_redirect_loop_the_stored_copy_serves_and_then_the_server_again(
    server, fetch, tmp_path
):
    serve(server, tmp_path)
    before = fetch()
    server.clock.shift(timedelta(days=2))
    server.reset()
    circle(server, year_url("AAA", 2027))
    stale = fetch()
    assert same(before, stale)
    assert "2 days old" in stale.notes[-1] and "sends in circles" in stale.notes[-1]
    server.reset()
    serve_year(server, "AAA", 2027, until=date(2027, 5, 4))
    after = fetch()
    assert after.end == date(2027, 5, 3) and after.notes == ()


def test_a_file_that_has_moved_on_the_server_is_followed(server, fetch, tmp_path):
    serve(server, tmp_path)
    right = fetch()
    moved = f"{HOST}/v3/AAA-2027.csv.gz"
    server.replace(responses.GET, year_url("AAA", 2027), status=301, headers={"Location": moved})
    body = packed(year_csv(2027, until=date(2027, 5, 4)))
    server.get(moved, body=body, content_type="application/gzip")
    server.clock.shift(timedelta(days=2))
    assert fetch().notes == ()
    calls = len(server.calls)
    assert fetch().end == right.end + timedelta(days=1)  # up to the last day asked for
    assert len(server.calls) == calls  # and it is stored


def test_an_hour_of_503_costs_nothing_but_that_hour(server, fetch, tmp_path):
    serve(server, tmp_path)
    before = fetch()
    server.clock.shift(timedelta(days=2))
    server.replace(responses.GET, year_url("AAA", 2027), status=503)
    for _ in range(6):
        weather = fetch()
        assert same(weather, before)
        assert "the server answered 503" in weather.notes[-1]
        server.clock.shift(timedelta(minutes=10))
    server.remove(responses.GET, year_url("AAA", 2027))
    serve_year(server, "AAA", 2027, until=date(2027, 5, 4))
    after = fetch()
    assert after.end == date(2027, 5, 3) and after.notes == ()


def test_a_station_that_has_moved_far_away_is_told(server, fetch, tmp_path):
    serve(server, tmp_path)
    assert fetch().notes == ()
    server.clock.shift(timedelta(days=100))
    moved = ("AAA", "New Hollow Field", 44.5, -73.4, 760)
    server.replace(responses.GET, INDEX, body=stations_db(tmp_path, [moved]))
    notes = " ".join(fetch().notes)
    assert re.search(r"New Hollow Field \(AAA\), 211 km away: rain may differ much", notes), notes
    assert "lies 520 m higher than the yard" in notes


def test_a_portal_in_place_of_the_list_of_stations_is_not_kept(server, fetch, tmp_path):
    serve(server, tmp_path)
    server.replace(responses.GET, INDEX, body=PORTAL, content_type="text/html")
    with pytest.raises(StationError, match="perhaps a network's log-in page"):
        fetch("nearest")
    server.replace(
        responses.GET,
        INDEX,
        body=stations_db(tmp_path, [("AAA", "Hollow Field", 42.7, -73.4, 250)]),
    )
    assert fetch("nearest").origin.startswith("Station Hollow Field")


def test_what_was_fetched_while_the_clock_was_ahead_is_fetched_again(server, fetch, tmp_path):
    """A year file of a future day would else count as fresh until that day."""
    serve(server, tmp_path)
    server.clock.move_to(NOON + timedelta(days=4000))
    fetch()
    server.clock.move_to(NOON + timedelta(days=3))
    server.replace(
        responses.GET,
        year_url("AAA", 2027),
        body=packed(year_csv(2027, until=date(2027, 5, 5))),
    )
    assert fetch().end == date(2027, 5, 3)


def test_a_store_in_use_by_another_program_is_not_told_to_be_deleted(
    server, fetch, tmp_path, monkeypatch
):
    serve(server, tmp_path)
    fetch()
    from requests_cache.backends.sqlite import SQLiteDict

    def busy(*_, **__):
        error = sqlite3.OperationalError("database is locked")
        error.sqlite_errorcode = sqlite3.SQLITE_BUSY
        raise error

    monkeypatch.setattr(SQLiteDict, "__getitem__", busy)
    with pytest.raises(StationError, match=r"Another program is writing to it: try again"):
        fetch()


def test_a_full_disk_under_the_store_is_said(server, fetch, tmp_path, monkeypatch):
    serve(server, tmp_path)
    from requests_cache.backends.sqlite import SQLiteDict

    def full(*_, **__):
        error = sqlite3.OperationalError("database or disk is full")
        error.sqlite_errorcode = sqlite3.SQLITE_FULL
        raise error

    monkeypatch.setattr(SQLiteDict, "__setitem__", full)
    with pytest.raises(StationError, match=r"Make room on the disk"):
        fetch()
    monkeypatch.undo()
    assert fetch().end == date(2027, 5, 2)


@pytest.mark.parametrize("command", [("weather", "fetch"), ("plan", "--weeks", 4, "--no-bound")])
def test_a_portal_everywhere_is_one_message_and_changes_nothing(planned, server, command):
    change(planned / "yard.toml", 'file = "weather.csv"', 'station = "AAA"')
    server.get(re.compile(".*"), body=PORTAL, content_type="text/html")
    before = {k: v for k, v in contents(planned).items() if not k.startswith(".weather")}
    ran = run("--yard", planned, *command)
    assert (ran.code, ran.out) == (1, "")
    assert ran.err.count("\n") == 1 and "perhaps the log-in page of a network" in ran.err
    after = {k: v for k, v in contents(planned).items() if not k.startswith(".weather")}
    assert after == before


def test_a_portal_in_place_of_the_calendar_server_stops_before_anything_is_sent():
    with serving(files_handler({})) as address:
        collection = CalendarCollection(f"{address}/cal/", "grower", "secret")
        with pytest.raises(ServerError, match=r"answered 501|not that of a calendar server"):
            collection.etags()
