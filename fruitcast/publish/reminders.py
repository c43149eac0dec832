"""From a plan and the diary to the things worth a reminder.

What is read of a plan beyond `soaks` and `water`, and may be missing:

- `under_way`: soaks of the diary whose pick is still to come, in the form of `soaks`;
- `rest_ends`: `{"stack", "on", "reason"}`, first day on which a stack is rested;
- `ready`: `{"stack", "on", "reason"}`, the day by which a stack's spawn run should be done;
- `care`: `{"stack", "ordinal", "from", "to", "what", "reason"}`, what young logs want: see
  `care.yard_care`;
- `cover` inside an entry of `soaks` or `under_way`: `{"from", "to", "reason"}`, the days on
  which the pulled logs want a cover.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from itertools import groupby
from typing import Any

from fruitcast.numbers import default_numbers
from fruitcast.publish.reminder import KINDS, Reminder
from fruitcast.publish.reminder_words import ReminderWriter, plan_day, plan_reasons
from fruitcast.publish.words import clean_line
from fruitcast.yard.model import Yard
from fruitcast.yard.state import Soak, YardState


def reminders(plan: Mapping[str, Any], yard: Yard, state: YardState) -> tuple[Reminder, ...]:
    """Return everything of a plan and the diary that belongs in a calendar, in order of day.

    Parameters
    ----------
    plan : mapping
        The plan as in plan.json.
    yard : Yard
        Soak time, zone, units and the stacks' notes.
    state : YardState
        What the diary says: recorded soaks, picks and waterings become reminders that are done.
    """
    writer = ReminderWriter(yard, state.lot_of, default_numbers().with_overrides(yard.numbers))
    found = [
        *_soak_families(plan, state, writer),
        *_rests(plan, state, writer),
        *_ready(plan, writer),
        *_waterings(plan, state, writer),
        *_care(plan, writer),
    ]
    return tuple(sorted(found, key=lambda r: (r.first_day, KINDS.index(r.kind), r.stack)))


def _soak_families(
    plan: Mapping[str, Any], state: YardState, writer: ReminderWriter
) -> Iterator[Reminder]:
    """Every soak with what follows it, recorded ones first, numbered through a stack's life."""
    entries = sorted(
        [*plan.get("soaks", ()), *plan.get("under_way", ())],
        key=lambda entry: (entry["stack"], entry["soak_on"]),
    )
    planned = {name: list(group) for name, group in groupby(entries, key=lambda e: e["stack"])}
    for name in sorted({*state.stacks, *planned}):
        stack = state.stacks.get(name)
        soaks = stack.soaks if stack else ()
        by_day = {plan_day(entry["soak_on"]): entry for entry in planned.get(name, ())}
        for ordinal, soak in enumerate(soaks, start=1):
            picks = [(p.on, p.kg) for p in stack.picks if p.soaked_on == soak.on] if stack else []
            yield from _recorded(name, ordinal, soak, picks, by_day.pop(soak.on, None), writer)
        # An entry dated before the last recorded soak is of a plan older than the diary.
        last = soaks[-1].on if soaks else date.min
        ahead = [entry for day, entry in by_day.items() if day > last]
        for ordinal, entry in enumerate(ahead, start=len(soaks) + 1):
            yield writer.soak(name, ordinal, entry)
            yield from writer.after_soak(name, ordinal, entry)


def _recorded(
    name: str,
    ordinal: int,
    soak: Soak,
    picks: list[tuple[date, float]],
    entry: Mapping[str, Any] | None,
    writer: ReminderWriter,
) -> Iterator[Reminder]:
    """One soak of the diary: what was done, then what of it is still to come."""
    done = [writer.soaked(name, ordinal, soak)]
    if soak.pulled_on is not None:
        done.append(writer.pulled(name, ordinal, soak, soak.pulled_on))
    if picks:
        done.append(writer.picked(name, ordinal, picks))
    yield from done
    seen = {reminder.kind for reminder in done}
    if entry is not None:
        yield from (r for r in writer.after_soak(name, ordinal, entry) if r.kind not in seen)
    elif "pull" not in seen:
        day = writer.pull_day(soak.on, soak.hours)
        yield writer.pull(name, ordinal, logs=soak.logs, soaked_on=soak.on, day=day)


def _rests(plan: Mapping[str, Any], state: YardState, writer: ReminderWriter) -> Iterator[Reminder]:
    for entry in plan.get("rest_ends", ()):
        name, stack = entry["stack"], state.stacks.get(entry["stack"])
        yield writer.all_day(
            Reminder(
                kind="rest",
                stack=name,
                ordinal=len(stack.soaks) if stack else 0,
                start=plan_day(entry["on"]),
                end=plan_day(entry["on"]),
                summary=f"{clean_line(name)} is rested",
                description="It may be soaked again from this day.",
                reasons=plan_reasons(entry),
            )
        )


def _ready(plan: Mapping[str, Any], writer: ReminderWriter) -> Iterator[Reminder]:
    for entry in plan.get("ready", ()):
        yield writer.all_day(
            Reminder(
                kind="ready",
                stack=entry["stack"],
                ordinal=0,
                start=plan_day(entry["on"]),
                end=plan_day(entry["on"]),
                summary=f"{clean_line(entry['stack'])} should be ready",
                description="The spawn run should be done: look for white growth at the log ends.",
                reasons=plan_reasons(entry),
            )
        )


def _care(plan: Mapping[str, Any], writer: ReminderWriter) -> Iterator[Reminder]:
    for entry in plan.get("care", ()):
        yield writer.all_day(
            Reminder(
                kind="care",
                stack=entry["stack"],
                ordinal=int(entry["ordinal"]),
                start=plan_day(entry["from"]),
                end=plan_day(entry["to"]),
                summary=f"{clean_line(entry['stack'])}: {clean_line(entry['what'])}",
                reasons=plan_reasons(entry),
            )
        )


def _waterings(
    plan: Mapping[str, Any], state: YardState, writer: ReminderWriter
) -> Iterator[Reminder]:
    """One reminder a day for all stacks: what is due, or else what was given."""
    due: dict[date, dict[str, str]] = {}
    for entry in plan.get("water", ()):
        due.setdefault(plan_day(entry["on"]), {})[entry["stack"]] = clean_line(entry["reason"])
    given: dict[date, set[str]] = {}
    for name, stack in state.stacks.items():
        for day, _ in stack.watered:
            given.setdefault(day, set()).add(name)
    for day in sorted({*due, *given}):
        wanted = due.get(day, {})
        listed = ", ".join(clean_line(name) for name in sorted(wanted or given[day]))
        yield writer.all_day(
            Reminder(
                kind="water",
                stack="",
                ordinal=day.toordinal(),
                start=day,
                end=day,
                summary=f"Water logs: {listed}" if wanted else f"Watered: {listed}",
                description="Let the bark dry between waterings." if wanted else "",
                reasons=tuple(f"{clean_line(name)}: {wanted[name]}" for name in sorted(wanted)),
                done=not wanted,
            )
        )
