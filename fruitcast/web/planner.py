"""Keeps the plan in step with the yard: asks the planning process, and knows how far it is."""

from __future__ import annotations

import logging
import math
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import timedelta
from pathlib import Path

from fruitcast.app.beginning import is_yard
from fruitcast.app.publication import fingerprint
from fruitcast.app.serving import Clock, is_complete
from fruitcast.diary.plan import OtherSoak
from fruitcast.errors import FruitcastError
from fruitcast.web.planning_process import Message, Request
from fruitcast.yard.model import Yard
from fruitcast.yard.reading import read_yard

PROCESS = "fruitcast.web.planning_process"
"""Module that the planning process runs."""

LOOK_SECONDS = 60.0
"""How often the yard is looked at for changes that did not come through the page. [s]"""

RETRY_SECONDS = 900.0
"""How long after a failure the same is tried again. [s]"""

CHANGES_SECONDS = 600.0
"""How long it is told what the last plan changed. [s]"""

STATION_AGE = timedelta(hours=6)
"""Age of a plan from which a weather station is asked again."""

OUR_FAULT = "The planning met a fault of fruitcast itself; the server's messages say more"

_LOG = logging.getLogger("fruitcast.web")


@dataclass(frozen=True)
class Progress:
    """How far the planning is."""

    busy: bool = False  # whether a plan is being made
    # Whether what stands beside the plan, each stack's state, is still that of the one before.
    behind: bool = False
    rested: bool = True  # whether nothing is left to do: the thorough plan is made as well
    made: int = 0  # number of plans made since the server began
    failed: str = ""  # why the last one could not be made; empty when it could
    of_weather: bool = False  # whether it is the weather that does not suffice
    changes: tuple[OtherSoak, ...] = ()  # how the last plan differs from the one before
    # Whether the last plan was made so lately that its changes are worth telling.
    recent: bool = False
    first: bool = False  # whether there was no plan before the last one


class Planner:
    """The planning of one yard."""

    def __init__(self, folder: Path, clock: Clock, *, offline: bool = False) -> None:
        self._folder, self._clock, self._offline = folder, clock, offline
        self._lock = threading.RLock()
        self._process: subprocess.Popen[str] | None = None
        self._asked = 0
        self._progress = Progress()
        self._tried: tuple[str, float] = ("", 0.0)
        self._made_at = -math.inf
        self._proving = False
        self._closed = threading.Event()

    def start(self) -> None:
        """Start the planning process, and look at the yard now and from time to time."""
        with self._lock:
            self._running()
        threading.Thread(target=self._watch, daemon=True, name="watch").start()

    def close(self) -> None:
        """End the planning process."""
        self._closed.set()
        with self._lock:
            process, self._process = self._process, None
        if process is not None:
            process.kill()
            process.wait()

    @property
    def progress(self) -> Progress:
        """How far the planning is."""
        with self._lock:
            recent = time.monotonic() - self._made_at < CHANGES_SECONDS
            return replace(self._progress, recent=recent)

    def request(self, *, force: bool = True) -> None:
        """Ask for a new plan; one that is being made is given up.

        With `force` it plans even if the plan there still fits.
        """
        yard = read_yard(self._folder)
        now = None if self._clock.day else self._clock.now()
        with self._lock:
            self._asked += 1
            today = self._clock.today(yard)
            request = Request(id=self._asked, today=today, now=now, force=force)
            self._tried = (self._inputs(yard), time.monotonic())
            self._progress = replace(
                self._progress, busy=True, behind=True, rested=False, failed=""
            )
            if self._proving and self._process is not None:
                # The proof heeds nobody, and what it proves is no longer wanted.
                self._process.kill()
                self._process, self._proving = None, False
            self._send(request.json_text(ascii_only=True) + "\n")

    def look(self) -> None:
        """Ask for a new plan if the one there is no longer fits the yard, its diary or the day."""
        if self.progress.behind or not is_yard(self._folder):
            return
        yard = read_yard(self._folder)
        with self._lock:
            if self._progress.behind:
                return
            inputs, at = self._tried
            again = time.monotonic() - at >= RETRY_SECONDS
            if not is_complete(yard, self._clock.today(yard)):
                if inputs != self._inputs(yard) or again:
                    self.request(force=False)
            elif self._is_old(yard) and again:
                self.request()
            elif inputs != self._inputs(yard):
                # What could not be planned is gone: the plan fits what is there now.
                self._progress = replace(self._progress, failed="", of_weather=False)

    def _is_old(self, yard: Yard) -> bool:
        """Return whether a weather station may know more than when the plan was made."""
        if yard.weather.station is None or self._clock.day is not None:
            return False
        return time.monotonic() - self._made_at >= STATION_AGE.total_seconds()

    def _inputs(self, yard: Yard) -> str:
        return f"{self._clock.today(yard)} {fingerprint(yard)}"

    def _watch(self) -> None:
        while True:
            quietly(self.look)
            if self._closed.wait(LOOK_SECONDS):
                return

    def _send(self, line: str) -> None:
        for _ in range(2):
            process = self._running()
            try:
                assert process.stdin is not None
                process.stdin.write(line)
                process.stdin.flush()
            except OSError:
                self._process = None  # it has died since: start another
            else:
                return
        self._progress = Progress(made=self._progress.made, failed=OUR_FAULT)

    def _running(self) -> subprocess.Popen[str]:
        if self._process is None or self._process.poll() is not None:
            command = [sys.executable, "-m", PROCESS, str(self._folder)]
            process = subprocess.Popen(
                [*command, "--offline"] if self._offline else command,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                text=True,
                encoding="utf-8",
            )
            self._process = process
            threading.Thread(target=self._listen, args=(process,), daemon=True).start()
        return self._process

    def _listen(self, process: subprocess.Popen[str]) -> None:
        assert process.stdout is not None
        for line in process.stdout:
            self._hear(Message.model_validate_json(line))
        process.wait()
        with self._lock:
            if process is self._process and self._progress.behind and not self._closed.is_set():
                _LOG.error("the planning process ended with code %s", process.returncode)
                self._process = None
                self._progress = Progress(made=self._progress.made, failed=OUR_FAULT)

    def _hear(self, message: Message) -> None:
        with self._lock:
            before, step = self._progress, message.step
            current = message.id == self._asked
            self._proving = step == "proving"
            if step == "planned":
                self._progress = Progress(
                    busy=not current,
                    behind=True,
                    rested=False,
                    made=before.made + 1,
                    changes=message.changes,
                    first=message.first,
                )
                self._made_at = time.monotonic()
            elif step == "improved":
                self._progress = replace(before, changes=message.changes, made=before.made + 1)
            elif step == "done" and current:
                self._progress = replace(before, busy=False, behind=False, failed="")
            elif step == "rested" and current:
                self._progress = replace(before, rested=True)
            elif step == "failed" and current:
                words = message.message or OUR_FAULT
                self._progress = Progress(
                    made=before.made, failed=words, of_weather=message.of_weather
                )


def quietly(do: Callable[[], None]) -> None:
    """Do something that may fail for a reason which the pages will show as well."""
    try:
        do()
    except FruitcastError as error:
        _LOG.warning("%s", error)
    except Exception:
        _LOG.exception("a fault of ours while looking after the plan")
