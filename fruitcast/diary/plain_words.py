"""Words put plainly: amounts as people write them, words that decide nothing.

'a pound and a half' is '1 1/2 pound', '2lb6' is '2 lb 6 oz'. Nothing here knows what a record is.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from functools import lru_cache

from fruitcast.diary.pattern import pattern_of
from fruitcast.words import MONTHS, WEEKDAYS

KEPT = 256
"""Answers kept of what is asked of words: a sentence is read in several ways, each word often."""

# Words that decide nothing in a record, and words of records in which a slip is mended.


def word_set(words: str) -> frozenset[str]:
    """Return the words of a text."""
    return frozenset(words.split())


def one_of(table: str) -> re.Pattern[str]:
    """Return the pattern of whole words that stand in a table, parted by ' | ' or a line's end.

    A line that begins with '|' goes on with the last.
    """
    table = re.sub(r"\s*\n\s*\|", "|", table)
    wordings = [word.strip() for line in table.splitlines() for word in line.split(" | ")]
    return pattern_of(rf"\b(?:{'|'.join(filter(None, wordings))})(?!\w)")


def replaced(pattern: str, plain: str | Callable[[re.Match[str]], str], text: str) -> str:
    """Return a text with all that fits a pattern put otherwise, whatever its capitals."""
    return re.sub(pattern, plain, text, flags=re.IGNORECASE)


WEEKDAY = f"(?:{'|'.join(WEEKDAYS).lower()})"
MONTH = f"(?:{'|'.join(MONTHS).lower()})"
"""Patterns of how the names of days and months begin."""

_FILLERS = pattern_of(
    r"(?<![\w/'-])(?:"
    r"(?:i|we|they)'d(?= (?:been|[a-z]{2,}ed)\b)"
    r"|i've|ive|we've|weve|i|we|just(?! (?:over|under|shy))|please|also|"
    r"finally|already|really|exactly|only|roughly"
    r"|(?<!night )(?<!morning )(?<!evening )about"
    r"|about(?! [4-9](?=\s*(?:$|[,;.])))"
    r"|approx(?:imately)?\.?|(?:(?:nearly|almost) )?all of(?! (?:it|them)\b)|for (?:me|us)"
    r"|(?:he|she|they) (?:says?|said)|straight away|right away|at once|immediately|directly"
    r"|got (?:a)?round to|(?:was|were) able to"
    r"|can(?= (?:now )?see\b)|will (?:stay|soak|remain|be left)(?: in)?(?= (?:for )?\d)"
    r"|so far|like(?= (?:\d|a dozen|half|five|six|ten|two|three|four))|helped (?:me|us"
    r"|out)(?: to)?|all told|all in all|on the nose"
    r"|give or take|or so|(?<!\d )(?<!two )(?<!three )(?<!four )(?:lots|loads|plenty|masses"
    r"|heaps|tons) of"
    r"|managed to|right(?= now\b)|(?:i'd|i would|we'd) say(?= |$)|had to|got to work and"
    r"|went (?:out )?and|ended up"
    r"|(?:around|nearly|almost|some|a (?:good|nice|lovely|full)|"
    r"(?:just )?(?:over|under|shy of)|barely)"
    r"(?=\s+\d))(?![\w/'-])"
)
"""Words that may stand anywhere, and change nothing."""

_LITTLE = word_set(
    """
    the of from off on in at to for with and a an it its itself them they their these those this
    that was were is are be been being has have had did do does there here now then as by up down
    over out into onto me us our my his her he she you i we when which since until till s it's
    that's there's what's they'd i'm we're i've we've they're he's she's plus back after afterwards
    """
)
_OF_THE_WORK = word_set(
    """
    came come coming went gone going go goes got get took taken take gave brought carried ran put
    set placed dropped leave leaving left lay laid made make makes lifted fished hauled hoisted hung
    saw seen see found noticed spotted showing started starting beginning begun counted check read
    reads reading says said shows measured weight weighing weighed weighs yield yielded
    forming pushing poking popping popped appearing emerging visible finished done told
    """
)
_OF_THE_THINGS = word_set(
    """
    mushrooms mushroom shiitake shiitakes shrooms caps fruit fruits log logs stack stacks pile
    piles crib batch lot flush flushes crop pick picking picks haul harvest scale scales kitchen
    luggage bathroom morning evening afternoon amount total ones one
    """
)
_OF_NO_WEIGHT = word_set(
    """
    all whole both each own again more every nicely well good nice lovely fresh even time so worth
    apiece altogether around about just also only too very quite bit little wee baby new last first
    latest final another further nother planned something
    """
)
_EMPTY = _LITTLE | _OF_THE_WORK | _OF_THE_THINGS | _OF_NO_WEIGHT

QUANTITY = word_set(
    """
    half most rest other others part some several few couple remaining remainder bottom top upper
    lower third quarter quarters majority twice double
    """
)
"""Words that say that not the whole stack is meant."""

NUMBERS = word_set(
    """
    two three four five six seven eight nine ten eleven twelve dozen score hundred thousand stone
    less than least minimum maximum minus days hour hours minute minutes week weeks month months ago
    nearly almost twice
    thrice times double tenth tenths eighth eighths hundredth hundredths third thirds quarter
    quarters
    """
)
"""Amounts that nobody has read: what stands beside them is no mere remark."""

_KIN = (
    "son|daughter|wife|husband|brother|sister|mother|father|mum|mom|dad|partner|kids?|boys?|girls?"
)
_PERSON = (
    r"(?:(?!I'd\b)[A-Z][a-z'-]+(?<!ly)(?<!ing)(?<!ed)(?<!day)"
    rf"|(?:[Mm]y|[Oo]ur|[Tt]he) (?:{_KIN}|neighbou?rs?|volunteers?)\b)"
)
PEOPLE = rf"{_PERSON}(?:(?:, | and | & | \+ ){_PERSON})*(?: and(?: me| I)?\b)?"
"""Pattern of the names of people."""

_NO_PERSON = (
    "fridge|freezer|cooler|cold|chiller|kitchen|house|home|shed|barn|garage|cellar|porch|van|car"
    "|truck|table|scales?|dr[iy]er|dehydrator|market|shop|store|stall|stand|yard|place|customers?"
)
_OUTSIDER = (
    r"(?:neighbou?rs?|friends?|pals?|guests?|visitors?|postman|postie|vicar|teacher|landlord"
    r"|food (?:bank|pantry)|soup kitchen|school|church|charity|raffle)"
)
SOMEBODY = (
    rf"(?:(?:(?:my|our|his|her|their|the|an?|some|one of (?:my|our)) )?(?:[a-z][a-z'-]+ ){{0,2}}?"
    rf"(?:{_KIN}|sons|daughters|brothers|sisters|aunt(?:ie)?|uncle|cousins?|gran\w*|nan|nephew"
    r"|niece|in-laws?|family|{_OUTSIDER}|mates?|colleagues?|helpers?|volunteers?|people|folks?|lady"
    r"|man|woman|couple|somebody|someone|everyone|them|him|her)"
    rf"|(?:my|our|his|her|their) (?!(?:own )?(?:{_NO_PERSON})\b)[a-z][a-z'-]+"
    r"|(?-i:(?!(?:I|Mon|Tues?|Wed|Thu(?:rs)?|Fri|Sat|Sun|A?M|P?M)\b)[A-Z][a-z'-]+)(?<!day))\b"
)
"""Pattern of those to whom mushrooms may be given."""

WAS_GIVEN = rf"(?:(?:my|our|the|an?|some|one of (?:my|our)) )?{_OUTSIDER} (?:got|had|took)"
"""Pattern of who works on no yard, and so was given what they got."""

UNKNOWN_NAME = pattern_of(r"(?<![\w'°])(?<!\d )(?:[B-HJ-Z]|[A-Z]+\d\w*|[A-Z]\w*/\d)(?![\w'])", 0)
"""What may be a stack that the yard does not have."""

PART_ALONE = pattern_of(r"(?:a |one |another )?(?:half|quarter|third|bit|few)(?: (?:more|extra))?")
"""A part of an amount, torn from it."""

DESCRIBING = word_set(
    """
    dead rotten spent dud worst oldest crumbling punky
    old young trace first second third fourth year season natural naturally
    wild unforced spontaneous handful
    clean dry wet slimy soggy small big large huge tiny late early split dirty muddy perfect
    beautiful great leggy buggy slugs wormy frozen light heavy steady gentle
    """
)
"""Words that may stand alone beside a record."""

_WORD = pattern_of(r"[\w'][\w'/]*", 0)


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
    "note": "beetles beetle snails squirrels squirrel woodpecker",
    "move": "moved shifted",
}
_OTHERS = word_set(
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
    | word_set(
        """
        pound ounce gram kilo inch hour minute litre gallon kilogram kilograms liters liter pulls
        soaks waters stock stocks pinhead button harvests tarp cover covered uncovered
        turned mouldy moldy sprinklers hoses tank pond bath north south east west bank trees under
        nearly almost house heads head posts sprinkle
        """
    )
)
"""Words that are right as they stand."""


# Amounts as people write them put plainly.

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
    | {"nought": 0, "a": 1, "an": 1, "couple": 2, "half a dozen": 6, "dozen": 12, "a dozen": 12}
)
_TIMES = {"hundred": 100, "thousand": 1000}
_PARTS = {"half": "1/2", "quarter": "1/4", "third": "1/3", "3 quarter": "3/4", "2 third": "2/3"}
_PARTS |= {"three quarter": "3/4", "two third": "2/3"}
_SHARES = {"fifth": 5, "eighth": 8, "tenth": 10, "sixteenth": 16, "hundredth": 100}

_TWENTIETH = (
    "first second third fourth fifth sixth seventh eighth ninth tenth eleventh twelfth thirteenth "
    "fourteenth fifteenth sixteenth seventeenth eighteenth nineteenth twentieth"
)
_ORDINALS = {word: number for number, word in enumerate(_TWENTIETH.split(), start=1)}
_ORDINALS |= {
    f"twenty{joint}{word}": 20 + number
    for joint in "- "
    for word, number in [*_ORDINALS.items()][:9]
}
_ORDINALS |= {"thirtieth": 30, "thirty-first": 31, "thirty first": 31}
_MONTH = rf"{MONTH}[a-z]*\b"
_ORDINAL = "|".join(sorted(_ORDINALS, key=len, reverse=True))

UNIT = (
    r"(?:kilo(?:gram(?:me)?)?s?|kgs?|(?-i:g)|gr|gram(?:me)?s?|lbs?|pounds?|oz|ounces?|inch(?:es)?|mm|cm"
    r"|(?:milli|centi)met(?:re|er)s?|hours?|hrs?|h|minutes?|mins?|litres?|liters?|gallons?|gal)\b(?!/)"
)
"""Pattern of a unit."""
_SMALL = rf"(?:(?:{'|'.join(_TENS)})(?:[- ](?:{'|'.join(ONES[1:10])}))?|{'|'.join(ONES)}|nought)"
_MANY = rf"(?:(?:(?:{_SMALL}|(?-i:an?)) )?hundred(?: (?:and )?{_SMALL})?)"
_WHOLE = (
    rf"(?:(?:(?:{_SMALL}|(?-i:an?)) )?thousand(?: (?:and )?(?:{_MANY}|{_SMALL}))?"
    rf"|{_MANY}|(?!(?:one|zero)\b){_SMALL})"
)
"""A number in words. 'One' and 'a' are numbers only beside what they count."""

_PART = r"(?:(?:three|3) quarters?|(?:two|2) thirds|half|quarter|third)"
CURRENCY_CODE = r"(?:SEK|NOK|DKK|EUR|USD|GBP|CHF|AUD|NZD|CAD|ZAR|PLN|CZK|JPY)"
"""Some currencies by ISO 4217."""
CURRENCY = (
    r"(?:quid|bucks|dollars?|euros?|francs?|kr|kron(?:a|or|er|ur)|rand|zloty|yen"
    rf"|{CURRENCY_CODE}|[€£$])"
)
_MONEY = rf"(?:{CURRENCY}(?<![€£$])\b)"
_COUNTED = (
    rf"(?=[- ]+(?:{UNIT}|{_MONEY}|(?:[a-z]+ ){{0,3}}logs?\b|dead\b|of\b|from\b|off\b|to\b"
    rf"|and (?:a )?{_PART}|and 1/|(?:an?|per) {UNIT}|days?\b|weeks?\b|nights?\b))"
)
"""What stands behind a word that is a number: 'one of the logs', but not 'the last one'."""

_POUNDS_AND = r"(\d\s*(?:lbs?|pounds?|#)\.?)"
_OUNCES = r"(\d{1,2}(?:\.\d+)?)"


def value_of(words: str) -> int:
    """Return a number of figures or of words: 'nine hundred and fifty'."""
    words = words.lower().removesuffix(" of")
    if words.isdigit():
        return int(words)
    if words in _VALUES:
        return _VALUES[words]
    total = now = 0
    for word in re.split(r"[- ]", words.replace(" and ", " ")):
        if word not in _TIMES:
            now += _VALUES[word]
        elif word == "thousand":
            total, now = 1000 * (now or 1), 0
        else:
            now = 100 * (now or 1)
    return total + now


def _in_figures(part: str) -> str:
    return _PARTS.get(part.lower().removesuffix("s"), part)


def _part_of(found: re.Match[str]) -> str:
    before = found.string[: found.start()].rstrip()
    # '2 1/2 lb' is whole already, and '2 half pounds' is nothing that may be made one number.
    return found[0] if re.search(r"(?<![A-Za-z]/)\d$", before) else f"{_in_figures(found[1])} "


def _with_same_unit(found: re.Match[str]) -> str:
    # '1 lb from A and 12 from B' is more likely 12 oz.
    alike = 1 / 4 <= int(found[4].split()[0]) / max(1, int(found[1])) <= 4
    return f"{found[0]} {found[2]}" if alike else found[0]


def _pounds_and(pounds: str, more: int) -> str:
    # No pound has so many ounces: it is a sum.
    return f"{pounds} {more} oz" if more < 16 else f"{value_of(pounds.split()[0])}.{more} quid"


def _with_ounces(found: re.Match[str]) -> str:
    return f"{found[1]} {found[2]} oz" if float(found[2]) < 16 else found[0]


_RULES: tuple[tuple[str, str | Callable[[re.Match[str]], str]], ...] = (
    (r"\bevery one of (?=(?:them|those)\b)", "all of "),
    (r"\bno\. ?(?=\d)", "number "),
    (r"\b(mou?ld|rot|slugs|pins) (?:on|in) none\b", r"no \1"),
    (
        r"(?<![\w.,])(\d{1,6}(?:\.\d+)?) ?(?:per|an?|/) ?100 ?g(?:rams?)?\b",
        lambda found: f"{10 * float(found[1]):g} per kg",
    ),
    (r"(?<=\bago) today\b", ""),
    (
        r"\bof which (?:(?:i|we) )?(?:threw|binned|chucked|tossed|lost|discarded)(?: away| out)?"
        rf" (\d[\d./]* ?{UNIT})(?: away| out)?",
        r"of which \1 lost",
    ),
    (r"(?<![\w.,/])(\d+(?:\.\d\d)?) pounds? (?=in the (?:tin|till)|cash\b|taken\b)", r"\1 quid "),
    (r"\b([ap])\.\s?m\b\.?", r"\1m"),
    (r"\bw/o\b", "without"),
    (r"\bsoaking (?=(?:tank|bath|trough|tub|pond|vat|barrel)\b)", ""),
    (r"\b(first|second)s?[- ](?:grade|quality|class)\b", r"\1s"),
    (r"\bw(?:/ ?(?=\w)| (?=(?:the|an?|my|our)\b))", "with "),
    (r"\b(?:an?|one|1) day and (?:a )?half\b", "36 hours"),
    (
        rf"\b({_ORDINAL})(?= (?:of )?{_MONTH})|(?<=\bthe )((?!first|second|third){_ORDINAL})"
        r"(?=\s*(?:$|[,;.:]))|(?<=\bthe )(?:twenty[- ]\w+|thirt\w+(?:[- ]first)?|\w+teenth)"
        r"(?<=st|nd|rd|th)(?= (?!log|stack|flush|pick|time|year)[a-z])",
        lambda found: f"{_ORDINALS[found[0].lower()]}th",
    ),
    (
        r"\bfor (\d+) (?:pounds?|quid|dollars?|bucks|euros?) (\d\d)(?=\s*(?:$|[,;.)]))",
        r"for \1.\2 quid",
    ),
    (
        r"((?<=\d)(?:\s*)(?:kg|kilos?|g|grams?)\b.*?(?<![\w.,/])\d+(?:\.\d\d)?) pounds?"
        r"(?=\s*(?:$|[,;.)]|card|cash|in cash|mostly))",
        r"\1 quid",
    ),
    (r"\b(?:a|one) fortnight(?= (?:ago|back|since)\b)", "two weeks"),
    (r"\bhalf a day\b", "12 hours"),
    (
        rf"\b(?:({_SMALL}|\d+) )?point ((?:{'|'.join(ONES[:10])}|\d+)"
        rf"(?: (?:{'|'.join(ONES[:10])}))?)\b(?: of an?(?= {{UNIT}}))?",
        lambda found: ".".join(
            (str(value_of(found[1] or "0")), "".join(str(value_of(w)) for w in found[2].split()))
        ),
    ),
    (  # 'three pound ten'
        rf"(?<![\w.,])((?:{_SMALL}|\d+) (?:pounds?|lbs?)) ({_SMALL})(?=\s*(?:$|[,;.)]))",
        lambda found: _pounds_and(found[1], value_of(found[2])),
    ),
    (
        rf"\b(\d|(?-i:an?)|{'|'.join(ONES[1:10])}) ({'|'.join(_SHARES)})s? (?:of )?(?:an? )?"
        rf"(?={UNIT})",
        lambda found: f"{value_of(found[1]) / _SHARES[found[2].lower()]:g} ",
    ),
    (  # of rain, where nothing else is said
        rf"\b(\d|{'|'.join(ONES[1:10])}) (tenth|hundredth)s\b(?! (?:of )?(?:an? )?{UNIT})",
        lambda found: f"{value_of(found[1]) / _SHARES[found[2].lower()]:g} inch",
    ),
    (
        rf"\b{_WHOLE}\b(?! (?:quarters?|thirds?|{'|'.join(_SHARES)})s?\b)(?! at a time)",
        lambda found: str(value_of(found[0])),
    ),
    (
        rf"\b(?:(\d|{'|'.join(ONES[1:10])})|a couple of) dozen\b",
        lambda found: str(12 * (value_of(found[1]) if found[1] else 2)),
    ),
    (
        r"\b(?:a )?couple of(?= \w)"
        rf"|\b(?:half a dozen|(?:a )?dozen|a couple(?! of)|one|zero){_COUNTED}",
        lambda found: str(value_of(re.sub(r"^a (?=couple)", "", found[0], flags=re.IGNORECASE))),
    ),
    # What stands in words behind a weight, or after 'at', is a sum: 'sixty two fifty'.
    (rf"(\b{UNIT}[^\d]*|\bat )(\d{{1,3}}) ([1-9]\d)(?=\s*(?:$|[,;)]|\.(?!\d)))", r"\1\2.\3"),
    (r"\ba (?=(?:half|quarter|full) turn\b)", ""),
    # '5 of the 40 in F are dead': 40 is what there was.
    (
        r"\b(\d+) (?:out )?of (?:the |those |all )?\d+"
        r"(?=(?: logs?)?(?: (?:in|of|on) [\w/]+(?: \d)?)?(?: logs?)?"
        r"(?: (?:are|is|were|was|have|has|now|gone))* (?:dead|died)\b)",
        r"\1",
    ),
    (  # 'a rotten log', but not '15 a log'
        r"(?<!\d )(?<!pins )(?<!caps )(?<!\w')\b(?:(?-i:an?)|another|a single|one)"
        r" (?=(?:[a-z]+ ){0,2}log\b)",
        "1 ",
    ),
    (rf"(?<![\d.,/])(\d+) ?(?:kilos?|kgs?) (\d{{3}})(?![\w/]| ?{UNIT})", r"\1.\2 kg"),
    (
        r"\b(?:a |one )?(tenner|fiver)\b",
        lambda found: f"{10 if found[1].lower() == 'tenner' else 5} quid",
    ),
    (r"\b(paid(?: me| us)?) (\d+) pounds?\b(?! (?:of|\d))", r"\1 \2 quid"),
    (r"\b(?:settled|agreed) (?:at|on) (?=[£$€])", "for "),  # the whole sum, not a kilogram's
    (r"(?<![\w.,/])(\d+\.\d+) ?ks?(?!\w)", r"\1 kg"),
    (
        r"\b(\d+|a|one) kilo ([1-9])(?=\s*(?:$|[,;]))",
        lambda found: f"{value_of(found[1])}.{found[2]} kg",
    ),
    (
        rf"(?<![\w.,/])(\d{{1,2}}) ?(?:x|times|(?:punnet|bag|boxe|tray|pack)s? of) ?(\d+)"
        rf" ?({UNIT})",
        lambda found: f"{int(found[1]) * int(found[2])} {found[3]}",
    ),
    (r"\bnot an? (?:\w+ )?(?:speck|sign|trace|hint|bit|spot|whiff) of (?!\d)", "no "),
    (r"\b(?:an?|one|1|the) (?:full |whole )?day and (?:an? |one |1 )?night\b", "24 hours"),
    (rf"(?<![\w.,/])(\d+(?:\.\d\d)?) pounds? (?=for \d[\d./]* ?{UNIT})", r"\1 quid "),
    (r"\b(?:a )?loss(?= (?:of|on|from|off|in)\b)", "lost"),
    (
        r"\b((?:paid|gave|handed) (?:me|us)) (\d+(?:\.\d\d)?)(?=\s*(?:$|[,;)]|\.(?!\d)|for\b))",
        r"\1 \2 quid",
    ),
    (
        rf"(?<=\d)( ?{UNIT}.*?(?<![\w.,/])\d+) pounds?(?= (?:taken|in the (?:tin|till)|cash"
        rf"|card)\b)",
        r"\1 quid",
    ),
    # Pounds are money behind a weight, and 'a pound' after them is no weight.
    (rf"({UNIT}\b.*?\bfor )(\d+(?:\.\d\d)?) pounds?\b(?! (?:of|\d))", r"\1\2 quid"),
    (
        rf"(?<=\d)\s*(?:pounds?|{CURRENCY}) (?:an?|per|the) (?=kilo|kg|pounds?|lb|oz|ounce)",
        " quid per ",
    ),
    (
        rf"\b(?:(?-i:an?)\s+(?=[a-z]))?({_PART}|\d/\d)\s+(?:of\s+)?(?:an?\s+|the\s+)?(?={UNIT})",
        _part_of,
    ),
    # 'A' is a stack more often than an article, but for the beginning of a sentence.
    (rf"(?:^A|(?<!\d\s)(?<!per\s)\b(?-i:an?|[Oo]ne|An|a?nother))\s+(?={UNIT})", "1 "),
    (r"\b(\d+)-(\d/\d|hours?|hrs?|h|days?)(?!\w)", r"\1 \2"),
    (
        rf"(?<![\d./,])(?:(\d+)\s*|(?<!\d\s)\b)({UNIT})\s+and\s+(?:a\s+)?({_PART})\b"
        rf"(?!\s+(?:an?\s+)?{UNIT})",
        lambda found: (
            f"{found[1] or 1} {_in_figures(found[3])} {found[2]}"
            if found[1] or not found[2].lower().endswith("s")
            else found[0]  # of 'twoo pounds and a half' the number was not read
        ),
    ),
    (
        rf"\b(\d+)\s*(?:and|&|\+)\s*(?:a\s+)?({_PART}|\d/\d)(?!\w)",
        lambda found: f"{found[1]} {_in_figures(found[2])}",
    ),
    (r"(?<=\d)\s*(?:gms?|grammes?)\b", " g"),
    (r"(?<=\d)\s*kilogrammes?\b", " kg"),
    (r"(?<=\d)\s*ozs\b", " oz"),
    # '950 g, 100 of that seconds', '11 ounces from A and 9 from B': the unit of the first.
    (
        rf"(?<=\d)( ?{UNIT})(.*?)(?<![\w.,/])(\d+)(?= of (?:that|it|which|them|those)\b)",
        r"\1\2\3\1",
    ),
    (
        rf"(?<=\d)( ?{UNIT})([^\d]*(?:firsts?|good)\b[^\d]*)(?<![\w.,/])(\d+)"
        r"(?= (?:seconds|culls)\b)",
        r"\1\2\3\1",
    ),
    (
        rf"(?<![\d./,])(\d+) ?({UNIT}) ((?:to|from|off)\b[^\d,;]*?(?:[/ ]\d)?),? (?:and|&)"
        r" (?:another )?(\d+(?: 1/2| [13]/4)?)(?= (?:to|from|off)\b)",
        _with_same_unit,
    ),
    (r"(\d)\s+in\s+(?=(?:the\s+)?(?:rain\s*)?gauge\b)", r"\1 "),
    (rf"{_POUNDS_AND}(?<!\s){_OUNCES}(?![\w/.:%-])", _with_ounces),
)
"""Each wording and what it is in plain, one after the other."""

_COMPILED = tuple((pattern_of(words), plain) for words, plain in _RULES)
_BARE_OUNCES = pattern_of(
    rf"{_POUNDS_AND}\s+{_OUNCES}(?=\s*(?:$|[,;)]|\.(?:\s|$)|\s-\s|\s(?:from|off|out|on|to|of|today"
    r"|yesterday|this|last|and|but|firsts?|seconds|culls|at \d+ quid|(?:at|for) [$€£])))"
)


_SHORT = {
    **dict.fromkeys(("outta", "outa"), "out of"),
    **dict.fromkeys(("inta", "in2"), "into"),
    **dict.fromkeys(("abt", "bout", "'bout"), "about"),
    **dict.fromkeys(("yday", "ystdy"), "yesterday"),
    **dict.fromkeys(("arvo", "avo"), "afternoon"),
    **dict.fromkeys(("mornin", "mornin'", "morn"), "morning"),
    "nite": "night",
    **dict.fromkeys(("em", "'em", "dem"), "them"),
    **dict.fromkeys(("uns", "'uns"), "ones"),
    **dict.fromkeys(("thru", "thro"), "through"),
    "wk": "week",
    **dict.fromkeys(("shud", "shld", "wud", "wld", "cud", "cld", "gona", "gunna"), "should"),
    **dict.fromkeys(("dnt", "dint", "didn", "nvr", "nevr"), "didn't"),
    **dict.fromkeys(("tmrw", "tmw", "tomo", "tomoz", "2moro", "tmoro"), "tomorrow"),
    **dict.fromkeys(("prolly", "probs", "mayb"), "maybe"),
    "wks": "weeks",
    **dict.fromkeys(("mil", "mils"), "mm"),
    **dict.fromkeys(("lil", "lil'"), "little"),
    "b4": "before",
    "wun": "one",
    "grms": "grams",
    "whilst": "while",
    "comin": "coming",
    "gonna be": "for",
    "wanna": "want to",
    "shoulda": "should have",
    "coulda": "could have",
    "comming": "coming",
    "oclock": "o'clock",
    **dict.fromkeys(("had to chuck", "had to toss", "had to dump"), "threw away"),
    "had to throw": "threw",
    "a pair of": "two of",
}
_SHORTENED = pattern_of(
    rf"(?<![\w'/])(?:{'|'.join(sorted(_SHORT, key=len, reverse=True))})(?![\w'/])"
)
_YESTERDAY = pattern_of(r"\b(?!(?-i:Yesterday))ye?st?[a-z]{0,4}d[a-z]?y\b(?!')")
_THE = pattern_of(r"(?<=\bin)'t(?=\s)|(?<=\bon)'t(?=\s)|(?<=\bto)'t(?=\s)|(?<!\w)t'(?=[a-z])")
_OF = pattern_of(r"(?<!\w)o'(?=\s)", 0)
_DATE = pattern_of(r"(?<![\d.,])([0-3]?\d)\.(0?[1-9]|1[0-2])\.(?!\d)", 0)
_AND = pattern_of(
    r"(?<=\wed )(?:n|an|'n'?)(?= (?:\w+ ){0,1}?\w+ed\b)|(?<!\w)(?:'n'|&amp;)(?!\w)", 0
)


def with_plain_signs(text: str) -> str:
    """Return words with the quotes and dashes of a keyboard, and short forms written out."""
    text = re.sub(r"(?<=\w)\s*!+\s*$", "", text)
    text = _YESTERDAY.sub("yesterday", _AND.sub("and", text.translate(_SIGNS)))
    text = _OF.sub("of", _THE.sub(lambda the: " the" if the[0] == "'t" else "the ", text))
    text = _DATE.sub(lambda date: f"{int(date[1])} {MONTHS[int(date[2]) - 1]}", text)
    return _SHORTENED.sub(lambda found: _SHORT[found[0].lower()], text)


@lru_cache(maxsize=KEPT)
def plainly(text: str) -> str:
    """Return words with amounts in figures: 'half a kilo', 'a pound and a half', '2lb6'."""
    text = text.translate(_SIGNS)
    for pattern, plain in _COMPILED:
        text = pattern.sub(plain, text)
    if not re.search(r"\bsold\b|\bsell|\bfor\s+\d", text, re.IGNORECASE):
        text = _BARE_OUNCES.sub(_with_ounces, text)  # in a sale it may be the price
    return text
