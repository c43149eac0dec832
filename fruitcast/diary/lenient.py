"""A second, lenient reading of what is refused: words that can have no part in it are left aside.

'Bull's chef came by, squidgy lot but 3 lb off B' is read as a pick of B. What comes of it is never
taken silently: it is asked about, with what was left aside. So words are left aside only where
nothing among them could belong to the record or turn its meaning: no name, number, unit or day, no
deed of another kind, no doubt.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence

from fruitcast.diary.asides import Reading, may_be_aside, without_asides
from fruitcast.diary.beside import without_beside
from fruitcast.diary.by_marks import by_marks
from fruitcast.diary.entries.kind import ASIDE, STACK, THREW
from fruitcast.diary.events import HOLD, LOTS, PULL, SOAK, Event
from fruitcast.diary.marks import Parts, marks_in, stacks_in, without
from fruitcast.diary.phrases import DAY
from fruitcast.diary.pieces import SEEN, pieces_with_heads
from fruitcast.diary.plain_words import is_empty, plainly
from fruitcast.diary.shares import SEEN_ON
from fruitcast.diary.slips import is_slip
from fruitcast.diary.spoken_kind import CLOCK, CLOCK_OF_TANK, HOUR, Head, heads_in, masked


def readings(text: str, parts: Parts) -> Iterator[Reading]:
    """Yield the ways to read a sentence, the nearest to its words first."""
    yield Reading((text,))
    core = without_asides(text, parts, may_be_aside)
    if core.aside:
        yield core
    for part in core.parts:
        told = _segments(plainly(part), parts)
        if len(told) > 1:
            yield Reading(tuple(told), core.aside)
    yield from by_marks(text, parts)
    if (plain := without_beside(plainly(text), parts)) != plainly(text):
        yield Reading((plain,), (), text)
        yield from (reading._replace(note=text) for reading in by_marks(plain, parts))


def _segments(text: str, parts: Parts) -> list[str]:
    """Return parts of a sentence that are each about one stack or buyer, each with its kind."""
    text = _with_days(re.sub(r"(?<=[A-Za-z\d])\.\s+(?=[A-Z\d])", "; ", text))
    shown = _shown(text, parts)
    pieces, heads = pieces_with_heads(text, shown, parts)
    found: list[_Segment] = []
    day = ""
    for (start, end), own in zip(pieces, heads, strict=True):
        told = _JOINT.sub("", text[start:end]).strip(" ,;:.")
        if DAY.fullmatch(told):  # '24 May: F 1 lb' is of the day before it
            day = told
            continue
        word = _word_of(text, shown, own)
        if not own and stacks_in(told, parts.stacks):  # it may say a kind by itself
            alone = _shown(told, parts)
            (own,) = heads_in(told, alone, [(0, len(told))], parts)
            if any(head.kind == "nothing" for head in own):
                return []  # 'slugs on C, none on D' may be of the slugs
            word = _word_of(told, alone, own)
        piece = _Segment(f"{day} {told}".strip(), word, own, parts)
        day, last = "", found[-1] if found else None
        if last and not last.ends_before(piece):
            found[-1] = last.joined(piece, parts)
        elif piece.text:
            found.append(piece)
    if day or (any(s.bare for s in found) and any(s.labels & _MEASURED for s in found)):
        return []  # 'C 2.2 lb, D 0.9' may be 0.9 of anything
    return _dated(_whole(found), parts)


_DAYS = ("yesterday", "monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


def _with_days(text: str) -> str:
    """Return a sentence with the slips in its days mended: they are those of all its parts."""
    return re.sub(r"[A-Za-z]{6,}(?![\w'])", lambda word: _day_of(word[0]), text)


def _day_of(word: str) -> str:
    lower = word.lower()
    if lower in _DAYS or lower.removesuffix("s") in _DAYS:
        return word
    return next((day for day in _DAYS if is_slip(lower, day)), word)


def _shown(text: str, parts: Parts) -> str:
    """Return a sentence as `masked`; what stands in brackets says no kind either."""
    return _BRACKETS.sub(lambda found: ASIDE * len(found[0]), masked(text, parts))


_BRACKETS = re.compile(r"\([^()]*\)")
_JOINT = re.compile(
    r"^\W*(?:(?:and|so|but|plus|also|then(?! (?:soak|pick|pull|water|turn|move|sell|weigh|cover)"
    r"\b))\s+)+",
    re.IGNORECASE,
)
_OFF = re.compile(r"\W*(?:and )?off\b", re.IGNORECASE)
_ON = re.compile(r"\W*(?:and )?(?:back )?on\b", re.IGNORECASE)
_MEASURED = frozenset(("weight", "hours"))
_THREW = re.compile(rf"(?:(?:i|we|had to|then|also|lost) )*{THREW}\b", re.IGNORECASE)

_IT = re.compile(r"\b(?:it|them|there|that one|the same|same)\b", re.IGNORECASE)


def _whole(found: Sequence[_Segment]) -> list[str]:
    """Return the words of parts, each with the kind and the stack that others tell."""
    backward = next((part.word for part in found if part.word), "")
    told, word, stack, kinds, lead = list[str](), "", "", set[str](), False
    for part in found:
        word = part.word or word
        if not part.labels - {"day"} and part is not found[-1]:
            lead = True
            continue  # 'dead logs again: N has 3, C has 2' says the kind of those behind it
        text = part.text
        if not part.named and stack:
            text = _IT.sub(stack, text, count=1) if _IT.search(text) else f"{text} {stack}"
        stack = part.stack or stack
        if not (part.word or lead) and kinds & SEEN_ON and not is_empty(part.rest):
            return []  # 'green fuzz on C, white fuzz on D' are two findings
        if turned := None if part.word else _turned(text, kinds):
            word, text = turned
            kinds = {word}
        kinds = part.kinds or kinds
        alone = part.word or ("weight" in part.labels and not word)
        bare = alone and not part.word and "outlet" not in part.labels
        if bare and any(one.is_lost for one in found):
            return []  # '6 oz of F, 10 oz of B went bad' may be two losses
        told.append(text if alone else f"{word or backward} {text}".strip())
    return told


def _turned(text: str, kinds: Collection[str]) -> tuple[str, str] | None:
    """Return kind and words of what was done on the next stack where it is the opposite."""
    for kind, told, other in (("cover", _OFF, "uncover"), ("uncover", _ON, "cover")):
        if kind in kinds and (found := told.match(text)):
            return other, text[found.end() :]  # 'tarp off C, on D'
    return None


class _Segment:
    """A part of a sentence, with the word that says its kind."""

    def __init__(self, text: str, word: str, heads: Sequence[Head], parts: Parts) -> None:
        self.text, self.word = text, word
        self.kinds = {head.kind for head in heads}
        marks = marks_in(text, parts)
        self.labels = {mark.label for mark in marks}
        self.named = bool(self.labels & {"stack", "outlet"})
        self.bare = "number" in self.labels
        self.rest = without(text, marks)
        stacks = {mark.text for mark in marks if mark.label == "stack"}
        self.stack = stacks.pop() if len(stacks) == 1 else ""

    @property
    def is_lost(self) -> bool:
        """Whether it tells, behind the amount, that it was lost."""
        return "discard" in self.kinds and not _THREW.match(self.text)

    def ends_before(self, other: _Segment) -> bool:
        """Return whether another part is of another record."""
        again = self.labels & other.labels & _MEASURED and "day" in other.labels
        differs = self.kinds and other.kinds and not self.kinds & other.kinds
        if differs and not other.labels and other.kinds <= SEEN:
            return False  # '2 logs retired, they stopped fruiting' tells of no flush
        return bool((self.named and (other.named or again)) or differs)

    def joined(self, other: _Segment, parts: Parts) -> _Segment:
        """Return both as one."""
        both = _Segment(f"{self.text}, {other.text}", self.word or other.word, (), parts)
        both.kinds = self.kinds | other.kinds
        return both


def _word_of(text: str, shown: str, heads: Sequence[Head]) -> str:
    """Return the words that say the kind of a part, or the kind's name where a stack is in them."""
    if not heads:
        return ""
    head = min(heads, key=lambda head: head.start)
    own = shown[head.start : head.end]
    return head.kind if STACK in own or ASIDE in own else text[head.start : head.end]


