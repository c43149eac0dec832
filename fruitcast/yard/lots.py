"""Lots: a stack too large to be soaked at once is soaked in parts, each with its own state.

It is too large when it does not fit the tank, or when the grower wants smaller soaks: a whole
stack's flush may be more than a market day can take.
"""

from __future__ import annotations

from fruitcast.errors import InputError

SEPARATOR = "/"
"""Stands between a stack's name and the number of the lot, so no stack's name may hold it."""


def lots_of(stack_name: str, logs: int, logs_at_once: int) -> tuple[tuple[str, int], ...]:
    """Return the lots of a stack: as few as go, of sizes within one log.

    Parameters
    ----------
    stack_name : str
        The stack's name.
    logs : int
        Its logs. [count]
    logs_at_once : int
        Most logs that are soaked together. [count]

    Returns
    -------
    tuple of (str, int)
        Name and logs of each lot: the stack itself when it is soaked whole, else 'A/1', 'A/2',
        the larger ones first.

    Raises
    ------
    InputError
        If no log may be soaked.
    """
    if logs_at_once < 1:
        raise InputError(
            f"A tank for {logs_at_once} logs soaks nothing. Give tank_logs of 1 or more."
        )
    if logs <= logs_at_once:
        return ((stack_name, logs),)
    lots = -(-logs // logs_at_once)
    size, larger = divmod(logs, lots)
    return tuple(
        (f"{stack_name}{SEPARATOR}{number}", size + (number <= larger))
        for number in range(1, lots + 1)
    )
