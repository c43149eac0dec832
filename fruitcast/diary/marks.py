"""Marks in a sentence: stacks, outlets, amounts and days, and where they stand."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Sequence
from functools import lru_cache
from typing import NamedTuple

from fruitcast.diary.pattern import pattern_of
from fruitcast.diary.phrases import DAY, DAYS_LONG, HOURS, LOGS, MONEY, WEIGHT, joined
from fruitcast.diary.plain_words import (
    CURRENCY_CODE,
    KEPT,
    ONES,
    UNIT,
    replaced,
    value_of,
    word_set,
)
from fruitcast.yard.model import stack_of

_BEFORE = pattern_of(
    r"(?:(?<!\w)(?:from|off(?: of)?|out of|of|on|in|to|around|"
    r"for)\s+)?(?:(?<!\w)(?:the|all of|all)\s+)?"
    r"(?:(?<!\d\s)(?<!\w)logs?\s+(?:of|from|in)\s+(?:the\s+)?)?(?:(?<!\w)(?:log\s+)?(?:stacks?|piles?|crib)\s+"
    r"(?:(?:called|named)\s+)?)?$"
)
_OVERNIGHT = pattern_of(r"\bover ?night\b")
_GRADE = pattern_of(
    r"\bgrade\s+[^\s,;.]+|\b(?:firsts|seconds|culls?)\b"
    r"(?!\s+(?:flush|pick|harvest|round|crop|of the|ones?))"
    r"|\b(?:first|second)\b(?=\s*(?:$|[,;.]|\d))"
)
_NUMBER = pattern_of(r"[\d¼½¾⅓⅔⅛]+(?:[.,/]\d+)*\S*", 0)
NAMED_BEFORE_ONE = pattern_of(
    r"^(?:late|hard|heavy|light|big|bit|few|lot|frost|hail|storm|slug|snail|deer|bird|mouse|squirrel|beetle|couple|load|good|nice|small|large|little)\b"
)
_A_LOOK_AT = pattern_of(
    r" (?!(?:out|in|is|was|are|has|had|gave|got|did|went|came|to|on|off|and|up"
    r"|pins?)\b)(?:[a-z]+(?<!ed)(?<!s)(?: [a-z]+){0,2}?"
    r"|(?:[a-z]+(?<!ed) ){0,2}\d+[- ](?:minutes?|mins?|hours?|hrs?)(?: [a-z]+){0,3}?)"
    r" (?:of|from|off|on|over|at|in|for|round) (?:the )?(?:stack )?[A-Z]",
    0,
)
"""'A quick check of G' is not of stack A."""

_WHERE = pattern_of(r"[- ](?:side|facing|end|edge|bank|fence|wall|corner|slope|wind|face)\b")
"""'On the north side' is no stack North."""

_BEFORE_SMALL_A = pattern_of(
    r"(?:^|[,&+]|\b(?:from|off|of|on|stacks?|and|picked|soaked|pulled|watered))\s*$"
)
_AFTER_SMALL_A = pattern_of(
    r"\s*(?:$|[,:;)&+]|-\s|and\s|\d|overnight|all\b|before\b|after\b|at\s|today|yesterday|this\s|last\s|on\s|for\s"
    r"|(?:did|gave|had|has|is|was|went|came|got|out|in|yielded|pinn|pins|soaked|pulled|picked)\b)"
)

_PATTERNS = (
    ("day", DAY),
    ("money", MONEY),
    ("weight", WEIGHT),
    ("hours", HOURS),
    ("hours", DAYS_LONG),
    ("hours", _OVERNIGHT),
    ("logs", LOGS),
    ("grade", _GRADE),
)


class Parts(NamedTuple):
    """Names that a sentence may hold."""

    stacks: tuple[str, ...]
    outlets: tuple[str, ...] = ()


class Mark(NamedTuple):
    """Something in a sentence that a record is made of."""

    label: str  # 'stack', 'weight', 'logs', 'hours', 'day', 'outlet', 'money', 'grade', 'number'
    # start, end: where it stands
    start: int
    end: int
    text: str  # as it is written; of a stack its name


def stacks_in(text: str, stacks: Sequence[str]) -> list[Mark]:
    """Return where stacks are named, in the order of the words."""
    pattern, names = _named(tuple(stacks))
    return [
        Mark("stack", *match.span(), names[match[0].lower()])
        for match in pattern.finditer(text)
        if not (len(match[0]) == 1 and not _is_name(text, match))
        and not (match[0].islower() and _WHERE.match(text, match.end()))
    ]


@lru_cache(maxsize=64)
def _named(stacks: tuple[str, ...]) -> tuple[re.Pattern[str], dict[str, str]]:
    """Return the pattern of stacks' names, longer ones first, and each by its small letters."""
    names: dict[str, str] = {}
    for name in sorted(stacks, key=len, reverse=True):
        names.setdefault(name.lower(), name)
    pattern = rf"(?<![\w/°'])(?<!\d\s)(?<!degrees )(?:{any_name(stacks)})(?![\w/°])"
    return re.compile(pattern, re.IGNORECASE), names


