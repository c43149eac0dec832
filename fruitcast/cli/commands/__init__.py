"""The commands, one module for each or for a few that belong together."""

from __future__ import annotations

from importlib import import_module

import typer

MODULES = (
    "demo",
    "new",
    "check",
    "weather",
    "stacks",
    "lots",
    "plan",
    "week",
    "report",
    "inoculation",
    "hindcast",
    "foretold",
    "calendar_out",
    "record",
    "grower_word",
    "try_soak",
    "diary",
    "serve",
    "completion",
)
"""Modules whose import registers their commands, in the order in which help lists them."""


def load() -> typer.Typer:
    """Return the root command with all commands joined to it."""
    from fruitcast.cli.root import app

    for module in MODULES:
        import_module(f"{__name__}.{module}")
    return app
