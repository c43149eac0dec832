"""A small invented yard with a published plan, and ways to use its page without a browser."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta
from functools import cache
from html import unescape
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, ClassVar
from unittest import mock

from flask import Flask
from flask.testing import FlaskClient
from jinja2.bccache import Bucket, BytecodeCache
from werkzeug.routing import Rule
from werkzeug.test import TestResponse

from fruitcast.app.publication import publish
from fruitcast.app.serving import Clock
from fruitcast.diary.book import Diary, read_events
from fruitcast.diary.events import Event
from fruitcast.diary.plan import Plan
from fruitcast.diary.state_from_diary import read_yard_state
from fruitcast.web.application import create_app
from fruitcast.yard.reading import read_yard
from tests.outputs.sample_plan import TODAY, plan

PASSPHRASE = "wet bark in the morning"

NOON = datetime(2027, 5, 3, 16, tzinfo=UTC)
"""Noon in the yard."""

SETTINGS = """\
name = "Larkspur Hollow"
units = "{units}"
[site]
latitude = 42.4
longitude = -76.6
elevation_m = 320
timezone = "America/New_York"
shade = 0.8
[weather]
file = "weather.csv"
[soaking]
days = ["Tue", "Fri"]
tank_logs = 60
[[outlet]]
name = "Saturday market"
day = "Sat"
target_kg = 6.35
[[outlet]]
name = "Café Fern"
day = "Thu"
target_kg = 2
"""

STACKS = """\
stack,strain_class,strain,tree,logs,diameter_cm,length_cm,inoculated,spawn,note
A,wide-range,,red oak,24,12.7,102,2025-04-12,sawdust,{note}
B,warm-weather,,sugar maple,20,12.7,102,2025-04-19,sawdust,
C,cold-weather,,white oak,30,12.7,102,2025-03-22,sawdust,
D,wide-range,,red maple,24,12.7,102,2024-04-06,sawdust,
H,wide-range,,beech,72,12.7,102,2026-05-02,sawdust,larger than the tank
"""

DIARY = (
    Event("soak", date(2026, 8, 4), "A", hours=24),
    Event("pull", date(2026, 8, 5), "A"),
    Event("pick", date(2026, 8, 14), "A", kg=2.1),
    Event("soak", date(2027, 4, 30), "D", hours=36),
)


class Now:
    """A clock that stands still until it is told to go on."""

    def __init__(self, moment: datetime = NOON) -> None:
        self.moment = moment

    def __call__(self) -> datetime:
        return self.moment

    def later(self, **by: float) -> None:
        self.moment += timedelta(**by)


def write_site(folder: Path, *, units: str = "us", note: str = "") -> Path:
    """Write the yard with its diary and its plan and return its folder."""
    for name, data in _site(units, note).items():
        file = folder / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(data)
    return folder


@cache
def _site(units: str, note: str) -> dict[str, bytes]:
    """Return the yard's files; to plan and publish for each test would take its time."""
    with TemporaryDirectory() as name:
        folder = Path(name)
        folder.joinpath("yard.toml").write_text(SETTINGS.format(units=units), encoding="utf-8")
        folder.joinpath("stacks.csv").write_text(STACKS.format(note=note), encoding="utf-8")
        folder.joinpath("weather.csv").write_text("date,tmin,tmax,rain\n2027-05-02,8,18,0\n")
        with Diary(folder / "diary.db") as diary:
            diary.add(DIARY, NOON - timedelta(days=2))
        publish_site(folder, plan())
        files = [file for file in folder.rglob("*") if file.is_file()]
        return {str(file.relative_to(folder)): file.read_bytes() for file in files}


def publish_site(folder: Path, document: Plan, today: date = TODAY) -> None:
    yard = read_yard(folder)
    publish(document, yard, read_yard_state(yard, today), today)


