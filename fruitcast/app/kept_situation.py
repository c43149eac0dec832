"""The yard as it stands, for many readers: read again only when one of its files has changed."""

from __future__ import annotations

import time
from dataclasses import dataclass
from pathlib import Path

from fruitcast.app.serving import Clock, Situation, situation
from fruitcast.yard import keys, stacks
from fruitcast.yard.model import Yard

SETTLED_SECONDS = 2.0
"""How long all files must have been left alone before what was read of them is kept: two changes
within one tick of a file system's clock leave the same time on a file. [s]"""

Stamp = tuple[int, int, int, int] | None
"""What differs once a file has changed: its number, its size, when it was written, when it came
by its name [ns]. None while there is no such file."""


@dataclass(frozen=True)
class _Kept:
    files: tuple[Path, ...]
    stamps: tuple[Stamp, ...]
    situation: Situation


class KeptSituation:
    """The situation of one yard.

    Parameters
    ----------
    folder : Path
        The yard's folder.
    clock : Clock
        What time it is.
    """

    def __init__(self, folder: Path, clock: Clock) -> None:
        self._folder, self._clock = folder, clock
        self._files: tuple[Path, ...] = ()
        self._kept: _Kept | None = None

    def now(self) -> Situation:
        """Return the yard as it stands; nobody may change what is in it.

        Raises
        ------
        InputError
            If the yard or its diary cannot be read.
        """
        kept = self._kept
        if kept is not None and self._holds(kept):
            return kept.situation
        files, began = self._files, time.time()
        stamps = tuple(map(_stamp, files))
        found = situation(self._folder, self._clock)
        self._files = _files_of(found.yard)
        unchanged = files == self._files and stamps == tuple(map(_stamp, files))
        settled = unchanged and all(_written(stamp) < began - SETTLED_SECONDS for stamp in stamps)
        self._kept = _Kept(files, stamps, found) if settled else None
        return found

    def _holds(self, kept: _Kept) -> bool:
        if self._clock.today(kept.situation.yard) != kept.situation.today:
            return False
        return tuple(map(_stamp, kept.files)) == kept.stamps


def _files_of(yard: Yard) -> tuple[Path, ...]:
    """Return the files that the situation is read from; the diary's log holds its last entries."""
    diary = yard.diary_file
    weather = (yard.weather.file,) if yard.weather.file is not None else ()
    own = (yard.folder / keys.FILE, yard.folder / stacks.FILE, diary)
    return (*own, diary.with_name(f"{diary.name}-wal"), *weather)


def _stamp(file: Path) -> Stamp:
    try:
        told = file.stat()
    except OSError:
        return None
    return told.st_ino, told.st_size, told.st_mtime_ns, told.st_ctime_ns


def _written(stamp: Stamp) -> float:
    """Return when a file was last written or came by its name. [s]"""
    return max(stamp[2:]) / 1e9 if stamp else 0.0
