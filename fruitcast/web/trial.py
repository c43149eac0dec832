"""The what-if that is being reckoned beside the pages: in a process of its own, to be stopped."""

from __future__ import annotations

import contextlib
import os
import threading
import traceback
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from multiprocessing import get_context
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path

from fruitcast.app.what_if import Circumstances, try_out
from fruitcast.errors import FruitcastError
from fruitcast.outputs.what_if_words import TriedOut

NICER = 5
"""How much the process stands back behind the pages."""

OUR_FAULT = "The reckoning met a fault of fruitcast itself; the server's messages say more."


@dataclass(frozen=True)
class Trial:
    """A what-if and how far it is.

    Attributes
    ----------
    what : Circumstances
        What is taken to be different.
    worth : bool
        Whether it asks what a little more of each thing would bring.
    busy : bool
        Whether it is being reckoned.
    words : str
        What is being done.
    done, total : int
        How much of how much is done; 0 where that is not known.
    found : TriedOut or None
        The answer.
    failed : str
        Why there is none.
    """

    what: Circumstances = field(default_factory=Circumstances)
    worth: bool = False
    busy: bool = False
    words: str = ""
    done: int = 0
    total: int = 0
    found: TriedOut | None = None
    failed: str = ""

    @property
    def told(self) -> str:
        """What is being done, and how much of it is."""
        return f"{self.words}: {self.done} of {self.total}" if self.total else self.words


class Trials:
    """The one what-if of a yard that is reckoned at a time; a new one takes the old one's place."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._process: BaseProcess | None = None
        self._trial = Trial()

    @property
    def trial(self) -> Trial:
        """The last what-if."""
        with self._lock:
            return self._trial

    def start(
        self,
        folder: Path,
        today: date,
        now: datetime | None,
        what: Circumstances,
        *,
        worth: bool,
    ) -> None:
        """Begin to reckon one."""
        self.stop()
        here, there = get_context("spawn").Pipe(duplex=False)
        process = get_context("spawn").Process(
            target=_reckon, args=(there, folder, today, now, what, worth), daemon=True
        )
        with self._lock:
            self._process = process
            self._trial = Trial(what, worth, busy=True, words="reading the yard")
            process.start()
        there.close()
        threading.Thread(target=self._listen, args=(process, here), daemon=True).start()

    def stop(self) -> None:
        """Give it up."""
        with self._lock:
            process, self._process = self._process, None
            if self._trial.busy:
                self._trial = replace(self._trial, busy=False, failed="It was stopped.")
        if process is not None:
            process.kill()
            process.join()

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

    def _hear(self, process: BaseProcess, message: tuple[str, int, int] | TriedOut | str) -> None:
        with self._lock:
            if self._process is not process:
                return
            if isinstance(message, TriedOut):
                self._trial = replace(self._trial, busy=False, found=message)
            elif isinstance(message, str):
                self._trial = replace(self._trial, busy=False, failed=message)
            else:
                words, done, total = message
                self._trial = replace(self._trial, words=words, done=done, total=total)


def _reckon(
    told: Connection,
    folder: Path,
    today: date,
    now: datetime | None,
    what: Circumstances,
    worth: bool,
) -> None:
    """Reckon a what-if, and tell how far it is and what came of it."""
    with contextlib.suppress(OSError, AttributeError):
        os.nice(NICER)

    def progress(words: str, done: int = 0, total: int = 0) -> None:
        told.send((words, done, total))

    try:
        found: TriedOut | str = try_out(
            folder, today, what, worth=worth, now=now, offline=True, progress=progress
        )
    except FruitcastError as error:
        found = str(error)
    except Exception:
        traceback.print_exc()
        found = OUR_FAULT
    told.send(found)
    told.close()
