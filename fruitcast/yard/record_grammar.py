"""How each kind of record is worded."""

from __future__ import annotations

import re
from collections.abc import Callable

from fruitcast.errors import InputError
from fruitcast.yard.events import (
    COMPETITOR_MOULDS,
    DEAD_LOGS,
    DISCARD,
    FINDINGS,
    FRUITING,
    HEALTHY,
    INSPECT,
    LOOSE_BARK,
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
    SPAWN_RUN_DONE,
    SPLIT,
    STOCK,
    WATER,
    WEIGH,
    WHITE_ENDS,
    Event,
)
from fruitcast.yard.lots import SEPARATOR
from fruitcast.yard.record_phrase import HOW_TO, Given
from fruitcast.yard.words import Phrase, parse_day

_FINDING_WORDS = {
    SPAWN_RUN_DONE: ("spawn[- ]run (?:is )?(?:done|over|complete)", "white ends all over"),
    WHITE_ENDS: ("white (?:at the )?ends?",),
    COMPETITOR_MOULDS: ("(?:competitor |green |black )?mou?lds?",),
    LOOSE_BARK: ("(?:loose|peeling) bark", "bark (?:is )?(?:loose|peels|peeling)"),
    HEALTHY: ("healthy", "all well", "ok"),
}
_GRADE = re.compile(r"\bgrade\s+(\S+)|\b(firsts?|seconds?|culls?)\b", re.IGNORECASE)
_START = re.compile(r"\b(?:start(?:ing)?(?:\s+weight)?|from)\s*:?\s*(?=[\d.,¼½¾])", re.IGNORECASE)
_SAMPLE = re.compile(r"\bsample\s+(?:log\s+)?([^\s,]+)", re.IGNORECASE)
_LABEL = re.compile(r"(?:\blot\s+)?(?<!\S)(\S+)-(\d{4}-\d{2}-\d{2})(?!\S)", re.IGNORECASE)
_INTO = re.compile(r"\b(?:into|to|as|with|and)\s+(?:new\s+)?(?:stack\s+)?(.+)$", re.IGNORECASE)


def _soak(given: Given) -> Event:
    phrase = given.phrase
    stack, note = given.stack_at_start(), phrase.take_note()
    on = given.day()
    hours = phrase.take_hours(bare=False)
    if hours is None and phrase.take_words("over ?night"):
        hours = given.numbers.forced.overnight_hours
    logs = phrase.take_logs(bare=False)
    phrase.take_words("all(?: logs)?", "whole")
    if re.fullmatch(r"(?:for )?\d+", phrase.text) and stack:
        raise InputError(
            f"'{phrase.text}': hours or logs? Write '{phrase.text} h' or '{phrase.text} logs'."
        )
    phrase.take_words("for", "of", "in the tank")
    return Event(SOAK, on, given.stack_or_guess(stack, SOAK), logs=logs, hours=hours, note=note)


def _seen(kind: str) -> Callable[[Given], Event]:
    def read(given: Given) -> Event:
        stack, note = given.stack_at_start(), given.phrase.take_note()
        on = given.day()
        given.phrase.take_words("from the tank", "on", "seen")
        return Event(kind, on, given.stack_or_guess(stack, kind), note=note)

    return read


def _pick(given: Given) -> Event:
    phrase = given.phrase
    stack, note, outlet = given.stack_at_start(), phrase.take_note(), given.known_outlet()
    grade = phrase.take(_GRADE)
    on = given.day()
    kg = given.weight(PICK)
    outlet = outlet or given.other_outlet()
    phrase.take_words("from", "of")
    return Event(
        PICK,
        on,
        given.stack_or_guess(stack, PICK),
        kg=kg,
        grade=(grade[1] or grade[2]).lower() if grade else "",
        outlet=outlet,
        note=note,
    )


