"""What is told of many yards as pages to print, without any request to another machine."""

from __future__ import annotations

from importlib.resources import files

from jinja2 import Environment, FunctionLoader, StrictUndefined
from markupsafe import Markup

from fruitcast.group.district import District
from fruitcast.group.round import Round
from fruitcast.outputs.district_words import COLUMNS as DISTRICT_COLUMNS
from fruitcast.outputs.district_words import district_rows
from fruitcast.outputs.round_words import (
    COLUMNS,
    joint_sales_lines,
    joint_sales_rows,
    round_lines,
    round_rows,
)
from fruitcast.outputs.round_words import OFFER_COLUMNS as TOGETHER_COLUMNS
from fruitcast.words import clean_line, day_words

_TEMPLATES = files("fruitcast.outputs") / "templates"


def sheet_environment() -> Environment:
    """Return what fills in a sheet's template, with everything that people wrote escaped."""
    found = Environment(
        loader=FunctionLoader(lambda name: (_TEMPLATES / name).read_text(encoding="utf-8")),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    # Only drawings of our own: matplotlib has escaped the words in them.
    found.filters |= {"day": day_words, "drawing": Markup}
    return found


def round_page(document: Round) -> bytes:
    """Return the page of a round, UTF-8: the same round gives the same bytes."""
    rows = round_rows(document)
    html = (
        sheet_environment()
        .get_template("round.html")
        .render(
            name=clean_line(document.name),
            today=document.today,
            lines=round_lines(document),
            columns=COLUMNS,
            rows=[row for row in rows if not row.faults],
            faulty=[row for row in rows if row.faults],
        )
    )
    return html.encode("utf-8")


def joint_sales_page(document: Round) -> bytes:
    """Return the page of what a group sells together, UTF-8: offers, and nothing else of a yard."""
    assert document.together is not None
    html = (
        sheet_environment()
        .get_template("together.html")
        .render(
            name=clean_line(document.name),
            today=document.today,
            lines=joint_sales_lines(document.together, document.units),
            columns=TOGETHER_COLUMNS,
            rows=joint_sales_rows(document.together, document.units, "\n"),
        )
    )
    return html.encode("utf-8")


def district_page(document: District) -> bytes:
    """Return the page of a district's outlook, UTF-8: the same outlook gives the same bytes."""
    picture = ""
    if any(place.classes for place in document.places):
        from fruitcast.outputs.plots import svg_text
        from fruitcast.outputs.plots_district import district_figure

        figure = district_figure(document.places)
        picture = svg_text(figure, "district", "Natural flushes and days from soak to pick")
    html = (
        sheet_environment()
        .get_template("outlook.html")
        .render(
            name="Outlook for logs",
            today=document.today,
            paragraph=clean_line(document.paragraph),
            picture=picture,
            columns=DISTRICT_COLUMNS,
            rows=district_rows(document),
            faulty=[place for place in document.places if place.faults],
            notes=sorted({clean_line(n) for p in document.places for n in p.notes}),
        )
    )
    return html.encode("utf-8")
