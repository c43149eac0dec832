"""Is a record likely? Questions for the unlikely, refusal of what cannot be."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from fruitcast.numbers import Numbers
from fruitcast.units import Units, format_rain
from fruitcast.yard.events import (
    FRUITING,
    INSPECT,
    MERGE,
    PICK,
    PINS,
    PULL,
    RAIN,
    RETIRE,
    SOAK,
    SPLIT,
    WATER,
    WEIGH,
    Event,
)
from fruitcast.yard.stack_history import dry_basis_moisture
from fruitcast.yard.state import Pick, Soak, StackState
from fruitcast.yard.wording import weight_in_words
from fruitcast.yard.words import day_in_words


@dataclass(frozen=True)
class Objection:
    """What speaks against a record.

    Attributes
    ----------
    text : str
        One sentence or two.
    weight : str
        'question': ask before recording; 'refused': only when confirmed; 'impossible': never.
    """

    text: str
    weight: Literal["question", "refused", "impossible"]


def objections_to(
    event: Event,
    concerned: Sequence[StackState],
    *,
    today: date,
    stacks: Mapping[str, StackState],
    units: Units,
    numbers: Numbers,
    tank_logs: int | None = None,
) -> list[Objection]:
    """Return what speaks against a record, the gravest first.

    Parameters
    ----------
    event : Event
        The record as understood.
    concerned : sequence of StackState
        The stack or lots that it names, none for the whole yard.
    today : date
        Now.
    stacks : mapping of str to StackState
        All stacks and lots as the diary leaves them.
    units : {'us', 'metric'}
        What people see.
    numbers : Numbers
        The limits, [diary].
    tank_logs : int or None
        Logs that fit the tank; None asks nothing about it.
    """
    found = _day(event, today, numbers)
    check = {
        SOAK: _soak,
        PULL: _pull,
        PICK: _pick,
        WEIGH: _weigh,
        RAIN: _depth,
        WATER: _depth,
        INSPECT: _inspect,
        SPLIT: _split,
        MERGE: _merge,
        RETIRE: _retire,
        PINS: _alive,
        FRUITING: _alive,
    }.get(event.kind)
    if check is not None:
        found += check(event, concerned, _Limits(units, numbers, stacks, tank_logs))
    order = ("impossible", "refused", "question")
    return sorted(found, key=lambda objection: order.index(objection.weight))


@dataclass(frozen=True)
class _Limits:
    units: Units
    numbers: Numbers
    stacks: Mapping[str, StackState]
    tank_logs: int | None


def _day(event: Event, today: date, numbers: Numbers) -> list[Objection]:
    if event.on > today:
        return [
            Objection(
                f"{day_in_words(event.on)} is still to come, today is {day_in_words(today)}. "
                "Record it when it is done",
                "refused",
            )
        ]
    if event.picked_on is not None and event.picked_on > event.on:
        return [
            Objection(
                f"Picked on {day_in_words(event.picked_on)} is after {day_in_words(event.on)}. "
                "Give the day of the pick",
                "impossible",
            )
        ]
    if event.on < today - timedelta(days=int(numbers.diary.old_days)):
        return [Objection(f"{day_in_words(event.on)} is long ago. Is the year right?", "question")]
    return []


def _soak(event: Event, concerned: Sequence[StackState], limits: _Limits) -> list[Objection]:
    found = _alive(event, concerned, limits)
    alive = sum(state.logs for state in concerned)
    if event.logs is not None and event.logs > alive:
        found.append(
            Objection(
                f"{event.stack} has {alive} logs, not {event.logs}. Check the number", "refused"
            )
        )
    if event.logs == 0:
        found.append(Objection("A soak of 0 logs is no soak", "impossible"))
    for state in concerned:
        soak = _in_water(state, event.on)
        if soak is not None:
            found.append(
                Objection(
                    f"{state.name} is already in the tank on {day_in_words(event.on)}, since "
                    f"{day_in_words(soak.on)}. Record the pull first",
                    "refused",
                )
            )
        if state.pins_on is not None and state.pins_on <= event.on:
            found.append(
                Objection(
                    f"Pins were seen on {state.name} on {day_in_words(state.pins_on)}; a soak "
                    "would drown them. Was it soaked all the same?",
                    "question",
                )
            )
    found += _tank(event, concerned, limits)
    if event.hours is not None:
        hours = f"{event.hours:g} hours"
        if event.hours > limits.numbers.diary.impossible_soak:
            found.append(Objection(f"A soak of {hours} is a slip. Check the hours", "refused"))
        elif event.hours > limits.numbers.diary.unlikely_soak:
            found.append(Objection(f"{hours} is a very long soak. Is it right?", "question"))
    return found


def _tank(event: Event, concerned: Sequence[StackState], limits: _Limits) -> list[Objection]:
    """Ask when more logs would be in the water than the tank holds."""
    if limits.tank_logs is None:
        return []
    names = {state.name for state in concerned}
    others = {
        state.name: sum(soak.logs for soak in state.soaks if _holds(soak, event.on))
        for state in limits.stacks.values()
        if state.name not in names
    }
    there = {name: logs for name, logs in others.items() if logs}
    new = sum(state.logs for state in concerned) if event.logs is None else event.logs
    total = new + sum(there.values())
    if total <= limits.tank_logs or not new:
        return []
    beside = f" beside {', '.join(there)}" if there else ""
    return [
        Objection(
            f"With {event.stack}{beside} {total} logs would be in the tank, which holds "
            f"{limits.tank_logs}. Is it right? A pull that was not recorded may be missing",
            "question",
        )
    ]


def _holds(soak: Soak, on: date) -> bool:
    """Return whether a soak holds the tank at the end of a day."""
    return soak.on <= on and (soak.pulled_on is None or on < soak.pulled_on)


def _in_water(state: StackState, on: date) -> Soak | None:
    """Return the soak that holds a whole stack in the water on a day."""
    for soak in state.soaks:
        if soak.on == on or (soak.on < on and (soak.pulled_on is None or on < soak.pulled_on)):
            if soak.logs < state.logs and soak.on != on:
                continue  # a part of the stack: the rest may follow
            return soak
    return None


def _pull(event: Event, concerned: Sequence[StackState], limits: _Limits) -> list[Objection]:
    for state in concerned:
        for soak in state.soaks:
            if soak.on <= event.on and (soak.pulled_on is None or not soak.pull_recorded):
                return []
    last = max((s.on for state in concerned for s in state.soaks), default=None)
    since = f"its last soak was on {day_in_words(last)}" if last else "no soak of it is recorded"
    return [
        Objection(
            f"{event.stack} is not in the tank on {day_in_words(event.on)}: {since}. Record the "
            "soak first",
            "refused",
        )
    ]


def _pick(event: Event, concerned: Sequence[StackState], limits: _Limits) -> list[Objection]:
    found = []
    logs = sum(state.logs for state in concerned)
    if not logs:
        found.append(
            Objection(f"{event.stack} has no logs left. Is it the right stack?", "question")
        )
    bearing = logs
    flush_kg = event.kg or 0.0
    window = timedelta(days=limits.numbers.diary.flush_days)
    for state in concerned:
        soak = _soak_before(state, event.on)
        if soak is not None:
            bearing -= max(0, state.logs - soak.logs)
        flush_kg += sum(
            pick.kg for pick in state.picks if _same_flush(pick, event.on, soak, window)
        )
        if any(s.on < event.on and s.pulled_on is None for s in state.soaks):
            found.append(
                Objection(f"{state.name} is in the tank. Was it picked all the same?", "question")
            )
    if bearing > 0:
        per_log = flush_kg / bearing
        amount = (
            f"{weight_in_words(flush_kg, limits.units)} in this flush from {bearing} logs is "
            f"{weight_in_words(per_log, limits.units)} a log"
        )
        if per_log > limits.numbers.diary.impossible_yield:
            most = weight_in_words(limits.numbers.diary.impossible_yield, limits.units)
            found.append(
                Objection(f"{amount}, more than {most}. Check weight and stack", "refused")
            )
        elif per_log > limits.numbers.diary.unlikely_yield:
            found.append(Objection(f"{amount}, very much. Is it right?", "question"))
    return found


def _soak_before(state: StackState, on: date) -> Soak | None:
    """Return the last soak pulled before a day."""
    pulled = [s for s in state.soaks if s.pulled_on is not None and s.pulled_on <= on]
    return pulled[-1] if pulled else None


def _same_flush(pick: Pick, on: date, soak: Soak | None, window: timedelta) -> bool:
    if not on - window <= pick.on <= on:
        return False
    # A soak between two picks begins another flush.
    return soak is None or pick.on > soak.on


def _weigh(event: Event, concerned: Sequence[StackState], limits: _Limits) -> list[Objection]:
    kg = event.kg or 0.0
    start_kg, moisture_wet, since = event.start_kg, event.moisture_wet, event.on
    if start_kg is None:
        known = [s for state in concerned for s in state.sample_logs if s.sample == event.sample]
        if not known:
            which = f"sample log {event.sample} of " if event.sample else ""
            return [
                Objection(
                    f"No starting weight of {which}{event.stack} is known, so a weight alone says "
                    f"nothing. Give it once, like 'weigh {event.stack} 29 lb start 35 lb at 42 %'",
                    "impossible",
                )
            ]
        start_kg, moisture_wet, since = known[0].start_kg, known[0].moisture_wet, known[0].since
    moisture = dry_basis_moisture(kg, start_kg, moisture_wet or 0.0)
    wet = moisture / (1.0 + moisture) if moisture > 0 else 0.0
    if moisture <= 0:
        return [
            Objection(
                f"{weight_in_words(kg, limits.units)} is less than the dry wood of a log that "
                f"weighed {weight_in_words(start_kg, limits.units)} at {moisture_wet:.0%} "
                "moisture. Check the weights, or give a new starting weight and moisture",
                "impossible",
            )
        ]
    found = []
    if wet > limits.numbers.diary.unlikely_moisture:
        found.append(
            Objection(f"That makes {wet:.0%} moisture, very wet. Is the weight right?", "question")
        )
    if event.on - since > timedelta(days=limits.numbers.diary.rebase_days):
        found.append(
            Objection(
                f"The starting weight is of {day_in_words(since)}; decay has made the log lighter "
                "since. Record it all the same? A new starting weight and moisture is better",
                "question",
            )
        )
    return found


def _depth(event: Event, concerned: Sequence[StackState], limits: _Limits) -> list[Objection]:
    mm = event.mm or 0.0
    if mm > limits.numbers.diary.impossible_rain:
        return [Objection(f"{format_rain(mm, limits.units)} in a day is a slip", "refused")]
    if mm > limits.numbers.diary.unlikely_rain:
        return [Objection(f"{format_rain(mm, limits.units)} in a day? Is it right?", "question")]
    return []


def _inspect(event: Event, concerned: Sequence[StackState], limits: _Limits) -> list[Objection]:
    alive = sum(state.logs for state in concerned)
    if (event.logs or 0) > alive:
        return [
            Objection(
                f"{event.stack} has {alive} living logs, {event.logs} can't have died. Check the "
                "number",
                "impossible",
            )
        ]
    if event.logs and event.logs * 2 > alive:
        return [Objection(f"{event.logs} of {alive} logs dead. Is it right?", "question")]
    return []


def _split(event: Event, concerned: Sequence[StackState], limits: _Limits) -> list[Objection]:
    alive = sum(state.logs for state in concerned)
    found = _not_in_water(event, concerned)
    if (event.logs or 0) >= alive:
        found.append(
            Objection(
                f"{event.stack} has {alive} logs, {event.logs} can't be split off. Give fewer",
                "impossible",
            )
        )
    if any(name == event.into or name.startswith(f"{event.into}/") for name in limits.stacks):
        found.append(
            Objection(f"There is a stack {event.into} already. Choose a new name", "impossible")
        )
    return found


def _merge(event: Event, concerned: Sequence[StackState], limits: _Limits) -> list[Objection]:
    found = _alive(event, concerned, limits) + _not_in_water(event, concerned)
    if event.stack == event.into:
        found.append(Objection("A stack can't be merged into itself", "impossible"))
    return found


def _retire(event: Event, concerned: Sequence[StackState], limits: _Limits) -> list[Objection]:
    alive = sum(state.logs for state in concerned)
    if (event.logs or 0) > alive:
        return [
            Objection(
                f"{event.stack} has {alive} logs, {event.logs} can't be retired. Give fewer",
                "impossible",
            )
        ]
    return _alive(event, concerned, limits)


def _alive(event: Event, concerned: Sequence[StackState], limits: _Limits) -> list[Objection]:
    if any(state.logs for state in concerned):
        return []
    return [Objection(f"{event.stack} has no logs left. Check the stack", "refused")]


def _not_in_water(event: Event, concerned: Sequence[StackState]) -> list[Objection]:
    return [
        Objection(f"{state.name} is in the tank. Record the pull first", "impossible")
        for state in concerned
        if state.in_tank
    ]
