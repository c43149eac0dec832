"""Looking after stacks: which to inspect, which sample logs to weigh, which logs to retire."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, timedelta

from fruitcast.biology.bearing import bearing_year, hemisphere, season, should_retire
from fruitcast.biology.wood import wet_from_dry
from fruitcast.diary.events import COMPETITOR_MOULDS, LOOSE_BARK
from fruitcast.forecast.members import Futures
from fruitcast.forecast.one_job import DAYS_AHEAD, Job
from fruitcast.forecast.outlook import YardOutlook
from fruitcast.forecast.stacks import StackOutlook
from fruitcast.topics import CareNumbers, YieldsNumbers
from fruitcast.units import format_weight
from fruitcast.words import day_words


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
        yield Job(
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
            yield Job(
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
    overdue = spawn.late is not None and spawn.late < today
    yield Job(
        "inspect",
        stack.name,
        today,
        today,
        f"its spawn run should {'long ' if overdue else ''}be done (since about "
        f"{day_words(spawn.ready_on, today)}) and nobody has recorded it: look for white ends, "
        "springy bark, a dull sound",
    )


def _weighings(stack: StackOutlook, today: date, *, weigh_days: float) -> Iterator[Job]:
    if not stack.state.sample_logs:
        return
    baselines = [sample.since for sample in stack.state.sample_logs]
    last = max([on for on, _ in stack.state.moisture_seen] + baselines)
    due = max(last + timedelta(days=int(weigh_days)), today)
    if (due - today).days < DAYS_AHEAD:
        # The lots of a stack share its sample logs.
        reason = f"its sample log was last weighed on {day_words(last, today)}"
        yield Job("weigh", stack.stack.name, due, due, reason)


def _growing(futures: Futures, *, not_below: float) -> bool:
    """Return whether it has been warm enough of late for logs to dry and grow."""
    week = futures.tmean[max(futures.lookback - 7, 0) : futures.lookback, 0]
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
    yield Job("retire", stack.name, today, today, reason)


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
    begin = date(last, 1 if where == "north" else 7, 1)
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
