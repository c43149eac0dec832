"""Pages made from templates: one file each, without network."""

from __future__ import annotations

from importlib.resources import files
from typing import Any

from jinja2 import Environment, FunctionLoader, StrictUndefined
from markupsafe import Markup

from fruitcast.group.district import District
from fruitcast.group.round import Round
from fruitcast.outputs.district_words import COLUMNS as DISTRICT_COLUMNS
from fruitcast.outputs.district_words import district_rows
from fruitcast.outputs.round_words import (
    COLUMNS,
    OFFER_COLUMNS,
    joint_sales_lines,
    joint_sales_rows,
    round_lines,
    round_rows,
)
from fruitcast.units import format_sale_weight, format_weight
from fruitcast.words import WEEKDAYS, clean_line, day_words, percent_words

_TEMPLATES = files("fruitcast.outputs") / "templates"


def page_of(template: str, **shown: Any) -> bytes:
    """Return a page, UTF-8.

    `template` is the name of its file among the templates.
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
        "sale_weight": format_sale_weight,
        "line": clean_line,
        # Only drawings of our own: matplotlib has escaped the words in them.
        "drawing": Markup,
    }
    return found


def _source(name: str) -> str:
    return (_TEMPLATES / name).read_text(encoding="utf-8")


def round_page(document: Round) -> bytes:
    """Return the page of a round, UTF-8: the same round gives the same bytes."""
    rows = round_rows(document)
    return page_of(
        "round.html",
        name=clean_line(document.name),
        today=document.today,
        lines=round_lines(document),
        columns=COLUMNS,
        rows=[row for row in rows if not row.faults],
        faulty=[(row.yard, row.faults) for row in rows if row.faults],
    )


def joint_sales_page(document: Round) -> bytes:
    """Return the page of what a group sells together, UTF-8: offers, and nothing else of a yard."""
    assert document.together is not None
    return page_of(
        "together.html",
        name=clean_line(document.name),
        today=document.today,
        lines=joint_sales_lines(document.together, document.units),
        columns=OFFER_COLUMNS,
        rows=joint_sales_rows(document.together, document.units, "\n"),
    )


def district_page(document: District) -> bytes:
    """Return the page of a district's outlook, UTF-8: the same outlook gives the same bytes."""
    picture = ""
    if any(place.classes for place in document.places):
        from fruitcast.outputs.plots import svg_text
        from fruitcast.outputs.plots_compared import district_figure

        figure = district_figure(document.places)
        picture = svg_text(figure, "district", "Natural flushes and days from soak to pick")
    return page_of(
        "outlook.html",
        name="Outlook for logs",
        today=document.today,
        paragraph=clean_line(document.paragraph),
        picture=picture,
        columns=DISTRICT_COLUMNS,
        rows=district_rows(document),
        faulty=[(place.place, place.faults) for place in document.places if place.faults],
        notes=sorted({clean_line(n) for p in document.places for n in p.notes}),
    )
