"""The planning process, whose searches are short: for tests that don't look how good a plan is."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from unittest import mock

from fruitcast.web import planner, planning_process
from tests.yards import quick_search


@contextmanager
def quick_planning() -> Iterator[None]:
    """Let planners that are made here plan by it, and this process search as shortly."""
    with mock.patch.object(planner, "PROCESS", __name__), quick_search():
        yield


if __name__ == "__main__":
    with quick_search():
        planning_process.main()
