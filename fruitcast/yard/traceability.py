"""Which mushrooms went where: labels of the picks, and a table by date and outlet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from fruitcast.yard.cold_store import brought, cold_store
from fruitcast.yard.diary_csv import write_rows
from fruitcast.yard.events import PICK, SOLD, Event, in_force
from fruitcast.yard.model import Stack, Yard
from fruitcast.yard.saleable import losses

COLUMNS = (
    *("date", "outlet", "kg", "label", "stack", "picked_on"),
    *("strain_class", "strain", "tree", "by"),
)
"""Columns of the traceability table."""


def label(stack: str, picked_on: date) -> str:
    """Return what is written on the box of one pick: 'A-2027-05-14'."""
    return f"{stack}-{picked_on.isoformat()}"


@dataclass(frozen=True)
class Trace:
    """Mushrooms of one pick that went to one outlet on one day.

    Attributes
    ----------
    on : date
        Day of the sale, or of the pick while no sale of it is recorded.
    outlet : str
        Empty when the record named none.
    kg : float
        Weight sold, or picked. [kg]
    stack : str
        Empty when more was sold than the diary knows of.
    picked_on : date or None
        Day of the pick; None when not known.
    by : str
        'named': the seller named the pick; 'oldest first': taken from the cold store in that
        order; 'picked for': the pick was meant for the outlet and no sale is recorded.
    """

    on: date
    outlet: str
    kg: float
    stack: str
    picked_on: date | None
    by: Literal["named", "oldest first", "picked for"]


def traces(
    yard: Yard,
    events: Sequence[Event],
    first: date,
    last: date,
    outlet: str | None = None,
) -> tuple[Trace, ...]:
    """Return what went to the outlets between two days, both included, by date and outlet.

    Parameters
    ----------
    yard : Yard
        For the saleable share believed before and the days that mushrooms keep.
    events : sequence of Event
        The diary.
    first, last : date
        Days asked for.
    outlet : str or None
        One outlet only.
    """
    valid = in_force(events)
    saleable = losses(yard, [event for event in valid if event.on <= last]).share
    _, gone = cold_store(valid, saleable=saleable, keeps_days=yard.cold_store_days, today=last)
    found = []
    left: dict[tuple[str, date, str], float] = {}
    for event in valid:
        if event.kind == PICK and event.outlet and event.on <= last:
            key = (event.stack, event.on, event.outlet)
            left[key] = left.get(key, 0.0) + sum(batch.kg for batch in brought(event, saleable))
    for withdrawal in gone:
        batch, event = withdrawal.batch, withdrawal.event
        key = (batch.stack, batch.picked_on, batch.outlet)
        if key in left:
            left[key] -= batch.kg
        if event.kind == SOLD:
            found.append(
                Trace(
                    event.on,
                    event.outlet,
                    batch.kg,
                    batch.stack,
                    batch.picked_on if batch.stack else None,
                    "named" if withdrawal.named else "oldest first",
                )
            )
    for (stack, picked_on, meant_for), kg in left.items():
        if kg > 1e-6:
            found.append(Trace(picked_on, meant_for, kg, stack, picked_on, "picked for"))
    wanted = [
        trace
        for trace in found
        if first <= trace.on <= last and (outlet is None or trace.outlet == outlet)
    ]
    return tuple(
        sorted(wanted, key=lambda t: (t.on, t.outlet, t.picked_on or date.min, t.stack, t.by))
    )


def traceability_csv(
    traces: Sequence[Trace], lot_of: dict[str, str], stacks: Sequence[Stack]
) -> str:
    """Return the table as CSV text.

    Parameters
    ----------
    traces : sequence of Trace
        The rows.
    lot_of : dict of str to str
        Lot to stack, see `YardState`.
    stacks : sequence of Stack
        The yard's stacks.
    """
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
            )
        )
    return write_rows(COLUMNS, rows)
