"""The application: pages, forms and feed behind one guard, and one place for all errors."""

from __future__ import annotations

import hashlib
import logging
import time
from collections.abc import Callable, Collection, Sequence
from datetime import date
from pathlib import Path

from flask import Flask, Response, g, render_template, request, send_from_directory, session
from werkzeug.exceptions import HTTPException

from fruitcast.app.serving import Clock
from fruitcast.errors import Fault, FaultsError, FruitcastError
from fruitcast.web.access import AccessFile, Attempts
from fruitcast.web.beginning import add_beginning, add_demo, add_way_back
from fruitcast.web.changing import add_changing
from fruitcast.web.context import Context
from fruitcast.web.feed import add_feed, add_sharing
from fruitcast.web.guard import LOOPBACK_NAMES, guard
from fruitcast.web.inoculation import add_inoculation
from fruitcast.web.pages import add_evidence, add_lists, add_lots, add_pages
from fruitcast.web.planner import Planner, Progress
from fruitcast.web.records import add_records
from fruitcast.web.season import add_season
from fruitcast.web.weather import add_weather
from fruitcast.web.what_if import add_trying, add_what_if
from fruitcast.web.without_signal import add_without_signal
from fruitcast.web.words import place_words
from fruitcast.words import clean_line, day_words

_LOG = logging.getLogger("fruitcast.web")


def create_app(
    folder: Path,
    clock: Clock,
    *,
    planner: Planner | None = None,
    names: Collection[str] = (),
    ask_always: bool = False,
    seconds: Callable[[], float] = time.monotonic,
) -> Flask:
    """Return the application of one yard.

    `names` are those by which the server may be called besides 'localhost' and addresses in
    numbers. With `ask_always` the passphrase is asked for even when none is set, so that nobody
    gets in. `seconds` never go back: for the waits between wrong passphrases.
    """
    context = Context(folder, clock, AccessFile(folder), planner)

    def make(context: Context) -> Flask:
        app = _create(context, names, ask_always, seconds)
        add_way_back(app)
        app.jinja_env.globals["is_demo"] = True
        return app

    app = _create(context, names, ask_always, seconds)
    add_beginning(app, context)
    app.extensions["demo"] = add_demo(app, context, make)
    return app


def _create(
    context: Context, names: Collection[str], ask_always: bool, seconds: Callable[[], float]
) -> Flask:
    """Return the application of one yard, own or invented."""
    app = Flask("fruitcast.web")
    app.url_map.merge_slashes = False
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    app.jinja_env.filters["line"] = clean_line
    app.jinja_env.filters["place"] = place_words
    app.jinja_env.filters["day"] = _day_filter
    guard(app, context.access, names={*LOOPBACK_NAMES, *names}, ask_always=ask_always)
    add_pages(app, context)
    add_records(app, context)
    add_trying(app, context)
    add_what_if(app, context)
    add_inoculation(app, context)
    add_weather(app, context)
    add_season(app, context)
    add_lots(app, context)
    add_evidence(app, context)
    add_lists(app, context)
    add_changing(app, context)
    add_sharing(app, context, Attempts(seconds))
    add_feed(app, context.folder, context.access, context.clock.now)
    _add_icon(app)
    _add_errors(app)
    version = _version(Path(app.static_folder or ""))
    add_without_signal(app, context, version)

    @app.context_processor
    def common() -> dict[str, object]:
        return {
            "progress": Progress() if g.get("kept") else context.progress(),
            "signed_in": "era" in session,
            "version": version,
            "here": request.endpoint,
        }

    return app


def _day_filter(value: date | str) -> str:
    return day_words(value if isinstance(value, date) else date.fromisoformat(value))


def _version(static: Path) -> str:
    """Return what changes with the style and the script, so that browsers may keep them."""
    digest = hashlib.sha256()
    for file in sorted(static.iterdir()):
        digest.update(file.read_bytes())
    return digest.hexdigest()[:12]


def _add_icon(app: Flask) -> None:
    @app.get("/favicon.ico")
    def icon() -> Response:
        return send_from_directory(str(app.static_folder), "icon.svg")


def _add_errors(app: Flask) -> None:
    def told(title: str, message: str, faults: Sequence[Fault] = ()) -> str:
        return render_template("error.html", title=title, message=message, faults=faults)

    @app.errorhandler(FruitcastError)
    def could_not(error: FruitcastError) -> tuple[str, int]:
        faults = error.faults if isinstance(error, FaultsError) else ()
        page = told("This could not be done", str(error), faults)
        return page, 503 if request.method == "GET" else 422

    @app.errorhandler(HTTPException)
    def refused(error: HTTPException) -> tuple[str, int]:
        code = error.code or 500
        titles = {404: "There is no such page", 413: "That is too much", 403: "Not taken"}
        words = {
            404: "Go back to the first page.",
            405: "Go back to the first page.",
            413: "The form holds more than can be taken. Write less; nothing was written.",
        }
        message = words.get(code) or error.description or error.name
        return told(titles.get(code, error.name), message), code

    @app.errorhandler(Exception)
    def our_fault(error: Exception) -> tuple[str, int]:
        _LOG.exception("a fault of ours while answering %s", request.endpoint)
        message = "Nothing more was done. The server's messages say where it happened."
        return told("A fault of fruitcast itself", message), 500
