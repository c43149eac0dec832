"""Diary entries put into words for people, for confirmation and for lists."""

from __future__ import annotations

from fruitcast.units import KG_PER_LB, Units, format_rain
from fruitcast.yard.events import (
    DEAD_LOGS,
    DISCARD,
    FRUITING,
    INSPECT,
    MERGE,
    MOVE,
    NOTE,
    PICK,
    PINS,
    PULL,
    RAIN,
    RETIRE,
    SOAK,
    SOLD,
    SPLIT,
    STOCK,
    UNDO,
    WATER,
    WEIGH,
    Event,
)
from fruitcast.yard.words import LITRES_PER_GALLON, day_in_words


def weight_in_words(kg: float, units: Units) -> str:
    """Return a weight as it is read off a scale: '2 lb 6 oz', '6.5 oz', '1.08 kg', '450 g'."""
    if units == "metric":
        return f"{kg:.2f} kg" if kg >= 0.9995 else f"{kg * 1000:.0f} g"
    tenths = round(kg / KG_PER_LB * 160)  # of an ounce
    pounds, tenths = divmod(tenths, 160)
    ounces = f"{tenths / 10:g} oz"
    if not pounds:
        return ounces
    return f"{pounds} lb {ounces}" if tenths else f"{pounds} lb"


def describe(event: Event, units: Units, cancelled: Event | None = None) -> str:
    """Return one sentence that says what an entry records.

    Parameters
    ----------
    event : Event
        The entry.
    units : {'us', 'metric'}
        What people see.
    cancelled : Event or None
        The entry that an undo cancels, if known.
    """
    if event.kind == UNDO:
        if cancelled is None:
            return "Cancelled an earlier entry."
        return f"Cancelled: {describe(cancelled, units)}"
    sentence = f"{_deed(event, units)} on {day_in_words(event.on)}"
    if event.kind == NOTE:
        return f'{sentence}: "{event.note}".'
    details = _details(event, units)
    if event.note:
        details.append(f'note: "{event.note}"')
    return f"{sentence}{''.join(f', {detail}' for detail in details)}."


def _deed(event: Event, units: Units) -> str:
    stack, into = event.stack, event.into
    kg = "" if event.kg is None else weight_in_words(event.kg, units)
    logs = "" if event.logs is None else _logs(event.logs)
    simple = {
        SOAK: f"Put {logs or 'all logs'} of {stack} into the tank",
        PULL: f"Pulled {stack} from the tank",
        PICK: f"Picked {kg} from {stack}",
        PINS: f"Saw pins on {stack}",
        FRUITING: f"Saw {stack} fruiting",
        WATER: f"Watered {stack or 'the whole yard'}",
        RAIN: f"Rain gauge {'' if event.mm is None else format_rain(event.mm, units)}",
        WEIGH: f"Weighed sample log {f'{event.sample} ' if event.sample else ''}of {stack}: {kg}",
        INSPECT: f"Inspected {stack}",
        STOCK: f"Counted {kg} on hand",
        SOLD: f"Sold {kg}",
        DISCARD: f"Threw away {kg}",
        SPLIT: f"Split {logs} off {stack} into {into}",
        MERGE: f"Merged {stack} into {into}",
        MOVE: f"Moved {stack} to {into}",
        RETIRE: f"Retired {logs or 'all logs'} of {stack}",
        NOTE: f"Note about {stack or 'the yard'}",
    }
    return simple.get(event.kind) or _of_a_later_version(event)


def _of_a_later_version(event: Event) -> str:
    figures = ("logs", "hours", "kg", "start_kg", "moisture_wet", "mm", "litres", "into", "sample")
    given = [f"{name} {value}" for name in figures if (value := getattr(event, name))]
    about = f" of {event.stack}" if event.stack else ""
    return f"'{event.kind}'{about}, from a later version{''.join(f', {text}' for text in given)},"


def _details(event: Event, units: Units) -> list[str]:
    details = []
    if event.hours is not None:
        details.append(f"for {event.hours:g} h")
    if event.kind == WATER and event.mm is not None:
        details.append(f"about {format_rain(event.mm, units)}")
    if event.litres is not None:
        litres = event.litres
        details.append(
            f"{litres / LITRES_PER_GALLON:.0f} gal" if units == "us" else f"{litres:.0f} l"
        )
    if event.start_kg is not None and event.moisture_wet is not None:
        start = weight_in_words(event.start_kg, units)
        details.append(f"starting point {start} at {event.moisture_wet:.0%} moisture (wet basis)")
    details += [finding for finding in event.findings if finding != DEAD_LOGS]
    if event.kind == INSPECT and event.logs:
        details.append(f"{_logs(event.logs)} dead")
    if event.grade:
        details.append(f"grade {event.grade}")
    if event.outlet:
        details.append(f"{'to' if event.kind == SOLD else 'for'} {event.outlet}")
    if event.kind in (SOLD, DISCARD, STOCK) and event.stack:
        details.append(f"from {event.stack}")
    if event.picked_on is not None:
        details.append(f"picked on {day_in_words(event.picked_on)}")
    return details


def _logs(number: int) -> str:
    return "1 log" if number == 1 else f"{number} logs"
