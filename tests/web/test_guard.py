"""What every request must pass: names, forms of our own, sizes, headers, no traceback."""

from __future__ import annotations

import re

import pytest

from fruitcast.web import pages
from fruitcast.web.guard import is_known_host, local_target
from tests.web.sites import Visitor, entries, make_app


def token(visitor: Visitor) -> str:
    visitor.open("/record/pins")
    return re.search(r'name="token" value="([^"]+)"', visitor.html)[1]


def pins(visitor: Visitor, **headers: str) -> int:
    """Send a whole right form with other headers."""
    visitor.open("/record/pins")
    given = {
        "token": token(visitor),
        "uuid": "6f0f3c1e-0000-4000-8000-000000000000",
        "stack": "A",
        "day": "2027-05-03",
    }
    visitor.post("/record/pins", given.items(), **headers)
    return visitor.status


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({}, 200),
        ({"Origin": "http://localhost"}, 200),
        ({"Sec-Fetch-Site": "same-origin"}, 200),
        ({"Origin": "http://evil.example"}, 403),
        ({"Origin": "null"}, 403),
        ({"Origin": "http://localhost:8080"}, 403),
        ({"Origin": "https://localhost"}, 403),
        ({"Sec-Fetch-Site": "cross-site"}, 403),
        ({"Sec-Fetch-Site": "same-site"}, 403),
    ],
)
def test_a_form_counts_only_from_our_own_page(visitor, folder, headers, status):
    assert pins(visitor, **headers) == status
    assert len(entries(folder)) == (status == 200)


@pytest.mark.parametrize("given", [None, "", "x", "é" * 10, "\udcff"])
def test_a_forged_token_is_refused(visitor, folder, given):
    visitor.open("/record/pins")
    fields = {"stack": "A", "day": "2027-05-03", "uuid": "6f0f3c1e-0000-4000-8000-000000000000"}
    if given is not None:
        fields["token"] = given.encode("utf-8", "replace").decode()
    visitor.post("/record/pins", fields.items())
    assert visitor.status == 403
    assert "Open the page again" in visitor.text
    assert entries(folder) == []


def test_the_token_of_another_session_is_refused(visitor, folder):
    other = Visitor(visitor.client.application)
    theirs = token(other)
    visitor.open("/record/pins")
    visitor.send(token=theirs, stack="A")
    assert visitor.status == 403
    assert entries(folder) == []


def test_changes_are_never_made_by_opening_a_page(visitor, folder):
    for path in ("/undo", "/plan", "/calendar/new", "/calendar/stop", "/signout"):
        visitor.open(path)
        assert visitor.status == 405
    visitor.open("/record/pins?check=1&stack=A&yes=1&uuid=6f0f3c1e-0000-4000-8000-000000000000")
    assert entries(folder) == []


@pytest.mark.parametrize(
    ("host", "known"),
    [
        ("localhost", True),
        ("localhost:8765", True),
        ("LOCALHOST.", True),
        ("127.0.0.1:8765", True),
        ("[::1]:8765", True),
        ("192.168.1.20:8765", True),
        ("larkspur.example", True),
        ("evil.example", False),
        ("localhost.evil.example", False),
        ("127.0.0.1.evil.example", False),
        ("user@localhost@evil.example", False),
        ("[::1", False),
        ("", False),
    ],
)
def test_only_known_names_and_addresses_in_numbers_are_answered(host, known):
    assert is_known_host(host, {"localhost", "larkspur.example"}) == known


def test_a_name_pointed_at_us_is_refused_even_the_feed(visitor, folder):
    for path in ("/", "/feed/x.ics", "/static/style.css"):
        answer = visitor.client.get(path, base_url="http://evil.example")
        assert answer.status_code == 400
        assert b"Larkspur" not in answer.data


def test_every_answer_carries_the_headers(visitor):
    for path in ("/", "/static/style.css", "/nothing", "/record/pick", "/feed/x.ics"):
        visitor.open(path)
        headers = visitor.page.headers
        policy = headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy and "frame-ancestors 'none'" in policy
        assert "script-src 'self'" in policy and "form-action 'self'" in policy
        assert "unsafe" not in policy and "*" not in policy and "http" not in policy
        assert headers["X-Content-Type-Options"] == "nosniff"
        assert headers["X-Frame-Options"] == "DENY"
    assert visitor.client.get("/").headers["Cache-Control"] == "no-store"


@pytest.mark.parametrize(("scheme", "secure"), [("http", False), ("https", True)])
def test_the_cookie_is_for_this_site_and_no_script(visitor, scheme, secure):
    answer = visitor.client.get("/record/pins", base_url=f"{scheme}://localhost")
    (cookie,) = answer.headers.getlist("Set-Cookie")
    assert "HttpOnly" in cookie and "SameSite=Strict" in cookie
    assert ("Secure" in cookie) == secure
    assert "Domain" not in cookie


def test_a_page_that_only_shows_leaves_no_cookie(visitor):
    assert "Set-Cookie" not in visitor.client.get("/stacks").headers


@pytest.mark.parametrize("path", ["/record/pins", "/signin", "/feed/x.ics", "/nothing"])
def test_fifty_megabytes_are_too_much(visitor, folder, path):
    visitor.open("/record/pins")
    visitor.post(path, [("token", token(visitor)), ("note", "x" * 50_000_000)])
    assert visitor.status == 413
    assert entries(folder) == []


def test_a_thousand_fields_are_too_many_or_do_nothing(visitor, folder):
    visitor.open("/record/water")
    visitor.post("/record/water", [("stack", f"S{n}") for n in range(1000)])
    assert visitor.status in (403, 413)
    assert entries(folder) == []


@pytest.mark.parametrize(
    "path",
    [
        *("/static/../access.py", "/static/..%2faccess.py", "/static/%2e%2e/access.py"),
        *("/static//etc/passwd", "/static/....//access.py", "/static/..%5caccess.py"),
        *("/feed/../.serve.json", "/feed/..%2f.serve.json", "/.serve.json", "/diary.db"),
        *("/record/../../yard.toml", "/record/%00", "/static/style.css%00.svg"),
    ],
)
def test_no_path_leads_out_of_the_page(visitor, path):
    visitor.open(path)
    assert visitor.status in (404, 400)
    assert "passphrase" not in visitor.html.lower() and "import" not in visitor.html
    assert "root:" not in visitor.html and "latitude" not in visitor.html


def test_a_fault_of_ours_shows_no_traceback(folder, monkeypatch, caplog):
    def fail(now: object) -> None:
        raise RuntimeError("secret detail /home/grower")

    monkeypatch.setattr(pages, "week_days", fail)
    visitor = Visitor(make_app(folder))
    visitor.open("/")
    assert visitor.status == 500
    assert "A fault of fruitcast itself" in visitor.text
    assert "secret" not in visitor.html and "Traceback" not in visitor.html
    assert "secret detail" in caplog.text


@pytest.mark.parametrize(
    ("target", "goes_to"),
    [
        ("/stacks", "/stacks"),
        ("/record/soak?stack=A", "/record/soak?stack=A"),
        ("//evil.example", "/"),
        ("https://evil.example", "/"),
        ("/\\evil.example", "/"),
        ("\\/evil.example", "/"),
        ("/a\r\nSet-Cookie: x=1", "/"),
        ("javascript:alert(1)", "/"),
        ("", "/"),
    ],
)
def test_signing_in_leads_nowhere_else(target, goes_to):
    assert local_target(target) == goes_to
