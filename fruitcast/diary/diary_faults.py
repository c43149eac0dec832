"""What goes wrong with the diary's file, in words with a remedy."""

from __future__ import annotations

import errno
import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from fruitcast.diary.backup import RESTORE_HINT, backups
from fruitcast.errors import FaultsError, InputError

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
