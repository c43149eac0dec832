"""The commands, one module for each or for a few that belong together."""

from __future__ import annotations

from collections.abc import Sequence
from importlib import import_module

import typer

MODULES = (
    "new",
    "check",
    "weather",
    "stacks",
    "plan",
    "week",
    "report",
    "inoculation",
    "evidence",
    "calendar_out",
    "record",
    "grower_word",
    "diary",
    "yards",
    "serve",
    "completion",
)
"""Modules whose import registers their commands, in the order in which help lists them. Most are
named after the one command that they hold."""


def load(typed: Sequence[str] = ()) -> typer.Typer:
    """Return the root command with all commands joined to it.

    Where the words typed name a command that has a module to itself, only that one is joined: the
    others would take a fifth of a short command's time.
    """
    from fruitcast.cli.root import app, first_word

    command = first_word(typed)
    for module in (command,) if command in MODULES else MODULES:
        import_module(f"{__name__}.{module}")
    return app
