"""Running the command line inside the test's own process."""

from __future__ import annotations

import contextlib
import io
import json
import sys
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any
from unittest import mock

import typer

from fruitcast.cli import main

TODAY = "2027-05-03"


@dataclass(frozen=True)
class Ran:
    """What one command left behind."""

    code: int
    out: str
    err: str

    @property
    def document(self) -> dict[str, Any]:
        """The one JSON document on standard output."""
        document = json.loads(self.out)
        assert isinstance(document, dict)
        return document


class Terminal(io.StringIO):
    """Standard input of somebody who sits at the keyboard."""

    def isatty(self) -> bool:
        return True


_get_command = cache(typer.main.get_command)
"""Builds the parser of the command line once, not for each of some thousand commands."""


def run(*argv: object, stdin: io.StringIO | None = None) -> Ran:
    """Run one command and return its exit code and what it printed."""
    out, err = io.StringIO(), io.StringIO()
    with (
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
        mock.patch.object(sys, "stdin", stdin or io.StringIO()),
        mock.patch.object(typer.main, "get_command", _get_command),
    ):
        code = main([str(word) for word in argv])
    return Ran(code, out.getvalue(), err.getvalue())


def done(*argv: object, **options: Any) -> Ran:
    """Run one command that must succeed."""
    ran = run(*argv, **options)
    assert ran.code == 0, ran.err
    return ran


def contents(folder: Path) -> dict[str, bytes]:
    """Return every file of a folder with its bytes."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def change(file: Path, old: str, new: str) -> None:
    """Replace one part of a file, which must be there exactly once."""
    text = file.read_text(encoding="utf-8")
    assert text.count(old) == 1, (old, text.count(old))
    file.write_text(text.replace(old, new), encoding="utf-8")
