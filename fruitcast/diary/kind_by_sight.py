"""What words without a verb mean where they can mean but one thing: an amount, a stack, a buyer."""

from __future__ import annotations

import re
from collections.abc import Sequence

from fruitcast.diary.entries import KINDS
from fruitcast.diary.entries.kind import THIEVES
from fruitcast.diary.entries.picks import PART
from fruitcast.diary.marks import Mark, Parts, marks_in, of_label, stacks_in, without
from fruitcast.diary.pattern import pattern_of
from fruitcast.diary.phrases import DAY, DEPTH, LITRES, WEIGHT, Phrase, nearest
from fruitcast.diary.plain_words import DESCRIBING, ORDINARY, SOMEBODY, is_empty, left_words
from fruitcast.diary.spoken_kind import HINTS, LIGHTEST_LOG, first_word, sights_of, unknown_kind
from fruitcast.errors import InputError

_MEASURE = pattern_of(
    r"\b(?:basket|crate|tray|bag|sack|bucket|box|punnet|handful|armful|bowl|tub)(?:ful|s)*\b"
)


def is_remark(text: str, parts: Parts) -> bool:
    """Return whether a piece of a sentence is a mere exclamation beside a record."""
    return _EXCLAIMED.match(text) is not None and not marks_in(text, parts)


_EXCLAIMED = pattern_of(
    r"(?:what an? |wow|hooray|great|nice|lovely|beautiful|best |not bad|well done|more to come"
    r"|not \w+$"
    r"|(?:all|mostly) (?:big|small|nice|good|clean|fine))"
)


def kind_by_sight(text: str, parts: Parts) -> str:
    """Return what words without a verb mean, where they can mean but one thing."""
    first, _ = first_word(text)
    if hint := next((hint for words, hint in HINTS.items() if first.lower() in words.split()), ""):
        raise InputError(f"'{first}' is not a kind of record. {hint}")
    if WEIGHT.search(PART.sub(" ", text)):  # what is lost of it says no kind
        text = PART.sub(" ", text)
    marks = marks_in(text, parts)
    labels = {mark.label for mark in marks}
    weights = [mark.text for mark in marks if mark.label == "weight"]
    rest = without(text, marks)
    other = _OTHER_DEED.search(rest)
    poured = LITRES.search(text) or ("hose" in sights_of(text, parts) and DEPTH.search(text))
    if poured and "stack" in labels <= {"stack", "day", "number"}:
        return "water"
    sprayed = _WITH_A_CAN.sub(" ", DEPTH.sub(" ", text))
    if (
        sprayed != text
        and "stack" in labels <= {"stack", "day", "number"}
        and is_empty(DAY.sub(" ", without(sprayed, stacks_in(sprayed, parts.stacks))))
    ):
        return "water"
    meant_for = re.search(r"\bfor\b", rest) or re.search(r"\boff\b", text)
    described = DESCRIBING | (_OF_SALES if "outlet" in labels else set())
    plain = described.issuperset(left_words(_MEASURE.sub(" ", rest)))
    slip = first.lower() not in ORDINARY and nearest(first, KINDS, 0.65) is not None
    sure = not (other or slip or sights_of(text, parts) & _ELSEWHERE)
    plain = plain or ("stack" in labels and sure)
    returned = "stack" not in labels and re.search(r"\b(?:back|returned)\b", rest, re.IGNORECASE)
    if {"outlet", "weight", "money"} <= labels and "stack" not in labels and not (other or slip):
        return "sold"
    if weights and (thief := _THIEF.search(rest)) and not _NO_THIEF.search(rest):
        raise InputError(
            f"'{thief[0]}': was it picked, or lost to them? Write 'pick ...' or 'discard ...'."
        )
    if weights and (whose := _TO_SOMEBODY.search(rest)):
        raise InputError(
            f"'{whose[0]}': was it picked, or given away? Write 'pick A 8 oz|250 g' or 'gave away "
            "8 oz|250 g from A'."
        )
    if weights and plain and not (returned or _STANDING.search(rest) or _LEFT_ON.match(text)):
        if (
            "outlet" in labels
            and "stack" not in labels
            and not (meant_for and "money" not in labels)
        ):
            return "sold"
        if {"stack"} <= labels <= {"stack", "weight", "day", "grade", "outlet"}:
            return _pick_by_sight(
                text, marks, weights, meant_for="outlet" in labels and bool(meant_for)
            )
    if not weights and (found := _MEASURE.search(rest)):
        raise InputError(
            f"What does the {found[0]} weigh? Write it like 'pick A 2 lb 6 oz|1.1 kg'."
        )
    if weights and nearest(first, KINDS, 0.65) is None:
        raise InputError(
            f"'{text[:200]}': what was done with it? Write 'pick ...', 'sold ...' or 'weigh ...'."
        )
    if named := stacks_in(re.sub(r"'s?$", "", first), parts.stacks):
        name = named[0].text
        raise InputError(
            f"'{text[:200]}': what was done or seen there? Write it like 'pick {name} 8 oz|250 g', "
            f"'inspect {name} spawn run done' or 'note {name} ...'."
        )
    raise InputError(unknown_kind(first))


