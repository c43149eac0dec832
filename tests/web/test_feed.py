"""The calendar feed: the published calendar and nothing else, at an address that can be revoked."""

from __future__ import annotations

from datetime import UTC, datetime
from email.utils import parsedate_to_datetime
from itertools import pairwise

import pytest

from fruitcast.web.access import AccessFile
from fruitcast.web.feed import Versions
from tests.outputs.sample_plan import document, plan
from tests.outputs.strict_ical import own_faults
from tests.web.sites import PASSPHRASE, Now, Visitor, make_app, publish_site, write_site


def feed_of(folder) -> str:
    return f"/feed/{AccessFile(folder).read().feed}.ics"


def test_the_feed_is_the_published_calendar(visitor, folder):
    answer = visitor.client.get(feed_of(folder))
    assert answer.status_code == 200
    assert answer.data == (folder / "out" / "calendar.ics").read_bytes()
    assert answer.headers["Content-Type"] == "text/calendar; charset=utf-8"
    assert answer.headers["Cache-Control"] == "private, no-cache"
    assert "Set-Cookie" not in answer.headers


def test_an_unchanged_feed_is_not_sent_again(visitor, folder, now):
    first = visitor.client.get(feed_of(folder))
    now.later(hours=1)
    tagged = {"If-None-Match": first.headers["ETag"]}
    dated = {"If-Modified-Since": first.headers["Last-Modified"]}
    for headers in (tagged, dated, {**tagged, **dated}, {"If-None-Match": "*"}):
        again = visitor.client.get(feed_of(folder), headers=headers)
        assert (again.status_code, again.data) == (304, b"")
        assert again.headers["ETag"] == first.headers["ETag"]


def test_a_changed_feed_is_sent_whatever_the_reader_has(visitor, folder, now):
    first = visitor.client.get(feed_of(folder))
    now.later(seconds=0.2)
    publish_site(folder, plan(soaks=[]))
    for headers in (
        {"If-None-Match": first.headers["ETag"]},
        {"If-Modified-Since": first.headers["Last-Modified"]},
    ):
        again = visitor.client.get(feed_of(folder), headers=headers)
        assert again.status_code == 200
        assert again.headers["ETag"] != first.headers["ETag"]
        assert b"STATUS:CANCELLED" in again.data


def test_versions_of_one_second_bear_different_times():
    now = Now(datetime(2027, 5, 3, 12, 0, 0, 900_000, tzinfo=UTC))
    versions = Versions(now)
    times = [versions.since(mark) for mark in ("a", "b", "a", "c")]
    assert all(earlier < later for earlier, later in pairwise(times))
    assert versions.since("c") == times[-1]
    assert times[0] == datetime(2027, 5, 3, 12, tzinfo=UTC)


def test_the_time_of_change_is_not_before_the_change(visitor, folder, now):
    changed = visitor.client.get(feed_of(folder)).headers["Last-Modified"]
    assert parsedate_to_datetime(changed) == now.moment


def test_head_tells_the_same_without_the_calendar(visitor, folder):
    got, told = visitor.client.get(feed_of(folder)), visitor.client.head(feed_of(folder))
    assert told.data == b""
    assert told.headers["ETag"] == got.headers["ETag"]
    assert told.headers["Content-Length"] == got.headers["Content-Length"]


@pytest.mark.parametrize("method", ["post", "put", "delete", "patch"])
def test_nothing_can_be_written_to_it(visitor, folder, method):
    assert getattr(visitor.client, method)(feed_of(folder)).status_code in (403, 405)


@pytest.mark.parametrize(
    "guess", ["", "x", "feed", "0" * 43, "%00", "..", "%2e%2e%2fout%2fcalendar", "é", "a" * 5000]
)
def test_a_guessed_address_leads_nowhere(visitor, guess):
    answer = visitor.client.get(f"/feed/{guess}.ics")
    assert answer.status_code == 404
    assert b"VCALENDAR" not in answer.data


def test_the_address_is_too_long_to_guess_and_differs_from_yard_to_yard(folder, tmp_path):
    tokens = {AccessFile(folder).read().feed}
    for name in "abc":
        (tmp_path / name).mkdir()
        tokens.add(AccessFile(tmp_path / name).read().feed)
    assert len(tokens) == 4
    assert all(len(token) >= 43 for token in tokens)


def test_a_new_address_ends_the_old_one_and_stopping_ends_all(visitor, folder):
    old = feed_of(folder)
    text = visitor.open("/calendar")
    assert old in visitor.html and "webcal://localhost/feed/" in visitor.html
    assert "This address works on this computer only." in text
    visitor.send(form=0)
    new = feed_of(folder)
    assert new != old and new in visitor.html
    assert visitor.client.get(old).status_code == 404
    assert visitor.client.get(new).status_code == 200
    visitor.send(form=1)
    assert "The calendar feed is off" in visitor.text
    assert visitor.client.get(new).status_code == 404
    assert visitor.client.get("/feed/.ics").status_code == 404
    visitor.send(form=0)
    assert visitor.client.get(feed_of(folder)).status_code == 200


def test_the_feed_opens_no_page_and_the_page_needs_its_own_key(folder):
    AccessFile(folder).set_passphrase(PASSPHRASE)
    client = make_app(folder, ask_always=True).test_client()
    assert client.get(feed_of(folder)).status_code == 200
    assert client.get("/").status_code == 303


def test_without_a_plan_the_feed_is_an_empty_calendar(tmp_path):
    folder = write_site(tmp_path / "yard")
    for file in folder.glob("diary*"):
        file.unlink()
    visitor = Visitor(make_app(folder))
    answer = visitor.client.get(feed_of(folder))
    assert answer.status_code == 200
    assert b"BEGIN:VEVENT" not in answer.data
    assert own_faults(answer.data) == []


def test_notes_cannot_put_lines_into_the_calendar_or_its_headers(tmp_path):
    evil = (
        "x\r\nATTENDEE:mailto:evil@example.com\nEND:VEVENT\u2028BEGIN:VALARM\x85ACTION:AUDIO"
        "\x00\x0b;DTSTART=1\\nX-EVIL:1"
    )
    note = '"' + evil.replace("\x00", "") + '"'
    folder = write_site(tmp_path / "yard", note=note)
    spiteful = document()
    spiteful["soaks"][0]["reasons"] = [evil]
    spiteful["water"][0]["stack"] = evil
    publish_site(folder, plan(**spiteful))
    answer = Visitor(make_app(folder)).client.get(feed_of(folder))
    assert own_faults(answer.data) == []
    lines = answer.data.replace(b"\r\n ", b"").split(b"\r\n")
    starts = {line.split(b":")[0].split(b";")[0] for line in lines if line}
    assert not starts & {b"ATTENDEE", b"X-EVIL", b"ACTION:AUDIO"}
    assert b"ACTION:AUDIO" not in lines
    assert lines.count(b"BEGIN:VEVENT") == lines.count(b"END:VEVENT")