def _is_name(text: str, match: re.Match[str]) -> bool:
    """Return whether a letter is a stack, and no article, pronoun or unit."""
    letter, after = match[0], text[match.end() :]
    if re.match(r"'(?!s\b)|-[a-z]{2}| frame\b", after):
        return False
    if letter == "a":
        before = _BEFORE_SMALL_A.search(text[: match.start()])
        return before is not None and _AFTER_SMALL_A.match(after) is not None
    if letter == "A" and match.start() == 0:
        named = NAMED_BEFORE_ONE.match(after.lstrip()) or _A_LOOK_AT.match(after)
        return not named or not after.startswith(" ")
    return letter not in "i"


_HEARD = "bee see sea dee gee aitch jay kay ell em en pee pea queue cue ess tee tea vee zed zee"
_LETTERS = dict(zip(_HEARD.split(), "BCCDGHJKLMNPPQQSTTVZZ", strict=True))
"""How a letter is heard: 'stack bee'."""

_NO_STACKS = word_set("KG NB AM PM OK GAL CAN BAG PACK BACK ON BE NO GO")


def any_name(names: Iterable[str]) -> str:
    """Return the pattern of any of some names, longer ones first; of none it matches nothing."""
    return "|".join(map(re.escape, sorted(names, key=len, reverse=True))) or "(?!)"


def _letters_apart(text: str, stacks: Sequence[str]) -> str:
    """Return words in which 'AEK' is three stacks, and the n of 'E n K' an 'and'."""
    letters = "".join(name for name in stacks if len(name) == 1)
    if not letters:
        return text

    def apart(found: re.Match[str]) -> str:
        word = found[0]
        one = word in stacks or word in _NO_STACKS or re.fullmatch(CURRENCY_CODE, word)
        return word if one or len({*word}) < len(word) or text.isupper() else ", ".join(word)

    text = re.sub(rf"(?<![\w/.-])[{letters}]{{3,6}}(?![\w/.'-])", apart, text)
    names = any_name(stacks)
    for pattern in (
        rf"(?-i:\b(?:{names})) (?-i:n) (?=(?-i:{names})(?!\w))",
        r"(?-i:\b[A-Z]\w*)/\d n (?=(?-i:[A-Z])\w*/\d)",
        rf"\d ?{UNIT} n (?=(?:{names})(?!\w))",
    ):
        text = replaced(pattern, lambda found: f"{found[0][:-2]}and ", text)
    return text


_ORDER = ("(?:first|1st)", "(?:second|2nd)", "(?:third|3rd)")
_AN = re.compile(r"(?:(?<=day )|(?<=[A-Z1-9] ))an(?= [B-HJ-Z](?:/\d)?(?![\w/']))")
"""'F an B' is of two."""


