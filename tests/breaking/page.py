"""The page for the phone as a reader: what a browser sends, and an answer for people."""

from __future__ import annotations

import logging
from functools import cache
from typing import Any
from unittest.mock import patch
from urllib.parse import urlencode

from fruitcast.app.serving import Clock, Situation, situation
from fruitcast.errors import InputError
from fruitcast.web import records
from fruitcast.web.context import Context
from tests.breaking.forms import TYPES
from tests.breaking.places import folder
from tests.breaking.watching import unwatched
from tests.web.sites import Now, Visitor, entries, forms_of, make_app, write_site

MOST_ANSWER = 500_000
"""Longest answer. [byte]"""

TOKEN = b"T0KEN"
"""Stands for the token of the session."""

GOOD = {"day": "2027-05-03", "stack": "A", "logs": "12", "hours": "24", "large": "2", "depth": "1"}
GOOD |= {"words": "pick A 2 lb", "uuid": "00000000-0000-4000-8000-000000000001", "note": "wet"}


class _Faults(logging.Handler):
    """Keeps the last error that a page answered with excuses instead."""

    last: BaseException | None = None

    def emit(self, record: logging.LogRecord) -> None:
        self.last = record.exc_info[1] if record.exc_info else None


class Page:
    """The page of a small yard, its situation read once, and what its forms would have written."""

    def __init__(self) -> None:
        with unwatched():
            self.folder = write_site(folder() / "page")
            self.visitor = Visitor(make_app(self.folder))
            self.visitor.open("/record/pick")
            self.token = dict(forms_of(self.visitor.html)[-1][1])["token"]
            self._now = situation(self.folder, Clock(Now()))
        self.written = 0
        self._faults = _Faults()
        logging.getLogger("fruitcast.web").addHandler(self._faults)

    def _write(self, now: Any, wanted: Any, moment: Any) -> list[str]:
        self.written += 1
        return [str(number) for number, _ in enumerate(wanted)]

    def send(
        self, method: str, path: str, body: bytes, kind: str, now: Situation | None = None
    ) -> int:
        """Send something, hold the answer to what people may see, and return its status.

        `now` is the situation shown, if it is not that of the yard.
        """
        before, shown = self.written, now or self._now
        with (
            patch.object(Context, "situation", lambda *_: shown),
            patch.object(records, "write_entries", self._write),
            patch.object(records, "cancel_entries", self._write),
        ):
            if method == "GET":
                # As a browser would write it into the address.
                query = body.decode("latin-1").translate(_NO_QUERY)
                answer = self.visitor.client.get(f"{path}?{query}", base_url=_ORIGIN)
            else:
                answer = self.visitor.client.post(
                    path, data=body, content_type=kind, base_url=_ORIGIN
                )
        if answer.status_code >= 500:
            raise self._faults.last or AssertionError(answer.get_data(as_text=True)[:2000])
        assert len(answer.get_data()) < MOST_ANSWER
        assert (self.written > before) <= (answer.status_code == 303)
        assert (self.written > before) <= (method == "POST")
        return answer.status_code

    def diary(self) -> list[Any]:
        """Return what was really written."""
        return entries(self.folder)


_ORIGIN = "http://localhost"
_NO_QUERY = {ord("#"): "%23", **{code: f"%{code:02x}" for code in (*range(33), *range(127, 256))}}


@cache
def page() -> Page:
    """Return the page, made once."""
    return Page()


def read_form(data: bytes) -> None:
    """Send what stands in the data: a line with method and path, one with the type, a body."""
    site = page()
    head, kind, body = (*data.split(b"\n", 2), b"", b"")[:3]
    method, _, path = head.decode("latin-1").partition(" ")
    # A browser sends no other address than one it could read.
    path = "/" + "".join(letter for letter in path.strip("/") if letter.isalnum() or letter == "/")
    status = site.send(
        "GET" if method == "GET" else "POST",
        path,
        body.replace(TOKEN, site.token.encode()),
        "".join(letter for letter in kind.decode("latin-1") if letter.isprintable()),
    )
    if status >= 400:
        raise InputError(f"refused with the status {status}")


def form_samples() -> tuple[bytes, ...]:
    """Return a good request for each form."""
    fields = urlencode(GOOD).encode()
    urls = ("pick", "soak", "pull", "pins", "water", "rain", "words")
    posts = tuple(
        f"POST /record/{name}\n{TYPES[0]}\n".encode() + b"token=" + TOKEN + b"&" + fields
        for name in urls
    )
    parts = b"".join(
        b'--b\r\nContent-Disposition: form-data; name="%s"\r\n\r\n%s\r\n' % (name, value)
        for name, value in (
            (b"token", TOKEN),
            *((name.encode(), value.encode()) for name, value in GOOD.items()),
        )
    )
    return (
        *posts,
        f"POST /record/pick\n{TYPES[2]}\n".encode() + parts + b"--b--\r\n",
        f"POST /undo\n{TYPES[0]}\n".encode() + b"token=" + TOKEN + b"&entry=x&entry=y",
        b"GET /record/pick\n\n" + fields,
        b"GET /signin\n\nnext=/record",
    )
