"""The smallest programme as a linear program, and what it brings in other weather years."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, log
from typing import NamedTuple

import numpy as np

from fruitcast.arrays import BoolArray, FloatArray, IntArray
from fruitcast.forecast.yield_tables import SEASON_DAYS, TAIL_DAYS, SeasonTable
from fruitcast.inoculation.problem import (
    Flow,
    Pool,
    ProgrammeModel,
    ProgrammeSolution,
    SaleDay,
)
from fruitcast.soaks.linear import LinearProgram
from fruitcast.soaks.supply import CheckDays, Ledger, allocate

# The smallest programme of inoculations, as a linear program over weather years.
#
# Columns: logs inoculated of each kind and year; for each pool the units on each arc of the
# season; in each scenario, for each stretch of pick days and each sale in its reach, what goes
# there, and what is short at each sale. Rows: every pool starts with its units and loses none
# from soak to soak; tank and hands hold the logs soaked in a week; no stretch sells more than
# is picked in it; each sale gets its target or is short at a price. Logs and soaks are the same
# in all scenarios, so the program hedges: it mixes classes and keeps something in hand.

_LEAST_CROP = 1e-3  # kg; smaller entries would only burden the solver
_WEEK = 7
_MOST_SECONDS = 60.0  # of one solution
_NEAR_REST = 14  # weeks
_NONE = np.zeros(0, dtype=np.int64)


class _Arcs(NamedTuple):
    """Columns, and the arcs of the table that they stand for."""

    column: IntArray
    arc: IntArray


class _PoolColumns(NamedTuple):
    """Columns of one pool, in the order of the crops of a table."""

    first: _Arcs
    inner: _Arcs
    last: _Arcs
    none: _Arcs


def weekly_sales(sales: tuple[SaleDay, ...], cold_days: int) -> tuple[SaleDay, ...]:
    """Return the sales of each week as one, on its last sale day.

    Only where mushrooms keep a week: else a sale must stay on its own day.
    """
    if cold_days < _WEEK:
        return sales
    weeks: dict[int, SaleDay] = {}
    for sale in sales:
        before = weeks.get(sale.day // _WEEK)
        total = sale.target + (before.target if before else 0.0)
        weeks[sale.day // _WEEK] = SaleDay(sale.day, total)
    return tuple(weeks.values())


class ProgrammeProgram:
    """The linear program of one model; solved as often as wanted with other margins."""

    def __init__(self, model: ProgrammeModel) -> None:
        self.model = model
        sales = weekly_sales(model.sales, model.cold_days)
        day = np.array([sale.day for sale in sales], dtype=np.int64)
        self._season = day // SEASON_DAYS
        self._target = np.array([sale.target for sale in sales])
        self._edges = np.unique(np.concatenate([day, day - model.cold_days]))
        begin, end = self._edges[:-1], self._edges[1:]
        reach = (begin[:, None] >= day - model.cold_days) & (end[:, None] <= day)
        self._bin, self._sale = np.nonzero(reach)
        self._crops = [self._in_bins(season) for season in range(model.seasons)]

    def _in_bins(self, season: int) -> dict[str, tuple[FloatArray, ...]]:
        """Return the crops of each class's arcs in one season by bin and scenario."""
        at = np.clip(self._edges - SEASON_DAYS * season, 0, SEASON_DAYS + TAIL_DAYS)
        scenarios = self.model.scenarios[season]
        return {
            name: tuple(
                _binned(crop, at, scenarios)
                for crop in (table.first, table.inner, table.last, table.none)
            )
            for name, table in self.model.tables.items()
        }

    def solve(
        self, shortfall_price: float, *, logs: FloatArray | None = None, whole: bool = False
    ) -> ProgrammeSolution:
        """Return the best programme at a price of a kilogram short, in the model's own unit.

        `logs` are those to inoculate when that is settled, (column,); `whole` says whether logs
        and units soaked must be whole numbers: for small cases.
        """
        model, program = self.model, LinearProgram()
        lower = np.zeros(len(model.cost)) if logs is None else logs
        upper = model.most if logs is None else logs
        inoculated = program.columns(len(model.cost), cost=model.cost, lower=lower, upper=upper)
        pools = [self._pool(program, pool, inoculated) for pool in model.pools]
        self._capacity(program, pools)
        short = self._sales(program, pools, shortfall_price)
        self._changes(program, inoculated)
        for group, limit in model.limits:
            row = program.rows(np.full(1, -np.inf), np.full(1, limit))
            program.entries(np.repeat(row, len(group)), inoculated[list(group)], 1.0)
        integers = None
        if whole:
            parts = [arcs.column for columns in pools for arcs in columns]
            integers = np.concatenate([inoculated, *parts])
        value = program.solution(whole=integers, seconds=_MOST_SECONDS, exact=False)
        flows = tuple(
            self._flow(pool, columns, value)
            for pool, columns in zip(model.pools, pools, strict=True)
        )
        return ProgrammeSolution(
            logs=np.maximum(value[inoculated], 0.0),
            flows=flows,
            shortfall=np.array(
                [value[short][self._season == n].mean(axis=1).sum() for n in range(model.seasons)]
            ),
            objective=float(program.cost @ value),
        )

    def _pool(self, program: LinearProgram, pool: Pool, inoculated: IntArray) -> _PoolColumns:
        model = self.model
        table = model.tables[pool.strain_class]
        start = int(np.flatnonzero(table.starts == pool.start_week)[0])
        first_arc = np.flatnonzero(table.first_start == start)
        reached = np.unique(table.first_soak[first_arc])
        if len(reached):
            open_from = int(reached[0])
            inner_arc = np.flatnonzero((table.inner_from >= open_from) & _kept_rests(table))
            last_arc = np.arange(open_from, len(table.soak_weeks))
        else:
            inner_arc, last_arc = _NONE, _NONE
        none_arc = np.array([start])
        price = model.soak_price * pool.logs_per_unit
        first = program.columns(len(first_arc), cost=price)
        inner = program.columns(len(inner_arc), cost=price)
        last = program.columns(len(last_arc))
        none = program.columns(1)
        row = program.rows(*[np.array([pool.standing_units])] * 2)
        program.entries(np.repeat(row, len(first) + 1), np.concatenate([first, none]), 1.0)
        fed = np.array(list(pool.units), dtype=np.int64)
        program.entries(
            np.repeat(row, len(fed)), inoculated[fed], -np.array(list(pool.units.values()))
        )
        if len(last_arc):
            node = program.rows(np.zeros(len(last_arc)), np.zeros(len(last_arc)))
            base = int(last_arc[0])
            program.entries(node[table.first_soak[first_arc] - base], first, 1.0)
            program.entries(node[table.inner_to[inner_arc] - base], inner, 1.0)
            program.entries(node[table.inner_from[inner_arc] - base], inner, -1.0)
            program.entries(node, last, -1.0)
        columns, arcs = (first, inner, last, none), (first_arc, inner_arc, last_arc, none_arc)
        return _PoolColumns(*map(_Arcs, columns, arcs))

    def _capacity(self, program: LinearProgram, pools: list[_PoolColumns]) -> None:
        """Let the logs soaked in each week fit: shares of what each class could have alone."""
        model = self.model
        weeks = sorted({(season, week) for season, _, week in model.capacity})
        place = {key: n for n, key in enumerate(weeks)}
        rows = program.rows(np.full(len(weeks), -np.inf), np.ones(len(weeks)))
        for pool, columns in zip(model.pools, pools, strict=True):
            table = model.tables[pool.strain_class]
            at = np.full(len(table.soak_weeks), -1)
            share = np.zeros(len(table.soak_weeks))
            for soak, week in enumerate(table.soak_weeks.tolist()):
                limit = model.capacity.get((pool.season, pool.strain_class, week))
                if limit is not None:
                    at[soak] = rows[place[pool.season, week]]
                    share[soak] = pool.logs_per_unit / max(limit, 1e-9)
            for (column, arc), soaks in (
                (columns.first, table.first_soak),
                (columns.inner, table.inner_to),
            ):
                soaked = soaks[arc]
                held = at[soaked] >= 0
                program.entries(at[soaked][held], column[held], share[soaked][held])

    def _sales(self, program: LinearProgram, pools: list[_PoolColumns], price: float) -> IntArray:
        """Sell the crop in every scenario; return the columns of what is short."""
        model = self.model
        count = len(model.scenarios[0])
        stretches, wanted = len(self._edges) - 1, len(self._target)
        bins = program.rows(np.full(stretches * count, -np.inf), np.zeros(stretches * count))
        bins = bins.reshape(stretches, count)
        sales = program.rows(np.repeat(self._target, count), np.full(wanted * count, np.inf))
        sales = sales.reshape(wanted, count)
        short = program.columns(wanted * count, cost=price / count).reshape(wanted, count)
        program.entries(sales.ravel(), short.ravel(), 1.0)
        for member in range(count):
            sold = program.columns(len(self._bin))
            program.entries(bins[self._bin, member], sold, 1.0)
            program.entries(sales[self._sale, member], sold, 1.0)
        for pool, columns in zip(model.pools, pools, strict=True):
            crops = self._crops[pool.season][pool.strain_class]
            for (column, arcs), crop in zip(columns, crops, strict=True):
                kg = crop[arcs]
                arc, where, scenario = np.nonzero(kg > _LEAST_CROP)
                program.entries(bins[where, scenario], column[arc], -kg[arc, where, scenario])
        return short

    def _changes(self, program: LinearProgram, inoculated: IntArray) -> None:
        """Price a year's logs that differ from those of the year before."""
        pairs = self.model.change
        apart = program.columns(len(pairs), cost=self.model.change_price)
        for place, (before, after) in enumerate(pairs):
            for sign in (1.0, -1.0):
                row = program.rows(np.zeros(1), np.full(1, np.inf))
                program.entries(row, apart[place : place + 1], 1.0)
                for group, value in ((before, sign), (after, -sign)):
                    program.entries(np.repeat(row, len(group)), inoculated[list(group)], value)

    def _flow(self, pool: Pool, columns: _PoolColumns, value: FloatArray) -> Flow:
        table = self.model.tables[pool.strain_class]
        sizes = (len(table.first_start), len(table.inner_from), len(table.soak_weeks))
        units = [np.zeros(size) for size in sizes]
        for found, (column, arc) in zip(units, columns[:3], strict=True):
            found[arc] = np.maximum(value[column], 0.0)
        first, inner, last = units
        return Flow(first, inner, last, max(float(value[columns.none.column[0]]), 0.0))


