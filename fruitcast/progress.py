"""What people are told on the way: what is being done and how far it is, and what to do next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol


class Progress(Protocol):
    """Told what is being done and, where that is known, how much of how much is done."""

    def __call__(self, words: str, done: int = 0, total: int = 0) -> None:
        """Take it in; raising stops the work."""


def silent(words: str, done: int = 0, total: int = 0) -> None:
    """Tell nobody."""


@dataclass(frozen=True)
class Step:
    """One thing to do next.

    Attributes
    ----------
    command : str
        What to type.
    does : str
        What that does.
    """

    command: str
    does: str
