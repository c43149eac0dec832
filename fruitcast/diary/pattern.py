"""Patterns of a sentence's parts, compiled when the first sentence is read.

The kinds of entries are loaded by whoever reads the diary, most of whom read no sentence, and
compiling all patterns would cost them a twentieth of a second each time.
"""

from __future__ import annotations

import re
from functools import cached_property
from typing import Any, cast


class _Pattern:
    def __init__(self, pattern: str, flags: int) -> None:
        self.pattern, self._flags = pattern, flags

    @cached_property
    def _compiled(self) -> re.Pattern[str]:
        return re.compile(self.pattern, self._flags)

    def __getattr__(self, name: str) -> Any:
        found = self.__dict__[name] = getattr(self._compiled, name)  # asked for once
        return found


def pattern_of(pattern: str, flags: int = re.IGNORECASE) -> re.Pattern[str]:
    """Return a pattern, mostly of words whatever their capitals, compiled when it is first used."""
    return cast("re.Pattern[str]", _Pattern(pattern, flags))
