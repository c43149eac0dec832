"""The plan under other circumstances beside the present one, as text for a terminal."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import date
from textwrap import wrap
from typing import Literal

from pydantic import Field
from rich.console import Console, ConsoleOptions, RenderResult
from rich.text import Text

from fruitcast.dates import day_words
from fruitcast.document import Count, Day, Document, Number
from fruitcast.units import Units, format_weight

WIDTH = 78
"""Of the longest lines, the lists of days. [character]"""

NARROWEST = 30

NO_BREAK = "\N{NO-BREAK SPACE}"

UNIT_OF_THING = {
    "tank place": "One more place in the tank",
    "place to fruit": "One more place to fruit",
    "soak day": "One more soak day a week",
    "ten logs": "Ten more logs",
    "cold store day": "One more day in the cold store",
}


class TriedPlan(Document):
    """One of the two plans in figures."""

    tank_logs: Count
    places: Count | None = Field(description="logs that can stand where they fruit; null: no limit")
    demand_kg: Number
    missing_kg: Number = Field(description="mean over the weather years")
    logs_soaked: Count
    soaks: Count


class TriedOutlet(Document):
    """What reaches one outlet in both plans, mean over the weather years."""

    outlet: str
    present_kg: Number
    other_kg: Number


class TriedSoaks(Document):
    """A stack whose soak days differ."""

    stack: str
    present: tuple[Day, ...]
    other: tuple[Day, ...]


class Compared(Document):
    """The present plan beside the one under other circumstances."""

    present: TriedPlan
    other: TriedPlan
    outlets: tuple[TriedOutlet, ...]
    soaks: tuple[TriedSoaks, ...] = Field(description="those that differ")


class MoreOf(Document):
    """What one more of something would bring."""

    thing: str = Field(
        description="tank place, place to fruit, soak day, ten logs or cold store day"
    )
    which: str = Field(description="the weekday, or the stack whose kind the ten logs are of")
    kg: Number = Field(description="less missing over the season")


class TriedOut(Document):
    """What 'plan --tank', '--places', '--target', '--skip', '--lots' and '--worth' print."""

    today: Day
    units: Literal["us", "metric"]
    compared: Compared | None
    worth: tuple[MoreOf, ...] | None


class WhatIf:
    """A comparison, and what more would be worth, as wide as the window."""

    def __init__(self, document: TriedOut) -> None:
        self._document = document

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Yield all of it."""
        yield Text(what_if_text(self._document, options.max_width))


def what_if_text(document: TriedOut, width: int = WIDTH) -> str:
    """Return a comparison, and what more would be worth, in lines no wider than needed.

    Parameters
    ----------
    document : TriedOut
        What was tried out.
    width : int
        Of the window; a very narrow one gets longer lines. [character]
    """
    units = document.units
    lines: list[str] = []
    if document.compared is not None:
        lines += _compared(document.compared, units, width)
    if document.worth is not None:
        lines += ["", *_worth(document.worth, units)] if lines else _worth(document.worth, units)
    lines += ["", "Nothing was written: this only tries it out."]
    return "\n".join(lines)


def _compared(found: Compared, units: Units, width: int) -> Iterator[str]:
    here, there = found.present, found.other
    name, value = (32, 12) if width >= 56 else (24, 10)
    yield f"{'':{name}}{'as it is':>{value}}{'what if':>{value}}"
    rows = [
        ("Wanted in all", here.demand_kg, there.demand_kg),
        ("Missing, mean of years", here.missing_kg, there.missing_kg),
    ]
    rows += [(f"Sold: {o.outlet}", o.present_kg, o.other_kg) for o in found.outlets]
    for words, before, after in rows:
        weights = (f"{format_weight(kg, units):>{value}}" for kg in (before, after))
        yield f"{words[: name - 1]:{name}}{''.join(weights)}"
    yield f"{'Soaks':{name}}{here.soaks:>{value}}{there.soaks:>{value}}"
    yield f"{'Logs soaked':{name}}{here.logs_soaked:>{value}}{there.logs_soaked:>{value}}"
    if not found.soaks:
        yield "No soak would move."
        return
    yield ""
    yield "Soaks that would move:"
    for soak in found.soaks:
        words = f"{soak.stack}: {_days(soak.present)} -> {_days(soak.other)}"
        widest = min(max(width, NARROWEST), WIDTH)
        for line in wrap(words, widest, initial_indent="  ", subsequent_indent="      "):
            yield line.replace(NO_BREAK, " ")


def _days(days: Sequence[date]) -> str:
    """Return days in words, lots of one stack that go in on the same day counted."""
    counted = Counter(days)
    words = (
        f"{day_words(day)}{f' ({count} lots)' if count > 1 else ''}"
        for day, count in counted.items()
    )
    # A day stays in one piece where the line is broken.
    return ", ".join(word.replace(" ", NO_BREAK) for word in words) or "none"


def _worth(found: Sequence[MoreOf], units: Units) -> list[str]:
    lines = ["Over the season, the plan mended for it, this would be missing less:"]
    for row in sorted(found, key=lambda row: -row.kg):
        which = f": {row.which}" if row.which else ""
        lines.append(f"  {format_weight(row.kg, units):>8}  {UNIT_OF_THING[row.thing]}{which}")
    return lines
