"""A reading by what stands in a sentence rather than by how it is built.

Whose and how much is told by names and amounts, what was done by the words of the work; all else
is the grower's way to say it and stays a note. 'My mother, as spry as ever, filled two baskets
from P on Tuesday, 3.6 kilos by the kitchen scale' can be but one pick, in whatever order. It is
tried last, and always asked about.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence

from fruitcast.diary.asides import TOLD_AS_DONE, Reading, may_be_aside
from fruitcast.diary.entries.kind import SHEET, STACK, THIEVES, THREW
from fruitcast.diary.marks import Mark, Parts, marks_in
from fruitcast.diary.not_done import is_doubted
from fruitcast.diary.phrases import DEPTH, LITRES, WEIGHT, Phrase, vague_day
from fruitcast.diary.plain_words import UNKNOWN_NAME, is_empty, one_of, plainly
from fruitcast.diary.slips import mended
from fruitcast.diary.spoken_kind import CLOCK, CLOCK_OF_TANK, HOUR, LIGHTEST_LOG, heads_in, masked

_CLAUSE = re.compile(
    r"\s*[;,:](?!\d)\s*|\s+-+\s+|(?<=\w\w)[.!]+\s+"
    rf"|\s+(?:and|but|so|then|&|\+)\s+(?![\d{STACK}])"
    r"|\s+(?=(?:because|cos|though|although|while|who|which)\b)",
    re.IGNORECASE,
)
_OPEN = one_of(
    r"""
    nil | den(?:y|ied|ies) | pending | await\w* | fixing? | hypothe\w+ | let | refus\w+ | declin\w+
    pretend\w* | turned down | chang\w+ (?:\w+ )?mind | back in(?:to)?
    (?:asked|told|ordered|want|offer\w*|promis\w*) (?:\w+ )?to
    as (?:if|though) | still | stay\w* | remain\w* | left (?:in|on|there) | too \w+ to | rather
    versus | compared | plan\w* | idea | to-?do | come (?=mon|tue|wed|thu|fri|sat|sun) | ahead of
    (?:un)?till? (?!further) | first of (?:them|the) | others? | same as | each other | share[ds]?
    half of | part of | rest of | per cent
    """
)
"""What may turn a meaning that is read in so loose a way."""

_LOST = re.compile(
    rf"\b(?:{THREW}|lost|loss|ruin\w*|spoil\w*|waste\w*|compost\w*|bin|bucket|rubbish|mush\w?|slim\w+"
    r"|maggot\w*|worm\w*|squash\w*|trod\w*|rott?e\w*|mou?ld\w*|went (?:off|over|bad)"
    rf"|gone (?:off|over|bad)|destroy\w*|contaminat\w*|ate|eaten|nibbl\w+|{THIEVES})\b",
    re.IGNORECASE,
)
"""What tells that a weight was lost."""

_KEPT = re.compile(
    r"\b(?:packed|stored|fro[sz]en?|freez\w*|dried|drying|cook\w*|slic\w*|sort\w*|wash\w*|us(?:ed|ing)"
    r"|order\w*|deliver\w*|sen[dt]|gave away|given away|fed|made|bought|spent"
    r"|logs?|spawn|sawdust|weigh\w*)\b|\bwent to\b|\bto go\b|\bput\b",
    re.IGNORECASE,
)
"""What is done with mushrooms that may have been picked long before, or is weighed and none."""

_DEAD = re.compile(r"\b(?:dead|died)\b", re.IGNORECASE)
_FOUND = re.compile(
    r"\b(?:dead|died|mou?ld\w*|trich\w*|bark|ends?|white|rot\w*|crack\w*|mycelium|fung\w+|healthy"
    r"|coloni[sz]\w+|spawn run)\b",
    re.IGNORECASE,
)
_MEASURE_LEFT = re.compile(
    r"\b(?:hours?|hrs?|minutes?|mins?|pounds?|lbs?|oz|ounces?|kilos?|kgs?|grams?|mm|inch(?:es)?|litres?"
    r"|gallons?|weeks?|months?|dozen|couple|few|several|half|quarter|third|most|twice|double)\b",
    re.IGNORECASE,
)
"""An amount that nobody has read."""

_BRACKETS = re.compile(r"\([^()\d]*\)")
_OF_THEM = re.compile(r"\bof (?:it|them|those|that|these)\b", re.IGNORECASE)
_THEN = re.compile(r"\b(?:pulled|popped|put|soaked|dunked|turned) (?:it|them)\b", re.IGNORECASE)
_TOOK_OUT = re.compile(r"\b(?:took|taken|pulled|lifted|came)(?: \w+)? out\b", re.IGNORECASE)
_SAME = re.compile(r"\b(?:same|ditto|likewise)\b", re.IGNORECASE)
_TANK = r"(?:soak(?:ing)?|tank|water|bath|pond|trough|tub|barrel|vat|creek|drink)"
_OF_A_LOG = re.compile(r"\blog\b.*\bweigh\w*|\bweigh\w*\b.*\blog\b", re.IGNORECASE)
_CUES = tuple(
    (kind, re.compile(pattern, re.IGNORECASE))
    for kind, pattern in (
        (
            "uncover",
            rf"\b(?:{SHEET}|shade)\b.*\b(?:off|away|gone|withdrawn|removed|down)\b"
            rf"|\b(?:off|away|withdrew|removed|stripped|whipped)\b.*\b(?:{SHEET}|shade)\b",
        ),
        ("cover", rf"\b(?:{SHEET}|straw)\b"),
        (
            "pull",
            rf"\b(?:out|up|from|left|vacated|over)\b.*\b{_TANK}\b|\b{_TANK}\b.*\b(?:out|over|up)\b"
            r"|^\W*out\b|\b(?:came|come|taken|lifted|got|back) out\b",
        ),
        ("soak", rf"\b(?:in|into|under)\b.*\b{_TANK}\b|\b(?:immers|submerg|soak|drown|dunk)\w*"),
        (
            "weigh",
            r"\b(?:sample|test|specimen|index|marked|monitor) log\b|\bsample\b"
            rf"|{_OF_A_LOG.pattern}",
        ),
        ("pins", r"\b(?:pins?|pin ?heads?|pinning|knobs|bumps)\b"),
        ("water", r"\b(?:water\w*|hos(?:e|ed|ing)|sprinkl\w+|mist\w*|spray\w*|rain)\b"),
        ("retire", r"\b(?:firewood|for good|bonfire|wood ?pile|fire|burn ?pile|retire\w*)\b"),
        (
            "hold",
            r"\brest(?:s|ed|ing)?\b|\bholiday\b"
            r"|\b(?:set|put|laid|left|be) (?:aside|by|alone|idle)\b",
        ),
        ("turn", r"\b(?:turn\w*|re-?(?:stack|pil)\w*|top to bottom|upside down|end over end)\b"),
        ("inoculate", r"\b(?:plug|inoculat|spawn|drill)\w*\b"),
    )
)
"""What else says a kind, where no words do that the strict reading knows; the first that fits."""

_AMOUNTS: dict[str, set[str]] = {
    "pick": {"weight", "grade", "outlet"},
    "discard": {"weight"},
    "weigh": {"weight"},
    "sold": {"weight", "outlet", "money"},
    "soak": {"hours", "logs"},
    "pull": {"hours", "logs"},
    "water": {"hours", "depth", "litres"},
    **{kind: {"logs"} for kind in ("pins", "inspect", "retire", "turn", "inoculate")},
    **{kind: set() for kind in ("cover", "uncover", "hold", "fruiting", "nothing")},
}
"""What amounts a kind may have; a sentence with another is not read so."""

_MUST = {
    **dict.fromkeys(("pick", "discard", "weigh", "sold"), "weight"),
    **dict.fromkeys(("retire", "inoculate"), "logs"),
}
_MEASURED = frozenset(("weight", "hours", "logs", "money", "depth", "litres", "number", "outlet"))
_COUNTING = frozenset(("inspect", "retire", "pins"))
_ASIDE = frozenset(("nothing", "fruiting", "note"))
"""Kinds of which a mere mention without a name is a remark."""


def by_marks(text: str, parts: Parts) -> Iterator[Reading]:
    """Yield the reading of a sentence by its names, amounts and words of work, if there is one."""
    plain = re.sub(
        r"\b(?:a single|one)(?= (?:in|on|at) )",
        "1",
        mended(plainly(_BRACKETS.sub(" ", text)), (*parts.stacks, *parts.outlets))[0],
    )
    clauses = [_Part(words, parts) for words in _clauses(plain, parts)]
    if any(clause.is_open for clause in clauses) or vague_day(plain):
        return
    if any(is_doubted(clause.text) for clause in clauses) and not any(
        clause.tells and TOLD_AS_DONE.search(clause.text) for clause in clauses
    ):
        return
    groups: list[_Part] = []
    for clause in clauses:
        if not clause.tells or (groups and not clause.labels and clause.kinds <= _ASIDE):
            continue
        if groups and (both := groups[-1].joined(clause)):
            groups[-1] = both
        else:
            groups.append(clause)
    if said := _records(groups):
        yield Reading(tuple(said), (), text)


def _records(groups: Sequence[_Part]) -> list[str]:
    """Return the records of parts in plain words; none where any of them is open."""
    if (days := _days(groups)) is None:
        return []
    said, last = list[str](), None
    topic = groups[0] if groups and groups[0].kinds and not groups[0].stacks else None
    for group, day in zip(groups, days, strict=True):
        if group is topic and len(groups) > 1 and not group.labels - {"day"}:
            last = group
            continue
        if not group.kind:
            if last is None or not (last is topic or is_empty(_SAME.sub(" ", group.rest))):
                return []
            group = group.like(last)
        if not group.stacks and last:
            group.stacks = last.stacks
        records = [*group.records(day)]
        of_it = last and last.kind == group.kind and _OF_THEM.search(group.text)
        if of_it or not records:
            return []
        said += records
        last = group
    return said


def _days(groups: Sequence[_Part]) -> list[str] | None:
    """Return the day of each part; None where it is open which is whose."""
    days = [group.days for group in groups]
    if any(len(own) > 1 for own in days):
        return None
    told = [own[0] if own else "" for own in days]
    if all(told) or not any(told):
        return told
    if told[0] and groups[0].day_is_ahead and not any(told[1:]):
        return [told[0]] * len(told)
    if told[-1] and not groups[-1].day_is_ahead and not any(told[:-1]):
        return [told[-1]] * len(told)
    return told if all(day in ("", "today", "this morning") for day in told) else None


def _clauses(text: str, parts: Parts) -> list[str]:
    """Return the clauses of a sentence; no name or amount is cut."""
    shown = list(text)
    for mark in marks_in(text, parts):
        sign = STACK if mark.label == "stack" else "0"
        shown[mark.start : mark.end] = sign * (mark.end - mark.start)
    place, found = 0, []
    for cut in _CLAUSE.finditer("".join(shown)):
        found.append(text[place : cut.start()])
        place = cut.end()
    return [words for words in (*found, text[place:]) if words.strip()]


class _Part:
    """A clause, or several of one record."""

    def __init__(self, text: str, parts: Parts, kinds: Collection[str] | None = None) -> None:
        self.text, self.parts = text, parts
        self.marks = _all_marks(text, parts)
        self.stacks = list(dict.fromkeys(m.text for m in self.marks if m.label == "stack"))
        self.labels = {mark.label for mark in self.marks}
        self.amounts = [mark for mark in self.marks if mark.label not in ("stack", "day")]
        self.days = list(
            dict.fromkeys(
                re.sub(r"^(?:on|since) ", "", m.text.strip().lower())
                for m in self.marks
                if m.label == "day"
            )
        )
        self.rest = _without(text, self.marks)
        self.kinds = self._kinds() if kinds is None else {*kinds}

    def _kinds(self) -> set[str]:
        """Return the kinds that its words say."""
        shown = masked(self.text, self.parts)
        (heads,) = heads_in(self.text, shown, [(0, len(self.text))], self.parts)
        kinds = {head.kind for head in heads} - {"note"}
        if kinds == {"pick"} and _OF_A_LOG.search(shown):
            return {"weigh"}
        if not kinds:
            fits = (
                k for k, p in _CUES if p.search(shown) and self.labels & _MEASURED <= _AMOUNTS[k]
            )
            return {next(fits, "")} - {""}
        return kinds

    @property
    def is_open(self) -> bool:
        """Whether it may turn what it or another tells."""
        doubt = is_doubted(self.text)
        if not self.tells:
            return doubt and not may_be_aside(self.text, self.parts)
        shown = list(self.text)
        for mark in self.marks:
            shown[mark.start : mark.end] = ";" * (mark.end - mark.start)
        hidden = "".join(shown)
        left = _MEASURE_LEFT.search(hidden) or UNKNOWN_NAME.search(hidden)
        joint = any(self.text[m.start] == "n" == m.text.lower() for m in self.marks)
        return bool(doubt or _OPEN.search(hidden) or "%" in hidden or left or joint)

    @property
    def tells(self) -> bool:
        """Whether anything of a record is in it."""
        return bool(self.labels or self.kinds)

    @property
    def day_is_ahead(self) -> bool:
        """Whether its day stands before its amounts, or before the names of all else."""
        starts = [m.start for m in self.marks if m.label == "day"]
        others = [m.start for m in self.amounts] or [
            m.start for m in self.marks if m.label == "stack"
        ]
        return bool(starts) and (not others or starts[0] < others[0])

    @property
    def kind(self) -> str:
        """The kind that it says, or that its amounts can only be of; empty where that is open."""
        kinds = set(self.kinds)
        if "inspect" in kinds and len(kinds) > 1 and not _FOUND.search(self.text):
            kinds.discard("inspect")
        if kinds == {"fruiting", "pins"}:
            kinds = {"pins"}
        if kinds == {"inspect", "retire"} and "logs" in self.labels:
            kinds = {"retire"}
        if kinds <= {"pick", "inspect", "discard"} and "weight" in self.labels:
            if _LOST.search(self.text):
                kinds = {"discard"}
            elif not kinds and self._may_be_pick:
                kinds = {"pick"}
        if not kinds and {"weight", "outlet", "money"} <= self.labels:
            kinds = {"sold"}
        return kinds.pop() if len(kinds) == 1 else ""

    @property
    def _may_be_pick(self) -> bool:
        (weight, *_) = WEIGHT.findall(self.text) or [""]
        light = (Phrase(weight).take_weight() or LIGHTEST_LOG) < LIGHTEST_LOG if weight else False
        return bool(self.stacks) and light and not _KEPT.search(self.rest)

    def like(self, other: _Part) -> _Part:
        """Return it as of the kind of the part before, of which it says nothing else."""
        both = _Part(self.text, self.parts, other.kinds or {other.kind})
        both.rest = other.rest if is_empty(both.rest) else f"{other.rest} {both.rest}"
        if _SAME.search(self.text):
            both.rest, both.amounts = other.rest, other.amounts
        elif both.kind in _COUNTING:
            both.amounts = [
                m._replace(label="logs", text=f"{m.text} logs") if m.label == "number" else m
                for m in both.amounts
            ]
        return both

    def joined(self, other: _Part) -> _Part | None:
        """Return both as one where the other adds to what this one tells; else nothing."""
        if self.stacks and other.stacks and self.stacks != other.stacks:
            return None
        if self.labels & other.labels & (_MEASURED | {"day"}):
            return None
        both = _Part(f"{self.text}, {other.text}", self.parts, self.kinds | other.kinds)
        return both if both.kind or not both.kinds else None

    def records(self, day: str) -> Iterator[str]:
        """Yield its records in plain words; none where it is open what they are."""
        kind = self.kind
        labels = [mark.label for mark in self.amounts]
        if not {*labels} <= _AMOUNTS.get(kind, set()) or len({*labels}) != len(labels):
            return
        if kind not in _AMOUNTS or (kind in _MUST and _MUST[kind] not in labels):
            return
        if not self.stacks and kind not in ("sold", "inoculate", "discard"):
            return
        more = {"pick": _THEN, "weigh": _TOOK_OUT}.get(kind)
        if more and more.search(self.rest):
            return
        if len(self.stacks) > 1 and {*labels} & {"weight", "logs"}:
            return
        amounts = " ".join(mark.text for mark in self.amounts)
        if kind == "inspect":
            if not _FOUND.search(self.rest + amounts):
                return
            amounts = _seen(self.rest, amounts)
        source = "from " if kind == "discard" and self.stacks else ""
        since = "since " if kind == "hold" and day else ""
        for name in self.stacks or [""]:
            told = f"{kind} {source}{name} {amounts} {since}{day}"
            yield " ".join(told.split())


def _seen(found: str, counted: str) -> str:
    """Return what was found on how many logs, as an inspection is written."""
    number = "".join(re.findall(r"\d+", counted))
    if not number:
        return found
    dead = _DEAD.search(f"{found} {counted}")
    return f"{number} dead logs" if dead else f"{found} on {number} logs"


def _all_marks(text: str, parts: Parts) -> list[Mark]:
    """Return the marks in words, depths and litres too, but for the time of day."""
    for pattern in (CLOCK, HOUR, CLOCK_OF_TANK):
        text = pattern.sub(lambda found: " " * len(found[0]), text)
    marks = marks_in(text, parts)
    more = [
        Mark(label, *found.span(), found[0])
        for label, pattern in (("depth", DEPTH), ("litres", LITRES))
        for found in pattern.finditer(text)
    ]
    covered = [mark for mark in marks if not any(one.start <= mark.start < one.end for one in more)]
    return sorted([*covered, *more], key=lambda mark: mark.start)


def _without(text: str, marks: Sequence[Mark]) -> str:
    kept, place = [], 0
    for mark in marks:
        kept.append(text[place : mark.start])
        place = mark.end
    return " ".join(" ".join([*kept, text[place:]]).split())
