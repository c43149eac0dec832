"""Yards that several tests look at: planned once, never changed."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from tests.cli.running import done
from tests.yards import made_once, quick_search, small_yard, write_yard

PLACE = "the folder of the demo"
"""Stands for it where its words are kept."""


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
    there = tmp_path_factory.mktemp("demo") / "made"

    def make(place: Path) -> None:
        with quick_search():  # as the plans are searched that are compared with it
            ran = done("demo", place / "larkspur")
        for name, said in (("words", ran.out), ("messages", ran.err)):
            (place / name).write_text(said.replace(str(place), PLACE), encoding="utf-8")

    made_once("demo", make, there)
    folder = there / "larkspur"
    words, messages = (
        (there / name).read_text(encoding="utf-8").replace(PLACE, str(there))
        for name in ("words", "messages")
    )
    plan = json.loads((folder / "out" / "plan.json").read_text(encoding="utf-8"))
    return Demo(folder, words, messages, plan)


@pytest.fixture
def demo(shared_demo: Demo, tmp_path: Path) -> Path:
    """A copy of the planned sample yard, to be changed."""
    folder = tmp_path / "yard"
    shutil.copytree(shared_demo.folder, folder)
    return folder


@pytest.fixture
def yard(tmp_path: Path) -> Path:
    """The sample yard without diary and plan."""
    return write_yard(tmp_path / "yard", diary=False)


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


@pytest.fixture(scope="module", autouse=True)
def _short_searches() -> Iterator[None]:
    with quick_search():
        yield
