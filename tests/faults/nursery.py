"""Processes that start at once and are killed at random moments."""

from __future__ import annotations

import contextlib
import json
import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

NURSERY = """
import importlib, json, os, sys
from tests.faults import children
for name in sys.argv[1:]:
    importlib.import_module(name)
children.load_commands()

# Everything is loaded; each task is a child that starts at once and may be killed.
for line in sys.stdin:
    task = json.loads(line)
    if task["task"] == "load":
        children.load(*task["given"])
        continue
    child = os.fork()
    if child == 0:
        os.setpgid(0, 0)
        for descriptor in (1, 2):
            file = os.open(task["output"], os.O_WRONLY | os.O_CREAT | os.O_APPEND)
            os.dup2(file, descriptor)
        code = getattr(children, task["task"])(*task["given"])
        sys.stdout.flush()
        os._exit(code or 0)
    print(child, flush=True)
    _, status = os.waitpid(child, 0)
    print(os.waitstatus_to_exitcode(status), flush=True)
"""


RECORDING = ("fruitcast.app.recording", "fruitcast.cli.tables", "fruitcast.app.publication")
"""What recording and publishing need: loaded once, not by each child."""

MODULES = (
    *(*RECORDING, "fruitcast.app.planning", "fruitcast.outputs.terminal"),
    *("fruitcast.outputs.caldav", "fruitcast.app.weather_table", "fruitcast.weather.station_files"),
)
"""What all children need."""


@dataclass(frozen=True)
class Ended:
    """How a child ended: its exit code (negative when killed) and what it had printed."""

    code: int
    printed: str

    @property
    def lines(self) -> list[str]:
        """The lines that were printed to their end."""
        return [line[:-1] for line in self.printed.splitlines(keepends=True) if line[-1] == "\n"]


class Nursery:
    """Starts children of one process that has the program's modules loaded.

    Parameters
    ----------
    folder : Path
        For what the children print.
    seed : int
        Of the moments.
    modules : sequence of str
        What is loaded beside the command line.
    """

    def __init__(self, folder: Path, seed: int, modules: Sequence[str] = MODULES) -> None:
        self._folder = folder
        self._chance = random.Random(seed)
        self._process = subprocess.Popen(
            [sys.executable, "-c", NURSERY, *modules],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        self._number = 0
        self.child = 0

    def __enter__(self) -> Nursery:
        return self

    def __exit__(self, *_: object) -> None:
        assert self._process.stdin is not None
        self._process.stdin.close()
        self._process.wait(timeout=60)

    def load(self, *given: object) -> None:
        """Let the children find something loaded, see `children.load`."""
        self._tell({"task": "load", "given": [_plain(each) for each in given]})

    def run(self, task: str, *given: object) -> Ended:
        """Let a child do its task to the end."""
        return self._child(task, given, None)

    def pace(self, task: str, *given: object) -> float:
        """Return how long a child takes for its task, on this machine at this moment. [s]"""
        self.run(task, *given)  # the process itself may only just be starting
        begun = time.monotonic()
        ended = self.run(task, *given)
        assert ended.code == 0, ended.printed
        return time.monotonic() - begun

    def kill(self, task: str, *given: object, within: float) -> Ended:
        """Kill a child at a random moment within some seconds of its start."""
        return self._child(task, given, self._chance.uniform(0.0, within))

    def kill_after(self, task: str, *given: object) -> Ended:
        """Kill a child after some seconds, the last thing given."""
        *rest, seconds = given
        return self._child(task, tuple(rest), float(str(seconds)))

    def _child(self, task: str, given: tuple[object, ...], after: float | None) -> Ended:
        assert self._process.stdout is not None
        self._number += 1
        output = self._folder / f"child-{self._number}.txt"
        output.touch()
        words = {"task": task, "given": [_plain(each) for each in given], "output": str(output)}
        self._tell(words)
        pid = self.child = int(self._process.stdout.readline())
        if after is not None:
            time.sleep(after)
            with contextlib.suppress(ProcessLookupError):  # it may be done
                os.kill(pid, signal.SIGKILL)
        code = int(self._process.stdout.readline())
        return Ended(code, output.read_text(encoding="utf-8"))

    def _tell(self, words: dict[str, object]) -> None:
        assert self._process.stdin is not None
        self._process.stdin.write(json.dumps(words) + "\n")
        self._process.stdin.flush()


def _plain(value: object) -> object:
    return str(value) if isinstance(value, Path) else value
