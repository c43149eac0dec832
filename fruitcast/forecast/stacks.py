"""Each stack as it stands today: ready or not, rested or not, and what it may give."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import numpy.typing as npt

from fruitcast.forecast.fruiting import Kind
from fruitcast.forecast.members import Futures
from fruitcast.forecast.spawn import SpawnRun, sure_ready_row
from fruitcast.forecast.water import band_of
from fruitcast.numbers import Numbers
from fruitcast.shiitake.bearing import (
    bearing_life,
    bearing_year,
    first_bearing_season,
    hemisphere,
    season,
)
from fruitcast.shiitake.yields import lifetime_yield, stack_factor, wear_factor
from fruitcast.yard.model import Site, Stack
from fruitcast.yard.state import Pick, StackState

FloatArray = npt.NDArray[np.float64]

FLUSH_GAP_DAYS = 14
"""Natural picks further apart than this belong to different flushes. [day]"""

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
    moisture : float
        Log moisture on the evening before today. [kg/kg dry wood]
    bearing_year : int or None
        Bearing year today; 0 or less before the first; None when it is not known yet.
    life : float
        Bearing life. [year]
    scale : float
        Logs times stack factor in the best season looked at, wear and learning.
    course : tuple of float
        Factor of each season looked at relative to the best one.
    holds : tuple of Hold
        What forbids a soak, and until when.
    last_first_pick : date or None
        First pick of its latest flush.
    """

    name: str
    stack: Stack
    state: StackState
    kind: Kind
    spawn: SpawnRun
    moisture: float
    bearing_year: int | None
    life: float
    scale: float
    course: tuple[float, ...]
    holds: tuple[Hold, ...]
    last_first_pick: date | None

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
    moisture: float,
    dead: bool,
    futures: Futures,
    site: Site,
    learning: Learning,
    numbers: Numbers,
) -> StackOutlook:
    """Return one stack's outlook, flushes under way left aside.

    Parameters
    ----------
    moisture : float
        Log moisture on the evening before today. [kg/kg dry wood]
    dead : bool
        Whether it is presumed dead of dryness.
    """
    where = hemisphere(site.latitude)
    life = bearing_life(stack.diameter, stack.tree, numbers)
    ready = spawn.ready_on or spawn.middle
    seasons = seasons_of(futures, site)
    factors = np.zeros(len(seasons))
    year: int | None = None
    wear = 1.0
    if ready is not None:
        first = first_bearing_season(ready, where, numbers)
        years = np.array([s - first + 1 for s in seasons])
        factors = stack_factor(stack.tree, stack.diameter, stack.length, years, numbers)
        year = bearing_year(ready, futures.today, where, numbers)
        wear = _wear(stack, state, futures.today, year, life, numbers)
    best = float(factors.max())
    scale = state.logs * best * wear * learning.yield_factor
    return StackOutlook(
        name=name,
        stack=stack,
        state=state,
        kind=Kind(stack.strain_class, band_of(stack).diameter, round(learning.lead_factor, 2)),
        spawn=spawn,
        moisture=moisture,
        bearing_year=year,
        life=life,
        scale=0.0 if dead else scale,
        course=tuple(np.round(factors / best, 6).tolist()) if best > 0 else (1.0,) * len(seasons),
        holds=_holds(stack, state, spawn, dead, futures, numbers),
        last_first_pick=max((pick.on for pick in first_picks(state.picks)), default=None),
    )


def seasons_of(futures: Futures, site: Site) -> list[int]:
    """Return the growing seasons that the days looked at fall in, rising."""
    where = hemisphere(site.latitude)
    first, last = season(futures.first, where), season(futures.date(futures.days - 1), where)
    return list(range(first, last + 1))


def season_rows(futures: Futures, site: Site) -> npt.NDArray[np.int64]:
    """Return the position in `seasons_of` of each row of the members' weather."""
    where = hemisphere(site.latitude)
    first = season(futures.first, where)
    return np.array([season(futures.date(row), where) - first for row in range(futures.days)])


def _wear(
    stack: Stack, state: StackState, today: date, year: int, life: float, numbers: Numbers
) -> float:
    if not state.picks or stack.logs == 0:
        return 1.0
    whole = lifetime_yield(stack.strain_class, stack.tree, stack.diameter, stack.length, numbers)
    given = state.picked_kg / (max(state.logs, 1) * whole)
    gone = max(year - 1, 0) + today.timetuple().tm_yday / 366
    return float(wear_factor(given, gone, life, numbers))


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
    if spawn.ready_on is None:
        row = sure_ready_row(spawn, numbers)
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
    if state.fruiting_on is not None:
        natural.append(state.fruiting_on)
    if natural and max(natural) + natural_rest > today:
        holds.append(Hold("natural rest", max(natural) + natural_rest))
    if state.pins_on is not None:
        # The flush that the pins announce must come and the log rest after it.
        holds.append(Hold("pins", state.pins_on + natural_rest))
    return tuple(holds)
