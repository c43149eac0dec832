"""The diary's database: its tables, their versions, and entries as rows."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable
from dataclasses import fields
from datetime import date, datetime

from fruitcast.diary.events import FIELDS, Event
from fruitcast.diary.kept_plan import foretell_from_kept_plans, pack_kept_documents
from fruitcast.errors import InputError

APPLICATION_ID = 0x66727569
"""Marks the file as a diary in the database's header."""

Step = str | Callable[[sqlite3.Connection], None]
"""A statement, or what no statement can do."""

# What a version's tables were is history: it is never changed again, whatever kinds there are now.
_EVENT = """"on" TEXT NOT NULL CHECK ("on" GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
        stack TEXT,
        logs INTEGER CHECK (logs >= 0),
        hours REAL CHECK (hours > 0),
        kg REAL CHECK (kg >= 0),
        start_kg REAL CHECK (start_kg > 0),
        moisture_wet REAL CHECK (moisture_wet > 0 AND moisture_wet < 1),
        mm REAL CHECK (mm >= 0),
        litres REAL CHECK (litres >= 0),
        picked_on TEXT CHECK (picked_on GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
        grade TEXT,
        outlet TEXT,
        "into" TEXT,
        sample TEXT,
        findings TEXT,
        cancels TEXT REFERENCES events (uuid) DEFERRABLE INITIALLY DEFERRED,
        note TEXT,
        uuid TEXT NOT NULL UNIQUE CHECK (length(uuid) > 0),
        recorded_at TEXT NOT NULL,
        CHECK ((kind = 'undo') = (cancels IS NOT NULL))"""
_NEVER_CHANGED = (
    """
    CREATE TRIGGER events_are_never_changed BEFORE UPDATE ON events
    BEGIN SELECT RAISE(ABORT, 'diary entries are never changed'); END
    """,
    """
    CREATE TRIGGER events_are_never_deleted BEFORE DELETE ON events
    BEGIN SELECT RAISE(ABORT, 'diary entries are never deleted'); END
    """,
)

_VERSION_1: tuple[Step, ...] = (
    f"""
    CREATE TABLE events (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        kind TEXT NOT NULL CHECK (kind IN ('soak', 'pull', 'pick', 'pins', 'fruiting', 'water', 'rain', 'weigh', 'inspect', 'stock', 'sold', 'discard', 'split', 'merge', 'move', 'retire', 'note', 'undo')),
        {_EVENT}
    )
    """,  # noqa: E501
    *_NEVER_CHANGED,
    """
    CREATE TABLE documents (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        kind TEXT NOT NULL,
        made_on TEXT NOT NULL,
        text TEXT NOT NULL,
        UNIQUE (kind, made_on)
    )
    """,
)

# A kind is checked by the program alone: a later one's may stand in the diary.
_VERSION_2: tuple[Step, ...] = (
    f"""
    CREATE TABLE new_events (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        kind TEXT NOT NULL,
        {_EVENT}
    )
    """,
    """
    INSERT INTO new_events (
        id, kind, "on", stack, logs, hours, kg, start_kg, moisture_wet, mm, litres, picked_on,
        grade, outlet, "into", sample, findings, cancels, note, uuid, recorded_at
    )
    SELECT
        id, kind, "on", stack, logs, hours, kg, start_kg, moisture_wet, mm, litres, picked_on,
        grade, outlet, "into", sample, findings, cancels, note, uuid, recorded_at
    FROM events ORDER BY id
    """,
    """
    UPDATE sqlite_sequence SET seq = (SELECT seq FROM sqlite_sequence WHERE name = 'events')
    WHERE name = 'new_events'
    """,
    "DROP TABLE events",
    "ALTER TABLE new_events RENAME TO events",
    *_NEVER_CHANGED,
    """
    CREATE TABLE foretold (
        id INTEGER PRIMARY KEY,
        made_on TEXT NOT NULL,
        about TEXT NOT NULL,
        whose TEXT NOT NULL,
        day TEXT NOT NULL,
        p10 REAL,
        p50 REAL,
        p90 REAL,
        mean REAL,
        least REAL,
        chance REAL
    )
    """,
    """
    CREATE TRIGGER what_was_foretold_is_never_changed BEFORE UPDATE ON foretold
    BEGIN SELECT RAISE(ABORT, 'what was foretold is never changed'); END
    """,
    """
    CREATE TRIGGER what_was_foretold_is_never_deleted BEFORE DELETE ON foretold
    BEGIN SELECT RAISE(ABORT, 'what was foretold is never deleted'); END
    """,
    foretell_from_kept_plans,
    pack_kept_documents,
)

