"""The year in one table: what each stack, class, strain and tree has borne a log, and how soon."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

from fruitcast.diary.events import Event
from fruitcast.diary.state import StackState
from fruitcast.diary.state_from_diary import yard_state
from fruitcast.yard.lots import SEPARATOR
from fruitcast.yard.model import Stack, Yard

GROUPS: dict[str, Callable[[Stack, str], str]] = {
    "stack": lambda stack, name: name,
    "strain class": lambda stack, name: stack.strain_class,
    "strain": lambda stack, name: stack.strain,
    "tree": lambda stack, name: stack.tree,
    "all": lambda stack, name: "all",
}
"""What the table is grouped by, in its order."""


@dataclass(frozen=True)
class YearEndRow:
    """One line of the year's table.

    Attributes
    ----------
    group : str
        One of `GROUPS`.
    name : str
        The stack, class, strain or tree.
    logs : int
        Logs that could bear in the year: those at its end and those lost in it.
    forced_kg, natural_kg : float
        Picked in the year. [kg]
    soaks : int
        Soaks begun in the year, each lot counted.
    days_to_pick : float or None
        Mean days from the pull to the first pick, over soaks of the year that were picked. [day]
    soaks_picked : int
        Soaks behind that mean.
    """

    group: str
    name: str
    logs: int
    forced_kg: float
    natural_kg: float
    soaks: int
    days_to_pick: float | None
    soaks_picked: int

    @property
    def kg(self) -> float:
        """All picked in the year. [kg]"""
        return self.forced_kg + self.natural_kg

    @property
    def kg_per_log(self) -> float | None:
        """Weight for each log, None without logs. [kg/log]"""
        return self.kg / self.logs if self.logs else None


def year_end(
    yard: Yard, events: Sequence[Event], year: int, today: date | None = None
) -> list[YearEndRow]:
    """Return the table of a year, by stack, strain class, strain and tree, and over all.

    Parameters
    ----------
    yard : Yard
        The yard.
    events : sequence of Event
        The diary.
    year : int
        The calendar year; south of the equator the growing season that begins in it.
    today : date or None
        Read the diary only to this day; None is the end of the year.
    """
    first, last = yard.site.growing_year(year)
    after = yard_state(yard, events, min(last, today or last))
    rows = {stack.name: stack for stack in yard.stacks}
    members: dict[tuple[str, str], list[tuple[StackState, int]]] = {}
    for name, state in after.stacks.items():
        row = rows[after.lot_of[name]]
        if row.inoculated > last:
            continue
        logs = state.logs + sum(lost for on, lost in state.lost if on >= first)
        stack_name = name.rpartition(SEPARATOR)[0] or name
        for group, key in GROUPS.items():
            members.setdefault((group, key(row, stack_name)), []).append((state, logs))
    table = [
        _row(group, name, members[group, name], first, last)
        for group in GROUPS
        for g, name in members
        if g == group
    ]
    return [row for row in table if row.logs or row.kg or row.soaks]


def _row(
    group: str, name: str, states: Sequence[tuple[StackState, int]], first: date, last: date
) -> YearEndRow:
    picks = [pick for state, _ in states for pick in state.picks if first <= pick.on <= last]
    soaks = [
        (state, soak) for state, _ in states for soak in state.soaks if first <= soak.on <= last
    ]
    waits = []
    for state, soak in soaks:
        picked = [pick.on for pick in state.picks if pick.soaked_on == soak.on]
        if picked and soak.pulled_on is not None:
            waits.append((min(picked) - soak.pulled_on).days)
    return YearEndRow(
        group=group,
        name=name,
        logs=sum(logs for _, logs in states),
        forced_kg=sum(pick.kg for pick in picks if pick.kind == "forced"),
        natural_kg=sum(pick.kg for pick in picks if pick.kind == "natural"),
        soaks=len(soaks),
        days_to_pick=sum(waits) / len(waits) if waits else None,
        soaks_picked=len(waits),
    )
