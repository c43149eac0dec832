"""Every address of the page attacked, by walking the application's map: none is forgotten."""

from __future__ import annotations

import io
import re
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from flask import Flask

from fruitcast.web import inoculation, what_if
from fruitcast.web.access import AccessFile
from fruitcast.web.guard import OPEN_ENDPOINTS, UPLOAD_ENDPOINTS
from fruitcast.web.trial import Trials
from fruitcast.yard.reading import read_yard
from tests.cli.running import contents
from tests.drawn import stride
from tests.web.sites import PASSPHRASE, Visitor, forms_of, make_app, write_site

FORMS = {
    "/calendar/new": "/calendar",
    "/calendar/stop": "/calendar",
    "/change/<name>": "/change/soaking",
    "/change/<name>/<at>": "/change/outlet/0",
    "/change/earlier": "/change/earlier",
    "/change/stack": "/change/stack?name=A",
    "/demo/close": "/more",
    "/demo/open": "/more",
    "/inoculation": "/inoculation",
    "/inoculation/batch": "/inoculation/batch",
    "/inoculation/stop": "/inoculation",
    "/kept/record": "/record/pick",
    "/lots": "/lots",
    "/plan": "/more",
    "/record/<kind>": "/record/pick",
    "/record/asked/<kind>": "/record/asked/inspect?stack=A",
    "/record/lines": "/record/lines",
    "/record/words": "/record/words",
    "/report": "/report",
    "/report/stop": "/report",
    "/signin": "/signin",
    "/signout": "/more",
    "/signout/everywhere": "/more",
    "/start/place": "/start/place",
    "/start/ready": "/start/ready",
    "/start/selling": "/start/selling",
    "/start/stacks": "/start/stacks",
    "/start/weather": "/start/weather",
    "/undo": "/diary",
    "/weather": "/weather",
    "/weather/take": "/weather",
    "/what-if": "/what-if",
    "/what-if/keep": "/what-if",
    "/what-if/stop": "/what-if",
}
"""Every address to which something is sent, and the page that has its form."""

AT = {"<name>": "soaking", "<at>": "0", "<kind>": "pick", "<secret>": "x", "<path:filename>": "x"}
"""What stands for the changing parts of an address."""

UNSEEN = {
    "/inoculation/batch": {"name": "", "strain_class": "wide-range", "tree": "oak", "logs": "9"},
    "/kept/record": {
        "uuid": "6f0f3c1e-0000-4000-8000-000000000000",
        "yard": "",
        "made": "1809360000000",
        "sent": "1809360000000",
        "yes": "1",
        "own": "",
        "form": "pick",
        "fields": "stack=A&large=1&day=2027-05-03",
    },
    "/lots": {"uuid": "", "lots": "2 H"},
    "/weather/take": {"mark": "", "replace": "1"},
    "/what-if/keep": {"mark": ""},
    "/signin": {"passphrase": "", "next": ""},
    "/start/ready": {},
}
"""Fields of forms that the small yard's pages don't show as they stand."""

NASTY = (
    '"]\n[[outlet]]\nname = "x',
    "a\r\nSet-Cookie: x=1",
    "<script>alert(1)</script>",
    "'; DROP TABLE entries; --",
    "{{ 7919 * 7919 }}",
    "../../../../etc/passwd",
    "\0",
    "9" * 400,
    "-1",
    "1e309",
    "nan",
    "2027-02-30",
    "\N{RIGHT-TO-LEFT OVERRIDE}live",
    "A" * 3000,
)

ALONE = 7
"""So many of them are sent in each field alone too, the others in all fields at once."""

FILES = (
    b"",
    b"\0" * 5000,
    b"\xff\xfe" + bytes(range(256)) * 20,
    b"PK\x03\x04" + b"x" * 500,
    b"date,tmin,tmax,rain\n" + b"9" * 200_000,
    b"date,tmin,tmax,rain\n2027-05-02," + b"1e308," * 300 + b"\n",
    b"<script>alert(1)</script>,=1+1\n" * 50,
    b'"' * 10_000,
)


def rules(app: Flask, method: str) -> set[str]:
    return {rule.rule for rule in app.url_map.iter_rules() if method in (rule.methods or ())}


