"""The programme of inoculations as data: pools of logs, sales, and what a solution says.

Seasons count from this one, 0; days from the Monday on or before midwinter of season 0, each
season 364 days long. A unit is a log whose factor (tree, size, bearing year) is 1: crops are
counted in units, tank and hands in logs.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fruitcast.forecast.yield_tables import SEASON_DAYS, SeasonTable

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Sale:
    """What all outlets want on one day.

    Attributes
    ----------
    day : int
        Day of the programme. [day]
    target : float
        Wanted. [kg]
    """

    day: int
    target: float

    @property
    def season(self) -> int:
        """The season it falls in."""
        return self.day // SEASON_DAYS


@dataclass(frozen=True)
class Pool:
    """Logs that bear alike in one season.

    Attributes
    ----------
    season : int
        The season.
    strain_class : str
        Strain class.
    start_week : int
        Week from which they can bear; 0 when rested since last autumn.
    standing_units : float
        Units of the logs that stand already. [unit]
    units : mapping of int to float
        Units for each log of a column of inoculations. [unit/log]
    logs_per_unit : float
        Logs that make up a unit, on average. [log/unit]
    """

    season: int
    strain_class: str
    start_week: int
    standing_units: float
    units: Mapping[int, float]
    logs_per_unit: float


@dataclass(frozen=True)
class ProgrammeModel:
    """Everything the linear program needs.

    Attributes
    ----------
    tables : mapping of str to SeasonTable
        Arcs of each strain class.
    scenarios : tuple of (scenario,) int array
        For each season, the columns of the tables that the program looks at; the other columns
        are left to judge its solution by.
    pools : tuple of Pool
        The logs.
    sales : tuple of Sale
        In order of day.
    capacity : mapping of (int, str, int) to float
        Most logs that one class may have soaked in one season and soak week, tank and hands
        together, were it alone. [log]
    cost : (column,) float array
        Of one log of each column of inoculations. [log or money]
    most : (column,) float array
        Most logs of each column.
    limits : tuple of (tuple of int, float)
        Columns that share so many logs: of one wood in one year.
    change : tuple of (tuple of int, tuple of int)
        Pairs of groups of columns whose sums should differ little: the logs of one year and of
        the next.
    cold_days : int
        Last day after the pick on which it can be sold. [day]
    soak_price : float
        Of a log soaked, in the unit of `cost`.
    change_price : float
        Of a log more or less than the year before, in the unit of `cost`.
    """

    tables: Mapping[str, SeasonTable]
    scenarios: tuple[IntArray, ...]
    pools: tuple[Pool, ...]
    sales: tuple[Sale, ...]
    capacity: Mapping[tuple[int, str, int], float]
    cost: FloatArray
    most: FloatArray
    limits: tuple[tuple[tuple[int, ...], float], ...]
    change: tuple[tuple[tuple[int, ...], tuple[int, ...]], ...]
    cold_days: int
    soak_price: float
    change_price: float

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
    """A solution of the linear program.

    Attributes
    ----------
    logs : (column,) float array
        Logs to inoculate.
    flows : tuple of Flow
        One for each pool.
    shortfall : (season,) float array
        Missing in each season, mean over its scenarios. [kg]
    objective : float
        In the unit of `ProgrammeModel.cost`.
    """

    logs: FloatArray
    flows: tuple[Flow, ...]
    shortfall: FloatArray
    objective: float


def soaked_units(model: ProgrammeModel, pool: Pool, flow: Flow) -> FloatArray:
    """Return the units of one pool soaked in each soak week of its table. [unit]"""
    table = model.tables[pool.strain_class]
    count = len(table.soak_weeks)
    first = np.bincount(table.first_soak, weights=flow.first, minlength=count)
    inner = np.bincount(table.inner_to, weights=flow.inner, minlength=count)
    return np.asarray(first + inner, dtype=np.float64)
