"""One run of the command line: where, when and in which form, and the ways to the screen."""

from __future__ import annotations

import os
import sys
import traceback
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING, TypedDict

from fruitcast.errors import FaultsError, visible

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.text import Text

    from fruitcast.document import Document
    from fruitcast.weather.stations import Fetching


# What is being done, how far it is and about how long it will take, for who waits.

AT_ONCE = 1.0
"""What is done so soon after the beginning was kept from before, and tells nothing of the speed.
[s]"""

LINE_EVERY = 15.0
"""Where no line can be written over, another one is written after so long. [s]"""


class HowFar:
    """Takes in progress; says it in words that grow old with the clock.

    `write` is given a line now and then, where the words are not shown otherwise; `clock` tells
    seconds that never go back.
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


YARD_VARIABLE = "FRUITCAST_YARD"
"""Environment variable that names the yard's folder."""

COMPLETE_VARIABLE = "_FRUITCAST_COMPLETE"
"""Environment variable by which a shell asks what may follow; typer fixes its name."""

WIDTH_OF_A_PIPE = 100
"""Columns of a table that is not printed to a terminal."""


DOUBTFUL = 3
"""Exit code of what was done without weather that can hardly be right, and was set aside."""


MOST_NOTES = 3
"""Notes told after an answer; 'check' shows all."""


class StoppedError(Exception):
    """Somebody pressed Ctrl-C; says what that leaves, if anything."""


class Reckoning(TypedDict):
    """What is given to whatever takes its time."""

    fetching: Fetching
    progress: HowFar


@dataclass
class Session:
    """One run."""

    clock: datetime  # the present instant, read once
    folder: Path | None = None  # what --yard said
    day: date | None = None  # what --today said
    json: bool = False  # whether one JSON document is wanted instead of words
    debug: bool = False  # whether an error shows its traceback

    def take(self, yard: Path | None, today: date | None, json_: bool, debug: bool) -> None:
        """Take the options given at one place; they may stand before and after the command."""
        self.folder = yard or self.folder
        self.day = today or self.day
        self.json = json_ or self.json
        self.debug = debug or self.debug

    @property
    def yard(self) -> Path:
        """The yard's folder: the option, else the environment, else where we are."""
        return self.folder or Path(os.environ.get(YARD_VARIABLE) or ".")

    @property
    def today(self) -> date:
        """The day that it is in the yard."""
        if self.day:
            return self.day
        from fruitcast.yard.reading import day_in_yard

        return day_in_yard(self.yard, self.clock)

    @property
    def here(self) -> tuple[Path, date]:
        """The yard's folder and the day that it is there."""
        return self.yard, self.today

    @property
    def now(self) -> datetime | None:
        """The instant that decides what is fresh; None on a day that was given."""
        return None if self.day else self.clock

    def fetching(self, offline: bool = False) -> Fetching:
        """Return how station weather is had."""
        from fruitcast.weather.stations import Fetching

        return Fetching(self.now, offline)

    def answer(
        self,
        document: Document,
        told: Callable[[], RenderableType] | Iterable[str],
        notes: Iterable[str] = (),
        ending: Callable[[], RenderableType] | None = None,
    ) -> None:
        """Print the answer: the document as JSON, else in sentences or a table; then the notes.

        An ending stands last: the answer in short, below notes that would push it off the screen.
        """
        if self.json:
            # Plain ASCII, so that no terminal or pipe can spoil it.
            self.write(document.json_text(indent=1, ascii_only=True) + "\n")
        else:
            from fruitcast.outputs.listing import lines

            self.write(_rendered(told() if callable(told) else lines(told)))
        self.notes(notes)
        if ending is not None and not self.json:
            self.write(_rendered(ending()))

    def write(self, text: str) -> None:
        """Write to standard output; a reader that has gone away is no error."""
        try:
            sys.stdout.write(text)
            sys.stdout.flush()
        except BrokenPipeError:
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())

    def say(self, words: str) -> None:
        """Write a message to standard error."""
        sys.stderr.write(f"{visible(words)}\n")
        sys.stderr.flush()

    @property
    def attended(self) -> bool:
        """Whether somebody is there to answer a question."""
        return not self.json and sys.stdin.isatty()

    def ask(self, question: str, prompt: str) -> str:
        """Ask who is there, and return the answer."""
        self.say(question)
        sys.stderr.write(prompt)
        sys.stderr.flush()
        return sys.stdin.readline().strip()

    def notes(self, notes: Iterable[str], most: int | None = MOST_NOTES) -> None:
        """Tell what the grower should know, each thing once and no more than a few."""
        told = list(dict.fromkeys(notes))
        for note in told[:most]:
            self.say(f"Note: {note}")
        if most is not None and len(told) > most:
            more = len(told) - most
            self.say(f"{more} more note{'' if more == 1 else 's'}: 'fruitcast check' shows all.")

    @contextmanager
    def progress(self) -> Iterator[HowFar]:
        """Show what is being done and how far it is, on standard error, as long as it takes.

        Elsewhere than on a terminal only what takes long is told of, in a line now and then.
        """
        if not sys.stderr.isatty():
            yield HowFar(self.say)
            return
        from rich.console import Console

        shown = HowFar()
        with Console(stderr=True).status(shown):
            yield shown

    @contextmanager
    def reckoning(self, offline: bool = False) -> Iterator[Reckoning]:
        """Show how far something is, as `progress` does; give what it wants besides the yard."""
        with self.progress() as progress:
            yield {"fetching": self.fetching(offline), "progress": progress}

    def complain(self, error: Exception) -> None:
        """Say what went wrong: every fault on a line of its own."""
        if self.debug:
            traceback.print_exc()
        if not isinstance(error, FaultsError):
            self.say(str(error))
        elif sys.stderr.isatty():
            from rich.console import Console

            from fruitcast.outputs.terminal import faults_list

            Console(stderr=True).print(faults_list(error.faults))
        else:
            for fault in error.faults:
                self.say(str(fault))

    def complain_of_ourselves(self, error: Exception) -> None:
        """Say that the program itself is at fault."""
        self.complain(error) if self.debug else self.say(
            f"A fault of fruitcast itself, {type(error).__name__}: {error}. Nothing more was done; "
            "the same command with --debug shows where it happened."
        )


def _rendered(table: RenderableType) -> str:
    """Return a table as text, with colours where standard output is a terminal."""
    from rich.console import Console

    terminal = sys.stdout.isatty()
    width = None if terminal or os.environ.get("COLUMNS") else WIDTH_OF_A_PIPE
    console = Console(width=width, highlight=False, soft_wrap=False)
    with console.capture() as capture:
        console.print(table, crop=False)
    return capture.get()
