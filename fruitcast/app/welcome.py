"""What to do next, for someone who types the program's name alone."""

from __future__ import annotations

import shlex
from dataclasses import dataclass
from datetime import date
from pathlib import Path

SETTINGS_FILE = "yard.toml"


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

    def document(self) -> dict[str, str]:
        """Return it as a document of plain values."""
        return {"command": self.command, "does": self.does}


def next_steps(folder: Path, *, here: bool = True, today: date | None = None) -> tuple[Step, ...]:
    """Return what can be done next.

    Parameters
    ----------
    folder : Path
        The yard's folder, or where one may be started.
    here : bool
        Whether the program looks there by itself; else the commands name the folder.
    today : date or None
        A day that the commands take for today.
    """
    if not (folder.expanduser() / SETTINGS_FILE).is_file():
        return (
            Step("fruitcast demo", "see the whole job done on an invented yard"),
            Step("fruitcast new DIR", "start a yard of your own in the folder DIR"),
            Step("fruitcast --yard DIR plan", "plan the yard in the folder DIR"),
            Step("fruitcast --help", "list all commands"),
        )
    yard = "fruitcast" if here else f"fruitcast --yard {shlex.quote(str(folder))}"
    if today is not None:
        yard += f" --today {today}"
    return (
        Step(f"{yard} week", "what to do in the next 7 days"),
        Step(f"{yard} stacks", "each stack as it stands today"),
        Step(f"{yard} record pick A 2 lb 6 oz", "write down what was done or seen"),
        Step(f"{yard} plan", "plan again with all that is known now"),
        Step(f"{yard} check", "look for slips in the yard's files and weather"),
        Step(f"{yard} --help", "list all commands"),
    )
