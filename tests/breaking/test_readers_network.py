"""What servers may answer: one clear message, nothing unpacked beyond measure, nothing sent on."""

from __future__ import annotations

import gzip
import io
import sqlite3
import time
from collections import Counter
from dataclasses import replace
from http.client import HTTPResponse
from pathlib import Path

import pytest
import requests
from hypothesis import given
from urllib3.response import HTTPResponse as Received

from fruitcast.errors import CalendarServerError, StationError
from fruitcast.publish.caldav import push
from fruitcast.publish.caldav_client import CalendarCollection
from fruitcast.weather.payload import BadPayloadError, parse_year
from fruitcast.weather.stations_index import StationsIndex
from fruitcast.weather.year_files import YearFiles
from tests.breaking.mutations import damaged, many
from tests.breaking.readers import folder
from tests.breaking.samples import NOW, station_year
from tests.breaking.watching import outcome, unwatched
from tests.publish.sample_plan import yard
from tests.publish.test_caldav import published
from tests.weather.station_server import stations_db

ADDRESS = "http://127.0.0.1:9/cal/"
EVENTS = replace(published(), events=published().events[:2])
EVENT = EVENTS.events[0].uid.partition("@")[0]


class _Wire:
    """A connection that gives back bytes, whatever was asked."""

    def __init__(self, data: bytes) -> None:
        self._data = data

    def makefile(self, *_: object, **__: object) -> io.BytesIO:
        return io.BytesIO(self._data)


class Answers(requests.adapters.HTTPAdapter):
    """Raw answers by method, read by the standard library as if they came over a wire."""

    def __init__(self, raw: dict[str, bytes]) -> None:
        super().__init__()
        self._raw = raw

    def send(self, request, **options):
        try:
            answer = HTTPResponse(_Wire(self._raw.get(request.method, b"")), method=request.method)
            answer.begin()
            received = Received(
                body=answer,
                headers=answer.getheaders(),
                status=answer.status,
                reason=answer.reason,
                preload_content=False,
                original_response=answer,
            )
            return self.build_response(request, received)
        except requests.RequestException:
            raise
        except Exception as error:  # as urllib3 tells of what breaks on the wire
            raise requests.ConnectionError(error) from error


def raw(status: str, body: bytes = b"", **headers: str) -> bytes:
    lines = [f"HTTP/1.1 {status}", f"Content-Length: {len(body)}"]
    lines += [f"{name.replace('_', '-')}: {value}" for name, value in headers.items()]
    return "\r\n".join([*lines, "", ""]).encode("latin-1") + body


def listing(href: str = "/cal/x.ics", etag: str = '"1"', encoding: str = "utf-8") -> bytes:
    return (
        f'<?xml version="1.0" encoding="{encoding}"?>'
        '<multistatus xmlns="DAV:" xmlns:C="urn:ietf:params:xml:ns:caldav">'
        "<response><href>/cal/</href><propstat><prop><resourcetype><collection/><C:calendar/>"
        "</resourcetype></prop><status>HTTP/1.1 200 OK</status></propstat></response>"
        f"<response><href>{href}</href><propstat><prop><getetag>{etag}</getetag></prop>"
        "<status>HTTP/1.1 200 OK</status></propstat></response></multistatus>"
    ).encode()


GOOD = {
    "PROPFIND": raw("207 Multi-Status", listing(f"/cal/{EVENT}.ics")),
    "GET": raw("200 OK", b"BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n", ETag='"1"'),
    "PUT": raw("201 Created", ETag='"2"'),
    "DELETE": raw("204 No Content"),
}


def pushed(answers: dict[str, bytes]):
    collection = CalendarCollection(ADDRESS, "grower", "secret")
    collection._session.mount("http://", Answers(answers))
    return push(EVENTS, collection, overwrite=True)[0]


def test_good_answers_bring_the_calendar_in_step():
    assert len(pushed(GOOD).created) == len(EVENTS.events) - 1


LISTINGS = {
    "an encoding nobody knows": (listing(encoding="klingon"), "answer is not that of a calendar"),
    "an encoding of several bytes": (listing(encoding="big5"), "answer is not that of a calendar"),
    "entities that grow": (
        b'<!DOCTYPE l [<!ENTITY a "' + b"x" * 1000 + b'">'
        + b"".join(
            f'<!ENTITY a{n} "{(f"&a{n - 1};" if n else "&a;") * 10}">'.encode() for n in range(9)
        )
        + b']><multistatus xmlns="DAV:">&a8;</multistatus>',
        "answer is not that of a calendar server",
    ),
    "elements nested very deep": (b"<a>" * 50_000 + b"</a>" * 50_000, "no calendar at this"),
    "a log-in page": (b"<html><body>Log in<br></body></html>", "not that of a calendar server"),
    "nothing": (b"", "not that of a calendar server"),
}  # fmt: skip


@pytest.mark.parametrize("case", LISTINGS)
def test_a_listing_that_is_none_is_one_message(case):
    body, message = LISTINGS[case]

    def read(data: bytes) -> None:
        pushed({**GOOD, "PROPFIND": raw("207 Multi-Status", data)})

    with pytest.raises(CalendarServerError, match=message):
        read(body)
    assert outcome(read, body) == "refused"


