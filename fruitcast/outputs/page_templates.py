"""Pages made from templates: one file each, without network."""

from __future__ import annotations

from importlib.resources import files
from typing import Any

from jinja2 import Environment, FunctionLoader, StrictUndefined
from markupsafe import Markup

from fruitcast.units import format_weight
from fruitcast.words import WEEKDAYS, clean_line, day_words, percent_words

_TEMPLATES = files("fruitcast.outputs") / "templates"


def page_of(template: str, **shown: Any) -> bytes:
    """Return a page, UTF-8.

    Parameters
    ----------
    template : str
        Name of its file among the templates.
    shown
        What it shows.
    """
    return _environment().get_template(template).render(**shown).encode("utf-8")


def _environment() -> Environment:
    found = Environment(
        loader=FunctionLoader(_source),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    found.filters |= {
        "day": day_words,
        "weekday": lambda day: WEEKDAYS[day.weekday()],
        "percent": percent_words,
        "weight": format_weight,
        "line": clean_line,
        # Only drawings of our own: matplotlib has escaped the words in them.
        "drawing": Markup,
    }
    return found


def _source(name: str) -> str:
    return (_TEMPLATES / name).read_text(encoding="utf-8")
