"""The process beside the server that plans, so that pages are answered meanwhile.

It reads one request a line from standard input and writes what became of it, one line each, to
standard output: 'planned' with the changes, 'done', 'failed' with a message, or 'outdated' when
a newer request has come in the meantime.
"""

from __future__ import annotations

import json
import os
import queue
import sys
import threading
import traceback
from datetime import UTC, date, datetime
from pathlib import Path
from typing import IO, Any

from fruitcast.errors import FruitcastError

PROOF_AFTER_SECONDS = 20.0
"""Quiet time after which the proof of the plan is worked out. [s]"""


class _OutdatedError(Exception):
    """A newer request has come: what is being worked out is no longer wanted."""


class _Worker:
    """Plans one yard again and again."""

    def __init__(self, folder: Path, offline: bool, out: IO[str]) -> None:
        self._folder, self._offline, self._out = folder, offline, out
        self._requests: queue.SimpleQueue[dict[str, Any] | None] = queue.SimpleQueue()

    def listen(self, lines: IO[str]) -> None:
        """Take requests until there are no more: then the server is gone."""
        for line in lines:
            self._requests.put(json.loads(line))
        self._requests.put(None)

    def work(self) -> None:
        """Answer the newest request each time, until the server is gone."""
        done = None
        while True:
            try:
                request = self._requests.get(timeout=PROOF_AFTER_SECONDS if done else None)
            except queue.Empty:
                self._prove(done)
                done = None
                continue
            while not self._requests.empty():
                request = self._requests.get() if request is not None else None
            if request is None:
                return
            done = self._answer(request)

    def _answer(self, request: dict[str, Any]) -> Any:
        from fruitcast.app.publication import fresh_plan
        from fruitcast.app.replanning import add_background, replan
        from fruitcast.yard.reading import read_yard

        number = request["id"]
        today = date.fromisoformat(request["today"])
        now = datetime.fromisoformat(request["now"]) if request["now"] else None
        try:
            if not request["force"] and fresh_plan(read_yard(self._folder), today) is not None:
                add_background(self._folder, today, None)
                self._tell(id=number, step="done")
                return None
            while True:
                done = replan(
                    self._folder, today, now=now, offline=self._offline, progress=self._heed
                )
                self._tell(id=number, step="planned", changes=done.changes)
                self._heed("")
                add_background(self._folder, today, datetime.now(UTC))
                # Somebody else may have written into the diary meanwhile.
                if not done.outdated:
                    break
        except _OutdatedError:
            self._tell(id=number, step="outdated")
            return None
        except FruitcastError as error:
            self._tell(id=number, step="failed", message=str(error))
            return None
        except Exception:
            traceback.print_exc()
            self._tell(id=number, step="failed", message=None)
            return None
        self._tell(id=number, step="done")
        return done

    def _prove(self, done: Any) -> None:
        from fruitcast.app.replanning import add_proof

        try:
            add_proof(done)
        except Exception:
            # The plan stands without it; the next one tries again.
            traceback.print_exc()

    def _heed(self, words: str) -> None:
        if not self._requests.empty():
            raise _OutdatedError

    def _tell(self, **message: Any) -> None:
        self._out.write(json.dumps(message) + "\n")
        self._out.flush()


def main() -> None:
    """Serve the process that started this one."""
    # The solver may print: its lines must not get between ours.
    out = os.fdopen(os.dup(sys.stdout.fileno()), "w", encoding="utf-8")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    worker = _Worker(Path(sys.argv[1]), "--offline" in sys.argv[2:], out)
    threading.Thread(target=worker.listen, args=(sys.stdin,), daemon=True).start()
    import fruitcast.app.replanning  # noqa: F401  (what takes time to load is loaded at once)

    worker.work()


if __name__ == "__main__":
    main()