@lru_cache(maxsize=KEPT)
def with_names(text: str, stacks: tuple[str, ...]) -> str:
    """Return words with each lot and stack by its name: 'lot 2 of G' is G/2, 'oak one' is Oak 1."""
    heard = {word: letter for word, letter in _LETTERS.items() if letter in stacks}
    as_heard = "|".join(heard) or "(?!)"
    bases = [stack_of(name) for name in stacks if name.endswith("/1")]
    spoken = "|".join([*(word for word, letter in _LETTERS.items() if letter in bases), *bases])
    text = replaced(  # 'gee slash one'
        rf"\b({spoken or '(?!)'}) (?:slash|stroke) (\d|{'|'.join(ONES[1:10])})\b",
        lambda found: f"{_LETTERS.get(found[1].lower(), found[1].upper())}/{value_of(found[2])}",
        text,
    )
    text = replaced(
        rf"\b({as_heard}) stack\b", lambda found: f"stack {heard[found[1].lower()]}", text
    )
    text = _letters_apart(_AN.sub("and", text), stacks)
    text = replaced(
        rf"(?<=\bstack )(?:{as_heard})\b(?: slash )?",
        lambda found: heard[found[0].lower().split()[0]] + "/" * ("slash" in found[0].lower()),
        text,
    )
    for name in {stack_of(name) for name in stacks if "/" in name}:
        base = rf"(?:stack )?{re.escape(name)}\b"
        two = rf"\blots? (\d) (?:and|&) (\d) (?:of|in|from) {base}"
        text = replaced(two, rf"{name}/\1 and {name}/\2", text)
        lots = rf"(?:lots (?:of|in|on) {base}|{base} lots)"
        text = replaced(rf"\b(?:both|all|the two)(?: of)?(?: the)? {lots}", name, text)
    known = {name.lower(): name for name in stacks}
    for name in stacks:
        if ways := _ways_of(name, known.keys()):
            text = replaced(ways, name.replace("\\", r"\\"), text)
    # '2 P logs' are two of P; 'oak logs' without a number may be wood.
    names = (re.escape(name) for name in sorted(stacks, key=len, reverse=True))
    named = "|".join(f"(?-i:{name})" if name == "A" else name for name in names) or "(?!)"
    logs = rf"(?<![\w.,/])(\d+) (?:of )?(?:the )?(?:stack )?({named}) logs?\b"
    text = replaced(logs, r"\1 logs of \2", text)
    number = rf"\d+|{'|'.join(ONES[1:])}"
    logs = rf"(?<![\w.,/])({number}) of ({named})'s(?! \w*logs?\b)(?=\s*(?:$|[,;.]|[a-z]))"
    text = replaced(logs, r"\1 logs of \2", text)
    return replaced(  # 'Stack F' is F, 'lot G/1' is G/1.
        rf"(?<![\w/])(?:(?:the )?stack|lots?(?= \w+/\d)) ({any_name(stacks)})(?![\w/']|\W*note\b)",
        lambda found: known[found[1].lower()],
        text,
    )


def _ways_of(name: str, known: Collection[str]) -> str:
    """Return the pattern of how a name that ends in a number is said; empty of any other.

    `known` are all names, in small letters.
    """
    found = re.fullmatch(r"(.+)([ /])(\d)", name)
    if not found:
        return ""
    base, number = re.escape(found[1]), rf"(?:{found[3]}|{ONES[int(found[3])]})"
    ways = rf"\b{base} {number}\b(?! (?:lbs?|pounds?|oz|ounces?|kg|kilos?|half|quarter|three))"
    if found[2] == "/":
        lot = rf"(?:lot|part|batch) (?:no\.? ?)?{number}"
        ways = rf"\b{lot} (?:(?:of|from|in) )?(?:stack )?{base}\b|\b{base},? (?:\({lot}\)|{lot}\b)"
        ways += rf"|\b(?:{base} )?\({re.escape(name)}\)"
        if int(found[3]) <= len(_ORDER):
            order = _ORDER[int(found[3]) - 1]
            ways += rf"|\b(?:the )?{order} (?:of )?(?:the )?{base} (?:lot|batch)\b"
            ways += rf"|\b(?:the )?{order} (?:lot|batch|half|part) (?:of|from|in) {base}"
        # Said aloud: 'G two gave 1 lb'; 'G two dead' are two logs.
        ways += rf"|(?<![\w/])(?-i:{base}) {ONES[int(found[3])]}(?=\s*(?:$|[,;:.]|{_GOES_ON}\b))"
    if f"{found[1]}{found[3]}".lower() not in known:  # 'G2', 'oak1', 'G no. 2'
        joint = r"(?:-| ?#| (?:no\.?|number) ?)?"
        ways += rf"|(?<![\w.,/])(?<!\d ){base}{joint}{found[3]}(?![\w/]|[.,]\d| ?{UNIT})"
    return ways


