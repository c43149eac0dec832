"""From a plan and the diary to the things worth a reminder."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from itertools import groupby
from typing import cast

from fruitcast.diary.plan import FlushUnderWay, Plan, PlannedSoak, SoakUnderWay
from fruitcast.diary.state import Pick, Soak, StackState, YardState
from fruitcast.numbers import default_numbers
from fruitcast.outputs.reminder import (
    REMINDER_KINDS,
    Reminder,
    ReminderKind,
    is_covered,
    still_asked,
    tended,
)
from fruitcast.outputs.reminder_writer import ReminderWriter, clean_reasons
from fruitcast.words import clean_line
from fruitcast.yard.model import Yard


def reminders(plan: Plan, yard: Yard, state: YardState) -> tuple[Reminder, ...]:
    """Return everything of a plan and the diary that belongs in a calendar, in order of day.

    Recorded soaks, picks and waterings become reminders that are done.
    """
    writer = ReminderWriter(yard, state, default_numbers().with_overrides(yard.numbers))
    found = [
        *_soak_families(plan, state, writer),
        *_natural(plan, state, writer),
        *_still_to_pick(plan, state, writer),
        *_rests(plan, state, writer),
        *_ready(plan, writer),
        *_waterings(plan, state, writer),
        *_care(plan, state, writer),
        *_asked(plan, state, writer),
        *tended(state),
    ]
    return tuple(sorted(found, key=lambda r: (r.first_day, REMINDER_KINDS.index(r.kind), r.stack)))


def _soak_families(plan: Plan, state: YardState, writer: ReminderWriter) -> Iterator[Reminder]:
    """Every soak with what follows it, recorded ones first, numbered through a stack's life."""
    entries: list[PlannedSoak | SoakUnderWay] = sorted(
        [*plan.soaks, *plan.under_way], key=lambda entry: (entry.stack, entry.soak_on)
    )
    planned = {name: list(group) for name, group in groupby(entries, key=lambda e: e.stack)}
    together: dict[date, set[str]] = {}
    for one in entries:
        together.setdefault(one.soak_on, set()).add(one.stack)
    going_on = {(flush.stack, flush.begun) for flush in plan.flushes}
    for name in sorted({*state.stacks, *planned}):
        stack = state.stacks.get(name)
        soaks = stack.soaks if stack else ()
        by_day = {entry.soak_on: entry for entry in planned.get(name, ())}
        for ordinal, soak in enumerate(soaks, start=1):
            picks = [p for p in stack.picks if p.soaked_on == soak.on] if stack else []
            if picks:
                yield writer.picked(name, ordinal, picks, more=(name, soak.on) in going_on)
            entry = by_day.pop(soak.on, None)
            watched = _watched(stack, soak)
            yield from _recorded(name, ordinal, soak, picks, entry, writer, watched=watched)
        # An entry dated before the last recorded soak is of a plan older than the diary.
        last = soaks[-1].on if soaks else date.min
        ahead = [entry for day, entry in by_day.items() if day > last]
        for ordinal, entry in enumerate(ahead, start=len(soaks) + 1):
            yield writer.soak(name, ordinal, entry, together[entry.soak_on])
            yield from writer.after_soak(name, ordinal, entry)


def _recorded(
    name: str,
    ordinal: int,
    soak: Soak,
    picks: list[Pick],
    entry: PlannedSoak | SoakUnderWay | None,
    writer: ReminderWriter,
    *,
    watched: bool,
) -> Iterator[Reminder]:
    """One soak of the diary: what was done, then what of it is still to come."""
    done = [writer.soaked(name, ordinal, soak)]
    if soak.pulled_on is not None:
        done.append(writer.pulled(name, ordinal, soak, soak.pulled_on))
    yield from done
    seen = {reminder.kind for reminder in done} | ({"pick"} if picks else set())
    if soak.brought_nothing:
        return
    if watched or picks:
        seen.add("pins")
    if entry is not None:
        yield from (r for r in writer.after_soak(name, ordinal, entry) if r.kind not in seen)
    elif "pull" not in seen:
        day = writer.pull_day(soak.on, soak.hours)
        yield writer.pull(name, ordinal, logs=soak.logs, soaked_on=soak.on, day=day)


def _watched(stack: StackState | None, soak: Soak) -> bool:
    """Return whether pins or more were seen since a soak."""
    if stack is None:
        return False
    counted = stack.pins_counted[0] if stack.pins_counted else None
    return any(on and on > soak.on for on in (stack.pins_on, stack.fruiting_on, counted))


def _natural(plan: Plan, state: YardState, writer: ReminderWriter) -> Iterator[Reminder]:
    """What came by itself: picked so far, or seen and to be picked for the first time."""
    going_on = {(flush.stack, flush.begun): flush for flush in plan.flushes}
    for name, stack in state.stacks.items():
        picks = tuple(pick for pick in stack.picks if pick.kind == "natural")
        for flush in writer.flushes(picks):
            begun = flush[0].on
            more = going_on.get((name, begun)) is not None
            yield writer.picked(name, begun.toordinal(), flush, more=more)
    for entry in plan.flushes:
        if entry.kind == "natural" and not _picks_of(entry, state):
            yield writer.seen_fruiting(entry)


