"""What the program answers on two yards, in both systems of units, as files to be kept.

The yards are the invented sample with its diary, and the same stacks on the real weather of
Champion, Nebraska, as shipped with the package aquacrop. A kept answer changes only on
purpose: `python -m tests.golden` tells what a change did to soaks, weights and promises, and
`python -m tests.golden --keep` keeps the new answers.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from html import unescape
from pathlib import Path
from typing import Any
from unittest import mock

from fruitcast.app.demo import TODAY, write_sample_yard
from tests.cli.running import change, done
from tests.requires import need_file

KEPT = Path(__file__).with_name("kept")

DIGITS = 9
"""Kept numbers have so many digits: what lies behind differs between processors."""


@dataclass(frozen=True)
class Case:
    """One yard on one day in one system of units, and the commands asked of it."""

    name: str
    today: date
    real_weather: bool
    units: str
    commands: tuple[str, ...]

    def yard(self, folder: Path) -> Path:
        """Write the yard into a new folder."""
        weather = need_file("aquacrop", "data/champion_climate.txt") if self.real_weather else None
        write_sample_yard(folder, weather=weather, today=self.today)
        if self.units == "metric":
            change(folder / "yard.toml", 'units = "us"', 'units = "metric"')
        return folder


CHAMPION_DAY = date(2018, 5, 1)

CASES = (
    Case("sample-us", TODAY, False, "us", ("report", "inoculation", "hindcast")),
    Case("sample-metric", TODAY, False, "metric", ()),
    Case("champion-us", CHAMPION_DAY, True, "us", ()),
    Case("champion-metric", CHAMPION_DAY, True, "metric", ("report",)),
)


LONG = ("inoculation", "hindcast")
"""Commands that take as long as all others together: asked among the long tests."""


def answers(case: Case, folder: Path, leave_out: tuple[str, ...] = ()) -> dict[str, str]:
    """Return what the program answers: name of the file to keep, and its text."""
    yard = case.yard(folder)
    day = case.today.isoformat()

    def said(*words: str) -> str:
        with mock.patch.dict(os.environ, {"COLUMNS": "100"}):
            return done("--yard", yard, "--today", day, *words).out.replace(str(folder), "YARD")

    found = {
        "plan.txt": said("plan"),
        "plan.json": _even((yard / "out" / "plan.json").read_text(encoding="utf-8")),
        "plan.csv": (yard / "out" / "plan.csv").read_text(encoding="utf-8"),
        "calendar.ics": (yard / "out" / "calendar.ics").read_bytes().decode("utf-8"),
        "week.txt": said("week"),
        "week.json": _even(said("week", "--json")),
        "stacks.txt": said("stacks"),
        "stacks.json": _even(said("stacks", "--json")),
    }
    more: dict[str, Callable[[], dict[str, str]]] = {
        "report": lambda: {"report.txt": _words(yard, said)},
        "inoculation": lambda: {
            "inoculation.txt": said("inoculation"),
            "inoculation.json": _even(said("inoculation", "--json")),
        },
        "hindcast": lambda: {
            "hindcast.json": _even(
                said("hindcast", "--years", "2", "--weeks", "8", "--processes", "1", "--json")
            )
        },
    }
    for command in case.commands:
        if command in leave_out:
            continue
        found |= more[command]()
    return found


def _words(yard: Path, said: Callable[..., str]) -> str:
    """Return the words of the report's page, a line each, without its drawings."""
    said("report")
    page = (yard / "out" / "report.html").read_text(encoding="utf-8")
    for tag in ("svg", "style", "script"):
        page = re.sub(rf"<{tag}\b.*?</{tag}>", "", page, flags=re.DOTALL)
    lines = (unescape(line).strip() for line in re.sub(r"<[^>]+>", "\n", page).splitlines())
    return "\n".join(line for line in lines if line) + "\n"


def _even(text: str) -> str:
    """Return a JSON document with its numbers to the digits that are kept."""
    return json.dumps(_rounded(json.loads(text)), indent=1, ensure_ascii=False) + "\n"


def _rounded(value: Any) -> Any:
    if isinstance(value, float):
        return float(f"{value:.{DIGITS}g}")
    if isinstance(value, list):
        return [_rounded(entry) for entry in value]
    if isinstance(value, dict):
        return {key: _rounded(entry) for key, entry in value.items()}
    return value
