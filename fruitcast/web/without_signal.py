"""Without a signal: what a phone keeps of the yard, and the records that it sends when in reach."""

from __future__ import annotations

import hashlib
import hmac
import threading
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from urllib.parse import parse_qsl

from flask import Flask, g, render_template, request
from flask import Response as FlaskResponse
from werkzeug.datastructures import MultiDict
from werkzeug.test import EnvironBuilder

from fruitcast.app.late_records import Late, take_late, time_made
from fruitcast.app.serving import Situation, weigh_entries, weigh_words
from fruitcast.diary.events import HOLD, INSPECT
from fruitcast.diary.recording import Recorded
from fruitcast.errors import FruitcastError, InputError
from fruitcast.web.context import Context
from fruitcast.web.guard import csrf_token, is_loopback_name
from fruitcast.web.records import FORMS, asked_entry, form_uuid, read_form, with_uuids

Weigh = Callable[[Situation], Sequence[Recorded]]

WORDS = "words"
ASKED = tuple(f"asked/{kind}" for kind in (HOLD, INSPECT))
"""Forms of records besides those of kinds, as their addresses end."""

MOST_FIELDS = 200
"""Fields of one record at most."""

MOST_OWN = 50
"""Other records of the same phone that are looked at, at most."""

SCRIPTS = ("queue.js", "away.js", "kept.js", "page.js", "style.css")
PICTURES = ("icon.svg", "icon-192.png", "icon-512.png", "manifest.json")

NO_HTTPS = (
    "Here this page can't be kept on the phone: browsers allow that only over HTTPS, or on the "
    "computer itself that the yard is on. All else works as it always does."
)


def add_without_signal(app: Flask, context: Context, version: str) -> None:
    """Add to an application what a phone keeps and sends.

    `version` changes with the scripts, so that a phone takes the new ones.
    """
    writing = threading.Lock()
    made: dict[str, tuple[Situation, str, dict[str, str]]] = {}
    static = Path(app.static_folder or "")

    @app.get("/worker.js")
    def worker() -> FlaskResponse:
        files = [f"/static/{name}?{version}" for name in SCRIPTS]
        files += [f"/static/{name}" for name in PICTURES]
        head = f'const VERSION = "{version}";\nconst FILES = {files};\n'
        text = static.joinpath("worker.js").read_text(encoding="utf-8")
        return FlaskResponse(head + text, content_type="text/javascript; charset=utf-8")

    @app.get("/kept")
    def kept() -> str:
        works = request.is_secure or is_loopback_name(request.host)
        return render_template(
            "kept.html", now=context.situation(), fault="" if works else NO_HTTPS
        )

    @app.get("/kept/pages")
    def kept_pages() -> dict[str, object]:
        g.now = now = context.situation()
        # Every page that is opened asks whether there is anything new.
        if "last" not in made or made["last"][0] is not now:
            pages = {path: _page(app, path, request.host_url) for path in _paths(now)}
            mark = hashlib.sha256(repr(pages).encode()).hexdigest()[:24]
            made["last"] = (now, mark, pages)
        _, mark, pages = made["last"]
        same = request.args.get("mark") == mark
        return {
            "yard": yard_mark(context),
            "now": _milliseconds(_yard_s_now(context)),
            "mark": mark,
            "pages": None if same else pages,
        }

    @app.get("/kept/token")
    def kept_token() -> dict[str, object]:
        now = _milliseconds(_yard_s_now(context))
        return {"token": csrf_token(), "yard": yard_mark(context), "now": now}

    @app.post("/kept/record")
    def kept_record() -> tuple[dict[str, object], int]:
        given = request.form
        moment = context.clock.now()
        told: dict[str, object] = {"uuid": given.get("uuid", "")[:64]}
        try:
            late = _late(given, moment, yard_mark(context))
            weigh = _weigh(given, late)
        except InputError as error:
            return {**told, "answer": "refused", "words": [str(error)]}, 200
        try:
            # One after the other: two phones in reach at one moment see each other's records.
            with writing:
                taken = take_late(context.situation(look=False), late, weigh, moment)
        except FruitcastError as error:
            return {**told, "answer": "later", "words": [str(error)]}, 503
        if taken.answer == "written" and "more" not in given:
            context.replan()
        return {**told, "answer": taken.answer, "words": list(taken.words)}, 200

    @app.context_processor
    def phone() -> dict[str, object]:
        return {"kept": g.get("kept", False), "yard_mark": yard_mark(context)}