def _still_to_pick(plan: Plan, state: YardState, writer: ReminderWriter) -> Iterator[Reminder]:
    for entry in plan.flushes:
        picks = _picks_of(entry, state)
        if picks:
            first = max(plan.today, picks[-1].on + timedelta(days=1))
            if first <= entry.last:
                yield writer.still_to_pick(entry, first, sum(pick.kg for pick in picks))


def _picks_of(entry: FlushUnderWay, state: YardState) -> list[Pick]:
    """Return what was picked of a flush that is under way."""
    stack = state.stacks.get(entry.stack)
    soaked_on = entry.begun if entry.kind == "forced" else None
    return [
        pick
        for pick in (stack.picks if stack else ())
        if pick.kind == entry.kind and pick.soaked_on == soaked_on and pick.on >= entry.begun
    ]


def _rests(plan: Plan, state: YardState, writer: ReminderWriter) -> Iterator[Reminder]:
    for entry in plan.rest_ends:
        name, stack = entry.stack, state.stacks.get(entry.stack)
        yield writer.all_day(
            "rest",
            name,
            len(stack.soaks) if stack else 0,
            (entry.on, entry.on),
            f"{clean_line(name)} is rested",
            description="It may be soaked again from this day.",
            reasons=clean_reasons(entry.reason),
        )


def _ready(plan: Plan, writer: ReminderWriter) -> Iterator[Reminder]:
    for entry in plan.ready:
        yield writer.all_day(
            "ready",
            entry.stack,
            0,
            (entry.on, entry.on),
            f"{clean_line(entry.stack)} should be ready",
            description="The spawn run should be done: look for white growth at the log ends.",
            reasons=clean_reasons(entry.reason),
        )


def _care(plan: Plan, state: YardState, writer: ReminderWriter) -> Iterator[Reminder]:
    for entry in still_asked(plan.care, state, turn_days=writer.turn_days):
        yield writer.all_day(
            "care",
            entry.stack,
            entry.ordinal,
            (entry.first, entry.last),
            f"{clean_line(entry.stack)}: {clean_line(entry.what)}",
            reasons=clean_reasons(entry.reason),
        )


ASKED = {
    "cover": "Keep {} covered",
    "pick twice": "Pick {} twice a day",
    "inspect": "Look over {}",
    "weigh": "Weigh the sample logs of {}",
    "retire": "Sort out logs of {}",
}
"""What the weather or the logs' state asks for, by a plan's kind of job."""


def _asked(plan: Plan, state: YardState, writer: ReminderWriter) -> Iterator[Reminder]:
    covered = {soak.stack for soak in plan.soaks if soak.cover}
    covered |= {soak.stack for soak in plan.under_way if soak.cover}
    for entry in plan.jobs:
        if entry.kind not in ASKED or (entry.kind == "cover" and entry.stack in covered):
            continue
        if entry.kind == "cover" and is_covered(state, entry.stack, entry.on, entry.until):
            continue
        # Rain and heat come again; a look or a weighing is asked for until it is done.
        passing = entry.kind in ("cover", "pick twice")
        yield writer.all_day(
            cast(ReminderKind, entry.kind),
            entry.stack,
            entry.on.toordinal() if passing else 0,
            (entry.on, entry.until),
            ASKED[entry.kind].format(clean_line(entry.stack)),
            reasons=clean_reasons(entry.reason),
        )


def _waterings(plan: Plan, state: YardState, writer: ReminderWriter) -> Iterator[Reminder]:
    """One reminder a day for all stacks: what is still due, or else what was given."""
    due: dict[date, dict[str, str]] = {}
    for entry in plan.water:
        stack = state.stacks.get(entry.stack)
        just = {on for on, _ in stack.watered} if stack else set()
        if not just & {entry.on, entry.on - timedelta(days=1)}:
            due.setdefault(entry.on, {})[entry.stack] = clean_line(entry.reason)
    given: dict[date, set[str]] = {}
    for name, stack in state.stacks.items():
        for day, _ in stack.watered:
            given.setdefault(day, set()).add(name)
    for day in sorted({*due, *given}):
        done = sorted(given.get(day, ()))
        # The plan may be older than what was given on the day.
        wanted = {name: why for name, why in sorted(due.get(day, {}).items()) if name not in done}
        watered = f"Watered: {', '.join(map(clean_line, done))}"
        lines = [watered] if wanted and done else []
        lines += ["Let the bark dry between waterings."] if wanted else []
        yield writer.all_day(
            "water",
            "",
            day.toordinal(),
            (day, day),
            f"Water logs: {', '.join(map(clean_line, wanted))}" if wanted else watered,
            description="\n".join(lines),
            reasons=tuple(f"{clean_line(name)}: {why}" for name, why in wanted.items()),
            done=not wanted,
            stacks=(*wanted, *done),
        )
