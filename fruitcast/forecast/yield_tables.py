"""What logs give through a typical season, and what young ones do until they bear.

A season is cut into arcs: from its start to the first soak, from soak to soak, from the last
soak to the end. The crop of a whole season of any log is the sum over the arcs of its soaks,
times the log's own factor (tree, size, bearing year). A week stands for the yard's soak days
in it, equally. Days are counted from the Monday on or before midwinter.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import ceil

import numpy as np
import numpy.typing as npt

from fruitcast.arrays import BoolArray, FloatArray, IntArray
from fruitcast.biology.forced import thermal_time
from fruitcast.biology.moisture import MoistureRun
from fruitcast.biology.natural import flush_chain, natural_first_pick, trigger_days
from fruitcast.biology.spawn_run import (
    moisture_factor,
    mycelium_speed,
    ready_day,
    required_quantile,
)
from fruitcast.biology.yields import Hemisphere
from fruitcast.forecast.flushes import Following, follow, soak_factor
from fruitcast.forecast.fruiting import Fruiting, fruiting
from fruitcast.forecast.log_weather import LogKind
from fruitcast.forecast.members import Ensemble
from fruitcast.forecast.parts import Luck
from fruitcast.forecast.past_seasons import past_runs, run_water
from fruitcast.forecast.water import Band
from fruitcast.numbers import Numbers
from fruitcast.topics import ScheduleNumbers
from fruitcast.weather.daily import DailyWeather
from fruitcast.yard.model import Yard

Crop = npt.NDArray[np.float32]

SEASON_WEEKS = 52

SEASON_DAYS = 7 * SEASON_WEEKS
"""Whole weeks, so that every season has the same days of the week. [day]"""

TAIL_DAYS = 56
"""Days past the season on which the crop of its last soaks may still come. [day]"""


@dataclass(frozen=True)
class SeasonTable:
    """The arcs of one class's season."""

    strain_class: str
    years: tuple[int, ...]  # the weather year of each column
    soak_weeks: IntArray  # (soak,): weeks of the season in which a soak may start
    soak_days: IntArray  # (soak,): soak days in each of these weeks
    nights: IntArray  # (soak,): days the logs stay in the tank [day]
    standing: IntArray  # (soak,): days on which they then stand where they fruit [day]
    # (start,): week from which logs can bear: 0 for those rested since last autumn, else young logs
    # that become ready in that week
    starts: IntArray
    # first_start, first_soak, (first arc,): start and soak of each first arc
    first_start: IntArray
    first_soak: IntArray
    # inner_from, inner_to, (inner arc,): soak before and after
    inner_from: IntArray
    inner_to: IntArray
    # first, inner, (arc, day, year): saleable crop of a log of factor 1 up to and with the soak
    # [kg/log]
    first: Crop
    inner: Crop
    last: Crop  # (soak, day, year): natural flushes that follow a last soak [kg/log]
    none: Crop  # (start, day, year): natural flushes when nothing is soaked [kg/log]

    def over(self, factor: FloatArray) -> SeasonTable:
        """Return the same with the crops of each year over a factor, (year,)."""
        names = ("first", "inner", "last", "none")
        return replace(self, **{name: getattr(self, name) / np.float32(factor) for name in names})


