"""A folder of small yards that several tests look at, and one round of it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest

from fruitcast.app import group
from tests.cli.running import TODAY, change
from tests.group.short_searches import quick_task
from tests.yards import made_once, quick_search, small_yard

DAY = date.fromisoformat(TODAY)


def few_yards(folder: Path, names: str = "ash beech cherry") -> Path:
    """Write small yards that differ in what they sell and soak, quick to plan."""
    folder.mkdir()
    for number, name in enumerate(names.split()):
        yard = small_yard(folder / name)
        change(yard / "yard.toml", "years = 5", "years = 3")
        change(yard / "yard.toml", "Larkspur Hollow", f"{name.title()} yard")
        change(yard / "yard.toml", "target_lb = 8", f"target_lb = {4 + 2 * number}")
    return folder


@pytest.fixture
def yards(tmp_path: Path) -> Path:
    """Three small yards, to be changed."""
    return few_yards(tmp_path / "round")


@pytest.fixture(autouse=True)
def _short_searches(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setattr(group, "plan_task", quick_task)
    with quick_search():
        yield


@pytest.fixture
def planned(tmp_path: Path) -> Path:
    """Copies of the three yards with the round that one process made of them."""

    def make(place: Path) -> None:
        place.mkdir()
        group.make_round(few_yards(place / "round"), DAY, processes=1)

    return made_once("round", make, tmp_path / "planned") / "round"
