"""The process beside the server that plans, so that pages are answered meanwhile.

It reads one request a line from standard input and writes what became of it, one line each, to
standard output: 'planned' and later 'improved' with the changes, 'done' when all that stands
beside the plan is there, 'proving' when it can't be interrupted for a while, 'rested' when
nothing is left to do, 'failed' with a message, or 'outdated' when a newer request has come.
"""

from __future__ import annotations

import os
import queue
import sys
import threading
import traceback
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, Any

from pydantic import AwareDatetime

from fruitcast.diary.plan import OtherSoak
from fruitcast.document import Day, Document
from fruitcast.errors import FruitcastError, StationError, WeatherGapError
from fruitcast.weather.stations import Fetching

THOROUGH = (False, True)
"""Whether each plan after a record is the thorough one: a good one comes first."""


class Request(Document):
    """One line to the process: plan, with what is known on a day."""

    id: int
    today: Day
    now: AwareDatetime | None
    force: bool


class Message(Document):
    """One line from the process: what became of the request of that number."""

    id: int
    step: str
    changes: tuple[OtherSoak, ...] = ()
    message: str = ""
    of_weather: bool = False
    first: bool = False


class _OutdatedError(Exception):
    """A newer request has come: what is being worked out is no longer wanted."""


class _Worker:
    """Plans one yard again and again."""

    def __init__(self, folder: Path, offline: bool, out: IO[str]) -> None:
        self._folder, self._offline, self._out = folder, offline, out
        self._requests: queue.SimpleQueue[Request | None] = queue.SimpleQueue()
        self._number = 0

    def listen(self, lines: IO[str]) -> None:
        """Take requests until there are no more: then the server is gone."""
        for line in lines:
            self._requests.put(Request.model_validate_json(line))
        self._requests.put(None)

    def work(self) -> None:
        """Answer the newest request each time, until the server is gone."""
        while True:
            request = self._requests.get()
            while request is not None and not self._requests.empty():
                request = self._requests.get()
            if request is None:
                return
            self._number = request.id
            try:
                self._answer(request)
            except _OutdatedError:
                self._tell("outdated")
            except WeatherGapError as error:
                self._tell("failed", message=error.problem, of_weather=True)
            except StationError as error:
                self._tell("failed", message=str(error), of_weather=True)
            except FruitcastError as error:
                self._tell("failed", message=str(error))
            except Exception:
                traceback.print_exc()
                self._tell("failed")

    def _answer(self, request: Request) -> None:
        from fruitcast.app.planning import is_outdated, replan
        from fruitcast.app.publication import fresh_plan, last_plan
        from fruitcast.app.standing import add_background
        from fruitcast.yard.reading import read_yard

        folder, today, now = self._folder, request.today, request.now
        before = last_plan(read_yard(folder), today)
        if not request.force and fresh_plan(read_yard(folder), today) is not None:
            add_background(folder, today, None)
            self._tell("done")
            self._tell("rested")
            return
        # A first plan is the thorough one at once: soaks that change while they are being read
        # would have been believed.
        first = before is None
        for thorough in (True,) if first else THOROUGH:
            while True:
                done = replan(
                    folder,
                    today,
                    before,
                    thorough=thorough,
                    fetching=Fetching(now, self._offline or (thorough and not first)),
                    progress=self._heed,
                )
                step = "improved" if thorough and not first else "planned"
                self._tell(step, changes=done.changes, first=first)
                self._heed("")
                add_background(folder, today, datetime.now(UTC))
                # Somebody else may have written into the diary meanwhile.
                if not is_outdated(folder, done):
                    break
            self._tell("done")
        self._tell("rested")

    def _heed(self, words: str, done: int = 0, total: int = 0) -> None:
        """Stop what is being worked out when a newer request has come."""
        if not self._requests.empty():
            raise _OutdatedError
        if words.startswith("proving"):
            self._tell("proving")

    def _tell(self, step: str, **told: Any) -> None:
        message = Message(id=self._number, step=step, **told)
        self._out.write(message.json_text(ascii_only=True) + "\n")
        self._out.flush()


def main() -> None:
    """Serve the process that started this one."""
    # The solver may print: its lines must not get between ours.
    out = os.fdopen(os.dup(sys.stdout.fileno()), "w", encoding="utf-8")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    worker = _Worker(Path(sys.argv[1]), "--offline" in sys.argv[2:], out)
    threading.Thread(target=worker.listen, args=(sys.stdin,), daemon=True).start()
    import fruitcast.app.standing  # noqa: F401  (what takes time to load is loaded at once)

    worker.work()


if __name__ == "__main__":
    main()