def season_table(
    kind: LogKind,
    seasons: Ensemble,
    water: MoistureRun,
    soak_days: Sequence[int],
    starts: Sequence[int],
    sold: FloatArray,
    away: BoolArray,
    *,
    under_cover: bool = False,
    where: Hemisphere,
    luck: Luck,
    shared: FloatArray,
    seed: int,
    numbers: Numbers,
) -> SeasonTable:
    """Return the arcs of one kind of logs, soaked on some days of the season or left alone.

    `seasons` are past years from the season's first Monday on, `SEASON_DAYS` and `TAIL_DAYS` long,
    `water` that of the logs in them; `starts` as in `SeasonTable`, 0 among them. `sold` is the
    share of a day's pick that can be sold, (row, year), the rain on the caps taken off besides,
    where no roof keeps them dry (`under_cover`); `away` tells on which rows nobody can pull.
    `shared` is what all stacks' yields have in common, (year,); the seed is that of the scatter.
    """
    base = seasons.lookback
    rows = base + np.asarray(sorted(soak_days), dtype=np.int64)
    logs = fruiting(
        [kind],
        seasons,
        water.moisture,
        seasons.rain + water.watered,
        rows,
        lucks=[luck],
        seed=seed,
        numbers=numbers,
        where=where,
    ).sharing(np.broadcast_to(shared, water.moisture.shape))
    share = sold * logs.keeping
    forced = logs.forced
    began = np.where(forced.bears, forced.pick_row, rows[:, None]).astype(float)
    pulled = np.broadcast_to(forced.pull_row[:, None], began.shape)
    start_weeks = np.asarray(sorted(set(starts) | {0}), dtype=np.int64)
    last_pick_days = numbers.natural.last_pick_days

    def left_alone(last_pick: FloatArray, ready_row: IntArray) -> _LeftAlone:
        flushes = follow(logs, last_pick, ready_row, base)
        factor = soak_factor(flushes, rows, numbers.yields).astype(np.float32)
        return _LeftAlone(flushes, _natural(flushes, logs, share, seasons), factor)

    dry = np.broadcast_to(sold, share.shape) if under_cover else share
    parts = _Parts(
        rows,
        _spread(forced.pick_row, forced.length, forced.kg, logs.forced_shape, dry, seasons),
        after=left_alone(began, pulled),
        fresh=left_alone(*_starts(start_weeks, seasons, last_pick_days=last_pick_days)),
    )
    allowed = forced.allowed & ~away[np.minimum(forced.pull_row, len(away) - 1)]
    return _weekly(parts, logs, allowed, start_weeks, seasons, numbers.schedule)


@dataclass(frozen=True)
class _LeftAlone:
    """What logs do by themselves after each of several starts."""

    flushes: Following
    kg: Crop
    factor: Crop  # what it leaves of each soak


@dataclass(frozen=True)
class _Parts:
    """Crops by soak day, before they are averaged into weeks."""

    rows: IntArray
    soak_kg: Crop
    after: _LeftAlone  # the soaks
    fresh: _LeftAlone  # the starts of the season


def _starts(
    weeks: IntArray, seasons: Ensemble, *, last_pick_days: float
) -> tuple[FloatArray, IntArray]:
    """Return last first pick and ready row of each start, in every year."""
    shape = (len(weeks), len(seasons.years))
    last = np.full(shape, -np.inf)
    last[weeks == 0] = seasons.lookback - int(last_pick_days)
    ready = np.broadcast_to((seasons.lookback + 7 * weeks)[:, None], shape)
    return last, ready


def _spread(
    pick: IntArray,
    length: IntArray,
    kg: FloatArray,
    shapes: FloatArray,
    share: FloatArray,
    seasons: Ensemble,
) -> Crop:
    """Return what is saleable of each flush on each day of the season: (flush, day, year)."""
    count, members = kg.shape
    crop = np.zeros((count, SEASON_DAYS + TAIL_DAYS, members), dtype=np.float32)
    flush, member = np.nonzero(kg > 0)
    for offset in range(shapes.shape[1]):
        row = pick[flush, member] + offset
        part = shapes[length[flush, member], offset] * kg[flush, member]
        day = row - seasons.lookback
        inside = (day >= 0) & (day < crop.shape[1]) & (row < seasons.days) & (part > 0)
        sold = part[inside] * share[row[inside], member[inside]]
        crop[flush[inside], day[inside], member[inside]] += sold
    return crop


def _natural(following: Following, logs: Fruiting, share: FloatArray, seasons: Ensemble) -> Crop:
    """Return the natural flushes after each start, one by one: (flush, start, day, year)."""
    parts = [
        _spread(pick, past - pick, kg, logs.natural_shape, share, seasons)
        for pick, past, kg in zip(following.pick, following.past, following.kg, strict=True)
    ]
    if not parts:
        starts, members = following.last_pick.shape
        return np.zeros((0, starts, SEASON_DAYS + TAIL_DAYS, members), dtype=np.float32)
    return np.stack(parts)


def _before(left: _LeftAlone, start: IntArray, soak_row: IntArray) -> Crop:
    """Return the natural flushes of each start that were set off before a soak."""
    crop = np.zeros((len(start), *left.kg.shape[2:]), dtype=np.float32)
    for flush, kg in zip(left.flushes.trigger, left.kg, strict=True):
        begun = flush[start] < soak_row[:, None]
        crop += kg[start] * begun[:, None, :]
    return crop


