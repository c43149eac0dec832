"""What words say of a part of a pick: seconds, and what was lost and to what."""

from __future__ import annotations

import re
from typing import NamedTuple

from fruitcast.diary.events import DRIED_OUT, OTHER_CAUSE, RAIN_SOAKED, SLUGS
from fruitcast.diary.phrases import ONE_WEIGHT, WEIGHT, Phrase
from fruitcast.errors import InputError
from fruitcast.units import parse_weight

_PERSON = r"[A-Z][a-z'-]+(?<!ly)(?<!ing)(?<!ed)"
PEOPLE = rf"{_PERSON}(?:(?:, | and | & ){_PERSON})*(?: and(?: me| I)?\b)?"
"""Pattern of the names of people."""

_CAUSE = (
    r"(?P<slugs>slugs?(?:[- ](?:eaten|bitten|damaged?))?|snails?)"
    r"|(?P<rain>rain[- ]?(?:soaked|logged|damaged)|rain|waterlogged|soggy)"
    r"|(?P<dry>dried[- ](?:out|up)|dry|sun|wind)"
    r"|(?P<other>lost|spoil(?:ed|t)|wasted|rotten|mouldy|moldy|unsaleable|no good)"
)
_SECONDS = r"(?P<seconds>(?:as |of )?(?:seconds?(?: grade)?|grade (?:2|two)|culls?))"
_JOINT = (
    r"(?P<joint>(?:[,;]|\b(?:and|plus|another|with|but|of (?:it|that|which|them)"
    r"|incl(?:\.|uding)?)\b)\s*)*"
)
_MORE = (
    r"(?:slugs?|snails?|(?P<wet>rain)) (?:had |got |ate |took |ruined |spoil(?:ed|t) )?"
    rf"(?:another (?P<more>{ONE_WEIGHT})|(?P<more2>{ONE_WEIGHT}) more)(?!\w)"
)
PART = re.compile(
    rf"{_JOINT}(?:lost\s+)?(?:{_MORE}|(?P<label>seconds|culls):?\s+(?P<after>{ONE_WEIGHT})|(?P<weight>{ONE_WEIGHT})\s+"
    r"(?:of (?:it|that|them|those|which)\s+)?(?:(?:was|were|is|are|went|had been)\s+)?"
    r"(?:(?:lost|gone|eaten|spoil(?:ed|t)|ruined|chewed|damaged)\s+)?(?:(?:to|by|with|for)\s+)?(?:the\s+)?"
    rf"(?:{_SECONDS}|{_CAUSE})(?!\w))",
    re.IGNORECASE,
)
"""A weight that is a part of a pick."""

FIRSTS = re.compile(
    rf"[,;]?\s*(?:(?P<weight>{ONE_WEIGHT})\s+(?:of\s+)?firsts|firsts:?\s+(?P<after>{ONE_WEIGHT}))(?!\w)",
    re.IGNORECASE,
)
"""What is left of it without seconds and losses."""
_CAUSES = {"slugs": SLUGS, "rain": RAIN_SOAKED, "dry": DRIED_OUT, "other": OTHER_CAUSE}
_ALONE = re.compile(rf"(?<!\w)(?:{_CAUSE})(?!\w)", re.IGNORECASE)
_ON_TOP = re.compile(r"\b(?:and|plus|another)\b", re.IGNORECASE)


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
    cause, on_top, whole = "", 0.0, True
    firsts = FIRSTS.search(phrase.text)
    if firsts and len(WEIGHT.findall(phrase.text)) == 1:
        firsts = None  # all of it is
    if firsts:
        phrase.text = f"{phrase.text[: firsts.start()]} {phrase.text[firsts.end() :]}".strip()
        whole = WEIGHT.search(PART.sub(" ", phrase.text)) is not None
        if not whole:
            phrase.text += f" {firsts['weight'] or firsts['after']}"
    while found := PART.search(phrase.text):
        rest = f"{phrase.text[: found.start()]} {phrase.text[found.end() :]}"
        if not WEIGHT.search(rest):
            break  # it is the whole pick that is of second grade
        if found.start() and not found["joint"] and " of " not in found[0]:
            raise InputError(f"'{found[0].strip()}': of the weight before, or more? Use a comma.")
        phrase.text = rest.strip()
        more = found["more"] or found["more2"]
        kg = parse_weight(more or found["weight"] or found["after"])
        joint = found["joint"] or ""
        if (_ON_TOP.search(joint) and "of" not in joint) or (firsts and not whole) or more:
            on_top += kg
        if found["seconds"] or found["label"]:
            second = (second or 0.0) + kg
            continue
        named = (value for name, value in _CAUSES.items() if found[name])
        why = RAIN_SOAKED if found["wet"] else next(named, SLUGS)
        if cause and why != cause:
            raise InputError(
                f"Lost to {cause} and to {why}: write two picks, each with what it lost."
            )
        lost, cause = (lost or 0.0) + kg, why
    if firsts and whole:
        _refuse_other_sum(phrase.text, firsts, (second or 0.0) + (lost or 0.0))
    return PickParts(second, lost, cause, on_top)


def _refuse_other_sum(words: str, firsts: re.Match[str], others_kg: float) -> None:
    given = WEIGHT.search(words)
    kg = parse_weight(given[1]) if given else 0.0
    parts_kg = parse_weight(firsts["weight"] or firsts["after"]) + others_kg
    if abs(kg - parts_kg) > 0.02 * kg:
        raise InputError(f"'{firsts[0].strip(' ,;')}': the parts don't make {given and given[1]}.")


def take_cause(phrase: Phrase) -> str:
    """Take why all of something was thrown away; empty where the words don't say."""
    found = phrase.take(_ALONE)
    return next((value for name, value in _CAUSES.items() if found[name]), "") if found else ""
