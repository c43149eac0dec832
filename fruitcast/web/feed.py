"""The calendar feed: read-only, at an address that cannot be guessed and can be revoked."""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

from flask import Flask, abort, request
from werkzeug.wrappers import Response

from fruitcast.app.serving import feed_bytes
from fruitcast.web.access import AccessFile

CONTENT_TYPE = "text/calendar; charset=utf-8"


class Versions:
    """Since when the feed has been as it is.

    A server cannot know when the calendar was changed by another program. It knows when it first
    saw it so: never too early, which is what a reader needs to rely on 'not modified'.

    Parameters
    ----------
    now : callable
        Returns the present instant.
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
