"""How much is drawn at random: a few examples each time, many among the long tests.

`tests/conftest.py` says before any test is read whether the long ones were asked for; each test
of hypothesis is then one of them too.
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import settings

at_length = False


def examples(few: int, many: int, **more: Any) -> settings:
    """Return how many examples hypothesis tries."""
    return settings(max_examples=many if at_length else few, deadline=None, **more)


def stride(few: int) -> pytest.MarkDecorator:
    """Let a test look at one of so many, and among the long tests at each; it takes `every`."""
    return pytest.mark.parametrize("every", [few, pytest.param(1, marks=pytest.mark.long)])
