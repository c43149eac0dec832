"""A sentence of a grower taken apart into records: the kind of each, and its words.

'pick A 2 lb' says first what it is, 'yesterday: put A and B in the tank' says it last, and 'A out,
B in, 10 logs' is two records. First comes what was not done at all (`not_done`), then the kinds
that the words speak of, piece by piece, then which amount is whose. What can't be told is asked
about: no record is made of a guess.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from typing import NamedTuple

from fruitcast.errors import InputError
from fruitcast.yard.entries import KINDS, kind_named
from fruitcast.yard.entries.kind import STACK
from fruitcast.yard.not_done import refuse_nothing_of, refuse_what_is_not_done
from fruitcast.yard.plain_words import mended, plainly, with_plain_signs
from fruitcast.yard.shares import (
    Mark,
    Parts,
    marks_in,
    one_crate,
    outlets_in,
    shared_out,
    stacks_in,
    without,
)
from fruitcast.yard.small_words import (
    DESCRIBING,
    ORDINARY,
    VOCABULARY,
    is_empty,
    left_words,
    without_fillers,
)
from fruitcast.yard.words import DAY, DAY_EXAMPLES, HOURS, LOGS, WEIGHT, Phrase, nearest

OTHER_WORDS = {word: kind for kind in KINDS for word in kind_named(kind).other_words}
"""Other first words for the kinds of record."""

LONGEST_KIND = 40
"""Longest first word that is looked at, and repeated in a message. [characters]"""

_SPEAKER = re.compile(
    r"^(?:(?:please|i|we|have|just|also|then|(?:finished|done)(?!\s+(?:the\s+)?soak)|ok|so|and)\s+)+(?=\w)",
    re.IGNORECASE,
)
_PIECE = re.compile(
    r"\s*;\s*|\s*,(?!\d)\s*|\s+-+\s+|(?<=\w\w)\.\s+(?=[A-Za-z])|\s*:(?!\d)\s*"
    r"|\s+(?:and|then|but|because|so|although|though|while|plus|&|\+)\s+",
    re.IGNORECASE,
)
"""What parts a sentence into pieces, each of which may be a record or a part of one."""

_CIRCUMSTANCE = re.compile(
    r"\b(?:after|before|without|since|from|following|with|despite|thanks to)\s+"
    r"(?:(?:a|any|all|the|its|that|this|their|last|no|some|more)\s+|last night's\s+)*"
    r"(?:(?:first|second|last|heavy|good|long)\s+)?(?:soak(?:ing)?|rains?|storm|watering|frost)\b"
    r"(?!\s+(?:in|on)\s+(?:the\s+)?(?:tank|scale|gauge))"
    r"|\bafter (?:the )?market\b|\bafter (?:(?:a|its|their|"
    r"the) )?(?:full )?(?:\d+ ?(?:h|hrs?|hours?|"
    r"days?)|day|night)(?: soak)?\b",
    re.IGNORECASE,
)
"""'After the rain' and the like: no record of its own, kept as the grower's words."""

_CLOCK = re.compile(
    r"\b(?:(?:at|about|around|by)\s+)*(?:\d{1,2}(?::\d\d)?\s*(?:am|pm|a\.m\.|p\.m\.|o'clock)"
    r"|\d{1,2}:\d\d|(?:noon|midday|lunchtime|dawn|dusk|sunrise|sunset)|first thing)(?!\w)",
    re.IGNORECASE,
)
_VAGUE_DAY = re.compile(
    r"\b(?:last|this|past|all|earlier in the|earlier this) (?:week|month|"
    r"weekend|season|spring|summer|autumn|fall|"
    r"winter|year)\b|\bthe other (?:day|morning|night|evening)\b|"
    r"\b(?:a )?(?:few|several|couple|some) (?:of )?"
    r"(?:days|weeks|nights) (?:ago|back)\b|\b(?:over|at|on) the weekend\b|"
    r"\brecently\b|\blately\b|\b(?:a )?while "
    r"(?:ago|back)\b|\bages ago\b|\bsome time ago\b|\b(?:every|"
    r"each) (?:day|week|morning)\b|\bdaily\b|"
    r"\bone day\b|\bweekly\b|\bone of these days\b",
    re.IGNORECASE,
)
_TO_COME = frozenset(("fix", "hold", "release", "promised", "lots"))
_JUST_A_NOTE = re.compile(
    r"[\s,(-]*\bjust (?:a|for the) (?:note|notes|record)\)?\.?$", re.IGNORECASE
)
_ARTICLE = re.compile(
    r"^A\s+(?=(?:late|hard|heavy|light|big|bit|few|lot|frost|hail|storm|slug|snail|deer|bird|mouse|"
    r"squirrel|beetle)\b)"
)
"""'A deer' begins with no stack."""

