"""A small yard, planned once, and a disk of its own to fill and to lock."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.cli.running import done, small_yard
from tests.faults.disks import SmallDisk, mounted

TODAY = "2027-05-03"
QUICK = ("--weeks", 6, "--no-bound")


@pytest.fixture(scope="session")
def planned_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small yard with a diary of two days and a published plan; for reading only."""
    folder = small_yard(tmp_path_factory.mktemp("faults") / "yard")
    for day, words in (("2027-05-01", "pins C"), (TODAY, "water A")):
        kind, stack = words.split()
        done("--yard", folder, "--today", day, "record", kind, stack, "--yes")
    done("--yard", folder, "--today", TODAY, "plan", *QUICK)
    return folder


@pytest.fixture
def planned(planned_once: Path, tmp_path: Path) -> Path:
    """A copy of the planned yard, to be broken."""
    folder = tmp_path / "yard"
    shutil.copytree(planned_once, folder)
    return folder


@pytest.fixture
def disk(tmp_path: Path):
    """A disk of four megabytes; skipped where none may be mounted."""
    with mounted(tmp_path / "disk", "4m") as small:
        yield small


@pytest.fixture
def on_disk(disk: SmallDisk, planned_once: Path) -> Path:
    """The planned yard on that disk."""
    folder = disk.folder / "yard"
    shutil.copytree(planned_once, folder)
    return folder


@pytest.fixture(autouse=True)
def _nowhere(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Let no yard of the machine be found by chance."""
    monkeypatch.delenv("FRUITCAST_YARD", raising=False)
    (tmp_path / "nowhere").mkdir()
    monkeypatch.chdir(tmp_path / "nowhere")
