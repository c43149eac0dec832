"""The calendar feed, signing in, and the page on which its address is had and revoked."""

from __future__ import annotations

import hashlib
import math
import threading
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

from flask import Flask, abort, redirect, render_template, request, session, url_for
from werkzeug.wrappers import Response

from fruitcast.app.serving import feed_bytes
from fruitcast.web.access import AccessFile, Attempts
from fruitcast.web.context import Answer, Context
from fruitcast.web.guard import (
    is_loopback_name,
    is_signed_in,
    known_device,
    local_target,
    remember_device,
    sign_in,
    sign_out,
)
from fruitcast.web.pictures import qr_picture

CONTENT_TYPE = "text/calendar; charset=utf-8"


class Versions:
    """Since when the feed has been as it is.

    A server cannot know when the calendar was changed by another program. It knows when it first
    saw it so: never too early, which is what a reader needs to rely on 'not modified'.
    """

    def __init__(self, now: Callable[[], datetime]) -> None:
        self._now = now
        self._lock = threading.Lock()
        self._mark = ""
        self._since = datetime(1970, 1, 1, tzinfo=UTC)

    def since(self, mark: str) -> datetime:
        """Return since when the content with a mark has been served, in whole seconds."""
        with self._lock:
            if mark != self._mark:
                now = self._now().astimezone(UTC).replace(microsecond=0)
                # Two versions of one second must not look the same (RFC 9110, section 8.8.2.2).
                self._since = max(now, self._since + timedelta(seconds=1))
                self._mark = mark
            return self._since


def add_feed(app: Flask, folder: Path, access: AccessFile, now: Callable[[], datetime]) -> None:
    """Add the feed to an application."""
    versions = Versions(now)

    @app.get("/feed/<token>.ics")
    def feed(token: str) -> Response:
        if not access.read().is_feed(token):
            abort(404)
        data = feed_bytes(folder)
        mark = hashlib.sha256(data).hexdigest()[:32]
        answer = Response(data, content_type=CONTENT_TYPE)
        answer.set_etag(mark)
        answer.last_modified = versions.since(mark)
        answer.headers["Cache-Control"] = "private, no-cache"
        answer.headers["Content-Disposition"] = 'inline; filename="calendar.ics"'
        answer.headers["X-Robots-Tag"] = "noindex"
        return answer.make_conditional(request.environ)


# Signing in, and the page on which the calendar is subscribed to and its address revoked.


def add_sharing(app: Flask, context: Context, attempts: Attempts) -> None:
    """Add the pages to an application."""

    @app.get("/calendar")
    def calendar() -> str:
        token = context.access.read().feed
        address = url_for("feed", token=token, _external=True) if token else ""
        subscribe = f"webcal://{address.partition('://')[2]}" if address else ""
        return render_template(
            "calendar.html",
            now=context.situation(),
            address=address,
            subscribe=subscribe,
            code=qr_picture(subscribe, "QR code of the calendar's address") if address else "",
            only_here=is_loopback_name(request.host),
        )

    @app.post("/calendar/new")
    def new_address() -> Response:
        context.access.new_feed()
        return redirect(url_for("calendar"), 303)

    @app.post("/calendar/stop")
    def stop_sharing() -> Response:
        context.access.stop_feed()
        return redirect(url_for("calendar"), 303)

    @app.get("/signin")
    def signin() -> Answer:
        settings = context.access.read()
        target = local_target(request.args.get("next", "/"))
        if not settings.has_passphrase or is_signed_in(settings):
            return redirect(target, 303)
        return render_template("signin.html", target=target, fault="")

    @app.post("/signin")
    def send_signin() -> Answer:
        target = local_target(request.form.get("next", "/"))
        sender = request.remote_addr or "", known_device(context.access)
        with attempts.lock:
            wait = attempts.wait(*sender)
            if wait <= 0 and context.access.read().admits(request.form.get("passphrase", "")):
                attempts.right(*sender)
                sign_in(context.access)
                answer = redirect(target, 303)
                remember_device(answer, context.access)
                return answer
            if wait <= 0:
                attempts.wrong(*sender)
        if wait <= 0:
            fault = "This is not the passphrase. Check capitals and blanks, and try again."
            return render_template("signin.html", target=target, fault=fault), 403
        seconds = math.ceil(wait)
        minutes = f"{math.ceil(seconds / 60)} min" if seconds > 90 else f"{seconds} s"
        fault = f"Too many wrong tries. Wait {minutes}, then try again."
        page = render_template("signin.html", target=target, fault=fault)
        return page, 429, {"Retry-After": str(seconds)}

    @app.post("/signout")
    def signout() -> Response:
        sign_out(context.access)
        return redirect(url_for("signin"), 303)

    @app.post("/signout/everywhere")
    def signout_everywhere() -> Response:
        context.access.sign_everybody_out()
        session.clear()
        return redirect(url_for("signin"), 303)
