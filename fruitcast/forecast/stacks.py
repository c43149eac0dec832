"""Each stack as it stands today: ready or not, rested or not, and what it may give."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache

import numpy as np

from fruitcast.arrays import FloatArray, IntArray
from fruitcast.biology.yields import (
    Hemisphere,
    bearing_life,
    bearing_year,
    hemisphere,
    lifetime_yield,
    season,
    season_begins,
    stack_factor,
    wear_factor,
    years_borne,
    years_gone,
)
from fruitcast.diary.state import (
    Pick,
    StackState,
    first_picks,
    picked_per_log,
    pulled_on,
    soak_behind,
)
from fruitcast.forecast.log_weather import LogKind
from fruitcast.forecast.members import AFTER_LAST_PICK_DAYS, Ensemble
from fruitcast.forecast.spawn import SpawnRun
from fruitcast.forecast.water import Band, Dampness
from fruitcast.numbers import Numbers
from fruitcast.topics import TreeNumbers, YieldsNumbers
from fruitcast.yard.model import Site, Stack

AGE_STEP = 0.1
"""Bearing years are taken in such steps, so that stacks of about one age go on sharing their
flushes: a grid of the calculation. [year]"""

CAUSES = (
    "no logs",
    "dead",
    "tank",
    "pins",
    "spawn run",
    "first year",
    "rest",
    "natural rest",
    "kept back",
)
"""What can forbid a soak of one stack for a time or for good."""


@dataclass(frozen=True)
class Hold:
    """One cause that forbids soaking a stack."""

    cause: str  # one of `CAUSES`
    until: date | None  # first day on which it no longer does; None: not within the days looked at


@dataclass(frozen=True)
class Learning:
    """What the diary has taught of one stack; 1 when nothing was learned."""

    yield_factor: float = 1.0  # its flushes of this season over the table's [unitless]
    lead_factor: float = 1.0  # their warmth from pull to first pick [unitless]
    lasting_factor: float = 1.0  # its yield over the table's in a usual season [unitless]


@dataclass(frozen=True)
class StackOutlook:
    """One stack (or lot) today."""

    stack: Stack  # its row in the list
    state: StackState  # what the diary says
    kind: LogKind  # what the weather does to it
    spawn: SpawnRun  # its spawn run
    dampness: Dampness  # how wet it is
    # Bearing year today; 0 or less before the first; None when it is not known yet
    bearing_year: int | None
    life: float  # bearing life [year]
    effective_logs: float  # logs times stack factor in the best season looked at, wear and learning
    season_factors: tuple[float, ...]  # factor of each season looked at relative to the best one
    later: float  # factor of the season after those, relative to the same
    holds: tuple[Hold, ...]  # what forbids a soak, and until when
    last_first_pick: date | None  # first pick of its latest flush
    # Day on which the logs of its last soak came, or will come, out of the tank
    pulled_on: date | None
    wear: float  # what hard picking so far has left of the flushes to come

    @property
    def name(self) -> str:
        """Stack or lot."""
        return self.state.name

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


def outlook_of(
    stack: Stack,
    state: StackState,
    spawn: SpawnRun,
    dampness: Dampness,
    band: Band,
    futures: Ensemble,
    site: Site,
    learning: Learning,
    numbers: Numbers,
    seasons: Sequence[int],
    doubted: Mapping[date, float],
) -> StackOutlook:
    """Return one stack's outlook, flushes under way left aside.

    By its band in the members' moisture, what the diary has taught of it, and the seasons of
    `seasons_of`; `doubted` are its flushes that the grower is asked about, see `picked_per_log`.
    """
    where = hemisphere(site.latitude)
    life = bearing_life(stack.diameter, numbers.tree(stack.tree), numbers.yields)
    ready = spawn.ready_on or spawn.ready.p50
    factors, later = np.zeros(len(seasons)), 0.0
    year: int | None = None
    wear = 1.0
    if ready is not None:
        late = numbers.yields.late_ready_days
        looked_at = (*seasons, seasons[-1] + 1)
        wood = (numbers.tree(stack.tree), stack.diameter, stack.length)
        by_year = _by_season(*wood, ready, looked_at, where, numbers.yields)
        factors, later = by_year[:-1], float(by_year[-1])
        year = bearing_year(ready, futures.today, where, late_ready_days=late)
        gone = years_gone(ready, futures.today, where, late_ready_days=late)
        wear = wear_today(stack, state, gone, learning.lasting_factor, numbers, doubted)
    best = float(factors.max())
    scale = state.logs * best * wear * learning.yield_factor
    dead = dampness.dry_since is not None
    firsts = first_picks(state.picks, flush_days=numbers.diary.flush_days)
    return StackOutlook(
        stack=stack,
        state=state,
        kind=LogKind(
            stack.strain_class,
            band.diameter,
            round(learning.lead_factor, 4),
            band.moisture_today,
            own=(state.fixed[0], state.fixed[1]) if state.fixed and state.fixed[1] else None,
        ),
        spawn=spawn,
        dampness=dampness,
        bearing_year=year,
        life=life,
        effective_logs=0.0 if dead else scale,
        season_factors=tuple(
            np.round(factors / best, 6).tolist() if best else [1.0] * len(factors)
        ),
        later=later / best if best else 0.0,
        holds=_holds(stack, state, spawn, dead, firsts, futures, site, numbers),
        last_first_pick=max((pick.on for pick in firsts), default=None),
        pulled_on=None
        if state.last_soak is None
        else pulled_on(state.last_soak, numbers.forced.usual_hours),
        wear=wear,
    )


@lru_cache(maxsize=1024)
def _by_season(
    tree: TreeNumbers,
    diameter: float,
    length: float,
    ready: date,
    seasons: tuple[int, ...],
    where: Hemisphere,
    yields: YieldsNumbers,
) -> FloatArray:
    """Return tree, size and bearing year of each season; planning again asks for them again."""
    years = bearing_ages(ready, seasons, where, late_ready_days=yields.late_ready_days)
    found = stack_factor(tree, diameter, length, years, yields)
    found.flags.writeable = False
    return found


def bearing_ages(
    ready: date, seasons: Sequence[int], where: Hemisphere, *, late_ready_days: float
) -> FloatArray:
    """Return the bearing years behind a stack at the end of each season, by `AGE_STEP`. [year]"""
    ages = np.array(
        [years_borne(ready, each, where, late_ready_days=late_ready_days) for each in seasons]
    )
    steps = np.where(ages > 0, np.maximum(np.round(ages / AGE_STEP), 1.0), 0.0)
    return np.asarray(steps * AGE_STEP)


def seasons_of(futures: Ensemble, site: Site) -> list[int]:
    """Return the growing seasons that the days which count fall in, rising.

    What is looked at only so that late picks are seen to come does not count.
    """
    where = hemisphere(site.latitude)
    last = max(futures.lookback, futures.days - AFTER_LAST_PICK_DAYS) - 1
    first, last_season = season(futures.today, where), season(futures.date(last), where)
    return list(range(first, max(first, last_season) + 1))


def season_rows(futures: Ensemble, site: Site) -> IntArray:
    """Return the position in `seasons_of` of each row, the nearest for rows outside them."""
    where = hemisphere(site.latitude)
    later = seasons_of(futures, site)[1:]
    begun = [futures.row(season_begins(number, where)) for number in later]
    return np.searchsorted(begun, np.arange(futures.days), side="right")


def wear_today(
    stack: Stack,
    state: StackState,
    years_gone: float,
    yield_factor: float,
    numbers: Numbers,
    doubted: Mapping[date, float] | None = None,
) -> float:
    """Return what hard picking so far has left of a stack's flushes to come. [unitless]

    `years_gone` are the bearing years behind it, with the part of this season that has passed;
    `yield_factor` is what was learned of the yard: its logs hold so much more or less in their
    life. `doubted` as in `picked_per_log`.
    """
    if not state.picks:
        return 1.0
    life = bearing_life(stack.diameter, numbers.tree(stack.tree), numbers.yields)
    whole = lifetime_yield(
        numbers.strain(stack.strain_class).yields.base,
        numbers.tree(stack.tree),
        stack.diameter,
        stack.length,
        numbers.yields,
    )
    given = picked_per_log(state, doubted, flush_days=numbers.diary.flush_days) / (
        whole * yield_factor
    )
    return float(wear_factor(given, max(years_gone, 0.0), life, numbers.yields))


def _holds(
    stack: Stack,
    state: StackState,
    spawn: SpawnRun,
    dead: bool,
    firsts: list[Pick],
    futures: Ensemble,
    site: Site,
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
    year = stack.inoculated + timedelta(days=int(numbers.forced.first_after_days))
    if year > today:
        holds.append(Hold("first year", year))
    rest = timedelta(days=int(numbers.schedule.rest_days))
    last = state.last_soak
    if last is not None and last.on + rest > today:
        holds.append(Hold("tank" if last.pulled_on is None else "rest", last.on + rest))
    natural_rest = timedelta(days=int(numbers.natural.soak_rest_days))
    natural = [pick.on for pick in firsts if pick.kind == "natural"]
    if (
        state.fruiting_on is not None
        and soak_behind(
            state.soaks, state.fruiting_on, forced_pick_days=numbers.diary.forced_pick_days
        )
        is None
    ):
        natural.append(state.fruiting_on)
    if natural and max(natural) + natural_rest > today:
        holds.append(Hold("natural rest", max(natural) + natural_rest))
    if state.pins_on is not None:
        # The flush that the pins announce must come and the log rest after it.
        holds.append(Hold("pins", state.pins_on + natural_rest))
    if state.held_since is not None:
        where = hemisphere(site.latitude)
        until = state.held_until
        if until is None:
            until = season_begins(season(state.held_since, where) + 1, where)
        if until > today:
            holds.append(Hold("kept back", until))
    return tuple(holds)
