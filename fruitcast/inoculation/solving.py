"""What a programme brings in weather years it was not made for; the price of a wished chance."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, log

import numpy as np

from fruitcast.forecast.yield_tables import SEASON_DAYS, TAIL_DAYS
from fruitcast.inoculation.problem import (
    FloatArray,
    Flow,
    IntArray,
    Pool,
    ProgrammeModel,
    ProgrammeSolution,
)
from fruitcast.inoculation.programme_lp import ProgrammeProgram
from fruitcast.soaks.supply import CheckDays, Ledger, allocate

_MET = 1e-3
"""A target is met within a gram. [kg]"""

_NEAR = 0.015
"""How near to the wished chance is near enough. [0..1]"""

MOST_ROUNDS = 5
_USUAL_SLOPE, _LEAST_SLOPE = 0.8, 0.2  # rise of the log odds met with the log price
_SAME_PRICE = 0.02


@dataclass(frozen=True)
class Deliveries:
    """What a programme brings, each season in every weather year.

    Attributes
    ----------
    picked : (season, year) float array
        Saleable crop of the season. [kg]
    delivered, available : (sale, year) float array
        Sold at each sale, and what could have been. [kg]
    counts : (sale, year) bool array
        Weather years that the program did not look at in the season of the sale: only these
        judge it.
    met : (sale,) float array
        Share of these years in which the target is met. [0..1]
    sold : (sale,) float array
        Mean sold in these years. [kg]
    """

    picked: FloatArray
    delivered: FloatArray
    available: FloatArray
    counts: np.ndarray
    met: FloatArray
    sold: FloatArray


def deliveries(model: ProgrammeModel, solution: ProgrammeSolution) -> Deliveries:
    """Return what a solution brings, oldest mushrooms sold first.

    Parameters
    ----------
    model : ProgrammeModel
        The problem.
    solution : ProgrammeSolution
        Its solution.
    """
    daily = np.zeros((SEASON_DAYS * model.seasons + TAIL_DAYS, model.members))
    picked = np.zeros((model.seasons, model.members))
    for season in range(model.seasons):
        crop = season_crop(model, solution, season)
        picked[season] = crop.sum(axis=0)
        daily[SEASON_DAYS * season :][: len(crop)] += crop
    ledger = sell(model, np.cumsum(daily, axis=0))
    target = np.array([sale.target for sale in model.sales])
    unseen = np.ones((model.seasons, model.members), dtype=bool)
    for season, scenarios in enumerate(model.scenarios):
        if len(scenarios) < model.members:
            unseen[season, scenarios] = False
    counts = unseen[[sale.season for sale in model.sales]]
    met = (ledger.delivered >= target[:, None] - _MET) & counts
    number = counts.sum(axis=1)
    return Deliveries(
        picked,
        ledger.delivered,
        ledger.available,
        counts,
        met.sum(axis=1) / number,
        (ledger.delivered * counts).sum(axis=1) / number,
    )


def sell(model: ProgrammeModel, picked: FloatArray) -> Ledger:
    """Return the ledger of a picked total by day, past the last sale: (day, year) array. [kg]"""
    day = np.array([sale.day for sale in model.sales], dtype=np.int64)
    stale = day - model.cold_days - 1
    checks = np.unique(np.concatenate([day - 1, stale]))
    totals = np.where((checks >= 0)[:, None], picked[np.maximum(checks, 0)], 0.0)
    return allocate(
        totals,
        CheckDays(
            days=checks,
            reach=np.searchsorted(checks, day - 1),
            stale=np.searchsorted(checks, stale),
            final=int(np.searchsorted(checks, stale.max(initial=0))),
            target=np.array([sale.target for sale in model.sales]),
            weight=np.ones(len(day)),
            sale_day=day,
        ),
    )


def season_crop(model: ProgrammeModel, solution: ProgrammeSolution, season: int) -> FloatArray:
    """Return the crop of one season by day and year, its tail past the season included. [kg]"""
    crop = np.zeros((SEASON_DAYS + TAIL_DAYS, model.members))
    for name in model.tables:
        crop += class_crop(model, solution, season, name)
    return crop


def class_crop(
    model: ProgrammeModel, solution: ProgrammeSolution, season: int, strain_class: str
) -> FloatArray:
    """Return what one class gives of `season_crop`. [kg]"""
    crop = np.zeros((SEASON_DAYS + TAIL_DAYS, model.members))
    table = model.tables[strain_class]
    mine = pool_flows(model, solution, season, strain_class)
    if not mine:
        return crop
    none = np.zeros(len(table.starts))
    for pool, flow in mine:
        none[table.starts == pool.start_week] += flow.none
    for units, arcs in (
        (np.sum([flow.first for _, flow in mine], axis=0), table.first),
        (np.sum([flow.inner for _, flow in mine], axis=0), table.inner),
        (np.sum([flow.last for _, flow in mine], axis=0), table.last),
        (none, table.none),
    ):
        used = np.flatnonzero(units > 0)
        if len(used):
            crop += np.tensordot(units[used].astype(np.float32), arcs[used], axes=1)
    return crop


def pool_flows(
    model: ProgrammeModel, solution: ProgrammeSolution, season: int, strain_class: str
) -> list[tuple[Pool, Flow]]:
    """Return the pools of one class in one season, with their flows."""
    return [
        (pool, flow)
        for pool, flow in zip(model.pools, solution.flows, strict=True)
        if pool.season == season and pool.strain_class == strain_class
    ]


@dataclass(frozen=True)
class Settled:
    """A programme at the price that its chance takes.

    Attributes
    ----------
    solution : ProgrammeSolution
        The programme.
    price : float
        Of a kilogram short. [unit of the model's costs]
    chance : float
        Share of sales met, over the seasons judged. [0..1]
    reached : bool
        Whether that is the wished chance.
    """

    solution: ProgrammeSolution
    price: float
    chance: float
    reached: bool


def settle(
    program: ProgrammeProgram,
    chance: float,
    judged: IntArray,
    *,
    lowest: float,
    highest: float,
    start: float,
    rounds: int | None = None,
    on_try: Callable[[], None] = lambda: None,
) -> Settled:
    """Return the smallest programme that meets a wished share of the sales.

    The dearer a kilogram short, the more logs and the more sales met. The price is sought by
    secants on logarithms.

    Parameters
    ----------
    program : ProgrammeProgram
        The problem.
    chance : float
        Share of sales to be met, over weather years that the program doesn't look at. [0..1]
    judged : (season,) int array
        Seasons that count: those in which new logs can have taken over.
    lowest, highest, start : float
        Prices to look between, and the first to try.
    rounds : int, optional
        Prices to try at most.
    on_try : callable, optional
        Called before each price.
    """
    bottom, top = log(lowest), log(highest)
    tried: list[tuple[float, float]] = []
    best: Settled | None = None
    for _ in range(rounds or MOST_ROUNDS):
        at = min(max(_next_price(tried, _odds(chance), log(start)), bottom), top)
        if tried and abs(at - tried[-1][0]) < _SAME_PRICE:
            break
        on_try()
        solution = program.solve(exp(at))
        met = share_met(program.model, deliveries(program.model, solution), judged)
        tried.append((at, _odds(met)))
        reached = met >= chance - _NEAR
        # Of those that reach the chance the fewest logs, of the others the nearest.
        if best is None or (
            (not best.reached or met < best.chance) if reached else met > best.chance
        ):
            best = Settled(solution, exp(at), met, reached)
        if abs(met - chance) <= _NEAR:
            break
    if best is None:
        raise ValueError("at least one price is to be tried")
    return best


def _odds(share: float) -> float:
    """Return the logarithm of the odds, near which the share met rises in a straight line."""
    held = min(max(share, 0.005), 0.995)
    return log(held / (1 - held))


def _next_price(tried: list[tuple[float, float]], wanted: float, first: float) -> float:
    """Return the logarithm of the price to try next: the secant through the last two."""
    if not tried:
        return first
    at, odds = tried[-1]
    slope = _USUAL_SLOPE
    if len(tried) > 1 and abs(at - tried[-2][0]) > _SAME_PRICE:
        slope = max((odds - tried[-2][1]) / (at - tried[-2][0]), _LEAST_SLOPE)
    return at + (wanted - odds) / slope


def share_met(model: ProgrammeModel, brought: Deliveries, judged: IntArray) -> float:
    """Return the share of the sales of some seasons that is met. [0..1]"""
    mine = np.isin([sale.season for sale in model.sales], judged)
    return float(brought.met[mine].mean()) if mine.any() else 1.0
