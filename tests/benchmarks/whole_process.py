"""Commands timed from outside, as whole processes, and the sample yard that they work on."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median

TODAY = "2027-05-03"


@dataclass(frozen=True)
class Spent:
    """What a command materials.

    Attributes
    ----------
    seconds : float
        Median of the runs, from start to end. [s]
    peak : float
        Most memory that a process of it held in any run. [MB]
    """

    seconds: float
    peak: float


@dataclass(frozen=True)
class Planned:
    """A planned yard and the first planning of it."""

    folder: Path
    spent: Spent


def fruitcast(*words: object) -> list[str]:
    """Return a command of fruitcast for this interpreter."""
    return [sys.executable, "-m", "fruitcast", *map(str, words)]


def on_yard(folder: Path, *words: object) -> list[str]:
    """Return a command on a yard on the sample's day."""
    return fruitcast("--yard", folder, "--today", TODAY, *words)


_LAUNCH = """
import os, sys, time
nothing = os.open(os.devnull, os.O_WRONLY)
started = time.perf_counter()
process = os.posix_spawn(
    sys.argv[1], sys.argv[1:], os.environ, file_actions=[(os.POSIX_SPAWN_DUP2, nothing, 1)]
)
_, status, used = os.wait4(process, 0)
seconds = time.perf_counter() - started
print(os.waitstatus_to_exitcode(status), seconds, used.ru_maxrss / 1024)
"""
"""Starts a command from a small process: a command counts as its own the memory that the process
which started it held at that moment, and the tests' process holds a lot."""


def run(command: Sequence[str]) -> Spent:
    """Run a command once, which must succeed."""
    launch = [sys.executable, "-I", "-S", "-c", _LAUNCH, *command]
    done = subprocess.run(launch, capture_output=True, text=True, check=True)
    code, seconds, peak = done.stdout.split()
    if int(code):
        raise RuntimeError(f"{command} ended with {code}: {done.stderr}")
    return Spent(float(seconds), float(peak))


def spent(command: Sequence[str], *, runs: int = 5) -> Spent:
    """Run a command once to warm up and then several times that count."""
    run(command)
    each = [run(command) for _ in range(runs)]
    return Spent(median(one.seconds for one in each), max(one.peak for one in each))


def planned_sample(folder: Path) -> Planned:
    """Write and plan the sample yard."""
    return Planned(folder, run(fruitcast("demo", folder)))


def peak_of(process: int) -> float:
    """Return the most memory that a process has held so far. [MB]"""
    for line in Path(f"/proc/{process}/status").read_text(encoding="utf-8").splitlines():
        if line.startswith("VmHWM:"):
            return int(line.split()[1]) / 1024
    raise RuntimeError(f"the system doesn't tell the peak memory of process {process}")


def children_of(process: int) -> list[int]:
    """Return the processes that a process has started."""
    told = Path(f"/proc/{process}/task/{process}/children").read_text(encoding="utf-8")
    return [int(number) for number in told.split()]
