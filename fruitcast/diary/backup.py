"""Daily copies of the diary, and what can be had back after damage."""

from __future__ import annotations

import os
import shutil
import sqlite3
import time
from collections.abc import Iterator, Sequence
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from threading import get_ident

from fruitcast.atomic import ABANDONED
from fruitcast.diary.database import (
    INSERT_EVENT,
    VERSION,
    events_of,
    migrate,
    row_of,
    schema_version,
    select_events,
)
from fruitcast.diary.entry_faults import faults_of_any_kind
from fruitcast.diary.kept_plan import INSERT_DOCUMENT
from fruitcast.errors import InputError, OutputError

# What can still be read from a damaged diary, added to its newest backup.


def rescue(damaged: Path, copy: Path) -> int:
    """Add what is younger than a copy and can still be read from a damaged diary to the copy.

    Entries are added in their order up to the first that cannot be read or is unfit: what follows
    it may rest on it. Younger documents (the plan and the calendar that are on phones) come too,
    and what was foretold, as far as they can be read. Returns how many entries.
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
                new.execute(INSERT_EVENT, row_of(event))
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


# Daily copies of the diary, and putting one back after damage.

KEPT = 7
"""Daily backups kept beside the diary."""

OWNER_ONLY = 0o600
"""Who may read a diary and its backups: they hold what was sold, and to whom."""

_ONLY_THE_NEWEST = (
    "DELETE FROM documents WHERE id NOT IN (SELECT max(id) FROM documents GROUP BY kind)"
)

RESTORE_HINT = "'fruitcast diary restore' puts it in the diary's place"


def backup_file(diary: Path, day: date) -> Path:
    """Return the name of the backup made before the first entry of a day."""
    return diary.with_name(f"{diary.stem}.backup-{day.isoformat()}{diary.suffix}")


def backups(diary: Path) -> tuple[Path, ...]:
    """Return the diary's backups, the newest first."""
    found = []
    for file in diary.parent.glob(f"{diary.stem}.backup-????-??-??{diary.suffix}"):
        with suppress(FileNotFoundError):  # another writer has just cleared it away
            found.append((file.stat().st_mtime_ns, file.name, file))
    return tuple(file for *_, file in sorted(found, reverse=True))


def back_up(connection: sqlite3.Connection, diary: Path, day: date, *, anew: bool = False) -> None:
    """Copy an open diary to the backup of a day, unless that day has one and none is asked for.

    Of the published documents it holds the newest of each kind: no other is ever needed again. One
    that is asked for is a copy of all. It appears under its name only when it is whole. A diary
    found damaged is not copied, so that the good backups stay. Raises sqlite3.DatabaseError if the
    diary is damaged.
    """
    target = backup_file(diary, day)
    before = backups(diary)
    if target in before and (target == before[0] or not _is_ahead(connection, day)) and not anew:
        return
    verdict = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
    if verdict != "ok":
        raise sqlite3.DatabaseError(verdict)
    if not anew:
        _give_back_room(connection)
    # Writers at the same moment, in one process or several, each make a copy of their own.
    unfinished = target.with_name(f"{target.name}.{os.getpid()}-{get_ident()}.part")
    try:
        unfinished.touch(OWNER_ONLY)
        with closing(sqlite3.connect(unfinished)) as copy:
            connection.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")
            if not anew:
                copy.execute(_ONLY_THE_NEWEST)
                copy.commit()
            copy.execute("VACUUM")
        _date_after(unfinished, before)
        unfinished.replace(target)
    finally:
        unfinished.unlink(missing_ok=True)
    for old in backups(diary)[KEPT:]:
        old.unlink(missing_ok=True)
    for part in diary.parent.glob(f"{diary.stem}.backup-*.part*"):
        with suppress(OSError):  # left by a writer that was stopped
            if time.time() - part.stat().st_mtime > ABANDONED:
                part.unlink()


def _give_back_room(connection: sqlite3.Connection) -> None:
    """Shrink a diary of which more than half is room that dropped documents left."""
    free = connection.execute("PRAGMA freelist_count").fetchone()[0]
    if 2 * free > connection.execute("PRAGMA page_count").fetchone()[0]:
        with suppress(sqlite3.OperationalError):  # another writer, a full disk: another day
            connection.execute("VACUUM")


def _is_ahead(connection: sqlite3.Connection, day: date) -> bool:
    """Say whether the diary was written to well after a day: its clock has been set back."""
    last = connection.execute("SELECT max(recorded_at) FROM events").fetchone()[0]
    return last is not None and last[:10] > (day + timedelta(days=1)).isoformat()


def _date_after(file: Path, others: Sequence[Path]) -> None:
    """Let a file be newer than others, whatever the clock says: they are kept by their age."""
    newest = max((other.stat().st_mtime_ns for other in others), default=0)
    status = file.stat()
    if status.st_mtime_ns <= newest:
        os.utime(file, ns=(status.st_atime_ns, newest + 1000))


@dataclass(frozen=True)
class Restored:
    """A diary put back."""

    backup: Path
    set_aside: Path | None  # where the former file went, if there was one
    rescued: int  # entries younger than the backup that could still be read from the former file


def restore_backup(diary: Path, backup: Path | None = None) -> Restored:
    """Put a backup in the diary's place; the diary as it was is set aside, not deleted.

    Without one named it is the newest whole one, to which the younger entries and documents that
    can still be read from the diary as it was are added. Raises InputError if there is no backup
    or it is damaged itself; OutputError if the disk is full or may not be written to; then all is
    as it was.
    """
    candidates = (backup,) if backup else backups(diary)
    whole = next((file for file in candidates if is_whole(file)), None)
    if whole is None:
        named = ", ".join(file.name for file in candidates) or "none"
        raise InputError(
            f"{diary}: no usable backup beside it (found: {named}). Import the last CSV export of "
            "the diary instead"
        )
    unfinished = diary.with_name(f"{diary.name}.{os.getpid()}.part")
    try:
        unfinished.touch(OWNER_ONLY)
        shutil.copyfile(whole, unfinished)
        rescued = 0 if backup else rescue(diary, unfinished)
        set_aside = _set_aside(diary)
        unfinished.replace(diary)
    except (OSError, sqlite3.Error) as error:
        cause = getattr(error, "strerror", None) or error
        raise OutputError(
            f"{diary}: the backup {whole.name} cannot be put in its place ({cause}). Check the "
            "folder, its permissions and the free space; nothing was changed."
        ) from error
    finally:
        with suppress(OSError):
            unfinished.unlink()
    return Restored(whole, set_aside, rescued)


def is_whole(file: Path) -> bool:
    """Say whether a diary or a backup opens and passes the database's own check."""
    try:
        with closing(sqlite3.connect(f"{file.as_uri()}?mode=ro", uri=True)) as connection:
            answer = connection.execute("PRAGMA integrity_check(1)").fetchone()
            connection.execute("SELECT count(*) FROM events")
    except (sqlite3.Error, OSError):
        return False
    return bool(answer[0] == "ok")


def _set_aside(diary: Path) -> Path | None:
    """Move the diary and its side files out of the way; return its new name."""
    if not diary.exists():
        return None
    number = 1
    while (target := diary.with_name(f"{diary.stem}.set-aside-{number}{diary.suffix}")).exists():
        number += 1
    # The side files first: a leftover log must never be applied to the restored file.
    for suffix in ("-wal", "-shm"):
        side = diary.with_name(diary.name + suffix)
        if side.exists():
            side.replace(target.with_name(target.name + suffix))
    diary.replace(target)
    return target