_BRACKETS = re.compile(r"\(([^()]*)\)")
_NOTE = re.compile(r"\s(?:-\s*)?note\b\s*:?\s*(.*)$", re.IGNORECASE)
_BUYS = re.compile(
    r"\s+(?:has |have )?(?:took|taken|bought|had|got|wanted|purchased|collected)\b", re.IGNORECASE
)
_FROM = re.compile(
    r"\b(?:from|off(?: of)?|out of)\s+(?:the\s+)?(?:logs?\s+of\s+)?(?:stack\s+)?$", re.IGNORECASE
)
_THEN = re.compile(r"\s*(?::|,|-\s|\s-)")
_MEASURE = re.compile(
    r"\b(?:basket|crate|tray|bag|sack|bucket|box|punnet|handful|armful|bowl|tub)(?:ful|s)*\b",
    re.IGNORECASE,
)
LIGHTEST_LOG = 3.0
"""A weight beside a stack may be that of a sample log from here on; no log is lighter. [kg]"""

_HINTS = (
    (
        ("inoculate", "inoculated", "plugged", "new"),
        "A new stack is a row of stacks.csv; 'fruitcast inoculation --help' shows the ways.",
    ),
    (
        ("ate", "eaten", "gave", "gift", "gifted", "dried"),
        "What is no longer for sale: write 'discard 500 g (given away)'.",
    ),
    (
        ("emptied", "drained", "lifted"),
        "Write 'pull A', or 'pull everything' for all that is in the tank.",
    ),
    (
        ("took", "take", "taken", "got", "get", "brought", "cut", "pull", "pulled"),
        "Out of the tank: write 'pull A'. Off the logs: write 'pick A 2 lb'.",
    ),
    (("lost",), "Write 'inspect A 3 dead' or 'retire A 3 logs'."),
)
"""First words that are no record, and what to write instead."""

_ALL = re.compile(
    r"^(?:all(?: the)?(?: (?:stacks|logs))?|everything)(?=\s*(?:$|,|out\b|"
    r"today|yesterday|this|last|on|at)\b)",
    re.IGNORECASE,
)
_SEEN = frozenset(("pins", "fruiting", "nothing", "inspect", "note"))
"""Kinds of which a mere mention beside another record is the grower's remark."""

