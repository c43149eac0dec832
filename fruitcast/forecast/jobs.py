"""Things to do that the weather or the diary asks for: water, look after, cover, pick twice."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Literal

import numpy as np

from fruitcast.arrays import BoolArray, FloatArray, IntArray
from fruitcast.biology.picking import cover_wanted, pick_twice
from fruitcast.biology.run_length import first_reached
from fruitcast.biology.watering import (
    WateringAdvice,
    sample_log_wants_water,
    watering_advice,
)
from fruitcast.biology.wood import dry_from_wet, wet_from_dry
from fruitcast.biology.yields import bearing_year, hemisphere, season, season_begins, should_retire
from fruitcast.diary.events import COMPETITOR_MOULDS, LOOSE_BARK
from fruitcast.diary.plan import Job
from fruitcast.diary.state import StackState
from fruitcast.forecast.members import Ensemble
from fruitcast.forecast.outlook import YardOutlook
from fruitcast.forecast.stacks import StackOutlook
from fruitcast.forecast.water import moisture_in
from fruitcast.topics import CareNumbers, PickingNumbers, WateringNumbers, YieldsNumbers
from fruitcast.units import Units, format_rain, format_temperature, format_weight
from fruitcast.weather.daily import VARIABLES
from fruitcast.words import day_words, percent_words

# One thing to do that the weather or the diary asks for.

JobKind = Literal["cover", "pick twice", "inspect", "weigh", "retire"]

DAYS_AHEAD = 7
"""Days from today for which jobs are listed, unless the forecast reaches further. [day]"""


def _job(kind: JobKind, stack: str, on: date, until: date, reason: str) -> Job:
    """Return something to do from a first to a last day."""
    return Job(kind=kind, stack=stack, on=on, until=until, reason=reason)


# Which stacks want water in the coming days, if nobody waters from today on.

WATERING_DAYS = 21
"""Days looked at for watering. [day]"""

DAYS_BEFORE = 21
"""Observed days in front of them, for the dry spell under way. [day]"""


@dataclass(frozen=True)
class StackThirst:
    """Watering advice for one stack."""

    stack: str  # stack or lot
    on: date | None  # the day on which it wants water, within the known weather
    advice: WateringAdvice  # the cause and how much


def thirsty_stacks(outlook: YardOutlook) -> list[StackThirst]:
    """Return the watering advice for every stack; empty when nobody waters in this yard."""
    numbers = outlook.numbers
    yard, futures = outlook.yard, outlook.futures
    keep = yard.keep_above
    if keep is None:
        return []
    today = futures.lookback
    before = min(DAYS_BEFORE, today)
    past = min(today + WATERING_DAYS, futures.days)
    stacks = [stack.stack for stack in outlook.stacks]
    so_far = outlook.past
    table = {name: getattr(futures, name)[today:past, None, :] for name in VARIABLES}
    members = len(futures.years)
    watered, hours = (np.zeros((past - today, len(stacks), 1)) for _ in range(2))
    for column, (mm, soaked) in enumerate(_given(outlook)):
        watered[0, column], hours[0, column] = mm, soaked
    run = moisture_in(yard.site, numbers)(
        np.repeat(so_far.by_stack[-1][:, None], members, axis=1),
        **table,
        day_of_year=futures.day_of_year[today:past, None, None],
        diameter=np.array([s.diameter for s in stacks])[:, None],
        specific_gravity=np.array([numbers.tree(s.tree).specific_gravity for s in stacks])[:, None],
        watered=watered,
        soak_hours=hours,
    )
    days = slice(today - before, past)
    advice = []
    for column, stack in enumerate(outlook.stacks):
        earlier = np.repeat(so_far.by_stack[-before:, column, None], members, axis=1)
        rain = futures.rain[days].copy()
        rain[:before] += so_far.watered[-before:, column, None]
        rain[before] += watered[0, column]
        # What got water today is looked at again from tomorrow on.
        done = int(watered[0, column, 0] > 0 or hours[0, column, 0] > 0)
        found = watering_advice(
            np.concatenate([earlier, run.moisture[:, column]]),
            rain,
            futures.tmean[days],
            today=before + done,
            known=before + max(futures.known_days, 1),
            keep_above_wet=keep,
            catch=stack.stack.diameter * stack.stack.length,
            watering=numbers.watering,
            balance=numbers.moisture,
        )
        found = replace(found, chance_by_day=np.r_[np.zeros(done), found.chance_by_day])
        on = None if found.day is None else futures.date(today - before + found.day)
        lighter = _lighter_sample(stack.state, futures.today, numbers.watering)
        if lighter and on != futures.today:
            on = futures.today
            found = replace(
                found,
                day=before,
                moisture_wet=float(wet_from_dry(stack.moisture)),
                reason=f"its sample log is {lighter:.0%} lighter than at its start",
            )
        advice.append(StackThirst(stack.name, on, found))
    return advice


def _given(outlook: YardOutlook) -> Iterator[tuple[float, float]]:
    """Yield what each stack got today by the diary: water on it, hours in the tank. [mm, h]"""
    today, usual = outlook.futures.today, outlook.numbers.forced.usual_hours
    for stack in outlook.stacks:
        mm = sum(amount for on, amount in stack.state.watered if on == today)
        hours = sum(soak.hours or usual for soak in stack.state.soaks if soak.on == today)
        yield mm, hours


def _lighter_sample(state: StackState, today: date, watering: WateringNumbers) -> float:
    """Return how much lighter the sample logs were at a weighing still in force; 0 if not enough.

    A weighing is in force for a week, or until the stack is watered or soaked.
    """
    if not state.moisture_seen or not state.sample_logs:
        return 0.0
    on, moisture = state.moisture_seen[-1]
    wetted = [day for day, _ in state.watered] + [soak.on for soak in state.soaks]
    if (today - on).days > watering.weigh_days or any(day >= on for day in wetted):
        return 0.0
    begin = float(np.mean([dry_from_wet(sample.moisture_wet) for sample in state.sample_logs]))
    if not sample_log_wants_water(
        1 + moisture, 1 + begin, sample_log_loss=watering.sample_log_loss
    ):
        return 0.0
    return 1 - (1 + moisture) / (1 + begin)


# Looking after stacks: which to inspect, which sample logs to weigh, which logs to retire.


def care_jobs(outlook: YardOutlook) -> list[Job]:
    """Return which stacks want a look, a weighing or an end."""
    numbers = outlook.numbers
    jobs: list[Job] = []
    since = _diary_since(outlook.stacks)
    growing = _growing(outlook.futures, not_below=numbers.watering.not_below)
    for stack in outlook.stacks:
        if stack.state.logs <= 0:
            continue
        jobs += _inspections(stack, outlook, numbers.care, dead_below=numbers.moisture.dead_below)
        if growing:
            jobs += _weighings(stack, outlook.futures.today, weigh_days=numbers.watering.weigh_days)
        jobs += _retirements(stack, outlook, since, numbers.care, numbers.yields)
    return list({(job.kind, job.stack, job.on): job for job in jobs}.values())


def _inspections(
    stack: StackOutlook, outlook: YardOutlook, care: CareNumbers, *, dead_below: float
) -> Iterator[Job]:
    state, spawn, today = stack.state, stack.spawn, outlook.futures.today
    holds_good = int(care.inspect_days)
    seen_lately = state.inspected_on is not None and (
        (today - state.inspected_on).days < holds_good
    )
    if stack.dampness.dry_since is not None:
        if seen_lately:
            return
        wet = float(wet_from_dry(stack.dampness.moisture))
        yield _job(
            "inspect",
            stack.name,
            today,
            today,
            f"below {dead_below:.0%} moisture since "
            f"{day_words(stack.dampness.dry_since, today)} (now {wet:.0%}): the spawn is presumed "
            "dead. Look under the bark for white mycelium and record what you find",
        )
        return
    if state.inspected_on is not None and COMPETITOR_MOULDS in state.findings:
        again = max(state.inspected_on + timedelta(days=holds_good), today)
        if (again - today).days < DAYS_AHEAD:
            yield _job(
                "inspect",
                stack.name,
                again,
                again,
                f"competitor moulds found on {day_words(state.inspected_on, today)}: set those "
                "logs apart and look whether they spread",
            )
            return
    bore = bool(state.soaks or state.picks)
    if spawn.seen or bore or seen_lately or spawn.ready_on is None:
        return
    if (today - spawn.ready_on).days > care.asked_after_days:
        return
    going = [hold for hold in stack.holds if hold.cause == "spawn run"]
    if going:
        # An early look may bring the first soak forward; the day is the one that the plan goes by.
        by = f", most likely by {day_words(going[0].until, today)}" if going[0].until else ""
        found = f"its spawn run is {percent_words(spawn.progress)} done{by}, but it may be done now"
    else:
        overdue = spawn.ready.p90 is not None and spawn.ready.p90 < today
        long = "long " if overdue else ""
        found = f"its spawn run should {long}be done by now and nobody has recorded it"
    signs = "look for white ends, springy bark, a dull sound"
    told = "'fruitcast record inspect STACK spawn run done' records it"  # one line for several
    yield _job("inspect", stack.name, today, today, f"{found}: {signs}; {told}")


def _weighings(stack: StackOutlook, today: date, *, weigh_days: float) -> Iterator[Job]:
    if not stack.state.sample_logs:
        return
    baselines = [sample.since for sample in stack.state.sample_logs]
    last = max([on for on, _ in stack.state.moisture_seen] + baselines)
    due = max(last + timedelta(days=int(weigh_days)), today)
    if (due - today).days < DAYS_AHEAD:
        # The lots of a stack share its sample logs.
        reason = f"its sample log was last weighed on {day_words(last, today)}"
        yield _job("weigh", stack.stack.name, due, due, reason)


def _growing(futures: Ensemble, *, not_below: float) -> bool:
    """Return whether it has been warm enough of late for logs to dry and grow."""
    week = np.median(futures.tmean[max(futures.lookback - 7, 0) : futures.lookback], axis=1)
    return bool(week.mean() > not_below)


def _retirements(
    stack: StackOutlook,
    outlook: YardOutlook,
    diary_since: date | None,
    care: CareNumbers,
    yields: YieldsNumbers,
) -> Iterator[Job]:
    today, state = outlook.futures.today, stack.state
    units = outlook.yard.units
    bark = LOOSE_BARK in state.findings
    given = _last_season_per_log(
        stack,
        outlook,
        diary_since,
        diary_early_days=care.diary_early_days,
        late_ready_days=yields.late_ready_days,
    )
    if not should_retire(given, bark, retire_below=yields.retire_below):
        return
    # Logs taken out since are the answer, and so is a look that found no loose bark.
    site, looked = outlook.yard.site, state.inspected_on
    since = looked if bark else site.growing_year(site.year_of(today))[0]
    if since and any(on >= since for on, _ in state.lost):
        return
    if not bark and looked and (today - looked).days < int(care.inspect_days):
        return
    poor = bool(should_retire(given, False, retire_below=yields.retire_below))
    reason = (
        f"last season's {format_weight(given, units)} a log is below "
        f"{format_weight(yields.retire_below, units)}"
        if poor
        else "loose bark found: retire the logs whose bark falls off"
    )
    yield _job("retire", stack.name, today, today, reason)


def _last_season_per_log(
    stack: StackOutlook,
    outlook: YardOutlook,
    since: date | None,
    *,
    diary_early_days: float,
    late_ready_days: float,
) -> float:
    """Return what a log gave in the last season; NaN unless a whole bearing year is known. [kg]"""
    where = hemisphere(outlook.yard.site.latitude)
    last = season(outlook.futures.today, where) - 1
    begin = season_begins(last, where)
    ready = stack.spawn.ready_on
    picks = [pick for pick in stack.state.picks if season(pick.on, where) == last]
    full_year = (
        ready is not None
        and bearing_year(ready, begin, where, late_ready_days=late_ready_days) >= 2
    )
    known = since is not None and (since - begin).days <= diary_early_days
    if not (picks and full_year and known):
        return float("nan")
    total = 0.0
    for pick in picks:
        lost = sum(n for on, n in stack.state.lost if on > pick.on)
        total += pick.kg / max(stack.state.logs + lost, 1)
    return total


def _diary_since(stacks: Sequence[StackOutlook]) -> date | None:
    """Return the day of the first soak, pick or inspection that the diary has of any stack."""
    days = [
        day
        for stack in stacks
        for day in (
            *(soak.on for soak in stack.state.soaks[:1]),
            *(pick.on for pick in stack.state.picks[:1]),
            *(on for on, _ in stack.state.moisture_seen[:1]),
            stack.state.inspected_on,
        )
        if day is not None
    ]
    return min(days, default=None)


# Picking in rain and heat: when to cover the pulled logs, when to pick twice a day.


@dataclass(frozen=True)
class PickWindow:
    """Days on which one flush is picked, member by member."""

    stack: str  # stack or lot
    # pick, past, (member,): row of the first pick, and the row after the last one
    pick: IntArray
    past: IntArray
    comes: BoolArray  # (member,): whether anything comes
    covered: bool = False  # whether a roof keeps the rain off


def windows_under_way(outlook: YardOutlook) -> list[PickWindow]:
    """Return the pick windows of the flushes under way."""
    roof = outlook.yard.fruiting.under_cover
    return [
        PickWindow(
            name, flush.pick, flush.past, flush.kg > 0, covered=roof and flush.kind == "forced"
        )
        for name, flush in outlook.flushes.items()
    ]


def pins_rows(
    thermal_time: FloatArray, pull: int, pick: IntArray, *, pins_share: float
) -> IntArray:
    """Return the row on which pins show before each first pick: (member,).

    By the running total of warmth above the class's base, (day + 1, member), the row of the pull
    and those of the first pick, and the share of the warmth at which pins show.
    """
    member = np.arange(len(pick))
    at = np.minimum(pick, len(thermal_time) - 1)
    need = (thermal_time[at, member] - thermal_time[pull, member]) * pins_share
    return first_reached(thermal_time, pull, member, need)


def picking_jobs(
    windows: Iterable[PickWindow], futures: Ensemble, units: Units, picking: PickingNumbers
) -> list[Job]:
    """Return where open caps want a cover against rain, or picking twice a day in heat.

    Rain is told only as far as the forecast goes; heat also where most members have it.
    """
    today = futures.lookback
    ahead = min(max(futures.known_days, DAYS_AHEAD), futures.days - today)
    rows = np.arange(today, today + ahead)
    days = [futures.date(row) for row in rows.tolist()]
    rain, tmax = np.full(ahead, np.nan), futures.tmax[rows]
    rain[: futures.known_days] = futures.forecast["rain"][:ahead]
    wet = cover_wanted(rain, rain_from=picking.rain_from)
    hot = pick_twice(tmax, twice_from=picking.twice_from).mean(axis=1) >= picking.hot_chance
    jobs: list[Job] = []
    for window in windows:
        open_now = (window.pick <= rows[:, None]) & (window.past > rows[:, None]) & window.comes
        is_open = open_now.mean(axis=1) >= picking.open_chance
        for first, last in _runs(is_open & wet & (not window.covered)):
            fallen = float(rain[first : last + 1].max())
            reason = (
                f"{format_rain(fallen, units)} of rain forecast on open caps; wet caps keep badly"
            )
            jobs.append(_job("cover", window.stack, days[first], days[last], reason))
        for first, last in _runs(is_open & hot):
            peak = float(np.median(tmax[first : last + 1].max(axis=0)))
            reason = f"up to {format_temperature(peak, units)}: caps open within a day"
            jobs.append(_job("pick twice", window.stack, days[first], days[last], reason))
    return jobs


def _runs(flags: BoolArray) -> Iterator[tuple[int, int]]:
    """Return first and last place of each run of days with the flag up."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(np.int8)))
    for first, past in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        yield first, past - 1
