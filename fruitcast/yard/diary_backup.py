"""Daily copies of the diary, and putting one back after damage."""

from __future__ import annotations

import os
import shutil
import sqlite3
from contextlib import closing
from datetime import date
from pathlib import Path
from threading import get_ident

from fruitcast.errors import InputError

KEPT = 7
"""Daily backups kept beside the diary."""

RESTORE_HINT = "'fruitcast diary restore' puts it in the diary's place"


def backup_file(diary: Path, day: date) -> Path:
    """Return the name of the backup made before the first entry of a day."""
    return diary.with_name(f"{diary.stem}.backup-{day.isoformat()}{diary.suffix}")


def backups(diary: Path) -> tuple[Path, ...]:
    """Return the diary's backups, the newest first."""
    found = diary.parent.glob(f"{diary.stem}.backup-????-??-??{diary.suffix}")
    return tuple(sorted(found, key=lambda file: (file.stat().st_mtime_ns, file.name), reverse=True))


def back_up(connection: sqlite3.Connection, diary: Path, day: date) -> None:
    """Copy an open diary to the backup of a day, unless that day has one.

    The copy appears under its name only when it is whole. A diary found damaged is not
    copied, so that the good backups stay.

    Raises
    ------
    sqlite3.DatabaseError
        If the diary is damaged.
    """
    target = backup_file(diary, day)
    if target.exists():
        return
    verdict = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
    if verdict != "ok":
        raise sqlite3.DatabaseError(verdict)
    # Writers at the same moment, in one process or several, each make a copy of their own.
    unfinished = target.with_name(f"{target.name}.{os.getpid()}-{get_ident()}.part")
    try:
        with closing(sqlite3.connect(unfinished)) as copy:
            connection.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")
        unfinished.replace(target)
    finally:
        unfinished.unlink(missing_ok=True)
    for old in backups(diary)[KEPT:]:
        old.unlink(missing_ok=True)
    for part in diary.parent.glob(f"{diary.stem}.backup-*.part*"):
        if not part.name.startswith(target.name):  # left by a writer stopped on another day
            part.unlink(missing_ok=True)


def restore_backup(diary: Path, backup: Path | None = None) -> tuple[Path, Path | None]:
    """Put a backup in the diary's place; the diary as it was is set aside, not deleted.

    Parameters
    ----------
    diary : Path
        The diary's file, present or not.
    backup : Path or None
        Which backup; None is the newest whole one.

    Returns
    -------
    backup, set_aside : Path, Path or None
        The backup used, and where the former file went if there was one.

    Raises
    ------
    InputError
        If there is no backup or it is damaged itself.
    """
    candidates = (backup,) if backup else backups(diary)
    whole = next((file for file in candidates if _is_whole(file)), None)
    if whole is None:
        named = ", ".join(file.name for file in candidates) or "none"
        raise InputError(
            f"{diary}: no usable backup beside it (found: {named}). Import the last CSV export of "
            "the diary instead"
        )
    unfinished = diary.with_name(f"{diary.name}.{os.getpid()}.part")
    shutil.copyfile(whole, unfinished)
    set_aside = _set_aside(diary)
    unfinished.replace(diary)
    return whole, set_aside


def _is_whole(file: Path) -> bool:
    """Say whether a backup opens and passes the database's own check."""
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