def _weekly(
    parts: _Parts,
    logs: Fruiting,
    allowed: BoolArray,
    starts: IntArray,
    seasons: Ensemble,
    schedule: ScheduleNumbers,
) -> SeasonTable:
    """Average the soak days of each week, and keep the arcs that may be used."""
    week = (parts.rows - seasons.lookback) // 7
    weeks, first_of, count = np.unique(week, return_index=True, return_counts=True)
    turns = int(count.max(initial=1))
    # Turn k takes the k-th soak day of every week, so that rest runs in whole weeks.
    day_of = [first_of + np.minimum(turn, count - 1) for turn in range(turns)]
    gap = weeks[None, :] - weeks[:, None]
    inner_ok = gap * 7 >= int(schedule.rest_days)
    first_ok = weeks[None, :] >= starts[:, None]
    some = logs.forced.kg > 0
    inner_share, first_share = np.zeros(inner_ok.shape), np.zeros(first_ok.shape)
    for at in day_of:
        comes = some[at] & (parts.after.factor[np.ix_(at, at)] > 0)
        inner_share += comes.mean(axis=2) / turns
        first_share += (some[at] & (parts.fresh.factor[:, at] > 0)).mean(axis=2) / turns
        inner_ok &= allowed[at][None, :] & allowed[at][:, None]
        first_ok &= allowed[at][None, :]
    inner_from, inner_to = np.nonzero(inner_ok & (inner_share >= schedule.bears_in))
    first_start, first_soak = np.nonzero(first_ok & (first_share >= schedule.bears_in))
    day_count, members = parts.soak_kg.shape[1:]
    first = np.zeros((len(first_start), day_count, members), dtype=np.float32)
    inner = np.zeros((len(inner_from), day_count, members), dtype=np.float32)
    last = np.zeros((len(weeks), day_count, members), dtype=np.float32)
    for at in day_of:
        soak = at[first_soak]
        first += parts.soak_kg[soak] * parts.fresh.factor[first_start, soak][:, None, :]
        first += _before(parts.fresh, first_start, parts.rows[soak])
        here, then = at[inner_from], at[inner_to]
        inner += parts.soak_kg[then] * parts.after.factor[here, then][:, None, :]
        inner += _before(parts.after, here, parts.rows[then])
        last += parts.after.kg[:, at].sum(axis=0)
    nights = logs.forced.pull_row - logs.forced.soak_row
    standing = logs.forced.standing_days(schedule.clear_chance)
    return SeasonTable(
        strain_class=logs.kind.strain_class,
        years=seasons.years,
        soak_weeks=weeks,
        soak_days=count,
        nights=np.maximum.reduce([nights[at] for at in day_of]),
        standing=np.maximum.reduce([standing[at] for at in day_of]),
        starts=starts,
        first_start=first_start,
        first_soak=first_soak,
        inner_from=inner_from,
        inner_to=inner_to,
        first=first / np.float32(turns),
        inner=inner / np.float32(turns),
        last=last / np.float32(turns),
        none=parts.fresh.kg.sum(axis=0),
    )


# A batch of young logs through past years: spawn run, first natural flush, waterings, crop.

YOUNG_DAYS = 1100
"""Days from inoculation on that are looked at: three seasons. [day]"""

_WOOD_CHANCES = (0.1, 0.3, 0.5, 0.7, 0.9)


@dataclass(frozen=True)
class YoungLogs:
    """Freshly inoculated logs in every past year's weather."""

    runs: Ensemble  # row 0 is the day of inoculation
    # moisture, watered, (day, year):  [kg/kg dry wood, mm/day]
    moisture: FloatArray
    watered: FloatArray
    progress: FloatArray  # (day, year): daily progress of the spawn run [day at the optimum]

    def waterings_by_month(self, days: int) -> dict[int, float]:
        """Return the waterings to expect in the first days, by calendar month."""
        watered = (self.watered[:days] > 0).mean(axis=1)
        months = np.array([self.runs.date(row).month for row in range(days)])
        return {
            month: float(watered[months == month].sum()) for month in dict.fromkeys(months.tolist())
        }