def _water(given: Given) -> Event:
    phrase = given.phrase
    stack, note = given.stack_at_start(), phrase.take_note()
    on = given.day()
    litres = phrase.take_litres()
    mm = phrase.take_depth() if litres is None else None
    phrase.take_words("with", "of")
    everywhere = phrase.take_words("(?:the )?whole yard", "all(?: stacks)?", "everything", "yard")
    if phrase.text or not (stack or everywhere):
        if re.fullmatch(r"\d+(?:[.,]\d+)?", phrase.text):
            raise InputError(
                f"'{phrase.text}' of what? Write '{phrase.text} mm', '{phrase.text} litres' or "
                f"'{phrase.text} gal'."
            )
        if phrase.text and not stack:
            stack = given.stack_or_guess(stack, WATER)
    return Event(WATER, on, stack, mm=mm, litres=litres, note=note)


def _rain(given: Given) -> Event:
    phrase = given.phrase
    note = phrase.take_note()
    on = given.day()
    mm = 0.0 if phrase.take_words("none", "no rain", "nothing", "dry") else None
    if mm is None:
        mm = phrase.take_depth(given.units)
    if mm is None:
        raise InputError(f"How much rain? {HOW_TO[RAIN]}.")
    return Event(RAIN, on, mm=mm, note=note)


def _weigh(given: Given) -> Event:
    phrase = given.phrase
    stack, note = given.stack_at_start(), phrase.take_note()
    sample = phrase.take(_SAMPLE)
    on = given.day()
    moisture = phrase.take_share()
    start_kg = None
    start = _START.search(phrase.text)
    if start:
        rest = Phrase(phrase.text[start.end() :])
        start_kg = rest.take_weight()
        phrase.text = f"{phrase.text[: start.start()]} {rest.text}".strip()
    kg = phrase.take_weight(given.units)
    kg = start_kg if kg is None else kg
    if kg is None:
        raise InputError(f"What does the sample log weigh? {HOW_TO[WEIGH]}.")
    if moisture is not None and start_kg is None:
        start_kg = kg
    if start_kg is not None and moisture is None:
        raise InputError(
            "A starting weight needs the moisture the log had then, wet basis. Write it like "
            f"'weigh {stack or 'A'} 35 lb at 42 %'."
        )
    phrase.take_words("moisture", "wet", "wet basis", "now", "log")
    return Event(
        WEIGH,
        on,
        given.stack_or_guess(stack, WEIGH),
        kg=kg,
        start_kg=start_kg,
        moisture_wet=moisture,
        sample=sample[1] if sample else "",
        note=note,
    )


def _inspect(given: Given) -> Event:
    phrase = given.phrase
    stack, note = given.stack_at_start(), phrase.take_note()
    on = given.day()
    dead = phrase.take_dead()
    found = [finding for finding, words in _FINDING_WORDS.items() if phrase.take_words(*words)]
    if dead:
        found.append(DEAD_LOGS)
    phrase.take_words("and", "seen", "found")
    phrase.text = phrase.text.strip(" ,;.")
    if not stack:
        stack = given.stack_or_guess(stack, INSPECT)
    if phrase.text:
        # Whatever else was seen is kept in the grower's words.
        note = "; ".join(text for text in (phrase.text, note) if text)
        phrase.text = ""
    ordered = tuple(finding for finding in FINDINGS if finding in found)
    return Event(INSPECT, on, stack, logs=dead, findings=ordered, note=note)


def _stock(given: Given) -> Event:
    phrase = given.phrase
    note, picked_on = phrase.take_note(), given.picked_on()
    on = given.day()
    kg = 0.0 if phrase.take_words("none", "nothing") else given.weight(STOCK)
    phrase.take_words("on hand", "in the cold store")
    return Event(STOCK, on, kg=kg, picked_on=picked_on, note=note)


def _gone(kind: str) -> Callable[[Given], Event]:
    def read(given: Given) -> Event:
        phrase = given.phrase
        note, outlet = phrase.take_note(), given.known_outlet()
        stack, picked_on = "", given.picked_on()
        label = phrase.take(_LABEL)
        if label:
            stack, picked_on = given.guess(label[1]), parse_day(label[2], given.today)
        on = given.day()
        kg = given.weight(kind)
        source = phrase.take(re.compile(r"\b(?:from|of)\s+(.+)$", re.IGNORECASE))
        if source:
            rest = Phrase(source[1])
            stack = rest.take_name(given.stacks, at_start=True) or ""
            if stack:
                phrase.text = f"{phrase.text} {rest.text}".strip()
            else:
                stack = given.guess(source[1])
        if kind == SOLD:
            outlet = outlet or given.other_outlet()
        elif phrase.text:
            note = "; ".join(text for text in (phrase.text, note) if text)
            phrase.text = ""
        return Event(kind, on, stack, kg=kg, picked_on=picked_on, outlet=outlet, note=note)

    return read


