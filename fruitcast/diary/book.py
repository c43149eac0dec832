"""The diary: an append-only book of entries in one SQLite file.

Each call is one transaction: once it returns, what it wrote survives a crash of the
program or of the machine; if it raises, nothing was written. Several programs may write
at the same time. A yard whose diary does not exist yet reads as an empty one, and reading
makes no file. A diary of an earlier version is read as it is and brought to the present
one before the first entry that is added.
"""

from __future__ import annotations

import errno
import os
import shutil
import sqlite3
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager, suppress
from contextvars import ContextVar
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from uuid import uuid4

from fruitcast.diary.backup import OWNER_ONLY, RESTORE_HINT, back_up, backups
from fruitcast.diary.database import (
    FORETOLD_SINCE,
    INSERT_EVENT,
    events_of,
    migrate,
    row_of,
    schema_version,
    select_events,
)
from fruitcast.diary.entry_faults import faults_of
from fruitcast.diary.events import Event, whole_seconds_utc
from fruitcast.diary.kept_plan import (
    PLAN,
    Foretold,
    all_foretold,
    foretell,
    keep_document,
    unpacked,
)
from fruitcast.errors import Fault, FaultsError, InputError

# What goes wrong with the diary's file, in words with a remedy.

BUSY_SECONDS = 20.0
"""How long a writer waits for the others. [s]"""

LEAST_ROOM = 2**20
"""A disk with less room than this counts as full: the database writes beside itself. [byte]"""

BUSY = (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)
"""What the database answers while another program writes."""

_DAMAGED = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)
_FORBIDDEN = (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM)


@contextmanager
def explained(path: Path) -> Iterator[None]:
    """Turn what the database or the disk reports of a diary into words with a remedy."""
    try:
        yield
    except FaultsError:
        raise
    except InputError as error:
        raise InputError(f"{path}: {error}.") from error
    except sqlite3.DatabaseError as error:
        words = " ".join(_words_for(path, error).split())
        raise InputError(f"{path}: {words}.") from error
    except OSError as error:
        words = disk_words(path, error.strerror or str(error))
        if error.errno in (errno.EROFS, errno.EACCES, errno.EPERM):
            words = f"cannot be written ({error.strerror}). Check the folder and its permissions"
        raise InputError(f"{path}: {words}.") from error
    except (ValueError, TypeError, IndexError) as error:
        # Tables in order, but a value in them is not: bytes changed on the disk.
        raise InputError(f"{path}: the diary is damaged ({error}). {remedy(path)}.") from error


def remedy(path: Path) -> str:
    """Return what to do about a diary that is damaged or gone."""
    files = backups(path)
    if not files:
        return "There is no backup beside it: import the last CSV export into a new diary"
    return f"The newest backup is {files[0].name}: {RESTORE_HINT}"


def disk_words(path: Path, cause: str) -> str:
    """Return what a disk that fails means; a full one is not always reported as that."""
    try:
        full = shutil.disk_usage(path.parent).free < LEAST_ROOM
    except OSError:
        full = False
    if full or "full" in cause or "space" in cause:
        return "the disk is full. Make room, then do it again; nothing was recorded"
    return (
        f"the disk could not be read or written ({cause}). Check that it is there and sound; "
        "nothing was recorded"
    )


def _words_for(path: Path, error: sqlite3.DatabaseError) -> str:
    code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_CORRUPT) & 0xFF
    if code in BUSY:
        return f"in use by another program for over {BUSY_SECONDS:g} s. Try again"
    # A full disk is read in a way in which nothing can be written.
    crowded = code == sqlite3.SQLITE_READONLY and os.access(path, os.W_OK)
    if crowded or code in (sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR):
        return disk_words(path, str(error))
    if code in _FORBIDDEN:
        return f"cannot be written ({error}). Check the folder and its permissions"
    if code in _DAMAGED or "no such table" in str(error):
        return f"the diary is damaged ({error}). {remedy(path)}"
    return f"the database refused ({error}). Nothing was recorded"


_NO_ROOM = (sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN)


