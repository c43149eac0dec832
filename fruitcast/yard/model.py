"""What the grower has, in SI units: the yard, its stacks and their lots, outlets and limits.

These classes only hold what was read and checked elsewhere (`settings`, `stacks`).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date, time
from functools import cached_property
from math import inf
from pathlib import Path
from typing import Literal
from zoneinfo import ZoneInfo

from fruitcast.errors import InputError
from fruitcast.tables.values import MonthDay
from fruitcast.topics import SpawnForm, StrainClass

# Lots: a stack too large to be soaked at once is soaked in parts, each with its own state.
#
# It is too large when it does not fit the tank, or when the grower wants smaller soaks: a whole
# stack's flush may be more than a market day can take.

SEPARATOR = "/"
"""Stands between a stack's name and the number of the lot, so no stack's name may hold it."""


def stack_of(name: str) -> str:
    """Return the stack of a lot; a stack that isn't parted is its own."""
    return name.rpartition(SEPARATOR)[0] or name


def lots_of(stack_name: str, logs: int, logs_at_once: int) -> tuple[tuple[str, int], ...]:
    """Return the lots of a stack, name and logs: as few as go, of sizes within one log.

    The stack itself when it is soaked whole, else 'A/1', 'A/2', the larger ones first. Raises
    InputError if no log may be soaked.
    """
    if logs_at_once < 1:
        raise InputError(
            f"A tank for {logs_at_once} logs soaks nothing. Give tank_logs of 1 or more."
        )
    if logs <= logs_at_once:
        return ((stack_name, logs),)
    lots = -(-logs // logs_at_once)
    size, larger = divmod(logs, lots)
    return tuple(
        (f"{stack_name}{SEPARATOR}{number}", size + (number <= larger))
        for number in range(1, lots + 1)
    )


# What the grower has, in SI units: the yard, its stacks, outlets and limits.

TankWater = Literal["spring", "well", "mains", "pond"]
TANK_WATERS: tuple[TankWater, ...] = ("spring", "well", "mains", "pond")


def in_season(day: date, first: date | MonthDay | None, last: date | MonthDay | None) -> bool:
    """Return whether a day lies from `first` to `last`, both included; None is no limit.

    Dates once, or month and day of every year: a season whose first day comes after its last one
    spans the New Year.
    """
    after = first is None or _compare(day, first) >= 0
    before = last is None or _compare(day, last) <= 0
    if isinstance(first, tuple) and isinstance(last, tuple) and first > last:
        return after or before
    return after and before


def _compare(day: date, bound: date | MonthDay) -> int:
    """-1, 0 or 1 as the day comes before, on or after the bound."""
    if isinstance(bound, date):
        return (day > bound) - (day < bound)
    month_day = (day.month, day.day)
    return (month_day > bound) - (month_day < bound)


@dataclass(frozen=True)
class Site:
    """Where the laying yard is."""

    latitude: float  # [degree, north and east positive]
    longitude: float  # [degree, north and east positive]
    elevation: float  # height above the sea [m]
    timezone: ZoneInfo  # time zone of the soak and pull times
    shade: float  # share of the sky's light kept off the logs [0..1]

    def growing_year(self, year: int) -> tuple[date, date]:
        """Return the first and last day of a year that no growing season is cut by.

        North of the equator it is the calendar year; south of it, from midwinter on, 1 July to
        30 June.
        """
        if self.latitude >= 0:
            return date(year, 1, 1), date(year, 12, 31)
        return date(year, 7, 1), date(year + 1, 6, 30)

    def year_of(self, day: date) -> int:
        """Return the growing year that a day is in."""
        return day.year if day >= self.growing_year(day.year)[0] else day.year - 1


@dataclass(frozen=True)
class WeatherSource:
    """Where the daily weather comes from: a file in the yard or a station."""

    file: Path | None  # absolute path of the weather file
    station: str | None  # a station's identifier, or 'nearest'
    years: int  # how many past years stand for the possible futures
    # Who asks for a forecast where the station has none; None asks for none
    contact: str | None = None


@dataclass(frozen=True)
class Soaking:
    """When and how much may be soaked."""

    days: tuple[int, ...]  # weekdays on which soaks start, Monday 0
    tank_logs: int  # logs that fit the tank at one time
    start: time  # local time at which logs go in and come out
    # Soaking season; None is no limit. May span the New Year.
    first: MonthDay | None
    last: MonthDay | None
    # Hours of work a day for soaking and pulling, on all days or by weekday from Monday on; None
    # is no limit [h/day]
    hours_a_day: float | tuple[float, ...] | None
    # Most logs of a stack that are soaked together, or that stacks are soaked whole as far as
    # they fit the tank; None: as the diary says
    lot_logs: int | Literal["whole"] | None = None
    # The grower's own rest from soak day to soak day; None: that of the numbers [day]
    rest_days: int | None = None
    # One of `TANK_WATERS`: where the tank's water comes from; None: nothing was said
    water: TankWater | None = None

    def hours_on(self, day: date) -> float:
        """Return the hours of work on a day, without end where nothing limits them. [h]"""
        if self.hours_a_day is None:
            return inf
        if isinstance(self.hours_a_day, tuple):
            return self.hours_a_day[day.weekday()]
        return self.hours_a_day

    def permits(self, day: date) -> bool:
        """Return whether a soak may start on a day, by weekday and season alone."""
        return day.weekday() in self.days and in_season(day, self.first, self.last)


@dataclass(frozen=True)
class FruitingPlaces:
    """Where logs stand from the pull to the last pick."""

    places: int | None = None  # logs that can stand there at one time; None is no limit
    under_cover: bool = False  # whether a roof keeps the rain off them


@dataclass(frozen=True)
class Outlet:
    """A regular sale on one day of the week."""

    name: str
    weekday: int  # Monday 0
    target_kg: float  # fresh mushrooms wanted each time [kg]
    # Season of the outlet: dates once, or month and day of every year; None is no limit
    first: date | MonthDay | None
    last: date | MonthDay | None
    price_per_kg: float | None  # the grower's own price, in their own money
    weight: float  # how much a kilogram short here counts against one elsewhere
    closed: frozenset[date]  # days on which the outlet does not open

    def sells_on(self, day: date) -> bool:
        """Return whether the outlet wants anything on a day; one whose target is 0 is paused."""
        return (
            self.target_kg > 0
            and day.weekday() == self.weekday
            and day not in self.closed
            and in_season(day, self.first, self.last)
        )


@dataclass(frozen=True)
class Order:
    """A single sale on one date. Attributes as in `Outlet`."""

    outlet: str
    on: date
    target_kg: float
    price_per_kg: float | None
    weight: float


@dataclass(frozen=True)
class Away:
    """Days without soaking, pulling or picking, both ends included."""

    first: date | MonthDay  # dates once, or month and day of every year
    last: date | MonthDay  # dates once, or month and day of every year

    def covers(self, day: date) -> bool:
        """Return whether the grower is away on a day."""
        return in_season(day, self.first, self.last)


@dataclass(frozen=True)
class Costs:
    """What the grower pays, in their own money; None for what they did not enter."""

    log: float | None = None  # a log, felled and brought home [money/log]
    plug: float | None = None  # a piece of spawn [money]
    thimble: float | None = None  # a piece of spawn [money]
    sawdust: float | None = None  # [money/kg]
    wax: float | None = None  # [money/kg]
    wage: float | None = None  # an hour of work, the grower's own if they count it [money/h]
    hours_per_kg: float | None = None  # picking, packing and selling [h/kg]


@dataclass(frozen=True)
class Wood:
    """Logs that the grower can get for inoculation."""

    tree: str  # tree species, lower case
    diameter: float  # over bark [m]
    length: float  # over bark [m]
    logs_a_year: int | None = None  # most logs a year; None is no limit
    log_cost: float | None = None  # a log of it, where it differs from `Costs.log` [money/log]
    spawn: SpawnForm | None = None  # one of `SPAWN_FORMS`; the yard's usual form when None
    strain_class: StrainClass | None = None  # one of `STRAIN_CLASSES`; any when None


@dataclass(frozen=True)
class Stack:
    """A set of logs inoculated, soaked and rested together, as the grower listed it."""

    name: str  # as on the stack's tag
    strain_class: StrainClass  # one of `STRAIN_CLASSES`
    strain: str  # the grower's own words
    tree: str  # tree species, lower case; an open list
    logs: int
    diameter: float  # mean diameter over bark [m]
    length: float  # mean length [m]
    inoculated: date
    spawn: SpawnForm  # one of `SPAWN_FORMS`
    note: str = ""
    # Day of its first mushrooms where the grower knows it; overrules the reckoned spawn run
    bearing_since: date | None = None


@dataclass(frozen=True)
class Yard:
    """The whole yard as read from its folder."""

    folder: Path
    name: str
    units: Literal["us", "metric"]  # what people see; inside all is SI
    site: Site
    weather: WeatherSource
    soaking: Soaking
    # Wet-basis log moisture below which logs are watered; None: nobody waters [kg/kg wet]
    keep_above: float | None
    cold_store_days: int  # days that picked mushrooms keep in the cold store [day]
    # Share of the crop that can be sold: as the settings say, or as the yard's own picks have
    # taught [0..1]
    saleable: float
    promise: float  # the chance asked of a promise [0..1]
    outlets: tuple[Outlet, ...]
    orders: tuple[Order, ...]
    away: tuple[Away, ...]
    stacks: tuple[Stack, ...]
    costs: Costs = Costs()
    woods: tuple[Wood, ...] = ()
    # The grower's overrides of judgement numbers, by key
    numbers: dict[str, float] = field(default_factory=dict)
    warnings: tuple[str, ...] = ()
    fruiting: FruitingPlaces = FruitingPlaces()  # where logs stand from the pull to the last pick
    # What the settings say of `saleable` where that was learned; None where it was not [0..1]
    saleable_set: float | None = None

    @cached_property
    def by_name(self) -> dict[str, Stack]:
        """The stacks by name."""
        return {stack.name: stack for stack in self.stacks}

    def with_saleable(self, share: float) -> Yard:
        """Return the yard with the saleable share that its picks have taught. [0..1]"""
        return replace(self, saleable=share, saleable_set=self.believed_saleable)

    @property
    def believed_saleable(self) -> float:
        """Share of the crop that can be sold before any pick has taught it. [0..1]"""
        return self.saleable if self.saleable_set is None else self.saleable_set

    @property
    def logs_at_once(self) -> int:
        """Most logs of one stack that are soaked, and then fruit, together."""
        soaking = self.soaking
        limits = (soaking.tank_logs, soaking.lot_logs, self.fruiting.places)
        return min(logs for logs in limits if isinstance(logs, int))

    @property
    def sells(self) -> bool:
        """Whether anything is sold; else the mushrooms are for the grower's own table."""
        return bool(self.outlets or self.orders)

    @property
    def diary_file(self) -> Path:
        """The diary's database."""
        return self.folder / "diary.db"

    @property
    def out_folder(self) -> Path:
        """Where plans and reports are published."""
        return self.folder / "out"
