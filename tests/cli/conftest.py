"""Yards that several tests look at: planned once, never changed."""

from __future__ import annotations

import json
import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from tests.cli.running import done, sample_yard, small_yard


@dataclass(frozen=True)
class Demo:
    """The demo as it was run."""

    folder: Path
    words: str
    messages: str
    plan: dict[str, Any]


@pytest.fixture(scope="session")
def shared_demo(tmp_path_factory: pytest.TempPathFactory) -> Demo:
    """The sample yard with its diary, planned; for reading only."""
    folder = tmp_path_factory.mktemp("demo") / "larkspur"
    ran = done("demo", folder)
    plan = json.loads((folder / "out" / "plan.json").read_text(encoding="utf-8"))
    return Demo(folder, ran.out, ran.err, plan)


@pytest.fixture
def demo(shared_demo: Demo, tmp_path: Path) -> Path:
    """A copy of the planned sample yard, to be changed."""
    folder = tmp_path / "yard"
    shutil.copytree(shared_demo.folder, folder)
    return folder


@pytest.fixture
def yard(tmp_path: Path) -> Path:
    """The sample yard without diary and plan."""
    return sample_yard(tmp_path / "yard")


@pytest.fixture
def small(tmp_path: Path) -> Path:
    """A small yard without diary and plan."""
    return small_yard(tmp_path / "small")


@pytest.fixture(autouse=True)
def _nowhere(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Let no yard of the machine be found by chance."""
    monkeypatch.delenv("FRUITCAST_YARD", raising=False)
    empty = tmp_path / "nowhere"
    empty.mkdir()
    monkeypatch.chdir(empty)
