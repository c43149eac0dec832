"""Flushes already under way today: soaked and not yet picked out, pinning, or in the open.

What was seen overrules the model. A soak that has brought nothing by its time is late or has
failed, the likelier the later it is. What is still to come of a flush that is being picked is
inferred from its picks, see `still_to_come` in `biology.picking`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from statistics import NormalDist

import numpy as np

from fruitcast.arrays import BoolArray, FloatArray, IntArray
from fruitcast.biology.forced import first_pick, mean_between, surviving_share
from fruitcast.biology.natural import natural_first_pick, set_off_row
from fruitcast.biology.picking import (
    FlushKind,
    clear_row,
    flush_days,
    size_belief,
    start_weights,
    still_to_come,
)
from fruitcast.biology.run_length import true_at
from fruitcast.biology.spawn_run import moisture_factor
from fruitcast.biology.yields import rest_factor, size_factor, temperature_factor
from fruitcast.diary.state import Pick, Soak, StackState, first_picks, pulled_on, soak_behind
from fruitcast.forecast.fruiting import Fruiting
from fruitcast.forecast.log_weather import LogWeather
from fruitcast.forecast.members import Ensemble
from fruitcast.forecast.parts import order_of_members
from fruitcast.forecast.stacks import StackOutlook
from fruitcast.topics import ForcedNumbers, YieldsNumbers

_NORMAL = NormalDist()

_LEAST_LEFT = 0.001
"""Less of a flush than this counts as this much of it. A bound of the calculation."""

_EARLIEST, _LATEST = -3, 8
"""Days from the first basket between which a flush is looked for to begin; it is over after so
long and its usual two weeks. [day]"""


@dataclass(frozen=True)
class UnderWay:
    """One flush that began before today and is not picked out yet."""

    kind: FlushKind  # 'forced' or 'natural'
    begun: date  # soak day, or day on which pins or caps were seen
    pick: IntArray  # (member,): row of the first pick
    past: IntArray  # (member,): row after the last pick
    kg: FloatArray  # (member,): what is still to come; 0 where nothing does [kg per effective log]
    # (day, member): how that spreads over the rows of the members' weather; adds up to 1 or 0
    share: FloatArray
    picked_kg: float = 0.0  # what was picked of it so far [kg]
    # Chance that a soak brings nothing though the weather suits, by which `kg` is less in every
    # member; 0 once something was seen [0..1]
    fails: float = 0.0

    def whole_kg(self, scale: float, chance: float) -> float:
        """Return the weight of the whole flush that so many members stay below. [kg]"""
        return self.picked_kg + scale * float(np.quantile(self.kg, chance))

    def clear_row(self, chance: float) -> int:
        """Return the row on which its logs have left their place to fruit, see `picking`."""
        return int(clear_row(self.past, self.kg > 0, chance))


def recent_soak(
    state: StackState, futures: Ensemble, forced: ForcedNumbers, *, longest_flush: float
) -> Soak | None:
    """Return the last soak if its flush may still be under way."""
    soak = state.last_soak
    longest = forced.longest_days + longest_flush
    if soak is None or (futures.today - pulled_on(soak, forced.usual_hours)).days > longest:
        return None
    return soak


def under_way(stack: StackOutlook, logs: Fruiting, bearing: FloatArray) -> UnderWay | None:
    """Return the flush of a stack that is under way today, if there is one.

    By its kind, without the factors of its bearing years, and what the bearing year of each day
    gives, (day,), relative to the best one looked at.
    """
    state, weather = stack.state, logs.weather
    soak = recent_soak(
        state,
        weather.futures,
        weather.numbers.forced,
        longest_flush=weather.numbers.picking.longest_flush,
    )
    if soak is not None:
        return _forced(stack, soak, logs, bearing)
    if state.pins_on is not None or state.fruiting_on is not None or _picking(state, weather):
        return _natural(stack, logs, bearing)
    return None


def _row(day: date, futures: Ensemble) -> int:
    return max(futures.row(day), 0)


def _forced(
    stack: StackOutlook, soak: Soak, logs: Fruiting, bearing: FloatArray
) -> UnderWay | None:
    weather, state = logs.weather, stack.state
    futures, numbers = weather.futures, weather.numbers
    today, members = futures.lookback, len(futures.years)
    rows = np.array([_row(soak.on, futures)])
    pull = np.array([_row(pulled_on(soak, numbers.forced.usual_hours), futures)])
    hours = np.array([soak.hours]) if soak.hours else weather.usual_hours(rows)
    picks = [pick for pick in state.picks if pick.soaked_on == soak.on]
    longest, reach = logs.forced_shape.shape[1], numbers.diary.forced_pick_days
    if picks and _row(min(p.on for p in picks), futures) + _LATEST + longest <= today:
        return None  # picked out, however it went
    fruiting, pins = (
        seen if seen and soak_behind(state.soaks, seen, forced_pick_days=reach) == soak else None
        for seen in (state.fruiting_on, state.pins_on)
    )
    comes, fails, unseen = np.ones(members), 0.0, False
    if picks:
        pick = np.full(members, _row(min(p.on for p in picks), futures))
    elif fruiting is not None:
        pick = np.full(members, today)
    elif pins is not None:
        left = weather.need(rows) * (1 - numbers.forced.pins_share)
        pick = first_pick(weather.thermal_time, np.array([_row(pins, futures)]), left)[0]
    elif soak.brought_nothing:
        return None
    else:
        need, still = _need_unless_failed(weather, rows, pull)
        pick = first_pick(weather.thermal_time, pull, need)[0]
        fails = weather.luck.fails
        comes = (still & weather.bears(pull, pick[None])[0]) * (1 - fails)
        unseen = True
    if not picks:
        pick = np.maximum(pick, today)
    length, kg = weather.crop(rows, pull, hours, pick[None])
    soaked = min(soak.logs / max(state.logs, 1), 1.0)
    rest = _rest(state, soak.on, soak.on, numbers.yields, flush_days=numbers.diary.flush_days)
    least = 0.0 if unseen else numbers.picking.seen_least
    factor = max(rest, least) * float(bearing[rows[0]]) * soaked
    best = numbers.strain(weather.kind.strain_class).yields.base * factor
    flush = _Flush("forced", soak.on, picks, pick, length[0], soak.logs)
    if picks and stack.effective_logs > 0:
        rested = _rested(rest, least)
        return _being_picked(stack, flush, kg[0] * factor, best, int(pull[0]), logs, rested=rested)
    found = _to_come(stack, flush, kg[0] * factor * comes, "yield", int(rows[0]), logs)
    return found and replace(found, fails=fails)


def _rest(
    state: StackState, begun: date, set_off: date, yields: YieldsNumbers, *, flush_days: float
) -> float:
    """Return what the rest from the flush before to what set this one off has made of it."""
    earlier = [
        pick.on for pick in first_picks(state.picks, flush_days=flush_days) if pick.on < begun
    ]
    rest = (set_off - max(earlier)).days if earlier else np.inf
    return float(rest_factor(rest, yields))


def _rested(rest: float, least: float) -> float:
    """Return by how much more a flush may give than the least that a short rest leaves it.

    A few days of rest leave nothing by the table. Where mushrooms are picked all the same, what
    went before may have been a few early ones and no flush: then the logs are rested.
    """
    return 1 / least if rest < least else 1.0


def _need_unless_failed(
    weather: LogWeather, rows: IntArray, pull: IntArray
) -> tuple[FloatArray, BoolArray]:
    """Return the warmth that a soak still without mushrooms needs, and where they still come.

    Members whose draw would have brought them before today can't be the yard's: their draws
    are spread anew over what is still possible, in their order. A small share of soaks fails
    for no reason the weather tells; among those that are late it is a growing share.
    """
    numbers, today, luck = weather.numbers, weather.futures.lookback, weather.luck
    sigma, table = luck.lead_log_sd, weather.table_need(luck.leads)
    by = max(today - int(numbers.diary.record_delay_days), int(pull[0]))
    thermal_time = float(np.median(weather.thermal_time[by] - weather.thermal_time[pull[0]]))
    gone = np.zeros(len(table))
    if thermal_time > 0:
        gone = _below((np.log(thermal_time / table) + sigma**2 / 2) / sigma)
    failed = luck.fails / (luck.fails + (1 - luck.fails) * (1 - gone))
    failed = (failed - luck.fails) / (1 - luck.fails)  # none is overdue yet: as when planned
    place = _below(weather.normals("lead", rows)[0])
    comes = place <= 1 - failed
    left = np.minimum(place / np.maximum(1 - failed, 1e-9), 1.0)
    place = np.clip(gone + (1 - gone) * left, 1e-9, 1 - 1e-9)
    normal = np.array([_NORMAL.inv_cdf(p) for p in place])
    return (table * np.exp(sigma * normal - sigma**2 / 2))[None], comes


def _below(scores: FloatArray) -> FloatArray:
    """Return the chance below each standard normal score."""
    return np.array([_NORMAL.cdf(score) for score in scores])


def _natural(stack: StackOutlook, logs: Fruiting, bearing: FloatArray) -> UnderWay | None:
    weather, state = logs.weather, stack.state
    futures, numbers, kind = weather.futures, weather.numbers, weather.kind
    members = len(futures.years)
    picks = _picking(state, weather)
    seen = [pick.on for pick in picks] + ([state.fruiting_on] if state.fruiting_on else [])
    if seen:
        begun = min(seen)
        row = _row(begun, futures)
        pick = np.full(members, row)
        start = int(
            set_off_row(
                np.median(weather.thermal_time[: row + 1], axis=1),
                row,
                numbers.strain(kind.strain_class).forced.requirement * kind.lead_factor,
                numbers.natural,
            )
        )
    elif state.pins_on is not None:
        begun = state.pins_on
        start = row = _row(begun, futures)
        pins = np.zeros(futures.tmean.shape, dtype=bool)
        pins[row] = True
        left = kind.lead_factor * weather.luck.leads * (1 - numbers.forced.pins_share)
        need = numbers.strain(kind.strain_class).forced.requirement
        found = natural_first_pick(need, weather.thermal_time, pins, numbers.natural, left)
        pick = np.maximum(found.first_pick[row], futures.lookback)
    else:
        return None
    mean = mean_between(weather.temperature, np.array([[start]]), pick[None])
    length = flush_days("natural", mean, numbers.picking, numbers.natural)[0]
    best = numbers.strain(kind.strain_class).yields.base * numbers.yields.natural_factor
    set_off = begun - timedelta(days=row - start)
    rest = _rest(state, begun, set_off, numbers.yields, flush_days=numbers.diary.flush_days)
    best *= max(rest, numbers.picking.seen_least)
    best *= float(bearing[start])
    whole = (
        best * temperature_factor(numbers.strain(kind.strain_class).range, mean, numbers.yields)[0]
    )
    whole = whole * moisture_factor(weather.moisture[start], numbers.moisture, numbers.spawn_run)
    # Frost before the first pick has taken its share of what is still to come, too.
    whole *= surviving_share(weather.loss, np.array([[start]]), (pick + length)[None])[0]
    flush = _Flush("natural", begun, picks, pick, length, state.logs)
    if picks and stack.effective_logs > 0:
        rested = _rested(rest, numbers.picking.seen_least)
        return _being_picked(stack, flush, whole, best, None, logs, rested=rested)
    return _to_come(stack, flush, whole, "natural", row, logs)


def _picking(state: StackState, weather: LogWeather) -> list[Pick]:
    """Return the picks of a natural flush that may still be going on."""
    numbers, today = weather.numbers, weather.futures.today
    firsts = [
        pick
        for pick in first_picks(state.picks, flush_days=numbers.diary.flush_days)
        if pick.kind == "natural"
    ]
    longest = numbers.natural.longest_flush + _LATEST
    if not firsts or (today - firsts[-1].on).days > longest:
        return []
    return [p for p in state.picks if p.kind == "natural" and p.on >= firsts[-1].on]


@dataclass(frozen=True)
class _Flush:
    """What is known of a flush under way before its weight."""

    kind: FlushKind
    begun: date
    picks: list[Pick]
    pick: IntArray
    length: IntArray
    logs: int


def _to_come(
    stack: StackOutlook, flush: _Flush, table: FloatArray, what: str, row: int, logs: Fruiting
) -> UnderWay | None:
    """Return a flush of which nothing was picked; counted pins say how big it will be."""
    weather = logs.weather
    table = table * weather.shared[row]
    kg = table * weather.yields(what, [row])[0]
    counted = _counted_ratio(stack, flush, table, weather)
    if counted is not None:
        mean, spread = _size(counted, weather.luck.yield_log_sd, weather)
        own = np.exp(mean + spread * weather.normals(what, [row])[0])
        kg = np.minimum(table * own, _most(stack, flush, weather.numbers.yields))
    return _remaining(flush, flush.pick, kg, logs)


def _being_picked(
    stack: StackOutlook,
    flush: _Flush,
    table: FloatArray,
    best: float,
    pull: int | None,
    logs: Fruiting,
    *,
    rested: float,
) -> UnderWay | None:
    """Return a flush that is being picked: its size and beginning inferred from the picks.

    `table` is its weight by the table in this weather, (member,) [kg per effective log], `best`
    the same under the best; `pull` the row of the pull, None for a natural flush, whose beginning
    only the picks tell; `rested` by how much more it is as likely to give, see `_rested`.
    """
    weather = logs.weather
    numbers, futures = weather.numbers, weather.futures
    first = int(flush.pick[0])
    # Heat or frost may have left so little; or the table is wrong, since mushrooms are there.
    least = best * numbers.picking.seen_least
    tables = np.stack([table, np.maximum(table, least) * rested])
    by_day: dict[int, float] = {}
    for p in flush.picks:
        day = _row(p.on, futures) - first
        by_day[day] = by_day.get(day, 0.0) + p.kg / stack.effective_logs
    days = np.array(sorted(day for day, kg in by_day.items() if kg > 0), dtype=np.int64)
    if not len(days):
        return _to_come(stack, flush, tables[1], "yield", first, logs)
    shapes = logs.forced_shape if flush.kind == "forced" else logs.natural_shape
    starts = np.arange(_EARLIEST, _LATEST + 1)
    rows = np.clip(first + starts, 0, futures.days - 1)
    if pull is None:
        thermal_time = need = np.ones((len(starts), len(table)))
        need = need[0]
    else:
        thermal_time = weather.thermal_time[rows] - weather.thermal_time[pull]
        need = weather.table_need(weather.luck.leads)
    weights = start_weights(
        starts,
        thermal_time,
        need,
        log_sd=weather.luck.lead_log_sd,
        near_days=numbers.picking.near_days,
        doubt=numbers.picking.stray_share,
    )
    order = order_of_members(weather.seed, futures.years, f"{stack.name} from {flush.begun}")
    found = still_to_come(
        days,
        np.array([by_day[day] for day in days.tolist()]),
        np.maximum(tables, best * _LEAST_LEFT),
        shapes[flush.length].T,
        starts,
        weights,
        (order + 0.5) / len(order),
        # Picks tell of the yard and its season too: their parts are inferred with the rest.
        size=_size(
            _counted_ratio(stack, flush, tables[1], weather),
            float(np.hypot(weather.luck.yield_log_sd, weather.luck.shared_log_sd)),
            weather,
        ),
        basket_log_sd=numbers.picking.basket_spread,
        stray=numbers.picking.stray_share,
        most=_most(stack, flush, numbers.yields),
    )
    return _remaining(flush, first + found.start, found.kg, logs)


def _most(stack: StackOutlook, flush: _Flush, yields: YieldsNumbers) -> float:
    """Return what its logs can give in one flush. [kg per effective log]"""
    wood = stack.stack
    kg = yields.most_a_flush * size_factor(wood.diameter, wood.length)
    return kg * flush.logs / stack.effective_logs if stack.effective_logs > 0 else np.inf


def _counted_ratio(
    stack: StackOutlook, flush: _Flush, table: FloatArray, weather: LogWeather
) -> float | None:
    """Return what the pins counted of a flush should come to over the table's weight."""
    counted, numbers = stack.state.pins_counted, weather.numbers
    if counted is None or stack.effective_logs <= 0 or table.mean() <= 0:
        return None
    on, per_log = counted
    earliest = flush.begun
    if flush.kind == "natural":
        earliest -= timedelta(days=int(numbers.natural.longest_days))
    if on < earliest:
        return None
    kg = per_log * numbers.picking.pin_kg * flush.logs / stack.effective_logs
    return kg / float(table.mean())


