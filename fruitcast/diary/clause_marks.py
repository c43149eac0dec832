"""Marks of a clause: names, amounts and days, but for clocks and what counts other things."""

from __future__ import annotations

import re
from collections.abc import Sequence

from fruitcast.diary.marks import Mark, Parts, marks_in
from fruitcast.diary.phrases import DEPTH, LITRES, Phrase
from fruitcast.diary.spoken_kind import CLOCK, CLOCK_OF_TANK, HOUR
from fruitcast.yard.model import stack_of


def lots_of_one(marks: Sequence[Mark]) -> list[str]:
    """Return the lots named, where they are two or more of one stack and no other is named."""
    names = dict.fromkeys(mark.text for mark in marks if mark.label == "stack")
    lots = [name for name in names if "/" in name]
    bases = {*map(stack_of, lots)}
    return lots if len(lots) > 1 and len(bases) == 1 and {*names} <= {*lots, *bases} else []


def own_names(named: Sequence[str]) -> list[str]:
    """Return the stacks that are meant, each once: of 'G, its lot G/2' the lot."""
    bases = {stack_of(name) for name in named if "/" in name}
    return [name for name in dict.fromkeys(named) if name not in bases]


def counts_others(mark: Mark, text: str) -> bool:
    """Return whether a number counts what is none of the work: 'between 2 showers'."""
    return mark.label == "number" and _OTHER_NOUN.match(text, mark.end) is not None


_OTHER_NOUN = re.compile(
    r"\s+(?!(?:of|from|off|in|on|at|and|or|for|to|by|with|more|each|apiece|all|out|up|left|dead|went|had"
    r"|has|have|was|were|is|are|came|got|gone|sold|picked|the|weeks?|months?|days?|today|yesterday|tonight|this|last)\b)(?:[a-z]{3,}|cm\b)",
)


def once(marks: list[Mark]) -> list[Mark]:
    """Return amounts of which none is said twice: 'six mil, six millimetres'."""
    found: dict[tuple[str, ...], Mark] = {}
    told = [mark.text.strip() for mark in marks]
    if len({*told}) < len(told):  # '15 min this morning and 15 min tonight' are two
        return marks
    for mark in marks:
        if mark.label == "weight" and (kg := Phrase(mark.text).take_weight()):
            found.setdefault(("weight", f"{kg:.3g}"), mark)
            continue
        amount = re.search(r"(\d[\d./]*)\s*([a-z]?)", mark.text, re.IGNORECASE)
        found.setdefault((mark.label, *(amount.groups() if amount else (mark.text,))), mark)
    figures = {number for key in found if key[0] == "logs" for number in key[1:2]}
    return [mark for key, mark in found.items() if key[0] != "number" or key[1] not in figures]


def without_clock(text: str) -> str:
    """Return words with blanks in the place of the time of day."""
    for pattern in (CLOCK, HOUR, CLOCK_OF_TANK, _ABOUT):
        text = pattern.sub(lambda found: " " * len(found[0]), text)
    return text


_ABOUT = re.compile(
    r"\b(?:at|by|from|since|around|about|before|after|till|until) (?:[1-9]|1[0-2])(?:-?ish)?"
    r"(?=\s*(?:$|[,;.](?!\d)|(?:at|in|on|and|we|i|the|then|with|sharp|while|when|so)\b))"
    r"|\b\d{1,2}-ish\b|\b(?:number|no\.?|nr|#) ?\d+\b",
    re.IGNORECASE,
)
"""'From 6', 'number 7': neither is an amount."""


def all_marks(text: str, parts: Parts) -> list[Mark]:
    """Return the marks in words, depths and litres too, but for the time of day."""
    text = without_clock(text)
    marks = [
        mark._replace(end=mark.start + len(mark.text.rstrip(".,;:")), text=mark.text.rstrip(".,;:"))
        if mark.label == "number"
        else mark
        for mark in marks_in(text, parts)
    ]
    marks = [mark for mark in marks if mark.text.lower() not in ("first", "second")]
    names = [mark for mark in marks if mark.label == "stack"]
    more = [
        Mark(label, *found.span(), found[0])
        for label, pattern in (("depth", DEPTH), ("litres", LITRES))
        for found in pattern.finditer(text)
        if not (label == "depth" and (found[0].endswith("cm") or _INSIDE.match(text, found.end())))
        and not any(name.start <= found.start() < name.end for name in names)
    ]
    covered = [mark for mark in marks if not any(one.start <= mark.start < one.end for one in more)]
    return sorted([*covered, *more], key=lambda mark: mark.start)


_INSIDE = re.compile(r"(?<= in) (?:the (?!gauge)|an? |my |our |his |her |all\b|total|cash|[A-Z])")
"""'25 in the second' is no depth."""


def without_marks(text: str, marks: Sequence[Mark]) -> str:
    """Return words without marks of theirs."""
    kept, place = [], 0
    for mark in marks:
        kept.append(text[place : mark.start])
        place = mark.end
    return " ".join(" ".join([*kept, text[place:]]).split())
