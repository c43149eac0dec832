"""What of the picks can be sold: what was lost and why, and the share that the yard learns."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from fruitcast.diary.events import CAUSES, OTHER_CAUSE, PICK, RAIN_SOAKED, Event
from fruitcast.numbers import default_numbers
from fruitcast.yard.lots import SEPARATOR
from fruitcast.yard.model import Yard

DISCARD = "discard"
SECONDS = "seconds"
"""Second grade: it may be sold, but not as what outlets expect."""

_SECOND_GRADES = frozenset({"second", "seconds", "2", "cull", "culls"})


def learned_share(
    picked_kg: float, good_kg: float, flushes: int, *, believed: float, worth: float
) -> float:
    """Return the share of the crop that can be sold, by what was believed and what was picked.

    The mean of a beta distribution: each flush counts as one trial, of which the share that was
    good came off; what is believed beforehand counts as `worth` flushes.

    Parameters
    ----------
    picked_kg, good_kg : float
        Picked, and of it good, in the flushes of which losses were written down. [kg]
    flushes : int
        How many they were.
    believed : float
        Share before any pick. [0..1]
    worth : float
        Weight of that belief, above 0. [flush]

    Returns
    -------
    float
        [0..1]

    Examples
    --------
    >>> round(learned_share(10.0, 7.0, 6, believed=0.85, worth=6), 3)
    0.775
    """
    if picked_kg <= 0 or not flushes:
        return believed
    share = min(max(good_kg / picked_kg, 0.0), 1.0)
    return (worth * believed + flushes * share) / (worth + flushes)


@dataclass(frozen=True)
class Losses:
    """What of the picks could not be sold as first grade, as far as it was written down.

    Only picks count from the first to the last of a season that says something was lost: before
    and after nobody may have looked.

    Attributes
    ----------
    picked_kg, second_kg : float
        Picked, and of it second grade. [kg]
    lost_kg : dict of str to float
        Of it lost, by cause; the greatest first. [kg]
    flushes : int
        Flushes that they came in.
    believed, share : float
        Share that can be sold: before any pick, and with these picks. What rain soaked counts
        for neither: it is reckoned by the weather. [0..1]
    """

    picked_kg: float = 0.0
    second_kg: float = 0.0
    lost_kg: dict[str, float] = field(default_factory=dict)
    flushes: int = 0
    believed: float = 1.0
    share: float = 1.0


def losses(yard: Yard, events: Iterable[Event]) -> Losses:
    """Return what the picks of a yard's diary say of losses, and the share learned from them.

    Parameters
    ----------
    yard : Yard
        For the share believed beforehand, the site's seasons and the grower's own numbers.
    events : iterable of Event
        The entries in force up to a day.
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
        worth=numbers.diary.saleable_worth,
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
        stack = pick.stack.rpartition(SEPARATOR)[0] or pick.stack
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
