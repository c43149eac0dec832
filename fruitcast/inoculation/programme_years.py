"""A programme season by season: logs that stand and bear, what is wanted, picked and sold."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fruitcast.inoculation.programme import Programme


@dataclass(frozen=True)
class SeasonSummary:
    """One season of a programme.

    Attributes
    ----------
    season : int
        The growing season, named by the year in which it starts.
    inoculated, bearing, idle : int
        Logs inoculated in it; that bear; that are still in their spawn run, new ones included.
    leaving : int
        Logs for which it is the last season worth keeping.
    target, picked, sold : float
        Wanted; saleable crop and what is sold of it, means over weather years. [kg]
    sold_low, sold_high : float
        10 and 90 of 100 weather years. [kg]
    chance : float or None
        Share of its sales met in full; None when nothing is sold.
    """

    season: int
    inoculated: int
    bearing: int
    idle: int
    leaving: int
    target: float
    picked: float
    sold: float
    sold_low: float
    sold_high: float
    chance: float | None


def season_summaries(programme: Programme) -> tuple[SeasonSummary, ...]:
    """Return every season looked at, this one first."""
    model = programme.model
    of_sale = np.array([sale.season for sale in model.sales])
    target = np.array([sale.target for sale in model.sales])
    found = []
    for number in range(model.seasons):
        mine = of_sale == number
        sold = programme.brought.delivered[mine].sum(axis=0)
        low, high = np.quantile(sold, (0.1, 0.9))
        bearing, idle, leaving = _logs(programme, number)
        born = programme.columns_born(number)
        met = programme.brought.met[mine]
        found.append(
            SeasonSummary(
                season=programme.climate.now + number,
                inoculated=int(sum(programme.logs.ravel()[column] for column in born.values())),
                bearing=bearing,
                idle=idle,
                leaving=leaving,
                target=float(target[mine].sum()),
                picked=float(programme.brought.picked[number].mean()),
                sold=float(programme.brought.sold[mine].sum()),
                sold_low=float(low),
                sold_high=float(high),
                chance=float(met.mean()) if mine.any() else None,
            )
        )
    return tuple(found)


def _logs(programme: Programme, number: int) -> tuple[int, int, int]:
    """Logs that bear in a season, that don't yet, and that go after it."""
    bearing = idle = leaving = 0
    for stack in programme.standing:
        first, last = stack.years[0].season, stack.years[-1].season
        bearing += stack.logs if first <= number <= last else 0
        idle += stack.logs if number < first else 0
        leaving += stack.logs if number == last else 0
    for begins in range(number + 1):
        for kind, column in programme.columns_born(begins).items():
            logs, years = int(programme.logs.ravel()[column]), programme.kind_years[kind]
            if not years:
                continue
            first, last = begins + years[0].season, begins + years[-1].season
            bearing += logs if first <= number <= last else 0
            idle += logs if number < first else 0
            leaving += logs if number == last else 0
    return bearing, idle, leaving
