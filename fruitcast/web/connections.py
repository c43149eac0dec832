"""Connections that ask nothing, or ask for ever, make room for those that do."""

from __future__ import annotations

import time
from collections.abc import Iterable
from functools import partial
from typing import Any

from waitress.channel import HTTPChannel
from waitress.server import TcpWSGIServer

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

    Parameters
    ----------
    listeners : iterable
        What the server polls; other things than listening sockets are passed over.
    proxy : str
        Address of the reverse proxy, through which everybody comes; empty for none.
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
