"""The forecast for the yard's own place, on answers of the documented form.

The form: api.met.no's locationforecast, compact JSON (GeoJSON with `properties.timeseries`), as its
documentation and data model describe it: by the hour at first with `next_1_hours`, then every six
hours with `next_6_hours`; times in UTC, precipitation of a period from its point in time on. Its
terms of service: a User-Agent that names application and contact, no request before `Expires`,
`If-Modified-Since` after it, at most four decimals of the position.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
import requests
import responses
import time_machine

from fruitcast.weather.daily import Source
from fruitcast.weather.site_forecast import daily_forecast, with_site_forecast
from fruitcast.weather.station_files import BadPayloadError
from tests.weather.tables import steady

HOST = "https://api.met.no/weatherapi/locationforecast/2.0/compact"
NOW = datetime(2027, 5, 3, 9, 20, tzinfo=UTC)
TODAY = NOW.date()
ZONE = ZoneInfo("America/New_York")
HTTP_DATE = "%a, %d %b %Y %H:%M:%S GMT"


@dataclass(frozen=True)
class Spot:
    latitude: float = 42.612345678
    longitude: float = -73.41
    elevation: float = 241.3


def point(at: datetime, warm: float, hour: float | None = None, six: float | None = None):
    data = {
        "instant": {
            "details": {
                "air_pressure_at_sea_level": 1015.2,
                "air_temperature": warm,
                "cloud_area_fraction": 60.2,
                "relative_humidity": 80.0,
                "wind_from_direction": 200.1,
                "wind_speed": 2.1,
            }
        }
    }
    if hour is not None:
        details = {"precipitation_amount": hour}
        data["next_1_hours"] = {"summary": {"symbol_code": "rain"}, "details": details}
    if six is not None:
        details = {"precipitation_amount": six}
        data["next_6_hours"] = {"summary": {"symbol_code": "rain"}, "details": details}
    return {"time": at.strftime("%Y-%m-%dT%H:%M:%SZ"), "data": data}


def by_the_clock(at: datetime) -> float:
    """15 C, warmest at 20 UTC, 6 C up and down."""
    return 15.0 + 6.0 * np.cos(2 * np.pi * (at.hour - 20) / 24)


def payload(
    first=datetime(2027, 5, 3, 9, tzinfo=UTC), hourly=57, sixes=32, hour=0.5, six=3.0
) -> bytes:
    at, series = first, []
    for _ in range(hourly):
        series.append(point(at, by_the_clock(at), hour, six))
        at += timedelta(hours=1)
    for _ in range(sixes):
        series.append(point(at, by_the_clock(at), None, six))
        at += timedelta(hours=6)
    series.append(point(at, by_the_clock(at)))
    meta = {"updated_at": first.strftime("%Y-%m-%dT%H:%M:%SZ"), "units": {}}
    document = {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": [-73.41, 42.612, 241]},
        "properties": {"meta": meta, "timeseries": series},
    }
    return json.dumps(document).encode()


def test_hours_are_summed_to_the_yards_own_days():
    made, days = daily_forecast(payload(), ZONE)
    assert made == datetime(2027, 5, 3, 9, tzinfo=UTC)
    # It begins at five in the morning there: that day is not whole.
    assert days.start == date(2027, 5, 4)
    assert days.rain == pytest.approx(12.0)  # 24 x 0.5 by the hour, 4 x 3.0 by six
    # Straight lines over six hours cut the wave's top off on the day that begins by the hour.
    assert days.tmean == pytest.approx(15.0, abs=0.25)
    # Six-hour steps miss the hour of 20 UTC; the hourly days tell by how much.
    assert days.tmax == pytest.approx(21.0, abs=0.35) and days.tmin == pytest.approx(9.0, abs=0.35)
    assert days.tmax[:2] == pytest.approx(21.0) and (days.rh == pytest.approx(80.0))
    assert all((codes == Source.FORECAST).all() for codes in days.sources.values())
    last = datetime(2027, 5, 3, 9, tzinfo=UTC) + timedelta(hours=57 + 6 * 32)
    assert days.end == last.astimezone(ZONE).date() - timedelta(days=1)


def test_a_six_hour_fall_over_midnight_is_parted():
    """Rain of 6 mm from 0 to 6 UTC is 4 mm before midnight in New York and 2 after."""
    series = [
        point(datetime(2027, 5, 3, 0, tzinfo=UTC) + timedelta(hours=6 * n), 10.0, None, 0.0)
        for n in range(12)
    ]
    series[4]["data"]["next_6_hours"]["details"]["precipitation_amount"] = 6.0
    document = json.loads(payload())
    document["properties"]["timeseries"] = series
    _, days = daily_forecast(json.dumps(document).encode(), ZONE)
    assert days.start == date(2027, 5, 3)
    assert days.rain[:2] == pytest.approx([4.0, 2.0])


def test_a_day_on_which_the_clocks_change_has_23_hours():
    _, days = daily_forecast(payload(datetime(2027, 3, 13, 0, tzinfo=UTC), hourly=72), ZONE)
    assert days.rain[days.index(date(2027, 3, 14))] == pytest.approx(11.5)


def test_a_day_not_told_whole_ends_the_forecast():
    document = json.loads(payload())
    series = document["properties"]["timeseries"]
    gone = [p for p in series if not p["time"].startswith(("2027-05-07T00", "2027-05-07T06"))]
    document["properties"]["timeseries"] = gone
    _, days = daily_forecast(json.dumps(document).encode(), ZONE)
    assert days.end == date(2027, 5, 5)
    document["properties"]["timeseries"] = series
    for told in series:
        if told["time"].startswith("2027-05-07T12"):
            del told["data"]["next_6_hours"]
    _, days = daily_forecast(json.dumps(document).encode(), ZONE)
    assert days.end == date(2027, 5, 6)


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"<html>log in</html>",
        b"[1, 2]",
        b"{}",
        b'{"properties": {"timeseries": [], "meta": {"updated_at": "2027-05-03T09:00:00Z"}}}',
        payload().replace(b'"air_temperature": 15', b'"air_temperature": 915', 1),
        payload().replace(b'"precipitation_amount": 0.5', b'"precipitation_amount": -9', 1),
        payload().replace(b"2027-05-03T10", b"2027-05-03T08"),
        payload().replace(b"air_temperature", b"air"),
        payload(hourly=5, sixes=1),
    ],
)
def test_anything_else_is_refused(content):
    with pytest.raises(BadPayloadError):
        daily_forecast(content, ZONE)


@pytest.fixture
def server():
    with (
        time_machine.travel(NOW, tick=False),
        responses.RequestsMock(assert_all_requests_are_fired=False) as mock,
    ):
        yield mock


@pytest.fixture
def ask(tmp_path):
    def call(now=NOW, weather=None, site=None, **options):
        with time_machine.travel(now, tick=False):
            return with_site_forecast(
                weather or steady(date(2027, 4, 1), TODAY - timedelta(days=1)),
                site or Spot(),
                ZONE,
                "grower@example.org",
                cache_folder=tmp_path,
                now=now,
                **options,
            )

    return call


def serve(server, expires=NOW + timedelta(minutes=30), body=None):
    headers = {
        "Expires": expires.strftime(HTTP_DATE),
        "Last-Modified": NOW.strftime(HTTP_DATE),
    }
    return server.get(HOST, body=body or payload(), headers=headers)


def unplug(server):
    server.reset()
    server.get(re.compile(".*"), body=requests.ConnectionError("unplugged"))


def test_the_service_is_asked_as_its_terms_want(server, ask):
    serve(server)
    found = ask()
    (call,) = server.calls
    assert call.request.url == f"{HOST}?lat=42.612&lon=-73.41&altitude=241"
    agent = call.request.headers["User-Agent"]
    assert re.fullmatch(r"fruitcast/[\d.]+ grower@example\.org", agent)
    assert found.attribution == "Forecast: MET Norway (NLOD 2.0)"
    assert found.start == date(2027, 4, 1) and found.end > TODAY + timedelta(days=7)
    assert found.rain[found.index(date(2027, 5, 4))] == pytest.approx(12.0)
    assert np.isnan(found.rain[found.index(TODAY)])
    assert (found.sources["rain"][: found.index(TODAY)] == Source.OBSERVED).all()


def test_a_yard_of_unknown_height_leaves_it_to_the_service(server, ask):
    serve(server)
    ask(site=Spot(elevation=0.0))
    assert server.calls[0].request.url == f"{HOST}?lat=42.612&lon=-73.41"


def test_nothing_is_asked_again_before_it_expires_and_then_only_for_what_is_new(server, ask):
    serve(server)
    first = ask()
    again = ask(NOW + timedelta(minutes=29))
    assert len(server.calls) == 1
    np.testing.assert_array_equal(first.rain, again.rain)
    server.reset()
    later = (NOW + timedelta(hours=2)).strftime(HTTP_DATE)
    server.get(HOST, status=304, headers={"Expires": later})
    third = ask(NOW + timedelta(minutes=31))
    (call,) = server.calls
    assert call.request.headers["If-Modified-Since"] == NOW.strftime(HTTP_DATE)
    np.testing.assert_array_equal(first.rain, third.rain)
    ask(NOW + timedelta(minutes=90))
    assert len(server.calls) == 1


def test_with_the_network_down_the_stored_forecast_is_used_and_its_age_told(server, ask):
    serve(server)
    ask()
    unplug(server)
    found = ask(NOW + timedelta(hours=20))
    assert found.end > TODAY + timedelta(days=7)
    assert found.notes[-1] == (
        "The forecast for the yard is 20 hours old, because the network or the server can't be "
        "reached."
    )
    offline = ask(NOW + timedelta(hours=20), offline=True)
    assert "because working offline was asked for" in offline.notes[-1]
    old = ask(NOW + timedelta(days=3))
    assert old.end == TODAY - timedelta(days=1) and "too old" in old.notes[-1]


@pytest.mark.parametrize(
    ("answer", "reason"),
    [
        ({"body": requests.ConnectionError("unplugged")}, "can't be reached"),
        ({"status": 403}, "the service answered 403"),
        ({"status": 503}, "the service answered 503"),
        ({"body": b"<html>Please log in</html>"}, "no forecast that can be read"),
    ],
)
def test_an_outage_is_told_and_is_no_dry_week(server, ask, answer, reason):
    server.get(HOST, **answer)
    found = ask()
    assert found.end == TODAY - timedelta(days=1)
    assert reason in found.notes[-1] and "past years alone" in found.notes[-1]


def test_a_failure_leaves_the_stored_forecast_stored(server, ask):
    serve(server)
    ask()
    server.reset()
    server.get(HOST, body=b"<html>Please log in</html>")
    found = ask(NOW + timedelta(hours=5))
    assert found.end > TODAY + timedelta(days=7) and "5 hours old" in found.notes[-1]


def test_a_station_with_a_forecast_of_its_own_is_left_as_it_is(server, ask):
    weather = steady(date(2027, 4, 1), TODAY + timedelta(days=3))
    for codes in weather.sources.values():
        codes[weather.index(TODAY) :] = Source.FORECAST
    assert ask(weather=weather) is weather
    assert not server.calls
