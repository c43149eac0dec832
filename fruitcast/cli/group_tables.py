"""Tables of many yards for the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.console import Group, RenderableType

from fruitcast.cli.tables import lines, title
from fruitcast.outputs.district_words import COLUMNS, district_rows
from fruitcast.outputs.listing import Column, Listing, Row
from fruitcast.outputs.round_words import (
    joint_sales_lines,
    joint_sales_rows,
    round_lines,
    round_rows,
)

if TYPE_CHECKING:
    from fruitcast.group.district import District
    from fruitcast.group.joint_sales import JointSales
    from fruitcast.group.round import Round
    from fruitcast.units import Units

NEAR_SALES = 8
"""Shared sales told one by one."""


def round_table(document: Round) -> RenderableType:
    """Return a round: the answer first, then a row for each yard with what is to be done there."""
    rows = round_rows(document)
    listed = [
        Row((row.yard, row.soaks or "nothing"), _note(row.cells[2:]))
        for row in rows
        if not row.faults
    ]
    parts: list[RenderableType] = [lines(round_lines(document))]
    if listed:
        columns = (Column("Yard"), Column("Soak this week", aside="soak {}"))
        parts += [title("The yards"), Listing(columns, listed)]
    if document.together is not None:
        parts += [title("Sold together"), *_joint_sales(document.together, document.units)]
    faulty = [row for row in rows if row.faults]
    if faulty:
        parts += [title("Not planned")]
        parts += [lines([f"{row.yard}: {fault}" for row in faulty for fault in row.faults])]
    return Group(*parts)


def _joint_sales(sold: JointSales, units: Units) -> list[RenderableType]:
    """Return the answer, then the sales of the next weeks; the page has all."""
    rows = joint_sales_rows(sold, units)
    names = ("offers", "fair shares", "could fill in with one more soak")
    listed = [
        Row(
            cells[:4],
            "; ".join(
                f"{name}: {cell}" for name, cell in zip(names, cells[4:], strict=True) if cell
            ),
        )
        for cells in rows[:NEAR_SALES]
    ]
    columns = (
        Column("Sale"),
        Column("Wanted", "right"),
        Column("Promise", "right"),
        Column("Chance", "right"),
    )
    parts: list[RenderableType] = [lines(joint_sales_lines(sold, units))]
    if listed:
        parts += [lines([""]), Listing(columns, listed)]
    if len(rows) > NEAR_SALES:
        parts += [lines([f"{len(rows) - NEAR_SALES} later sales are on the page."])]
    return parts


def _note(cells: tuple[str, ...]) -> str:
    """Return what is to be looked after, with the column's name before each."""
    names = ("promised too much", "dry logs", "weather", "diary")
    return "; ".join(f"{name}: {cell}" for name, cell in zip(names, cells, strict=True) if cell)


def district_table(document: District) -> RenderableType:
    """Return a district's outlook: the paragraph, then a row for each place and class."""
    columns = [Column(name) for name in COLUMNS[:1]] + [
        Column(name, aside=f"{name.lower()} {{}}") for name in COLUMNS[1:]
    ]
    rows = [Row(cells) for cells in district_rows(document)]
    parts: list[RenderableType] = [lines([document.paragraph])]
    if rows:
        parts += [title("Standard logs"), Listing(columns, rows)]
    faulty = [place for place in document.places if place.faults]
    if faulty:
        parts += [title("Nothing known")]
        parts += [lines([f"{place.place}: {fault}" for place in faulty for fault in place.faults])]
    return Group(*parts)
