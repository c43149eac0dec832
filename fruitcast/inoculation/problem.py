"""The programme as data: pools of logs, what one log gives each season, what a solution says.

Seasons count from this one, 0; days from the Monday on or before midwinter of season 0, each
season 364 days long. A unit is a log whose factor (tree, size, bearing year) is 1: crops are
counted in units, tank and hands in logs.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from fruitcast.arrays import FloatArray, IntArray
from fruitcast.biology.spawn_run import required_progress
from fruitcast.biology.yields import (
    Hemisphere,
    first_bearing_season,
    hemisphere,
    season,
    stack_factor,
)
from fruitcast.forecast.outlook import YardOutlook
from fruitcast.forecast.past_seasons import season_grid_start
from fruitcast.forecast.stacks import StackOutlook, bearing_ages, seasons_of
from fruitcast.forecast.yield_tables import SEASON_DAYS, SEASON_WEEKS, SeasonTable
from fruitcast.numbers import Numbers
from fruitcast.topics import SpawnForm, StrainClass, TreeNumbers, YieldsNumbers
from fruitcast.yard.model import Outlet


@dataclass(frozen=True)
class SaleDay:
    """What all outlets want on one day."""

    day: int  # day of the programme [day]
    target: float  # wanted [kg]

    @property
    def season(self) -> int:
        """The season it falls in."""
        return self.day // SEASON_DAYS


@dataclass(frozen=True)
class Pool:
    """Logs that bear alike in one season."""

    season: int
    strain_class: str
    start_week: int  # week from which they can bear; 0 when rested since last autumn
    standing_units: float  # units of the logs that stand already [unit]
    units: Mapping[int, float]  # units for each log of a column of inoculations [unit/log]
    logs_per_unit: float  # logs that make up a unit, on average [log/unit]


@dataclass(frozen=True)
class ProgrammeModel:
    """Everything the linear program needs."""

    tables: Mapping[str, SeasonTable]  # arcs of each strain class
    # For each season, the columns of the tables that the program looks at; the other columns are
    # left to judge its solution by
    scenarios: tuple[IntArray, ...]
    pools: tuple[Pool, ...]
    sales: tuple[SaleDay, ...]  # in order of day
    # Most logs that one class may have soaked in one season and soak week, tank and hands
    # together, were it alone [log]
    capacity: Mapping[tuple[int, str, int], float]
    cost: FloatArray  # (column,): of one log of each column of inoculations [log or money]
    most: FloatArray  # (column,): most logs of each column
    # Columns that share so many logs: of one wood in one year
    limits: tuple[tuple[tuple[int, ...], float], ...]
    # Pairs of groups of columns whose sums should differ little: the logs of one year and of the
    # next
    change: tuple[tuple[tuple[int, ...], tuple[int, ...]], ...]
    cold_days: int  # last day after the pick on which it can be sold [day]
    soak_price: float  # of a log soaked, in the unit of `cost`
    change_price: float  # of a log more or less than the year before, in the unit of `cost`

    @property
    def seasons(self) -> int:
        """Seasons looked at."""
        return len(self.scenarios)

    @property
    def members(self) -> int:
        """Weather years in the tables."""
        return len(next(iter(self.tables.values())).years)


@dataclass(frozen=True)
class Flow:
    """How the units of one pool go through its season. Arrays follow the class's table."""

    first: FloatArray
    inner: FloatArray
    last: FloatArray
    none: float


@dataclass(frozen=True)
class ProgrammeSolution:
    """A solution of the linear program."""

    logs: FloatArray  # (column,): logs to inoculate
    flows: tuple[Flow, ...]  # one for each pool
    shortfall: FloatArray  # (season,): missing in each season, mean over its scenarios [kg]
    objective: float  # in the unit of `ProgrammeModel.cost`


