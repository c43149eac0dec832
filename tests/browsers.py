"""The system's chromium as a browser for tests."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from tests.requires import need, need_program

ARGUMENTS = (
    *("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync"),
    *("--disable-background-networking", "--disable-component-update", "--disable-dev-shm-usage"),
)


@contextmanager
def one_browser() -> Iterator[Any]:
    """Yield a browser. As long as it is open nothing else may wait on asyncio in this thread."""
    with need("playwright.sync_api").sync_playwright() as playwright:
        path = need_program("chromium")
        chromium = playwright.chromium.launch(executable_path=path, args=ARGUMENTS)
        yield chromium
        chromium.close()
