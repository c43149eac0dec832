"""The trace sheet as a page to print: where each pick came from and where it went."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from pydantic import Field

from fruitcast.diary.sales import NO_PROOF, Fate
from fruitcast.document import Amount, Document
from fruitcast.yard.model import Yard


class PartOfPick(Document):
    """A part of one pick: where it came from and where it went."""

    pick: str = Field(description="stack and day of the pick")
    picked_on: date
    stack: str
    strain_class: str | None
    strain: str | None
    tree: str | None
    inoculated: date | None
    picked_by: str = Field(description="empty when nobody wrote it down")
    soaked_on: tuple[date, ...] = Field(description="empty for a natural flush")
    soak_water: str | None = Field(description="[soaking] water; null when not told")
    picked_kg: Amount = Field(description="all of that day's pick")
    grade: str
    went: Fate
    to: str = Field(description="the buyer, or why it was lost")
    on: date | None
    kg: Amount


def trace_page(yard: Yard, rows: Sequence[PartOfPick], first: date, last: date) -> bytes:
    """Return a trace sheet as one HTML file without network, UTF-8, to be printed.

    Parameters
    ----------
    yard : Yard
        Its name and units.
    rows : sequence of PartOfPick
        Where each pick went.
    first, last : date
        Days of the picks, both included.
    """
    from fruitcast.outputs.page_templates import page_of

    return page_of(
        "trace.html",
        yard=yard.name,
        units=yard.units,
        rows=rows,
        first=first,
        last=last,
        note=NO_PROOF,
    )
