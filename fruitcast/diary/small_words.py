"""Words that decide nothing in a record, and words of records in which a slip is mended."""

from __future__ import annotations

import re
from collections.abc import Iterable


def _set(words: str) -> frozenset[str]:
    return frozenset(words.split())


def one_of(table: str) -> re.Pattern[str]:
    """Return the pattern of whole words that stand in a table, parted by ' | ' or a line's end."""
    wordings = [word.strip() for line in table.splitlines() for word in line.split(" | ")]
    return re.compile(rf"\b(?:{'|'.join(filter(None, wordings))})(?!\w)", re.IGNORECASE)


_FILLERS = re.compile(
    r"(?<![\w/'-])(?:"
    r"i've|ive|we've|weve|i|we|just(?! (?:over|under|shy))|please|also|"
    r"finally|already|really|exactly|only|about|roughly"
    r"|approx(?:imately)?\.?|(?:(?:nearly|almost) )?all of"
    r"|so far|managed to|had to|got to work and|went (?:out )?and|ended up"
    r"|(?:around|nearly|almost|some|a (?:good|nice|lovely|full)|"
    r"(?:just )?(?:over|under|shy of)|barely)"
    r"(?=\s+\d))(?![\w/'-])",
    re.IGNORECASE,
)
"""Words that may stand anywhere, and change nothing."""

_LITTLE = _set(
    """
    the of from off on in at to for with and a an it its itself them they their these those this
    that was were is are be been being has have had did do does there here now then as by up down
    over out into onto me us our my his her he she you i we when which since until till s it's
    that's there's what's they'd plus back
    """
)
_OF_THE_WORK = _set(
    """
    came come coming went gone going go goes got get took taken take gave brought carried ran put
    set placed dropped leave leaving left lay laid made make makes lifted fished hauled hoisted hung
    saw seen see found noticed spotted showing started starting beginning begun counted check read
    reads reading says said shows measured weight weighing weighed weighs yield yielded
    forming pushing poking popping popped appearing emerging visible finished done told
    """
)
_OF_THE_THINGS = _set(
    """
    mushrooms mushroom shiitake shiitakes shrooms caps fruit fruits log logs stack stacks pile
    piles crib batch lot flush flushes crop pick picking picks haul harvest scale scales kitchen
    luggage bathroom morning evening afternoon amount total ones one
    """
)
_OF_NO_WEIGHT = _set(
    """
    all whole both each own again more every nicely well good nice lovely fresh even time so worth
    apiece altogether around about just also only too very quite bit little wee baby new last first
    latest final another further nother planned
    """
)
_EMPTY = _LITTLE | _OF_THE_WORK | _OF_THE_THINGS | _OF_NO_WEIGHT

QUANTITY = _set(
    """
    half most rest other others part some several few couple remaining remainder bottom top upper
    lower third quarter quarters majority twice double
    """
)
"""Words that say that not the whole stack is meant."""

NUMBERS = _set(
    """
    two three four five six seven eight nine ten eleven twelve dozen score hundred thousand stone
    less minus week weeks month months ago nearly almost twice thrice times double
    """
)
"""Amounts that nobody has read: what stands beside them is no mere remark."""

UNKNOWN_NAME = re.compile(r"(?<![\w'])(?:[B-HJ-Z]|[A-Z]+\d\w*|[A-Z]\w*/\d)(?![\w'])")
"""What may be a stack that the yard does not have."""

PART_ALONE = re.compile(
    r"(?:a |one |another )?(?:half|quarter|third|bit|few)(?: (?:more|extra))?", re.I
)
"""A part of an amount, torn from it."""

DESCRIBING = _set(
    """
    dead rotten spent dud worst oldest crumbling punky
    clean dry wet slimy soggy small big large huge tiny late early split dirty muddy perfect
    beautiful great leggy buggy slugs wormy frozen light heavy steady gentle
    """
)
"""Words that may stand alone beside a record."""

_WORD = re.compile(r"[\w'][\w'/]*")


def without_fillers(text: str, names: Iterable[str]) -> str:
    """Return words without fillers; a stack may bear the name of one."""
    known = set(names)
    kept = _FILLERS.sub(lambda found: found[0] if found[0] in known else " ", text)
    return " ".join(kept.split())


def left_words(text: str) -> list[str]:
    """Return the words of a text that are not empty, in small letters; 'A' may be a stack."""
    words = _WORD.findall(text)
    return [word.lower() for word in words if word == "A" or word.lower() not in _EMPTY]


def without_ends(text: str) -> str:
    """Return words without the empty ones at their beginning and end."""
    words = text.split()
    while words and is_empty(words[0]):
        words.pop(0)
    while words and is_empty(words[-1]):
        words.pop()
    return " ".join(words).strip(" ,;")


def is_empty(text: str) -> bool:
    """Return whether a text says nothing that a record needs."""
    return not left_words(text)


_VERBS = {
    "soak": "soaked soaking dunked dunking steeped submerged immersed",
    "pick": "picked picking harvest harvested harvesting gathered collected",
    "pull": "pulled pulling",
    "pins": "pinning pinned pinheads buttons primordia",
    "fruiting": "fruiting flushing flushed mushrooms",
    "nothing": "nothing",
    "water": "watered watering sprinkled sprinkler irrigated misted hosed drenched",
    "rain": "rained rainfall gauge",
    "weigh": "weighed sample",
    "inspect": "inspect inspected checked mould trichoderma colonised colonized",
    "stock": "counted",
    "sold": "selling delivered",
    "discard": "discard discarded composted binned",
    "inoculate": "inoculate inoculated",
    "retire": "retire retired scrapped",
    "merge": "merged",
    "move": "moved shifted",
}
_OTHERS = _set(
    """
    today yesterday tomorrow morning afternoon evening night overnight monday tuesday wednesday
    thursday friday saturday sunday january february march april august september october november
    december pounds ounces grams kilos inches hours minutes litres gallons market fridge cooler
    stack water
    """
)
VOCABULARY = {word: kind for kind, words in _VERBS.items() for word in words.split()} | {
    word: word for word in _OTHERS
}
"""Words of five letters and more that a slip may be one of, and what each of them means."""

ORDINARY = (
    _EMPTY
    | QUANTITY
    | DESCRIBING
    | _set(
        """
        pound ounce gram kilo inch hour minute litre gallon kilogram kilograms liters liter pulls
        soaks waters weighs stock stocks pinhead button harvests tarp cover covered uncovered
        turned mouldy moldy sprinklers hoses tank pond bath north south east west bank trees under
        nearly almost house heads head posts
        """
    )
)
"""Words that are right as they stand."""
