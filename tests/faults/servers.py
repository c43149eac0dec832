"""Servers on this machine: the year files of a weather station, and a calendar."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from xml.sax.saxutils import escape

import icalendar


@contextmanager
def serving(handler: type[BaseHTTPRequestHandler]) -> Iterator[str]:
    """Serve on a free port; give the address."""
    server = ThreadingHTTPServer(("127.0.0.1", 0), handler)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01})
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_address[1]}"
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


class _Quiet(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"

    def handle(self) -> None:
        with contextlib.suppress(ConnectionError):  # the one at the other end was killed
            super().handle()

    def log_message(self, *_: object) -> None:
        pass

    def answer(self, status: int, body: bytes = b"", **headers: str) -> None:
        self.send_response(status)
        for name, value in headers.items():
            self.send_header(name, value)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)


def files_handler(files: dict[str, bytes]) -> type[BaseHTTPRequestHandler]:
    """Return what serves files by their path, and 404 for all else."""

    class Files(_Quiet):
        def do_GET(self) -> None:
            body = files.get(self.path)
            self.answer(404 if body is None else 200, body or b"")

    return Files


@dataclass
class Calendar:
    """A calendar on a server: resources by name, with their entity tags."""

    events: dict[str, bytes] = field(default_factory=dict)
    before_answer: Callable[[], None] = lambda: None
    _tag: int = 0
    _tags: dict[str, str] = field(default_factory=dict)

    def put(self, name: str, data: bytes) -> str:
        """Store a resource."""
        self._tag += 1
        self.events[name], self._tags[name] = data, f'"{self._tag}"'
        return self._tags[name]

    def tag(self, name: str) -> str | None:
        """Entity tag of a resource, None when there is none."""
        return self._tags.get(name) if name in self.events else None

    def titles(self) -> list[str]:
        """What a person sees, in order."""
        return sorted(
            str(event["SUMMARY"])
            for data in self.events.values()
            for event in icalendar.Calendar.from_ical(data).walk("VEVENT")
        )


def calendar_handler(calendar: Calendar) -> type[BaseHTTPRequestHandler]:
    """Return what serves one calendar at /cal/ (RFC 4791, as far as a push needs it)."""

    class Dav(_Quiet):
        def name(self) -> str:
            return self.path.rpartition("/")[2]

        def body(self) -> bytes:
            return self.rfile.read(int(self.headers.get("Content-Length") or 0))

        def do_PROPFIND(self) -> None:
            self.body()
            rows = [_row("/cal/", "", "<D:collection/><C:calendar/>")]
            rows += [_row(f"/cal/{name}", calendar.tag(name) or "", "") for name in calendar.events]
            text = (
                '<?xml version="1.0"?><D:multistatus xmlns:D="DAV:" '
                f'xmlns:C="urn:ietf:params:xml:ns:caldav">{"".join(rows)}</D:multistatus>'
            )
            self.answer(207, text.encode())

        def do_GET(self) -> None:
            tag = calendar.tag(self.name())
            if tag is None:
                self.answer(404)
            else:
                self.answer(200, calendar.events[self.name()], ETag=tag)

        def fits(self) -> bool:
            tag = calendar.tag(self.name())
            if self.headers.get("If-None-Match") == "*":
                return tag is None
            return tag is not None and self.headers.get("If-Match") == tag

        def do_PUT(self) -> None:
            data = self.body()
            if not self.fits():
                self.answer(412)
                return
            tag = calendar.put(self.name(), data)
            calendar.before_answer()
            self.answer(204, ETag=tag)

        def do_DELETE(self) -> None:
            if not self.fits():
                self.answer(412)
                return
            del calendar.events[self.name()]
            calendar.before_answer()
            self.answer(204)

    return Dav


def _row(href: str, tag: str, kind: str) -> str:
    return (
        f"<D:response><D:href>{href}</D:href><D:propstat><D:prop><D:getetag>{escape(tag)}"
        f"</D:getetag><D:resourcetype>{kind}</D:resourcetype></D:prop>"
        "<D:status>HTTP/1.1 200 OK</D:status></D:propstat></D:response>"
    )
