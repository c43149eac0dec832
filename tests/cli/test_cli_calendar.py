"""The calendar on the command line: written again, brought up to the diary, pushed."""

import re

import icalendar
import pytest
import requests
import responses

from tests.cli.running import TODAY, contents, done, run

ADDRESS = "https://calendar.example/grower/logs/"


def events(file):
    found = icalendar.Calendar.from_ical(file.read_bytes()).walk("VEVENT")
    return {str(event["UID"]): event for event in found}


def test_the_calendar_is_written_where_it_is_wanted(demo, tmp_path):
    file = tmp_path / "logs.ics"
    ran = done("--yard", demo, "--today", TODAY, "calendar", "-o", file, "--json")
    assert ran.document["file"] == str(file) and ran.document["push"] is None
    assert file.read_bytes() == (demo / "out" / "calendar.ics").read_bytes()
    assert ran.document["events"] == len(events(file))


def test_without_a_name_it_is_written_to_out_again(demo):
    file = demo / "out" / "calendar.ics"
    before = file.read_bytes()
    file.unlink()
    ran = done("--yard", demo, "--today", TODAY, "calendar")
    assert str(file) in ran.out.replace("\n", "")
    assert file.read_bytes() == before


def test_it_shows_what_was_done_since(demo):
    file = demo / "out" / "calendar.ics"
    before = events(file)
    done("--yard", demo, "--today", TODAY, "record", "soak", "B", "24", "h")
    done("--yard", demo, "--today", TODAY, "calendar")
    changed = {
        uid: event
        for uid, event in events(file).items()
        if uid not in before or event.to_ical() != before[uid].to_ical()
    }
    titles = " / ".join(str(event["SUMMARY"]) for event in changed.values())
    assert re.search(r"Soaked B|B soaked", titles), titles


def test_without_a_plan_there_is_no_calendar(yard):
    before = contents(yard)
    ran = run("--yard", yard, "--today", TODAY, "calendar", "--json")
    assert (ran.code, ran.out) == (1, "")
    assert "no plan was published" in ran.err and "'fruitcast plan'" in ran.err
    assert contents(yard) == before


def test_a_push_needs_user_and_password(demo, monkeypatch):
    monkeypatch.delenv("FRUITCAST_CALDAV_PASSWORD", raising=False)
    ran = run("--yard", demo, "calendar", "--push", ADDRESS, "--user", "grower")
    assert ran.code == 2 and "FRUITCAST_CALDAV_PASSWORD" in ran.err.replace("\n", "")


@pytest.fixture
def server():
    """A calendar server that keeps what it is given."""
    stored = {}

    def listing(request):
        rows = "".join(
            f"<response><href>/grower/logs/{name}</href><propstat><prop><getetag>{etag}</getetag>"
            "<resourcetype/></prop><status>HTTP/1.1 200 OK</status></propstat></response>"
            for name, etag in stored.items()
        )
        own = (
            "<response><href>/grower/logs/</href><propstat><prop><resourcetype><collection/>"
            '<calendar xmlns="urn:ietf:params:xml:ns:caldav"/></resourcetype></prop>'
            "<status>HTTP/1.1 200 OK</status></propstat></response>"
        )
        return 207, {}, f'<multistatus xmlns="DAV:">{own}{rows}</multistatus>'

    def put(request):
        name = request.url.rsplit("/", 1)[1]
        stored[name] = f'"{len(stored) + 1}"'
        return 201, {"ETag": stored[name]}, ""

    with responses.RequestsMock(assert_all_requests_are_fired=False) as mock:
        mock.add_callback("PROPFIND", ADDRESS, listing)
        mock.add_callback("PUT", re.compile(re.escape(ADDRESS) + ".*"), put)
        mock.stored = stored
        yield mock


def test_a_push_creates_the_events_once(demo, server, monkeypatch):
    monkeypatch.setenv("FRUITCAST_CALDAV_PASSWORD", "Schnecke")
    words = ("--yard", demo, "--today", TODAY, "calendar", "--push", ADDRESS, "--user", "grower")
    pushed = done(*words, "--json").document["push"]
    assert len(pushed["created"]) == len(server.stored) > 50
    again = done(*words, "--json").document["push"]
    assert (again["created"], again["updated"], again["deleted"]) == ([], [], [])
    assert again["unchanged"] == len(pushed["created"])
    for data in contents(demo).values():
        assert b"Schnecke" not in data


def test_a_server_that_is_not_there_is_said(demo, monkeypatch):
    monkeypatch.setenv("FRUITCAST_CALDAV_PASSWORD", "Schnecke")
    with responses.RequestsMock() as mock:
        mock.add("PROPFIND", ADDRESS, body=requests.ConnectionError("unplugged"))
        ran = run(
            *("--yard", demo, "--today", TODAY, "--json"),
            *("calendar", "--push", ADDRESS, "--user", "grower"),
        )
    assert (ran.code, ran.out) == (1, "")
    assert "calendar.example" in ran.err and "Schnecke" not in ran.err
