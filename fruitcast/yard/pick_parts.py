"""What words say of a part of a pick: seconds, and what was lost and to what."""

from __future__ import annotations

import re
from typing import NamedTuple

from fruitcast.errors import InputError
from fruitcast.units import parse_weight
from fruitcast.yard.events import DRIED_OUT, OTHER_CAUSE, RAIN_SOAKED, SLUGS
from fruitcast.yard.words import ONE_WEIGHT, WEIGHT, Phrase

_CAUSE = (
    r"(?P<slugs>slugs?(?:[- ](?:eaten|bitten|damaged?))?|snails?)"
    r"|(?P<rain>rain[- ]?(?:soaked|logged|damaged)|rain|waterlogged|soggy)"
    r"|(?P<dry>dried[- ](?:out|up)|dry|sun|wind)"
    r"|(?P<other>lost|spoil(?:ed|t)|wasted|rotten|mouldy|moldy|unsaleable|no good)"
)
_SECONDS = r"(?P<seconds>(?:as )?(?:seconds?(?: grade)?|grade (?:2|two)|culls?))"
_JOINT = (
    r"(?P<joint>(?:[,;]|\b(?:and|plus|with|but|of (?:it|that|which|them)|incl(?:\.|uding)?)\b)\s*)*"
)
_PART = re.compile(
    rf"{_JOINT}(?P<weight>{ONE_WEIGHT})\s+"
    r"(?:of (?:it|that|them|those|which)\s+)?(?:(?:was|were|is|are|went|had been)\s+)?"
    r"(?:(?:lost|gone|eaten|spoil(?:ed|t)|ruined|chewed|damaged)\s+)?(?:(?:to|by|with|for)\s+)?(?:the\s+)?"
    rf"(?:{_SECONDS}|{_CAUSE})(?!\w)",
    re.IGNORECASE,
)
_CAUSES = {"slugs": SLUGS, "rain": RAIN_SOAKED, "dry": DRIED_OUT, "other": OTHER_CAUSE}
_ALONE = re.compile(rf"(?<!\w)(?:{_CAUSE})(?!\w)", re.IGNORECASE)
_ON_TOP = re.compile(r"\b(?:and|plus)\b", re.IGNORECASE)


class PickParts(NamedTuple):
    """What a pick's words say of its parts; None where nothing was said. [kg]"""

    second_kg: float | None = None
    lost_kg: float | None = None
    cause: str = ""
    on_top_kg: float = 0.0


def take_parts(phrase: Phrase) -> PickParts:
    """Take the seconds and losses of a pick off its words; its own weight is left.

    'A 1.2 kg, 200 g seconds' has the seconds in its weight, 'A 1.2 kg and 200 g seconds' on top.

    Raises
    ------
    InputError
        If two causes are given: an entry holds one.
    """
    second: float | None = None
    lost: float | None = None
    cause, on_top = "", 0.0
    while found := _PART.search(phrase.text):
        rest = f"{phrase.text[: found.start()]} {phrase.text[found.end() :]}"
        if not WEIGHT.search(rest):
            break  # it is the whole pick that is of second grade
        phrase.text = rest.strip()
        kg = parse_weight(found["weight"])
        if _ON_TOP.search(found["joint"] or "") and "of" not in (found["joint"] or ""):
            on_top += kg
        if found["seconds"]:
            second = (second or 0.0) + kg
            continue
        why = next(value for name, value in _CAUSES.items() if found[name])
        if cause and why != cause:
            raise InputError(
                f"Lost to {cause} and to {why}: write two picks, each with what it lost."
            )
        lost, cause = (lost or 0.0) + kg, why
    return PickParts(second, lost, cause, on_top)


def take_cause(phrase: Phrase) -> str:
    """Take why all of something was thrown away; empty where the words don't say."""
    found = phrase.take(_ALONE)
    return next((value for name, value in _CAUSES.items() if found[name]), "") if found else ""
