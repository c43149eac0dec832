"""Many yards in words: a round's line for each, and what a group sells together."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from rich.console import Group, RenderableType

from fruitcast.group.joint_sales import JointSales, SharedSaleTold, Spare
from fruitcast.group.round import Round, YardRow
from fruitcast.outputs.listing import Column, Listing, Row, lines, title
from fruitcast.units import SHOWN_AS_NONE_KG, Units, format_sale_weight, format_weight
from fruitcast.words import clean_line, count_words, dated_words, day_words, percent_words
from fruitcast.yard.model import stack_of

COLUMNS = ("Yard", "Soak this week", "Promised too much", "Dry logs", "Weather", "Diary")


@dataclass(frozen=True)
class RowWords:
    """A yard of the round as one says it; what is in order is empty."""

    yard: str  # its name, and its folder's where that is another
    soaks: str = ""
    promises: str = ""
    dry: str = ""
    weather: str = ""
    diary: str = ""
    faults: tuple[str, ...] = ()  # why it wasn't planned

    @property
    def cells(self) -> tuple[str, ...]:
        """Its cells, in the order of `COLUMNS`."""
        return (self.yard, self.soaks, self.promises, self.dry, self.weather, self.diary)


def round_rows(document: Round) -> tuple[RowWords, ...]:
    """Return a round's yards in words."""
    return tuple(row_words(row, document.today, document.units) for row in document.yards)


def row_words(row: YardRow, today: date, units: Units) -> RowWords:
    """Return one yard in words."""
    called = clean_line(row.name)
    yard = row.yard if not called or called == row.yard else f"{called} ({row.yard})"
    if row.faults:
        return RowWords(yard, faults=tuple(clean_line(fault) for fault in row.faults))
    return RowWords(
        yard,
        soaks=_joined(
            f"{soak.stack} {day_words(soak.soak_on)} ({count_words(soak.logs, 'log')})"
            for soak in row.soaks
        ),
        promises=_joined(
            f"{clean_line(sale.outlet)} {day_words(sale.on)}: "
            f"{format_weight(sale.given_kg, units)} given, "
            f"{format_weight(sale.promise_kg, units)} likely enough"
            for sale in row.overpromised
        ),
        dry=_joined(
            f"{dry.stack}"
            + (f" {percent_words(dry.moisture_wet)}" if dry.moisture_wet is not None else "")
            + (" urgent" if dry.urgent else "")
            for dry in row.dry
        ),
        weather=_weather(row, today) if row.weather_stale else "",
        diary=_diary(row, today),
    )


def _weather(row: YardRow, today: date) -> str:
    if row.weather_until is None:
        return "nothing observed"
    return f"ends {day_words(row.weather_until, today)}"


def _diary(row: YardRow, today: date) -> str:
    parts = []
    if row.diary_silent and row.diary_until is None:
        parts.append("never written")
    elif row.diary_silent and row.diary_until is not None:
        days = (today - row.diary_until).days
        parts.append(f"silent for {count_words(days, 'day')}")
    if row.unrecorded:
        missed = (f"{soak.stack} {day_words(soak.soak_on)}" for soak in row.unrecorded)
        parts.append(f"soak not written down: {', '.join(missed)}")
    return "; ".join(parts)


def _joined(parts: Iterable[str]) -> str:
    return ", ".join(clean_line(part) for part in parts)


def round_lines(document: Round) -> tuple[str, ...]:
    """Return what comes first: the round in a few sentences."""
    rows = document.yards
    planned = [row for row in rows if row.planned]
    soaking = [row for row in planned if row.soaks]
    soaks = [soak for row in planned for soak in row.soaks]
    # Lots of one stack are one stack.
    stacks = {(row.yard, stack_of(s.stack)) for row in planned for s in row.soaks}
    lines = []
    if planned:
        lines.append(
            f"{_of(len(soaking), len(planned))} {_has(len(soaking))} something to soak this week"
            + (
                f": {count_words(len(stacks), 'stack')}, "
                f"{count_words(sum(soak.logs for soak in soaks), 'log')}."
                if soaks
                else "."
            )
        )
    for many, words in (
        (sum(bool(row.overpromised) for row in planned), "promised more than is likely to come"),
        (sum(bool(row.dry) for row in planned), "logs that want water this week"),
        (sum(row.weather_stale for row in planned), "weather that ends too early"),
        (sum(row.diary_silent for row in planned), "a silent diary"),
        (sum(bool(row.unrecorded) for row in planned), "soaks that nobody wrote down"),
    ):
        if many:
            lines.append(f"{count_words(many, 'yard')} {_has(many)} {words}.")
    faulty = len(rows) - len(planned)
    if faulty:
        lines.append(f"{count_words(faulty, 'yard')} could not be planned; see below why.")
    return tuple(lines)


def _of(many: int, all_of_them: int) -> str:
    if many == all_of_them:
        return "The only yard" if many == 1 else f"All {many} yards"
    return f"{many or 'None'} of {count_words(all_of_them, 'yard')}"


