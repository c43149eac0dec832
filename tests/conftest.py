"""How the tests are run: all of them by every processor, a part of them by one."""

from __future__ import annotations

import contextlib
import gc
import importlib
import os
import subprocess
import sys
import tempfile
from collections.abc import Generator, Iterator
from pathlib import Path

import pytest

from fruitcast.soaks import machine_code
from tests import drawn, worked_out
from tests.yards import SHARED, weather_read_once

PREPARE = """
from fruitcast.soaks.search import MENDING, Search
from tests.soaks.instances import small_problem

Search(small_problem(5), MENDING).run()
"""
"""Has the search compiled, once for all processes."""


def pytest_xdist_auto_num_workers(config: pytest.Config) -> int:
    """Return how many processes share the tests; 0 is none besides this one.

    As many as there are processors: one more would read all tests anew, which is some six seconds
    of work, and start a browser and what is shared besides. Of a few files the start of the others
    would take longer than they save. What is asked for by its mark measures, or uses all
    processors itself.
    """
    whole = config.args_source is pytest.Config.ArgsSource.TESTPATHS
    chosen = any(word.startswith(("-m", "-k")) for word in config.invocation_params.args)
    return (os.cpu_count() or 1) if whole and not chosen else 0


def pytest_configure(config: pytest.Config) -> None:
    """Let a process of several print as wide as one alone: it is told the width of a terminal."""
    drawn.at_length = config.option.markexpr == "long"
    if SHARED not in os.environ:
        shared = tempfile.TemporaryDirectory(prefix="fruitcast-tests-")
        os.environ[SHARED] = shared.name
        config.add_cleanup(shared.cleanup)
        config.add_cleanup(lambda: os.environ.pop(SHARED))
    for name in ("COLUMNS", "LINES"):
        os.environ.pop(name, None)
    if config.getoption("numprocesses", 0):
        # Each takes one processor: threads of numpy's linear algebra would wait for each other.
        os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
        if not any(list(folder.glob("search-*.o")) for folder in machine_code._folders()):
            # While they read the tests: else all would soon wait for the first that needs it.
            preparing = subprocess.Popen([sys.executable, "-c", PREPARE])
            config.add_cleanup(lambda: preparing.wait() and None)


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Let tests of hypothesis be among the long ones too, with many examples."""
    if drawn.at_length:
        for item in items:
            if hasattr(getattr(item, "function", None), "hypothesis"):
                item.add_marker("long")


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Generator[None, object, object]:
    """Let nobody look for rubbish among the tests, neither while they are read nor afterwards.

    That took a tenth of the time. What they leave is looked for less often than usual, which
    took a thirtieth.
    """
    gc.disable()
    try:
        _read_own_share()
        return (yield)
    finally:
        gc.freeze()
        gc.set_threshold(20_000, 20, 20)
        gc.enable()


@pytest.fixture(scope="session", autouse=True)
def _once(pytestconfig: pytest.Config) -> Iterator[None]:
    """What is measured reads its weather and works all out each time."""
    with contextlib.ExitStack() as stack:
        if pytestconfig.option.markexpr != "benchmark":
            stack.enter_context(weather_read_once())
            if not worked_out.anew:
                stack.enter_context(worked_out.worked_out_once())
        yield


def _read_own_share() -> None:
    """Begin to read elsewhere than the other processes: what Python compiles is kept for all."""
    process = int(os.environ.get("PYTEST_XDIST_WORKER", "gw0").removeprefix("gw"))
    processes = int(os.environ.get("PYTEST_XDIST_WORKER_COUNT", "1"))
    files = sorted(Path(__file__).parent.rglob("test_*.py"))
    for file in files[process * len(files) // processes :] if process else ():
        name = ".".join(file.relative_to(Path(__file__).parents[1]).with_suffix("").parts)
        # What is wrong with it is told when it is collected.
        with contextlib.suppress(Exception, pytest.skip.Exception):
            importlib.import_module(name)
