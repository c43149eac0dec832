"""Which mushrooms went where: labels of the picks, a table of sales, and a trace sheet of picks."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from fruitcast.diary.cold_store import LEAST_KG, brought, cold_store
from fruitcast.diary.events import PICK, SOLD, Event, in_force
from fruitcast.diary.saleable import SECONDS, losses, second_kg
from fruitcast.diary.state import StackState
from fruitcast.diary.tables import write_rows
from fruitcast.yard.lots import SEPARATOR
from fruitcast.yard.model import Stack, Yard

COLUMNS = (
    *("date", "outlet", "kg", "label", "stack", "picked_on"),
    *("strain_class", "strain", "tree", "by", "grade", "paid"),
)
"""Columns of the traceability table."""

NO_PROOF = (
    "A help in keeping your records, not proof that they meet a rule: ask locally what is wanted."
)
"""Said beside every trace sheet."""

Fate = Literal["sold", "lost", "thrown away", "not written down"]
"""What became of a part of a pick."""

_BY = re.compile(r"\bby ([^\W\d_]\w*)")


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
    grade : str
        'seconds', or empty for first grade.
    paid : float or None
        Its part of what was taken for the sale, by weight, in the grower's own money.
    """

    on: date
    outlet: str
    kg: float
    stack: str
    picked_on: date | None
    by: Literal["named", "oldest first", "picked for"]
    grade: str = ""
    paid: float | None = None


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
        if key in left and not withdrawal.aside:
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
                    batch.grade,
                    event.paid * batch.kg / event.kg if event.paid and event.kg else event.paid,
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
                trace.grade,
                "" if trace.paid is None else f"{trace.paid:.2f}",
            )
        )
    return write_rows(COLUMNS, rows)


@dataclass(frozen=True)
class TracedPick:
    """A part of one pick: where it came from and where it went.

    Attributes
    ----------
    stack : str
        Stack or lot.
    picked_on : date
        Day of the pick.
    picked_by : str
        Who picked, as far as anybody wrote it down.
    soaked_on : tuple of date
        First days of the soaks that brought it; empty for a natural flush.
    picked_kg : float
        All that was picked of the stack on that day. [kg]
    grade : str
        Of this part.
    went : str
        'sold', 'lost', 'thrown away', or 'not written down': still there, or nobody said.
    to : str
        The buyer, or why it was lost.
    on : date or None
        Day of the sale or loss.
    kg : float
        Weight of this part. [kg]
    """

    stack: str
    picked_on: date
    picked_by: str
    soaked_on: tuple[date, ...]
    picked_kg: float
    grade: str
    went: Fate
    to: str
    on: date | None
    kg: float


def trace_sheet(
    yard: Yard,
    states: Mapping[str, StackState],
    events: Sequence[Event],
    first: date,
    last: date,
) -> tuple[TracedPick, ...]:
    """Return where each pick between two days came from and went; parts add up to the pick.

    Parameters
    ----------
    yard : Yard
        See `traces`: the same sales are given to the same picks.
    states : mapping of str to StackState
        The stacks and lots, for the soak behind a pick.
    events : sequence of Event
        The diary.
    first, last : date
        Days of the picks, both included.
    """
    valid = in_force(events)
    share = losses(yard, valid).share
    today = max((event.on for event in valid), default=last)
    _, gone = cold_store(valid, saleable=share, keeps_days=yard.cold_store_days, today=today)
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
    return ("lost", event.cause) if event.cause else ("thrown away", "")


def _picker(pick: Event) -> str:
    """Return who picked: what the entry says, or a 'by' in its note."""
    noted = _BY.search(pick.note)
    return pick.by or (noted[1] if noted else "")


def _soaks_behind(stack: str, on: date, states: Mapping[str, StackState]) -> tuple[date, ...]:
    """Return the soaks that a pick of a stack, or of all of its lots, belongs to."""
    days = {
        pick.soaked_on
        for name, state in states.items()
        if stack in (name, name.rpartition(SEPARATOR)[0])
        for pick in state.picks
        if pick.on == on and pick.soaked_on is not None
    }
    return tuple(sorted(days))
