"""A batch to be inoculated, for reading in the terminal, in the yard's units.

Everything returned is a rich renderable that fits the window, down to 60 columns.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from rich.console import Group, RenderableType
from rich.text import Text

from fruitcast.diary.plan import LikelyDays
from fruitcast.outputs.inoculation_answers import (
    BatchAnswer,
    BatchDates,
    BatchYield,
    CropOfYear,
    FromTo,
    Holes,
    Takes,
)
from fruitcast.outputs.listing import Column, Indented, Listing, Row
from fruitcast.units import M_PER_FT, Units, format_length, format_weight
from fruitcast.words import count_words, day_words, percent_words, span_words
from fruitcast.yard.model import Yard

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_LEAST_WATERINGS = 0.1


def batch_table(document: BatchAnswer, yard: Yard) -> RenderableType:
    """Return a batch: what it takes, its calendar, what it will give, what to beware of."""
    units = yard.units
    return Group(
        title(
            f"{document.stack}: {count_words(document.logs, 'log')} of {document.tree}, "
            f"{document.strain_class}, {document.spawn} spawn"
        ),
        Indented(_wood_words(document, units)),
        title("Holes"),
        *(Indented(line) for line in _hole_lines(document.holes, units)),
        title("It takes"),
        *(Indented(line) for line in _takes_lines(document.materials, units)),
        title("Calendar"),
        *(Indented(line) for line in _calendar_lines(document.calendar)),
        title("It gives"),
        *_gives(document.gives, units),
        *beware(document.cautions),
    )


def title(words: str) -> RenderableType:
    """Return a heading with a line of air above it."""
    return Text(f"\n{words}", style="bold")


def _wood_words(document: BatchAnswer, units: Units) -> str:
    weight = document.weight
    return (
        f"{format_length(document.diameter_m, units)} thick, "
        f"{format_length(document.length_m, units)} long; a fresh log weighs about "
        f"{format_weight(weight.log_kg, units)}, all of them "
        f"{format_weight(weight.batch_kg, units)}."
    )


def _hole_lines(holes: Holes, units: Units) -> list[str]:
    rows = sorted(set(holes.by_row), reverse=True)
    lines = [
        f"{count_words(holes.per_log, 'hole')} a log: {holes.rows} rows of "
        f"{' and '.join(map(str, rows))}{' in turn' if len(rows) > 1 else ''}, "
        f"{format_length(holes.spacing_m, units)} from hole to hole, "
        f"{format_length(holes.row_distance_m, units)} from row to row, the first "
        f"{format_length(holes.end_distance_m, units)} from the end, every second row set off "
        "by half.",
        f"Bit {holes.bit_m * 1000:g} mm, {holes.depth_m * 1000:g} mm deep.",
    ]
    if holes.seam_breaks_stagger:
        lines.append(
            "The number of rows is odd: the last and the first meet without being set off."
        )
    return lines


def _takes_lines(takes: Takes, units: Units) -> list[str]:
    spawn = (
        f"{format_weight(takes.sawdust_kg, units)} of sawdust spawn"
        if takes.sawdust_kg
        else f"{takes.pieces:,} pieces of spawn"
    )
    wax = f", {format_weight(takes.wax_kg, units)} of wax" if takes.wax_kg else ""
    floor = (
        f"{takes.floor_m2 / M_PER_FT**2:.0f} square feet"
        if units == "us"
        else f"{takes.floor_m2:.1f} square metres"
    )
    return [
        f"{takes.holes:,} holes, {spawn}{wax}.",
        f"{takes.hours:.1f} hours: drilling {takes.drilling_hours:.1f}, filling "
        f"{takes.filling_hours:.1f}, waxing {takes.waxing_hours:.1f}, handling "
        f"{takes.handling_hours:.1f}.",
        f"About {count_words(takes.trees, 'tree')}; {floor} of ground for the stacks, paths "
        "left aside.",
    ]


def _calendar_lines(calendar: BatchDates) -> list[str]:
    lines = []
    if calendar.fell:
        fell = calendar.fell
        lines.append(
            f"Fell {_days(fell)}: from leaf fall to the leaf-out of an early year (leaves come "
            f"about {_middle(calendar.leaf_out)})."
        )
    if calendar.inoculate:
        lines.append(
            f"Inoculate {_days(calendar.inoculate)}, within two weeks of felling; counted here "
            f"from {_date(calendar.inoculate_on)}. Last frost about "
            f"{_middle(calendar.last_frost)}."
        )
    if calendar.turn_on:
        days = ", ".join(_date(day) for day in calendar.turn_on)
        lines.append(f"Turn and restack about {days}.")
    wet = [w for w in calendar.waterings if w.expected >= _LEAST_WATERINGS]
    if wet:
        months = ", ".join(f"{MONTHS[w.month - 1]} {w.expected:.1f}" for w in wet)
        lines.append(f"Waterings to expect in the first year, by month: {months}.")
    lines.append(f"Spawn run done {_between(calendar.ready)}.")
    if calendar.first_soak_from:
        lines.append(f"First soak not before {_date(calendar.first_soak_from)}.")
    lines.append(f"First natural flush, if not soaked: {_between(calendar.first_natural)}.")
    if calendar.retire_after:
        lines.append(f"Worth keeping to the end of {calendar.retire_after}.")
    return lines


def _gives(crop: BatchYield, units: Units) -> list[RenderableType]:
    if not crop.years:
        words = "Nothing within three seasons: such logs are too slow at this site."
        return [Indented(words, style="bold")]
    lines = (Indented(line) for line in _life_lines(crop, units))
    return [_yield_table(crop.years, units), *lines]


def _yield_table(years: Sequence[CropOfYear], units: Units) -> RenderableType:
    columns = (
        Column("Year"),
        Column("A log gives", "right"),
        Column("In 8 of 10 cases", "right", aside="{} in 8 of 10 cases"),
        Column("All logs", "right"),
    )
    return Listing(
        columns,
        [
            Row(
                (
                    str(year.year),
                    format_weight(year.mean_kg_per_log, units),
                    f"{format_weight(year.p10_kg_per_log, units)} to "
                    f"{format_weight(year.p90_kg_per_log, units)}",
                    format_weight(year.mean_kg, units),
                )
            )
            for year in years
        ],
    )


def _life_lines(crop: BatchYield, units: Units) -> list[str]:
    low, high = crop.best_practice_share_of_fresh_wood
    return [
        f"In its life a log gives about {format_weight(crop.life_kg_per_log, units)}: "
        f"{percent_words(crop.share_of_fresh_wood)} of its fresh weight (best practice "
        f"{percent_words(low)} to {percent_words(high)}, Leatham 1982), "
        f"{percent_words(crop.share_of_dry_wood)} of its dry wood (an outdoor trial 0 to "
        f"{crop.trial_share_of_dry_wood[1] * 100:.1f}%).",
    ]


def beware(cautions: Sequence[str]) -> list[RenderableType]:
    """Return the cautions under their heading."""
    return [title("Beware"), *(Indented(caution) for caution in cautions)]


def _date(day: date) -> str:
    return f"{day_words(day)} {day.year}"


def _days(span: FromTo) -> str:
    first, last = span.first, span.last
    if first.year == last.year:
        return f"{span_words(first, last)} {last.year}"
    return f"{span_words(first, first)} {first.year} to {span_words(last, last)} {last.year}"


def _middle(days: LikelyDays) -> str:
    return "no day" if days.p50 is None else day_words(days.p50)[4:]


def _between(days: LikelyDays) -> str:
    early, middle, late = days.p10, days.p50, days.p90
    if middle is None:
        return "not within three seasons" if early is None else f"{_date(early)} at the earliest"
    words = f"about {_date(middle)}"
    if early is not None:
        words += f", in 8 of 10 cases from {_date(early)}"
        words += " on" if late is None else f" to {_date(late)}"
    return words
