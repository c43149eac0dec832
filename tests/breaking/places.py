"""Where the files that are read stand while they are read."""

from __future__ import annotations

import atexit
from functools import cache
from pathlib import Path
from shutil import rmtree
from tempfile import mkdtemp

from tests.breaking.watching import unwatched


@cache
def folder() -> Path:
    """Return a folder for the files that are read, in memory where the system has such."""
    memory = Path("/dev/shm")
    found = Path(mkdtemp(prefix="breaking-", dir=memory if memory.is_dir() else None))
    atexit.register(rmtree, found, ignore_errors=True)
    return found


def placed(name: str, data: bytes) -> Path:
    """Return the path of a file with these bytes."""
    with unwatched():
        path = folder() / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(data)
    return path
