"""The stacks as they stand today, what a page shows beside the plan, and lots for the stacks."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime
from pathlib import Path

import numpy as np

from fruitcast.app.choosing import DEFAULT_SEED, build
from fruitcast.app.known import horizon_days, read_known
from fruitcast.app.planning import proposal_for
from fruitcast.app.publication import fingerprint, last_plan
from fruitcast.biology.wood import wet_from_dry
from fruitcast.diary.book import Diary
from fruitcast.diary.cold_store import losses_words
from fruitcast.diary.events import LOTS, Event
from fruitcast.diary.kept_plan import (
    BACKGROUND,
    NATURAL_DAYS,
    Background,
    KnownWeather,
    SpawnRunDays,
    StackStanding,
    Standing,
    StandingHold,
)
from fruitcast.diary.state_from_diary import published_soaks
from fruitcast.forecast.outlook import YardOutlook
from fruitcast.forecast.stacks import StackOutlook
from fruitcast.outputs.lots_words import Lot, StackInLots, YardLots
from fruitcast.progress import Progress, silent
from fruitcast.soaks.build import BuiltProblem
from fruitcast.soaks.expected import MOST_CHANCE_SAID, place_of
from fruitcast.soaks.problem import Problem
from fruitcast.soaks.reasons import hold_words
from fruitcast.weather.daily import last_observed
from fruitcast.weather.stations import AS_USUAL, STORED, Fetching
from fruitcast.words import day_words, percent_words
from fruitcast.yard.model import lots_of, stack_of
from fruitcast.yard.reading import read_yard

_WEEKS = 4
_RESTS = ("tank", "rest", "natural rest", "pins")


def stacks_today(
    folder: Path, today: date, *, fetching: Fetching = AS_USUAL, progress: Progress = silent
) -> Standing:
    """Return each stack as it stands today.

    Parameters as in `plan_yard`; nothing is written.
    """
    progress("looking ahead")
    known = read_known(folder, today, horizon_days(_WEEKS), fetching=fetching)
    built = build(known, weeks=_WEEKS, seed=DEFAULT_SEED)
    plan = last_plan(known.yard, today)
    soaks = published_soaks(plan.soaks, known.state.stacks, today) if plan else {}
    rows = [
        _row(built, index, stack, soaks.get(stack.name))
        for index, stack in enumerate(built.outlook.stacks)
    ]
    return Standing(
        today=today,
        planned_on=plan.today if plan else None,
        natural_days=NATURAL_DAYS,
        stacks=tuple(rows),
        losses=losses_words(known.state.losses),
        warnings=(*known.warnings, *built.outlook.futures.notes),
    )


def _row(
    built: BuiltProblem, index: int, stack: StackOutlook, next_soak: date | None
) -> StackStanding:
    today, spawn, state = built.problem.today, stack.spawn, stack.state
    last_soak, picks = state.last_soak, state.picks
    rests = [hold.until for hold in stack.holds if hold.cause in _RESTS and hold.until]
    chance, likely = _natural(built, index)
    soakable_from = stack.soakable_from
    return StackStanding(
        stack=stack.name,
        row=stack.stack.name,
        strain_class=stack.stack.strain_class,
        strain=stack.stack.strain,
        tree=stack.stack.tree,
        place=state.place,
        logs=state.logs,
        inoculated=stack.stack.inoculated,
        state=_state_words(stack, built.outlook, today),
        spawn_run_progress=spawn.progress,
        ready=SpawnRunDays(
            seen=spawn.seen,
            early=spawn.ready.p10,
            middle=spawn.ready.p50,
            likely=spawn.ready.p80,
            late=spawn.ready.p90,
        ),
        bearing_year=stack.bearing_year if spawn.ready_on is not None else None,
        bearing_life_years=stack.life,
        moisture_wet=float(wet_from_dry(stack.moisture)),
        rest_left_days=max(((until - today).days for until in rests), default=0),
        soakable_from=max(soakable_from, today) if soakable_from else None,
        holds=tuple(
            StandingHold(cause=hold.cause, until=hold.until, reason=hold_words(hold, stack))
            for hold in stack.holds
        ),
        natural_chance=chance,
        natural_pick_on=likely,
        last_soak_on=last_soak.on if last_soak else None,
        last_pick_on=picks[-1].on if picks else None,
        picked_kg=state.picked_kg,
        next_soak_on=next_soak,
    )


def _natural(built: BuiltProblem, index: int) -> tuple[float | None, date | None]:
    """Return the chance of a natural first pick in the days ahead, and its median day.

    None of logs that are at it now: their first mushrooms are there.
    """
    futures, days = built.outlook.futures, NATURAL_DAYS
    work, place = place_of(built, index)
    first = np.full(built.problem.members, futures.days)
    for flush in range(len(work.first.pick)):
        pick, kg = work.first.pick[flush, place], work.first.kg[flush, place]
        first = np.where(kg > 0, np.minimum(first, pick), first)
    stack = built.outlook.stacks[index]
    now = built.outlook.flushes.get(stack.name)
    if now is not None and now.kind == "natural":
        if stack.state.pins_on is None or now.picked_kg > 0:
            return None, None
        first = np.where(now.kg > 0, np.minimum(first, now.pick), first)
    seen = first < futures.lookback + days
    if not seen.any() or stack.effective_logs <= 0:
        return 0.0, None
    middle = int(np.quantile(first[seen], 0.5, method="inverted_cdf"))
    chance = min(float(seen.mean()), MOST_CHANCE_SAID)
    return chance, max(futures.date(middle), built.problem.today)


def _state_words(stack: StackOutlook, outlook: YardOutlook, today: date) -> str:
    """Return what matters most of a stack today in a few words."""
    causes = {hold.cause: hold.until for hold in stack.holds}
    for cause in ("no logs", "dead"):
        if cause in causes:
            return {"no logs": "no logs left", "dead": "too dry to live: inspect"}[cause]
    if stack.state.in_tank:
        there = stack.state.soaking_logs
        return "in the tank" if there >= stack.state.logs else f"{there} logs in the tank"
    if "pins" in causes:
        return "pins seen"
    flush = outlook.flushes.get(stack.name)
    if flush is not None and flush.kind == "natural":
        return "fruiting by itself"
    if flush is not None:
        row = int(np.quantile(flush.pick[flush.kg > 0], 0.5)) if (flush.kg > 0).any() else None
        day = None if row is None else outlook.futures.date(row)
        if day is not None:
            begun = flush.picked_kg > 0 or day < today
            return "picking" if begun else f"pick about {day_words(day)}"
    if "spawn run" in causes:
        done = causes["spawn run"]
        by = f", by {day_words(done, today)}" if done else ""
        return f"spawn run {percent_words(stack.spawn.progress)}{by}"
    if "first year" in causes:
        return "spawn run done, in its first year"
    year = f"bearing year {stack.bearing_year}" if (stack.bearing_year or 0) > 0 else "ready"
    ready, asked = stack.spawn.ready_on, outlook.numbers.care.asked_after_days
    told = stack.spawn.seen or stack.state.soaks or stack.state.picks
    if not told and ready is not None and (today - ready).days <= asked:
        year += " (reckoned)"
    if any(cause in causes for cause in _RESTS):
        return f"{year}, resting"
    return year


# What a page shows beside the plan.


def add_background(folder: Path, today: date, plan_made_at: datetime | None) -> None:
    """Keep what a page shows beside the plan: each stack as it stands, and the weather known.

    Station weather is read from the stored copies, which the planning has just brought up to
    date.

    `plan_made_at` is None when that is not known.
    """
    inputs = fingerprint(read_yard(folder))
    standing = stacks_today(folder, today, fetching=STORED)
    known = read_known(folder, today, horizon_days(), fetching=STORED)
    weather = known.weather
    background = Background(
        inputs=inputs,
        plan_made_at=plan_made_at and plan_made_at.replace(microsecond=0),
        stacks=standing.stacks,
        years=known.years,
        weather=KnownWeather(
            origin=weather.origin,
            attribution=weather.attribution,
            observed_to=last_observed(weather, today) or weather.start,
            forecast_to=weather.end if weather.end >= today else None,
        ),
    )
    with Diary(known.yard.diary_file) as diary:
        diary.save_document(BACKGROUND, today, background.json_text())


# Lots for stacks that bear too much at once: shown, and taken into the diary.


def yard_lots(
    folder: Path,
    today: date,
    *,
    accept: bool = False,
    fetching: Fetching = AS_USUAL,
    moment: datetime | None = None,
    progress: Progress = silent,
) -> YardLots:
    """Return the lots that stand, and those that would suit the targets.

    With `accept` those proposed are written into the diary, under `moment`, and are among those
    that stand.
    """
    progress("looking ahead")
    known = read_known(folder, today, horizon_days(), fetching=fetching)
    problem = build(known).problem
    found = proposal_for(known, problem)
    proposed = () if found is None else found.stacks
    if accept and proposed and moment is not None:
        entries = [Event(LOTS, today, each.stack, into=str(len(each.lots))) for each in proposed]
        with Diary(known.yard.diary_file) as diary:
            diary.add(entries, moment)
    return YardLots(
        today=today,
        units=known.yard.units,
        by_settings=known.yard.soaking.lot_logs is not None,
        accepted=accept and bool(proposed),
        week_target_kg=None if found is None else found.week_target,
        standing=tuple(_standing(problem)),
        proposed=tuple(
            StackInLots(
                stack=each.stack,
                logs=each.logs,
                flush_kg=each.flush_kg,
                lots=tuple(
                    Lot(name=name, logs=logs, flush_kg=each.flush_kg * logs / each.logs)
                    for name, logs in lots_of(each.stack, each.logs, each.lots[0])
                ),
            )
            for each in proposed
        ),
    )


def _standing(problem: Problem) -> Iterator[StackInLots]:
    stacks = {stack.name: stack for stack in problem.stacks if stack.logs}
    rows: dict[str, list[Lot]] = {}
    for name, stack in stacks.items():
        if (base := stack_of(name)) != name:
            lot = Lot(name=name, logs=stack.logs, flush_kg=stack.end_flush)
            rows.setdefault(base, []).append(lot)
    for base, lots in rows.items():
        yield StackInLots(
            stack=base,
            logs=sum(lot.logs for lot in lots),
            flush_kg=sum(lot.flush_kg for lot in lots),
            lots=tuple(lots),
        )
