"""One season of a yard for others to check the numbers by: what was done and picked, no names."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from fruitcast.diary.events import FRUITING, PICK, PINS, PULL, RAIN, SOAK, WATER, Event, in_force
from fruitcast.diary.state_from_diary import yard_state
from fruitcast.diary.tables import write_rows
from fruitcast.topics import OTHER_TREE
from fruitcast.yard.lots import SEPARATOR
from fruitcast.yard.model import Stack, Yard

KINDS = (
    *(SOAK, PULL, PICK, PINS, FRUITING, "nothing", WATER, RAIN),
    *("weigh", "inspect", "split", "merge", "retire"),
)
"""What is told: all that logs were done to and gave. Sales, moves and notes stay at home."""

_FIGURES = ("logs", "hours", "kg", "start_kg", "moisture_wet", "mm", "litres")

COLUMNS = (
    *("date", "kind", "stack", "into", *_FIGURES, "findings"),
    *("strain_class", "tree", "logs_inoculated", "diameter_m", "length_m", "inoculated", "spawn"),
)
"""Columns of the table; all weights in kg, moisture water over whole weight."""


def season_csv(
    yard: Yard, events: Sequence[Event], year: int, known_trees: Collection[str]
) -> tuple[str, int]:
    """Return one season as CSV text without anything that names people, places or products.

    Stacks are numbered as they stand in stacks.csv. Strains, outlets, grades, marks of sample
    logs and notes are left out, and a tree that the model doesn't know is 'other hardwood'.

    Parameters
    ----------
    yard : Yard
        The yard.
    events : sequence of Event
        The diary.
    year : int
        See `Site.growing_year`.
    known_trees : collection of str
        The tree species that the model has numbers for.

    Returns
    -------
    str
        The table, with a heading.
    int
        How many entries it holds.
    """
    first, last = yard.site.growing_year(year)
    valid = [event for event in in_force(events) if event.on <= last]
    state = yard_state(yard, events, last)
    by_row = {stack.name: stack for stack in yard.stacks}
    numbered = _Numbered(by_row)
    told = sorted(
        (event for event in valid if event.on >= first and event.kind in KINDS),
        key=lambda event: event.on,
    )
    rows = []
    for event in told:
        row = by_row.get(state.lot_of.get(event.stack, event.stack))
        rows.append(
            (
                *(event.on, event.kind, numbered.name(event.stack), numbered.name(event.into)),
                *(getattr(event, figure) for figure in _FIGURES),
                ";".join(event.findings),
                *_facts(row or by_row.get(event.stack.rpartition(SEPARATOR)[0]), known_trees),
            )
        )
    return write_rows(COLUMNS, rows), len(rows)


class _Numbered:
    """Names in the order in which they are met, those of stacks.csv first."""

    def __init__(self, rows: Collection[str]) -> None:
        self._number = {name: number for number, name in enumerate(rows, start=1)}

    def name(self, stack: str) -> str:
        """Return what stands for a stack or lot: 'S3', 'S3/1'; for none nothing."""
        if not stack:
            return ""
        base, _, lot = stack.rpartition(SEPARATOR)
        if base and lot.isdigit() and stack not in self._number:
            return f"{self.name(base)}{SEPARATOR}{lot}"
        return f"S{self._number.setdefault(stack, len(self._number) + 1)}"


def _facts(row: Stack | None, known_trees: Collection[str]) -> tuple[object, ...]:
    if row is None:
        return ("",) * 7
    tree = row.tree if row.tree in known_trees else OTHER_TREE
    size = (f"{row.diameter:.3f}", f"{row.length:.3f}")
    return (row.strain_class, tree, row.logs, *size, row.inoculated, row.spawn)
