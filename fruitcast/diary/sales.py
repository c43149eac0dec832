"""What sales brought, and which mushrooms went where."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta
from typing import Any, Literal

from pydantic import Field

from fruitcast.diary.cold_store import (
    LEAST_KG,
    SECONDS,
    StoredPick,
    Withdrawal,
    brought,
    cold_store,
    losses,
    second_kg,
)
from fruitcast.diary.events import PICK, SOLD, Event, Use, in_force, put_to_use
from fruitcast.diary.limits import Say
from fruitcast.diary.state import StackState, YardState
from fruitcast.document import Amount, Document
from fruitcast.units import Units
from fruitcast.yard.model import Yard, stack_of


class OutletTakings(Document):
    """What one outlet brought in one season."""

    year: int = Field(description="south of the equator it begins on 1 July")
    outlet: str = Field(description="empty where the sales name none")
    kg: Amount = Field(description="sold")
    told_kg: Amount = Field(description="of it, what a price was told of")
    paid: Amount = Field(description="taken for that, in the grower's own money")
    price_per_kg: Amount | None = Field(description="what a kg brought; null when not told")
    price_per_kg_set: Amount | None = Field(description="in yard.toml")
    words: str = Field(description="empty when no price was told")


def takings(
    yard: Yard, events: Sequence[Event], first: date, last: date, outlet: str | None = None
) -> tuple[OutletTakings, ...]:
    """Return what the outlets brought between two days, both included, by season and outlet."""
    wanted: dict[tuple[int, str], list[Event]] = {}
    for event in _sales(events):
        if first <= event.on <= last and outlet in (None, event.outlet):
            wanted.setdefault((yard.site.year_of(event.on), event.outlet), []).append(event)
    prices = prices_set(yard)
    found = []
    for (year, name), sales in sorted(wanted.items()):
        told = [sale for sale in sales if sale.paid is not None]
        told_kg, paid = sum(sale.kg or 0.0 for sale in told), sum(sale.paid or 0.0 for sale in told)
        row = OutletTakings(
            year=year,
            outlet=name,
            kg=sum(sale.kg or 0.0 for sale in sales),
            told_kg=told_kg,
            paid=paid,
            price_per_kg=paid / told_kg if told_kg > 0 else None,
            price_per_kg_set=prices.get(name),
            words="",
        )
        found.append(row.model_copy(update={"words": takings_words(row, yard.units)}))
    return tuple(found)


def prices_set(yard: Yard) -> dict[str, float]:
    """Return the prices in yard.toml by outlet, an outlet's own before an order's. [money/kg]"""
    of_orders = {order.outlet: order.price_per_kg for order in yard.orders}
    of_all = of_orders | {outlet.name: outlet.price_per_kg for outlet in yard.outlets}
    return {name: price for name, price in of_all.items() if price}


def highest_prices(yard: Yard, events: Iterable[Event]) -> dict[str, float]:
    """Return the most that each outlet has paid or is set to pay. [money/kg]"""
    highest = prices_set(yard)
    for sale in _sales(list(events)):
        if sale.paid and sale.kg:
            highest[sale.outlet] = max(highest.get(sale.outlet, 0.0), sale.paid / sale.kg)
    return highest


def takings_words(row: OutletTakings, units: Units) -> str:
    """Return a sentence on what an outlet brought, beside the price set; empty if nobody said."""
    if row.price_per_kg is None:
        return ""
    say = Say(units)
    of_it = f" of {say.weight(row.kg)}" if row.told_kg < row.kg - 1e-6 else ""
    words = f"{row.outlet or 'Without a name'}: {row.paid:.2f} for {say.weight(row.told_kg)}{of_it}"
    words += f", {say.price(row.price_per_kg)}"
    if row.price_per_kg_set is None:
        return f"{words}."
    apart = row.price_per_kg / row.price_per_kg_set - 1.0
    if abs(apart) < _SAME:
        return f"{words}, as set in yard.toml."
    how = f"{abs(apart):.0%} {'more' if apart > 0 else 'less'}"
    return f"{words}, {how} than the {say.price(row.price_per_kg_set)} set in yard.toml."


_SAME = 0.005
"""Prices closer than this, as a share, are the same."""


def _sales(events: Sequence[Event]) -> list[Event]:
    return [event for event in in_force(events) if event.kind == SOLD]


# Which mushrooms went where: labels of the picks, a table of sales, and a trace sheet of picks.

COLUMNS = (
    *("date", "outlet", "kg", "label", "stack", "picked_on"),
    *("strain_class", "strain", "tree", "by", "grade", "paid"),
)
"""Columns of the traceability table."""

NO_PROOF = (
    "A help in keeping your records, not proof that they meet a rule: ask locally what is wanted."
)
"""Said beside every trace sheet."""

How = Literal["named", "oldest first", "picked for"]
"""How the pick behind a sale is known."""

Fate = Literal["sold", "picked for", "lost", "thrown away", Use, "not written down"]
"""What became of a part of a pick."""

_BY = re.compile(r"\bby ([^\W\d_]\w*)")


def label(stack: str, picked_on: date) -> str:
    """Return what is written on the box of one pick: 'A-2027-05-14'."""
    return f"{stack}-{picked_on.isoformat()}"


class Sold(Document):
    """Mushrooms of one pick that went to one outlet on one day."""

    on: date = Field(validation_alias="date", serialization_alias="date")
    outlet: str = Field(description="empty when the entry named none")
    kg: Amount
    label: str | None = Field(description="stack and day of the pick; null when not known")
    stack: str = Field(description="empty when more was sold than the diary knows of")
    picked_on: date | None
    strain_class: str | None
    strain: str | None
    tree: str | None
    by: How = Field(
        description="how the pick is known: the seller named it, the cold store is emptied in that "
        "order, or it was meant for the outlet and no sale to it is written down"
    )
    grade: str = Field(description="'seconds', or empty for first grade")
    paid: Amount | None = Field(
        description="its part of what was taken, in the grower's own money; null when not told"
    )


def traces(
    yard: Yard,
    lot_of: Mapping[str, str],
    events: Sequence[Event],
    first: date,
    last: date,
    outlet: str | None = None,
) -> tuple[Sold, ...]:
    """Return what went to the outlets between two days, both included, by date and outlet.

    `lot_of` is that of `YardState`.
    """

    def sold(batch: StoredPick, on: date, outlet: str, by: How, paid: float | None = None) -> Sold:
        return Sold(
            on=on,
            outlet=outlet,
            kg=batch.kg,
            label=label(batch.stack, batch.picked_on) if batch.stack else None,
            stack=batch.stack,
            picked_on=batch.picked_on if batch.stack else None,
            by=by,
            grade=batch.grade,
            paid=paid,
            **_origin(yard, lot_of, batch.stack),
        )

    found = []
    gone, unsold = _went(yard, in_force(events))
    for withdrawal in gone:
        batch, event = withdrawal.batch, withdrawal.event
        if event.kind == SOLD:
            how: How = "named" if withdrawal.named else "oldest first"
            paid = event.paid * batch.kg / event.kg if event.paid and event.kg else event.paid
            found.append(sold(batch, event.on, event.outlet, how, paid))
    found += [sold(left, left.picked_on, left.outlet, "picked for") for left in unsold]
    wanted = [
        trace
        for trace in found
        if first <= trace.on <= last and (outlet is None or trace.outlet == outlet)
    ]
    return tuple(
        sorted(wanted, key=lambda t: (t.on, t.outlet, t.picked_on or date.min, t.stack, t.by))
    )


def _went(
    yard: Yard, valid: Sequence[Event]
) -> tuple[Sequence[Withdrawal], tuple[StoredPick, ...]]:
    """Return what went out, and what was picked for an outlet that no sale is recorded to.

    Who writes a sale down means by it what was picked for it: what is left then is no sale.
    """
    keeps = timedelta(days=yard.cold_store_days)
    share = losses(yard, valid).share
    last = max((event.on for event in valid), default=date.max)
    _, gone = cold_store(valid, saleable=share, keeps_days=yard.cold_store_days, today=last)
    left: dict[tuple[str, date, str, str], float] = {}
    for event in valid:
        if event.kind == PICK and event.outlet:
            for batch in brought(event, share):
                key = (batch.stack, batch.picked_on, batch.outlet, batch.grade)
                left[key] = left.get(key, 0.0) + batch.kg
    for withdrawal in gone:
        batch = withdrawal.batch
        key = (batch.stack, batch.picked_on, batch.outlet, batch.grade)
        if key in left and not withdrawal.aside:
            left[key] -= batch.kg
    sales = [event for event in valid if event.kind == SOLD]
    sold = {(w.batch.stack, w.batch.picked_on, w.event.outlet) for w in gone if w.event in sales}

    def written(stack: str, on: date, outlet: str) -> bool:
        return (stack, on, outlet) in sold or any(
            sale.outlet == outlet
            and on <= sale.on <= on + keeps
            and sale.stack in ("", stack)
            and sale.picked_on in (None, on)
            for sale in sales
        )

    return gone, tuple(
        StoredPick(stack, on, kg, outlet, grade)
        for (stack, on, outlet, grade), kg in left.items()
        if kg > LEAST_KG and not written(stack, on, outlet)
    )


def _origin(yard: Yard, lot_of: Mapping[str, str], stack: str) -> dict[str, Any]:
    """Return what logs a stack or lot is of; None where it has no row any more."""
    row = yard.by_name.get(lot_of.get(stack, stack))
    facts = ("strain_class", "strain", "tree", "inoculated")
    return {name: row and getattr(row, name) for name in facts}


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

    @property
    def went_words(self) -> str:
        """Where it went: 'sold to Inn', 'picked for Inn', 'lost: slugs'."""
        if not self.to:
            return self.went
        joint = {"sold": " to ", "picked for": " "}.get(self.went, ": ")
        return f"{self.went}{joint}{self.to}"


def trace_sheet(
    yard: Yard, state: YardState, events: Sequence[Event], first: date, last: date
) -> tuple[PartOfPick, ...]:
    """Return where each pick between two days came from and went; parts add up to the pick.

    The same sales are given to the same picks as in `traces`; the state tells the soak behind a
    pick.
    """
    valid = in_force(events)
    gone, unsold = _went(yard, valid)
    picks: dict[tuple[str, date], list[Event]] = {}
    for event in valid:
        if event.kind == PICK and first <= event.on <= last:
            picks.setdefault((event.stack, event.on), []).append(event)
    found = []
    for (stack, on), parts in sorted(picks.items(), key=lambda item: (item[0][1], item[0][0])):
        picked = sum(event.kg or 0.0 for event in parts)
        # Who picked: what the entry says, or a 'by' in its note
        said = (pick.by or ((by := _BY.search(pick.note)) and by[1]) for pick in parts)
        names = dict.fromkeys(filter(None, said))
        grades = {event.grade for event in parts if not second_kg(event)}
        grade = grades.pop() if len(grades) == 1 else ""
        went: dict[tuple[str, Fate, str, date | None], float] = {}
        for event in parts:
            if event.lost_kg:
                lost: tuple[str, Fate, str, date] = (grade, "lost", event.cause, on)
                went[lost] = went.get(lost, 0.0) + event.lost_kg
        for withdrawal in gone:
            batch = withdrawal.batch
            if (batch.stack, batch.picked_on) == (stack, on):
                where = (batch.grade or grade, *_fate(withdrawal.event), withdrawal.event.on)
                went[where] = went.get(where, 0.0) + batch.kg
        for meant in unsold:
            if (meant.stack, meant.picked_on) == (stack, on):
                went[meant.grade or grade, "picked for", meant.outlet, on] = meant.kg
        left = {SECONDS: sum(second_kg(event) for event in parts)}
        left[grade] = left.get(grade, 0.0) + picked - left[SECONDS]
        for (of_grade, *_), kg in went.items():
            left[of_grade] -= kg
        went |= {(g, "not written down", "", None): kg for g, kg in left.items() if kg > LEAST_KG}
        soaked_on = _soaks_behind(stack, on, state.stacks)
        found += [
            PartOfPick(
                pick=label(stack, on),
                picked_on=on,
                stack=stack,
                picked_by=", ".join(names),
                soaked_on=soaked_on,
                soak_water=yard.soaking.water if soaked_on else None,
                picked_kg=picked,
                grade=of_grade,
                went=fate,
                to=to,
                on=day,
                kg=kg,
                **_origin(yard, state.lot_of, stack),
            )
            for (of_grade, fate, to, day), kg in went.items()
        ]
    return tuple(found)


def _fate(event: Event) -> tuple[Fate, str]:
    """Return what a sale or discard did with its mushrooms, and to whom or why."""
    if event.kind == SOLD:
        return "sold", event.outlet
    return ("lost", event.cause) if event.cause else (put_to_use(event)[0] or "thrown away", "")


def _soaks_behind(stack: str, on: date, states: Mapping[str, StackState]) -> tuple[date, ...]:
    """Return the soaks that a pick of a stack, or of all of its lots, belongs to."""
    days = {
        pick.soaked_on
        for name, state in states.items()
        if stack in (name, stack_of(name))
        for pick in state.picks
        if pick.on == on and pick.soaked_on is not None
    }
    return tuple(sorted(days))
