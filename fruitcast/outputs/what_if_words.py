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

from fruitcast.diary.plan import SalesTried, SoakTried
from fruitcast.document import Count, Day, Document, Hours, Number
from fruitcast.soaks.shortage import MoreOf
from fruitcast.units import SHOWN_AS_NONE_KG, Units, format_weight
from fruitcast.words import about_words, and_words, comes_words, count_words, day_words, hours_words

WIDTH = 78
"""Of the longest lines, the lists of days. [character]"""

NARROWEST = 30

MOST_OTHERS = 6
"""Stacks of which it is told how their soaks differ; the rest are counted."""

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


class TriedOut(Document):
    """What 'plan --tank', '--places', '--target', '--skip', '--lots' and '--worth' print."""

    today: Day
    units: Literal["us", "metric"]
    compared: Compared | None
    worth: tuple[MoreOf, ...] | None


class SoakTriedOut(Document):
    """What 'try' prints with --json: a soak of the grower's choice beside the plan as it is."""

    today: Day
    units: Literal["us", "metric"]
    sells: bool
    stack: str
    on: Day
    hours: Hours | None = Field(description="as asked; null: as usual")
    forbidden: str = Field(description="the rule that forbids it; empty when none does")
    cares: tuple[str, ...] = Field(description="what speaks against it, though no rule does")
    whole: bool = Field(description="whether both plans were searched at length")
    soaks: tuple[SoakTried, ...] = Field(description="of each lot of the stack; none if forbidden")
    planned: tuple[SoakTried, ...] = Field(
        default=(),
        description="the same soaks by the plan as it is, where it has them all on these days",
    )
    sales: SalesTried
    other_soaks: tuple[TriedSoaks, ...] = Field(
        description="soaks that differ, the stack's own among them"
    )


