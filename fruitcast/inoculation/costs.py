"""What logs cost and earn, in the grower's own money: no price here is ours."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fruitcast.inoculation.problem import soaked_units
from fruitcast.inoculation.spawn_forms import Materials
from fruitcast.topics import WorkNumbers
from fruitcast.yard.model import Costs

if TYPE_CHECKING:
    from fruitcast.inoculation.programme import Programme

_RANGE = (0.1, 0.9)


@dataclass(frozen=True)
class LogCost:
    """What one log costs over its life.

    Attributes
    ----------
    wood, spawn, wax, inoculating, soaking : float
        [money/log]
    missing : tuple of str
        What is left out because it was not entered.
    """

    wood: float
    spawn: float
    wax: float
    inoculating: float
    soaking: float
    missing: tuple[str, ...]

    @property
    def start(self) -> float:
        """Until it lies in the yard. [money/log]"""
        return self.wood + self.spawn + self.wax + self.inoculating

    @property
    def life(self) -> float:
        """With all soaks of its life. [money/log]"""
        return self.start + self.soaking


def log_cost(
    logs: int, spawn: str, takes: Materials, soaks: float, costs: Costs, work: WorkNumbers
) -> LogCost:
    """Return what one log of a batch costs.

    Parameters
    ----------
    logs : int
        Logs of the batch.
    spawn : str
        Form of spawn.
    takes : Materials
        What the batch takes.
    soaks : float
        Soaks in a log's life.
    costs : Costs
        The grower's prices.
    work : WorkNumbers
        Hours of work.
    """
    missing: list[str] = []

    def price(value: float | None, what: str, amount: float) -> float:
        if value is None:
            if amount > 0:
                missing.append(what)
            return 0.0
        return value * amount / logs

    soak_hours = work.soak_hours_per_log + work.pull_hours_per_log
    forms = {
        "plug": (costs.plug, "plugs", float(takes.pieces)),
        "thimble": (costs.thimble, "thimbles", float(takes.pieces)),
        "sawdust": (costs.sawdust, "sawdust spawn", takes.sawdust),
    }
    return LogCost(
        wood=price(costs.log, "logs", logs),
        spawn=price(*forms[spawn]),
        wax=price(costs.wax, "wax", takes.wax),
        inoculating=price(costs.wage, "wages", takes.hours),
        soaking=0.0 if costs.wage is None else costs.wage * soaks * soak_hours,
        missing=tuple(missing),
    )


@dataclass(frozen=True)
class YearMoney:
    """One season's money.

    Attributes
    ----------
    season : int
        Counted from this one.
    income, spent : float
        Mean. [money]
    low, margin, high : float
        Income less what was spent: 10 of 100 weather years, mean, 90 of 100. [money]
    per_kg : float or None
        Mean margin for each kilogram sold; None when nothing is sold. [money/kg]
    """

    season: int
    income: float
    spent: float
    low: float
    margin: float
    high: float
    per_kg: float | None


def money_by_year(
    programme: Programme,
    starts: tuple[float, ...],
    price_per_kg: float,
    costs: Costs,
    work: WorkNumbers,
) -> tuple[YearMoney, ...]:
    """Return income and margin of each season of the programme.

    Logs are paid for in the year of inoculation, soaks and the work on each kilogram when
    they happen.

    Parameters
    ----------
    programme : Programme
        The programme.
    starts : tuple of float
        What a log of each kind costs until it lies in the yard. [money/log]
    price_per_kg : float
        What a kilogram sells for. [money/kg]
    costs : Costs
        For wages.
    work : WorkNumbers
        Hours of work.
    """
    model = programme.model
    wage = costs.wage or 0.0
    soak_hours = work.soak_hours_per_log + work.pull_hours_per_log
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
        worked = wage * (soaked[season] * soak_hours + (costs.hours_per_kg or 0.0) * kept)
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
