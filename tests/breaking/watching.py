"""One input, one reader, watched: a result or one clear message, in time and in bounds.

Anything else is a finding: another exception, more than two seconds of work, 500 MB more memory,
a file written.
"""

from __future__ import annotations

import resource
import signal
import sys
import time
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Any, Literal

from fruitcast.errors import BalanceError, FaultsError, FruitcastError

MOST_SECONDS = 2.0
"""Work on one input at most. [s of processor time]"""

MOST_MEMORY = 500e6
"""Memory that one input may add to the greatest use so far. [byte]"""

MOST_WORDS = 30_000
"""Longest message. [characters]"""


class FindingError(AssertionError):
    """What a reader must never do."""


class _TooLongError(BaseException):
    """Raised in whatever runs when the time is over; no reader catches it."""


def outcome(read: Callable[[bytes], object], data: bytes) -> Literal["read", "refused"]:
    """Return whether a reader took an input or refused it.

    Raises
    ------
    FindingError
        If it did anything else.
    """
    memory, began = _memory(), time.process_time()
    result: Literal["read", "refused"] = "read"
    with _stopwatch(), _nothing_written(), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            read(data)
        except BalanceError as error:
            raise FindingError(f"a fault of ours: {error}") from error
        except FruitcastError as error:
            check_message(error)
            result = "refused"
    seconds = time.process_time() - began
    if seconds > MOST_SECONDS:
        raise FindingError(f"{seconds:.1f} s of work")
    if _memory() - memory > MOST_MEMORY:
        raise FindingError(f"{(_memory() - memory) / 1e6:.0f} MB more memory")
    return result


def check_message(error: FruitcastError) -> None:
    """Hold a message to what a person can read: not empty, not endless, nothing invisible."""
    words = str(error)
    if not words.strip():
        raise FindingError(f"an empty {type(error).__name__}")
    if len(words) > MOST_WORDS:
        raise FindingError(f"a message of {len(words)} characters: {words[:200]}...")
    hidden = {letter for letter in words if not letter.isprintable() and letter not in "\n"}
    if hidden:
        raise FindingError(f"a message with {sorted(map(ascii, hidden))}: {words[:300]!r}")
    for fault in error.faults if isinstance(error, FaultsError) else ():
        if not (fault.place.strip() and fault.problem.strip() and fault.remedy.strip()):
            raise FindingError(f"a fault without place, problem or remedy: {fault!r}")
        if "\n" in str(fault):
            raise FindingError(f"a fault of several lines: {fault!r}")


def _memory() -> float:
    """Return the greatest use of memory so far. [byte]"""
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak if sys.platform == "darwin" else peak * 1024


@contextmanager
def _stopwatch() -> Iterator[None]:
    def stop(number: int, frame: FrameType | None) -> None:
        raise _TooLongError

    before = signal.signal(signal.SIGPROF, stop)
    signal.setitimer(signal.ITIMER_PROF, MOST_SECONDS)
    try:
        yield
    except _TooLongError as error:
        raise FindingError(f"over {MOST_SECONDS:g} s of work") from error
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


_watching = False
_written: list[str] = []


@contextmanager
def unwatched() -> Iterator[None]:
    """Let the test itself write, or a reader into the store that is its own."""
    global _watching
    before, _watching = _watching, False
    try:
        yield
    finally:
        _watching = before


@contextmanager
def _nothing_written() -> Iterator[None]:
    global _watching
    _hook()
    _written.clear()
    # What Python keeps of a module that is imported first here is not the reader's.
    kept, sys.dont_write_bytecode = sys.dont_write_bytecode, True
    _watching = True
    try:
        yield
    finally:
        _watching = False
        sys.dont_write_bytecode = kept
    if _written:
        raise FindingError(f"files written: {_written[:5]}")


_CHANGES = ("os.remove", "os.rename", "os.mkdir", "os.rmdir", "os.truncate", "shutil.")
_WRITING = ("w", "a", "x", "+")


def _hear(event: str, arguments: tuple[Any, ...]) -> None:
    if not _watching:
        return
    if event == "open":
        path, mode, flags = arguments
        writes = any(mark in mode for mark in _WRITING) if mode else bool(flags & 0o3)
    elif event.startswith(_CHANGES):
        path, writes = arguments[0], True
    else:
        return
    # What Python compiles of a module that is read for the first time is not the reader's doing.
    if writes and "__pycache__" not in str(path):
        _written.append(f"{event} {path}")


_hooked = False


def _hook() -> None:
    """Listen to the interpreter's audit events, once: such a hook can never be taken out."""
    global _hooked
    if not _hooked:
        sys.addaudithook(_hear)
        _hooked = True