def _size(counted: float | None, log_sd: float, weather: LogWeather) -> tuple[float, float]:
    spread = weather.numbers.picking.basket_spread
    return size_belief(log_sd, counted_ratio=counted, count_log_sd=spread)


def _remaining(flush: _Flush, start: IntArray, left: FloatArray, logs: Fruiting) -> UnderWay | None:
    """Spread what is still to come over the days of the flush from today on.

    What has ripened since the last basket waits for the next.
    """
    futures = logs.weather.futures
    today, days, members = futures.lookback, futures.days, len(futures.years)
    shapes = logs.forced_shape if flush.kind == "forced" else logs.natural_shape
    share = np.zeros((days, members))
    after = max((p.on for p in flush.picks), default=futures.today - timedelta(days=1))
    from_row = max(today, today + (after - futures.today).days + 1)
    day = np.arange(shapes.shape[1])
    row = start[:, None] + day
    member, at = true_at((row >= from_row) & (row < days) & (day < flush.length[:, None]))
    share[row[member, at], member] = shapes[flush.length[member], at]
    total = share.sum(axis=0)
    if not total.any():
        return None
    share = np.divide(share, total, out=share, where=total > 0)
    past = np.maximum(start, flush.pick) + flush.length
    picked = sum(p.kg for p in flush.picks)
    return UnderWay(flush.kind, flush.begun, flush.pick, past, left * (total > 0), share, picked)


def start_of(
    stack: StackOutlook, flush: UnderWay | None, futures: Ensemble
) -> tuple[FloatArray, IntArray]:
    """Return where a stack starts from in each member, as `follow` wants it.

    The row of the last first pick, -inf when there was none yet (a soak that brought nothing starts
    the rest itself), and the first row on which the weather could set off a natural flush, rest
    left aside.
    """
    members = len(futures.years)
    ready = np.maximum(stack.spawn.rows, 0)
    last = np.full(members, -np.inf)
    picked, soak = stack.last_first_pick, stack.state.last_soak
    if picked is not None:
        last[:] = futures.row(picked)
    if soak is not None and (picked is None or picked < soak.on):
        last[:] = futures.row(soak.on)
        if stack.pulled_on is not None:
            ready = np.maximum(ready, futures.row(stack.pulled_on))
    if flush is not None:
        comes = flush.kg > 0
        last = np.where(comes, np.maximum(last, flush.pick), last)
        ready = np.where(comes, np.maximum(ready, flush.past), ready)
    return last, ready
