"""The small yard, one with a plan of its own, and a visitor of their pages."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from fruitcast.web.trial import stop_trials
from tests.browsers import one_browser
from tests.web.sites import Now, Visitor, make_app, write_site
from tests.yards import PHONE, planned_yard


@pytest.fixture
def now():
    return Now()


@pytest.fixture
def folder(tmp_path):
    return write_site(tmp_path / "yard")


@pytest.fixture
def visitor(folder, now):
    """Return a visitor of the yard, of another one where a module has its own `folder`."""
    app = make_app(folder, now)
    yield Visitor(app)
    stop_trials(app)


@pytest.fixture(scope="session")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a few of the sample yard's stacks with few weather years, planned; to be copied."""
    return planned_yard(tmp_path_factory.mktemp("planned") / "yard", PHONE, 5)


@pytest.fixture(scope="package")
def browser() -> Iterator[Any]:
    """Return one browser for all of these tests: to start another takes a second or two."""
    with one_browser() as chromium:
        yield chromium
