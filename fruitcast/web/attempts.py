"""Slows down whoever guesses passphrases."""

from __future__ import annotations

import ipaddress
import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass

FREE_TRIES = 5
"""Wrong passphrases before a sender must wait. Judgement."""
FIRST_WAIT, LONGEST_WAIT = 30.0, 3600.0
"""Wait after the last free try, doubled by each wrong one that follows. Judgement. [s]"""
FORGOTTEN_AFTER = 24 * 3600.0
"""Wrong tries older than this no longer count. [s]"""
TRIES_AN_HOUR = 60
"""Wrong passphrases an hour from all strangers together; beyond, all of them wait. Judgement."""
KNOWN_SENDERS = 10_000
"""Senders remembered at most."""


@dataclass
class _Sender:
    wrong: int = 0
    last: float = 0.0


class Attempts:
    """Wrong passphrases so far.

    A device that signed in before has tries of its own, which strangers can't use up, not even
    from behind the same address.

    Parameters
    ----------
    clock : callable
        Returns seconds that never go back. [s]
    """

    def __init__(self, clock: Callable[[], float]) -> None:
        self._clock = clock
        self._senders: dict[str, _Sender] = {}
        self._recent: deque[float] = deque(maxlen=TRIES_AN_HOUR)
        self.lock = threading.Lock()
        """Held while a passphrase is tried, so that tries at the same moment are counted."""

    def wait(self, address: str, device: str = "") -> float:
        """Return how long a sender must wait before the next try, 0 when it may try. [s]"""
        now = self._clock()
        wait = 0.0
        if len(self._recent) == TRIES_AN_HOUR and not device:
            wait = self._recent[0] + 3600.0 - now
        sender = self._senders.get(_who(address, device))
        if sender is not None and sender.wrong >= FREE_TRIES:
            doubled = FIRST_WAIT * 2.0 ** min(sender.wrong - FREE_TRIES, 20)
            wait = max(wait, sender.last + min(doubled, LONGEST_WAIT) - now)
        return max(wait, 0.0)

    def wrong(self, address: str, device: str = "") -> None:
        """Count a wrong passphrase."""
        now, who = self._clock(), _who(address, device)
        if not device:
            self._recent.append(now)
        sender = self._senders.pop(who, _Sender())
        if now - sender.last > FORGOTTEN_AFTER:
            sender = _Sender()
        self._senders[who] = _Sender(sender.wrong + 1, now)
        while len(self._senders) > KNOWN_SENDERS:
            del self._senders[next(iter(self._senders))]

    def right(self, address: str, device: str = "") -> None:
        """Forget a sender's wrong tries."""
        self._senders.pop(_who(address, device), None)


def _who(address: str, device: str) -> str:
    return f"device {device}" if device else _network(address)


def _network(address: str) -> str:
    """Return what one sender holds: an IPv4 address, or the /64 of an IPv6 address."""
    try:
        parsed = ipaddress.ip_address(address.partition("%")[0])
    except ValueError:
        return address[:64]
    if isinstance(parsed, ipaddress.IPv6Address):
        if parsed.ipv4_mapped is not None:
            return str(parsed.ipv4_mapped)
        return str(ipaddress.ip_network((parsed, 64), strict=False))
    return str(parsed)