def address(rule: str) -> str:
    for part, value in AT.items():
        rule = rule.replace(part, value)
    return rule.replace("/change/soaking/0", "/change/outlet/0").replace(
        "/record/asked/pick", "/record/asked/inspect"
    )


@pytest.fixture(autouse=True)
def at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Reckon nothing at length: what is read of a form is what is looked at here."""
    monkeypatch.setattr(Trials, "start", lambda self, what, inputs, reckon: None)
    for module in (inoculation, what_if):
        monkeypatch.setattr(module, "beside", lambda reckon: reckon())


@pytest.fixture
def yard(tmp_path: Path) -> Path:
    (tmp_path / "outside.txt").write_text("nobody's business")
    return write_site(tmp_path / "yard")


@pytest.fixture
def empty(tmp_path: Path) -> Path:
    folder = tmp_path / "empty"
    folder.mkdir()
    return folder


def app_for(rule: str, yard: Path, empty: Path) -> Flask:
    """Return the application that has a form: a yard's, or that of a folder to begin one in."""
    app = make_app(empty if rule.startswith("/start") else yard)
    if rule == "/demo/close":
        app.extensions["demo"].write()
    return app


def visitor_for(rule: str, yard: Path, empty: Path) -> Visitor:
    visitor = Visitor(app_for(rule, yard, empty))
    if rule == "/demo/close":
        visitor.client.set_cookie("fruitcast_demo", "1")
    return visitor


def fields_of(rule: str, visitor: Visitor) -> dict[str, str]:
    """Open a form's page, and return the form's fields with a right token."""
    visitor.open(FORMS[rule])
    given = next((dict(sent) for to, sent in forms_of(visitor.html) if to == address(rule)), None)
    if given is None or rule in UNSEEN:
        visitor.open("/start/place" if rule.startswith("/start") else "/record/pick")
        if not forms_of(visitor.html):  # the yard has been begun meanwhile
            visitor.open("/record/pick")
        given = {**UNSEEN.get(rule, {}), "token": dict(forms_of(visitor.html)[-1][1])["token"]}
    if rule == "/kept/record":
        given["yard"] = visitor.client.get("/kept/token", base_url=visitor.origin).json["yard"]
    return given


def test_no_form_is_forgotten(yard):
    app = make_app(yard)
    app.extensions["demo"].write()
    invented = app.extensions["demo"]._there()
    assert rules(app, "POST") | rules(invented, "POST") == set(FORMS)
    assert {"PUT", "DELETE", "PATCH"} & {
        method for rule in app.url_map.iter_rules() for method in rule.methods or ()
    } == set()
    # What takes files is limited and tried with bad ones below.
    assert {endpoint for endpoint, _ in UPLOADS} == UPLOAD_ENDPOINTS


@pytest.mark.parametrize("rule", sorted(FORMS))
def test_without_the_token_nothing_is_taken(yard, empty, tmp_path, rule):
    visitor = visitor_for(rule, yard, empty)
    given = fields_of(rule, visitor)
    before = contents(tmp_path)
    for token in ("", "x" * 32, None):
        sent = {name: value for name, value in given.items() if name != "token"}
        if token is not None:
            sent["token"] = token
        answer = visitor.client.post(address(rule), data=sent, base_url=visitor.origin)
        assert answer.status_code == 403, rule
        # Nor from another site, whatever it knows.
        answer = visitor.client.post(
            address(rule),
            data=given,
            base_url=visitor.origin,
            headers={"Origin": "http://e.example"},
        )
        assert answer.status_code == 403, rule
    assert settled(contents(tmp_path)) == settled(before)


def test_a_stranger_gets_nowhere(yard, empty, tmp_path):
    AccessFile(yard).set_passphrase(PASSPHRASE)
    app = make_app(yard)
    before = contents(tmp_path)
    for rule in app.url_map.iter_rules():
        if rule.endpoint in OPEN_ENDPOINTS:
            continue
        visitor = Visitor(app)
        visitor.open("/signin")
        token = dict(forms_of(visitor.html)[-1][1])["token"]
        for method in sorted({"GET", "POST"} & (rule.methods or set())):
            answer = visitor.client.open(
                address(rule.rule), method=method, data={"token": token}, base_url=visitor.origin
            )
            assert answer.status_code == 303, (rule.rule, method)
            assert answer.headers["Location"].startswith("/signin"), rule.rule
            assert b"Larkspur" not in answer.data
    assert settled(contents(tmp_path)) == settled(before)