_TODAY = re.compile(r"today(?: \w+)?|this \w+|tonight|now", re.IGNORECASE)


def _dated(told: list[str], parts: Parts) -> list[str]:
    """Return parts of which each has the day that is told ahead or behind of all."""
    days = [[*DAY.finditer(part)] for part in told]
    if not any(days) or all(days):
        return told
    if all(_TODAY.fullmatch(day[0].strip()) for own in days for day in own):
        today = next(own[0][0] for own in days if own)
        return [part if own else f"{part} {today}" for part, own in zip(told, days, strict=True)]
    if days[0] and not marks_in(told[0][: days[0][0].start()], parts):  # of each that follows it
        found, day = list[str](), ""
        for part, own in zip(told, days, strict=True):
            day = own[0][0] if own else day
            found.append(part if own else f"{day} {part}")
        return found
    ends = all(
        not part[own[-1].end() :].strip(" .") for part, own in zip(told, days, strict=True) if own
    )
    first = next(number for number, own in enumerate(days) if own)
    if ends and all(days[first:]):  # of each ahead of it
        later, day = list[str](), ""
        for part, own in zip(reversed(told), reversed(days), strict=True):
            day = own[-1][0] if own else day
            later.append(part if own else f"{part} {day}")
        return later[::-1]
    return []


