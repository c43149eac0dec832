"""What is reckoned beside the pages, in the test's own process: another loads all anew.

What is asked and what is answered are packed as for another process. That one is started all the
same by the tests that stop it, by `test_trying` and by `test_what_if`.
"""

from __future__ import annotations

import os
import pickle
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from multiprocessing import get_context
from multiprocessing.connection import Connection
from types import SimpleNamespace
from typing import Any, ClassVar
from unittest import mock

from fruitcast.web import inoculation, trial, what_if


def _at_once(reckon: Callable[[], Any]) -> Any:
    """Reckon what `beside` would, and hand over the answer or the error."""
    try:
        answer = pickle.loads(pickle.dumps(reckon))()
    except Exception as error:
        raise pickle.loads(pickle.dumps(error)) from None
    return pickle.loads(pickle.dumps(answer))


@contextmanager
def moments_here() -> Iterator[None]:
    """Let what takes a moment be reckoned here."""
    with (
        mock.patch.object(inoculation, "beside", _at_once),
        mock.patch.object(what_if, "beside", _at_once),
    ):
        yield


class Later:
    """Stands for the process of a trial: nothing is reckoned before the test lets it."""

    last: ClassVar[Later]

    def __init__(self, target: Callable[..., None], args: tuple[Any, ...], daemon: bool) -> None:
        told, reckon = args
        mine = Connection(os.dup(told.fileno()), readable=False)  # who starts it closes the other
        self._do = lambda: target(mine, pickle.loads(pickle.dumps(reckon)))

    def start(self) -> None:
        Later.last = self

    def go(self) -> None:
        """Reckon it, without standing back: all later tests of this process would."""
        with mock.patch.object(trial, "NICER", 0):
            self._do()

    def kill(self) -> None:
        pass

    def join(self) -> None:
        pass


@contextmanager
def trials_here() -> Iterator[type[Later]]:
    """Let what takes longer be reckoned here, when `Later.last.go()` says so."""
    context = SimpleNamespace(Pipe=get_context("spawn").Pipe, Process=Later)
    with mock.patch.object(trial, "get_context", lambda _: context):
        yield Later
