"""What the killed processes do."""

from __future__ import annotations

import contextlib
import io
import json
import os
from datetime import UTC, date, datetime
from functools import cache
from pathlib import Path
from unittest import mock

import typer

from fruitcast.app.known import KnownYard, read_known
from fruitcast.app.publication import last_plan, publish
from fruitcast.cli import main
from fruitcast.diary.book import Diary
from fruitcast.diary.events import Event

SOME_DAY = date(2027, 5, 5)


def load_commands() -> None:
    """Load the whole command line and build its parser, for the children to come."""
    typer.main.get_command = cache(typer.main.get_command)
    with contextlib.redirect_stdout(io.StringIO()):
        assert main(["--help"]) == 0


def command(words: list[str]) -> int:
    """Run one command line."""
    return main(words)


def commands(lines: list[list[str]]) -> int:
    """Run command lines one after another, each told when it is done."""
    for number, words in enumerate(lines):
        if main(words):
            return 1
        print(f"done {number}", flush=True)
    return 0


def fetch(endpoint: str, words: list[str]) -> int:
    """Run a command with another weather server."""
    import meteostat

    meteostat.config.daily_endpoint = endpoint + "/daily/{year}/{station}.csv.gz"
    meteostat.config.stations_db_endpoints = [endpoint + "/stations.db"]
    return main(words)


_loaded: dict[str, KnownYard] = {}


def load(folder: str, day: str) -> None:
    """Read what is known of a yard, for the children to come."""
    today = date.fromisoformat(day)
    _loaded[folder] = read_known(Path(folder), today, 60)


def publish_often(folder: str, begin: int, count: int) -> int:
    """Publish one plan after another, told by their seeds, of a yard that was loaded."""
    known = _loaded[folder]
    first = last_plan(known.yard, known.today)
    assert first is not None
    for seed in range(begin, begin + count):
        document = first.model_copy(update={"seed": seed})
        publish(document, known.yard, known.state, known.today, f"inputs of {seed}")
        print(seed, flush=True)
    return 0


def migrate(file: str) -> int:
    """Write two entries into a diary of an earlier version, which the first brings up to date."""
    for said in ("migrated", "written"):
        with Diary(Path(file)) as diary:
            diary.add([Event("note", SOME_DAY, note=said)], datetime(2027, 5, 5, 12, tzinfo=UTC))
        print(said, flush=True)
    return 0


def push(folder: str, day: str, address: str) -> int:
    """Push a yard's calendar."""
    words = ["--yard", folder, "--today", day, "calendar", "--push", address, "--user", "grower"]
    with mock.patch.dict(os.environ, FRUITCAST_CALDAV_PASSWORD="secret"):
        return main(words)


def seed_of(folder: Path) -> int:
    """Return the seed of the plan in the yard's files."""
    return int(json.loads((folder / "out" / "plan.json").read_text(encoding="utf-8"))["seed"])
