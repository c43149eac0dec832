"""Each stack as it stands today: ready or not, rested or not, and what it may give."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil

import numpy as np
import numpy.typing as npt

from fruitcast.forecast.fruiting import Kind
from fruitcast.forecast.members import AFTER_LAST_PICK_DAYS, Futures
from fruitcast.forecast.spawn import SpawnRun
from fruitcast.forecast.water import Band, PastWater
from fruitcast.logs.moisture import presumed_dead
from fruitcast.numbers import Numbers
from fruitcast.shiitake.bearing import (
    bearing_life,
    bearing_year,
    first_bearing_season,
    hemisphere,
    season,
    season_gone,
)
from fruitcast.shiitake.yields import lifetime_yield, stack_factor, wear_factor
from fruitcast.yard.model import Site, Stack
from fruitcast.yard.state import Pick, Soak, StackState

FloatArray = npt.NDArray[np.float64]

FLUSH_GAP_DAYS = 14
"""Natural picks further apart than this belong to different flushes. [day]"""

LEAD_STEP = 0.1
"""Learned lead times are planned with in such steps, at most half a day off in ten, so that
stacks go on sharing their flushes. [unitless]"""

DRY_DAYS_LOOKED_AT = 365
"""A drought longer ago than this is not held against a stack. [day]"""

CAUSES = ("no logs", "dead", "tank", "pins", "spawn run", "first year", "rest", "natural rest")
"""What can forbid a soak of one stack for a time or for good."""


@dataclass(frozen=True)
class Hold:
    """One cause that forbids soaking a stack.

    Attributes
    ----------
    cause : str
        One of `CAUSES`.
    until : date or None
        First day on which it no longer does; None: not within the days looked at.
    """

    cause: str
    until: date | None


@dataclass(frozen=True)
class Learning:
    """The yard's own factors for one strain class and tree species, 1 when nothing was learned."""

    yield_factor: float = 1.0
    lead_factor: float = 1.0


@dataclass(frozen=True)
class Weighing:
    """The last weighing of a stack's sample logs, beside what the model had for that evening.

    Attributes
    ----------
    on : date
        Day of the weighing.
    found, modelled : float
        Log moisture. [kg/kg dry wood]
    """

    on: date
    found: float
    modelled: float


@dataclass(frozen=True)
class Dampness:
    """How wet a stack is today, and what is known of it.

    Attributes
    ----------
    moisture : float
        Log moisture on the evening before today. [kg/kg dry wood]
    dry_since : date or None
        First day on which it was so dry that its spawn is presumed dead, with no sign of life
        since; None when there was none.
    weighing : Weighing or None
        The last one.
    """

    moisture: float
    dry_since: date | None = None
    weighing: Weighing | None = None


def dampness_of(
    column: int, stack: Stack, state: StackState, past: PastWater, today: date, numbers: Numbers
) -> Dampness:
    """Return how wet one stack is; an inspection, pins or mushrooms show that it lives.

    Parameters
    ----------
    column : int
        Its column in `past.by_stack`.
    stack, state : Stack, StackState
        The stack.
    past : PastWater
        Moisture so far.
    today : date
        The day after the last row of `past`.
    numbers : Numbers
        The numbers in use.
    """
    moisture = past.by_stack[:, column]
    seen = [pick.on for pick in state.picks]
    seen += [
        day
        for day in (state.inspected_on, state.pins_on, state.fruiting_on, state.spawn_run_seen_on)
        if day is not None
    ]
    looked_at = max(stack.inoculated, today - timedelta(days=DRY_DAYS_LOOKED_AT))
    begin = max(past.row(max([looked_at, *seen])), 0)
    dry = presumed_dead(moisture[begin:], numbers)
    if seen and max(seen) >= looked_at:
        # Seen alive in that state: only if it dries out anew.
        dry &= np.maximum.accumulate(~dry)
    dry_rows = np.flatnonzero(dry)
    weighed = np.flatnonzero(np.isfinite(past.correction[:, column]))
    weighing = None
    if len(weighed):
        row = int(weighed[-1])
        found = float(moisture[row])
        on = past.first + timedelta(days=row)
        weighing = Weighing(on, found, found - float(past.correction[row, column]))
    return Dampness(
        float(moisture[-1]),
        past.first + timedelta(days=begin + int(dry_rows[0])) if len(dry_rows) else None,
        weighing,
    )