_SIGHTS = {
    "weight": WEIGHT,
    "logs": re.compile(r"\b\d+\s*(?:\w+\s+){0,3}logs?\b", re.IGNORECASE),
    "tank": re.compile(
        r"\b(?:tank|bath|trough|tub|barrel|vat)\b|"
        r"\b(?:in|into|in to|out|out of|from) (?:the |a )?(?:water|pond|creek|river|stream|soak)\b",
        re.IGNORECASE,
    ),
    "cold": re.compile(
        r"\b(?:fridge|cooler|cold (?:store|room)|chiller|walk-?in|refrigerator|"
        r"on hand|in stock|stock)\b",
        re.IGNORECASE,
    ),
    "sample": re.compile(r"\bsample\b", re.IGNORECASE),
    "gauge": re.compile(r"\b(?:rain\s*)?gauge\b", re.IGNORECASE),
    "crop": re.compile(
        r"\b(?:mushrooms?|shiitakes?|shrooms|crop|harvest|picking|pick)\b", re.IGNORECASE
    ),
    "pins": re.compile(r"\b(?:pins?|pinning|pinheads?|buttons)\b", re.IGNORECASE),
    "off": re.compile(r"\boff\b", re.IGNORECASE),
    "unpinned": re.compile(
        r"\b(?:no|not|without|zero)\b[^,;]*\b(?:pins?|pinning|pinheads?|buttons)\b", re.IGNORECASE
    ),
    "money": re.compile(r"[$€£]"),
    "hose": re.compile(r"\bhose\b|\bsprinklers?\b", re.IGNORECASE),
    "lots-of": re.compile(r"^lots of\b", re.IGNORECASE),
    "place": re.compile(
        r"\b(?:to|into|under|behind|beside|inside|outside|indoors|outdoors|"
        r"near|against|next to|in|by|"
        r"over|down|up|between|along)\b",
        re.IGNORECASE,
    ),
}
"""What may stand beside an ambiguous verb and decides what it means."""


class Said(NamedTuple):
    """One record as it was said.

    Attributes
    ----------
    kind : str
        One of `entries.KINDS`.
    words : str
        What it says, the stack first: 'A 2 lb yesterday'.
    remark : str
        What the grower said beside it, in the grower's own words.
    together : tuple of str
        The stacks of which it is one crate; then none stands in the words.
    """

    kind: str
    words: str
    remark: str = ""
    together: tuple[str, ...] = ()


class Head(NamedTuple):
    """Words that say what kind of record it is, and where they stand."""

    kind: str
    start: int
    end: int
    kept: str
    stays: bool = False


@dataclass
class Sentence:
    """The records of a sentence, and which words were read as others."""

    records: list[Said]
    mended: dict[str, str] = field(default_factory=dict)


def records_in(
    text: str,
    stacks: Sequence[str],
    today: date,
    in_tank: Sequence[str] = (),
    outlets: Sequence[str] = (),
) -> Sentence:
    """Return kind and words of each record in a sentence, in its order.

    Parameters
    ----------
    text : str
        As typed: 'pick A 2 lb and B 1 lb yesterday', 'pins on G'.
    stacks : sequence of str
        Names of stacks and lots, in the yard's order.
    today : date
        The day.
    in_tank : sequence of str
        Those that 'pull everything' means.
    outlets : sequence of str
        Names of the outlets.

    Raises
    ------
    InputError
        If it does not say what kind of record it is, says it twice, gives one amount for
        several stacks, or tells of what was not done.
    """
    asked = with_plain_signs(text)
    text = text_of(asked)
    dated = _day_before_kind(text)
    first, rest = _first_word(text[dated:])
    if _known(first) == "note":
        day = Phrase(text[:dated]).take_day(today) if dated else None
        return Sentence([Said("note", f"{day}: {rest}" if day else rest)])
    if just := _JUST_A_NOTE.search(text):
        return Sentence(list(_notes(text[: just.start()], stacks, today)))
    said, note = _without_brackets(text)
    refuse_what_is_not_done(_without_brackets(asked)[0])
    if (vague := _VAGUE_DAY.search(said)) and _known(first) not in _TO_COME:
        raise InputError(f"'{vague[0]}': which day? Write {DAY_EXAMPLES}.")
    plain = plainly(without_fillers(said, stacks))
    plain, told = mended(plain, {*ORDINARY, *_letters((*stacks, *outlets))}, VOCABULARY)
    plain = without_fillers(plain, stacks)  # 'some 2 lb' was 'some two pounds'
    found = list(_records(plain, text, Parts(stacks, outlets), today, in_tank))
    return Sentence([s._replace(remark=_joined(s.remark, note)) for s in found], told)


