"""The diary: an append-only book of entries in one SQLite file.

Each call is one transaction: once it returns, what it wrote survives a crash of the
program or of the machine; if it raises, nothing was written. Several programs may write
at the same time. A yard whose diary does not exist yet reads as an empty one, and reading
makes no file.
"""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from types import TracebackType
from uuid import uuid4

from fruitcast.errors import Fault, FaultsError, InputError
from fruitcast.yard.diary_backup import RESTORE_HINT, back_up, backups
from fruitcast.yard.diary_schema import (
    INSERT_EVENT,
    SELECT_EVENTS,
    events_of,
    migrate,
    row_of,
    schema_version,
)
from fruitcast.yard.events import Event, faults_of, whole_seconds_utc

BUSY_SECONDS = 20.0
"""How long a writer waits for the others. [s]"""

DOCUMENTS_KEPT = 60
"""Published documents kept of each kind, the newest."""

_BUSY = (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)
_DAMAGED = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)


class Diary:
    """One yard's diary, for use in a `with` block.

    Parameters
    ----------
    path : Path
        The database; made at the first entry.
    """

    def __init__(self, path: Path) -> None:
        self.path = Path(path)
        self._open: sqlite3.Connection | None = None

    def __enter__(self) -> Diary:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the file; it opens again when needed."""
        if self._open is not None:
            self._open.close()
            self._open = None

    def events(self) -> tuple[Event, ...]:
        """Return all entries in the order in which they were written."""
        with self._explained():
            connection = self._reader()
            return events_of(connection.execute(SELECT_EVENTS)) if connection else ()

    def last_entry(self) -> int:
        """Return the number of the last entry, 0 when there is none: it grows with each."""
        with self._explained():
            connection = self._reader()
            if connection is None:
                return 0
            return int(connection.execute("SELECT ifnull(max(id), 0) FROM events").fetchone()[0])

    def add(self, events: Sequence[Event], recorded_at: datetime) -> tuple[Event, ...]:
        """Write entries, all or none, and return them as written.

        An entry that brings its own uuid or moment of recording keeps them.

        Parameters
        ----------
        events : sequence of Event
            In the order in which they are to stand.
        recorded_at : datetime
            Now, with its time zone.

        Raises
        ------
        InputError
            If an entry is unfit, is already in the diary, or cancels one that is not there;
            if the file is damaged, full, read-only or in use for too long.
        """
        moment = whole_seconds_utc(recorded_at)
        complete = tuple(
            replace(
                event,
                uuid=event.uuid or str(uuid4()),
                recorded_at=whole_seconds_utc(event.recorded_at or moment),
            )
            for event in events
        )
        faults = [
            Fault(f"{self.path.name} entry {number} ({event.kind})", fault, "Nothing was recorded")
            for number, event in enumerate(complete, start=1)
            for fault in faults_of(event)
        ]
        if faults:
            raise FaultsError(faults)
        with self._transaction(moment.date()) as connection:
            self._refuse_known(connection, complete)
            connection.executemany(INSERT_EVENT, [row_of(event) for event in complete])
        return complete

    def save_document(self, kind: str, made_on: date, text: str) -> None:
        """Keep a document (a published plan, the state of the calendar).

        One document of a kind is kept for each day, the last one; the oldest are dropped.
        """
        with self._transaction(made_on) as connection:
            row = (kind, made_on.isoformat())
            connection.execute("DELETE FROM documents WHERE kind = ? AND made_on = ?", row)
            connection.execute(
                "INSERT INTO documents (kind, made_on, text) VALUES (?, ?, ?)", (*row, text)
            )
            connection.execute(
                "DELETE FROM documents WHERE kind = ? AND id NOT IN "
                "(SELECT id FROM documents WHERE kind = ? ORDER BY id DESC LIMIT ?)",
                (kind, kind, DOCUMENTS_KEPT),
            )

    def latest_document(self, kind: str, as_of: date | None = None) -> str | None:
        """Return the text of the document of a kind saved last.

        Parameters
        ----------
        kind : str
            'plan', 'calendar', ...
        as_of : date or None
            Leave out what was made after this day.
        """
        with self._explained():
            connection = self._reader()
            if connection is None:
                return None
            row = connection.execute(
                "SELECT text FROM documents WHERE kind = ? AND made_on <= ? "
                "ORDER BY id DESC LIMIT 1",
                (kind, (as_of or date.max).isoformat()),
            ).fetchone()
            return row[0] if row else None

    def check(self) -> None:
        """Let the database check itself.

        Raises
        ------
        InputError
            If it is damaged.
        """
        with self._explained():
            connection = self._reader()
            if connection is not None:
                verdict = connection.execute("PRAGMA integrity_check(1)").fetchone()[0]
                if verdict != "ok":
                    raise sqlite3.DatabaseError(verdict)
                events_of(connection.execute(SELECT_EVENTS))

    def _reader(self) -> sqlite3.Connection | None:
        """Return a connection for reading, None while there is no diary."""
        if self._open is None:
            if not self.path.exists():
                if backups(self.path):
                    raise InputError(f"it is missing, but a backup is there. {self._remedy()}")
                return None
            self._open = self._connect()
        if schema_version(self._open) == 0:
            # Not even begun: a writer was stopped before its first entry, unless there
            # are backups, which are only ever made of a diary with its tables.
            if backups(self.path):
                raise sqlite3.DatabaseError("the file is empty")
            return None
        migrate(self._open)
        return self._open

    def _connect(self) -> sqlite3.Connection:
        options = ""
        if not os.access(self.path.parent, os.W_OK) and self.path.exists():
            # A copy on a read-only disk: no side files can be made there, nor is anyone writing.
            log = self.path.with_name(self.path.name + "-wal")
            options = "?mode=ro" if log.exists() else "?immutable=1"
        connection = sqlite3.connect(
            self.path.absolute().as_uri() + options,
            uri=True,
            timeout=BUSY_SECONDS,
            isolation_level=None,
        )
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA synchronous = FULL")
        return connection

    @contextmanager
    def _transaction(self, day: date) -> Iterator[sqlite3.Connection]:
        """Open for writing, back up before a day's first write, commit or roll back."""
        with self._explained():
            if self._reader() is None:
                if self._open is None:
                    self._open = self._connect()
                _use_write_ahead_log(self._open)
                migrate(self._open)
            else:
                assert self._open is not None
                back_up(self._open, self.path, day)
            connection = self._open
            connection.execute("BEGIN IMMEDIATE")
            try:
                yield connection
                connection.execute("COMMIT")
            except BaseException:
                if connection.in_transaction:
                    connection.execute("ROLLBACK")
                raise

    def _refuse_known(self, connection: sqlite3.Connection, events: Sequence[Event]) -> None:
        """Refuse entries already written and undo entries that cancel nothing."""
        seen: set[str] = set()
        for event in events:
            if event.uuid in seen or _is_written(connection, event.uuid):
                raise InputError(
                    f"the {event.kind} of {event.on} is already in the diary (uuid {event.uuid}). "
                    "Nothing was recorded"
                )
            if event.cancels and not (
                event.cancels in seen or _is_written(connection, event.cancels)
            ):
                raise InputError(
                    f"the undo of {event.on} cancels an entry that is not in the diary (uuid "
                    f"{event.cancels}). Nothing was recorded"
                )
            seen.add(event.uuid)

    def _remedy(self) -> str:
        files = backups(self.path)
        if not files:
            return "There is no backup beside it: import the last CSV export into a new diary"
        return f"The newest backup is {files[0].name}: {RESTORE_HINT}"

    @contextmanager
    def _explained(self) -> Iterator[None]:
        """Turn what the database or the disk reports into words with a remedy."""
        try:
            yield
        except FaultsError:
            raise
        except InputError as error:
            raise InputError(f"{self.path}: {error}.") from error
        except sqlite3.DatabaseError as error:
            words = " ".join(self._words_for(error).split())
            raise InputError(f"{self.path}: {words}.") from error
        except (ValueError, TypeError, IndexError) as error:
            # Tables in order, but a value in them is not: bytes changed on the disk.
            raise InputError(
                f"{self.path}: the diary is damaged ({error}). {self._remedy()}."
            ) from error

    def _words_for(self, error: sqlite3.DatabaseError) -> str:
        code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_CORRUPT) & 0xFF
        if code in _BUSY:
            return f"in use by another program for over {BUSY_SECONDS:g} s. Try again"
        if code == sqlite3.SQLITE_FULL:
            return "the disk is full. Make room; nothing was recorded"
        if code in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM):
            return f"cannot be written ({error}). Check the folder and its permissions"
        if code in _DAMAGED or "no such table" in str(error):
            return f"the diary is damaged ({error}). {self._remedy()}"
        return f"the database refused ({error}). Nothing was recorded"


def read_events(path: Path) -> tuple[Event, ...]:
    """Return all entries of a diary, none when it does not exist."""
    with Diary(path) as diary:
        return diary.events()


def _is_written(connection: sqlite3.Connection, uuid: str) -> bool:
    return bool(connection.execute("SELECT 1 FROM events WHERE uuid = ?", (uuid,)).fetchone())


def _use_write_ahead_log(connection: sqlite3.Connection) -> None:
    """Switch a new file to the write-ahead log.

    The switch does not wait for others as other statements do, so it is tried again.
    """
    deadline = time.monotonic() + BUSY_SECONDS
    while True:
        try:
            connection.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode & 0xFF not in _BUSY or time.monotonic() > deadline:
                raise
            time.sleep(0.01)
