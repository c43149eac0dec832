"""What a programme takes: holes, spawn, wax, hours and trees of each year; what its logs cost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from fruitcast.inoculation.costs import LogCost, log_cost
from fruitcast.inoculation.materials import HolePattern, drill
from fruitcast.inoculation.problem import soaked_units
from fruitcast.inoculation.programme import Programme
from fruitcast.inoculation.programme_logs import LogKind
from fruitcast.inoculation.spawn_forms import Materials, materials
from fruitcast.topics import InoculationNumbers, Tool, WorkNumbers
from fruitcast.yard.model import Costs, Yard

_MANY = 100  # logs over which what comes in whole pieces is shared out


def usual_pattern(kind: LogKind, inoculation: InoculationNumbers) -> HolePattern:
    """Return the usual holes of one kind of log."""
    return drill(
        kind.diameter,
        kind.length,
        along=inoculation.along,
        between=inoculation.between,
        end_distance=inoculation.end_distance,
    )


def kind_materials(
    kind: LogKind, logs: int, tool: Tool, inoculation: InoculationNumbers
) -> Materials:
    """Return what so many logs of one kind take."""
    holes = usual_pattern(kind, inoculation).holes
    return materials(logs, holes, kind.diameter, kind.length, kind.spawn, tool, inoculation)


def kind_cost(
    kind: LogKind,
    soaks: float,
    costs: Costs,
    yard: Yard,
    tool: Tool,
    work: WorkNumbers,
    inoculation: InoculationNumbers,
) -> LogCost:
    """Return what one log of a kind costs.

    Parameters
    ----------
    kind : LogKind
        The kind.
    soaks : float
        Soaks in its life.
    costs : Costs
        The grower's prices; a wood's own price goes before the general one.
    yard : Yard
        For the woods.
    tool : str
        What the holes are drilled with.
    work : WorkNumbers
        Hours of work.
    inoculation : InoculationNumbers
        Numbers of inoculation.
    """
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
    found = [kind_cost(kind, 0.0, yard.costs, yard, tool, work, inoculation) for kind in kinds]
    if any(cost.missing or cost.start <= 0 for cost in found):
        return tuple(kinds), None
    hours = work.soak_hours_per_log + work.pull_hours_per_log
    at_cost = (replace(kind, cost=cost.start) for kind, cost in zip(kinds, found, strict=True))
    return tuple(at_cost), hours * (yard.costs.wage or 0.0)


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
