"""What logs cost and earn, and what a programme takes of each thing year by year."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fruitcast.inoculation.answers import BatchMaterials, KindMoney, Money, MoneyOfYear
from fruitcast.inoculation.materials import drill_as_usual, materials
from fruitcast.inoculation.problem import LogKind, soaked_in
from fruitcast.inoculation.programme import Programme
from fruitcast.soaks.sale_days import break_even_kg, mean_price
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
    left_out: tuple[str, ...]  # because it was not entered

    @property
    def start(self) -> float:
        """Until it lies in the yard. [money/log]"""
        return self.wood + self.spawn + self.wax + self.inoculating

    @property
    def life(self) -> float:
        """With all soaks of its life. [money/log]"""
        return self.start + self.soaking


def log_cost(
    logs: int, spawn: str, takes: BatchMaterials, soaks: float, costs: Costs, work: WorkNumbers
) -> LogCost:
    """Return what one log of a batch costs that is soaked so often in its life."""
    left_out: list[str] = []

    def price(value: float | None, what: str, amount: float) -> float:
        if value is None:
            if amount > 0:
                left_out.append(what)
            return 0.0
        return value * amount / logs

    forms = {
        "plug": (costs.plug, "plugs", takes.pieces),
        "thimble": (costs.thimble, "thimbles", takes.pieces),
        "sawdust": (costs.sawdust, "sawdust spawn", takes.sawdust_kg),
    }
    return LogCost(
        wood=price(costs.log, "logs", logs),
        spawn=price(*forms[spawn]),
        wax=price(costs.wax, "wax", takes.wax_kg),
        inoculating=price(costs.wage, "wages", takes.hours),
        soaking=0.0 if costs.wage is None else costs.wage * soaks * work.tank_hours_per_log,
        left_out=tuple(left_out),
    )


def money_by_year(
    programme: Programme,
    starts: tuple[float, ...],
    price_per_kg: float,
    costs: Costs,
    work: WorkNumbers,
) -> tuple[MoneyOfYear, ...]:
    """Return income and margin of each season of the programme.

    Logs are paid for in the year of inoculation, soaks and the work on each kilogram when they
    happen. `starts` is what a log of each kind costs until it lies in the yard. [money/log,
    money/kg]
    """
    model = programme.model
    wage = costs.wage or 0.0
    of_sale = np.array([sale.season for sale in model.sales])
    found = []
    for season in range(model.seasons):
        born = programme.columns_born(season)
        inoculated = sum(
            programme.logs.ravel()[column] * starts[kind] for kind, column in born.items()
        )
        sold = programme.brought.delivered[of_sale == season].sum(axis=0)
        kept = programme.brought.picked[season]
        soaked = sum(logs for *_, logs in soaked_in(model, programme.solution, season))
        hours = soaked * work.tank_hours_per_log + (costs.hours_per_kg or 0.0) * kept
        worked = wage * hours
        spent = inoculated + worked
        margin = sold * price_per_kg - spent
        low, high = np.quantile(margin, _RANGE)
        found.append(
            MoneyOfYear(
                year=programme.climate.now + season,
                income=float(sold.mean() * price_per_kg),
                spent=float(np.mean(spent)),
                margin_p10=float(low),
                margin=float(margin.mean()),
                margin_p90=float(high),
                margin_per_kg=float(margin.mean() / sold.mean()) if sold.mean() > 0 else None,
            )
        )
    return tuple(found)


# What a programme takes: holes, spawn, wax, hours and trees of each year; what its logs cost.

_MANY = 100  # logs over which what comes in whole pieces is shared out


def kind_materials(
    kind: LogKind, logs: int, tool: Tool, inoculation: InoculationNumbers
) -> BatchMaterials:
    """Return what so many logs of one kind take, drilled as usual."""
    return materials(kind, logs, drill_as_usual(kind, inoculation).holes, tool, inoculation)


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
    if any(cost.left_out or cost.start <= 0 for cost in found):
        return tuple(kinds), None
    at_cost = (replace(kind, cost=cost.start) for kind, cost in zip(kinds, found, strict=True))
    return tuple(at_cost), work.tank_hours_per_log * (yard.costs.wage or 0.0)


def soaks_in_life(programme: Programme) -> tuple[float, ...]:
    """Return how often a log of each kind is soaked in its life, by the settled season."""
    soaked: dict[str, float] = defaultdict(float)
    bearing: dict[str, float] = defaultdict(float)
    for name, _, logs in soaked_in(programme.model, programme.solution, programme.steady_season):
        soaked[name] += logs
    kinds = [
        (kind.strain_class, len(years))
        for kind, years in zip(programme.kinds, programme.kind_years, strict=True)
    ]
    for (name, years), count in zip(kinds, programme.logs[-1], strict=True):
        bearing[name] += years * float(count)
    return tuple(
        years * soaked[name] / bearing[name] if bearing[name] > 0 else 0.0 for name, years in kinds
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


def programme_money(
    programme: Programme, tool: Tool, work: WorkNumbers, inoculation: InoculationNumbers
) -> Money | None:
    """Return what the logs cost and earn; None when the grower entered no prices."""
    yard = programme.yard
    costs, price = yard.costs, mean_price(programme.outlets)
    every = (costs.log, costs.plug, costs.thimble, costs.sawdust, costs.wax, costs.wage)
    if all(value is None for value in every):
        return None
    soaks, sold = soaks_in_life(programme), life_sold_kg(programme)
    found = [
        kind_cost(kind, soaks[n], yard, tool, work, inoculation)
        for n, kind in enumerate(programme.kinds)
    ]
    starts = tuple(cost.start for cost in found)
    return Money(
        price_per_kg=price,
        kinds=tuple(
            KindMoney.taken_from(
                cost,
                strain_class=kind.strain_class,
                tree=kind.tree,
                life_sold_kg=sold[n],
                break_even_kg=None if price is None else break_even_kg(cost.life, price, costs),
            )
            for n, (kind, cost) in enumerate(zip(programme.kinds, found, strict=True))
            if programme.logs[:, n].any()
        ),
        years=() if price is None else money_by_year(programme, starts, price, costs, work),
    )