def soaked_units(model: ProgrammeModel, pool: Pool, flow: Flow) -> FloatArray:
    """Return the units of one pool soaked in each soak week of its table. [unit]"""
    table = model.tables[pool.strain_class]
    count = len(table.soak_weeks)
    first = np.bincount(table.first_soak, weights=flow.first, minlength=count)
    inner = np.bincount(table.inner_to, weights=flow.inner, minlength=count)
    return np.asarray(first + inner, dtype=np.float64)


def soaked_in(
    model: ProgrammeModel, solution: ProgrammeSolution, season: int
) -> list[tuple[str, float, float]]:
    """Return class, units and logs soaked of each pool of a season. [unit, log]"""
    found = []
    for pool, flow in zip(model.pools, solution.flows, strict=True):
        if pool.season == season:
            units = float(soaked_units(model, pool, flow).sum())
            found.append((pool.strain_class, units, units * pool.logs_per_unit))
    return found


# What one log gives in each season of its life: logs to be inoculated, and logs that stand.

_LONGEST_LIFE = 12
"""Bearing years followed at most: a bound of the calculation, as few logs bear so long and the
programme grows with each. [year]"""


@dataclass(frozen=True)
class LogKind:
    """Logs that the grower can get and inoculate."""

    strain_class: StrainClass
    tree: str
    diameter: float  # over bark [m]
    length: float  # over bark [m]
    spawn: SpawnForm
    # Of one inoculated log against the others: 1 each for the fewest logs, or in the grower's
    # money [unitless or money]
    cost: float = 1.0
    # Logs to be had in one year; None is no limit. Kinds of one wood share them.
    most_a_year: int | None = None
    wood: int = 0  # which of the woods to be had it is made of

    def spawn_run(self, numbers: Numbers) -> float:
        """Return the progress that ends its spawn run in the middle case. [day at the optimum]"""
        return required_progress(
            self.spawn,
            self.diameter,
            numbers.spawn_run,
            class_factor=numbers.strain(self.strain_class).spawn_run.factor,
            tree_factor=numbers.tree(self.tree).starts,
        )


DEFAULT_YEARS = 8
"""Years of inoculation in a programme unless somebody says otherwise."""


@dataclass(frozen=True)
class Asked:
    """What a programme is asked for."""

    kinds: Sequence[LogKind]
    outlets: tuple[Outlet, ...]  # whose targets to meet; orders of a single day don't count
    wanted_from: date  # sales before it don't count: "6 kg every Saturday from 2028"
    chance: float  # share of sales to be met in full [0..1]
    years: int = DEFAULT_YEARS  # years of inoculation; the last one's number is kept ever after
    inoculate: bool = True  # whether to inoculate at all; without, what stands runs out
    # Of a log soaked, in the unit of the kinds' cost, see `costs.priced`; a small price when None
    soak_cost: float | None = None


@dataclass(frozen=True)
class Year:
    """One bearing year of a log."""

    season: int  # seasons after this one, or after the one of inoculation
    start_week: int  # week from which it can bear and be soaked; 0 when rested since last autumn
    factor: float  # tree, size, bearing year, wear and learning [unitless]


@dataclass(frozen=True)
class StandingLogs:
    """Logs of one stack that stand already, with the years they still bear."""

    name: str
    strain_class: str
    logs: int
    years: tuple[Year, ...]


def bearing_years(
    kind: LogKind,
    first: int,
    start_week: int,
    crop: float,
    tree: TreeNumbers,
    yields: YieldsNumbers,
    learned: float = 1.0,
) -> tuple[Year, ...]:
    """Return the years in which a log bears, until it is worth keeping no longer.

    From a week of its first season on, by the season's crop of a log of factor 1 in rotation [kg]
    and what such logs give in this yard over the table (`learned`).
    """
    count = np.arange(1, _LONGEST_LIFE + 1)
    factors = learned * stack_factor(tree, kind.diameter, kind.length, count, yields)
    kept = worth_keeping(factors, crop, retire_below=yields.retire_below)
    return tuple(
        Year(first + n, start_week if n == 0 else 0, float(factors[n])) for n in range(kept)
    )