@dataclass(frozen=True)
class StackOutlook:
    """One stack (or lot) today.

    Attributes
    ----------
    name : str
        Stack or lot.
    stack : Stack
        Its row in the list.
    state : StackState
        What the diary says.
    kind : Kind
        What the weather does to it.
    spawn : SpawnRun
        Its spawn run.
    dampness : Dampness
        How wet it is.
    bearing_year : int or None
        Bearing year today; 0 or less before the first; None when it is not known yet.
    life : float
        Bearing life. [year]
    scale : float
        Logs times stack factor in the best season looked at, wear and learning.
    course : tuple of float
        Factor of each season looked at relative to the best one.
    later : float
        Factor of the season after those, relative to the same.
    holds : tuple of Hold
        What forbids a soak, and until when.
    last_first_pick : date or None
        First pick of its latest flush.
    pulled_on : date or None
        Day on which the logs of its last soak came, or will come, out of the tank.
    wear : float
        What hard picking so far has left of the flushes to come.
    """

    name: str
    stack: Stack
    state: StackState
    kind: Kind
    spawn: SpawnRun
    dampness: Dampness
    bearing_year: int | None
    life: float
    scale: float
    course: tuple[float, ...]
    later: float
    holds: tuple[Hold, ...]
    last_first_pick: date | None
    pulled_on: date | None
    wear: float

    @property
    def moisture(self) -> float:
        """Log moisture on the evening before today. [kg/kg dry wood]"""
        return self.dampness.moisture

    @property
    def soakable_from(self) -> date | None:
        """First day on which nothing of its own forbids a soak; None when that is not known."""
        if any(hold.until is None for hold in self.holds):
            return None
        return max((hold.until for hold in self.holds if hold.until), default=date.min)


def first_picks(picks: tuple[Pick, ...]) -> list[Pick]:
    """Return the first pick of each flush, in order of date."""
    firsts: list[Pick] = []
    previous: Pick | None = None
    for pick in sorted(picks, key=lambda p: p.on):
        same = previous is not None and (
            pick.soaked_on == previous.soaked_on
            and (pick.kind == "forced" or (pick.on - previous.on).days <= FLUSH_GAP_DAYS)
        )
        if not same:
            firsts.append(pick)
        previous = pick
    return firsts


def outlook_of(
    name: str,
    stack: Stack,
    state: StackState,
    spawn: SpawnRun,
    dampness: Dampness,
    band: Band,
    futures: Futures,
    site: Site,
    learning: Learning,
    numbers: Numbers,
    doubted: Mapping[date, float] | None = None,
) -> StackOutlook:
    """Return one stack's outlook, flushes under way left aside.

    Parameters
    ----------
    name : str
        Stack or lot.
    stack, state : Stack, StackState
        Its row in the list, and what the diary says.
    spawn : SpawnRun
        Its spawn run.
    dampness : Dampness
        How wet it is.
    band : Band
        Its band in the members' moisture.
    futures : Futures
        The members' weather.
    site : Site
        For the hemisphere.
    learning : Learning
        The yard's own factors.
    numbers : Numbers
        The numbers in use.
    doubted : mapping of date to float, optional
        Its flushes that the grower is asked about, see `picked_per_log`.
    """
    where = hemisphere(site.latitude)
    life = bearing_life(stack.diameter, stack.tree, numbers)
    ready = spawn.ready_on or spawn.middle
    seasons = seasons_of(futures, site)
    factors, later = np.zeros(len(seasons)), 0.0
    year: int | None = None
    wear = 1.0
    if ready is not None:
        first = first_bearing_season(ready, where, numbers)
        years = np.array([s - first + 1 for s in [*seasons, seasons[-1] + 1]])
        by_year = stack_factor(stack.tree, stack.diameter, stack.length, years, numbers)
        factors, later = by_year[:-1], float(by_year[-1])
        year = bearing_year(ready, futures.today, where, numbers)
        gone = year - 1 + season_gone(futures.today, where)
        wear = wear_today(stack, state, gone, learning.yield_factor, numbers, doubted)
    best = float(factors.max())
    scale = state.logs * best * wear * learning.yield_factor
    dead = dampness.dry_since is not None
    return StackOutlook(
        name=name,
        stack=stack,
        state=state,
        kind=Kind(
            stack.strain_class,
            band.diameter,
            round(round(learning.lead_factor / LEAD_STEP) * LEAD_STEP, 4),
            band.level,
        ),
        spawn=spawn,
        dampness=dampness,
        bearing_year=year,
        life=life,
        scale=0.0 if dead else scale,
        course=tuple(np.round(factors / best, 6).tolist()) if best > 0 else (1.0,) * len(seasons),
        later=later / best if best > 0 else 0.0,
        holds=_holds(stack, state, spawn, dead, futures, numbers),
        last_first_pick=max((pick.on for pick in first_picks(state.picks)), default=None),
        pulled_on=None if state.last_soak is None else pulled_on(state.last_soak, numbers),
        wear=wear,
    )


def seasons_of(futures: Futures, site: Site) -> list[int]:
    """Return the growing seasons that the days which count fall in, rising.

    What is looked at only so that late picks are seen to come does not count.
    """
    where = hemisphere(site.latitude)
    last = max(futures.lookback, futures.days - AFTER_LAST_PICK_DAYS) - 1
    first, last_season = season(futures.today, where), season(futures.date(last), where)
    return list(range(first, max(first, last_season) + 1))


