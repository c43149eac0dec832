"""The programme's problem made from the yard: bearing years, pools, sales, tank and hands."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date, timedelta

import numpy as np

from fruitcast.arrays import FloatArray, IntArray
from fruitcast.biology.yields import Hemisphere, season
from fruitcast.errors import NoPlanError
from fruitcast.forecast.past_seasons import season_grid_start
from fruitcast.forecast.typical_seasons import Climate, class_table
from fruitcast.forecast.yield_tables import SEASON_DAYS, YOUNG_DAYS, SeasonTable, ready_quantiles
from fruitcast.inoculation.problem import (
    Asked,
    LogKind,
    Pool,
    ProgrammeModel,
    SaleDay,
    StandingLogs,
    Year,
    bearing_years,
    first_year,
)
from fruitcast.numbers import Numbers
from fruitcast.topics import WorkNumbers
from fruitcast.yard.model import Outlet, Yard

SCENARIOS, LEAST_SCENARIOS = 8, 4
"""Weather years that the program looks at in each season, others in the next."""

SALE_WEEKS = 3000
"""Weeks of sale, each in each of its weather years, that a program should hold."""

_LEAST_FACTOR = 1e-3

_WHOLE = 0.3
"""Parts of a log up to this are rounded down. [log]"""


def sales_of(
    outlets: Sequence[Outlet], wanted_from: date, now: int, where: Hemisphere, seasons: int
) -> tuple[SaleDay, ...]:
    """Return what the outlets want on each day of the coming seasons.

    Sales before `wanted_from` don't count; season 0 is `now`, as `yields.season` counts.
    """
    sales = []
    for number in range(seasons):
        begins = season_grid_start(now + number, where)
        for day in range(SEASON_DAYS):
            on = begins + timedelta(days=day)
            target = sum(outlet.target_kg for outlet in outlets if outlet.sells_on(on))
            if target > 0 and on >= wanted_from:
                sales.append(SaleDay(SEASON_DAYS * number + day, target))
    return tuple(sales)


def weekly_capacity(table: SeasonTable, yard: Yard, work: WorkNumbers) -> FloatArray:
    """Return the logs of one class that can be soaked in each soak week. [log]

    Tank, hands and places to fruit limit them. The week's logs are split evenly over its soak
    days, and the weeks about it are like it.
    """
    soaking = yard.soaking
    limits = np.zeros(len(table.soak_weeks))
    weeks = zip(
        table.soak_days.tolist(), table.nights.tolist(), table.standing.tolist(), strict=True
    )
    for place, (count, nights, standing) in enumerate(weeks):
        weekdays = soaking.days[:count]
        held, there = np.zeros(7), np.zeros(7)
        hours = np.zeros(7)
        for weekday in weekdays:
            for night in range(nights):
                held[(weekday + night) % 7] += 1
            for day in range(nights, nights + standing):
                there[(weekday + day) % 7] += 1
            hours[weekday] += work.soak_hours_per_log
            hours[(weekday + nights) % 7] += work.pull_hours_per_log
        limit = soaking.tank_logs * count / held.max()
        if soaking.hours_a_day is not None:
            worked = hours > 0
            allowed = np.broadcast_to(soaking.hours_a_day, 7)[worked]
            limit = min(limit, count * (allowed / hours[worked]).min())
        if yard.fruiting.places is not None and standing:
            limit = min(limit, yard.fruiting.places * count / there.max())
        limits[place] = limit
    return limits


def kind_years(
    kinds: Sequence[LogKind], climate: Climate, crops: Mapping[str, float], numbers: Numbers
) -> list[tuple[Year, ...]]:
    """Return the bearing years of each kind, counted from the season of inoculation.

    None for logs whose spawn run isn't done within three seasons.
    """
    born = season(climate.inoculated, climate.where)
    first_soak = climate.inoculated + timedelta(days=int(numbers.forced.first_after_days))
    found: list[tuple[Year, ...]] = []
    for kind in kinds:
        chances, scatter = (numbers.schedule.ready_chance,), numbers.spawn_run.scatter
        required = kind.spawn_run(numbers)
        (row,) = ready_quantiles(climate.young, required, chances, scatter=scatter).tolist()
        if row >= YOUNG_DAYS:
            found.append(())
            continue
        ready = climate.inoculated + timedelta(days=row)
        begins, week = first_year(
            ready, first_soak, climate.where, late_ready_days=numbers.yields.late_ready_days
        )
        found.append(
            bearing_years(
                kind,
                begins - born,
                week,
                crops[kind.strain_class],
                numbers.tree(kind.tree),
                numbers.yields,
                climate.learning.of_new_logs(kind.strain_class, kind.tree),
            )
        )
    return found


def make_pools(
    standing: Sequence[StandingLogs],
    kinds: Sequence[LogKind],
    years: Sequence[tuple[Year, ...]],
    born: Mapping[int, Sequence[tuple[int, int]]],
) -> tuple[Pool, ...]:
    """Return the pools of all seasons.

    `years` are the bearing years of each kind, `born` the kinds inoculated in each season with
    their columns.
    """
    # Of each pool its logs' columns, or how many stand already, with their factors.
    standing_logs: dict[tuple[int, str, int], list[tuple[int, float]]] = defaultdict(list)
    columns_of: dict[tuple[int, str, int], list[tuple[int, float]]] = defaultdict(list)
    for stack in standing:
        for year in stack.years:
            key = (year.season, stack.strain_class, year.start_week)
            standing_logs[key].append((stack.logs, year.factor))
    for begins, columns in born.items():
        for kind, column in columns:
            for year in years[kind]:
                key = (begins + year.season, kinds[kind].strain_class, year.start_week)
                columns_of[key].append((column, year.factor))
    pools = []
    for key in sorted({*standing_logs, *columns_of}):
        stand, grow = standing_logs[key], columns_of[key]
        units: dict[int, float] = defaultdict(float)
        for column, factor in grow:
            units[column] += factor
        factors = [factor for _, factor in (*stand, *grow)]
        pools.append(
            Pool(
                *key,
                standing_units=sum(logs * factor for logs, factor in stand),
                units=dict(units),
                logs_per_unit=len(factors) / max(sum(factors), _LEAST_FACTOR),
            )
        )
    return tuple(pools)


def judged_seasons(first_born: int, bearing: Sequence[tuple[Year, ...]], seasons: int) -> IntArray:
    """Return the seasons in which new logs can have taken over: from their second year on."""
    earliest = min((run[0].season for run in bearing if run), default=1)
    return np.arange(min(first_born + earliest + 1, seasons - 1), seasons)


def make_model(
    yard: Yard,
    asked: Asked,
    bearing: tuple[tuple[Year, ...], ...],
    standing: tuple[StandingLogs, ...],
    site: Climate,
    first_born: int,
    seed: int,
    numbers: Numbers,
) -> ProgrammeModel:
    """Return the linear program's problem.

    `bearing` are the bearing years of each kind that can be inoculated, `first_born` is the
    season of the first inoculation; by the seed weather years are chosen too. Raises NoPlanError
    if nothing is sold, or no soak day is left.
    """
    kinds, years = asked.kinds, asked.years
    longest = max((run[-1].season for run in bearing if run), default=1)
    seasons = first_born + years + longest
    born = {
        number: list(columns_born(number, first_born, years, len(kinds)).items())
        for number in range(first_born, seasons)
    }
    every = make_pools(standing, kinds, bearing, born)
    pools = tuple(pool for pool in every if pool.season < seasons)
    sales = sales_of(asked.outlets, asked.wanted_from, site.now, site.where, seasons)
    if not sales:
        raise NoPlanError(
            "No outlet sells from today on: their seasons are past. Give from and to as month and "
            'day of every year, like from = "05-15".'
        )
    tables = {}
    for name in sorted({pool.strain_class for pool in pools}):
        starts = sorted({pool.start_week for pool in pools if pool.strain_class == name})
        tables[name] = class_table(name, site, yard, starts, yard.saleable, seed, numbers)
    capacity = {
        (number, name, week): limit
        for name, table in tables.items()
        for week, limit in zip(
            table.soak_weeks.tolist(),
            weekly_capacity(table, yard, numbers.work).tolist(),
            strict=True,
        )
        for number in range(seasons)
    }
    if not capacity:
        raise NoPlanError(
            "yard.toml [soaking] leaves no day on which to soak. Check days, first and last."
        )
    return ProgrammeModel(
        tables=tables,
        scenarios=_scenarios(seasons, len({s.day // 7 for s in sales}), site, seed),
        pools=pools,
        sales=sales,
        capacity=capacity,
        cost=_costs(kinds, bearing, first_born, years, seasons),
        most=np.full(len(kinds) * years, np.inf),
        limits=_limits(kinds, years),
        change=_changes(kinds, years),
        cold_days=yard.cold_store_days,
        soak_price=(
            numbers.inoculation.soak_price * mean_cost(kinds)
            if asked.soak_cost is None
            else asked.soak_cost
        ),
        change_price=numbers.inoculation.change_price * mean_cost(kinds),
    )


def columns_born(number: int, first_born: int, years: int, kinds: int) -> dict[int, int]:
    """Return the column of each kind's logs of one season; the last year's go on for ever."""
    if number < first_born:
        return {}
    year = min(number - first_born, years - 1)
    return {kind: year * kinds + kind for kind in range(kinds)}


def _costs(
    kinds: Sequence[LogKind],
    bearing: tuple[tuple[Year, ...], ...],
    first_born: int,
    years: int,
    seasons: int,
) -> FloatArray:
    """Return the cost of each column: a log's, as often as it is inoculated.

    The last year's logs go on for ever; of the years past it only that share is paid which
    their logs give in the seasons looked at.
    """
    cost = np.tile([kind.cost for kind in kinds], years).astype(float)
    for kind, run in enumerate(bearing):
        whole = sum(year.factor for year in run)
        given = sum(
            year.factor
            for begins in range(first_born + years - 1, seasons)
            for year in run
            if begins + year.season < seasons
        )
        if whole > 0:
            cost[(years - 1) * len(kinds) + kind] *= given / whole
    return cost


def _changes(
    kinds: Sequence[LogKind], years: int
) -> tuple[tuple[tuple[int, ...], tuple[int, ...]], ...]:
    """Pair each class's logs of one year with those of the next."""
    pairs = []
    for name in sorted({kind.strain_class for kind in kinds}):
        mine = [n for n, kind in enumerate(kinds) if kind.strain_class == name]
        for year in range(years - 1):
            before = tuple(year * len(kinds) + n for n in mine)
            pairs.append((before, tuple(column + len(kinds) for column in before)))
    return tuple(pairs)


