"""Tasks of a moment that other processes find by name, loaded without all that tests need."""

from __future__ import annotations

import os
import signal
from pathlib import Path

from fruitcast.errors import InputError


def square(number: int) -> int:
    if number == 13:
        raise InputError("thirteen is not for us")
    return number * number


def once_deadly(number: int, folder: Path) -> int:
    """End the process that works on 3 the first time, and any that works on 5."""
    mark = folder / str(number)
    if number == 5 or (number == 3 and not mark.exists()):
        mark.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return number * number
