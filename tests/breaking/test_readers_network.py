"""What servers may answer: one clear message, nothing unpacked beyond measure, nothing sent on."""

from __future__ import annotations

import gzip
import sqlite3
from pathlib import Path

import pytest

from fruitcast.errors import CalendarServerError, StationError
from fruitcast.outputs.caldav_client import CalendarCollection
from fruitcast.weather.station_files import BadPayloadError, YearFiles, parse_year
from fruitcast.weather.stations import StationsIndex
from tests.breaking.answers import EVENT, EVENTS, GOOD, Answers, listing, pushed, raw
from tests.breaking.places import folder
from tests.breaking.samples import NOW, station_year
from tests.breaking.watching import outcome, unwatched
from tests.outputs.sample_plan import yard
from tests.weather.station_server import stations_db


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

    assert outcome(read, lost) == "read"


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
