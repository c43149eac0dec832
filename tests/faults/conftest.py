"""A small yard, planned once, and a disk of its own to fill and to lock."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
import typer

from tests.cli.running import done, small_yard
from tests.faults.disks import SmallDisk, mounted
from tests.faults.nursery import RECORDING, Nursery

TODAY = "2027-05-03"
QUICK = ("--weeks", 6, "--no-bound")


@pytest.fixture(scope="session", autouse=True)
def _one_command_line() -> Iterator[None]:
    """Build the parser of the command line once, not for each of some hundred commands."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(typer.main, "get_command", cache(typer.main.get_command))
        yield


@pytest.fixture(scope="session")
def planned_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A yard of three stacks with a diary of two days and a published plan; for reading only."""
    folder = small_yard(tmp_path_factory.mktemp("faults") / "yard")
    rows = (folder / "stacks.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    kept = [row for row in rows if row.split(",")[0] in ("stack", "A", "C", "H")]
    (folder / "stacks.csv").write_text("".join(kept), encoding="utf-8")
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