def worth_keeping(factors: FloatArray, crop: float, *, retire_below: float) -> int:
    """Return how many bearing years a log of so many factors is worth keeping for.

    Past its best year it goes as soon as a season would give less than the limit; `crop` is that
    of a log of factor 1 in rotation. [kg/log/year]
    """
    after = int(np.argmax(factors)) + 1
    poor = np.flatnonzero(factors[after:] * crop < retire_below)
    return after + int(poor[0]) if len(poor) else len(factors)


def first_year(
    ready: date, soakable: date, where: Hemisphere, *, late_ready_days: float
) -> tuple[int, int]:
    """Return season and week from which a young stack bears: `yields.season`, and of that its grid.

    `ready` is the day by which the spawn run is done, `soakable` the first on which it may be
    soaked.
    """
    begins = first_bearing_season(ready, where, late_ready_days=late_ready_days)
    grid = season_grid_start(begins, where)
    return begins, _grid_week(max(ready, soakable), grid)


def _grid_week(day: date, grid: date) -> int:
    """Return the first week of a season's grid that lies wholly past a day, even ones only.

    Every second week is near enough, and keeps pools of young logs few.
    """
    week = 2 * -(-(day - grid).days // 14)
    return min(max(week, 0), SEASON_WEEKS)


def standing_logs(
    outlook: YardOutlook, today: date, crops: Mapping[str, float]
) -> tuple[StandingLogs, ...]:
    """Return every stack with the years it still bears; spent and dead ones are left out.

    `crops` are those of a season of a log of factor 1 in rotation, by strain class. [kg]
    """
    found = []
    for stack in outlook.stacks:
        years = _remaining(stack, outlook, today, crops[stack.stack.strain_class])
        if years and stack.state.logs:
            found.append(
                StandingLogs(stack.name, stack.stack.strain_class, stack.state.logs, years)
            )
    return tuple(found)


def _remaining(
    stack: StackOutlook, outlook: YardOutlook, today: date, crop: float
) -> tuple[Year, ...]:
    numbers = outlook.numbers
    where = hemisphere(outlook.yard.site.latitude)
    row = stack.stack
    if any(hold.cause in ("dead", "no logs") for hold in stack.holds):
        return ()
    ready = stack.spawn.ready_on
    if ready is None:
        ready = outlook.futures.date(stack.spawn.sure_row)
    soakable = row.inoculated + timedelta(days=int(numbers.forced.first_after_days))
    soakable = max(soakable, stack.soakable_from or today, today)
    late = numbers.yields.late_ready_days
    first, week = first_year(ready, soakable, where, late_ready_days=late)
    seasons = range(first, first + _LONGEST_LIFE)

    def factors_in(seasons: Sequence[int]) -> FloatArray:
        ages = bearing_ages(ready, seasons, where, late_ready_days=late)
        tree = numbers.tree(row.tree)
        return stack_factor(tree, row.diameter, row.length, ages, numbers.yields)

    factors = factors_in(seasons)
    kept = worth_keeping(factors, crop, retire_below=numbers.yields.retire_below)
    # Wear and learning: what the outlook's effective logs hold beyond logs and stack factor.
    looked_at = seasons_of(outlook.futures, outlook.yard.site)
    best = float(factors_in(looked_at).max(initial=0.0))
    worn = (
        stack.effective_logs / (stack.state.logs * best) if best > 0 and stack.state.logs else 1.0
    )
    now = season(today, where)
    this_week = _grid_week(soakable, season_grid_start(now, where))
    years = []
    for age in range(kept):
        ahead = first + age - now
        if ahead < 0:
            continue
        start = this_week if ahead == 0 else (week if age == 0 else 0)
        by_season = outlook.parts.by_season
        usual = float(by_season[min(ahead, len(by_season) - 1)])
        years.append(Year(ahead, start, float(factors[age] * worn) * usual))
    return tuple(years)
