"""The sample yard, planned and published once; for reading only."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from unittest import mock

import pytest

from fruitcast.app.demo import TODAY
from fruitcast.app.reporting import Reported, report_data, write_report
from fruitcast.outputs.report import courses_of
from fruitcast.outputs.report_parts import Courses, ReportData
from tests.yards import planned_yard, quick_search, write_yard


@pytest.fixture(scope="session")
def shared_yard(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sample yard with a plan published on its day."""
    return planned_yard(tmp_path_factory.mktemp("report") / "larkspur")


@pytest.fixture(scope="session")
def reported(shared_yard: Path) -> Reported:
    """Its report."""
    return write_report(shared_yard, TODAY)


@pytest.fixture(scope="session")
def data(shared_yard: Path) -> ReportData:
    """What its report tells of."""
    return report_data(shared_yard, TODAY)


@pytest.fixture(scope="session")
def courses(data: ReportData) -> Courses:
    """What its figures draw."""
    return courses_of(data)


@pytest.fixture
def undrawn() -> Iterator[None]:
    """Leave out the figures' drawings, which take most of a report's second: words are read."""
    with mock.patch("fruitcast.outputs.report._drawn", return_value="<svg></svg>"):
        yield


@pytest.fixture
def copy(shared_yard: Path, tmp_path: Path) -> Path:
    """A copy of the planned yard, to be changed."""
    folder = tmp_path / "yard"
    shutil.copytree(shared_yard, folder)
    return folder


@pytest.fixture
def small(tmp_path: Path) -> Iterator[Path]:
    """Three of the sample yard's stacks, without diary and most weather years, planned shortly."""
    with quick_search():
        yield write_yard(tmp_path / "small", "ACN", 4, diary=False)
