"""The error tree: what was wrong, where, and what to do next.

Two kinds are kept apart: something given is wrong (`InputError`), and everything
given is right but not enough to answer (`WeatherGapError`, `NoPlanError`).
Only the command line and the web page catch these, once each.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


def visible(words: str) -> str:
    """Return words without anything that a screen would obey instead of showing it.

    What files hold is repeated in messages: control characters become question marks there,
    other blanks plain ones.
    """
    if words.isprintable():
        return words
    return "".join(
        letter if letter.isprintable() or letter == "\n" else " " if letter.isspace() else "?"
        for letter in words
    )


class FruitcastError(Exception):
    """Base of all errors that carry a message meant for the person at the keyboard."""

    def __init__(self, message: str) -> None:
        super().__init__(visible(message))


class InputError(FruitcastError, ValueError):
    """A file, option or record that cannot be right."""


class WeatherGapError(FruitcastError):
    """The weather is readable but too short or too full of gaps to answer.

    What is wrong stands apart from the commands and settings that help: a page has buttons for
    that.
    """

    def __init__(self, problem: str, remedy: str = "") -> None:
        super().__init__(f"{problem} {remedy}".strip())
        self.problem = visible(problem)


class StationError(FruitcastError):
    """A weather station could not be read, and no stored copy helps."""


class CalendarServerError(FruitcastError):
    """A calendar server refused, or could not be reached."""


class OutputError(FruitcastError):
    """A file could not be written; nothing was changed."""


class PlanError(FruitcastError):
    """A plan could not be made."""


class NoPlanError(PlanError):
    """Nothing can be planned for this yard as it stands."""


class SolverError(PlanError):
    """The linear-programming solver gave no usable answer."""


class BalanceError(FruitcastError):
    """The program's own account does not add up: a fault of ours, never of the data."""


@dataclass(frozen=True)
class Fault:
    """One thing wrong in what the grower gave, with its place and remedy.

    Attributes
    ----------
    place : str
        File and line, stack or key: 'stacks.csv line 4, stack C', 'yard.toml [soaking] tank_logs'.
    problem : str
        What is wrong, with the value as given.
    remedy : str
        What to do next.
    """

    place: str
    problem: str
    remedy: str

    def __post_init__(self) -> None:
        for field in ("place", "problem", "remedy"):
            line = " ".join(visible(getattr(self, field)).split("\n"))
            object.__setattr__(self, field, line)

    def __str__(self) -> str:
        return f"{self.place}: {self.problem}. {self.remedy}"


class FaultsError(InputError):
    """Several faults at once, each listed with its place and remedy."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))

    def __reduce__(self) -> tuple[type[FaultsError], tuple[tuple[Fault, ...]]]:
        """Reach another process whole."""
        return type(self), (self.faults,)
