"""What a group sells together in words: the table to hand round, and each member's own sheet."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from fruitcast.group.spare import SharedSale, Spare
from fruitcast.group.together import SharedSaleTold, Together
from fruitcast.units import SHOWN_AS_NONE_KG, Units, format_sale_weight, format_weight
from fruitcast.words import clean_line, count_words, day_words, percent_words

COLUMNS = ("Sale", "Wanted", "Promise", "Chance", "Offers", "Fair shares", "Could fill in")

MOST_TO_FILL_IN = 3
"""So many yards are named that could fill in."""


def together_rows(
    document: Together, units: Units, between: str = ", "
) -> tuple[tuple[str, ...], ...]:
    """Return a row for each shared sale, in the order of `COLUMNS`.

    Parameters
    ----------
    document : Together
        What is sold together.
    units : {'us', 'metric'}
        What people see.
    between : str
        What stands between two yards in one cell.
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


def together_lines(document: Together, units: Units) -> tuple[str, ...]:
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
    name: str,
    document: Together,
    spare: Spare | None,
    shared: Sequence[SharedSale],
    units: Units,
    today: date,
) -> str:
    """Return one yard's own sheet: what it offers, its share, and a soak that would fill in.

    Parameters
    ----------
    name : str
        The yard's folder.
    document : Together
        What all sell.
    spare : Spare or None
        What it has to spare.
    shared : sequence of SharedSale
        In the order of the document's sales.
    units : {'us', 'metric'}
        What people see.
    today : date
        The day.
    """
    lines = [f"{name}, {day_words(today)} {today.year}: your part of what is sold together", ""]
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