class Diary:
    """One yard's diary, for use in a `with` block; its file is made at the first entry."""

    def __init__(self, path: Path) -> None:
        self.path = Path(path)
        self._open: sqlite3.Connection | None = None
        self._held = False

    def __enter__(self) -> Diary:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file; it opens again when needed."""
        if self._open is not None:
            self._open.close()
            self._open = None

    def events(self) -> tuple[Event, ...]:
        """Return all entries in the order in which they were written."""
        with explained(self.path):
            connection = self._reader()
            return _all_events(connection) if connection else ()

    def last_entry(self) -> int:
        """Return the number of the last entry, 0 when there is none: it grows with each."""
        with explained(self.path):
            connection = self._reader()
            if connection is None:
                return 0
            return int(connection.execute("SELECT ifnull(max(id), 0) FROM events").fetchone()[0])

    def add(self, events: Sequence[Event], recorded_at: datetime) -> tuple[Event, ...]:
        """Write entries, all or none, in their order, and return them as written.

        An entry that brings its own uuid or moment of recording keeps them, `recorded_at` is now,
        with its time zone. Raises InputError if an entry is unfit, is already in the diary, or
        cancels one that is not there; if the file is damaged, full, read-only or in use for too
        long.
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

        One document of a kind is kept for each day, the last one; older ones make room, see
        `kept_plan`. What a plan foretells is written down for good.
        """
        self.save_documents(made_on, {kind: text})

    def save_documents(self, made_on: date, texts: Mapping[str, str]) -> None:
        """Keep documents that belong together, by kind; all or none, see `save_document`."""
        with self._transaction(made_on) as connection:
            for kind, text in texts.items():
                if kind == PLAN:
                    foretell(connection, made_on, text)
                keep_document(connection, kind, made_on, text)

    @contextmanager
    def held(self, day: date) -> Iterator[Callable[[], None]]:
        """Keep every other writer out while the block runs; the day, today, names the backup.

        What the block writes here stands when it calls what it was given, or else when it ends,
        and is undone if it fails before.
        """
        with explained(self.path):
            connection = self._begin(day)

        def commit() -> None:
            with explained(self.path):
                connection.execute("COMMIT")
            self._held = False

        self._held = True
        try:
            yield commit
            if self._held:
                commit()
        finally:
            self._held = False
            if connection.in_transaction:
                connection.execute("ROLLBACK")

    def latest_document(self, kind: str, as_of: date | None = None) -> str | None:
        """Return the text of the document of a kind saved last, None when there is none.

        What was made after `as_of` is left out.
        """
        return next(self.documents(kind, as_of), None)

    def documents(self, kind: str, as_of: date | None = None) -> Iterator[str]:
        """Yield the texts of the documents of a kind, the one saved last first."""
        with explained(self.path):
            connection = self._reader()
            if connection is None:
                return
            for row in connection.execute(
                "SELECT text FROM documents WHERE kind = ? AND made_on <= ? ORDER BY id DESC",
                (kind, (as_of or date.max).isoformat()),
            ):
                yield unpacked(row[0])

    def foretold(self) -> tuple[tuple[date, Foretold], ...]:
        """Return all that plans have foretold, each with the day of its plan, the oldest first."""
        with explained(self.path):
            connection = self._reader()
            if connection is None or schema_version(connection) < FORETOLD_SINCE:
                return ()
            return all_foretold(connection)

    def last_written(self) -> date | None:
        """Return the day on which the diary was last written to by its own account (UTC)."""
        with explained(self.path):
            connection = self._reader()
            if connection is None:
                return None
            row = connection.execute(
                "SELECT max(day) FROM (SELECT max(recorded_at) AS day FROM events "
                "UNION SELECT max(made_on) FROM documents)"
            ).fetchone()
            return date.fromisoformat(row[0][:10]) if row[0] else None

    def check(self) -> None:
        """Let the database check itself.

        Raises InputError if it is damaged.
        """
        with explained(self.path):
            connection = self._reader()
            if connection is not None:
                verdict = connection.execute("PRAGMA integrity_check(1)").fetchone()[0]
                if verdict != "ok":
                    raise sqlite3.DatabaseError(verdict)
                _all_events(connection)

    def _reader(self) -> sqlite3.Connection | None:
        """Return a connection for reading, None while there is no diary."""
        together = _READ_TOGETHER.get()
        if self._open is None and together is not None and together.path == self.path:
            return together._own()
        return self._own()

    def _own(self) -> sqlite3.Connection | None:
        if self._open is None:
            if not self.path.exists():
                if backups(self.path):
                    raise InputError(f"it is missing, but a backup is there. {remedy(self.path)}")
                return None
            self._open = self._connect()
        if schema_version(self._open) == 0:
            # Not even begun: a writer was stopped before its first entry, unless there
            # are backups, which are only ever made of a diary with its tables. It is looked at
            # once more: others may have begun it, and even made a backup, since.
            if not backups(self.path):
                return None
            if schema_version(self._open) == 0:
                raise sqlite3.DatabaseError("the file is empty")
        return self._open

    def _connect(self, *, crowded: bool = False) -> sqlite3.Connection:
        """Open the file; `crowded` where the disk has no room for what stands beside it."""
        options = ""
        log = self.path.with_name(self.path.name + "-wal")
        if not self.path.exists():
            with suppress(OSError):  # the database says it better
                self.path.touch(OWNER_ONLY)
        elif crowded and not (log.exists() and log.stat().st_size):
            # All is in the file itself: it can be read without any file beside it.
            options = "?immutable=1"
        elif not os.access(self.path.parent, os.W_OK):
            # A copy on a read-only disk: no side files can be made there, nor is anyone writing.
            options = "?mode=ro" if log.exists() else "?immutable=1"
        connection = sqlite3.connect(
            self.path.absolute().as_uri() + options,
            uri=True,
            timeout=BUSY_SECONDS,
            isolation_level=None,
        )
        try:
            if crowded and not options:
                # Who has the database alone needs no index of its log beside it.
                connection.execute("PRAGMA locking_mode = EXCLUSIVE")
            connection.execute("PRAGMA foreign_keys = ON")
            connection.execute("PRAGMA synchronous = FULL")
        except sqlite3.OperationalError as error:
            connection.close()
            if crowded or error.sqlite_errorcode & 0xFF not in _NO_ROOM:
                raise
            return self._connect(crowded=True)
        return connection

    @contextmanager
    def _transaction(self, day: date) -> Iterator[sqlite3.Connection]:
        """Open for writing, commit or roll back; inside `held` that is left to it."""
        with explained(self.path):
            if self._held:
                assert self._open is not None
                yield self._open
                return
            connection = self._begin(day)
            try:
                yield connection
                connection.execute("COMMIT")
            except BaseException:
                if connection.in_transaction:
                    connection.execute("ROLLBACK")
                raise

    def _begin(self, day: date) -> sqlite3.Connection:
        """Open for writing, back up before a day's first write, and begin."""
        if self._own() is None:
            if self._open is None:
                self._open = self._connect()
            _use_write_ahead_log(self._open)
            migrate(self._open)
        else:
            assert self._open is not None
            back_up(self._open, self.path, day)
            migrate(self._open, lambda: self._back_up_as_it_stands(day))
        self._open.execute("BEGIN IMMEDIATE")
        return self._open

    def _back_up_as_it_stands(self, day: date) -> None:
        """Back up before the tables change, from beside the connection that holds the lock."""
        with closing(self._connect()) as beside:
            back_up(beside, self.path, day, anew=True)

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


_READ_TOGETHER: ContextVar[Diary | None] = ContextVar("diary read together", default=None)


@contextmanager
def read_together(path: Path) -> Iterator[None]:
    """Let all that the block reads of a diary come by one connection; what it writes does not.

    To open the file and close it again takes longer than most of what is read.
    """
    with Diary(path) as diary:
        token = _READ_TOGETHER.set(diary)
        try:
            yield
        finally:
            _READ_TOGETHER.reset(token)


def read_events(path: Path) -> tuple[Event, ...]:
    """Return all entries of a diary, none when it does not exist."""
    with Diary(path) as diary:
        return diary.events()


def _all_events(connection: sqlite3.Connection) -> tuple[Event, ...]:
    return events_of(connection.execute(select_events(schema_version(connection))))


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
            if error.sqlite_errorcode & 0xFF not in BUSY or time.monotonic() > deadline:
                raise
            time.sleep(0.01)
