"""Records put into words for people, and whether each is likely."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from fruitcast.diary.entries import kind_named
from fruitcast.diary.entries.kind import Objection, logs_in_words
from fruitcast.diary.events import DEAD_LOGS, INSPECT, Event, in_force
from fruitcast.diary.limits import Limits, Say
from fruitcast.diary.phrases import day_in_words
from fruitcast.units import Units

# Diary entries put into words for people, for confirmation and for lists.


def describe(event: Event, units: Units, cancelled: Event | None = None) -> str:
    """Return one sentence that says what an entry records.

    `cancelled` is the entry that an undo cancels, if known.
    """
    earlier = describe(cancelled, units) if cancelled else ""
    return kind_named(event.kind).words(event, Say(units), earlier)


# Is a record likely? Questions for the unlikely, refusal of what cannot be.


def objections_to(event: Event, limits: Limits, today: date) -> list[Objection]:
    """Return what speaks against a record, the gravest first."""
    found = _day(event, today, old_days=limits.numbers.diary.old_days)
    found += _again(event, limits)
    found += kind_named(event.kind).objections(event, limits)
    order = ("impossible", "refused", "question")
    return sorted(found, key=lambda objection: order.index(objection.weight))


def _day(event: Event, today: date, *, old_days: float) -> list[Objection]:
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
    if event.on < today - timedelta(days=int(old_days)):
        return [Objection(f"{day_in_words(event.on)} is long ago. Is the year right?", "question")]
    return []


def _again(event: Event, limits: Limits) -> list[Objection]:
    """Ask about what the diary holds already: two who did it together may both write it down."""
    kind = kind_named(event.kind)
    if not kind.twice_is_odd:
        return []
    same = bare(event)
    alike = [
        known
        for known in limits.known
        if known.on == event.on
        and bare(known) == same
        and (not event.uuid or known.uuid != event.uuid)
    ]
    if not alike or not any(known in alike for known in in_force(limits.known)):
        return []
    words = describe(event, limits.say.units).rstrip(".")
    return [Objection(f"{words}: that is in the diary already. {kind.once_more}", "question")]


def bare(event: Event) -> Event:
    """Return an entry without what differs when two people write down the same."""
    return replace(event, note="", uuid="", recorded_at=None)


def short_form(event: Event, units: Units, today: date) -> str:
    """Return the words of a command that say an entry: 'pick B 3 lb 27 May'.

    It may not say all of it; whoever shows it reads it first.
    """
    say = Say(units)
    seen = event.kind == INSPECT
    to = event.outlet
    amounts = (
        event.logs is not None and (f"{event.logs} dead" if seen else logs_in_words(event.logs)),
        say.weight(event.kg),
        event.second_kg and f", {say.weight(event.second_kg)} seconds",
        event.lost_kg and event.lost_kg != event.kg and f", {say.weight(event.lost_kg)} lost",
        event.hours is not None and f"{event.hours:g} h",
        event.mm is not None and event.litres is None and say.rain(event.mm),
        event.litres is not None and say.litres(event.litres),
        ", ".join(found for found in event.findings if found != DEAD_LOGS),
        event.into,
        to and f"{kind_named(event.kind).for_outlet} {to}",
        event.paid is not None and f"for ${event.paid:.2f}",
        "" if event.on == today else f"{event.on:%d %b}".lstrip("0"),
    )
    source = f"from {event.stack}" if event.stack and event.kind in ("discard", "sold") else ""
    words = (event.kind, "" if source else event.stack, *filter(None, amounts), source)
    return " ".join(str(word) for word in words if word).replace(" ,", ",")
