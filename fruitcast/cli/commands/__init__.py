"""The commands, one module for each or for a few that belong together."""

from __future__ import annotations

from collections.abc import Sequence
from importlib import import_module

import typer

COMMANDS = {
    "demo": "new",
    "new": "new",
    "check": "stacks",
    "stacks": "stacks",
    "lots": "stacks",
    "weather": "weather",
    "plan": "plan",
    "week": "plan",
    "report": "plan",
    "inoculation": "inoculation",
    "hindcast": "evidence",
    "foretold": "evidence",
    "calendar": "calendar_out",
    "fix": "grower_word",
    "hold": "grower_word",
    "release": "grower_word",
    "promised": "grower_word",
    "fixed": "grower_word",
    "try": "grower_word",
    "yards": "yards",
    "outlook": "yards",
    "serve": "serve",
    "completion": "completion",
    "record": "record",
    "diary": "diary",
}
"""Each command with the module that registers it; help lists them in this order, groups last."""

MODULES = tuple(dict.fromkeys(COMMANDS.values()))


def load(typed: Sequence[str] = ()) -> typer.Typer:
    """Return the root command with all commands joined to it.

    Where the words typed name a command, only its own module is joined: the others would take a
    fifth of a short command's time.
    """
    from fruitcast.cli.root import app, first_word

    command = first_word(typed)
    for module in (COMMANDS[command],) if command in COMMANDS else MODULES:
        import_module(f"{__name__}.{module}")
    return app