def _has(many: int) -> str:
    return "have" if many > 1 else "has"


# What a group sells together in words: the table to hand round, and each member's own sheet.

OFFER_COLUMNS = ("Sale", "Wanted", "Promise", "Chance", "Offers", "Fair shares", "Could fill in")

MOST_TO_FILL_IN = 3
"""So many yards are named that could fill in."""


def joint_sales_rows(
    document: JointSales, units: Units, between: str = ", "
) -> tuple[tuple[str, ...], ...]:
    """Return a row for each shared sale, in the order of `COLUMNS`.

    `between` stands between two yards in one cell.
    """
    return tuple(
        (
            f"{day_words(sale.on)}: {clean_line(sale.outlet)}",
            format_weight(sale.target_kg, units),
            format_sale_weight(sale.promise_kg, units),
            percent_words(sale.chance),
            _listed(sale, [one.offer_kg for one in sale.offers], units, between) or "none",
            _listed(sale, [one.share_kg for one in sale.offers], units, between) or "none",
            _fill_in(sale, units, between),
        )
        for sale in document.sales
    )


def _fill_in(sale: SharedSaleTold, units: Units, between: str) -> str:
    """Return who could bring most with one more soak."""
    able = [(one.more_kg, one.yard, one.soak_by) for one in sale.offers if one.more_kg]
    able.sort(key=lambda found: (-found[0], found[1]))
    return between.join(
        f"{yard} {format_weight(kg, units)} soaked {day_words(on)}"
        for kg, yard, on in able[:MOST_TO_FILL_IN]
        if on is not None
    )


def _listed(sale: SharedSaleTold, weights: Sequence[float], units: Units, between: str) -> str:
    return between.join(
        f"{one.yard} {format_weight(kg, units)}"
        for one, kg in zip(sale.offers, weights, strict=True)
        if kg >= SHOWN_AS_NONE_KG
    )


def joint_sales_lines(document: JointSales, units: Units) -> tuple[str, ...]:
    """Return what comes first: how far the offers reach."""
    lines = []
    if document.note:
        lines.append(document.note)
    if document.sales:
        wanted = sum(sale.target_kg for sale in document.sales)
        sure = sum(sale.promise_kg for sale in document.sales)
        short = [sale for sale in document.sales if sale.missing_kg >= SHOWN_AS_NONE_KG]
        yards = count_words(len(document.yards), "yard")
        sales = count_words(len(document.sales), "sale")
        lines.append(
            f"{format_weight(wanted, units)} are wanted at {sales}; {yards} together can promise "
            f"{format_sale_weight(sure, units)} of it with a chance of "
            f"{percent_words(document.promise)}, over "
            f"{count_words(document.weather_years, 'weather year')}."
        )
        if short:
            first = short[0]
            lines.append(
                f"{count_words(len(short), 'sale')} can't be promised in full, first "
                f"{clean_line(first.outlet)} on {day_words(first.on)}: "
                f"{format_weight(first.missing_kg, units)} are missing."
            )
        else:
            lines.append("All of them can be promised in full.")
    if document.left_out:
        lines.append(f"Not reckoned with: {', '.join(document.left_out)}.")
    return tuple(lines)


def member_words(
    name: str, document: JointSales, spare: Spare | None, units: Units, today: date
) -> str:
    """Return one yard's own sheet: what it offers, its share, and a soak that would fill in.

    `name` is its folder's.
    """
    lines = [f"{name}, {dated_words(today)}: your part of what is sold together", ""]
    if spare is None or not document.sales:
        return "\n".join([*lines, document.note or "Nothing is sold together.", ""])
    for number, sale in enumerate(document.sales):
        own = next(one for one in sale.offers if one.yard == name)
        lines.append(
            f"{day_words(sale.on)}, {clean_line(sale.outlet)}: you can offer "
            f"{format_sale_weight(own.offer_kg, units)}, your fair share is "
            f"{format_sale_weight(own.share_kg, units)}."
        )
        more = spare.fill_in[number]
        if own.soak_by is not None and more is not None:
            lines.append(
                f"  The sale is short. If you like: {more.stack} soaked on "
                f"{day_words(more.soak_on)} would bring about {format_weight(more.kg, units)} "
                "more, and your own sales get no less."
            )
    if any("If you like" in line for line in lines):
        lines += [
            "",
            "Each of these soaks is told by itself: a stack goes into the tank for one only.",
        ]
    return "\n".join([*lines, ""])


# The same for the terminal.

NEAR_SALES = 8
"""Shared sales told one by one."""


def round_table(document: Round) -> RenderableType:
    """Return a round: the answer first, then a row for each yard with what is to be done there."""
    rows = round_rows(document)
    listed = [
        Row(row.yard, row.soaks or "nothing", note=_note(row.cells[2:]))
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
            *cells[:4],
            note="; ".join(
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
