"""A network between a browser and a server that dies as it is told, and a server to be killed."""

from __future__ import annotations

import contextlib
import re
import socket
import subprocess
import sys
import threading
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from tests.web.sites import NOON, make_app

NAME = "yard.example"
"""A name by which the server goes; it stands for this machine in no network."""

SERVER = """
import sys
from pathlib import Path
from tests.web.dying_network import serving

server = serving(Path(sys.argv[1]), float(sys.argv[2]), sys.argv[3] == "yes", sys.argv[4])
print(server.effective_port, flush=True)
server.run()
"""


def serving(folder: Path, ahead: float, asks: bool, version: str = "") -> Any:
    """Return a server of a yard whose clock is some seconds ahead, on a free port."""
    from waitress import create_server

    from fruitcast.web import application

    kept = application._version
    if version:
        application._version = lambda static: version
    clock = lambda: datetime.now(UTC) + timedelta(seconds=ahead)  # noqa: E731
    app = make_app(folder, clock, ask_always=asks, names={NAME})
    application._version = kept
    return create_server(app, host="127.0.0.1", port=0, threads=4)


LOSE_REQUEST, HALF, LOSE_ANSWER, HALF_ANSWER = "request", "half", "answer", "end of answer"
"""What may happen to a record on its way: it never leaves, half of it does, it arrives and the
answer is lost, or its end is."""


class Server:
    """A server of a yard, by whose clock the day begins at noon.

    Parameters
    ----------
    folder : Path
        The yard.
    asks : bool
        Whether it wants the passphrase.
    mortal : bool
        Whether it is a process of its own, that can be killed and started again.

    Attributes
    ----------
    port : int
        Where it listens.
    version : str
        Of its scripts; empty for their own.
    """

    def __init__(self, folder: Path, *, asks: bool = False, mortal: bool = False) -> None:
        self.folder, self.asks, self.mortal = folder, asks, mortal
        self.ahead = (NOON - datetime.now(UTC)).total_seconds()
        self.port = 0
        self.version = ""
        self._process: subprocess.Popen[str] | None = None
        self._here: Any = None
        self.start()

    def now(self) -> datetime:
        """Return the present instant by the server's clock."""
        return datetime.now(UTC) + timedelta(seconds=self.ahead)

    def start(self) -> None:
        """Start it; the clock has gone on."""
        if not self.mortal:
            self._here = serving(self.folder, self.ahead, self.asks)
            self.port = self._here.effective_port
            threading.Thread(target=self._run, args=(self._here,), daemon=True).start()
            return
        given = str(self.folder), str(self.ahead), "yes" if self.asks else "no", self.version
        self._process = subprocess.Popen(
            [sys.executable, "-c", SERVER, *given], stdout=subprocess.PIPE, text=True
        )
        assert self._process.stdout is not None
        self.port = int(self._process.stdout.readline())

    @staticmethod
    def _run(server: Any) -> None:
        with contextlib.suppress(OSError):  # closed while it waited
            server.run()

    def kill(self) -> None:
        """End it at once, whatever it is doing."""
        if self._here is not None:
            self._here.close()
        if self._process is not None:
            self._process.kill()
            self._process.communicate()


class Network:
    """What stands between the browser and the server.

    Attributes
    ----------
    up : bool
        Whether anything passes at all.
    faults : list of str
        What happens to the next records sent, one after the other.
    posts : int
        Records that were begun to be sent.
    """

    def __init__(self, server: Server) -> None:
        self.server, self.up, self.posts = server, True, 0
        self.faults: list[str] = []
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.page = f"http://localhost:{self.port}"
        threading.Thread(target=self._listen, daemon=True).start()

    @property
    def port(self) -> int:
        """The port that the browser knows."""
        return int(self._listener.getsockname()[1])

    def close(self) -> None:
        self._listener.close()

    def _listen(self) -> None:
        while True:
            try:
                caller, _ = self._listener.accept()
            except OSError:
                return
            threading.Thread(target=self._serve, args=(caller,), daemon=True).start()

    def _serve(self, caller: socket.socket) -> None:
        with caller, contextlib.suppress(OSError):
            caller.settimeout(30)
            asked = self._read(caller) if self.up else b""
            if not asked or not self.up:
                return
            fault = ""
            if asked.startswith(b"POST /kept/record"):
                self.posts += 1
                fault = self.faults.pop(0) if self.faults else ""
            if fault == LOSE_REQUEST:
                return
            with socket.create_connection(("127.0.0.1", self.server.port), 30) as there:
                if fault == HALF:
                    there.sendall(asked[: len(asked) - 40])
                    return
                there.sendall(asked)
                answer = b""
                while part := there.recv(65536):
                    answer += part
            if fault == LOSE_ANSWER:
                return
            caller.sendall(answer[:-20] if fault == HALF_ANSWER else answer)

    @staticmethod
    def _read(caller: socket.socket) -> bytes:
        """Return one whole request, as the last of its connection."""
        asked = b""
        while b"\r\n\r\n" not in asked:
            part = caller.recv(65536)
            if not part:
                return b""
            asked += part
        head, _, body = asked.partition(b"\r\n\r\n")
        length = re.search(rb"(?im)^content-length: *(\d+)", head)
        while length and len(body) < int(length[1]):
            body += caller.recv(65536)
        head = re.sub(rb"(?im)^connection:[^\r]*\r\n", b"", head)
        return head + b"\r\nConnection: close\r\n\r\n" + body
