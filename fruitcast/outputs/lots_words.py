"""Lots that stand and lots proposed, for a terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Literal

from pydantic import Field
from rich.console import Group, RenderableType
from rich.text import Text

from fruitcast.diary.plan import StackToPart
from fruitcast.document import Count, Day, Document, Number
from fruitcast.outputs.listing import Column, Indented, Listing, table
from fruitcast.units import Units, format_weight
from fruitcast.words import count_words


class Lot(Document):
    """A part of a stack that is soaked by itself."""

    name: str
    logs: Count
    flush_kg: Number = Field(description="what one flush gives, expected, after the plan's weeks")


class StackInLots(Document):
    """A stack with its lots."""

    stack: str
    logs: Count
    flush_kg: Number = Field(
        description="what one flush of the whole stack gives, expected, after the plan's weeks"
    )
    lots: tuple[Lot, ...]


class YardLots(Document):
    """What 'lots --json' prints."""

    today: Day
    units: Literal["us", "metric"]
    by_settings: bool = Field(description="whether lot_logs in yard.toml says it; none proposed")
    week_target_kg: Number | None = Field(
        description="what the outlets want in a usual week; null when no lots are proposed"
    )
    standing: tuple[StackInLots, ...] = Field(description="stacks that were in lots before")
    proposed: tuple[StackInLots, ...]
    accepted: bool = Field(description="whether those proposed were taken into the diary now")


def lots_table(found: YardLots) -> RenderableType:
    """Return the lots for a terminal."""
    units = found.units
    parts: list[RenderableType] = []
    if found.standing:
        parts += [Text("Lots that stand", style="bold underline"), _listing(found.standing, units)]
    if found.proposed:
        title = "Taken now" if found.accepted else "Lots that would suit your outlets"
        parts += [Text(title, style="bold underline"), _listing(found.proposed, units)]
    return Group(*parts, *(Indented(line, by=0) for line in _lines(found)))


def _lines(found: YardLots) -> Iterator[str]:
    if found.by_settings:
        yield "lot_logs under [soaking] in yard.toml says how stacks are soaked."
    elif not found.proposed:
        yield "No stack bears too much at once: none more need be soaked in lots."
    elif found.week_target_kg is not None:
        yield why_words(found.week_target_kg, found.units)
    if found.accepted:
        yield (
            "Nothing is to be done in the yard today. Each lot gets its mark when it first goes "
            "into the tank; 'fruitcast plan' plans them, 'fruitcast record lots G whole' makes a "
            "stack whole again once its lots have rested alike."
        )
    elif found.proposed:
        yield "'fruitcast lots --accept' takes them; until then stacks are soaked whole."


def why_words(week_target_kg: float, units: Units) -> str:
    """Return why stacks that bear much at once are better soaked in lots."""
    week = format_weight(week_target_kg, units)
    return (
        f"Your outlets want {week} in a usual week, and a flush comes within a few days: what "
        "is more than they take spoils. Lots stay for years, so the flushes here are those of "
        "years to come: this season's may be smaller."
    )


def part_words(each: StackToPart, units: Units) -> str:
    """Return what one stack bears at once and the lots that would suit, in a sentence."""
    flush, part = (
        format_weight(kg, units) for kg in (each.flush_kg, each.flush_kg / len(each.lots))
    )
    return (
        f"{each.stack}, {count_words(each.logs, 'log')}: one flush gives {flush}. In lots, "
        f"{sizes_words(each.lots)}, each gives {part}."
    )


def _listing(stacks: tuple[StackInLots, ...], units: Units) -> Listing:
    return table(
        stacks,
        (Column("Stack"), lambda stack: stack.stack),
        (Column("Logs", "right"), lambda stack: str(stack.logs)),
        (Column("One flush", "right"), lambda stack: format_weight(stack.flush_kg, units)),
        (Column("In lots"), lambda stack: sizes_words([lot.logs for lot in stack.lots])),
        (
            Column("Each gives", "right", "each gives {}"),
            lambda stack: format_weight(stack.flush_kg / len(stack.lots), units),
        ),
    )


def sizes_words(sizes: Sequence[int]) -> str:
    """Return the sizes of lots: '3 of 15 logs', '2 of 16 and 1 of 15'."""
    if len(set(sizes)) == 1:
        return f"{len(sizes)} of {count_words(sizes[0], 'log')}"
    return " and ".join(f"{sizes.count(size)} of {size}" for size in sorted(set(sizes))[::-1])
