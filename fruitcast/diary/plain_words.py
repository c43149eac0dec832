"""Words put plainly: amounts as people write them, slips mended, words that decide nothing.

'a pound and a half' is '1 1/2 pound', '2lb6' is '2 lb 6 oz', 'pikced' is 'picked'. Nothing here
knows what a record is; whoever reads the words says which words are known.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from functools import cache

# Words that decide nothing in a record, and words of records in which a slip is mended.


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


# Amounts as people write them put plainly, and slips of the pen mended.

_SIGNS = str.maketrans(
    {"\u2018": "'", "\u2019": "'", "\u2032": "'", "\u201c": '"', "\u201d": '"', "\u2033": '"'}
    | {"\u2013": "-", "\u2014": "-", "\u00a0": " "}
)

ONES = (
    *("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"),
    *("eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen"),
    *("eighteen", "nineteen"),
)
_TENS = ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
_VALUES = (
    {word: number for number, word in enumerate(ONES)}
    | {word: 10 * number for number, word in enumerate(_TENS, start=2)}
    | {"half a dozen": 6, "a dozen": 12, "dozen": 12, "a couple of": 2, "a couple": 2}
)
_PARTS = {"half": "1/2", "quarter": "1/4", "third": "1/3", "three quarters": "3/4"}

_UNIT = (
    r"(?:kilo(?:gram)?s?|kgs?|g|gr|grams?|lbs?|pounds?|oz|ounces?|inch(?:es)?|mm|cm|hours?|hrs?|h"
    r"|minutes?|mins?|litres?|liters?|gallons?|gal)\b"
)
_SMALL_NUMBER = rf"(?:(?:{'|'.join(_TENS)})(?:[- ](?:{'|'.join(ONES[1:10])}))?|{'|'.join(ONES)})"
_PART = r"(?:three quarters|3 quarters|half|quarter|third)"
_LOGS = r"(?:[a-z]+ ){0,3}logs?\b"
_MONEY = r"(?:quid|bucks|dollars?|euros?)\b"
_COUNTED = (
    rf"(?=[- ]+(?:{_UNIT}|{_MONEY}|{_LOGS}|dead\b|of\b|from\b|off\b|to\b|and (?:a )?{_PART}|and 1/|"
    rf"(?:an?|per) {_UNIT}|days?\b|weeks?\b|nights?\b))"
)
"""What stands behind a word that is a number: 'one of the logs', but not 'the last one'."""

_NUMBER_WORD = re.compile(
    rf"\b(?:half a dozen|(?:a )?dozen|a couple(?: of)?|{_SMALL_NUMBER}){_COUNTED}", re.IGNORECASE
)
_TENTHS = re.compile(
    rf"\b(\d|{'|'.join(ONES[1:10])}) tenths? (?:of )?(?:an? )?(?=inch)", re.IGNORECASE
)
_DAY_AND_A_HALF = re.compile(r"\b(?:an?|one|1) day and (?:a )?half\b", re.IGNORECASE)
_POINT = re.compile(
    rf"\b(?:({_SMALL_NUMBER}|\d+) )?point ({'|'.join(ONES[:10])}|\d+)\b(?: of an?(?= {_UNIT}))?",
    re.IGNORECASE,
)
_POUNDS_AND_WORD = re.compile(
    rf"(?<![\w.,])((?:{_SMALL_NUMBER}|\d+) (?:pounds?|lbs?)) ({_SMALL_NUMBER})(?=\s*(?:$|[,;.)]))",
    re.IGNORECASE,
)
_PRICE = re.compile(
    rf"(?<=\d)\s*(?:pounds?|{_MONEY}) (?:an?|per|the) (?=kilo|kg|pounds?|lb|oz|ounce)",
    re.IGNORECASE,
)
"""Pounds for a kilo are money, and 'a pound' after them is no weight."""
_SAME_UNIT = re.compile(
    rf"(?<![\d./,])(\d+) ?({_UNIT}) ((?:to|from|off)\b[^\d,;]*?(?:/\d)?),? (?:and|&) (\d+)"
    r"(?= (?:to|from|off)\b)",
    re.IGNORECASE,
)
"""'11 ounces from A and 9 from B': the second number has the unit of the first."""
_ONE = re.compile(
    rf"(?:^A|(?<!\d\s)(?<!per\s)\b(?-i:an?|[Oo]ne|An|a?nother))\s+(?={_UNIT})", re.IGNORECASE
)
"""'A' is a stack more often than an article, but for the beginning of a sentence."""

_AND_A_PART = re.compile(rf"\b(\d+)\s*(?:and|&|\+)\s*(?:a\s+)?({_PART}|\d/\d)(?!\w)", re.IGNORECASE)
_UNIT_AND_A_PART = re.compile(
    rf"(?<![\d./,])(?:(\d+)\s*|(?<!\d\s)\b)({_UNIT})\s+and\s+(?:a\s+)?({_PART})\b(?!\s+(?:an?\s+)?{_UNIT})",
    re.IGNORECASE,
)
_PART_OF = re.compile(
    rf"\b(?:(?-i:an?)\s+(?=[a-z]))?({_PART}|\d/\d)\s+(?:of\s+)?(?:an?\s+|the\s+)?(?={_UNIT})",
    re.IGNORECASE,
)
_HYPHEN = re.compile(r"\b(\d+)-(\d/\d)(?!\w)")
_POUNDS_AND = r"(\d\s*(?:lbs?|pounds?|#)\.?)"
_OUNCES = r"(\d{1,2}(?:\.\d+)?)"
_GLUED_OUNCES = re.compile(rf"{_POUNDS_AND}(?<!\s){_OUNCES}(?![\w/.:%-])", re.IGNORECASE)
_BARE_OUNCES = re.compile(
    rf"{_POUNDS_AND}\s+{_OUNCES}"
    r"(?=\s*(?:$|[,;)]|\.(?:\s|$)|\s-\s"
    r"|\s(?:from|off|out|on|today|yesterday|this|last|and|but|at \d+ quid)\b))",
    re.IGNORECASE,
)
_GAUGE = re.compile(r"(\d)\s+in\s+(?=(?:the\s+)?(?:rain\s*)?gauge\b)", re.IGNORECASE)
_OTHER_UNITS = (
    (re.compile(r"(?<=\d)\s*(?:gms?|grammes?)\b", re.IGNORECASE), " g"),
    (re.compile(r"(?<=\d)\s*kilogrammes?\b", re.IGNORECASE), " kg"),
    (re.compile(r"(?<=\d)\s*ozs\b", re.IGNORECASE), " oz"),
)


def with_plain_signs(text: str) -> str:
    """Return words with the quotes and dashes of a keyboard."""
    return text.translate(_SIGNS)


def plainly(text: str) -> str:
    """Return words with amounts in figures: 'half a kilo', 'a pound and a half', '2lb6'."""
    text = with_plain_signs(text)
    text = _DAY_AND_A_HALF.sub("36 hours", text)
    text = _POINT.sub(lambda found: f"{_value(found[1] or '0')}.{_value(found[2])}", text)
    text = _POUNDS_AND_WORD.sub(lambda found: f"{found[1]} {_value(found[2])} oz", text)
    text = _TENTHS.sub(lambda found: f"0.{_value(found[1])} ", text)
    text = _NUMBER_WORD.sub(lambda found: str(_value(found[0])), text)
    text = _PRICE.sub(" quid per ", text)
    text = _PART_OF.sub(_part_of, text)
    text = _ONE.sub("1 ", text)
    text = _HYPHEN.sub(r"\1 \2", text)
    text = _UNIT_AND_A_PART.sub(lambda f: f"{f[1] or 1} {_in_figures(f[3])} {f[2]}", text)
    text = _AND_A_PART.sub(lambda f: f"{f[1]} {_in_figures(f[2])}", text)
    for pattern, unit in _OTHER_UNITS:
        text = pattern.sub(unit, text)
    text = _SAME_UNIT.sub(_with_same_unit, text)
    text = _GAUGE.sub(r"\1 ", text)
    text = _GLUED_OUNCES.sub(_with_ounces, text)
    if not re.search(r"\bsold\b|\bsell|\bfor\s+\d", text, re.IGNORECASE):
        text = _BARE_OUNCES.sub(_with_ounces, text)  # in a sale it may be the price
    return text


def _value(words: str) -> int:
    words = words.lower().removesuffix(" of")
    if words.isdigit():
        return int(words)
    if words in _VALUES:
        return _VALUES[words]
    return sum(_VALUES[word] for word in re.split(r"[- ]", words))


def _in_figures(part: str) -> str:
    part = part.lower()
    return _PARTS.get(part.replace("3 quarters", "three quarters"), part)


def _part_of(found: re.Match[str]) -> str:
    before = found.string[: found.start()].rstrip()
    # '2 1/2 lb' is whole already, and '2 half pounds' is nothing that may be made one number.
    return found[0] if before[-1:].isdigit() else f"{_in_figures(found[1])} "


def _with_same_unit(found: re.Match[str]) -> str:
    # '1 lb from A and 12 from B' is more likely 12 oz.
    alike = 1 / 4 <= int(found[4]) / max(1, int(found[1])) <= 4
    return f"{found[0]} {found[2]}" if alike else found[0]


def _with_ounces(found: re.Match[str]) -> str:
    return f"{found[1]} {found[2]} oz" if float(found[2]) < 16 else found[0]


_REAL_WORDS = frozenset(
    """
    packed pickled pricked pecked parked poked penned pined planned planted grains drained trained
    strained stocked stacked staked shocked socked soaped coked flashing fluting grating tuned
    halved loved housed missed ponds hoses houses horses sundry tossed boxed watched waited wetted
    weighted pounced bounced scraped started checked chucked moved turned
    """.split()  # noqa: SIM905
)
"""Words that are no slip, however near they come to one of ours."""

_SURE = {
    **dict.fromkeys(("wensday", "wendsday", "wednsday", "weds"), "wednesday"),
    **dict.fromkeys(("saterday", "satday"), "saturday"),
    **dict.fromkeys(("thersday", "thurday"), "thursday"),
    **dict.fromkeys(("teusday", "tusday"), "tuesday"),
    "febuary": "february",
    "yday": "yesterday",
    "nite": "night",
    "tonite": "tonight",
    "2day": "today",
}
"""Slips too far from the word for the rule below, and meaning nothing else."""

SHORTEST_SLIP = 5
"""Shorter words are never mended: too many others are near them."""


def mended(text: str, known: Iterable[str], apart: Mapping[str, str]) -> tuple[str, dict[str, str]]:
    """Return words with slips mended, and which word was read as which.

    Parameters
    ----------
    text : str
        As typed.
    known : iterable of str
        Words that are right as they stand, in small letters.
    apart : mapping of str to str
        The words that a slip may be one of, in small letters, and what each of them means: a word
        near to two meanings is left as it is.
    """
    right, told = frozenset(known), {}

    def mend(found: re.Match[str]) -> str:
        word = found[0].lower()
        if word in right or word in apart or word in _REAL_WORDS:
            return found[0]
        near = _SURE.get(word) or _near(word, apart)
        if near is None:
            return found[0]
        told[found[0]] = near
        return near

    return re.sub(r"(?<![\w/'-])[A-Za-z]{4,}(?![\w/'-])", mend, text), told


def _near(word: str, apart: Mapping[str, str]) -> str | None:
    if len(word) < SHORTEST_SLIP:
        return None
    near = [other for other in apart if is_slip(word, other)]
    return near[0] if len({apart[other] for other in near}) == 1 else None


@cache
def is_slip(word: str, other: str) -> bool:
    """Return whether a word may be a slip of the pen for another.

    Two letters changed places; in words of six letters one is missing or too many, in words of
    eight one is another. The first letter is right: most words that differ in it are real ones.
    """
    if abs(len(word) - len(other)) > 1 or word == other:
        return False
    if len(word) == len(other):
        unlike = [i for i, (a, b) in enumerate(zip(word, other, strict=True)) if a != b]
        if len(unlike) == 2 and unlike[1] == unlike[0] + 1:
            first, second = unlike
            return word[first] == other[second] and word[second] == other[first]
        return len(unlike) == 1 and unlike[0] > 0 and len(word) >= 8
    short, long = sorted((word, other), key=len)
    if len(long) < 6 or short[0] != long[0]:
        return False
    return any(short == long[:i] + long[i + 1 :] for i in range(1, len(long)))
