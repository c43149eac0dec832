"""The plan under other circumstances beside the present one, as text for a terminal."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from datetime import date
from textwrap import wrap
from typing import Any

from rich.console import Console, ConsoleOptions, RenderResult
from rich.text import Text

from fruitcast.dates import day_words
from fruitcast.units import Units, format_weight

Document = Mapping[str, Any]

WIDTH = 78
"""Of the longest lines, the lists of days. [character]"""

NARROWEST = 30

NO_BREAK = "\N{NO-BREAK SPACE}"

UNIT_OF_THING = {
    "tank place": "One more place in the tank",
    "soak day": "One more soak day a week",
    "ten logs": "Ten more logs",
    "cold store day": "One more day in the cold store",
}


class WhatIf:
    """A comparison, and what more would be worth, as wide as the window."""

    def __init__(self, document: Document) -> None:
        self._document = document

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Yield all of it."""
        yield Text(what_if_text(self._document, options.max_width))


def what_if_text(document: Document, width: int = WIDTH) -> str:
    """Return a comparison, and what more would be worth, in lines no wider than needed.

    Parameters
    ----------
    document : mapping
        What was tried out.
    width : int
        Of the window; a very narrow one gets longer lines. [character]
    """
    units: Units = document["units"]
    lines: list[str] = []
    if document["compared"] is not None:
        lines += _compared(document["compared"], units, width)
    if document["worth"] is not None:
        lines += (
            ["", *_worth(document["worth"], units)] if lines else _worth(document["worth"], units)
        )
    lines += ["", "Nothing was written: this only tries it out."]
    return "\n".join(lines)


def _compared(found: Document, units: Units, width: int) -> Iterator[str]:
    here, there = found["present"], found["other"]
    name, value = (32, 12) if width >= 56 else (24, 10)
    yield f"{'':{name}}{'as it is':>{value}}{'what if':>{value}}"
    rows = [
        ("Wanted in all", here["demand_kg"], there["demand_kg"]),
        ("Missing, mean of years", here["missing_kg"], there["missing_kg"]),
    ]
    rows += [(f"Sold: {o['outlet']}", o["present_kg"], o["other_kg"]) for o in found["outlets"]]
    for words, before, after in rows:
        weights = (f"{format_weight(kg, units):>{value}}" for kg in (before, after))
        yield f"{words[: name - 1]:{name}}{''.join(weights)}"
    for words, key in (("Soaks", "soaks"), ("Logs soaked", "logs_soaked")):
        yield f"{words:{name}}{here[key]:>{value}}{there[key]:>{value}}"
    if not found["soaks"]:
        yield "No soak would move."
        return
    yield ""
    yield "Soaks that would move:"
    for soak in found["soaks"]:
        words = f"{soak['stack']}: {_days(soak['present'])} -> {_days(soak['other'])}"
        widest = min(max(width, NARROWEST), WIDTH)
        for line in wrap(words, widest, initial_indent="  ", subsequent_indent="      "):
            yield line.replace(NO_BREAK, " ")


def _days(days: list[str]) -> str:
    """Return days in words, lots of one stack that go in on the same day counted."""
    counted = Counter(days)
    words = (
        f"{day_words(date.fromisoformat(day))}{f' ({count} lots)' if count > 1 else ''}"
        for day, count in counted.items()
    )
    # A day stays in one piece where the line is broken.
    return ", ".join(word.replace(" ", NO_BREAK) for word in words) or "none"


def _worth(found: list[Document], units: Units) -> list[str]:
    lines = ["Over the season, the plan mended for it, this would be missing less:"]
    for row in sorted(found, key=lambda row: -row["kg"]):
        which = f": {row['which']}" if row["which"] else ""
        lines.append(
            f"  {format_weight(row['kg'], units):>8}  {UNIT_OF_THING[row['thing']]}{which}"
        )
    return lines