_GOES_ON = (
    "(?:gave|made|bore|brought|came|went|looks?|shows?|no|and|for|from|with|on|off|in|into|out|at"
    "|yesterday|today|this|last|when)"
)
"""What stands behind the number of a lot, and not behind a number of logs or pounds."""


@lru_cache(maxsize=KEPT)
def outlets_in(text: str, outlets: tuple[str, ...]) -> tuple[Mark, ...]:
    """Return where outlets are named, in full or by a word that stands in no other's name."""
    found: list[Mark] = []
    for name, pattern in _buyers(outlets):
        for match in pattern.finditer(text):
            if not any(match.start() < mark.end and mark.start < match.end() for mark in found):
                found.append(Mark("outlet", match.start(), match.end(), name))
    return tuple(found)


@lru_cache(maxsize=64)
def _buyers(outlets: tuple[str, ...]) -> tuple[tuple[str, re.Pattern[str]], ...]:
    """Return each outlet and the pattern of what it is called."""
    found = []
    for name in sorted(outlets, key=len, reverse=True):
        words = {w for w in re.findall(r"[^\W\d_]{3,}", name.lower()) if not w.endswith("day")}
        words |= {"stall", "mkt"} if "market" in words else set()
        own = {w for w in words if sum(_is_of(w, other.lower()) for other in outlets) == 1}
        start = name[:3] if name.lower().split()[0].endswith("day") else "(?!)"
        own_words = sorted(own - {"the"})
        short = (rf"(?:{start}\w*(?:'s)?\s+)?{re.escape(word)}" for word in own_words)
        named = [re.escape(name), *short]
        pattern = re.compile(rf"(?<!\w)(?:{'|'.join(named)})(?!\w)", re.IGNORECASE)
        found.append((name, pattern))
    return tuple(found)


def _is_of(word: str, name: str) -> bool:
    return word in name or (word in ("stall", "mkt") and "market" in name)


@lru_cache(maxsize=KEPT)
def marks_in(text: str, parts: Parts) -> tuple[Mark, ...]:
    """Return all that a record may be made of, in the order of the words."""
    free = bytearray(b"1" * len(text))
    found: list[Mark] = []

    def add(marks: Iterable[Mark]) -> None:
        for mark in marks:
            if b"0" not in free[mark.start : mark.end]:
                free[mark.start : mark.end] = b"0" * (mark.end - mark.start)
                found.append(mark)

    add(outlets_in(text, parts.outlets))
    # 'G/2 1/2 lb' is half a pound of G/2.
    add(stacks_in(text, [name for name in parts.stacks if name[-1].isdigit()]))
    shown = covered(text, found, lambda mark: ";")
    for label, pattern in _PATTERNS:
        add(Mark(label, *match.span(), match[0]) for match in pattern.finditer(shown))
    add(stacks_in(text, parts.stacks))
    add(Mark("number", *match.span(), match[0]) for match in _NUMBER.finditer(text))
    return tuple(sorted(found, key=lambda mark: mark.start))


def of_label(marks: Iterable[Mark], *labels: str) -> list[Mark]:
    """Return the marks that have one of some labels."""
    return [mark for mark in marks if mark.label in labels]


def covered(text: str, marks: Iterable[Mark], sign: Callable[[Mark], str]) -> str:
    """Return a text of the same length with a sign for each letter of some marks."""
    shown = list(text)
    for mark in marks:
        shown[mark.start : mark.end] = sign(mark) * (mark.end - mark.start)
    return "".join(shown)


def without(text: str, marks: Sequence[Mark]) -> str:
    """Return a text without some of its marks, and without what stands before a stack alone."""
    spans = []
    for mark in marks:
        start, end = mark.start, mark.end
        if mark.label == "stack":
            before = _BEFORE.search(text[:start])
            start = before.start() if before else start
            end += 2 if text[end : end + 2].lower() == "'s" else 0
        spans.append((start, end))
    kept, place = [], 0
    for start, end in sorted(spans):
        kept.append(text[place:start])
        place = max(place, end)
    return joined(*kept, text[place:])