def _records(
    text: str, given: str, parts: Parts, today: date, in_tank: Sequence[str]
) -> Iterator[Said]:
    clauses = _clauses(text, parts)
    if [clause.kind for clause in clauses] == ["note"]:
        yield from _notes(given, parts.stacks, today)
        return
    refuse_nothing_of([clause.kind for clause in clauses], text)
    for kind, words, remark, _ in _dated(clauses, text):
        everything = _ALL.match(words) if kind == "pull" and in_tank else None
        if everything:
            rest = words[everything.end() :]
            yield from (Said(kind, f"{name}{rest}", remark) for name in in_tank)
            continue
        nameless = "stack" in kind_named(kind).needs and not stacks_in(words, parts.stacks)
        if len(clauses) > 1 and nameless:
            raise _two_kinds(text, [clause.kind for clause in clauses])
        crate = one_crate(words, parts) if kind == "pick" else None
        if crate:
            yield Said(kind, crate.words, remark, crate.stacks)
            continue
        for record in shared_out(kind, words, parts):
            yield Said(kind, record, remark)


def _clauses(text: str, parts: Parts) -> list[Said]:
    """Return each part of a sentence that is about one kind."""
    shown = _masked(text, parts)
    pieces = _pieces(shown)
    heads = _heads(text, shown, pieces, parts)
    kinds = [_kind_of_piece(text, piece, own) for piece, own in zip(pieces, heads, strict=True)]
    if not any(kinds):
        kinds[0] = _kind_by_sight(text, parts)
    with_marks = [bool(marks_in(text[slice(*piece)], parts)) for piece in pieces]
    found = []
    for run in _runs(kinds, with_marks):
        kind = _kind_of_run([kinds[number] for number in run], text)
        told = {kind, "inspect"} if kind in _FOUND else {kind}
        own = [head for number in run for head in heads[number] if head.kind in told]
        last = run[-1]
        if kind not in _TOLD_WHOLE:
            last = max((n for n in run if kinds[n] or with_marks[n]), default=last)
        main = _without_heads(text, pieces[run[0]][0], pieces[last][1], own)
        remark = text[pieces[last][1] : pieces[run[-1]][1]].strip(" ,;.:-")
        remark = re.sub(r"^(?:and|then|so|but)\s+", "", remark)
        if kind not in _RAW:
            main, kept = _without_circumstances(main)
            remark = _joined(kept, "" if is_empty(remark) else remark)
        found.append(Said(kind, main, remark))
    return found


def _runs(kinds: Sequence[str], with_marks: Sequence[bool]) -> list[list[int]]:
    """Return which pieces belong together: another kind begins anew, but for what is remarked."""
    runs: list[list[int]] = [[]]
    now = ""
    for number, (kind, marked) in enumerate(zip(kinds, with_marks, strict=True)):
        if kind and now and kind != now and (marked or kind not in _SEEN):
            runs.append([])
            now = ""
        now = now or kind
        runs[-1].append(number)
    return runs


def _kind_of_run(kinds: Sequence[str], text: str) -> str:
    """Return the kind of pieces that belong together: 'checked A, pins on it' is pins."""
    told = list(dict.fromkeys(kind for kind in kinds if kind))
    signs = any(p.search(text) for p, _ in _patterns("inspect", "signs"))
    if told[0] == "inspect" and len(told) == 2 and told[1] in _FOUND and not signs:
        return told[1]
    return told[0]


_FOUND = frozenset(("pins", "fruiting"))
"""What may be found on looking, and is more than an inspection."""

_RAW = frozenset(("note", "move", "split", "merge", "lots", "fix", "hold", "release", "promised"))
"""Kinds of which the words are read as they stand."""

_TOLD_WHOLE = frozenset((*_RAW - {"move", "merge"}, "inspect"))
"""Kinds that keep what they don't read themselves."""


def _pieces(text: str) -> list[tuple[int, int]]:
    """Return where the pieces of a sentence begin and end; two stacks stay together."""
    ends = [
        match.span()
        for match in _PIECE.finditer(text)
        if not (text[: match.start()].endswith(STACK) and text[match.end() :].startswith(STACK))
    ]
    starts = [0, *(end for _, end in ends)]
    return list(zip(starts, [*(start for start, _ in ends), len(text)], strict=True))