_THIEF = pattern_of(rf"\b{THIEVES}\b")
_NO_THIEF = pattern_of(
    r"\b(?:no|not|without|few|despite|before|hardly)\b|\b(?:sun|heat|wind|storm|frost)\b"
)
_TO_SOMEBODY = pattern_of(rf"\bto {SOMEBODY}")
_WITH_A_CAN = pattern_of(
    r"\b(?:with|w|from|out of|by|via)? ?(?:the |a |my )?(?:(?:watering|rose|old) )*"
    r"(?:can|rose|hose(?:pipe)?|sprinklers?|butt|bucket)\b|\btook (?:ages|a while|forever)\b"
    r"|\b(?:water|measured|about \d{1,2}$)\b"
)
_ELSEWHERE = frozenset(("tank", "cold", "sample", "gauge", "gone", "sheet"))
_OTHER_DEED = pattern_of(
    r"(?:^|(?<=\s))(?!sized |mixed |opened |curled |cracked |split |reserved )(?:[a-z]{2,}ed"
    r"|lost|gone|gave|given|ate|eaten|froze\w*|sent|stole\w*|put|spread|used|bought|fed|threw|thrown|need\w*"
    r"|spawn|sawdust|wax|plugs?|dowels?|straw|chips|leaves|sticks|litter|bait|lime|ash|soil|compost"
    r"|moss|wood|mulch|sand|gravel|water|ice|snow|fertili[sz]er|manure|salt|sugar|logs?|weighs?"
    rf"|all of (?:it|them)|(?<!.)(?:the )?{THIEVES}|from|or|than|least|worth|each|per)\b"
)
"""What may have been done with a weight, or was weighed, that is no pick and no sale."""


_OF_SALES = frozenset(("paid", "cash", "check", "cheque", "wholesale", "retail", "order"))

_LEFT_ON = pattern_of(r"left\b[^,;]*\d[^,;]*\bon\b")
_STANDING = pattern_of(r"\b(?:still|on (?:it|them))\b")
"""What is on the logs yet."""


def _pick_by_sight(
    text: str, marks: Sequence[Mark], weights: Sequence[str], *, meant_for: bool
) -> str:
    """Return 'pick' where a weight and a stack can be nothing else, and ask where they can."""
    stacks = of_label(marks, "stack")
    outlets = of_label(marks, "outlet")
    first = stacks[0]
    light = all((Phrase(weight).take_weight() or 0.0) < LIGHTEST_LOG for weight in weights)
    light = (
        light
        or re.search(r"\b(?:flush|crop|caps|mushrooms?|haul|harvest)\b", text, re.I) is not None
    )
    if len({mark.text for mark in stacks}) > len(weights) and not re.search(r"\beach\b", text):
        raise InputError(f"'{text[:200]}': how much of it is of each? Write 'pick A 1 lb|500 g'.")
    if light and (meant_for or not outlets):
        return "pick"
    pick = f"{first.text} {weights[0].strip()}"
    raise InputError(
        f"'{text[:200]}': was it picked, or is it the sample log? Write 'pick {pick}' or "
        f"'weigh {pick}'."
    )
