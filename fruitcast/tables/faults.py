"""What reading finds: faults, which stop it, and warnings, which don't."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NoReturn

import numpy as np

from fruitcast.errors import Fault, FaultsError
from fruitcast.tables.values import WrongValueError
from fruitcast.words import count_words, first_of


@dataclass
class FaultsFound:
    """Faults and warnings of one file, in the order found."""

    # What must be mended before anything can be planned
    faults: list[Fault] = field(default_factory=list)
    # What was read all the same, and how it was taken
    warnings: list[str] = field(default_factory=list)

    def fault(self, place: str, problem: str, remedy: str) -> None:
        """Note something that cannot be right."""
        self.faults.append(Fault(place, problem, remedy))

    def wrong(self, place: str, error: WrongValueError) -> None:
        """Note a value that was refused."""
        self.faults.append(Fault(place, error.problem, error.remedy))

    def warn(self, place: str, what: str) -> None:
        """Note something doubtful."""
        self.warnings.append(f"{place}: {what}")


# Faults of one weather file, gathered by kind so that one slip is not told a thousand times.
#
# And what there is to ask about a file that has none.

SHOWN_OF_A_KIND = 5
"""How many faults of one kind are told in full; of the rest only the lines are."""

MOST_SPANS = 20
"""Spans of lines that are told at most."""

LONGEST_VALUE = 40
"""Characters of a value that a message repeats."""

Day = np.datetime64 | str | None


@dataclass(frozen=True)
class Question:
    """What is odd in a table, and what it most likely is."""

    problem: str
    cause: str

    def __str__(self) -> str:
        return f"{self.problem}. {self.cause}"


@dataclass
class FaultList:
    """The faults found so far in one file, and how it was read."""

    file: str  # name of the file, the beginning of every fault's place
    notes: list[str] = field(default_factory=list)  # what was decided on the way
    _kinds: dict[str, list[Fault]] = field(default_factory=dict)
    _lines: dict[str, list[int | None]] = field(default_factory=dict)  # of all, kept or not

    def add(
        self, kind: str, problem: str, remedy: str, line: int | None = None, day: Day = None
    ) -> None:
        """Note one fault; of each kind the first few are kept, and the lines of the rest."""
        self._lines.setdefault(kind, []).append(line)
        kept = self._kinds.setdefault(kind, [])
        if len(kept) < SHOWN_OF_A_KIND:
            place = self.file if line is None else f"{self.file} line {line}"
            if day is not None and not (isinstance(day, np.datetime64) and np.isnat(day)):
                place += f", {day}"
            kept.append(Fault(place, problem, remedy.rstrip(".") + "."))

    def __len__(self) -> int:
        return sum(map(len, self._lines.values()))

    def faults(self) -> list[Fault]:
        """Return the faults to show; each cut-off kind ends with the lines of the rest."""
        shown: list[Fault] = []
        for kind, kept in self._kinds.items():
            shown += kept
            rest = self._lines[kind][len(kept) :]
            if rest:
                what = f"{count_words(len(rest), 'more fault')} of this kind ({kind})"
                lines = sorted({line for line in rest if line is not None})
                if lines:
                    what += f", on line{'' if len(lines) == 1 else 's'} {_spans(lines)}"
                shown.append(
                    Fault(
                        self.file,
                        what,
                        "Mend them the way of those above and check again.",
                    )
                )
        return shown

    def has(self, kind: str) -> bool:
        """Return whether a fault of this kind was noted."""
        return kind in self._kinds

    def error(self) -> FaultsError:
        """Return the error that lists all faults to show."""
        return FaultsError(self.faults())

    def raise_any(self) -> None:
        """Raise FaultsError with every fault to show, if there are any."""
        if len(self):
            raise self.error()

    def stop(self, kind: str, problem: str, remedy: str, line: int | None = None) -> NoReturn:
        """Note a fault behind which nothing can be read, and raise all that there are."""
        self.add(kind, problem, remedy, line)
        raise self.error()


def _spans(lines: Sequence[int]) -> str:
    """Return rising lines as spans: '8, 12-15'."""
    spans: list[tuple[int, int]] = []
    for line in lines:
        if spans and spans[-1][1] == line - 1:
            spans[-1] = (spans[-1][0], line)
        else:
            spans.append((line, line))
    told = [str(first) if first == last else f"{first}-{last}" for first, last in spans]
    return first_of(told, MOST_SPANS)


def quoted(value: str) -> str:
    """Return a value as a message repeats it: in quotes, on one line, not too long."""
    flat = " ".join(value.split())
    if len(flat) > LONGEST_VALUE:
        flat = flat[: LONGEST_VALUE - 3] + "..."
    return f"'{flat}'"
