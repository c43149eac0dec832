"""A small disk in memory that can be filled and made read-only."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest


@dataclass(frozen=True)
class SmallDisk:
    """A mounted disk."""

    folder: Path

    def fill(self, free: int = 0) -> None:
        """Leave so many bytes free, to the page."""
        self.empty()
        size = shutil.disk_usage(self.folder).free - free
        with (self.folder / "filling").open("wb") as stream:
            stream.write(bytes(max(size, 0)))

    def empty(self) -> None:
        """Take the filling away again."""
        (self.folder / "filling").unlink(missing_ok=True)

    def lock(self) -> None:
        """Make it read-only, for the administrator too."""
        subprocess.run(["mount", "-o", "remount,ro", self.folder], check=True)

    def unlock(self) -> None:
        """Make it writable again."""
        subprocess.run(["mount", "-o", "remount,rw", self.folder], check=True)


@contextmanager
def mounted(folder: Path, size: str) -> Iterator[SmallDisk]:
    """Mount a disk, or skip the test where that is not allowed."""
    folder.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", folder]
    try:
        subprocess.run(command, check=True, capture_output=True)
    except (OSError, subprocess.CalledProcessError):
        pytest.skip("a disk can be mounted by the administrator of a Linux machine only")
    try:
        yield SmallDisk(folder)
    finally:
        subprocess.run(["umount", "-l", folder], check=True)
