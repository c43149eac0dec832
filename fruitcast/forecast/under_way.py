"""Flushes already under way today: soaked and not yet picked out, pinning, or in the open.

What was seen overrules the model. A soak that has brought nothing by its time is late or has
failed, the likelier the later it is. Picks already made tell what is still to come.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from statistics import NormalDist

import numpy as np
import numpy.typing as npt

from fruitcast.forecast.fruiting import Fruiting, LogWeather
from fruitcast.forecast.history import first_picks, pulled_on, soak_behind
from fruitcast.forecast.members import Futures
from fruitcast.forecast.stacks import StackOutlook
from fruitcast.shiitake.forced import first_pick, mean_between, surviving_share
from fruitcast.shiitake.natural import natural_first_pick, set_off_row
from fruitcast.shiitake.picking import FlushKind, flush_days
from fruitcast.shiitake.spawn_run import moisture_factor
from fruitcast.shiitake.spread import log_scatter
from fruitcast.shiitake.yields import rest_factor, temperature_factor
from fruitcast.topics import ForcedNumbers, YieldsNumbers
from fruitcast.yard.state import Pick, Soak, StackState

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]


_NORMAL = NormalDist()


@dataclass(frozen=True)
class UnderWay:
    """One flush that began before today and is not picked out yet.

    Attributes
    ----------
    kind : str
        'forced' or 'natural'.
    begun : date
        Soak day, or day on which pins or caps were seen.
    pick : (member,) int array
        Row of the first pick.
    past : (member,) int array
        Row after the last pick.
    kg : (member,) float array
        What is still to come; 0 where nothing does. [kg per unit of scale]
    share : (day, member) float array
        How that spreads over the rows of the members' weather; adds up to 1 or 0.
    """

    kind: FlushKind
    begun: date
    pick: IntArray
    past: IntArray
    kg: FloatArray
    share: FloatArray


def recent_soak(
    state: StackState, futures: Futures, forced: ForcedNumbers, *, longest_flush: float
) -> Soak | None:
    """Return the last soak if its flush may still be under way."""
    soak = state.last_soak
    longest = forced.longest_days + longest_flush
    if soak is None or (futures.today - pulled_on(soak, forced.usual_hours)).days > longest:
        return None
    return soak


def under_way(stack: StackOutlook, logs: Fruiting, course: FloatArray) -> UnderWay | None:
    """Return the flush of a stack that is under way today, if there is one.

    Parameters
    ----------
    stack : StackOutlook
        The stack.
    logs : Fruiting
        Its kind, without the course of bearing years.
    course : (day,) float array
        What the bearing year of each day gives, relative to the best one looked at.
    """
    state, weather = stack.state, logs.weather
    soak = recent_soak(
        state,
        weather.futures,
        weather.numbers.forced,
        longest_flush=weather.numbers.picking.longest_flush,
    )
    if soak is not None:
        return _forced(stack, soak, logs, course)
    if state.pins_on is not None or state.fruiting_on is not None or _picking(state, weather):
        return _natural(stack, logs, course)
    return None


def _row(day: date, futures: Futures) -> int:
    return max(futures.lookback + (day - futures.today).days, 0)


def _forced(stack: StackOutlook, soak: Soak, logs: Fruiting, course: FloatArray) -> UnderWay | None:
    weather, state = logs.weather, stack.state
    futures, numbers = weather.futures, weather.numbers
    today, members = futures.lookback, len(futures.years)
    rows = np.array([_row(soak.on, futures)])
    pull = np.array([_row(pulled_on(soak, numbers.forced.usual_hours), futures)])
    hours = np.array([soak.hours]) if soak.hours else weather.usual_hours(rows)
    picks = [pick for pick in state.picks if pick.soaked_on == soak.on]
    comes = np.ones(members, dtype=bool)
    if picks:
        pick = np.full(members, _row(min(p.on for p in picks), futures))
    elif _belongs(state.fruiting_on, soak, state, forced_pick_days=numbers.diary.forced_pick_days):
        pick = np.full(members, today)
    elif (
        pins := _belongs(
            state.pins_on, soak, state, forced_pick_days=numbers.diary.forced_pick_days
        )
    ) is not None:
        left = weather.table_need * weather.scatter("lead", rows)
        left = left * (1 - numbers.forced.pins_share)
        pick = first_pick(weather.warmth, np.array([_row(pins, futures)]), left)[0]
    else:
        need, comes = _need_unless_failed(weather, rows, pull)
        pick = first_pick(weather.warmth, pull, need)[0]
        comes &= weather.bears(pull, pick[None])[0]
    if not picks:
        pick = np.maximum(pick, today)
    length, kg = weather.crop(rows, pull, hours, pick[None])
    soaked = min(soak.logs / max(state.logs, 1), 1.0)
    factor = (
        _rest(state, soak.on, numbers.yields, flush_days=numbers.diary.flush_days)
        * float(course[rows[0]])
        * soaked
    )
    return _remaining(
        stack, "forced", soak.on, picks, pick, length[0], kg[0] * factor * comes, logs
    )


def _belongs(
    day: date | None, soak: Soak, state: StackState, *, forced_pick_days: float
) -> date | None:
    """Return the day of a sighting if it belongs to the soak."""
    return (
        day
        if day is not None and soak_behind(state, day, forced_pick_days=forced_pick_days) == soak
        else None
    )


def _rest(state: StackState, begun: date, yields: YieldsNumbers, *, flush_days: float) -> float:
    """Return what the rest since the flush before has made of this one."""
    earlier = [
        pick.on for pick in first_picks(state.picks, flush_days=flush_days) if pick.on < begun
    ]
    rest = (begun - max(earlier)).days if earlier else np.inf
    return float(rest_factor(rest, yields))


def _need_unless_failed(
    weather: LogWeather, rows: IntArray, pull: IntArray
) -> tuple[FloatArray, npt.NDArray[np.bool_]]:
    """Return the warmth that a soak still without mushrooms needs, and where they still come.

    Members whose draw would have brought them before today can't be the yard's: their draws
    are spread anew over what is still possible, in their order. A small share of soaks fails
    for no reason the weather tells; among those that are late it is a growing share.
    """
    numbers, today = weather.numbers, weather.futures.lookback
    sigma = log_scatter(numbers.forced.lead_scatter)
    by = max(today - int(numbers.diary.record_delay_days), int(pull[0]))
    warmth = float(weather.warmth[by, 0] - weather.warmth[pull[0], 0])
    gone = 0.0
    if warmth > 0:
        gone = _NORMAL.cdf((np.log(warmth / weather.table_need) + sigma**2 / 2) / sigma)
    fails = numbers.forced.overdue_fails
    failed = fails / (fails + (1 - fails) * (1 - gone))
    failed = (failed - fails) / (1 - fails)  # nothing is overdue yet: as for a planned soak
    place = np.array([_NORMAL.cdf(z) for z in weather.normals("lead", rows)[0]])
    comes = place <= 1 - failed
    left = np.minimum(place / max(1 - failed, 1e-9), 1.0)
    place = np.clip(gone + (1 - gone) * left, 1e-9, 1 - 1e-9)
    normal = np.array([_NORMAL.inv_cdf(p) for p in place])
    return weather.table_need * np.exp(sigma * normal - sigma**2 / 2)[None], comes


def _natural(stack: StackOutlook, logs: Fruiting, course: FloatArray) -> UnderWay | None:
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
                weather.warmth[:, 0],
                row,
                requirement=numbers.strain(kind.strain_class).forced.requirement,
                requirement_factor=numbers.natural.requirement_factor,
            )
        )
    elif state.pins_on is not None:
        begun = state.pins_on
        start = row = _row(begun, futures)
        pins = np.zeros(futures.tmean.shape, dtype=bool)
        pins[row] = True
        left = kind.lead_factor * (1 - numbers.forced.pins_share)
        found = natural_first_pick(
            numbers.strain(kind.strain_class), futures.tmean, pins, numbers.natural, left
        )
        pick = np.maximum(found.first_pick[row], futures.lookback)
    else:
        return None
    mean = mean_between(weather.temperature, np.array([[start]]), pick[None])
    length = flush_days("natural", mean, numbers.picking, numbers.natural)[0]
    kg = numbers.strain(kind.strain_class).yields.base * numbers.yields.natural_factor
    whole = (
        kg
        * temperature_factor(
            numbers.strain(kind.strain_class).range, mean, margin=numbers.yields.range_margin
        )[0]
    )
    whole = whole * moisture_factor(
        weather.moisture[row],
        dead_below=numbers.moisture.dead_below,
        moisture_full=numbers.spawn_run.moisture_full,
    )
    whole *= surviving_share(weather.loss, np.array([[row]]), (pick + length)[None])[0]
    whole *= (
        weather.scatter("natural", [row])[0]
        * _rest(state, begun, numbers.yields, flush_days=numbers.diary.flush_days)
        * course[row]
    )
    return _remaining(stack, "natural", begun, picks, pick, length, whole, logs)


def _picking(state: StackState, weather: LogWeather) -> list[Pick]:
    """Return the picks of a natural flush that may still be going on."""
    numbers, today = weather.numbers, weather.futures.today
    firsts = [
        pick
        for pick in first_picks(state.picks, flush_days=numbers.diary.flush_days)
        if pick.kind == "natural"
    ]
    if not firsts or (today - firsts[-1].on).days > numbers.natural.over_days:
        return []
    return [p for p in state.picks if p.kind == "natural" and p.on >= firsts[-1].on]


def _remaining(
    stack: StackOutlook,
    kind: FlushKind,
    begun: date,
    picks: list[Pick],
    pick: IntArray,
    length: IntArray,
    whole: FloatArray,
    logs: Fruiting,
) -> UnderWay | None:
    """Take off what was picked, and spread the rest over the days of the flush from today on.

    What was picked by a day, over the share usually picked by then, is a second view of the
    whole flush beside the table's. It counts by that share: little after the first basket,
    all when the flush is nearly over. A slip of the pen can't make it more than the weights
    that are asked about.
    """
    futures = logs.weather.futures
    today, days, members = futures.lookback, futures.days, len(futures.years)
    shapes = logs.forced_shape if kind == "forced" else logs.natural_shape
    share = np.zeros((days, members))
    member = np.arange(members)
    after = max((p.on for p in picks), default=futures.today - timedelta(days=1))
    from_row = max(today, today + (after - futures.today).days + 1)
    picked_share = np.zeros(members)
    for day in range(shapes.shape[1]):
        row, part = pick + day, shapes[length, day] * (day < length)
        inside = (row >= from_row) & (row < days)
        share[row[inside], member[inside]] += part[inside]
        if picks:
            picked_share += np.where(row <= today + (after - futures.today).days, part, 0.0)
    total = share.sum(axis=0)
    if not total.any():
        return None
    left = whole
    if picks and stack.scale > 0:
        given = sum(p.kg for p in picks) / stack.scale
        seen = given / np.maximum(picked_share, 1e-9)
        table = np.where(whole > 0, whole, seen)
        numbers = logs.weather.numbers
        most = np.exp(numbers.learning.question_at * log_scatter(numbers.yields.scatter))
        seen = np.clip(seen, table / most, table * most)
        left = (1 - picked_share) * table ** (1 - picked_share) * seen**picked_share
    share = np.divide(share, total, out=share, where=total > 0)
    return UnderWay(kind, begun, pick, pick + length, left * (total > 0), share)


def start_of(
    stack: StackOutlook, flush: UnderWay | None, futures: Futures
) -> tuple[FloatArray, IntArray]:
    """Return where a stack starts from in each member: last first pick, and ready row.

    Returns
    -------
    last_pick : (member,) float array
        Row of the last first pick; -inf when there was none yet. A soak that brought nothing
        starts the rest itself.
    ready_row : (member,) int array
        First row on which the weather could set off a natural flush, rest left aside.
    """
    members = len(futures.years)
    ready = np.maximum(stack.spawn.rows, 0)
    last = np.full(members, -np.inf)
    picked, soak = stack.last_first_pick, stack.state.last_soak
    if picked is not None:
        last[:] = futures.lookback + (picked - futures.today).days
    if soak is not None and (picked is None or picked < soak.on):
        last[:] = futures.lookback + (soak.on - futures.today).days
        if stack.pulled_on is not None:
            pulled = futures.lookback + (stack.pulled_on - futures.today).days
            ready = np.maximum(ready, pulled)
    if flush is not None:
        comes = flush.kg > 0
        last = np.where(comes, np.maximum(last, flush.pick), last)
        ready = np.where(comes, np.maximum(ready, flush.past), ready)
    return last, ready