_OF_LOGS = re.compile(
    r"\b(?:on )?\d+ (?:\w+ ){0,2}logs?\b|sprinkler for [\d.]+ h|after \d+ ?h\w*|one crate of .*",
    re.IGNORECASE,
)
"""What a note may say in figures."""


def uses_all(text: str, events: Sequence[Event], parts: Parts) -> bool:
    """Return whether records use every stack, outlet, amount and day that a sentence names."""
    marks = marks_in(plainly(text), parts)
    named = {mark.text for mark in marks if mark.label == "stack"}
    told = {name for event in events for name in (event.stack, event.into)}
    told |= {
        f"{event.stack}/{number}"
        for event in events
        if event.kind == LOTS and event.into.isdigit()
        for number in range(1, int(event.into) + 1)
    }
    lots = {name.rpartition("/")[0] for name in told}
    if not named <= told | lots or not all(
        name in told or any(name in event.note for event in events) for name in named
    ):
        return False
    outlets = {mark.text for mark in marks if mark.label == "outlet"}
    if not outlets <= {event.outlet for event in events}:
        return False
    for event in events:
        if event.kind == HOLD:
            continue  # from when it rests is kept in words
        note = _OF_LOGS.sub(" ", HOUR.sub(" ", CLOCK.sub(" ", CLOCK_OF_TANK.sub(" ", event.note))))
        if re.search(r"\d", note) or DAY.search(note):
            return False
    return True


def turns_back(events: Sequence[Event]) -> bool:
    """Return whether one stack goes into the tank and comes out on one day."""
    went = {(event.stack, event.on) for event in events if event.kind == SOAK}
    came = {(event.stack, event.on) for event in events if event.kind == PULL}
    return bool(went & came)


def with_told_lots(text: str, parts: Parts) -> Parts:
    """Return a yard's names with those of lots that a sentence makes: 'split P, picked P/1'."""
    lots = [
        f"{name}/{number}"
        for name in parts.stacks
        for number in re.findall(rf"(?<![\w/]){re.escape(name)}/([1-9])(?![\w/])", text)
    ]
    bases = [lot.rpartition("/")[0] for lot in dict.fromkeys(lots)]
    lots = [lot for lot in lots if bases.count(lot.rpartition("/")[0]) > 1]
    return parts._replace(stacks=tuple(dict.fromkeys((*parts.stacks, *lots))))
