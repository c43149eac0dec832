"""A small invented yard and short ways to write diary entries, for the tests of the diary."""

from __future__ import annotations

import gzip
import sqlite3
from collections.abc import Mapping
from contextlib import closing
from datetime import UTC, date, datetime, time
from pathlib import Path
from zoneinfo import ZoneInfo

from fruitcast.diary.events import Event
from fruitcast.diary.limits import Limits, Say
from fruitcast.diary.state import StackState
from fruitcast.numbers import default_numbers
from fruitcast.units import Units
from fruitcast.yard.model import Outlet, Site, Soaking, Stack, WeatherSource, Yard

TODAY = date(2027, 5, 7)  # a Friday
NOW = datetime(2027, 5, 7, 17, 30, tzinfo=UTC)


def stack(name: str, logs: int = 24, **changes: object) -> Stack:
    given: dict = {
        "strain_class": "wide-range",
        "strain": "all-round",
        "tree": "red oak",
        "diameter": 0.125,
        "length": 1.0,
        "inoculated": date(2025, 4, 1),
        "spawn": "sawdust",
    }
    return Stack(name=name, logs=logs, **(given | changes))


def yard(folder: Path = Path("nowhere"), **changes: object) -> Yard:
    """Stacks A (24 logs), B (30), C (12) and H (100, so two lots of 50 in a tank for 60)."""
    given: dict = {
        "folder": folder,
        "name": "Larkspur Hollow",
        "units": "us",
        "site": Site(42.0, -75.0, 300.0, ZoneInfo("America/New_York"), 0.8),
        "weather": WeatherSource(None, "nearest", 30),
        "soaking": Soaking((1, 4), 60, time(8), None, None, None),
        "keep_above": 0.35,
        "cold_store_days": 10,
        "saleable": 0.85,
        "promise": 0.8,
        "outlets": (
            Outlet("Saturday market", 5, 6.4, None, None, None, 1.0, frozenset()),
            Outlet("Inn", 2, 2.0, None, None, None, 1.0, frozenset()),
        ),
        "orders": (),
        "away": (),
        "stacks": (stack("A"), stack("B", 30), stack("C", 12, tree="red maple"), stack("H", 100)),
    }
    return Yard(**(given | changes))


def bare_limits(stacks: Mapping[str, StackState], units: Units = "us") -> Limits:
    """What a record is held against where neither tank nor cold store nor diary is known."""
    return Limits(Say(units), default_numbers(), stacks, TODAY)


def day(text: str) -> date:
    """'05-04' is in 2027."""
    return date.fromisoformat(text if len(text) > 5 else f"2027-{text}")


def entry(kind: str, on: str, stack: str = "", **fields: object) -> Event:
    return Event(kind, day(on), stack, **fields)


FIRST_VERSION = Path(__file__).with_name("diaries") / "version-1.db.gz"
"""The sample yard's diary as schema version 1 wrote it: 240 entries, plans of 3 and 4 May 2027."""


SECOND_VERSION = FIRST_VERSION.with_name("version-2.db.gz")
"""The same, brought to schema version 2 by its first program, with five entries of 5 to 7 May."""


def first_version(file: Path) -> Path:
    """Put the diary of schema version 1 in a file's place."""
    file.write_bytes(gzip.decompress(FIRST_VERSION.read_bytes()))
    return file


def second_version(file: Path) -> Path:
    """Put the diary of schema version 2 in a file's place."""
    file.write_bytes(gzip.decompress(SECOND_VERSION.read_bytes()))
    return file


def version_of(file: Path) -> int:
    """Return the schema version of a diary, looking at the file alone."""
    with closing(sqlite3.connect(file)) as raw:
        return int(raw.execute("PRAGMA user_version").fetchone()[0])
