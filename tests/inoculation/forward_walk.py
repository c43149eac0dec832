"""A programme's settled season walked lot by lot and day by day, with scatter of its own.

Shares the rules of biology with the programme, and nothing of its arcs, tables or sums.
"""

from collections import defaultdict
from datetime import timedelta
from math import ceil

import numpy as np

from fruitcast.biology.forced import daily_loss, soak_hours, thermal_time
from fruitcast.biology.moisture import soak_gain
from fruitcast.biology.natural import natural_first_pick, trigger_days
from fruitcast.biology.picking import dry_cap_share, flush_days, pick_shape
from fruitcast.biology.spawn_run import moisture_factor
from fruitcast.biology.spread import multiplier
from fruitcast.biology.yields import rest_factor, temperature_factor
from fruitcast.forecast.past_seasons import season_grid_start
from tests.inoculation.small_programmes import soak_paths


class Walk:
    """One class's weather in every weather year."""

    def __init__(self, strain_class, programme, members, random, numbers):
        site = programme.climate
        runs = site.seasons
        self.numbers, self.strain_class = numbers, strain_class
        self.first = runs.lookback
        self.diameter = site.band.diameter
        columns = slice(0, members)
        self.tmean, tmin, tmax = (x[:, columns] for x in (runs.tmean, runs.tmin, runs.tmax))
        self.rain = runs.rain[:, columns]
        self.moisture = site.water.moisture[:, columns]
        water = self.rain + site.water.watered[:, columns]
        self.days = len(self.tmean)
        self.thermal_time = thermal_time(numbers.strain(strain_class), self.tmean)
        self.loss = daily_loss(numbers.strain(strain_class).forced, tmin, tmax, numbers.forced)
        trigger = trigger_days(
            numbers.strain(strain_class).natural,
            tmin,
            self.tmean,
            water,
            self.moisture,
            numbers.natural,
            urgent_below=numbers.watering.urgent_below,
        )
        self.ripe = natural_first_pick(
            numbers.strain(strain_class).forced.requirement,
            self.thermal_time,
            trigger,
            numbers.natural,
        )
        self.trigger = trigger & ~self.ripe.aborted
        self.keeping = dry_cap_share(self.rain, numbers.picking) * programme.yard.saleable
        luck, shared = site.learning.usual_luck(runs.years, 1)
        shared = random.permutation(shared)[:members]
        normal = random.standard_normal((3, self.days, members))
        self.lead = (
            multiplier(normal[0], luck.lead_log_sd) * random.permutation(luck.leads)[:members]
        )
        self.forced_scatter = multiplier(normal[1], luck.yield_log_sd) * shared * (1 - luck.fails)
        self.natural_scatter = multiplier(normal[2], luck.yield_log_sd) * shared
        ahead = int(numbers.forced.season_days)
        self.expected = [
            float(np.median(self.tmean[row : row + ahead].mean(axis=0))) for row in range(self.days)
        ]

    def season(self, soaks, start_week, member):
        """Saleable picks by row of one unit soaked on the given rows."""
        numbers = self.numbers
        picks = defaultdict(float)
        rest_days = int(numbers.natural.rest_days)
        if start_week == 0:
            picked, rested = self.first - 92, self.first - 92 + rest_days
            rested = max(rested, self.first)
        else:
            picked, rested = -np.inf, self.first + 7 * start_week
        open_until = -1
        for soak in [*soaks, None]:
            limit = self.days if soak is None else soak
            while True:
                ahead = np.flatnonzero(self.trigger[rested:limit, member])
                if not len(ahead):
                    break
                begun = rested + int(ahead[0])
                pick = int(self.ripe.first_pick[begun, member])
                if pick >= self.days:
                    break
                length = self._pick("natural", begun, pick, begun - picked, member, picks)
                picked, rested, open_until = pick, pick + rest_days, pick + length
            if soak is None:
                return picks
            if soak < open_until:  # the natural crop stands, the soak gives nothing
                rested = max(rested, soak + 1)
                continue
            hours = float(soak_hours(self.expected[soak], numbers.forced))
            pull = soak + ceil(hours / 24)
            need = numbers.strain(self.strain_class).forced.requirement * self.lead[soak, member]
            warm = self.thermal_time[:, member]
            reached = np.flatnonzero(warm[pull:] - warm[pull] >= need)
            pick = pull + int(reached[0]) if len(reached) else self.days
            if pick >= self.days or pick - pull > numbers.forced.longest_days:
                picked, rested = soak, soak + rest_days
                continue
            self._pick("forced", pull, pick, soak - picked, member, picks, soak, hours)
            picked, rested = pick, pick + rest_days
        raise AssertionError("the last entry returns")

    def _pick(self, kind, begun, pick, rest, member, picks, soak=None, hours=0.0):
        numbers = self.numbers
        mean = self.tmean[begun:pick, member].mean()
        length = int(flush_days(kind, mean, numbers.picking, numbers.natural))
        moisture = self.moisture[begun if soak is None else soak - 1, member]
        if soak is not None:
            gravity = numbers.tree("other hardwood").specific_gravity
            moisture = moisture + soak_gain(
                moisture,
                hours,
                diameter=self.diameter,
                specific_gravity=gravity,
                balance=numbers.moisture,
            )
        scatter = self.natural_scatter[begun] if soak is None else self.forced_scatter[soak]
        kg = (
            numbers.strain(self.strain_class).yields.base
            * (numbers.yields.natural_factor if kind == "natural" else 1.0)
            * float(rest_factor(rest, numbers.yields))
            * float(
                temperature_factor(numbers.strain(self.strain_class).range, mean, numbers.yields)
            )
            * float(moisture_factor(moisture, numbers.moisture, numbers.spawn_run))
            * np.exp(-self.loss[begun : pick + length, member].sum())
            * scatter[member]
        )
        for day, share in enumerate(pick_shape(length, peak=numbers.picking.peak)):
            row = pick + day
            if row < self.days:
                picks[row] += kg * share * self.keeping[row, member]
        return length


