"""How the program can be typed in this terminal."""

from __future__ import annotations

import os
import shlex
import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fruitcast.progress import Step


def activation(program: str | None = None) -> tuple[Step, ...]:
    """Return what makes 'fruitcast' alone be found, where it is not: nothing, or one step.

    Parameters
    ----------
    program : str or None
        The path by which the program was started; None takes that of the process.
    """
    from fruitcast.progress import Step

    started = Path(sys.argv[0] if program is None else program)
    switch = started.with_name("activate")
    if shutil.which("fruitcast") or not switch.is_file():
        return ()
    typed = str(switch) if os.name == "nt" else f". {shlex.quote(str(switch))}"
    return (Step(typed, "lets you type 'fruitcast' alone, in this terminal"),)
