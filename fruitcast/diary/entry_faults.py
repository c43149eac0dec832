"""What makes an entry unfit for the diary, by its kind and for every kind."""

from __future__ import annotations

from collections.abc import Callable

from fruitcast.diary.entries import KINDS, kind_named
from fruitcast.diary.events import CAUSES, FINDINGS, Event

MAX_TEXT = 2000
"""Longest text kept in one field. [characters]"""

_MOST = 1e6
_Rule = tuple[Callable[[float], bool], str]
_POSITIVE: _Rule = (lambda x: 0 < x <= _MOST, "above 0, at most a million")
_NOT_NEGATIVE: _Rule = (lambda x: 0 <= x <= _MOST, "0 to a million")
_RANGES: dict[str, _Rule] = {
    "logs": _NOT_NEGATIVE,
    "hours": _POSITIVE,
    "kg": _NOT_NEGATIVE,
    "start_kg": _POSITIVE,
    "moisture_wet": (lambda x: 0 < x < 0.8, "above 0 and below 0.8"),
    "mm": _NOT_NEGATIVE,
    "litres": _NOT_NEGATIVE,
    "paid": _NOT_NEGATIVE,
    "second_kg": _NOT_NEGATIVE,
    "lost_kg": _NOT_NEGATIVE,
}
_ROUNDING = 1e-6
"""Weights given in other units add up to no better. [kg]"""

_YEARS = range(1950, 2200)


def faults_of(event: Event) -> list[str]:
    """Return what makes an entry unfit for the diary, in words; empty when it is fit."""
    if event.kind not in KINDS:
        return [f"kind '{event.kind}' is not one of {', '.join(KINDS)}"]
    return faults_of_any_kind(event)


def faults_of_any_kind(event: Event) -> list[str]:
    """Return what makes an entry unfit, of a kind that a later version may have written too."""
    kind = kind_named(event.kind)
    faults = [
        f"a {event.kind} entry needs '{name}'"
        for name in kind.needs
        if getattr(event, name) in (None, "")
    ]
    for name, (fits, words) in _RANGES.items():
        value = getattr(event, name)
        if value is not None and not fits(value):
            faults.append(f"{name} is {_in_words(value)}, expected {words}")
    faults += kind.faults(event)
    if (event.start_kg is None) != (event.moisture_wet is None):
        faults.append("start_kg and moisture_wet belong together: give both or neither")
    faults += [
        f"finding '{finding}' is not one of {', '.join(FINDINGS)}"
        for finding in event.findings
        if finding not in FINDINGS
    ]
    if (event.second_kg or 0.0) + (event.lost_kg or 0.0) > (event.kg or 0.0) + _ROUNDING:
        faults.append("second_kg and lost_kg are more than the kg picked")
    if event.cause and event.cause not in CAUSES:
        faults.append(f"cause '{event.cause}' is not one of {', '.join(CAUSES)}")
    for name in ("on", "picked_on"):
        day = getattr(event, name)
        if day is not None and day.year not in _YEARS:
            faults.append(f"{name} is {day}, expected a day from {_YEARS[0]} to {_YEARS[-1]}")
    for name in ("stack", "grade", "outlet", "into", "sample", "by", "cancels", "note", "uuid"):
        text = getattr(event, name)
        if len(text) > MAX_TEXT:
            faults.append(f"{name} has {len(text)} characters, at most {MAX_TEXT} are kept")
        if "\x00" in text:
            faults.append(f"{name} holds a zero character")
        if any("\ud800" <= character <= "\udfff" for character in text):
            faults.append(f"{name} holds characters that are no text (wrong encoding)")
    return faults


def _in_words(value: float) -> str:
    # A whole number of hundreds of digits is no float.
    return "a huge number" if isinstance(value, int) and abs(value) > 10**15 else f"{value:g}"