class WhatIf:
    """A comparison, and what more would be worth, as wide as the window."""

    def __init__(self, document: TriedOut) -> None:
        self._document = document

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Yield all of it."""
        yield Text(what_if_text(self._document, options.max_width))


def what_if_text(document: TriedOut, width: int = WIDTH) -> str:
    """Return a comparison, and what more would be worth, in lines no wider than needed.

    A very narrow window gets longer lines than its width.
    """
    units = document.units
    lines: list[str] = []
    if document.compared is not None:
        lines += _compared(document.compared, units, width)
    if document.worth is not None:
        lines += ["", *_worth(document.worth, units)] if lines else _worth(document.worth, units)
    lines += ["", "Nothing was written: this only tries it out."]
    return "\n".join(lines)


def soak_tried_lines(found: SoakTriedOut) -> list[str]:
    """Return what a soak would bring and take, a sentence a line, what matters most first."""
    units, lines = found.units, []
    if found.forbidden:
        return [f"{found.stack} can't be soaked on {day_words(found.on)}: {found.forbidden}."]
    for soak in found.soaks:
        lines.append(
            f"{soak.stack} ({count_words(soak.logs, 'log')}) in on {day_words(soak.soak_on)} for "
            f"{hours_words(soak.hours)}, out on {day_words(soak.pull_on)}: "
            f"{_brings(soak, units)}."
        )
    own = {soak.stack for soak in found.soaks}
    moves = any(soaks.stack in own for soaks in found.other_soaks)
    if not moves and [s.hours for s in found.planned] == [s.hours for s in found.soaks]:
        return [*lines, "That is what the plan has already."]
    lines += _planned_lines(found)
    lines += _sales_lines(found)
    lines += [f"{care}." for care in found.cares]
    if not found.other_soaks:
        return lines
    changed = [_other_words(soaks) for soaks in found.other_soaks]
    if len(changed) > MOST_OTHERS:
        changed[MOST_OTHERS:] = [f"other days for {len(changed) - MOST_OTHERS} more"]
    return [*lines, f"If you fix it, the plan changes: {'; '.join(changed)}."]


def _brings(soak: SoakTried, units: Units) -> str:
    low, high = soak.kg_p10, soak.kg_p90
    if low is None or high is None:
        return "nothing is likely to come of it"
    between = f"{format_weight(low, units)} to {format_weight(high, units)}"
    picks = f"first pick {about_words(soak.pick.p10, soak.pick.p50, soak.pick.p90)}"
    comes = comes_words(soak.comes)
    if not comes:
        return f"about {format_weight(soak.expected_kg, units)} ({between}), {picks}"
    return f"{comes}, then {between}, {picks}; {format_weight(soak.expected_kg, units)} in the mean"


def _planned_lines(found: SoakTriedOut) -> Iterator[str]:
    """Yield what the plan has on these days for other hours."""
    for soak, planned in zip(found.soaks, found.planned, strict=False):
        has = f"The plan has it in for {hours_words(planned.hours)}"
        if planned.pick == soak.pick and planned.expected_kg == soak.expected_kg:
            yield f"{has}, which comes to the same: logs so wet take up enough in either."
        else:
            yield f"{has}, out on {day_words(planned.pull_on)}: {_brings(planned, found.units)}."


def _sales_lines(found: SoakTriedOut) -> Iterator[str]:
    units, sales = found.units, found.sales
    use = "is sold" if found.sells else "comes to the table"
    for covers, said in ((sales.feeds, "more"), (sales.takes, "less")):
        if not covers or not found.sells:
            continue
        first, more = covers[0], len(covers) - 1
        others = f", and {said} for {count_words(more, 'other sale')}" if more else ""
        weight = format_weight(first.kg, units)
        yield f"{weight} {said} for {first.outlet} on {day_words(first.on)}{others}."
    if abs(sales.sold_kg) < SHOWN_AS_NONE_KG:
        yield f"Over the season as much {use} as without it."
    else:
        than = "more" if sales.sold_kg > 0 else "less"
        kg = format_weight(abs(sales.sold_kg), units)
        yield f"Over the season about {kg} {than} {use}."


def _other_words(soaks: TriedSoaks) -> str:
    gone = [day_words(day) for day in soaks.present if day not in soaks.other]
    new = [day_words(day) for day in soaks.other if day not in soaks.present]
    if gone and new:
        return f"{soaks.stack} on {and_words(new)} instead of {and_words(gone)}"
    if new:
        return f"{soaks.stack} also on {and_words(new)}"
    return f"{soaks.stack} not on {and_words(gone)}"


def compared_rows(found: Compared, units: Units) -> list[tuple[str, str, str]]:
    """Return the two plans in figures: what, as it is, what if."""
    from fruitcast.soaks.sale_days import TABLE

    here, there = found.present, found.other
    weights = [
        ("Wanted in all", here.demand_kg, there.demand_kg),
        ("Missing, mean of years", here.missing_kg, there.missing_kg),
        *(
            (
                "For the table" if o.outlet == TABLE else f"Sold: {o.outlet}",
                o.present_kg,
                o.other_kg,
            )
            for o in found.outlets
        ),
    ]
    return [
        *((w, format_weight(a, units), format_weight(b, units)) for w, a, b in weights),
        ("Soaks", f"{here.soaks}", f"{there.soaks}"),
        ("Logs soaked", f"{here.logs_soaked}", f"{there.logs_soaked}"),
    ]


NO_DIFFERENCE = 0.005
"""Share of what is wanted by which two searches of one yard may differ. Judgement, by twice the
0.2 to 0.3 % that plans of one yard differ by from seed to seed."""


def sold_more(found: Compared) -> float:
    """Return how much more is sold under the other circumstances. [kg]"""
    here, there = found.present, found.other
    return (there.demand_kg - there.missing_kg) - (here.demand_kg - here.missing_kg)


def is_better(found: Compared) -> bool:
    """Return whether more is sold, by more than two searches may differ by."""
    return sold_more(found) > NO_DIFFERENCE * found.present.demand_kg


def verdict_words(found: Compared, units: Units) -> str:
    """Return in a sentence or two whether the other circumstances are better."""
    kg, here, there = sold_more(found), found.present, found.other
    sold = f"{format_weight(abs(kg), units)} {'more' if kg > 0 else 'less'} is sold"
    wanted = there.demand_kg - here.demand_kg
    if abs(wanted) > SHOWN_AS_NONE_KG:
        said = "more" if wanted > 0 else "less"
        return (
            f"{sold} over the season, where {format_weight(abs(wanted), units)} {said} is wanted."
        )
    if abs(kg) > NO_DIFFERENCE * here.demand_kg:
        return f"{'Better' if kg > 0 else 'Worse'}: {sold} over the season."
    words = "No difference: as much is sold as now."
    if abs(kg) >= SHOWN_AS_NONE_KG:
        words = (
            f"Next to no difference: {sold} over the season, and two plans for one yard may differ "
            "by as much."
        )
    if there.tank_logs > here.tank_logs:
        words += " It is not the tank that holds the yard back."
    return words


def soaks_moved(found: Compared) -> list[str]:
    """Return each stack whose soaks would move, with both lists of days."""
    return [f"{soak.stack}: {_days(soak.present)} -> {_days(soak.other)}" for soak in found.soaks]


def worth_rows(found: Sequence[MoreOf], units: Units) -> list[tuple[str, str]]:
    """Return what one more of each thing would bring, the most first: weight and thing."""
    return [
        (
            format_weight(row.kg, units),
            UNIT_OF_THING[row.thing] + (f": {row.which}" if row.which else ""),
        )
        for row in sorted(found, key=lambda row: -row.kg)
    ]


def _compared(found: Compared, units: Units, width: int) -> Iterator[str]:
    name, value = (32, 12) if width >= 56 else (24, 10)
    yield f"{'':{name}}{'as it is':>{value}}{'what if':>{value}}"
    for words, here, there in compared_rows(found, units):
        yield f"{words[: name - 1]:{name}}{here:>{value}}{there:>{value}}"
    if not found.soaks:
        yield "No soak would move."
        return
    yield ""
    yield "Soaks that would move:"
    for words in soaks_moved(found):
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
    lines = ["With a little more of each, so much less would be missing over the season:"]
    return lines + [f"  {weight:>8}  {thing}" for weight, thing in worth_rows(found, units)]