# What was paid for a sale, what of a pick is no first grade, and who picked.
_VERSION_3: tuple[Step, ...] = (
    "ALTER TABLE events ADD COLUMN paid REAL CHECK (paid >= 0)",
    "ALTER TABLE events ADD COLUMN second_kg REAL CHECK (second_kg >= 0)",
    "ALTER TABLE events ADD COLUMN lost_kg REAL CHECK (lost_kg >= 0)",
    "ALTER TABLE events ADD COLUMN cause TEXT",
    'ALTER TABLE events ADD COLUMN "by" TEXT',
)

MIGRATIONS: tuple[tuple[Step, ...], ...] = (_VERSION_1, _VERSION_2, _VERSION_3)
"""Steps that lead from each schema version to the next; version 0 is an empty file."""

VERSION = len(MIGRATIONS)
"""Schema version of this program."""

FORETOLD_SINCE = 2
"""Schema version that first kept what was foretold."""

_SINCE = {"paid": 3, "second_kg": 3, "lost_kg": 3, "cause": 3, "by": 3}
"""Fields that earlier versions had no column for, with the version that first did."""

_TEXTS = frozenset(field.name for field in fields(Event) if field.default == "")

_QUOTED = ", ".join(f'"{name}"' for name in FIELDS)
INSERT_EVENT = f"INSERT INTO events ({_QUOTED}) VALUES ({', '.join('?' * len(FIELDS))})"


def select_events(version: int, after: int = 0) -> str:
    """Return the statement that reads the entries of a diary of some version, in their order.

    What the version has no column for is read as nothing, as is a text that is not there; entries
    up to number `after` are left out.
    """
    columns = [f'"{name}"' if _SINCE.get(name, 0) <= version else "NULL" for name in FIELDS]
    columns = [
        f"ifnull({column}, '')" if name in _TEXTS else column
        for name, column in zip(FIELDS, columns, strict=True)
    ]
    return f"SELECT {', '.join(columns)} FROM events WHERE id > {after} ORDER BY id"


def schema_version(connection: sqlite3.Connection) -> int:
    """Return the schema version of an open database, 0 when it is empty.

    Raises InputError if it is another program's database or a later version's diary.
    """
    version: int = connection.execute("PRAGMA user_version").fetchone()[0]
    application: int = connection.execute("PRAGMA application_id").fetchone()[0]
    if application != APPLICATION_ID:
        tables = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
        if version or application or tables:
            raise InputError(
                "it is a database of another program, not a diary. Move it elsewhere or "
                "choose another yard folder"
            )
    if version > VERSION:
        raise InputError(
            f"it was written by a later version of fruitcast (schema {version}, this one knows "
            f"{VERSION}). Install the later version"
        )
    return version


def migrate(connection: sqlite3.Connection, back_up: Callable[[], None] | None = None) -> None:
    """Bring an open database, outside a transaction, to the present schema, wholly or not at all.

    `back_up` is called before tables that hold anything are changed; no other writer can come
    between.
    """
    if schema_version(connection) == VERSION:
        return
    # Tables are made anew under other names meanwhile: what refers to them is checked at the end.
    connection.execute("PRAGMA foreign_keys = OFF")
    connection.execute("BEGIN IMMEDIATE")
    try:
        # Another writer may have done it while this one waited for the lock.
        version = schema_version(connection)
        if 0 < version < VERSION and back_up is not None:
            back_up()
        for step in (step for steps in MIGRATIONS[version:] for step in steps):
            if callable(step):
                step(connection)
            else:
                connection.execute(step)
        if connection.execute("PRAGMA foreign_key_check").fetchone():
            raise sqlite3.DatabaseError("an undo cancels an entry that is not there")
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {VERSION}")
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise
    finally:
        connection.execute("PRAGMA foreign_keys = ON")


def row_of(event: Event) -> tuple[object, ...]:
    """Return an entry as a row of the table."""
    return tuple(_stored(getattr(event, name)) for name in FIELDS)


def _stored(value: object) -> object:
    """Return a field as the table has it: days in ISO, findings in one text, no empty text."""
    if isinstance(value, date):
        return value.isoformat()
    text = ";".join(value) if isinstance(value, tuple) else value
    return None if text == "" else text


def events_of(rows: Iterable[tuple]) -> tuple[Event, ...]:
    """Return the entries of rows as `select_events` reads them."""
    found = []
    for row in rows:
        values = list(row)
        values[_ON] = date.fromisoformat(row[_ON])
        values[_PICKED_ON] = date.fromisoformat(row[_PICKED_ON]) if row[_PICKED_ON] else None
        values[_FINDINGS] = tuple(row[_FINDINGS].split(";")) if row[_FINDINGS] else ()
        values[_RECORDED_AT] = datetime.fromisoformat(row[_RECORDED_AT])
        found.append(Event(*values))
    return tuple(found)


_ON, _PICKED_ON, _FINDINGS, _RECORDED_AT = map(
    FIELDS.index, ("on", "picked_on", "findings", "recorded_at")
)
"""Columns that hold no plain text or number."""
