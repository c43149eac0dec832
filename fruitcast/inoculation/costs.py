"""What logs cost and earn, and what a programme takes of each thing year by year."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fruitcast.inoculation.materials import Materials, drill, materials
from fruitcast.inoculation.problem import LogKind, soaked_units
from fruitcast.inoculation.programme import Programme
from fruitcast.topics import InoculationNumbers, Tool, WorkNumbers
from fruitcast.yard.model import Costs, Yard

_RANGE = (0.1, 0.9)


@dataclass(frozen=True)
class LogCost:
    """What one log costs over its life."""

    wood: float  # [money/log]
    spawn: float  # [money/log]
    wax: float  # [money/log]
    inoculating: float  # [money/log]
    soaking: float  # [money/log]
    missing: tuple[str, ...]  # what is left out because it was not entered

    @property
    def start(self) -> float:
        """Until it lies in the yard. [money/log]"""
        return self.wood + self.spawn + self.wax + self.inoculating

    @property
    def life(self) -> float:
        """With all soaks of its life. [money/log]"""
        return self.start + self.soaking


def log_cost(
    logs: int, spawn: str, materials: Materials, soaks: float, costs: Costs, work: WorkNumbers
) -> LogCost:
    """Return what one log of a batch costs that is soaked so often in its life."""
    missing: list[str] = []

    def price(value: float | None, what: str, amount: float) -> float:
        if value is None:
            if amount > 0:
                missing.append(what)
            return 0.0
        return value * amount / logs

    forms = {
        "plug": (costs.plug, "plugs", float(materials.pieces)),
        "thimble": (costs.thimble, "thimbles", float(materials.pieces)),
        "sawdust": (costs.sawdust, "sawdust spawn", materials.sawdust),
    }
    return LogCost(
        wood=price(costs.log, "logs", logs),
        spawn=price(*forms[spawn]),
        wax=price(costs.wax, "wax", materials.wax),
        inoculating=price(costs.wage, "wages", materials.hours),
        soaking=0.0 if costs.wage is None else costs.wage * soaks * work.tank_hours_per_log,
        missing=tuple(missing),
    )


@dataclass(frozen=True)
class YearMoney:
    """One season's money."""

    season: int  # counted from this one
    income: float  # mean [money]
    spent: float  # mean [money]
    # Income less what was spent: 10 of 100 weather years, mean, 90 of 100 [money]
    low: float
    margin: float
    high: float
    per_kg: float | None  # mean margin for each kilogram sold; None when nothing is sold [money/kg]


def money_by_year(
    programme: Programme,
    starts: tuple[float, ...],
    price_per_kg: float,
    costs: Costs,
    work: WorkNumbers,
) -> tuple[YearMoney, ...]:
    """Return income and margin of each season of the programme.

    Logs are paid for in the year of inoculation, soaks and the work on each kilogram when they
    happen. `starts` is what a log of each kind costs until it lies in the yard. [money/log,
    money/kg]
    """
    model = programme.model
    wage = costs.wage or 0.0
    of_sale = np.array([sale.season for sale in model.sales])
    soaked = np.zeros(model.seasons)
    for pool, flow in zip(model.pools, programme.solution.flows, strict=True):
        soaked[pool.season] += soaked_units(model, pool, flow).sum() * pool.logs_per_unit
    found = []
    for season in range(model.seasons):
        born = programme.columns_born(season)
        inoculated = sum(
            programme.logs.ravel()[column] * starts[kind] for kind, column in born.items()
        )
        sold = programme.brought.delivered[of_sale == season].sum(axis=0)
        kept = programme.brought.picked[season]
        hours = soaked[season] * work.tank_hours_per_log + (costs.hours_per_kg or 0.0) * kept
        worked = wage * hours
        spent = inoculated + worked
        margin = sold * price_per_kg - spent
        low, high = np.quantile(margin, _RANGE)
        found.append(
            YearMoney(
                season=season,
                income=float(sold.mean() * price_per_kg),
                spent=float(np.mean(spent)),
                low=float(low),
                margin=float(margin.mean()),
                high=float(high),
                per_kg=float(margin.mean() / sold.mean()) if sold.mean() > 0 else None,
            )
        )
    return tuple(found)


# What a programme takes: holes, spawn, wax, hours and trees of each year; what its logs cost.

_MANY = 100  # logs over which what comes in whole pieces is shared out


def kind_materials(
    kind: LogKind, logs: int, tool: Tool, inoculation: InoculationNumbers
) -> Materials:
    """Return what so many logs of one kind take, drilled as usual."""
    pattern = drill(
        kind.diameter,
        kind.length,
        along=inoculation.along,
        between=inoculation.between,
        end_distance=inoculation.end_distance,
    )
    return materials(kind, logs, pattern.holes, tool, inoculation)


def kind_cost(
    kind: LogKind,
    soaks: float,
    yard: Yard,
    tool: Tool,
    work: WorkNumbers,
    inoculation: InoculationNumbers,
) -> LogCost:
    """Return what one log of a kind costs that is soaked so often in its life.

    A wood's own price goes before the general one.
    """
    costs = yard.costs
    if yard.woods and yard.woods[kind.wood].log_cost is not None:
        costs = replace(costs, log=yard.woods[kind.wood].log_cost)
    takes = kind_materials(kind, _MANY, tool, inoculation)
    return log_cost(_MANY, kind.spawn, takes, soaks, costs, work)


def priced(
    kinds: Sequence[LogKind],
    yard: Yard,
    tool: Tool,
    work: WorkNumbers,
    inoculation: InoculationNumbers,
) -> tuple[tuple[LogKind, ...], float | None]:
    """Return the kinds at what a log costs until it lies in the yard, and what a soak costs.

    Without prices for all of them every log counts the same, and None for the soak: the fewest
    logs are sought, not the cheapest.
    """
    found = [kind_cost(kind, 0.0, yard, tool, work, inoculation) for kind in kinds]
    if any(cost.missing or cost.start <= 0 for cost in found):
        return tuple(kinds), None
    at_cost = (replace(kind, cost=cost.start) for kind, cost in zip(kinds, found, strict=True))
    return tuple(at_cost), work.tank_hours_per_log * (yard.costs.wage or 0.0)


def soaks_in_life(programme: Programme) -> tuple[float, ...]:
    """Return how often a log of each kind is soaked in its life, by the settled season."""
    model, season = programme.model, programme.steady_season
    soaked: dict[str, float] = {}
    for pool, flow in zip(model.pools, programme.solution.flows, strict=True):
        if pool.season == season:
            units = float(soaked_units(model, pool, flow).sum())
            soaked[pool.strain_class] = (
                soaked.get(pool.strain_class, 0.0) + units * pool.logs_per_unit
            )
    last = programme.logs[-1]
    bearing: dict[str, float] = {}
    for kind, years, count in zip(programme.kinds, programme.kind_years, last, strict=True):
        bearing[kind.strain_class] = bearing.get(kind.strain_class, 0.0) + len(years) * float(count)
    return tuple(
        len(years) * soaked.get(kind.strain_class, 0.0) / bearing[kind.strain_class]
        if bearing[kind.strain_class] > 0
        else 0.0
        for kind, years in zip(programme.kinds, programme.kind_years, strict=True)
    )


def life_sold_kg(programme: Programme) -> tuple[float, ...]:
    """Return what a log of each kind gives in its life that can be sold, in rotation. [kg/log]"""
    saleable = programme.yard.saleable
    return tuple(
        float(np.sum([year.factor for year in years]))
        * programme.crops[kind.strain_class]
        * saleable
        for kind, years in zip(programme.kinds, programme.kind_years, strict=True)
    )