def _yard_s_now(context: Context) -> datetime:
    """Return the instant by which a phone dates its forms: of the yard's day, at this hour."""
    moment, day = context.clock.now(), context.clock.day
    if day is None:
        return moment
    zone = context.situation(look=False).yard.site.timezone
    return moment + (day - moment.astimezone(zone).date())


def yard_mark(context: Context) -> str:
    """Return what tells this yard from others at the same address, and from the invented one."""
    which = b"invented" if context.invented else b"own"
    return hmac.new(context.access.read().key.encode(), which, "sha256").hexdigest()[:20]


def _paths(now: Situation) -> list[str]:
    """Return the pages that a phone keeps: to be read, and to be filled in."""
    forms = [kind for kind, form in FORMS.items() if now.yard.sells or not form.selling]
    return [
        *("/", "/stacks", "/supply", "/record", "/kept"),
        *(f"/record/{form}" for form in (*forms, WORDS)),
    ]


def _page(app: Flask, path: str, origin: str) -> str:
    """Return a page as a phone keeps it: without what holds for one visit only."""
    with app.request_context(EnvironBuilder(path=path, base_url=origin).get_environ()):
        g.kept = True
        try:
            page = app.view_functions[request.endpoint or ""](**(request.view_args or {}))
        finally:
            g.kept = False
    assert isinstance(page, str)
    return page


def _milliseconds(moment: datetime) -> int:
    return int(moment.timestamp() * 1000)


def _late(given: MultiDict[str, str], moment: datetime, mark: str) -> Late:
    """Return when and by whom a record was made, as it is sent.

    Raises InputError if that can't be, or it was made for another yard.
    """
    uuid = form_uuid(given.get("uuid", ""))
    if given.get("yard") != mark:
        raise InputError(
            "This was made for another yard. It waits here until that one is open; or drop it."
        )
    made_at = time_made(_instant(given, "made"), _instant(given, "sent"), moment)
    yes = given.getlist("yes")
    own = frozenset(given.getlist("own")[:MOST_OWN])
    return Late(uuid, made_at, None if "1" in yes else frozenset(yes), own)


def _instant(given: MultiDict[str, str], name: str) -> datetime:
    """Return an instant given in milliseconds since 1970, or raise InputError if it is none."""
    text = given.get(name, "")
    if not (text.isascii() and text.isdigit() and len(text) <= 14):
        raise InputError("The record does not say when it was made. Mend it, or drop it.")
    return datetime.fromtimestamp(int(text) / 1000, UTC)


def _weigh(given: MultiDict[str, str], late: Late) -> Weigh:
    """Return what reads a record's own form, or raise InputError if there is no such form."""
    form = given.get("form", "")
    try:
        pairs = parse_qsl(
            given.get("fields", ""), keep_blank_values=True, max_num_fields=MOST_FIELDS
        )
    except ValueError:
        raise InputError("The record has too many fields. Drop it and write it anew.") from None
    fields = MultiDict(pairs)
    fields["uuid"] = late.uuid
    if form == WORDS:
        return lambda now: with_uuids(weigh_words(now, fields.get(WORDS, "")), late.uuid)
    if form in ASKED:
        kind = form.removeprefix("asked/")
        return lambda now: weigh_entries(now, [asked_entry(kind, fields, now)])
    if form in FORMS:
        stacks = fields.getlist("stack")
        return lambda now: weigh_entries(now, read_form(form, fields, stacks, now))
    raise InputError(f"There is no form '{form[:40]}'. Drop the record and write it in words.")