@pytest.mark.parametrize(
    ("href", "etag"), [("http://[x", '"1"'), (f"/cal/{EVENT}.ics", '"ü€"'), ("/cal/%ff", "a&#10;b")]
)
def test_an_address_or_tag_that_is_none_does_not_stop_the_others(href, etag):
    answers = {**GOOD, "PROPFIND": raw("207 Multi-Status", listing(href, etag))}
    assert len(pushed(answers).created) >= len(EVENTS.events) - 1


@pytest.mark.parametrize("place", ["http://[x", "\xff\xfe", "", "ftp://x", "http://x:99999/"])
def test_a_redirection_to_what_is_no_address_is_one_message(place):
    with pytest.raises(CalendarServerError, match=r"points to|cannot be reached"):
        pushed({"PROPFIND": raw("302 Found", Location=place)})


@pytest.mark.parametrize("address", ["https://[x", "https://", "[", "https:///cal/"])
def test_an_address_given_that_is_none_is_one_message(address):
    with pytest.raises(CalendarServerError, match=r"is not a calendar's address\. It looks like"):
        CalendarCollection(address, "grower", "secret")


def read_answers(data: bytes) -> None:
    """Push to a server whose answers, one for each method, stand in the data."""
    parts = data.split(_BETWEEN)
    pushed(dict(zip(GOOD, parts, strict=False)))


_BETWEEN = b"\n=====\n"


def _fuzz_answers(number: int, start: int) -> Counter[str]:
    counts: Counter[str] = Counter()

    @many(number, start)
    @given(damaged((_BETWEEN.join(GOOD.values()),), "words", 3))
    def read(data: bytes) -> None:
        counts[outcome(read_answers, data)] += 1

    read()
    return counts


def test_damaged_answers_of_a_calendar_server():
    counts = _fuzz_answers(300, 1)
    assert min(counts["read"], counts["refused"]) > 10, counts


@pytest.mark.long
def test_a_hundred_thousand_damaged_answers_of_a_calendar_server(capsys):
    counts = sum((_fuzz_answers(5_000, 1000 + part) for part in range(20)), Counter())
    with capsys.disabled():
        print(f"\ncalendar server: {dict(counts)}")


# --- weather stations ----------------------------------------------------------------------------


def test_an_archive_that_unpacks_to_very_much_is_refused_at_its_first_megabytes():
    bomb = gzip.compress(b"year,month,day,tmin\n" + b"0" * 300_000_000, 9)
    assert len(bomb) < 400_000

    def read(data: bytes) -> None:
        with pytest.raises(BadPayloadError, match="far more than a year of daily weather"):
            parse_year(data)

    assert outcome(read, bomb) == "read"


def test_a_year_whose_line_ends_were_lost_is_refused_at_once():
    lost = station_year(365).replace(b"\n", "\u2028".encode())

    def read(data: bytes) -> None:
        with pytest.raises(BadPayloadError, match="no daily weather table"):
            parse_year(data)

    began = time.process_time()
    assert outcome(read, lost) == "read"
    assert time.process_time() - began < 0.5


def test_what_no_station_can_have_measured_is_missing():
    text = station_year().decode()
    line = next(line for line in text.splitlines() if line.startswith("2027,4,5,"))
    cells = line.split(",")
    cells[4:8] = ["-999", "inf", "1e30", "-4"]
    row = parse_year(text.replace(line, ",".join(cells)).encode()).loc["2027-04-05"]
    assert row[["tmin", "tmax", "rhum", "prcp"]].isna().all(axis=None)
    assert row["temp"].notna().all()


@pytest.mark.parametrize("place", ["http://[x", "\xff\xfe"])
def test_a_station_server_that_points_nowhere_is_one_message(tmp_path, place):
    with YearFiles(tmp_path, NOW, offline=False) as files:
        files._session.mount("https://", Answers({"GET": raw("302 Found", Location=place)}))
        with pytest.raises(StationError, match=r"2026 can't be fetched, because the .*no copy"):
            files.get("AAA", 2026)


def _stations(values: tuple[object, ...]) -> bytes:
    with unwatched():
        data = stations_db(folder(), [("AAA", "Hill", 42.4, -76.6, 300)])
        file = Path(folder() / "odd.db")
        file.write_bytes(data)
        connection = sqlite3.connect(file)
        connection.execute("INSERT INTO stations VALUES (?, 'US', 'NY', ?, ?, ?, 'x')", values)
        connection.commit()
        connection.close()
        return file.read_bytes()


@pytest.mark.parametrize(
    "values",
    [("B", 42.4, None, 1), ("B", 42.4, "east", 1), ("B", 42.41, -76.6, "high"), (7, 42.4, b"", "")],
)
def test_a_station_without_a_place_is_passed_over(tmp_path, values):
    (tmp_path / "stations.db").write_bytes(_stations(values))
    index = StationsIndex(tmp_path, NOW, offline=True)
    near = index.nearest(yard().site, 5, 50.0)
    assert near[0].id == "AAA"
    assert index.find(str(values[0]), yard().site) is not None
