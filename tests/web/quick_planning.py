"""The planning process, whose searches are short: for tests that don't look how good a plan is."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from unittest import mock

from fruitcast.web import planning_process
from tests.yards import quick_search


@contextmanager
def quick_planning(module: str = __name__) -> Iterator[None]:
    """Let planners that are made here plan by it, and this process search as shortly."""
    from fruitcast.web import planner  # not for the process itself

    with mock.patch.object(planner, "PROCESS", module), quick_search():
        yield


def main() -> None:
    """Serve the planner that started this process."""
    with quick_search():
        planning_process.main()


if __name__ == "__main__":
    main()