def _limits(kinds: Sequence[LogKind], years: int) -> tuple[tuple[tuple[int, ...], float], ...]:
    """Return which columns share the logs of one wood in one year, and how many there are."""
    limits = []
    for wood in sorted({kind.wood for kind in kinds}):
        mine = [n for n, kind in enumerate(kinds) if kind.wood == wood]
        most = kinds[mine[0]].most_a_year
        if most is not None:
            for year in range(years):
                limits.append((tuple(year * len(kinds) + n for n in mine), float(most)))
    return tuple(limits)


def whole_logs(relaxed: FloatArray, model: ProgrammeModel) -> FloatArray:
    """Return a programme in whole logs: rounded up, but for crumbs and what is not to be had.

    (column,), as `relaxed`, which has parts of logs. [log]
    """
    whole = np.minimum(np.ceil(relaxed - _WHOLE), model.most)
    for group, limit in model.limits:
        mine = list(group)
        while whole[mine].sum() > limit:
            above = np.where(whole[mine] > 0, whole[mine] - relaxed[mine], -np.inf)
            whole[mine[int(above.argmax())]] -= 1
    return np.asarray(np.maximum(whole, 0.0))


def _scenarios(seasons: int, sale_weeks: int, site: Climate, seed: int) -> tuple[IntArray, ...]:
    """Deal the weather years out to the seasons, all of them before any comes again.

    Long seasons get fewer each, so that the program stays small.
    """
    random = np.random.default_rng([seed, 6])
    members = len(site.seasons.years)
    count = int(np.clip(SALE_WEEKS / sale_weeks, LEAST_SCENARIOS, SCENARIOS))
    count = min(count, max(members // 2, 1))
    dealt: list[IntArray] = []
    pack: list[int] = []
    for _ in range(seasons):
        if len(pack) < count:
            pack = random.permutation(members).tolist()
        dealt.append(np.array(sorted(pack[:count]), dtype=np.int64))
        pack = pack[count:]
    return tuple(dealt)


def mean_cost(kinds: Sequence[LogKind]) -> float:
    """Return what a log costs on average over the kinds."""
    return float(np.mean([kind.cost for kind in kinds]))