def _split(given: Given) -> Event:
    phrase = given.phrase
    stack, note = given.stack_at_start(), phrase.take_note()
    on = given.day()
    logs = phrase.take_logs(bare=False)
    into = phrase.take(_INTO)
    if logs is None:
        logs = phrase.take_logs(bare=True)
    if logs is None and into:
        rest = Phrase(into[1])
        logs = rest.take_logs(bare=True)
        name = rest.text
    else:
        name = into[1] if into else ""
    name = name.strip(" ,:")
    if logs is None or not name:
        raise InputError(
            f"'split {phrase.given}': how many logs, into which stack? {HOW_TO[SPLIT]}."
        )
    if SEPARATOR in name:
        raise InputError(
            f"'{name}': a stack's name can't hold '{SEPARATOR}', which marks the lots of one. "
            "Choose another name."
        )
    phrase.take_words("off", "from")
    return Event(SPLIT, on, given.stack_or_guess(stack, SPLIT), logs=logs, into=name, note=note)


def _merge(given: Given) -> Event:
    phrase = given.phrase
    stack, note = given.stack_at_start(), phrase.take_note()
    on = given.day()
    into = phrase.take(_INTO)
    name = into[1].strip(" ,:") if into else phrase.text if stack else ""
    if not name:
        raise InputError(f"Merge it into which stack? {HOW_TO[MERGE]}.")
    if not into:
        phrase.text = ""
    return Event(MERGE, on, given.stack_or_guess(stack, MERGE), into=given.guess(name), note=note)


def _move(given: Given) -> Event:
    phrase = given.phrase
    stack, note = given.stack_at_start(), phrase.take_note()
    on = given.day()
    place = phrase.take(re.compile(r"\b(?:to|into)\s+(.+)$", re.IGNORECASE))
    if not place:
        raise InputError(f"Moved where? {HOW_TO[MOVE]}.")
    return Event(MOVE, on, given.stack_or_guess(stack, MOVE), into=place[1].strip(" ,"), note=note)


def _retire(given: Given) -> Event:
    phrase = given.phrase
    stack, note = given.stack_at_start(), phrase.take_note()
    on = given.day()
    logs = phrase.take_logs(bare=True)
    phrase.take_words("all(?: logs)?", "of", "whole")
    return Event(RETIRE, on, given.stack_or_guess(stack, RETIRE), logs=logs, note=note)


def _note(given: Given) -> Event:
    phrase = given.phrase
    stack = phrase.take_name(
        [name for name in given.stacks if re.match(rf"{re.escape(name)}(?![\w/])", phrase.text)],
        at_start=True,
    )
    on = given.default_day
    dated = re.match(r"^(?:on\s+)?(\d{4}-\d{2}-\d{2}|today|yesterday)\b[:,]?", phrase.text)
    trailing = re.search(r"\s(?:on\s+)?(\d{4}-\d{2}-\d{2})$", phrase.text)
    for found in (dated, trailing):
        if found:
            on = Phrase(found[1]).take_day(given.today) or on
            phrase.text = (phrase.text[: found.start()] + phrase.text[found.end() :]).strip()
            break
    text = phrase.text
    phrase.text = ""
    return Event(NOTE, on, stack or "", note=text)


GRAMMAR: dict[str, Callable[[Given], Event]] = {
    SOAK: _soak,
    PULL: _seen(PULL),
    PICK: _pick,
    PINS: _seen(PINS),
    FRUITING: _seen(FRUITING),
    WATER: _water,
    RAIN: _rain,
    WEIGH: _weigh,
    INSPECT: _inspect,
    STOCK: _stock,
    SOLD: _gone(SOLD),
    DISCARD: _gone(DISCARD),
    SPLIT: _split,
    MERGE: _merge,
    MOVE: _move,
    RETIRE: _retire,
    NOTE: _note,
}
"""The reader of each kind of record."""
