"""Collects the figures of a run; at its end they are printed as one table and written."""

from __future__ import annotations

import os
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.benchmarks import figures as of_a_run
from tests.benchmarks.figures import Figures
from tests.benchmarks.whole_process import Planned, planned_sample

COLLECTED = pytest.StashKey[Figures]()


@pytest.fixture(scope="session")
def figures(pytestconfig: pytest.Config) -> Figures:
    """Where to put a figure for the table."""
    return pytestconfig.stash.setdefault(COLLECTED, Figures())


@pytest.fixture(scope="session")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Planned]:
    """The sample yard as the demo leaves it."""
    yield planned_sample(tmp_path_factory.mktemp("figures") / "yard")


def pytest_terminal_summary(
    terminalreporter: pytest.TerminalReporter, config: pytest.Config
) -> None:
    """Print the table and write the file, if anything was measured."""
    found = config.stash.get(COLLECTED, None)
    if found is None or not found.rows:
        return
    document = found.document(datetime.now(UTC))
    file = of_a_run.write(document, os.environ)
    terminalreporter.section("figures")
    for line in of_a_run.table(document, of_a_run.read_before(os.environ)):
        terminalreporter.write_line(line)
    terminalreporter.write_line(f"written to {_short(file)}; {of_a_run.BEFORE} compares with one")


def _short(file: Path) -> Path:
    return file.relative_to(Path.cwd()) if file.is_relative_to(Path.cwd()) else file
