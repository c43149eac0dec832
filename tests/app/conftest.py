"""Plans here are held to their rules, not to how good they are."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.yards import quick_search


@pytest.fixture(scope="module", autouse=True)
def _short_searches() -> Iterator[None]:
    with quick_search():
        yield
