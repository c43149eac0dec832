"""One crate from several stacks: 'pick A, G/1 and K together 3.2 kg', shared by what was expected.

Nobody knows which mushroom came from which stack. Each gets the part that it was expected to give,
so that the crate adds up, and its pick says in its note that it is a part: such a pick teaches
little of the single stack.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import TYPE_CHECKING

from fruitcast.diary.entries.picks import CRATE
from fruitcast.diary.events import Event, noted
from fruitcast.diary.state import StackState
from fruitcast.yard.model import stack_of

if TYPE_CHECKING:
    from fruitcast.diary.plan import Plan, PlannedSoak, SoakUnderWay

AskPlan = Callable[[], "Plan | None"]
"""Reads the plan last published, when it is asked for."""

NATURAL_DAYS = timedelta(days=21)
"""A natural flush is picked within so many days of the Monday that it was foretold for."""

AS_MEANT = timedelta(days=3)
"""A soak that goes in so many days before or after its planned day is that soak."""


def shares(
    stacks: Sequence[str], expected: Mapping[str, float], state: Mapping[str, StackState]
) -> list[float]:
    """Return which part of a crate came from each stack: by what was expected of it. [0..1]

    Of stacks or lots by name, [kg]; a stack in lots is its lots together. One of which nothing was
    expected counts like the others log for log; where nothing was expected of any, all do.
    """

    def of(name: str) -> list[str]:
        return [name] if name in state else [lot for lot in state if stack_of(lot) == name]

    logs = [max(sum(state[one].logs for one in of(name)), 1) for name in stacks]
    kg = [sum(expected.get(one, 0.0) for one in {name, *of(name)}) for name in stacks]
    of_logs = [count for count, weight in zip(logs, kg, strict=True) if weight > 0]
    per_log = sum(kg) / sum(of_logs) if of_logs else 1.0
    parts = [
        weight if weight > 0 else count * per_log for count, weight in zip(logs, kg, strict=True)
    ]
    return [part / sum(parts) for part in parts]


def parted(whole: Event, stacks: Sequence[str], parts: Sequence[float], said: str) -> list[Event]:
    """Return the picks that one crate makes, one for each stack, by its part (see `shares`).

    `said` is the crate's weight in words, for the note.
    """
    names = f"{', '.join(stacks[:-1])} and {stacks[-1]}"
    note = noted(f"{CRATE} {names}, {said}", whole.note)
    weights = {name: getattr(whole, name) for name in ("kg", "second_kg", "lost_kg")}
    told = {name: kg for name, kg in weights.items() if kg is not None}
    return [
        replace(whole, stack=stack, note=note, **{name: kg * part for name, kg in told.items()})
        for stack, part in zip(stacks, parts, strict=True)
    ]


def expected_on(plan: Plan, on: date) -> dict[str, float]:
    """Return what a plan expects of the flush that each stack has on a day. [kg]

    That of a soak whose logs are out of the tank, else of a flush that comes by itself about then.
    """
    found: dict[str, float] = {}
    for entry in plan.natural:
        if entry.week - timedelta(days=7) <= on <= entry.week + NATURAL_DAYS and entry.chance > 0:
            whole = entry.expected_kg / entry.chance
            found[entry.stack] = max(found.get(entry.stack, 0.0), whole)
    soaks: list[PlannedSoak | SoakUnderWay] = [*plan.under_way, *plan.soaks]
    for soak in sorted(soaks, key=lambda soak: soak.soak_on):
        if soak.pull_on <= on:
            found[soak.stack] = soak.expected_kg
    return found


def planned_hours(plan: Plan, stack: str, on: date) -> float | None:
    """Return how long a plan would have a stack in the water that goes in on about a day. [h]

    None where it has no such soak.
    """
    of_it = [s for s in plan.soaks if stack in (s.stack, stack_of(s.stack))]
    nearest = min(of_it, key=lambda soak: abs(soak.soak_on - on), default=None)
    if nearest is None or abs(nearest.soak_on - on) > AS_MEANT:
        return None
    return nearest.hours
