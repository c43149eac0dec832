"""The small yard, one with a plan of its own, and a visitor of their pages."""

from __future__ import annotations

from pathlib import Path

import pytest

from fruitcast.app.demo import TODAY, write_sample_yard
from fruitcast.app.planning import plan_yard
from tests.web.sites import Now, Visitor, make_app, write_site


@pytest.fixture
def now():
    return Now()


@pytest.fixture
def folder(tmp_path):
    return write_site(tmp_path / "yard")


@pytest.fixture
def visitor(folder, now):
    return Visitor(make_app(folder, now))


@pytest.fixture(scope="session")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a few of the sample yard's stacks with few weather years, planned; to be copied."""
    folder = write_sample_yard(tmp_path_factory.mktemp("planned") / "yard")
    stacks = folder / "stacks.csv"
    rows = stacks.read_text().splitlines(keepends=True)
    stacks.write_text("".join([rows[0], *rows[1:3], *rows[4:6], rows[7]]))
    settings = folder / "yard.toml"
    settings.write_text(settings.read_text().replace("years = 30", "years = 5"))
    plan_yard(folder, TODAY)
    return folder
