"""The smallest programme of inoculations, as a linear program over weather years.

Columns: logs inoculated of each kind and year; for each pool the units on each arc of the
season; in each scenario, for each stretch of pick days and each sale in its reach, what goes
there, and what is short at each sale. Rows: every pool starts with its units and loses none
from soak to soak; tank and hands hold the logs soaked in a week; no stretch sells more than
is picked in it; each sale gets its target or is short at a price. Logs and soaks are the same
in all scenarios, so the program hedges: it mixes classes and keeps something in hand.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fruitcast.forecast.yield_tables import SEASON_DAYS, TAIL_DAYS, BoolArray, SeasonTable
from fruitcast.inoculation.problem import (
    FloatArray,
    Flow,
    IntArray,
    Pool,
    ProgrammeModel,
    ProgrammeSolution,
    Sale,
)
from fruitcast.soaks.linear import LinearProgram

_LEAST_CROP = 1e-3  # kg; smaller entries would only burden the solver
_WEEK = 7
_NEAR_REST = 14  # weeks
_NONE = np.zeros(0, dtype=np.int64)


@dataclass(frozen=True)
class _PoolColumns:
    """Columns of one pool, and which arcs of the table they stand for."""

    first: IntArray
    first_arc: IntArray
    inner: IntArray
    inner_arc: IntArray
    last: IntArray
    last_arc: IntArray
    none: IntArray


def weekly_sales(sales: tuple[Sale, ...], cold_days: int) -> tuple[Sale, ...]:
    """Return the sales of each week as one, on its last sale day.

    Only where mushrooms keep a week: else a sale must stay on its own day.
    """
    if cold_days < _WEEK:
        return sales
    weeks: dict[int, Sale] = {}
    for sale in sales:
        before = weeks.get(sale.day // _WEEK)
        total = sale.target + (before.target if before else 0.0)
        weeks[sale.day // _WEEK] = Sale(sale.day, total)
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
        self,
        shortfall_price: float,
        *,
        logs: FloatArray | None = None,
        whole: bool = False,
        seconds: float = 60.0,
    ) -> ProgrammeSolution:
        """Return the best programme at a price.

        Parameters
        ----------
        shortfall_price : float
            Of a kilogram short, in the unit of the model's costs.
        logs : (column,) float array, optional
            Logs to inoculate, when that is settled.
        whole : bool, default False
            Whether logs and units soaked must be whole numbers: for small cases.
        seconds : float, default 60
            Time limit. [s]
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
            parts = [part for p in pools for part in (p.first, p.inner, p.last, p.none)]
            integers = np.concatenate([inoculated, *parts])
        value = program.solution(whole=integers, seconds=seconds, exact=False)
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
        return _PoolColumns(first, first_arc, inner, inner_arc, last, last_arc, none)

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
            for column, soaked in (
                (columns.first, table.first_soak[columns.first_arc]),
                (columns.inner, table.inner_to[columns.inner_arc]),
            ):
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
            first, inner, last, none = self._crops[pool.season][pool.strain_class]
            start = np.flatnonzero(model.tables[pool.strain_class].starts == pool.start_week)
            for column, crop in (
                (columns.first, first[columns.first_arc]),
                (columns.inner, inner[columns.inner_arc]),
                (columns.last, last[columns.last_arc]),
                (columns.none, none[start]),
            ):
                arc, where, scenario = np.nonzero(crop > _LEAST_CROP)
                program.entries(bins[where, scenario], column[arc], -crop[arc, where, scenario])
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
        flow = Flow(
            np.zeros(len(table.first_start)),
            np.zeros(len(table.inner_from)),
            np.zeros(len(table.soak_weeks)),
            max(float(value[columns.none[0]]), 0.0),
        )
        flow.first[columns.first_arc] = np.maximum(value[columns.first], 0.0)
        flow.inner[columns.inner_arc] = np.maximum(value[columns.inner], 0.0)
        flow.last[columns.last_arc] = np.maximum(value[columns.last], 0.0)
        return flow


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
