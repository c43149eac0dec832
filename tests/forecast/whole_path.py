"""One stack walked through one weather year day by day, soaks and all, in plain Python.

Only the rules of the biology and the seeded draws are shared with the forecast; nothing of
its arcs, chains or tables. What the arcs leave out is in here: a soak wets the log for weeks,
later soaks and triggers see that, and what happens between two soaks depends on all before.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from fruitcast.biology.forced import daily_loss
from fruitcast.biology.moisture import simulate_moisture, soak_gain
from fruitcast.biology.natural import trigger_days
from fruitcast.biology.picking import flush_days, pick_shape
from fruitcast.biology.spawn_run import moisture_factor
from fruitcast.biology.spread import evened, multiplier
from fruitcast.biology.yields import rest_factor, temperature_factor
from fruitcast.forecast.outlook import YardOutlook
from fruitcast.forecast.parts import standard_normals
from fruitcast.forecast.stacks import StackOutlook, season_rows
from fruitcast.forecast.under_way import start_of
from fruitcast.forecast.water import COMMON_WOOD
from fruitcast.numbers import Numbers
from fruitcast.topics import StrainNumbers
from fruitcast.weather.daily import VARIABLES


@dataclass
class Walked:
    """Weight picked of one stack, before what cannot be sold; counts for the report."""

    kg: np.ndarray  # (row, member)
    natural: int = 0
    forced: int = 0
    stood_aside: int = 0
    """Soaks that gave nothing because a natural flush was under way."""


@dataclass
class Log:
    """The weather as the logs of one stack feel it on one path."""

    look: YardOutlook
    stack: StackOutlook
    soaks: dict[int, tuple[int, float]]  # row of the soak: row of the pull, hours
    numbers: Numbers
    seed: int
    moisture: np.ndarray = field(init=False)
    trigger: np.ndarray = field(init=False)

    def __post_init__(self) -> None:
        look, futures, kind = self.look, self.look.futures, self.stack.kind
        self.futures, self.strain_class = futures, kind.strain_class
        column = [b.diameter for b in look.past.bands].index(kind.diameter)
        band = look.past.bands[column]
        hours = np.zeros((futures.days, 1))
        for row, (_, length) in self.soaks.items():
            hours[row] = length
        weighed = np.full((futures.days, 1), np.nan)
        if kind.moisture_today is not None:
            weighed[futures.lookback - 1] = kind.moisture_today
        before = look.past.moisture[-futures.lookback - 1, column]
        self.gravity = self.numbers.tree(COMMON_WOOD).specific_gravity
        run = simulate_moisture(
            np.full(len(futures.years), before),
            **{name: getattr(futures, name) for name in VARIABLES},
            latitude=look.yard.site.latitude,
            day_of_year=futures.day_of_year[:, None],
            shade=look.yard.site.shade,
            diameter=band.diameter,
            specific_gravity=self.gravity,
            balance=self.numbers.moisture,
            watering=self.numbers.watering,
            shade_effect=self.numbers.log.shade_effect,
            keep_above_wet=look.yard.keep_above,
            soak_hours=hours,
            weighed=weighed,
        )
        self.moisture = run.moisture
        water = futures.rain + run.watered
        self.trigger = trigger_days(
            self.numbers.strain(self.strain_class).natural,
            futures.tmin,
            futures.tmean,
            water,
            run.moisture,
            self.numbers.natural,
            urgent_below=self.numbers.watering.urgent_below,
        )
        self.loss = daily_loss(
            self.numbers.strain(self.strain_class).forced,
            futures.tmin,
            futures.tmax,
            self.numbers.forced,
        )
        course = np.array(self.stack.season_factors)[season_rows(futures, look.yard.site)]
        self.season_factors = course
        weather = look.kinds[kind].weather
        self.luck, self.shared = weather.luck, weather.shared
        self.draws = {
            what: evened(
                standard_normals(
                    self.seed,
                    futures.years,
                    f"{self.strain_class} {kind.diameter * 100:g} cm {what}",
                    futures.first,
                    np.arange(futures.days),
                )
            )
            for what in ("lead", "yield", "natural")
        }

    @property
    def strain(self) -> StrainNumbers:
        return self.numbers.strain(self.strain_class)

    def ripe(self, begun: int, need: float, member: int) -> int:
        """Count warmth day by day until it is enough."""
        base, cap = self.strain.forced.base_temperature, self.strain.cap_temperature
        warmth = 0.0
        for row in range(begun, self.futures.days):
            if warmth >= need - 1e-9:
                return row
            mean = float(self.futures.tmean[row, member])
            warmth += max(min(mean, cap) - base, 0.0)
        return self.futures.days

    def mean(self, first: int, past: int, member: int) -> float:
        return float(np.mean(self.futures.tmean[first : max(past, first + 1), member]))

    def survives(self, first: int, past: int, member: int) -> float:
        return float(np.exp(-self.loss[first:past, member].sum()))


def walk(
    look: YardOutlook,
    stack: StackOutlook,
    soaks: dict[int, tuple[int, float]],
    numbers: Numbers,
    seed: int,
) -> Walked:
    """Walk one stack through every weather year.

    Where it starts from today, and its flush under way, are the stack's own first state.
    """
    log = Log(look, stack, soaks, numbers, seed)
    flush = look.flushes.get(stack.name)
    last, ready = start_of(stack, flush, look.futures)
    found = Walked(np.zeros(look.futures.tmean.shape))
    if flush is not None:
        found.kg += flush.share * flush.kg * stack.effective_logs
    for member in range(len(look.futures.years)):
        _walk_member(log, member, float(last[member]), int(ready[member]), found)
    return found


def _walk_member(log: Log, member: int, last: float, ready: int, found: Walked) -> None:
    futures, numbers = log.futures, log.numbers
    rest = int(numbers.natural.rest_days)
    today = futures.lookback
    busy_until = -1
    for row in range(futures.days):
        if row in log.soaks:
            pull, hours = log.soaks[row]
            ready = max(ready, pull)
            if row < busy_until:
                found.stood_aside += 1
                continue
            pick = _forced(log, member, row, pull, hours, last, found)
            last = float(row if pick is None else pick)
            continue
        if not log.trigger[row, member] or row < ready or row < last + rest:
            continue
        pick = _buds(log, member, row)
        if pick is None or pick < today or pick >= futures.days:
            continue
        length = _natural(log, member, row, pick, row - last, found)
        last, busy_until = float(pick), pick + length


def _forced(
    log: Log, member: int, row: int, pull: int, hours: float, last: float, found: Walked
) -> int | None:
    """Soak; return the first pick, or None when nothing comes."""
    numbers = log.numbers
    if log.stack.spawn.rows[member] > row:
        return None
    own = multiplier(log.draws["lead"][row, member], log.luck.lead_log_sd)
    lead = log.luck.leads[member] * own
    need = log.strain.forced.requirement * log.stack.kind.lead_factor * float(lead)
    pick = log.ripe(pull, need, member)
    if pick >= log.futures.days or pick - pull > numbers.forced.longest_days:
        return None
    mean = log.mean(pull, pick, member)
    before = log.moisture[row - 1, member]
    wet = before + float(
        soak_gain(
            before,
            hours,
            diameter=log.stack.kind.diameter,
            specific_gravity=log.gravity,
            balance=numbers.moisture,
        )
    )
    length = int(flush_days("forced", mean, numbers.picking, numbers.natural))
    kg = (
        numbers.strain(log.strain_class).yields.base
        * float(temperature_factor(numbers.strain(log.strain_class).range, mean, numbers.yields))
        * float(moisture_factor(wet, numbers.moisture, numbers.spawn_run))
        * float(rest_factor(row - last, numbers.yields))
        * log.survives(pull, pick + length, member)
        * float(multiplier(log.draws["yield"][row, member], log.luck.yield_log_sd))
        * log.shared[row, member]
        * (1 - log.luck.fails)
        * log.season_factors[row]
    )
    _spread(log, member, pick, length, kg, found)
    found.forced += 1
    return pick


def _buds(log: Log, member: int, row: int) -> int | None:
    """Return when buds set off on a day are ripe; None when they die first."""
    need = log.strain.forced.requirement * log.numbers.natural.requirement_factor
    pick = log.ripe(row, need * log.stack.kind.lead_factor * log.luck.leads[member], member)
    latest = row + int(log.numbers.natural.longest_days)
    if pick > latest:
        return None
    return pick


def _natural(log: Log, member: int, row: int, pick: int, rest: float, found: Walked) -> int:
    numbers = log.numbers
    mean = log.mean(row, pick, member)
    length = int(flush_days("natural", mean, numbers.picking, numbers.natural))
    kg = (
        numbers.strain(log.strain_class).yields.base
        * numbers.yields.natural_factor
        * float(temperature_factor(numbers.strain(log.strain_class).range, mean, numbers.yields))
        * float(moisture_factor(log.moisture[row, member], numbers.moisture, numbers.spawn_run))
        * float(rest_factor(rest, numbers.yields))
        * log.survives(row, pick + length, member)
        * float(multiplier(log.draws["natural"][row, member], log.luck.yield_log_sd))
        * log.shared[row, member]
        * log.season_factors[row]
    )
    _spread(log, member, pick, length, kg, found)
    found.natural += 1
    return length


def _spread(log: Log, member: int, pick: int, length: int, kg: float, found: Walked) -> None:
    for day, share in enumerate(pick_shape(length, peak=log.numbers.picking.peak)):
        if pick + day < log.futures.days:
            found.kg[pick + day, member] += kg * share * log.stack.effective_logs
