"""Amounts that are told in several steps, put as one: '900 g in the one and 750 g in the other'."""

from __future__ import annotations

import re

from fruitcast.diary.clause import all_marks
from fruitcast.diary.marks import Parts, any_name, of_label, with_names
from fruitcast.diary.pattern import pattern_of
from fruitcast.diary.phrases import HOURS, WEIGHT, Phrase
from fruitcast.diary.plain_words import plainly
from fruitcast.diary.slips import mended

_BRACKETS = re.compile(r"\([^()\d]*\)")
_TWICE = pattern_of(r"\b(?:twice|both times)\b")
_SAME_MOMENT = pattern_of(r"\b(?:at )?the same (?:minute|moment|instant|time)\b")
_AND_OTHER = pattern_of(
    r" in (?:the )?(?:one|1|first)(?: (?:basket|tray|crate|box|bag))?,? (?=(?:and|then|,)? ?\d)"
    r"| in (?:the )?(?:other|second|next)(?: (?:basket|tray|crate|box|bag))?\b"
)
_DAY_ONE = pattern_of(r"\bday (?:one|two|three|[1-3])\b:?")
_TARE = pattern_of(
    r"\b(?:basket|crate|box|tray|bucket|tub|bag|bowl)s?\b.*"
    r"\b(?:itself|alone|empty|less|minus|take off|without|so|leav\w+|net)\b|\b(?:tare|net)\b"
)
_FROM_TILL = pattern_of(
    r"\b(?:from )?(\d{1,2})(?:[:.](\d\d))?(?: ?[ap]m)? (?:till|until|to) (\d{1,2})"
    r"(?:[:.](\d\d))?(?: ?[ap]m)?\b(?! ?(?:h|min|kg|g|lb|oz|logs?|mm)\b)(?![./]\d)"
)
_UNIT_ALONE = pattern_of(
    r"(?:[,(]\s*|\s(?=all |both ))(?:all |both |in |they're |it's |its )*"
    r"(?P<unit>kgs?|kilos?|lbs?|pounds?|oz|ounces?|g|grams?|min(?:ute)?s?|hours?|dollars?|quid|euros?"
    r"|mm)(?: (?:that|it|they|those) (?:is|are)| all| both| each)?\s*(?:\)|$|(?=[,.]))"
)
_AS_MONEY = pattern_of(r"\bfor (\d+(?:\.\d\d)?)(?=\s*(?:$|[,;.](?!\d)|the (?:lot|both)))")


_RATHER = pattern_of(
    r"[\s,;-]*\b(?:(?:no|wait|er|um|oh),? )*(?:no,? wait|wait,? no|make (?:that|it)|sorry"
    r"|correction|or rather|i mean|scrub that|scratch that),?:? (?:it'?s |it was )?"
    rf"(?={WEIGHT.pattern})"
)


_POUNDS = pattern_of(r"\b(\d+) pounds? (?=for (?:the|them|it|both))")
_BAGS = pattern_of(r"\b(\d+) (half|quarter)[- ](kilo|pound|lb)s?\b")
_EACH = pattern_of(
    r"\b(\d+) (?:[a-z]+ )?(?:bags?|punnets?|boxes|trays?|crates?|baskets?|tubs?|packs?)"
    r"(?: of|,| at)? (\d+(?:\.\d+)?) ?(k?g|kilos?|grams?|lbs?|pounds?|oz|ounces?)"
    r"(?: each| apiece| a \w+)\b"
)
_ONE_DEAD = pattern_of(r"\b(?:an?|one|1) dead '?(?:un|one)\b")
_PIECES = pattern_of(r"\b(\d+) (?:pieces|billets|bolts)\b")
_AND_A_BIT = pattern_of(
    r"(?:\b(?:nigh on|near(?:ly)?|almost|just (?:over|under)|around|about) )?"
    r"\b\d+ (kilo|kg|pound|lb)s?(?:,? (?:and a bit|or so|odd))?,? (\d+\.\d+)(?! ?(?:k|g|l|o))\b"
)


