"""What of the picks can be sold, what lies in the cold store, and where it went."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from fruitcast.diary.entries import kind_named
from fruitcast.diary.events import CAUSES, OTHER_CAUSE, PICK, RAIN_SOAKED, Event, in_force
from fruitcast.diary.state import Losses
from fruitcast.numbers import default_numbers
from fruitcast.yard.model import Yard, stack_of

# What of the picks can be sold: what was lost and why, and the share that the yard learns.

DISCARD = "discard"
SECONDS = "seconds"
"""Second grade: it may be sold, but not as what outlets expect."""

_SECOND_GRADES = frozenset({"second", "seconds", "2", "cull", "culls"})


def learned_share(
    picked_kg: float, good_kg: float, flushes: int, *, believed: float, counts_as: float
) -> float:
    """Return the share of the crop that can be sold, by what was believed and what was picked.

    The mean of a beta distribution: each flush counts as one trial, of which the share that was
    good came off; what is believed beforehand counts as `counts_as` flushes, above 0. Only flushes
    of which losses were written down count, with what was picked in them and of it good. [kg]

    Examples
    --------
    >>> round(learned_share(10.0, 7.0, 6, believed=0.85, counts_as=6), 3)
    0.775
    """
    if picked_kg <= 0 or not flushes:
        return believed
    share = min(max(good_kg / picked_kg, 0.0), 1.0)
    return (counts_as * believed + flushes * share) / (counts_as + flushes)


def losses(yard: Yard, events: Iterable[Event]) -> Losses:
    """Return what the picks of a yard's diary say of losses, and the share learned from them.

    By the entries in force up to a day, and the yard's share believed beforehand, seasons and
    numbers.
    """
    numbers = default_numbers().with_overrides(yard.numbers)
    told: dict[int, list[Event]] = {}
    for event in sorted(events, key=lambda event: event.on):
        if event.kind == PICK or (event.kind == DISCARD and event.cause):
            told.setdefault(yard.site.year_of(event.on), []).append(event)
    counted = [event for season in told.values() for event in _told_of(season)]
    picks = [event for event in counted if event.kind == PICK]
    lost: dict[str, float] = {}
    for event in counted:
        kg = lost_kg(event)
        if kg:
            cause = event.cause or OTHER_CAUSE
            lost[cause] = lost.get(cause, 0.0) + kg
    picked = sum(event.kg or 0.0 for event in picks)
    second = sum(second_kg(event) for event in picks)
    flushes = _flushes(picks, timedelta(days=numbers.diary.flush_days))
    by_rain = min(lost.get(RAIN_SOAKED, 0.0), picked)
    share = learned_share(
        picked - by_rain,
        picked - second - sum(lost.values()),
        flushes,
        believed=yard.believed_saleable,
        counts_as=numbers.diary.saleable_worth,
    )
    by_weight = dict(sorted(lost.items(), key=lambda item: -item[1]))
    return Losses(picked, second, by_weight, flushes, yard.believed_saleable, share)


def second_kg(pick: Event) -> float:
    """Return what of a pick is second grade. [kg]"""
    if pick.second_kg is None and pick.grade.lower() in _SECOND_GRADES:
        return (pick.kg or 0.0) - (pick.lost_kg or 0.0)
    return pick.second_kg or 0.0


def lost_kg(event: Event) -> float:
    """Return what a pick says was lost, or a discard where it has a cause. [kg]"""
    if event.kind == PICK:
        return event.lost_kg or 0.0
    return (event.kg or 0.0) if event.cause else 0.0


def tells(event: Event) -> bool:
    """Return whether an entry says what could not be sold as first grade."""
    return second_kg(event) > 0 or lost_kg(event) > 0 if event.kind == PICK else bool(event.cause)


def _told_of(season: Sequence[Event]) -> Sequence[Event]:
    """Return the entries from the first to the last day of a season that tells of losses."""
    telling = [event for event in season if tells(event)]
    if not telling:
        return ()
    first, last = telling[0], telling[-1].on
    begin = first.on
    if first.kind == DISCARD:  # it was picked before
        from_there = [
            event.on
            for event in season
            if event.kind == PICK and event.on <= begin and first.stack in ("", event.stack)
        ]
        begin = first.picked_on or max(from_there, default=begin)
    return [event for event in season if begin <= event.on <= last]


def _flushes(picks: Iterable[Event], apart: timedelta) -> int:
    """Count flushes: picks of one stack no further apart than some days are one."""
    number = 0
    last: dict[str, date] = {}
    for pick in picks:
        stack = stack_of(pick.stack)
        number += stack not in last or pick.on - last[stack] > apart
        last[stack] = pick.on
    return number


def losses_words(found: Losses) -> str:
    """Return one sentence on what was lost and what the plan counts on; empty without records."""
    if not found.flushes:
        return ""
    parts = [(_CAUSE_WORDS.get(cause, "other losses"), kg) for cause, kg in found.lost_kg.items()]
    if found.second_kg:
        parts.append((SECONDS, found.second_kg))
    parts.sort(key=lambda part: -part[1])
    listed = ", ".join(f"{what} {kg / found.picked_kg:.0%}" for what, kg in parts)
    good = max(1.0 - sum(kg for _, kg in parts) / found.picked_kg, 0.0)
    rain = "; rain it reckons by the weather" if RAIN_SOAKED in found.lost_kg else ""
    before, now = f"{found.believed:.0%}", f"{found.share:.0%}"
    counts = f"counts on {now}" if now == before else f"counts on {now} instead of {before}"
    return f"Of what you picked so far {good:.0%} was good ({listed}), so the plan {counts}{rain}."


_CAUSE_WORDS = {cause: cause for cause in CAUSES if cause != OTHER_CAUSE}


# What is in the cold store, and which picks went to which outlet: oldest first.

LEAST_KG = 1e-6
"""Weights below this are nothing. [kg]"""


@dataclass(frozen=True)
class StoredPick:
    """Mushrooms of one pick, as far as they are still on hand."""

    stack: str  # stack or lot; empty when only a count says that they are there
    picked_on: date  # day of the pick, or of the count
    kg: float
    outlet: str = ""  # outlet they were picked for; empty when none was named
    grade: str = ""  # 'seconds', or empty for first grade
    # What of the pick was taken as lost though nothing of it was written down [kg]
    aside: float = 0.0


@dataclass(frozen=True)
class Withdrawal:
    """A part of a batch that was sold or thrown away."""

    event: Event
    batch: StoredPick  # where it came from, `kg` being the weight withdrawn
    named: bool  # whether the grower named the pick; else the oldest fitting one was taken
    # Whether it had been taken as lost before, and so was not counted as on hand
    aside: bool = False


def cold_store(
    events: Sequence[Event], *, saleable: float, keeps_days: int, today: date
) -> tuple[tuple[StoredPick, ...], tuple[Withdrawal, ...]]:
    """Return what is on hand on a day and all that went out until then.

    By the entries in force, in the order in which they were written; later ones are left out. A
    count of the stock covers everything recorded before it on the same day, and all earlier days:
    when less is there than was thought, the oldest has gone; when more, the surplus has the day
    of the count. Where a pick doesn't say what of it can be sold, the share `saleable` can;
    mushrooms can be sold until `keeps_days` after the pick.
    """
    left: list[StoredPick] = []
    gone: list[Withdrawal] = []
    for _, on_hand, taken in _steps(events, saleable, keeps_days, today):
        left = on_hand
        gone += taken
    keeps = timedelta(days=keeps_days)
    return tuple(batch for batch in left if today <= batch.picked_on + keeps), tuple(gone)


def on_hand_by(events: Sequence[Event], keeps_days: int) -> Callable[[date], float | None]:
    """Return what tells the weight on hand on a day, all picks taken as saleable. [kg]

    It tells None where no pick or count is on record: then nobody keeps that book.
    """
    valid = in_force(events)

    def on_hand(day: date) -> float | None:
        known = any(
            kind_named(event.kind).cold_store in ("in", "count") and event.on <= day
            for event in valid
        )
        left, _ = cold_store(valid, saleable=1.0, keeps_days=keeps_days, today=day)
        return sum(batch.kg for batch in left) if known else None

    return on_hand


def cold_store_by_day(
    events: Sequence[Event], *, saleable: float, keeps_days: int, today: date
) -> dict[date, tuple[Sequence[StoredPick], Sequence[Withdrawal]]]:
    """Return what is on hand at the end of each day and what went out on it.

    Days on which nothing came in, went out or was counted are left out. Parameters as in
    `cold_store`.
    """
    found: dict[date, tuple[Sequence[StoredPick], list[Withdrawal]]] = {}
    for event, on_hand, taken in _steps(events, saleable, keeps_days, today):
        _, gone = found.get(event.on, ((), []))
        found[event.on] = (on_hand, [*gone, *taken])
    return dict(found)


def _steps(
    events: Sequence[Event], saleable: float, keeps_days: int, today: date
) -> Iterator[tuple[Event, list[StoredPick], list[Withdrawal]]]:
    """Go through the entries; with each comes what is on hand after it and what it took out."""
    on_hand: list[StoredPick] = []
    keeps = timedelta(days=keeps_days)
    for event, effect in _in_order(events, today):
        on_hand = [batch for batch in on_hand if event.on <= batch.picked_on + keeps]
        kg, taken = event.kg or 0.0, list[Withdrawal]()
        if effect == "in":
            on_hand += brought(event, saleable)
        elif effect == "count":
            on_hand = _counted(on_hand, kg, event)
        else:
            on_hand, taken = _withdrawn(on_hand, kg, event)
        yield event, on_hand, taken


def brought(pick: Event, saleable: float) -> list[StoredPick]:
    """Return what a pick brings into the cold store, the two grades apart."""
    kg, second = pick.kg or 0.0, second_kg(pick)
    first = kg - second - lost_kg(pick)
    good = first if tells(pick) else first * saleable
    batch = StoredPick(pick.stack, pick.on, good, pick.outlet, aside=first - good)
    batches = [batch, replace(batch, kg=second, grade=SECONDS, aside=0.0)]
    return [batch for batch in batches if batch.kg > LEAST_KG]


def _in_order(events: Sequence[Event], today: date) -> list[tuple[Event, str]]:
    """Sort by day; within a day what a count covers, the count, picks, then what goes out."""
    numbered = [
        (number, event, effect)
        for number, event in enumerate(events)
        if (effect := kind_named(event.kind).cold_store) and event.on <= today
    ]
    counted_at = {event.on: number for number, event, effect in numbered if effect == "count"}
    ranks = {"in": 0, "count": 1, "out": 2}

    def key(item: tuple[int, Event, str]) -> tuple[date, int, int, int]:
        number, event, effect = item
        last_count = counted_at.get(event.on, -1)
        # An earlier count of the same day keeps its place among what the last one covers.
        covered = number <= last_count
        rank = 3 if number == last_count else ranks[effect]
        return (event.on, 0 if covered else 1, rank, number)

    return [(event, effect) for _, event, effect in sorted(numbered, key=key)]


def _counted(on_hand: list[StoredPick], kg: float, event: Event) -> list[StoredPick]:
    """Make the batches add up to a count, the newest being the ones still there."""
    kept: list[StoredPick] = []
    left = kg
    newest_first = sorted(on_hand, key=lambda batch: batch.picked_on, reverse=True)
    for batch in sorted(newest_first, key=lambda batch: batch.grade):
        if left > LEAST_KG:
            kept.append(replace(batch, kg=min(batch.kg, left), aside=0.0))
            left -= kept[-1].kg
    if left > LEAST_KG:
        kept.append(StoredPick(event.stack, event.picked_on or event.on, left))
    return sorted(kept, key=lambda batch: batch.picked_on)


def _withdrawn(
    on_hand: list[StoredPick], kg: float, event: Event
) -> tuple[list[StoredPick], list[Withdrawal]]:
    """Take a weight out: the named pick, then what was picked for the outlet, then the oldest.

    Seconds go where seconds were sold, else last.
    """

    def named(batch: StoredPick) -> bool:
        return (not event.stack or batch.stack == event.stack) and (
            event.picked_on is None or batch.picked_on == event.picked_on
        )

    is_named = bool(event.stack or event.picked_on)
    order = sorted(
        range(len(on_hand)),
        key=lambda i: (
            is_named and not named(on_hand[i]),
            on_hand[i].grade != event.grade,
            bool(on_hand[i].outlet) and on_hand[i].outlet != event.outlet,
            on_hand[i].outlet != event.outlet,
            on_hand[i].picked_on,
        ),
    )
    left = kg
    remaining = list(on_hand)
    taken = []
    for i in order:
        if left <= LEAST_KG:
            break
        for aside in _goes_from(event, is_named and named(on_hand[i])):
            batch = remaining[i]
            part = min(batch.aside if aside else batch.kg, left)
            left -= part
            if aside:
                remaining[i] = replace(batch, aside=batch.aside - part)
            else:
                remaining[i] = replace(batch, kg=batch.kg - part)
            if part > 0:
                out = replace(batch, kg=part)
                taken.append(Withdrawal(event, out, is_named and named(batch), aside))
    if left > LEAST_KG:
        # More went out than the diary knows of: say so rather than hide it.
        taken.append(Withdrawal(event, StoredPick("", event.on, left), False))
    return [batch for batch in remaining if batch.kg > LEAST_KG], taken


def _goes_from(event: Event, named: bool) -> tuple[bool, ...]:
    """Return whether an entry takes from what was set aside as lost of a pick, in its order."""
    if lost_kg(event):
        return (True, False)
    # Thrown away without a cause it may have been good and too old.
    return (False, True) if named and event.kind == DISCARD else (False,)
