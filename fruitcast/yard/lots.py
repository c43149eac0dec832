"""Lots: a stack larger than the tank is soaked in parts, each with its own dates and state."""

from __future__ import annotations

from fruitcast.errors import InputError

SEPARATOR = "/"
"""Stands between a stack's name and the number of the lot, so no stack's name may hold it."""


def lots_of(stack_name: str, logs: int, tank_logs: int) -> tuple[tuple[str, int], ...]:
    """Return the lots of a stack: as few as the tank allows, of sizes within one log.

    Parameters
    ----------
    stack_name : str
        The stack's name.
    logs : int
        Its logs. [count]
    tank_logs : int
        Logs that fit the tank at one time. [count]

    Returns
    -------
    tuple of (str, int)
        Name and logs of each lot: the stack itself when it fits, else 'A/1', 'A/2', the larger
        ones first.

    Raises
    ------
    InputError
        If no log fits the tank.
    """
    if tank_logs < 1:
        raise InputError(f"A tank for {tank_logs} logs soaks nothing. Give tank_logs of 1 or more.")
    if logs <= tank_logs:
        return ((stack_name, logs),)
    lots = -(-logs // tank_logs)
    size, larger = divmod(logs, lots)
    return tuple(
        (f"{stack_name}{SEPARATOR}{number}", size + (number <= larger))
        for number in range(1, lots + 1)
    )
