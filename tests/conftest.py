"""How the tests are run: all of them by every processor, a part of them by one."""

from __future__ import annotations

import os

import pytest


def pytest_xdist_auto_num_workers(config: pytest.Config) -> int:
    """Return how many processes share the tests; 0 is none besides this one.

    Of a few files the start of the others would take longer than they save. What is asked for by
    its mark measures, or uses all processors itself.
    """
    whole = config.args_source is pytest.Config.ArgsSource.TESTPATHS
    chosen = any(word.startswith(("-m", "-k")) for word in config.invocation_params.args)
    return os.cpu_count() or 1 if whole and not chosen else 0


def pytest_configure() -> None:
    """Let a process of several print as wide as one alone: it is told the width of a terminal."""
    for name in ("COLUMNS", "LINES"):
        os.environ.pop(name, None)
