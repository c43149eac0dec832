"""The page on which a soak is tried out: what it would bring and take; nothing is written."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from datetime import date
from multiprocessing import get_context
from pathlib import Path

from flask import Flask, render_template, request

from fruitcast.errors import FruitcastError
from fruitcast.outputs.what_if_words import SoakTriedOut, soak_tried_lines
from fruitcast.web.context import Context
from fruitcast.web.forms import stack_names
from fruitcast.web.words import words_link

WRONG_INPUT = 422
"""Status of a question that can't be read."""

LONGEST_HOURS = 8
"""Letters of the field for the hours."""


def add_trying(app: Flask, context: Context) -> None:
    """Add the page to an application."""
    one_at_a_time = threading.Lock()

    @app.get("/try")
    def try_soak() -> str | tuple[str, int]:
        now = context.situation()
        names = stack_names(now)
        given = {name: request.args.get(name, "").strip() for name in ("stack", "day", "hours")}
        lines: Sequence[str] = ()
        fault, found = "", None
        if given["stack"] and given["day"]:
            words = [given["stack"], given["day"]]
            if given["hours"]:
                words += [given["hours"][:LONGEST_HOURS], "h"]
            try:
                with one_at_a_time:
                    found = _tried(context.folder, now.today, words)
                lines = soak_tried_lines(found)
            except FruitcastError as error:
                fault = str(error)
        page = render_template(
            "try.html",
            now=now,
            stacks=names,
            given=given,
            lines=lines,
            fault=fault,
            fix=words_link(f"fix {' '.join(words)}") if found and not found.forbidden else "",
        )
        return (page, WRONG_INPUT) if fault else page


def _tried(folder: Path, today: date, words: list[str]) -> SoakTriedOut:
    """Try a soak in a process of its own, so that other pages are answered meanwhile."""
    from fruitcast.app.trying import try_soak

    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as process:
        return process.submit(try_soak, folder, today, words, offline=True).result()