def young_logs(
    weather: DailyWeather,
    yard: Yard,
    batches: Sequence[tuple[Band, date]],
    today: date,
    numbers: Numbers,
) -> list[YoungLogs]:
    """Return batches of logs, each in the weather that followed its day in past years.

    Of each batch are given the size of the logs and the day of inoculation; `today` is the first
    day not known.
    """
    most = yard.weather.years
    runs = [
        past_runs(weather, inoculated, YOUNG_DAYS, today, most=most, lookback=0)
        for _, inoculated in batches
    ]
    water = run_water(runs, yard, [band for band, _ in batches], fresh=True, numbers=numbers)
    found = []
    past = np.cumsum([len(run.years) for run in runs])[:-1]
    moistures, waterings = (
        np.split(values, past, axis=1) for values in (water.moisture, water.watered)
    )
    for run, moisture, watered in zip(runs, moistures, waterings, strict=True):
        speed = mycelium_speed(run.tmin, run.tmax, numbers.mycelium, shade=yard.site.shade)
        progress = speed * moisture_factor(moisture, numbers.moisture, numbers.spawn_run)
        found.append(YoungLogs(run, moisture, watered, progress))
    return found


def ready_quantiles(
    young: YoungLogs, required: float, chances: tuple[float, ...], *, scatter: float
) -> IntArray:
    """Return by which day the spawn run is done with given chances, over weather and wood.

    (chance,), in days from inoculation; `YOUNG_DAYS` when later. By the middle requirement of such
    logs [day at the optimum] and its scatter.
    """
    wood = [required_quantile(required, chance, scatter=scatter) for chance in _WOOD_CHANCES]
    ready = ready_day(young.progress, np.array(wood)[:, None])
    found = np.quantile(ready, chances, method="higher")
    return np.asarray(found, dtype=np.int64)


def first_natural_flush(
    young: YoungLogs, kind: LogKind, required: float, luck: Luck, numbers: Numbers
) -> IntArray:
    """Return the first pick of the first natural flush after the spawn run.

    (year,), in days from inoculation; `YOUNG_DAYS` when later. `required` is what the spawn run
    takes [day at the optimum].
    """
    runs, strain = young.runs, numbers.strain(kind.strain_class)
    triggers = trigger_days(
        strain.natural,
        runs.tmin,
        runs.tmean,
        runs.rain + young.watered,
        young.moisture,
        numbers.natural,
        urgent_below=numbers.watering.urgent_below,
    )
    lead = kind.lead_factor * luck.leads
    picks = natural_first_pick(
        strain.forced.requirement,
        thermal_time(strain, runs.tmean),
        triggers,
        numbers.natural,
        lead,
    )
    ready = ready_day(young.progress, required)
    trigger = flush_chain(triggers, picks, int(numbers.natural.rest_days), ready, 1)[0]
    days = len(triggers)
    pick = picks.first_pick[np.minimum(trigger, days - 1), np.arange(len(ready))]
    return np.where(trigger < days, pick, days)


def rotation_crop(table: SeasonTable, start: int, *, rest_days: float) -> FloatArray:
    """Return a season's crop of a log that is soaked in turn with the rest of the yard.

    One turn for each week of the rotation, as many as the rest between soaks has: nine where it
    is not overridden. The turns begin in the first weeks open to the logs, and each log is
    soaked again as soon as its rest is over. (turn, year), of a log of factor 1 [kg/log]; `start`
    is the place in `table.starts`.
    """
    mine = np.flatnonzero(table.first_start == start)
    if not len(mine):
        return np.asarray(table.none[start].sum(axis=0, dtype=np.float64))[None]
    open_weeks = table.soak_weeks[table.first_soak[mine]]
    weeks = ceil(rest_days / 7)
    turns = []
    for arc in mine[open_weeks < open_weeks.min() + weeks]:
        total = table.first[arc].sum(axis=0, dtype=np.float64)
        soak = int(table.first_soak[arc])
        while len(following := np.flatnonzero(table.inner_from == soak)):
            total += table.inner[following[0]].sum(axis=0)
            soak = int(table.inner_to[following[0]])
        turns.append(total + table.last[soak].sum(axis=0))
    return np.array(turns)
