"""What sales brought, and which mushrooms went where."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

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
from fruitcast.diary.state import StackState
from fruitcast.diary.tables import write_rows
from fruitcast.units import Units
from fruitcast.yard.model import Stack, Yard, stack_of


@dataclass(frozen=True)
class Takings:
    """What one outlet brought in one season."""

    year: int  # see `Site.growing_year`
    outlet: str  # empty where the sales name none
    kg: float  # sold [kg]
    told_kg: float  # of it, what the diary says a price of [kg]
    paid: float  # taken for that, in the grower's own money
    price_set: float | None  # price of the outlet in yard.toml [money/kg]

    @property
    def per_kg(self) -> float | None:
        """What a kg brought; None where no price is told. [money/kg]"""
        return self.paid / self.told_kg if self.told_kg > 0 else None


def takings(
    yard: Yard, events: Sequence[Event], first: date, last: date, outlet: str | None = None
) -> tuple[Takings, ...]:
    """Return what the outlets brought between two days, both included, by season and outlet."""
    wanted: dict[tuple[int, str], list[Event]] = {}
    for event in _sales(events):
        if first <= event.on <= last and outlet in (None, event.outlet):
            wanted.setdefault((yard.site.year_of(event.on), event.outlet), []).append(event)
    prices = prices_set(yard)
    found = []
    for (year, name), sales in sorted(wanted.items()):
        told = [sale for sale in sales if sale.paid is not None]
        found.append(
            Takings(
                year,
                name,
                sum(sale.kg or 0.0 for sale in sales),
                sum(sale.kg or 0.0 for sale in told),
                sum(sale.paid or 0.0 for sale in told),
                prices.get(name),
            )
        )
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


def takings_words(row: Takings, units: Units) -> str:
    """Return a sentence on what an outlet brought, beside the price set; empty if nobody said."""
    if row.per_kg is None:
        return ""
    say = Say(units)
    of_it = f" of {say.weight(row.kg)}" if row.told_kg < row.kg - 1e-6 else ""
    words = f"{row.outlet or 'Without a name'}: {row.paid:.2f} for {say.weight(row.told_kg)}{of_it}"
    words += f", {say.price(row.per_kg)}"
    if row.price_set is None:
        return f"{words}."
    apart = row.per_kg / row.price_set - 1.0
    if abs(apart) < _SAME:
        return f"{words}, as set in yard.toml."
    how = f"{abs(apart):.0%} {'more' if apart > 0 else 'less'}"
    return f"{words}, {how} than the {say.price(row.price_set)} set in yard.toml."


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

Fate = Literal["sold", "picked for", "lost", "thrown away", Use, "not written down"]
"""What became of a part of a pick."""

_BY = re.compile(r"\bby ([^\W\d_]\w*)")


def label(stack: str, picked_on: date) -> str:
    """Return what is written on the box of one pick: 'A-2027-05-14'."""
    return f"{stack}-{picked_on.isoformat()}"


@dataclass(frozen=True)
class Trace:
    """Mushrooms of one pick that went to one outlet on one day."""

    on: date  # day of the sale, or of the pick while no sale of it is recorded
    outlet: str  # empty when the record named none
    kg: float  # weight sold, or picked [kg]
    stack: str  # empty when more was sold than the diary knows of
    picked_on: date | None  # day of the pick; None when not known
    # 'named': the seller named the pick; 'oldest first': taken from the cold store in that order;
    # 'picked for': the pick was meant for the outlet and no sale to it is recorded
    by: Literal["named", "oldest first", "picked for"]
    grade: str = ""  # 'seconds', or empty for first grade
    # Its part of what was taken for the sale, by weight, in the grower's own money
    paid: float | None = None


def traces(
    yard: Yard,
    events: Sequence[Event],
    first: date,
    last: date,
    outlet: str | None = None,
) -> tuple[Trace, ...]:
    """Return what went to the outlets between two days, both included, by date and outlet."""
    found = []
    gone, unsold = _went(yard, in_force(events))
    for withdrawal in gone:
        batch, event = withdrawal.batch, withdrawal.event
        if event.kind == SOLD:
            found.append(
                Trace(
                    event.on,
                    event.outlet,
                    batch.kg,
                    batch.stack,
                    batch.picked_on if batch.stack else None,
                    "named" if withdrawal.named else "oldest first",
                    batch.grade,
                    event.paid * batch.kg / event.kg if event.paid and event.kg else event.paid,
                )
            )
    for left in unsold:
        on = left.picked_on
        found.append(Trace(on, left.outlet, left.kg, left.stack, on, "picked for", left.grade))
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


def traceability_csv(
    traces: Sequence[Trace], lot_of: dict[str, str], stacks: Sequence[Stack]
) -> str:
    """Return the table as CSV text; `lot_of` is that of `YardState`."""
    by_name = {stack.name: stack for stack in stacks}
    rows = []
    for trace in traces:
        row = by_name.get(lot_of.get(trace.stack, trace.stack))
        rows.append(
            (
                trace.on,
                trace.outlet,
                f"{trace.kg:.3f}",
                label(trace.stack, trace.picked_on) if trace.picked_on else "",
                trace.stack,
                trace.picked_on,
                row.strain_class if row else "",
                row.strain if row else "",
                row.tree if row else "",
                trace.by,
                trace.grade,
                "" if trace.paid is None else f"{trace.paid:.2f}",
            )
        )
    return write_rows(COLUMNS, rows)


@dataclass(frozen=True)
class TracedPick:
    """A part of one pick: where it came from and where it went."""

    stack: str
    picked_on: date
    picked_by: str  # who picked, as far as anybody wrote it down
    # First days of the soaks that brought it; empty for a natural flush
    soaked_on: tuple[date, ...]
    picked_kg: float  # all that was picked of the stack on that day [kg]
    grade: str  # of this part
    # 'sold', 'picked for' (see `Trace`), 'lost', 'thrown away', 'eaten', 'dried', 'given away',
    # or 'not written down': still there, or nobody said
    went: Fate
    to: str  # the buyer, or why it was lost
    on: date | None  # day of the sale or loss, or of the pick for somebody
    kg: float  # weight of this part [kg]


def trace_sheet(
    yard: Yard,
    states: Mapping[str, StackState],
    events: Sequence[Event],
    first: date,
    last: date,
) -> tuple[TracedPick, ...]:
    """Return where each pick between two days came from and went; parts add up to the pick.

    The same sales are given to the same picks as in `traces`; the states tell the soak behind a
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
        names = dict.fromkeys(name for event in parts if (name := _picker(event)))
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
        facts = (stack, on, ", ".join(names), _soaks_behind(stack, on, states), picked)
        found += [TracedPick(*facts, *where, kg) for where, kg in went.items()]
    return tuple(found)


def _fate(event: Event) -> tuple[Fate, str]:
    """Return what a sale or discard did with its mushrooms, and to whom or why."""
    if event.kind == SOLD:
        return "sold", event.outlet
    return ("lost", event.cause) if event.cause else (put_to_use(event)[0] or "thrown away", "")


def _picker(pick: Event) -> str:
    """Return who picked: what the entry says, or a 'by' in its note."""
    noted = _BY.search(pick.note)
    return pick.by or (noted[1] if noted else "")


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
