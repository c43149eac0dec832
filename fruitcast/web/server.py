"""The server: where it listens, which connections make room, and its run."""

from __future__ import annotations

import logging
import socket
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from waitress.channel import HTTPChannel
from waitress.server import TcpWSGIServer

from fruitcast.app.beginning import can_begin, is_yard
from fruitcast.app.serving import Clock
from fruitcast.errors import InputError, OutputError
from fruitcast.web.access import Access, AccessFile
from fruitcast.web.application import create_app
from fruitcast.web.guard import MOST_UPLOAD, is_loopback
from fruitcast.web.planner import Planner
from fruitcast.web.trial import stop_trials
from fruitcast.yard.reading import read_yard

if TYPE_CHECKING:
    from waitress.server import BaseWSGIServer


# Connections that ask nothing, or ask for ever, make room for those that do.

IDLE_SECONDS = 20
"""How long a connection may stand without a request. Judgement. [s]"""

ASKING_SECONDS = 20.0
"""How long one request may take to arrive. Judgement. [s]"""

MOST_OF_A_SENDER = 40
"""Connections of one address at most: a browser opens six. Judgement."""

MOST = 400
"""Connections at most: some ten addresses that do harm at once can fill them. More needs a
reverse proxy, which is made for that."""

EVERY_SECONDS = 5
"""How often idle connections are looked for. [s]"""


class _Channel(HTTPChannel):
    """A connection that knows since when its present request has been arriving."""

    asking_since = 0.0

    def received(self, data: bytes) -> bool:
        if self.request is None:
            self.asking_since = time.time()
        taken: bool = super().received(data)
        return taken


def watch(listeners: Iterable[Any], proxy: str) -> None:
    """Let listening sockets close what idles, what asks too slowly, and too many of one sender.

    Other things than listening sockets are passed over. Through the reverse proxy, if its address
    is not empty, everybody comes.
    """
    for listener in listeners:
        if isinstance(listener, TcpWSGIServer):
            listener.channel_class = partial(_admitted, proxy=proxy)
            listener.maintenance = partial(_close_idle, listener)


def _admitted(server: Any, sock: Any, addr: Any, adj: Any, map: Any, *, proxy: str) -> None:
    """Take a connection on, unless its sender has too many."""
    sender = addr[0]
    held = sum(channel.addr[0] == sender for channel in server.active_channels.values())
    if held >= MOST_OF_A_SENDER and sender != proxy:
        sock.close()
        return
    _Channel(server, sock, addr, adj, map=map)


def _close_idle(server: Any, now: float) -> None:
    for channel in list(server.active_channels.values()):
        if channel.requests:
            continue
        slow = channel.request is not None and now - channel.asking_since > ASKING_SECONDS
        if slow or now - channel.last_activity > IDLE_SECONDS:
            channel.will_close = True


# The server: where it listens, who may come in, and its run.

DEFAULT_PORT = 8765
THREADS = 6
"""Requests answered at one time."""


@dataclass(frozen=True)
class Listening:
    """Where and how the server listens."""

    host: str = "127.0.0.1"  # address or name of this machine to listen on
    port: int = DEFAULT_PORT  # 0 takes a free one
    names: tuple[str, ...] = ()  # names under which people reach it
    # Address of the reverse proxy whose X-Forwarded headers count; empty when none do.
    proxy: str = ""

    @property
    def open(self) -> bool:
        """Whether others than this machine's users can reach it."""
        return bool(self.proxy) or not is_loopback(self.host)


@dataclass(frozen=True)
class Address:
    """Where the server can be reached."""

    listening: str  # address and port that it listens on
    page: str
    feed: str  # empty when it is off
    passphrase: bool  # whether the page asks for a passphrase
    begins: bool = False  # whether there is no yard yet, so that the page begins one

    def words(self) -> list[str]:
        """Return it in words."""
        asks = "It asks for the passphrase." if self.passphrase else "It asks for no passphrase."
        begins = "There is no yard in this folder yet: the page begins one with you."
        return [
            *([begins] if self.begins else []),
            f"The page is at {self.page}",
            f"{asks} Stop it with Ctrl-C.",
            *([f"The calendar feed is at {self.feed}"] if self.feed else []),
        ]


def open_access(folder: Path) -> AccessFile:
    """Return who may come in to the page of a yard, or of a folder in which one may be begun.

    Raises InputError if the folder is neither.
    """
    folder = folder.expanduser().absolute()
    if can_begin(folder):
        return AccessFile(folder)
    return AccessFile(read_yard(folder).folder)


def serve(
    folder: Path,
    clock: Clock,
    listening: Listening,
    *,
    offline: bool = False,
    ready: Callable[[Address], None] | None = None,
) -> None:
    """Serve one yard until the process is told to stop.

    `ready` is told the addresses once the server listens. Raises InputError if the yard cannot be
    read, or others could reach the page without a passphrase; OutputError if the address cannot be
    listened on.
    """
    import waitress

    access = open_access(folder)
    folder, settings = access.path.parent, access.read()
    if listening.open and not settings.has_passphrase:
        raise InputError(
            f"{listening.proxy or listening.host} lets others reach the page, and no passphrase "
            "is set. Set one with 'fruitcast serve --set-passphrase', or leave --host and --proxy "
            "out."
        )
    logging.basicConfig(level=logging.WARNING, format="%(message)s")
    planner = Planner(folder, clock, offline=offline)
    app = create_app(
        folder,
        clock,
        planner=planner,
        names={*listening.names, *_own_names(listening)},
        ask_always=listening.open,
    )
    trust = {"trusted_proxy": listening.proxy} if listening.proxy else {}
    if listening.proxy:
        trust["trusted_proxy_headers"] = "x-forwarded-for x-forwarded-proto x-forwarded-host"
    sockets: dict[int, Any] = {}
    try:
        server: BaseWSGIServer = waitress.create_server(
            app,
            host=listening.host,
            port=listening.port,
            threads=THREADS,
            ident="fruitcast",
            max_request_body_size=MOST_UPLOAD,
            max_request_header_size=16 * 1024,
            map=sockets,
            connection_limit=MOST,
            channel_timeout=IDLE_SECONDS,
            cleanup_interval=EVERY_SECONDS,
            clear_untrusted_proxy_headers=True,
            **trust,
        )
    except (OSError, ValueError) as error:
        raise OutputError(
            f"{listening.host} port {listening.port}: can't be listened on ({error}). Choose "
            "another port with --port, or an address of this machine with --host."
        ) from error
    watch(list(sockets.values()), listening.proxy)
    planner.start()
    try:
        if ready is not None:
            ready(replace(_address(listening, server, settings), begins=not is_yard(folder)))
        server.run()
    finally:
        server.close()
        planner.close()
        app.extensions["demo"].close()
        stop_trials(app)


def _own_names(listening: Listening) -> Sequence[str]:
    """Return the names that this machine has in its own network when it listens there."""
    if is_loopback(listening.host) and not listening.proxy:
        return ()
    name = socket.gethostname().lower()
    return (name, f"{name}.local", listening.host.lower())


def _address(listening: Listening, server: BaseWSGIServer, settings: Access) -> Address:
    port = server.effective_port
    host = socket.gethostname() if listening.host in ("0.0.0.0", "::", "") else listening.host
    if listening.names:
        host = listening.names[0]
    host = f"[{host}]" if ":" in host else host
    page = f"https://{host}/" if listening.proxy else f"http://{host}:{port}/"
    feed = f"{page}feed/{settings.feed}.ics" if settings.feed else ""
    return Address(f"{listening.host} port {port}", page, feed, settings.has_passphrase)
