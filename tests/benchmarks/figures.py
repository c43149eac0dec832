"""One table of figures for a whole run, its file, and how it compares with an earlier file."""

from __future__ import annotations

import json
import os
import platform
import subprocess
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from fruitcast import __version__
from fruitcast.atomic import write_atomically

ROOT = Path(__file__).parents[2]

FILE = "FRUITCAST_FIGURES"
"""Environment variable that names the file to write; else one by the time of day in FOLDER."""

BEFORE = "FRUITCAST_FIGURES_BEFORE"
"""Environment variable that names an earlier run's file to compare with."""

FOLDER = ROOT / ".figures"

NOTABLE = 0.1
"""How far a ratio must be from 1 to be called better or worse: less is the machine's mood."""


@dataclass(frozen=True)
class Figure:
    """One row of the table.

    Attributes
    ----------
    name : str
        What was measured, so that it says the same in every run.
    value : float
        How much.
    unit : str
        Of what.
    more_is_better : bool
        Which way is better.
    """

    name: str
    value: float
    unit: str
    more_is_better: bool = False


class Figures:
    """The figures of one run.

    Attributes
    ----------
    rows : dict of str to Figure
        By name, in the order in which they were measured.
    load : float
        Processes that wanted a processor in the minute before the run began.
    """

    def __init__(self) -> None:
        self.rows: dict[str, Figure] = {}
        self.load = os.getloadavg()[0]

    def add(self, name: str, value: float, unit: str, *, more_is_better: bool = False) -> None:
        """Keep one figure; two of one name would hide each other."""
        if name in self.rows:
            raise ValueError(f"there is a figure '{name}' already")
        self.rows[name] = Figure(name, float(value), unit, more_is_better)

    def document(self, at: datetime) -> dict[str, Any]:
        """Return the run as a document of plain values."""
        return {
            "fruitcast": __version__,
            "commit": commit(),
            "date": at.isoformat(timespec="seconds"),
            "machine": {**machine(), "load_at_start": self.load},
            "figures": [asdict(figure) for figure in self.rows.values()],
        }


def commit() -> str:
    """Return the commit measured, with a plus sign when files differ from it."""

    def git(*words: str) -> str:
        done = subprocess.run(["git", *words], cwd=ROOT, capture_output=True, text=True)
        return done.stdout.strip() if done.returncode == 0 else ""

    number = git("rev-parse", "--short=12", "HEAD")
    if not number:
        return "unknown"
    return f"{number}+" if git("status", "--porcelain", "--untracked-files=no") else number


def machine() -> dict[str, Any]:
    """Return what the figures depend on besides the code."""
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**30
    return {
        "cores": len(os.sched_getaffinity(0)),
        "processor": _processor(),
        "memory_gib": round(memory, 1),
        "system": platform.system(),
        "python": platform.python_version(),
    }


def _processor() -> str:
    try:
        lines = Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
    except OSError:
        lines = []
    named = [line.partition(":")[2].strip() for line in lines if line.startswith("model name")]
    return named[0] if named else platform.processor() or platform.machine()


def write(document: Mapping[str, Any], environment: Mapping[str, str]) -> Path:
    """Write a run to the file that the environment names and return which one that is."""
    named = environment.get(FILE)
    stamp = str(document["date"]).replace(":", "")
    file = Path(named).absolute() if named else FOLDER / f"{stamp}.json"
    file.parent.mkdir(parents=True, exist_ok=True)
    write_atomically(file, (json.dumps(document, indent=2) + "\n").encode("utf-8"))
    return file


def read_before(environment: Mapping[str, str]) -> dict[str, Any] | None:
    """Return the earlier run that the environment names, if it names one."""
    named = environment.get(BEFORE)
    if not named:
        return None
    found: dict[str, Any] = json.loads(Path(named).read_text(encoding="utf-8"))
    return found


def table(document: Mapping[str, Any], before: Mapping[str, Any] | None) -> list[str]:
    """Return the table as lines; beside an earlier run with what each figure is of that one's.

    Parameters
    ----------
    document, before : mapping
        Runs as `Figures.document` gives them.
    """
    lines = [_head("measured", document)]
    if before is not None:
        lines.append(_head("beside  ", before))
        if _kind(document) != _kind(before):
            lines.append("The two ran on different machines: the ratios tell of both.")
    old = {figure["name"]: figure for figure in before["figures"]} if before else {}
    rows = [_row(figure, old.pop(figure["name"], None), before) for figure in document["figures"]]
    rows += [(name, "not measured", _value(figure), "") for name, figure in old.items()]
    widths = [max((len(row[column]) for row in rows), default=0) for column in range(4)]
    for name, *values in rows:
        cells = [name.ljust(widths[0])]
        cells += [value.rjust(width) for value, width in zip(values, widths[1:], strict=True)]
        lines.append("  ".join(cells).rstrip())
    return lines


def _head(word: str, document: Mapping[str, Any]) -> str:
    machine = document["machine"]
    return (
        f"{word} {document['date']}: fruitcast {document['fruitcast']} ({document['commit']}), "
        f"Python {machine['python']}, {machine['cores']} cores of {machine['processor']}, "
        f"{machine['memory_gib']} GiB, load {machine['load_at_start']:.1f} at the start"
    )


def _kind(document: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in document["machine"].items() if key != "load_at_start"}


def _row(
    figure: Mapping[str, Any], old: Mapping[str, Any] | None, before: Mapping[str, Any] | None
) -> tuple[str, str, str, str]:
    name, now = figure["name"], _value(figure)
    if before is None:
        return name, now, "", ""
    if old is None or old["unit"] != figure["unit"]:
        return name, now, "new", ""
    if not old["value"]:
        return name, now, _value(old), ""
    ratio = figure["value"] / old["value"]
    better = (ratio > 1) == figure["more_is_better"]
    word = "" if abs(ratio - 1) <= NOTABLE else " better" if better else " worse"
    return name, now, _value(old), f"x {ratio:.2f}{word:7}"


def _value(figure: Mapping[str, Any]) -> str:
    value = figure["value"]
    digits = 0 if abs(value) >= 100 else 1 if abs(value) >= 10 else 2 if abs(value) >= 0.1 else 4
    return f"{value:,.{digits}f} {figure['unit']}"
