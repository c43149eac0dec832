"""A small yard, planned once, and a disk of its own to fill and to lock."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.cli.running import done
from tests.faults.disks import SmallDisk, mounted
from tests.faults.nursery import RECORDING, Nursery
from tests.yards import made_once, quick_search, write_yard

TODAY = "2027-05-03"
QUICK = ("--weeks", 6, "--no-bound")


@pytest.fixture(scope="session")
def planned_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A yard of three stacks with a diary of two days and a published plan; for reading only."""

    def make(folder: Path) -> None:
        write_yard(folder, "ACH", 5, diary=False)
        for day, words in (("2027-05-01", "pins C"), (TODAY, "water A")):
            kind, stack = words.split()
            done("--yard", folder, "--today", day, "record", kind, stack, "--yes")
        with quick_search():
            done("--yard", folder, "--today", TODAY, "plan", *QUICK)

    return made_once("faults", make, tmp_path_factory.mktemp("faults") / "yard")


@pytest.fixture
def planned(planned_once: Path, tmp_path: Path) -> Path:
    """A copy of the planned yard, to be broken."""
    folder = tmp_path / "yard"
    shutil.copytree(planned_once, folder)
    return folder


@pytest.fixture(scope="session")
def nursery(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Nursery]:
    """One process with everything loaded, whose children are killed."""
    with Nursery(tmp_path_factory.mktemp("children"), 11) as one:
        yield one


@pytest.fixture(scope="session")
def other_nursery(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Nursery]:
    """Another, for what happens at the same time."""
    with Nursery(tmp_path_factory.mktemp("others"), 2, RECORDING) as other:
        yield other


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


@pytest.fixture(scope="module", autouse=True)
def _short_searches() -> Iterator[None]:
    with quick_search():
        yield
