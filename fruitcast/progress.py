"""How those are told who wait: what is being done, and how much of it is."""

from __future__ import annotations

from typing import Protocol


class Progress(Protocol):
    """Told what is being done and, where that is known, how much of how much is done."""

    def __call__(self, words: str, done: int = 0, total: int = 0) -> None:
        """Take it in; raising stops the work."""


def silent(words: str, done: int = 0, total: int = 0) -> None:
    """Tell nobody."""
