"""A calendar server as a reader: its answers, one for each method, read as if from the wire."""

from __future__ import annotations

import io
from dataclasses import replace
from http.client import HTTPResponse

import requests
from urllib3.response import HTTPResponse as Received

from fruitcast.outputs.caldav import push
from fruitcast.outputs.caldav_client import CalendarCollection
from tests.outputs.test_caldav import published

ADDRESS = "http://127.0.0.1:9/cal/"
EVENTS = replace(published(), events=published().events[:2])
EVENT = EVENTS.events[0].uid.partition("@")[0]


class _Wire:
    """A connection that gives back bytes, whatever was asked."""

    def __init__(self, data: bytes) -> None:
        self._data = data

    def makefile(self, *_: object, **__: object) -> io.BytesIO:
        return io.BytesIO(self._data)


class Answers(requests.adapters.HTTPAdapter):
    """Raw answers by method, read by the standard library as if they came over a wire."""

    def __init__(self, raw: dict[str, bytes]) -> None:
        super().__init__()
        self._raw = raw

    def send(self, request, **options):
        try:
            answer = HTTPResponse(_Wire(self._raw.get(request.method, b"")), method=request.method)
            answer.begin()
            received = Received(
                body=answer,
                headers=answer.getheaders(),
                status=answer.status,
                reason=answer.reason,
                preload_content=False,
                original_response=answer,
            )
            return self.build_response(request, received)
        except requests.RequestException:
            raise
        except Exception as error:  # as urllib3 tells of what breaks on the wire
            raise requests.ConnectionError(error) from error


def raw(status: str, body: bytes = b"", **headers: str) -> bytes:
    lines = [f"HTTP/1.1 {status}", f"Content-Length: {len(body)}"]
    lines += [f"{name.replace('_', '-')}: {value}" for name, value in headers.items()]
    return "\r\n".join([*lines, "", ""]).encode("latin-1") + body


def listing(href: str = "/cal/x.ics", etag: str = '"1"', encoding: str = "utf-8") -> bytes:
    return (
        f'<?xml version="1.0" encoding="{encoding}"?>'
        '<multistatus xmlns="DAV:" xmlns:C="urn:ietf:params:xml:ns:caldav">'
        "<response><href>/cal/</href><propstat><prop><resourcetype><collection/><C:calendar/>"
        "</resourcetype></prop><status>HTTP/1.1 200 OK</status></propstat></response>"
        f"<response><href>{href}</href><propstat><prop><getetag>{etag}</getetag></prop>"
        "<status>HTTP/1.1 200 OK</status></propstat></response></multistatus>"
    ).encode()


GOOD = {
    "PROPFIND": raw("207 Multi-Status", listing(f"/cal/{EVENT}.ics")),
    "GET": raw("200 OK", b"BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n", ETag='"1"'),
    "PUT": raw("201 Created", ETag='"2"'),
    "DELETE": raw("204 No Content"),
}


def pushed(answers: dict[str, bytes]):
    collection = CalendarCollection(ADDRESS, "grower", "secret")
    collection._session.mount("http://", Answers(answers))
    return push(EVENTS, collection, overwrite=True)[0]


_BETWEEN = b"\n=====\n"


def read_answers(data: bytes) -> None:
    """Push to a server whose answers, one for each method, stand in the data."""
    pushed(dict(zip(GOOD, data.split(_BETWEEN), strict=False)))


def answer_samples() -> tuple[bytes, ...]:
    """Return good answers, with a calendar that is there already and without."""
    return (_BETWEEN.join(GOOD.values()),)
