"""A reading by what stands in a sentence rather than by how it is built.

Whose and how much is told by names and amounts, what was done by the words of the work; all else
is the grower's way to say it and stays a note. 'My mother, as spry as ever, filled two baskets
from P on Tuesday, 3.6 kilos by the kitchen scale' can be but one pick, in whatever order. It is
tried last, and always asked about.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Collection, Iterator, Sequence

from fruitcast.diary.asides import TOLD_AS_DONE, Reading, may_be_aside
from fruitcast.diary.entries.kind import SHEET, STACK, THIEVES, THREW
from fruitcast.diary.marks import Mark, Parts, marks_in
from fruitcast.diary.not_done import is_doubted
from fruitcast.diary.phrases import DEPTH, LITRES, WEIGHT, Phrase, vague_day
from fruitcast.diary.plain_words import UNKNOWN_NAME, is_empty, left_words, one_of, plainly
from fruitcast.diary.slips import mended
from fruitcast.diary.spoken_kind import CLOCK, CLOCK_OF_TANK, HOUR, LIGHTEST_LOG, heads_in, masked

_CLAUSE = re.compile(
    rf"\s*[;:](?!\d)\s*|(?<!{STACK})\s*,(?!\d)\s*"
    rf"|\s*,(?!\d|\s*{STACK}+\s*(?:,|&|and\b))\s*"
    r"|\s+-+\s+|(?<=\w\w)[.!]+\s+"
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
    rf"|gone (?:off|over|bad)|destroy\w*|contaminat\w*|ate|eaten|nibbl\w+"
    rf"|(?!storm|wind|frost|hail|sun|heat){THIEVES})\b",
    re.IGNORECASE,
)
"""What tells that a weight was lost."""

_NONE = re.compile(
    r"\b(?:no|not an?|not one|without|free of|despite|nothing)\b[^,;.]*", re.IGNORECASE
)
_KEPT = re.compile(
    r"\b(?:packed|stored|fro[sz]en?|freez\w*|dried|drying|cook\w*|slic\w*|sort\w*|wash\w*|us(?:ed|ing)"
    r"|order\w*|deliver\w*|sen[dt]|gave away|given away|pinch\w*|nicked|stole\w*|lent|fed|made"
    r"|bought|spent|logs?|spawn|sawdust|\w*weigh\w*)\b|\bwent to\b|\bto go\b|\bput\b",
    re.IGNORECASE,
)
"""What is done with mushrooms that may have been picked long before, or is weighed and none."""

_DEAD = re.compile(r"\b(?:dead|died)\b", re.IGNORECASE)
_ARE_DEAD = re.compile(r"\s*(?:(?:are|is|were|was|have|has) )?(?:dead|died)\b", re.IGNORECASE)
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
_TWICE = re.compile(r"\b(?:twice|both times)\b", re.IGNORECASE)
_THEN = re.compile(r"\b(?:pulled|popped|put|soaked|dunked|turned) (?:it|them)\b", re.IGNORECASE)
_TOOK_OUT = re.compile(r"\b(?:took|taken|pulled|lifted|came)(?: \w+)? out\b", re.IGNORECASE)
_OUT = re.compile(r"\b(?:out|pulled|lifted|fished|up)\b", re.IGNORECASE)
_IN = re.compile(r"\b(?:in|into|back)\b", re.IGNORECASE)
_WATERED = re.compile(r"\b(?:watered|hose\w*|sprinkl\w*|drink)\b", re.IGNORECASE)
_MINUTES = re.compile(r"\d ?min", re.IGNORECASE)
_NO_NOUN = re.compile(
    r"\s*(?:$|[,;.]|(?:in|on|of|out|from|off|more|fresh|new|dead|there|too)\b)", re.IGNORECASE
)
_PINS = re.compile(r" (?:\w+ )?(?:pins?|pin ?heads?)\b", re.IGNORECASE)
_FROM_NOW = re.compile(r"(?:today|now|this )", re.IGNORECASE)
_OF_TWO = {
    frozenset(("fruiting", "pins")): "pins",
    **{frozenset(("move", kind)): kind for kind in ("soak", "pull", "turn", "cover", "hold")},
}
"""Which of two kinds is meant where words say both."""

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
_COUNTING = frozenset(("inspect", "retire", "pins", "turn", "inoculate"))
_ASIDE = frozenset(("nothing", "fruiting", "note"))
"""Kinds of which a mere mention without a name is a remark."""


def by_marks(text: str, parts: Parts) -> Iterator[Reading]:
    """Yield the reading of a sentence by its names, amounts and words of work, if there is one."""
    plain = _plain(text, parts)
    week = vague_day(plain).lower() == "this week"  # no vague day where each part tells its own
    plain = re.sub(r"\bthis week\b", " ", plain, flags=re.IGNORECASE) if week else plain
    clauses = [_Part(words, parts) for words in _clauses(plain, parts)]
    if any(clause.is_open for clause in clauses) or vague_day(plain):
        return
    done = any(clause.tells and TOLD_AS_DONE.search(clause.text) for clause in clauses)
    if not done and any(is_doubted(clause.text) for clause in clauses):
        return
    groups = _groups(clauses)
    if week and not all(group.days for group in groups if group.labels - {"stack"}):
        return
    if said := _records(groups):
        yield Reading(tuple(said), (), text)


def _plain(text: str, parts: Parts) -> str:
    """Return a sentence put plainly: slips mended, a unit beside each number, no brackets."""
    plain = _with_unit(_FROM_TILL.sub(" ", plainly(text)), parts)
    plain, _ = mended(_BRACKETS.sub(" ", plain), (*parts.stacks, *parts.outlets))
    if len(WEIGHT.findall(plain)) == 2 and _TWICE.search(plain):
        plain = re.sub(r" and (?=\d)", ", ", _TWICE.sub(" ", plain))
    return re.sub(r"\b(?:a single|one)(?= (?:in|on|at) [A-Z])", "1 log", plain)


def _groups(clauses: Sequence[_Part]) -> list[_Part]:
    """Return clauses that tell something, those of one record as one."""
    groups: list[_Part] = []
    listed = sum(bool(clause.stacks and not clause.kinds) for clause in clauses) > 1
    for clause in clauses:
        if not clause.tells or (groups and not clause.labels and clause.kinds <= _ASIDE):
            continue
        apart = listed and clause.stacks and not clause.kinds
        before = groups[-2].kinds if len(groups) > 1 and not groups[-1].kinds else None
        other = before and clause.kinds - before
        if groups and not (apart or other) and (both := groups[-1].joined(clause)):
            groups[-1] = both
        else:
            groups.append(clause)
    for group in groups:
        if group.kind == "pick" and not group.kinds and any(c.tells_of_loss for c in clauses):
            group.kinds = {"discard"}
    return groups


def _records(groups: Sequence[_Part]) -> list[str]:
    """Return the records of parts in plain words; none where any of them is open."""
    if (days := _days(groups)) is None:
        return []
    said, last = list[str](), None
    topic = groups[0] if _is_topic(groups) else None
    for group, day in zip(groups, days, strict=True):
        if group is topic:
            last = group
            continue
        if not group.kinds and group.labels <= {"day"}:  # "Sunday's crop: ..."
            continue
        if not group.kinds and group.labels == {"stack"} and group.is_told_again(groups):
            continue
        if not group.kind:
            of = topic or last or next((later for later in groups if later.kind), None)
            if of is None or not (topic or group.adds_nothing_to(of)):
                return []
            group = group.like(of)
        if not group.stacks and last and group.kind != "inoculate":
            group.stacks = last.stacks
        records = [*group.records(day)]
        of_it = last and last.kind == group.kind and _OF_THEM.search(group.text)
        if of_it or not records:
            return []
        said += records
        last = group
    return said


def _with_unit(text: str, parts: Parts) -> str:
    """Return a sentence in which bare numbers have the unit that is told once: '(all kg)'."""
    units = [*_UNIT_ALONE.finditer(text)]
    bare = [mark for mark in _all_marks(text, parts) if mark.label == "number"]
    if len(units) != 1 or not bare:
        return text
    pieces, place = list[str](), 0
    for mark in bare:
        pieces += [text[place : mark.end], f" {units[0]['unit']}"]
        place = mark.end
    told = "".join([*pieces, text[place:]])
    return told.replace(units[0][0], " ", 1)


_FROM_TILL = re.compile(
    r"\bfrom \d{1,2}(?:[:.]\d\d)?(?: ?[ap]m)? (?:till|until|to|-) \d{1,2}(?:[:.]\d\d)?"
    r"(?: ?[ap]m)?\b"
    r"(?! ?(?:h|min))",
    re.IGNORECASE,
)
_UNIT_ALONE = re.compile(
    r"[,(]\s*(?:all |in |they're |it's |its )*(?P<unit>kgs?|kilos?|lbs?|pounds?|oz|ounces?|g|grams?"
    r"|min(?:ute)?s?|hours?|dollars?|quid|euros?|mm)(?: (?:that|it|they|those) (?:is|are)| all|"
    r" each)?\s*(?:\)|$|(?=[,.]))",
    re.IGNORECASE,
)


def _is_topic(groups: Sequence[_Part]) -> bool:
    """Return whether the first part says what all the others are of: 'dead logs: N 1, P 2'."""
    if len(groups) < 2 or not groups[0].kinds or groups[0].stacks:
        return False
    counts = [
        [float(number) for m in group.amounts for number in re.findall(r"^\d+(?:\.\d+)?", m.text)]
        for group in groups
    ]
    in_all = len(counts[0]) == 1 and counts[0][0] == sum(map(sum, counts[1:]))
    return not groups[0].labels - {"day"} or in_all


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
    for mark in _all_marks(text, parts):
        sign = STACK if mark.label == "stack" else "0"
        shown[mark.start : mark.end] = sign * (mark.end - mark.start)
    place, found = 0, []
    for cut in _CLAUSE.finditer("".join(shown)):
        found += _pairs(text[place : cut.start()], parts)
        place = cut.end()
    return [words for words in (*found, *_pairs(text[place:], parts)) if words.strip()]


def _pairs(text: str, parts: Parts) -> list[str]:
    """Return words parted where each of several stacks has its own amount or day."""
    marks = _all_marks(text, parts)
    for label in ("weight", "logs", "hours", "depth", "number", "day"):
        both = [mark for mark in marks if mark.label in ("stack", label)]
        half = len(both) // 2
        order = [mark.label for mark in both]
        if half > 1 and order in (["stack", label] * half, [label, "stack"] * half):
            starts = [0, *(mark.start for mark in both[2::2]), len(text)]
            pieces = [text[a:b] for a, b in itertools.pairwise(starts)]
            lost = _LOST.search(pieces[-1]) if label == "weight" else None
            return [
                f"{piece} {lost[0]}" if lost and not _LOST.search(piece) else piece
                for piece in pieces
            ]
    return [text]


class _Part:
    """A clause, or several of one record."""

    def __init__(self, text: str, parts: Parts, kinds: Collection[str] | None = None) -> None:
        self.text, self.parts = text, parts
        self.marks = _all_marks(text, parts)
        self.stacks = list(dict.fromkeys(m.text for m in self.marks if m.label == "stack"))
        self.labels = {mark.label for mark in self.marks}
        self.amounts = _once([m for m in self.marks if m.label not in ("stack", "day")])
        self.days = list(
            dict.fromkeys(
                re.sub(r"^(?:on|since) ", "", m.text.strip().lower())
                for m in self.marks
                if m.label == "day"
            )
        )
        self.rest = _without_clock(_without(text, self.marks))
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
    def tells_of_loss(self) -> bool:
        """Whether it says that weights were lost which stand elsewhere."""
        return "weight" not in self.labels and _is_lost(self.text)

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
        kinds = {_OF_TWO.get(frozenset(kinds), "")} - {""} or kinds
        if kinds == {"inspect", "retire"} and "logs" in self.labels:
            kinds = {"retire"}
        if kinds == {"pull", "soak"} and _OUT.search(self.rest) and not _IN.search(self.rest):
            kinds = {"pull"}
        if kinds == {"soak", "water"} and not _WATERED.search(self.text):
            kinds = {"water" if _MINUTES.search(self.text) else "soak"}
        if kinds <= {"pick", "inspect", "discard", "fruiting"} and "weight" in self.labels:
            if _is_lost(self.text):
                kinds = {"discard"}
            elif kinds <= {"fruiting"} and self._may_be_pick:
                kinds = {"pick"}
        if not kinds and {"weight", "outlet", "money"} <= self.labels:
            kinds = {"sold"}
        return kinds.pop() if len(kinds) == 1 else ""

    @property
    def _may_be_pick(self) -> bool:
        (weight, *_) = WEIGHT.findall(self.text) or [""]
        light = (Phrase(weight).take_weight() or LIGHTEST_LOG) < LIGHTEST_LOG if weight else False
        light = light or not is_empty(self.rest)  # a log weighs so much, and 'gives' nothing
        return bool(self.stacks) and light and not _KEPT.search(self.rest)

    def is_told_again(self, groups: Sequence[_Part]) -> bool:
        """Whether each of its stacks stands in another part with an amount of its own."""
        later = {name for group in groups if group.amounts for name in group.stacks}
        return {*self.stacks} <= later

    def adds_nothing_to(self, other: _Part) -> bool:
        """Whether it says but whose and how much of what the part before it says."""
        own = {*left_words(_SAME.sub(" ", self.rest))}
        return own <= {*left_words(other.rest)} or (
            self.labels <= {"number", "day"} and own <= {"all"}
        )

    def like(self, other: _Part) -> _Part:
        """Return it as of the kind of the part before, of which it says nothing else."""
        both = _Part(self.text, self.parts, other.kinds or {other.kind})
        seen = re.sub(r"\d+|\blogs?\b", "", " ".join(mark.text for mark in other.amounts))
        rest = f"{other.rest} {seen}" if other.kind == "inspect" else other.rest
        both.rest = rest if is_empty(both.rest) else f"{rest} {both.rest}"
        if _SAME.search(self.text) and not both.amounts:
            both.rest, both.amounts = other.rest, other.amounts
        return both

    def joined(self, other: _Part) -> _Part | None:
        """Return both as one where the other adds to what this one tells; else nothing."""
        if self.stacks and other.stacks and self.stacks != other.stacks:
            return None
        told = len(_once([*self.amounts, *other.amounts])) == len(self.amounts)
        if told and other.amounts and not (other.stacks or other.kinds or other.days):
            return self  # '6 mm ..., six millimetres I should say'
        if self.labels & other.labels & (_MEASURED | {"day"}):
            return None
        both = _Part(f"{self.text}, {other.text}", self.parts, self.kinds | other.kinds)
        return both if both.kind or not both.kinds else None

    def _counted(self, kind: str) -> Iterator[Mark]:
        """Yield its amounts, bare numbers as logs where they can count nothing else."""
        for mark in self.amounts:
            after = self.text[mark.end :]
            if mark.label == "number" and kind in _COUNTING and _NO_NOUN.match(after):
                yield mark._replace(label="logs", text=f"{mark.text} logs")
            elif not (kind == "pins" and _PINS.match(after)) and not (
                kind == "water" and mark.text.lower().startswith("over")
            ):
                yield mark

    def records(self, day: str) -> Iterator[str]:
        """Yield its records in plain words; none where it is open what they are."""
        kind = self.kind
        counted = [*self._counted(kind)]
        labels = [mark.label for mark in counted]
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
        after = "after " if kind == "pull" and "hours" in labels else ""
        amounts = after + " ".join(mark.text for mark in counted)
        if kind == "inspect":
            if not _FOUND.search(self.rest + amounts):
                return
            dead = any(_DEAD.search(m.text) or _ARE_DEAD.match(self.text, m.end) for m in counted)
            if not (amounts := _seen(self.rest, amounts, dead=dead)):
                return
        source = "from " if kind == "discard" and self.stacks else ""
        since = "since " if kind == "hold" and day else ""
        day = "" if kind == "hold" and _FROM_NOW.match(day) else day
        since = since if day else ""
        for name in self.stacks or [""]:
            told = f"{kind} {source}{name} {amounts} {since}{day}"
            yield " ".join(told.split())


def _seen(found: str, counted: str, *, dead: bool) -> str:
    """Return what was found on how many logs, as an inspection is written."""
    number = "".join(re.findall(r"\d+", counted))
    if not number:
        return found
    more = _DEAD.sub(" ", found)
    if _FOUND.search(more) and not dead and _DEAD.search(found):
        return ""  # of which is it the number?
    if not _DEAD.search(f"{found} {counted}"):
        return f"{found} on {number} logs"
    return f"{number} dead logs{f', {more}' if _FOUND.search(more) else ''}"


def _is_lost(text: str) -> bool:
    """Return whether words say that something was lost, and do not deny it."""
    return _LOST.search(_NONE.sub(" ", text)) is not None


def _once(marks: list[Mark]) -> list[Mark]:
    """Return amounts of which none is said twice: 'six mil, six millimetres'."""
    found: dict[tuple[str, ...], Mark] = {}
    told = [mark.text.strip() for mark in marks]
    if len({*told}) < len(told):  # '15 min this morning and 15 min tonight' are two
        return marks
    for mark in marks:
        amount = re.search(r"(\d[\d./]*)\s*([a-z]?)", mark.text, re.IGNORECASE)
        found.setdefault((mark.label, *(amount.groups() if amount else (mark.text,))), mark)
    return list(found.values())


def _without_clock(text: str) -> str:
    """Return words with blanks in the place of the time of day."""
    for pattern in (CLOCK, HOUR, CLOCK_OF_TANK):
        text = pattern.sub(lambda found: " " * len(found[0]), text)
    return text


def _all_marks(text: str, parts: Parts) -> list[Mark]:
    """Return the marks in words, depths and litres too, but for the time of day."""
    text = _without_clock(text)
    marks = [
        mark._replace(end=mark.start + len(mark.text.rstrip(".,;:")), text=mark.text.rstrip(".,;:"))
        if mark.label == "number"
        else mark
        for mark in marks_in(text, parts)
    ]
    names = [mark for mark in marks if mark.label == "stack"]
    more = [
        Mark(label, *found.span(), found[0])
        for label, pattern in (("depth", DEPTH), ("litres", LITRES))
        for found in pattern.finditer(text)
        if not any(name.start <= found.start() < name.end for name in names)
    ]
    covered = [mark for mark in marks if not any(one.start <= mark.start < one.end for one in more)]
    return sorted([*covered, *more], key=lambda mark: mark.start)


def _without(text: str, marks: Sequence[Mark]) -> str:
    kept, place = [], 0
    for mark in marks:
        kept.append(text[place : mark.start])
        place = mark.end
    return " ".join(" ".join([*kept, text[place:]]).split())
