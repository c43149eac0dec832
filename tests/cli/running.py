"""Running the command line inside the test's own process, and yards to run it on."""

from __future__ import annotations

import contextlib
import io
import json
import shutil
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from unittest import mock

from fruitcast.app.demo import sample_folder
from fruitcast.cli import main

TODAY = "2027-05-03"
FILES = ("yard.toml", "stacks.csv", "weather.csv")


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


def run(*argv: object, stdin: io.StringIO | None = None) -> Ran:
    """Run one command and return its exit code and what it printed."""
    out, err = io.StringIO(), io.StringIO()
    with (
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
        mock.patch.object(sys, "stdin", stdin or io.StringIO()),
    ):
        code = main([str(word) for word in argv])
    return Ran(code, out.getvalue(), err.getvalue())


def done(*argv: object, **options: Any) -> Ran:
    """Run one command that must succeed."""
    ran = run(*argv, **options)
    assert ran.code == 0, ran.err
    return ran


def sample_yard(folder: Path) -> Path:
    """Write the sample yard without its diary and return its folder."""
    folder.mkdir()
    for name in FILES:
        shutil.copyfile(sample_folder() / name, folder / name)
    return folder


def small_yard(folder: Path) -> Path:
    """Write a yard of five of the sample's stacks and five weather years: quick to plan."""
    sample_yard(folder)
    change(folder / "yard.toml", "years = 30", "years = 5")
    rows = (folder / "stacks.csv").read_text(encoding="utf-8").splitlines()
    kept = [row for row in rows if row.split(",")[0] in ("stack", "A", "C", "E", "H", "N")]
    (folder / "stacks.csv").write_text("\n".join(kept) + "\n", encoding="utf-8")
    return folder


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