def settled_season(programme, members, numbers, seed=7):
    """Walk the settled season; return the share of its sales met, and the kilograms picked."""
    random = np.random.default_rng(seed)
    model, season = programme.model, programme.steady_season
    yard = programme.yard
    begins = season_grid_start(programme.climate.now, programme.climate.where)
    daily = np.zeros((members, 600))
    for name, table in model.tables.items():
        walk = Walk(name, programme, members, random, numbers)
        for pool, flow in zip(model.pools, programme.solution.flows, strict=True):
            if (pool.season, pool.strain_class) != (season, name):
                continue
            for units, weeks in soak_paths(table, flow):
                open_days = [
                    [
                        day
                        for day in range(7 * week, 7 * week + 7)
                        if yard.soaking.permits(begins + timedelta(days=day))
                    ]
                    for week in weeks
                ]
                turns = max((len(days) for days in open_days), default=1)
                for turn in range(turns):
                    soaks = [walk.first + days[min(turn, len(days) - 1)] for days in open_days]
                    for member in range(members):
                        for row, kg in walk.season(soaks, pool.start_week, member).items():
                            if row >= walk.first:
                                daily[member, row - walk.first] += kg * units / turns
    sales = [sale for sale in model.sales if sale.season == season]
    met = [
        _met(daily[member], [(s.day - 364 * season, s.target) for s in sales], model.cold_days)
        for member in range(members)
    ]
    return float(np.mean(met)), daily[:, :364].sum(axis=1)


def _met(daily, sales, cold_days):
    """Share of sales met, the oldest mushrooms sold first, box by box."""
    store, done, met = [], -1, 0
    for day, target in sales:
        store += [[picked, daily[picked]] for picked in range(done + 1, day)]
        done = day - 1
        store = [box for box in store if box[0] >= day - cold_days and box[1] > 0]
        wanted = target
        for box in store:
            taken = min(box[1], wanted)
            box[1] -= taken
            wanted -= taken
        met += wanted <= 1e-3
    return met / len(sales)