def _masked(text: str, parts: Parts) -> str:
    """Return a sentence of the same length in which names and circumstances say no kind."""
    spans = [mark for mark in marks_in(text, parts) if mark.label in ("stack", "outlet")]
    shown = list(text)
    for mark in spans:
        sign = STACK if mark.label == "stack" else "\u00b7"
        shown[mark.start : mark.end] = sign * (mark.end - mark.start)
    for found in _CIRCUMSTANCE.finditer(text):
        shown[found.start() : found.end()] = "\u00b7" * (found.end() - found.start())
    return "".join(shown)


def _sights(text: str, parts: Parts) -> set[str]:
    """Return what stands in words and decides what an ambiguous verb means."""
    sights = {name for name, pattern in _SIGHTS.items() if pattern.search(text)}
    stacks, outlets = stacks_in(text, parts.stacks), outlets_in(text, parts.outlets)
    if stacks:
        sights.add("stack")
    if outlets:
        sights.add("outlet")
    if any(_BUYS.match(text, mark.end) for mark in outlets):
        sights.add("seller")
    return sights


def _fits(when: str, sights: set[str]) -> bool:
    return all((word.lstrip("-") in sights) != word.startswith("-") for word in when.split())


def _heads(
    text: str, shown: str, pieces: Sequence[tuple[int, int]], parts: Parts
) -> list[list[Head]]:
    """Return for each piece the words in it that say a kind, the surest that are there."""
    all_sights = _sights(text, parts)
    piece_sights = [_sights(text[slice(*piece)], parts) for piece in pieces]
    strong = [_said_in(text, shown, piece, all_sights, "sayings") for piece in pieces]
    start = pieces[0][0] + _day_before_kind(text)
    first, _ = _first_word(text[start:])
    if (kind := _known(first)) and not any(
        _fits(when, all_sights) for when in kind_named(kind).unless
    ):
        whole = Head(kind, start, start + len(first), "")
        strong[0] = [whole, *(head for head in strong[0] if head.kind == kind)]
    if any(strong):
        return [
            own or _said_in(text, shown, piece, sights, "maybe")
            for own, piece, sights in zip(strong, pieces, piece_sights, strict=True)
        ]
    for table in ("maybe", "signs"):
        found = [_said_in(text, shown, piece, all_sights, table) for piece in pieces]
        if any(found):
            return found
    return [[] for _ in pieces]


def _said_in(
    text: str, shown: str, piece: tuple[int, int], sights: set[str], table: str
) -> list[Head]:
    found = []
    for kind in KINDS:
        for pattern, when in _patterns(kind, table):
            if not _fits(when, sights):
                continue
            for match in pattern.finditer(shown, piece[0], piece[1]):
                kept = [text[slice(*match.span(g))] for g in match.groupdict() if match[g]]
                stays = table == "signs" and kind in _TOLD_WHOLE
                found.append(Head(kind, *match.span(), " ".join(kept), stays))
    return [
        head
        for head in found
        if not any(
            other.start <= head.start
            and head.end <= other.end
            and (other.end - other.start) > (head.end - head.start)
            for other in found
        )
    ]


@cache
def _patterns(kind: str, table: str) -> tuple[tuple[re.Pattern[str], str], ...]:
    sayings = (s if isinstance(s, tuple) else (s, "") for s in getattr(kind_named(kind), table))
    return tuple(
        (re.compile(rf"(?<![\w-])(?:{pattern})(?![\w-])", re.IGNORECASE), when)
        for pattern, when in sayings
    )


def _kind_of_piece(text: str, piece: tuple[int, int], heads: Sequence[Head]) -> str:
    """Return the one kind that a piece speaks of."""
    kinds = list(dict.fromkeys(head.kind for head in heads))
    if len(kinds) > 1 and "inspect" in kinds:  # 'found slugs and mould': the note is in it
        kinds = [kind for kind in kinds if kind != "note"]
    if len(kinds) > 1:
        raise _two_kinds(text, kinds)
    return kinds[0] if kinds else ""


