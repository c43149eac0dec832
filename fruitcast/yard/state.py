"""What the diary says about each stack today: the facts that the planner starts from."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Literal


@dataclass(frozen=True)
class Pick:
    """One picking of one stack.

    Attributes
    ----------
    on : date
        Day of the pick.
    kg : float
        Fresh weight. [kg]
    kind : str
        'forced' when it belongs to a soak, else 'natural'.
    soaked_on : date or None
        First day of the soak it belongs to.
    """

    on: date
    kg: float
    kind: Literal["forced", "natural"]
    soaked_on: date | None = None


@dataclass(frozen=True)
class Soak:
    """One soak as recorded. `pulled_on` is None while the logs are in the tank."""

    on: date
    logs: int
    hours: float | None
    pulled_on: date | None


@dataclass(frozen=True)
class StackState:
    """One stack (or lot) as the diary leaves it today.

    Attributes
    ----------
    name : str
        Stack, or lot like 'A/1'.
    logs : int
        Living logs today, after deaths, retirements, splits and merges.
    soaks : tuple of Soak
        In order of date.
    picks : tuple of Pick
        In order of date.
    pins_on : date or None
        Pins last seen and not picked since.
    fruiting_on : date or None
        A flush last seen in the open and not followed by a pick.
    natural_seen_on : date or None
        First natural flush ever seen (it proves the spawn run done).
    spawn_run_seen_on : date or None
        First inspection that found the spawn run done (white ends all over).
    moisture_seen : tuple of (date, float)
        Log moisture from weighed sample logs, in order of date. [kg/kg dry wood]
    watered : tuple of (date, float)
        Waterings, in order of date. [mm on the logs]
    """

    name: str
    logs: int
    soaks: tuple[Soak, ...] = ()
    picks: tuple[Pick, ...] = ()
    pins_on: date | None = None
    fruiting_on: date | None = None
    natural_seen_on: date | None = None
    spawn_run_seen_on: date | None = None
    moisture_seen: tuple[tuple[date, float], ...] = ()
    watered: tuple[tuple[date, float], ...] = ()

    @property
    def last_soak(self) -> Soak | None:
        """The latest soak, if any."""
        return self.soaks[-1] if self.soaks else None

    @property
    def in_tank(self) -> bool:
        """Whether the logs stand in the tank today."""
        return bool(self.soaks) and self.soaks[-1].pulled_on is None

    @property
    def picked_kg(self) -> float:
        """All that was picked from the stack so far. [kg]"""
        return sum(pick.kg for pick in self.picks)


@dataclass(frozen=True)
class YardState:
    """All that the diary says today.

    Attributes
    ----------
    stacks : dict of str to StackState
        By stack or lot name; stacks larger than the tank appear as lots 'A/1', 'A/2'.
    lot_of : dict of str to str
        Lot or stack name to the name of its row in stacks.csv.
    stock : tuple of (date, float)
        Saleable mushrooms in the cold store: day picked and weight. [kg]
    rain_gauge : dict of date to float
        The grower's own rain gauge. [mm/day]
    published : dict of str to date
        Next soak day of each stack in the plan last published.
    """

    stacks: dict[str, StackState]
    lot_of: dict[str, str]
    stock: tuple[tuple[date, float], ...] = ()
    rain_gauge: dict[date, float] = field(default_factory=dict)
    published: dict[str, date] = field(default_factory=dict)