@stride(11)
@pytest.mark.parametrize("rule", sorted(FORMS))
def test_whatever_is_sent_is_taken_as_text_or_told(yard, empty, tmp_path, rule, every):
    outside = {name: data for name, data in contents(tmp_path).items() if "outside" in str(name)}
    visitor = visitor_for(rule, yard, empty)
    for number in range(sorted(FORMS).index(rule) % every, len(NASTY), every):
        nasty = NASTY[number]
        given = fields_of(rule, visitor)
        alone = [each for each in given if each != "token"] if number < ALONE else []
        for name in [None, *alone]:
            sent = [
                (key, nasty if key != "token" and name in (None, key) else value)
                for key, value in given.items()
            ]
            visitor.post(address(rule), sent)
            harmless(visitor)
            if visitor.status == 403:  # signed out, or in the other yard
                given = fields_of(rule, visitor)
    assert {name: d for name, d in contents(tmp_path).items() if "outside" in str(name)} == outside
    assert {each.name for each in tmp_path.iterdir()} <= {"yard", "empty", "outside.txt"}
    read_yard(yard)


@stride(9)
def test_whatever_is_asked_for_is_taken_as_text_or_told(yard, tmp_path, every):
    app = make_app(yard)
    before = settled(contents(tmp_path))
    asked = 0
    for number, rule in enumerate(sorted(rules(app, "GET"))):
        visitor = Visitor(app)
        visitor.open(address(rule))
        names = set(re.findall(r'\bname="([\w.-]+)"', visitor.html)) - {"token", "viewport"}
        names |= set(re.findall(r"[?&](?:amp;)?(\w+)=", visitor.html)) | {
            "written",
            "saved",
            "mark",
        }
        for nasty in NASTY[number % every :: every]:
            query = urlencode(dict.fromkeys(sorted(names), nasty))[:14_000]
            visitor.open(f"{address(rule)}?{query}")
            harmless(visitor)
            visitor.open(re.sub(r"<[^>]+>", nasty.replace("\0", "%00").replace("\n", ""), rule))
            harmless(visitor)
            asked += 2
    assert asked > 400 / every
    assert settled(contents(tmp_path)) == before


UPLOADS = (
    ("bring_weather", "/weather"),
    ("take_weather", "/start/weather"),
    ("take_stacks", "/start/stacks"),
)


@pytest.mark.parametrize(("endpoint", "path"), UPLOADS)
def test_whatever_file_comes_is_read_or_told(yard, empty, tmp_path, endpoint, path):
    visitor = visitor_for(path, yard, empty)
    names = ("../../outside.txt", "/etc/passwd", "..\\..\\outside.txt", "yard.toml", "a\0.csv")
    for number, data in enumerate(FILES):
        given = fields_of(path, visitor)
        form = {**given, "file": (io.BytesIO(data), names[number % len(names)])}
        visitor.page = visitor.client.post(
            path, data=form, base_url=visitor.origin, content_type="multipart/form-data"
        )
        harmless(visitor)
    assert (tmp_path / "outside.txt").read_text() == "nobody's business"
    assert {each.name for each in tmp_path.iterdir()} <= {"yard", "empty", "outside.txt"}
    assert read_yard(yard).name == "Larkspur Hollow"


def harmless(visitor: Visitor) -> None:
    """Look that an answer is no fault of ours, and holds nothing that a browser would run."""
    html = visitor.html
    assert visitor.status < 500 or visitor.status == 503, (visitor.status, visitor.text[:300])
    assert "A fault of fruitcast itself" not in html and "Traceback" not in html
    told = visitor.page.mimetype if visitor.page else ""
    assert told != "text/html" or "<script>alert" not in html
    assert "62710561" not in html and "root:" not in html
    assert "nobody's business" not in html
    assert "Set-Cookie: x=1" not in str(visitor.page.headers if visitor.page else "")


def settled(found: dict[Any, bytes]) -> dict[Any, bytes]:
    """Return files but for what the page keeps of itself: its key, the diary's log of changes."""
    own = (".serve.json", "-wal", "-shm", "draft.json")
    return {name: data for name, data in found.items() if not str(name).endswith(own)}
