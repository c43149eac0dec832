"""A folder of small yards that several tests look at, and one round of it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.running import change
from tests.yards import small_yard


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