def with_plain_amounts(text: str, parts: Parts) -> str:
    """Return a sentence put plainly: slips mended, a unit beside each number, net weights alone."""
    text = re.sub(r"(?<=[A-Za-z\d])\.\s+(?=[A-Z\d])", "; ", text)
    text = with_names(_DAY_ONE.sub(" ", _AND_OTHER.sub(" ", plainly(text))), parts.stacks)
    text = re.sub(
        rf"\b(\d+ [a-z]+) (?-i:({any_name(parts.stacks)})) logs\b", r"\1 logs of \2", text
    )
    text = re.sub(r"([£$€]\d+(?:\.\d+)?) for (?=\d)", r"\1, ", text)
    text = _with_last_weight(_AND_A_BIT.sub(r"\2 \1", text))
    text = _BAGS.sub(lambda bag: f"{int(bag[1]) / (2 if bag[2] == 'half' else 4):g} {bag[3]}", text)
    text = _EACH.sub(lambda bag: f"{int(bag[1]) * float(bag[2]):g} {bag[3]}", text)
    text = _PIECES.sub(r"\1 logs", text)
    text = _ONE_DEAD.sub("1 dead log", text)
    text = _FROM_TILL.sub(" " if HOURS.search(text) else _lasting, text)
    text = _with_unit(text, parts)
    text, _ = mended(
        _SAME_MOMENT.sub(" ", _BRACKETS.sub(" ", text)), (*parts.stacks, *parts.outlets)
    )
    text = _net(text)
    if len(WEIGHT.findall(text)) == 2 and _TWICE.search(text):
        text = re.sub(r" and (?=\d)", ", ", _TWICE.sub(" ", text))
    labels = {mark.label for mark in all_marks(text, parts)}
    if labels >= {"outlet", "weight"}:
        text = _POUNDS.sub(r"\1 quid ", _AS_MONEY.sub(r"for \1 quid", text))
    return re.sub(r"\b(?:a single|one)(?= (?:in|on|at) [A-Z])", "1 log", text)


def _with_last_weight(text: str) -> str:
    """Return a sentence in which a weight that was put right is the one that counts."""
    found = _RATHER.search(text)
    before = [*WEIGHT.finditer(text, 0, found.start())] if found else []
    if not found or len(before) != 1:
        return text
    return (
        f"{text[: before[0].start()]}{text[before[0].end() : found.start()]} {text[found.end() :]}"
    )


def _net(text: str) -> str:
    """Return a sentence with the net weight alone: 'basket 3.2 kg, itself 0.4, so 2.8 kg'."""
    told = [*WEIGHT.finditer(text)]
    if len(told) < 2 or not _TARE.search(text):
        return text
    numbers = re.findall(
        r"(?<![\w.])\d+(?:\.\d+)?(?![\w.])", text[told[0].end() : told[-1].start()]
    )
    unit = re.sub(r"^[\d\s./,]+", "", told[0][0].strip())
    tares = [m[0] for m in told[1:-1]] or [f"{number} {unit}" for number in numbers]
    whole, *tare, net = (Phrase(w).take_weight() or 0.0 for w in (told[0][0], *tares, told[-1][0]))
    if not tare or abs(whole - sum(tare) - net) > 0.02 * whole:
        return text
    between = text[told[0].end() : told[-1].start()]
    for weight in tares:
        between = re.sub(rf"\b{re.escape(weight.removesuffix(f' {unit}'))}\b", " ", between)
    return f"{text[: told[0].start()]}{between}{text[told[-1].start() :]}"


def _with_unit(text: str, parts: Parts) -> str:
    """Return a sentence in which bare numbers have the unit that is told once: '(all kg)'."""
    marks = all_marks(text, parts)
    units = [*_UNIT_ALONE.finditer(text)]
    bare = of_label(marks, "number")
    weights = [mark.text for mark in marks if mark.label == "weight"]
    if weights and bare and not units:  # '640 grams from G/1, and 820 from G/2'
        unit = re.fullmatch(r"\d+(?:\.\d+)? ?([a-z]+)", weights[0].strip())
        alike = unit and all(weight.strip().endswith(unit[1]) for weight in weights)
        like = r"\d{3}" if unit and unit[1] in ("g", "grams", "gr") else r"\d+\.\d+"
        if unit and alike and all(re.fullmatch(like, mark.text) for mark in bare):
            for mark in reversed(bare):
                text = f"{text[: mark.end]} {unit[1]}{text[mark.end :]}"
        return text
    if len(units) != 1 or not bare:
        return text
    pieces, place = list[str](), 0
    for mark in bare:
        pieces += [text[place : mark.end], f" {units[0]['unit']}"]
        place = mark.end
    told = "".join([*pieces, text[place:]])
    return told.replace(units[0][0], " ", 1)


def _lasting(found: re.Match[str]) -> str:
    """Return how long it is from one time of day to another: '6 till 6.40' is 40 minutes."""
    begin, end = (60 * int(found[n]) + int(found[n + 1] or 0) for n in (1, 3))
    return f" {end - begin} min " if 0 < end - begin <= 240 else " "
