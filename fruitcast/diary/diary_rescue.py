"""What can still be read from a damaged diary, added to its newest backup."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

from fruitcast.diary.database import (
    INSERT_DOCUMENT,
    INSERT_EVENT,
    VERSION,
    events_of,
    migrate,
    schema_version,
    select_events,
)
from fruitcast.diary.events import faults_of_any_kind
from fruitcast.errors import InputError


def rescue(damaged: Path, copy: Path) -> int:
    """Add what is younger than a copy and can still be read from a damaged diary to the copy.

    Entries are added in their order up to the first that cannot be read or is unfit: what
    follows it may rest on it. Younger documents (the plan and the calendar that are on phones)
    come too, and what was foretold, as far as they can be read.

    Returns
    -------
    int
        How many entries.
    """
    if not damaged.exists():
        return 0
    added = 0
    with (
        closing(sqlite3.connect(f"{damaged.absolute().as_uri()}?mode=ro", uri=True)) as old,
        closing(sqlite3.connect(copy, isolation_level=None)) as new,
    ):
        migrate(new)
        new.execute("PRAGMA foreign_keys = ON")
        new.execute("BEGIN")
        younger = select_events(_version(old), _last(new, "events"))
        for row in _readable(old, younger):
            try:
                (event,) = events_of([row])
                if faults_of_any_kind(event):
                    break
                new.execute(INSERT_EVENT, row)
            except (ValueError, TypeError, IndexError, sqlite3.IntegrityError):
                break
            added += 1
        last = _last(new, "documents")
        younger = f"SELECT kind, made_on, text FROM documents WHERE id > {last} ORDER BY id"
        for kind, made_on, text in _readable(old, younger):
            row = (kind, made_on)
            new.execute("DELETE FROM documents WHERE kind = ? AND made_on = ?", row)
            new.execute(INSERT_DOCUMENT, (*row, text))
        younger = f"SELECT * FROM foretold WHERE id > {_last(new, 'foretold')} ORDER BY id"
        for row in _readable(old, younger):
            new.execute(f"INSERT INTO foretold VALUES ({', '.join('?' * len(row))})", row)
        new.execute("COMMIT")
    return added


def _last(connection: sqlite3.Connection, table: str) -> int:
    return int(connection.execute(f"SELECT ifnull(max(id), 0) FROM {table}").fetchone()[0])


def _version(connection: sqlite3.Connection) -> int:
    """Return the schema version of a damaged diary, the present one where it can't be read."""
    try:
        return schema_version(connection)
    except (sqlite3.Error, InputError):
        return VERSION


def _readable(connection: sqlite3.Connection, sql: str) -> Iterator[tuple]:
    """Return rows up to the first that the database cannot read."""
    try:
        yield from connection.execute(sql)
    except sqlite3.Error:
        return
