"""What is reckoned beside the pages: in a process of its own, with its progress, to be stopped."""

from __future__ import annotations

import contextlib
import os
import threading
import traceback
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from multiprocessing import get_context
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from typing import Generic, TypeVar, cast
from uuid import uuid4

from flask import Flask, redirect
from werkzeug.wrappers import Response

from fruitcast.errors import FruitcastError

NICER = 5
"""How much the process stands back behind the pages."""

OUR_FAULT = "The reckoning met a fault of fruitcast itself; the server's messages say more."
STOPPED = "It was stopped."

Asked = TypeVar("Asked")
Found = TypeVar("Found")


@dataclass(frozen=True)
class Trial(Generic[Asked, Found]):
    """One thing that is reckoned, and how far it is."""

    what: Asked  # what was asked
    inputs: str = ""  # what it was reckoned from: changes when the yard does
    mark: str = ""  # tells it from every other
    busy: bool = False  # whether it is being reckoned
    words: str = ""  # what is being done
    done: int = 0
    total: int = 0  # 0 where that is not known
    found: Found | None = None
    failed: str = ""  # why there is none

    @property
    def told(self) -> str:
        """What is being done, and how much of it is."""
        return f"{self.words}: {self.done} of {self.total}" if self.total else self.words

    def is_old(self, inputs: str) -> bool:
        """Return whether it was reckoned from anything else than what there is now."""
        return bool(self.inputs) and self.inputs != inputs


class Trials(Generic[Asked, Found]):
    """The one thing of a page that is reckoned at a time; a new one takes the old one's place.

    `nothing` is what is asked as long as nobody has asked anything.
    """

    def __init__(self, nothing: Asked) -> None:
        self._lock = threading.Lock()
        self._process: BaseProcess | None = None
        self._nothing = nothing
        self._trial: Trial[Asked, Found] = Trial(nothing)

    @property
    def trial(self) -> Trial[Asked, Found]:
        """The last one."""
        with self._lock:
            return self._trial

    def start(self, what: Asked, inputs: str, reckon: Callable[..., Found]) -> None:
        """Begin to reckon one.

        `inputs` is what it is reckoned from. `reckon` is sent to another process, and told
        `progress` there.
        """
        self.stop()
        here, there = get_context("spawn").Pipe(duplex=False)
        process = get_context("spawn").Process(target=_reckon, args=(there, reckon), daemon=True)
        with self._lock:
            self._process = process
            self._trial = Trial(what, inputs, uuid4().hex, busy=True, words="reading the yard")
            process.start()
        there.close()
        threading.Thread(target=self._listen, args=(process, here), daemon=True).start()

    def stop(self) -> None:
        """Give it up."""
        with self._lock:
            process, self._process = self._process, None
            if self._trial.busy:
                self._trial = replace(self._trial, busy=False, failed=STOPPED)
        if process is not None:
            process.kill()
            process.join()

    def forget(self) -> None:
        """Let the last one go: what it answered has become of the yard."""
        self.stop()
        with self._lock:
            self._trial = Trial(self._nothing)

    def _listen(self, process: BaseProcess, told: Connection) -> None:
        with contextlib.suppress(EOFError, OSError):
            while True:
                self._hear(process, told.recv())
        process.join()
        with self._lock:
            if self._process is process:
                self._process = None
                if self._trial.busy:
                    self._trial = replace(self._trial, busy=False, failed=OUR_FAULT)

    def _hear(self, process: BaseProcess, message: tuple[str, object]) -> None:
        kind, told = message
        with self._lock:
            if self._process is not process:
                return
            if kind == "found":
                self._trial = replace(self._trial, busy=False, found=cast(Found, told))
            elif kind == "failed":
                self._trial = replace(self._trial, busy=False, failed=str(told))
            elif isinstance(told, tuple):
                words, done, total = told
                self._trial = replace(self._trial, words=words, done=done, total=total)


def add_trials(app: Flask, path: str, nothing: Asked) -> Trials[Asked, Found]:
    """Return what a page reckons with, its progress and its stop under the page's address."""
    trials: Trials[Asked, Found] = Trials(nothing)
    app.extensions.setdefault("trials", []).append(trials)
    name = path.strip("/").replace("/", "_").replace("-", "_")

    def stop() -> Response:
        trials.stop()
        return redirect(path, 303)

    def status() -> dict[str, object]:
        trial = trials.trial
        return {"busy": trial.busy, "told": trial.told}

    app.add_url_rule(f"{path}/stop", f"stop_{name}", stop, methods=["POST"])
    app.add_url_rule(f"{path}/status", f"status_{name}", status)
    return trials


def stop_trials(app: Flask) -> None:
    """Give up all that is being reckoned."""
    for trials in app.extensions.get("trials", ()):
        trials.stop()


def beside(reckon: Callable[[], Found]) -> Found:
    """Return what a process of its own reckons in a moment; other pages are answered meanwhile."""
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as process:
        return process.submit(reckon).result()


def _reckon(told: Connection, reckon: Callable[..., object]) -> None:
    """Reckon something, and tell how far it is and what came of it."""
    with contextlib.suppress(OSError, AttributeError):
        os.nice(NICER)

    def progress(words: str, done: int = 0, total: int = 0) -> None:
        told.send(("doing", (words, done, total)))

    try:
        answer: tuple[str, object] = ("found", reckon(progress=progress))
    except FruitcastError as error:
        answer = ("failed", str(error))
    except Exception:
        traceback.print_exc()
        answer = ("failed", OUR_FAULT)
    told.send(answer)
    told.close()
