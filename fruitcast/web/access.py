"""Who may come in: the passphrase, the feed's address, the key of the cookies; guessing is slow.

They are kept in the yard's folder in a file that only its owner may read. The passphrase itself
is not in it, only what scrypt (RFC 7914) makes of it.
"""

from __future__ import annotations

import contextlib
import hashlib
import ipaddress
import json
import os
import secrets
import tempfile
import threading
from collections import deque
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from fruitcast.errors import InputError, OutputError

# Slows down whoever guesses passphrases.

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


# Who may come in: the passphrase, the feed's address and the key of the cookies.

FILE = ".serve.json"
"""Name of the file in the yard's folder."""

FEWEST_CHARACTERS = 10
"""Shortest passphrase taken. Judgement: with few tries a minute enough against guessing."""
MOST_CHARACTERS = 200

KEPT_ENDED = 31 * 24 * 3600.0
"""How long an ended sign-in is remembered: by then its cookie has lapsed. [s]"""

MOST_ENDED = 500
"""Ended sign-ins remembered at most, the last ones."""

_N, _R, _P = 2**15, 8, 1
_MEMORY = 2**26  # scrypt needs 128 * N * R bytes, 32 MiB


@dataclass(frozen=True)
class Access:
    """What the file says."""

    key: str  # signs the cookies
    era: str  # sign-ins of another era no longer count; a new passphrase begins a new one
    feed: str = ""  # the secret part of the feed's address; empty when there is no feed
    salt: str = ""  # of the passphrase, as is the digest; empty when there is none
    digest: str = ""
    ended: str = ""  # sign-ins that were ended by signing out, each with the second in which it was

    @property
    def has_passphrase(self) -> bool:
        """Whether a passphrase is set."""
        return bool(self.digest)

    def admits(self, passphrase: str) -> bool:
        """Return whether a passphrase is the right one. Slow on purpose."""
        if not self.has_passphrase or len(passphrase) > MOST_CHARACTERS:
            return False
        return secrets.compare_digest(_digest(passphrase, self.salt), self.digest)

    def has_ended(self, sign_in: str) -> bool:
        """Return whether a sign-in was ended by signing out."""
        return any(mark.partition("@")[0] == sign_in for mark in self.ended.split())

    def is_feed(self, token: str) -> bool:
        """Return whether a token is the feed's."""
        given, ours = token.encode(errors="replace"), self.feed.encode()
        return bool(self.feed) and secrets.compare_digest(given, ours)


class AccessFile:
    """The file of one yard. What another process writes into it counts at once."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / FILE
        self._lock = threading.Lock()
        self._known: tuple[tuple[int, int, int], Access] | None = None

    def read(self) -> Access:
        """Return what the file says; it is begun when there is none.

        Raises InputError if it cannot be read, or is not such a file; OutputError if it cannot be
        begun.
        """
        with self._lock:
            try:
                status = self.path.stat()
            except FileNotFoundError:
                return self._write(Access(_secret(), _secret(), feed=_secret()))
            mark = (status.st_mtime_ns, status.st_size, status.st_ino)
            if self._known is None or self._known[0] != mark:
                if os.name == "posix" and status.st_mode & 0o077:
                    self.path.chmod(0o600)
                self._known = (mark, self._parse())
            return self._known[1]

    def set_passphrase(self, passphrase: str) -> None:
        """Set the passphrase; everybody must sign in again.

        Raises InputError if it is too short or too long.
        """
        if not FEWEST_CHARACTERS <= len(passphrase) <= MOST_CHARACTERS:
            raise InputError(
                f"The passphrase has {len(passphrase)} characters; {FEWEST_CHARACTERS} to "
                f"{MOST_CHARACTERS} are taken. Four or five words of your own choice are good."
            )
        salt = secrets.token_hex(16)
        self._change(era=_secret(), salt=salt, digest=_digest(passphrase, salt))

    def sign_everybody_out(self) -> None:
        """Let no sign-in count any more."""
        self._change(era=_secret())

    def end(self, sign_in: str, now: float) -> None:
        """Let one sign-in count no more, on no copy of its cookie."""
        oldest = now - KEPT_ENDED
        kept = [m for m in self.read().ended.split() if float(m.partition("@")[2]) > oldest]
        kept = [*kept[1 - MOST_ENDED :], f"{sign_in}@{int(now)}"]
        self._change(ended=" ".join(kept))

    def new_feed(self) -> None:
        """Give the feed another address; the old one leads nowhere."""
        self._change(feed=_secret())

    def stop_feed(self) -> None:
        """Take the feed's address away."""
        self._change(feed="")

    def _change(self, **fields: str) -> None:
        access = self.read()
        with self._lock:
            self._write(replace(access, **fields))

    def _parse(self) -> Access:
        try:
            document = json.loads(self.path.read_text(encoding="utf-8"))
            access = Access(**document)
            if not all(isinstance(value, str) for value in document.values()):
                raise TypeError("a value is no text")
            if len(access.key) < 32 or len(access.era) < 32:
                raise ValueError("the key is too short")
        except (OSError, ValueError, TypeError, RecursionError) as error:
            raise InputError(
                f"{self.path}: cannot be read ({error}). Remove it and set the passphrase again "
                "with 'fruitcast serve --set-passphrase'; the feed then has a new address."
            ) from error
        return access

    def _write(self, access: Access) -> Access:
        """Put a whole new file in place that only its owner may read, at no time anybody else."""
        temporary: Path | None = None
        try:
            handle, name = tempfile.mkstemp(dir=self.path.parent, prefix=f"{FILE}.")
            temporary = Path(name)
            with os.fdopen(handle, "w", encoding="utf-8") as stream:
                json.dump(asdict(access), stream, indent=1)
                stream.flush()
                os.fsync(stream.fileno())
            temporary.replace(self.path)
        except OSError as error:
            if temporary is not None:
                with contextlib.suppress(OSError):
                    temporary.unlink()
            raise OutputError(
                f"{self.path}: cannot be written ({error.strerror or error}). Check the folder "
                "and its permissions; nothing was changed."
            ) from error
        self._known = None
        return access


def _digest(passphrase: str, salt: str) -> str:
    return hashlib.scrypt(
        passphrase.encode(errors="replace"),
        salt=bytes.fromhex(salt),
        n=_N,
        r=_R,
        p=_P,
        maxmem=_MEMORY,
        dklen=32,
    ).hex()


def _secret() -> str:
    return secrets.token_urlsafe(32)