def _kept_rests(table: SeasonTable) -> BoolArray:
    """Return which soaks after one another are looked at: every rest near the usual one.

    Of much longer rests every fourth week is enough, as a log then has little more to gain.
    """
    rest = table.soak_weeks[table.inner_to] - table.soak_weeks[table.inner_from]
    return np.asarray((rest <= _NEAR_REST) | (rest % 4 == 0))


def _binned(crop: np.ndarray, at: IntArray, scenarios: IntArray) -> FloatArray:
    """Return crops by stretch of days: (arc, bin, scenario)."""
    total = np.zeros((len(crop), SEASON_DAYS + TAIL_DAYS + 1, len(scenarios)))
    if len(crop):
        np.cumsum(crop[:, :, scenarios], axis=1, out=total[:, 1:])
    return np.asarray(np.diff(total[:, at], axis=1))


# What a programme brings in weather years it was not made for; the price of a wished chance.

_MET = 1e-3
"""A target is met within a gram. [kg]"""

_NEAR = 0.015
"""How near to the wished chance is near enough. [0..1]"""

MOST_ROUNDS = 5
_USUAL_SLOPE, _LEAST_SLOPE = 0.8, 0.2  # rise of the log odds met with the log price
_SAME_PRICE = 0.02


@dataclass(frozen=True)
class Deliveries:
    """What a programme brings, each season in every weather year."""

    picked: FloatArray  # (season, year): saleable crop of the season [kg]
    delivered: FloatArray  # (sale, year): sold at each sale [kg]
    # (sale,): share of the years in which the target is met [0..1], and mean sold in them [kg];
    # only those judge it that the program did not look at in the season of the sale
    met: FloatArray
    sold: FloatArray


def deliveries(model: ProgrammeModel, solution: ProgrammeSolution) -> Deliveries:
    """Return what a solution brings, oldest mushrooms sold first."""
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
    """A programme at the price that its chance takes."""

    solution: ProgrammeSolution
    price: float  # of a kilogram short [unit of the model's costs]
    chance: float  # share of sales met, over the seasons judged [0..1]
    reached: bool  # whether that is the wished chance


def smallest_programme(
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

    The dearer a kilogram short, the more logs and the more sales met, over weather years that the
    program doesn't look at, in the seasons `judged`. The price is sought by secants on
    logarithms, between the lowest and the highest, in so many rounds.
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