def season_rows(futures: Futures, site: Site) -> npt.NDArray[np.int64]:
    """Return the position in `seasons_of` of each row, the nearest for rows outside them."""
    where = hemisphere(site.latitude)
    seasons = seasons_of(futures, site)
    rows = np.array([season(futures.date(row), where) for row in range(futures.days)])
    return np.asarray(np.clip(rows - seasons[0], 0, len(seasons) - 1))


def picks_by_flush(picks: tuple[Pick, ...]) -> list[list[Pick]]:
    """Return the picks of each flush, in order of date."""
    firsts = first_picks(picks)
    flushes: list[list[Pick]] = []
    for pick in sorted(picks, key=lambda p: p.on):
        if len(flushes) < len(firsts) and pick is firsts[len(flushes)]:
            flushes.append([])
        flushes[-1].append(pick)
    return flushes


def picked_per_log(state: StackState, doubted: Mapping[date, float] | None = None) -> float:
    """Return what a log of a stack that still lives has given so far. [kg/log]

    A pick is shared among the logs that lived on its day.

    Parameters
    ----------
    state : StackState
        The stack.
    doubted : mapping of date to float, optional
        Flushes that the grower is asked about, by their first pick: what a log should have
        given in them, which counts instead. [kg/log]
    """
    total = 0.0
    for picks in picks_by_flush(state.picks):
        expected = (doubted or {}).get(picks[0].on)
        if expected is not None:
            total += expected
            continue
        for pick in picks:
            logs = state.logs + sum(lost for on, lost in state.lost if on > pick.on)
            total += pick.kg / max(logs, 1)
    return total


def wear_today(
    stack: Stack,
    state: StackState,
    years_gone: float,
    yield_factor: float,
    numbers: Numbers,
    doubted: Mapping[date, float] | None = None,
) -> float:
    """Return what hard picking so far has left of a stack's flushes to come. [unitless]

    Parameters
    ----------
    stack, state : Stack, StackState
        The stack.
    years_gone : float
        Bearing years gone by today, with the part of this season that has passed. [year]
    yield_factor : float
        What was learned of the yard: its logs hold so much more or less in their life.
    numbers : Numbers
        The numbers in use.
    doubted : mapping of date to float, optional
        See `picked_per_log`.
    """
    if not state.picks:
        return 1.0
    life = bearing_life(stack.diameter, stack.tree, numbers)
    whole = lifetime_yield(stack.strain_class, stack.tree, stack.diameter, stack.length, numbers)
    given = picked_per_log(state, doubted) / (whole * yield_factor)
    return float(wear_factor(given, max(years_gone, 0.0), life, numbers))


def pulled_on(soak: Soak, numbers: Numbers) -> date:
    """Return the day on which the logs of a soak came, or will come, out of the tank."""
    if soak.pulled_on is not None:
        return soak.pulled_on
    hours = soak.hours or numbers["forced.usual_hours"]
    return soak.on + timedelta(days=ceil(hours / 24))


def soak_behind(state: StackState, day: date, numbers: Numbers) -> Soak | None:
    """Return the soak that what was seen on a day belongs to; None when it came by itself."""
    window = timedelta(days=int(numbers["diary.forced_pick_days"]))
    for soak in reversed(state.soaks):
        if soak.pulled_on is not None and soak.pulled_on <= day <= soak.pulled_on + window:
            return soak
    return None


def _holds(
    stack: Stack,
    state: StackState,
    spawn: SpawnRun,
    dead: bool,
    futures: Futures,
    numbers: Numbers,
) -> tuple[Hold, ...]:
    today = futures.today
    holds: list[Hold] = []
    if state.logs <= 0:
        holds.append(Hold("no logs", None))
    if dead:
        holds.append(Hold("dead", None))
    if spawn.sure_row > futures.lookback:
        row = spawn.sure_row
        holds.append(Hold("spawn run", None if row >= futures.days else futures.date(row)))
    year = stack.inoculated + timedelta(days=int(numbers["forced.first_after_days"]))
    if year > today:
        holds.append(Hold("first year", year))
    rest = timedelta(days=int(numbers["schedule.rest_days"]))
    last = state.last_soak
    if last is not None and last.on + rest > today:
        holds.append(Hold("tank" if last.pulled_on is None else "rest", last.on + rest))
    natural_rest = timedelta(days=int(numbers["natural.soak_rest_days"]))
    natural = [pick.on for pick in first_picks(state.picks) if pick.kind == "natural"]
    if state.fruiting_on is not None and soak_behind(state, state.fruiting_on, numbers) is None:
        natural.append(state.fruiting_on)
    if natural and max(natural) + natural_rest > today:
        holds.append(Hold("natural rest", max(natural) + natural_rest))
    if state.pins_on is not None:
        # The flush that the pins announce must come and the log rest after it.
        holds.append(Hold("pins", state.pins_on + natural_rest))
    return tuple(holds)