def _two_kinds(text: str, kinds: Sequence[str]) -> InputError:
    kinds = list(dict.fromkeys(kinds))
    return InputError(
        f"'{text[:200]}': is it {' or '.join(kinds)}? Write one record for each, like "
        f"'{kinds[0]} ...'."
    )


def _kind_by_sight(text: str, parts: Parts) -> str:
    """Return what words without a verb mean, where they can mean but one thing."""
    first, _ = _first_word(text)
    if hint := next((hint for words, hint in _HINTS if first.lower() in words), ""):
        raise InputError(f"'{first}' is not a kind of record. {hint}")
    marks = marks_in(text, parts)
    labels = {mark.label for mark in marks}
    weights = [mark.text for mark in marks if mark.label == "weight"]
    rest = without(text, marks)
    meant_for = re.search(r"\bfor\b", rest) is not None
    if weights and DESCRIBING.issuperset(left_words(rest)):
        if "outlet" in labels and "stack" not in labels and not meant_for:
            return "sold"
        if {"stack"} <= labels <= {"stack", "weight", "day", "grade", "outlet"}:
            return _pick_by_sight(text, marks, weights, meant_for="outlet" in labels and meant_for)
    if found := _MEASURE.search(rest):
        raise InputError(f"What does the {found[0]} weigh? Write it like 'pick A 2 lb 6 oz'.")
    if weights and nearest(first, KINDS, 0.65) is None:
        raise InputError(
            f"'{text[:200]}': what was done with it? Write 'pick ...', 'sold ...' or 'weigh ...'."
        )
    raise InputError(unknown_kind(first))


def _pick_by_sight(
    text: str, marks: Sequence[Mark], weights: Sequence[str], *, meant_for: bool
) -> str:
    """Return 'pick' where a weight and a stack can be nothing else, and ask where they can."""
    stacks = [mark for mark in marks if mark.label == "stack"]
    outlets = [mark for mark in marks if mark.label == "outlet"]
    first = stacks[0]
    listed = (
        len(weights) > 1
        or meant_for
        or _FROM.search(text[: first.start])
        or _THEN.match(text, first.end)
    )
    light = all((Phrase(weight).take_weight() or 0.0) < LIGHTEST_LOG for weight in weights)
    if len({mark.text for mark in stacks}) > len(weights):
        raise InputError(f"'{text[:200]}': how much of it is of each? Write 'pick A 1 lb'.")
    if listed and light and (meant_for or not outlets):
        return "pick"
    if light and not outlets:
        raise InputError(f"'{text[:200]}': was it picked? Write 'pick {text[:80]}'.")
    pick = f"{first.text} {weights[0].strip()}"
    raise InputError(
        f"'{text[:200]}': was it picked, or is it the sample log? Write 'pick {pick}' or "
        f"'weigh {pick}'."
    )


def _without_heads(text: str, start: int, end: int, heads: Sequence[Head]) -> str:
    """Return words without those that say the kind, but for what is seen."""
    words: list[str] = []
    place = start
    for head in sorted(heads, key=lambda head: (head.start, -head.end)):
        if head.end > end or (head.start < place and not words):
            continue
        if head.start < place:  # within the one before, or the first word of it
            place = max(place, head.end)
            continue
        if head.stays:
            continue
        words += [text[place : head.start], head.kept]
        place = head.end
    words.append(text[place:end])
    return " ".join(" ".join(words).split()).strip(" ,;:")


def _without_circumstances(text: str) -> tuple[str, str]:
    """Return words without what they say of the weather and the hour, and that."""
    kept = []
    text = re.sub(r"(?<=day|ing|oon|ght)'s\b", "", text)
    for pattern in (_CIRCUMSTANCE, _CLOCK):
        kept += [found[0] for found in pattern.finditer(text)]
        text = pattern.sub(" ", text)
    return " ".join(text.split()), ", ".join(kept)