class _Compiled(BytecodeCache):
    """Templates compiled once for all tests."""

    codes: ClassVar[dict[str, bytes]] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        if bucket.key in self.codes:
            bucket.bytecode_from_string(self.codes[bucket.key])

    def dump_bytecode(self, bucket: Bucket) -> None:
        self.codes[bucket.key] = bucket.bytecode_to_string()


_build = Rule._compile_builder
_builders: dict[tuple[object, ...], Any] = {}


def _built_once(rule: Rule, append_unknown: bool = True) -> Any:
    """Return what writes a rule's addresses: compiled once, not anew by each application."""
    key = (rule.rule, rule.subdomain, rule.host, str(rule.defaults), append_unknown)
    if key not in _builders:
        _builders[key] = _build(rule, append_unknown)
    return _builders[key]


def make_app(folder: Path, now: Any = None, **options: Any) -> Flask:
    clock = now if isinstance(now, Clock) else Clock(now or Now())
    with mock.patch.object(Rule, "_compile_builder", _built_once):
        app = create_app(folder, clock, **options)
    app.jinja_env.bytecode_cache = _Compiled()
    return app


class Visitor:
    """Someone who opens pages and sends their forms, as a browser without scripts does."""

    def __init__(self, app: Flask, origin: str = "http://localhost") -> None:
        self.client: FlaskClient = app.test_client()
        self.origin = origin
        self.page: TestResponse | None = None

    def open(self, path: str, **options: Any) -> str:
        """Open a page, whatever it answers, and return its text."""
        self.page = self.client.get(path, base_url=self.origin, **options)
        return self.text

    @property
    def text(self) -> str:
        assert self.page is not None
        return " ".join(unescape(re.sub(r"<[^>]+>", " ", self.html)).split())

    @property
    def html(self) -> str:
        assert self.page is not None
        return self.page.get_data(as_text=True)

    @property
    def status(self) -> int:
        assert self.page is not None
        return self.page.status_code

    def send(self, button: str = "", form: int = -1, **fields: Any) -> str:
        """Send a form of the page (the last unless told) with some fields filled in."""
        action, given = forms_of(self.html)[form]
        given = [(name, value) for name, value in given if name not in fields]
        for name, value in fields.items():
            given += [(name, each) for each in (value if isinstance(value, list) else [value])]
        if button:
            given.append((button, "1"))
        return self.post(action, given)

    def post(self, action: str, given: Any, **headers: str) -> str:
        """Send fields to an address, and follow where it leads."""
        data: dict[str, list[str]] = {}
        for name, value in given:
            data.setdefault(name, []).append(value)
        self.page = self.client.post(action, data=data, base_url=self.origin, headers=headers)
        while self.page.status_code == 303:
            self.page = self.client.get(self.page.headers["Location"], base_url=self.origin)
        return self.text


def forms_of(html: str) -> list[tuple[str, list[tuple[str, str]]]]:
    """Return each form's address and what it would send untouched, without its buttons."""
    found = []
    for action, inside in re.findall(
        r'<form method="post" action="([^"]+)"[^>]*>(.*?)</form>', html, re.S
    ):
        given = []
        for tag in re.findall(r"<input[^>]*>", inside):
            part = dict(re.findall(r'([\w-]+)="([^"]*)"', tag))
            ticked = part.get("type") not in ("radio", "checkbox") or " checked" in tag
            if "name" in part and ticked:
                given.append((unescape(part["name"]), unescape(part.get("value", ""))))
        for name, options in re.findall(
            r'<select[^>]*name="([\w.-]+)"[^>]*>(.*?)</select>', inside, re.S
        ):
            chosen = re.search(r"<option selected>([^<]*)<", options)
            given.append((name, unescape(chosen[1]) if chosen else ""))
        found.append((unescape(action), given))
    return found


def entries(folder: Path) -> list[Event]:
    """Return what was written since the yard was made."""
    return list(read_events(folder / "diary.db")[len(DIARY) :])
