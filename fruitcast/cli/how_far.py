"""What is being done, how far it is and about how long it will take, for who waits."""

from __future__ import annotations

from collections.abc import Callable
from time import monotonic
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.text import Text

AT_ONCE = 1.0
"""What is done so soon after the beginning was kept from before, and tells nothing of the speed.
[s]"""

LINE_EVERY = 15.0
"""Where no line can be written over, another one is written after so long. [s]"""


class HowFar:
    """Takes in progress; says it in words that grow old with the clock.

    Parameters
    ----------
    write : callable, optional
        Given a line now and then, where the words are not shown otherwise.
    clock : callable
        Tells seconds that never go back. [s]
    """

    def __init__(
        self, write: Callable[[str], None] | None = None, clock: Callable[[], float] = monotonic
    ) -> None:
        self._write, self._clock = write, clock
        self._words, self._done, self._total = "", 0, 0
        self._begun = self._told = self._written = clock()
        self._kept = 0

    def __call__(self, words: str, done: int = 0, total: int = 0) -> None:
        """Take in what is being done, and how much of how much is."""
        now = self._clock()
        if total != self._total or done < self._done:
            self._begun, self._kept = now, done
        elif now - self._begun < AT_ONCE:
            self._kept = done
        self._words, self._done, self._total, self._told = words, done, total, now
        if self._write and total and now - self._written >= LINE_EVERY:
            self._written = now
            self._write(self.words())

    def words(self) -> str:
        """Return 'living through past years: 3 of 20, about 5 min left'."""
        if not self._words:
            return ""
        if not self._total:
            return f"{self._words} ..."
        left = self._left()
        said = f", about {duration_words(left)} left" if left is not None else ""
        return f"{self._words}: {self._done} of {self._total}{said}"

    def _left(self) -> float | None:
        """Return how long the rest will take; None before that can be told. [s]"""
        lived = self._done - self._kept
        if lived <= 0 or self._done >= self._total:
            return None
        each = (self._told - self._begun) / lived
        return max(each * (self._total - self._done) - (self._clock() - self._told), 1.0)

    def __rich__(self) -> Text:
        """Return the words, asked for anew each time that the line is drawn."""
        from rich.text import Text

        return Text(self.words())


def duration_words(seconds: float) -> str:
    """Return '40 s', '5 min' or '2 h 10 min', as exact as a guess should be."""
    if seconds < 55:
        return f"{5 * max(round(seconds / 5), 1)} s"
    minutes = max(round(seconds / 60), 1)
    if minutes < 60:
        return f"{minutes} min"
    hours, minutes = divmod(10 * round(minutes / 10), 60)
    return f"{hours} h {minutes} min" if minutes else f"{hours} h"
