"""A real server in a process of its own, and a plain client of it."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from html import unescape
from http.client import HTTPConnection, HTTPResponse
from pathlib import Path
from urllib.parse import urlencode


@dataclass(frozen=True)
class Running:
    """A server that listens."""

    process: subprocess.Popen[str]
    port: int
    page: str
    feed: str


def command(folder: Path, *options: str, today: str = "2027-05-03") -> list[str]:
    start = [sys.executable, "-m", "fruitcast", "--yard", str(folder), "--today", today, "--json"]
    return [*start, "serve", "--port", "0", *options]


@contextmanager
def running(folder: Path, *options: str) -> Iterator[Running]:
    """Run 'fruitcast serve' on a free port of this machine until the block ends."""
    process = subprocess.Popen(
        command(folder, *options),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONWARNINGS": "error::ResourceWarning"},
    )
    try:
        assert process.stdout is not None
        text = ""
        while not text.rstrip().endswith("}"):
            line = process.stdout.readline()
            if not line:
                raise RuntimeError(process.stderr.read() if process.stderr else "no server")
            text += line
        document = json.loads(text)
        port = int(document["listening"].rpartition(" ")[2])
        yield Running(process, port, document["page"], document["feed"])
    finally:
        if process.poll() is None:
            process.send_signal(signal.SIGINT)
        try:
            process.communicate(timeout=20)
        except subprocess.TimeoutExpired:
            process.kill()
            process.communicate()


class PlainClient:
    """Sends requests as they are given, and keeps the cookie.

    A new connection is made for each request unless `keep` is set.
    """

    def __init__(self, port: int, keep: bool = False) -> None:
        self._port, self._keep = port, keep
        self._connection: HTTPConnection | None = None
        self.cookie = ""
        self.token = ""

    def ask(
        self, method: str, path: str, body: str = "", **headers: str
    ) -> tuple[HTTPResponse, bytes]:
        if self._connection is None or not self._keep:
            self.close()
            self._connection = HTTPConnection("127.0.0.1", self._port, timeout=30)
        given = {name.replace("_", "-"): value for name, value in headers.items()}
        if self.cookie:
            given["Cookie"] = self.cookie
        if body:
            given["Content-Type"] = "application/x-www-form-urlencoded"
        self._connection.request(method, path, body or None, given)
        answer = self._connection.getresponse()
        data = answer.read()
        for cookie in answer.headers.get_all("Set-Cookie") or ():
            self.cookie = cookie.partition(";")[0]
        found = re.search(rb'name="token" value="([^"]+)"', data)
        if found:
            self.token = unescape(found[1].decode())
        return answer, data

    def send(self, path: str, **fields: str) -> HTTPResponse:
        """Send a form with the token seen last."""
        return self.ask("POST", path, urlencode({"token": self.token, **fields}))[0]

    def close(self) -> None:
        if self._connection is not None:
            self._connection.close()
            self._connection = None