def _dated(clauses: list[Said], text: str) -> list[Said]:
    """Return clauses of which each has its day: 'yesterday A out, B in' is of one day."""
    days = [list(DAY.finditer(clause.words)) for clause in clauses]
    with_day = [number for number, found in enumerate(days) if found]
    if len(with_day) in (0, len(clauses)):
        return clauses
    number = with_day[0]
    words, day = clauses[number].words, days[number][0]
    ahead = number == 0 and not words[: day.start()].strip()
    behind = number == len(clauses) - 1 and not words[day.end() :].strip(" .")
    if len(with_day) > 1 or not (ahead or behind):
        raise InputError(f"'{text[:200]}': which day was which? Write one record for each.")
    return [
        clause if clause.words == words else clause._replace(words=f"{clause.words} {day[0]}")
        for clause in clauses
    ]


def text_of(text: str) -> str:
    """Return a sentence without blanks too many and without who speaks."""
    return _SPEAKER.sub("", " ".join(text.split()))


def _without_brackets(text: str) -> tuple[str, str]:
    """Return a sentence and the notes that stand in brackets; a day in brackets is none."""
    text = _BRACKETS.sub(lambda found: found[1] if _is_mark(found[1]) else found[0], text)
    notes = "; ".join(found[1].strip() for found in _BRACKETS.finditer(text))
    text = " ".join(_BRACKETS.sub(" ", text).split())
    tail = _NOTE.search(text)
    if tail:
        notes = _joined(tail[1].strip(), notes)
        text = text[: tail.start()]
    return text, notes


def _is_mark(text: str) -> bool:
    plain = plainly(text).strip()
    return any(pattern.fullmatch(plain) for pattern in (DAY, WEIGHT, HOURS, LOGS))


def _joined(*notes: str) -> str:
    return "; ".join(note for note in notes if note)


def _notes(text: str, stacks: Sequence[str], today: date) -> Iterator[Said]:
    """Yield the notes that a sentence makes which is no other record: one for each stack."""
    phrase = Phrase(text)
    day = phrase.take_day(today)
    dated = f"{day}: " if day else ""
    said = _ARTICLE.sub("", phrase.text)
    named = [
        name
        for name in stacks
        if re.search(rf"(?<![\w/])(?<!\d\s){re.escape(name)}(?![\w/])", said)
    ]
    for name in named or [""]:
        # The name stands in front already where the sentence begins with it.
        alone = rf"^{re.escape(name)}\b[:,]?\s*" if len(named) == 1 else "(?!)"
        own = re.sub(alone, "", phrase.text).replace(" ,", ",")
        yield Said("note", f"{name} {dated}{own}".strip())


def unknown_kind(word: str) -> str:
    """Return what to say of a first word that is no kind of record."""
    if len(word) > LONGEST_KIND:
        return f"'{word[:LONGEST_KIND]}...' is not a kind of record. Known are: {', '.join(KINDS)}."
    near = nearest(word, KINDS, 0.65)
    hint = f"Did you mean '{near}'?" if near else f"Known are: {', '.join(KINDS)}."
    hint = next((other for words, other in _HINTS if word.lower() in words), hint)
    return f"'{word}' is not a kind of record. {hint}"


def _day_before_kind(text: str) -> int:
    """Return where a sentence goes on after a day that it begins with, if a kind comes there."""
    dated = DAY.match(text)
    if not dated:
        return 0
    after = re.compile(r"[\s,:-]*(?:(?:i|we)\s+)?", re.IGNORECASE).match(text, dated.end())
    place = after.end() if after else dated.end()
    return place if _known(_first_word(text[place:])[0]) else 0


def _first_word(text: str) -> tuple[str, str]:
    first, _, rest = text.partition(" ")
    return first.rstrip(":,"), rest


def _known(word: str) -> str:
    word = word.lower()
    kind = OTHER_WORDS.get(word, word)
    return kind if kind in KINDS else ""


def _letters(names: Sequence[str]) -> Iterator[str]:
    for name in names:
        yield from re.findall(r"[a-z]+", name.lower())
