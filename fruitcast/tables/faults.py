"""What reading a yard finds: faults, which stop it, and warnings, which don't."""

from __future__ import annotations

from dataclasses import dataclass, field

from fruitcast.errors import Fault
from fruitcast.tables.values import WrongValueError


@dataclass
class Findings:
    """Faults and warnings of one file, in the order found.

    Attributes
    ----------
    faults : list of Fault
        What must be mended before anything can be planned.
    warnings : list of str
        What was read all the same, and how it was taken.
    """

    faults: list[Fault] = field(default_factory=list)
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
