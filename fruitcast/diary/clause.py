"""A clause told by its names, amounts and words of work: which kind it is, and its records.

What the strict reading does not know is told by what can stand beside what: a depth beside a stack
is water, a weight off it a pick. So it is only for readings that are asked about.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Collection, Iterator, Sequence

from fruitcast.diary.asides import may_be_aside
from fruitcast.diary.clause_marks import (
    all_marks,
    is_of_others,
    once,
    own_names,
    without_clock,
    without_marks,
)
from fruitcast.diary.entries.kind import SHEET, STACK, THIEVES, THREW
from fruitcast.diary.marks import Mark, Parts
from fruitcast.diary.not_done import is_doubted
from fruitcast.diary.phrases import HOURS, WEIGHT, Phrase
from fruitcast.diary.plain_words import DESCRIBING, UNKNOWN_NAME, is_empty, left_words, one_of
from fruitcast.diary.spoken_kind import LIGHTEST_LOG, heads_in, masked

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
LOST = re.compile(
    rf"\b(?:{THREW}|lost|loss|ruin\w*|spoil\w*|waste\w*|compost\w*|bin|heap|bucket|rubbish|mush\w?"
    r"|slim\w+|maggot\w*|worm\w*|squash\w*|trod\w*|rott?e\w*|mou?ld\w*|went (?:off|over|bad)"
    r"(?! (?-i:[A-Z]))"
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
    r"|bought|spent|logs?|spawn|sawdust|\w*weigh\w*)\b|\bwent to\b|\bto go\b|\bput\b(?! down)",
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
    frozenset(("rain", "water")): "water",
    **{frozenset(("move", kind)): kind for kind in ("soak", "pull", "turn", "cover", "hold")},
}
"""Which of two kinds is meant where words say both."""
SAME = re.compile(r"\b(?:same|ditto|likewise)\b", re.IGNORECASE)
_TANK = r"(?:soak(?:ing)?|tank|water|bath|pond|trough|tub|barrel|vat|creek|drink)"
_OF_A_LOG = re.compile(r"\blog\b.*\bweigh\w*|\bweigh\w*\b.*\blog\b", re.IGNORECASE)
_CUES = tuple(
    (kind, re.compile(pattern, re.IGNORECASE))
    for kind, pattern in (
        (
            "uncover",
            rf"^(?!.*\bagain\b).*\b(?:{SHEET}|shade)\b.*"
            r"\b(?:off|away|gone|withdrawn|removed|down(?! over))\b"
            rf"|\b(?:off|away|withdrew|removed|stripped|whipped)\b.*\b(?:{SHEET}|shade)\b",
        ),
        (
            "cover",
            rf"^(?!.*\b(?:took|taken?|aff|blown?|blew)\b).*\b(?:{SHEET}|straw)\b",
        ),
        (
            "pull",
            rf"\b(?:out|up|from|left|vacated|over)\b.*\b{_TANK}\b|\b{_TANK}\b.*\b(?:out|over|up)\b"
            r"|^\W*out\b|\b(?:came|come|taken|lifted|got|back) out\b",
        ),
        ("soak", rf"\b(?:in|into|under)\b.*\b{_TANK}\b|\b(?:immers|submerg|soak|drown|dunk)\w*"),
        (
            "weigh",
            r"\b(?:sample|test|specimen|index|mark\w*|monitor|tagged|reference|control) log\b"
            r"|\bsample\b"
            rf"|{_OF_A_LOG.pattern}",
        ),
        ("pins", r"\b(?:pins?|pin ?heads?|pinning|knobs|bumps)\b"),
        (
            "uncover",
            r"^\W*(?:the |an? |my )?(?:[a-z]+ ){1,2}(?:(?:is|are|came|come|taken) )?"
            rf"off (?:of )?{STACK}",
        ),
        (
            "water",
            r"\b(?:drip\w*|irrigat\w*|water\w*|hos(?:e|ed|ing)|sprinkl\w+|mist\w*|spray\w*|rain)\b",
        ),
        ("retire", r"\b(?:firewood|for good|bonfire|wood ?pile|fire|burn ?pile|retire\w*)\b"),
        (
            "hold",
            r"\brest(?:s|ed|ing)?\b|\bholiday\b"
            r"|\b(?:set|put|laid|left|be) (?:aside|by|alone|idle)\b",
        ),
        (
            "turn",
            r"\b(?:turn\w*|re-?(?:stack|pil|la[iy]|buil|mad|arrang)\w*|top to bottom|upside down"
            r"|end over end)\b",
        ),
        (
            "turn",
            r"\b(?:mov|shift|roll|rotat|flipp|shuffl|swapp|switch|rearrang|wheel)ed\b.*"
            r"\b(?:about|a?round|over|underneath|top|bottom|upside|end|under|places)\b",
        ),
        ("inspect", r"\b(?:bark|mou?ld\w*|ends|mycelium|dead|crack\w*)\b"),
        ("inoculate", r"\b(?:plug|inoculat|spawn|drill)\w*\b"),
    )
)
"""What else says a kind, where no words do that the strict reading knows; the first that fits."""
_AMOUNTS: dict[str, set[str]] = {
    "pick": {"weight", "grade", "outlet"},
    "discard": {"weight"},
    "weigh": {"weight"},
    "sold": {"weight", "outlet", "money", "grade"},
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
MEASURED = frozenset(("weight", "hours", "logs", "money", "depth", "litres", "number", "outlet"))
_COUNTING = frozenset(("inspect", "retire", "pins", "turn", "inoculate"))
_SHORTEST_SOAK = 4.0
"""Hours beside a stack are a soak from here on where nothing else is said; shorter ones a watering.

[h]"""

_EACH = re.compile(r"\b(?:each|both (?:days|times)|every time)\b", re.IGNORECASE)
_TOTAL = re.compile(r"\b(?:so|makes?|total|altogether|in all)\W*$|=\s*$", re.IGNORECASE)
_NO_PINS = re.compile(
    r"\b(?:no|nil|zero|none|nothing|not (?:a|one|any)(?: single)?)\b"
    r"(?:(?: \w+){0,3}? (?:pins?|pin ?heads?|mushrooms?|buttons?|thing|flush))?"
    r"(?: (?:showing|there|to see|at all|whatever|on (?:it|them)))*(?!.*\byet\b)",
    re.IGNORECASE,
)
_OVER = re.compile(
    r"^(?!.*\b(?:all over|walk\w*|went|look\w*|slugs?|snails?|deer|mice|mou?ld)\b)"
    r".*\b(?:over|on top of) (?:the |all of |both )?(?:stacks? )?(?-i:[A-Z])",
    re.IGNORECASE,
)
_OFF = re.compile(r"\b(?:off|from|out of) (?:of )?(?:the |stack )*(?-i:[A-Z])", re.IGNORECASE)
_ROUND = re.compile(
    r"\b(?:about|round|around|over|underneath|top|bottom|upside|ends?|inside out)\b", re.IGNORECASE
)
_AWAY = re.compile(
    r"\b(?:out|away|off|removed|retired|carted|hauled|for good|burn\w*|bonfire|fire\w*|culled|pile"
    r"|scrap\w*)\b",
    re.IGNORECASE,
)
_DUMPED = re.compile(rf"\b(?:{THREW}|compost\w*|(?:in|to) the bin|binned|rubbish)\b", re.IGNORECASE)
_AND_AGAIN = re.compile(r"\b(?:and|then|plus|another|again)\b|[,+&;]", re.IGNORECASE)
_OF_IT = re.compile(
    r"\b(?:of|which|less|minus|or|not|no|that's|makes?|so|from|to|seconds|firsts|good|bad|was|were|is"
    r"|last|before|against|only)\b|%",
    re.IGNORECASE,
)


class Clause:
    """A clause, or several of one record."""

    def __init__(self, text: str, parts: Parts, kinds: Collection[str] | None = None) -> None:
        self.text, self.parts = text, parts
        self.marks = all_marks(text, parts)
        own = [mark for mark in self.marks if not is_of_others(mark, text)]
        self.labels = {mark.label for mark in own}
        self.kinds = self._kinds() if kinds is None else {*kinds}
        if self.kinds & _COUNTING:
            self.labels = {mark.label for mark in self.marks}
        else:
            self.marks = own
        self.stacks = own_names([m.text for m in self.marks if m.label == "stack"])
        self.amounts = once([m for m in self.marks if m.label not in ("stack", "day")])
        self.days = list(
            dict.fromkeys(
                re.sub(r"^(?:on|since) ", "", m.text.strip().lower())
                for m in self.marks
                if m.label == "day"
            )
        )
        self.rest = without_clock(without_marks(text, self.marks))

    def _kinds(self) -> set[str]:
        """Return the kinds that its words say."""
        shown = masked(self.text, self.parts)
        (heads,) = heads_in(self.text, shown, [(0, len(self.text))], self.parts)
        kinds = {head.kind for head in heads} - {"note"}
        if kinds == {"pick"} and _OF_A_LOG.search(shown):
            return {"weigh"}
        if len(kinds) > 1 and (measured := self.labels & MEASURED):
            fit = {kind for kind in kinds if measured <= _AMOUNTS.get(kind, set())}
            kinds = fit if len(fit) == 1 else kinds
        if not kinds:
            fits = (
                kind
                for kind, pattern in _CUES
                if pattern.search(shown)
                and self.labels & MEASURED <= _AMOUNTS[kind]
                and (kind != "inspect" or ("stack" in self.labels and not SAME.search(shown)))
            )
            kinds = {next(fits, "") or self._kind_of_amount()} - {""}
        if kinds and kinds <= {"pins", "fruiting", "nothing"} and _NO_PINS.search(self.text):
            return {"nothing"}
        return kinds

    def _kind_of_amount(self) -> str:
        """Return the kind that an amount beside a stack can only be of, whatever words say it."""
        labels = self.labels & MEASURED
        if "stack" in self.labels and labels and labels <= {"depth", "litres"}:
            return "water"
        if "stack" in self.labels and labels == {"hours"} and HOURS.search(self.text):
            (hours,) = HOURS.findall(self.text)[:1]
            short = Phrase(f"{hours[0]} h").take_hours(bare=False) or 0.0
            return "water" if _MINUTES.search(self.text) or short < _SHORTEST_SOAK else "soak"
        return "cover" if not labels and _OVER.search(self.text) else ""

    @property
    def is_open(self) -> bool:
        """Whether it may turn what it or another tells."""
        doubt = is_doubted(_NO_PINS.sub(" ", self.text) if self.kinds == {"nothing"} else self.text)
        if not self.tells:
            return doubt and not may_be_aside(self.text, self.parts)
        shown = list(self.text)
        for mark in self.marks:
            shown[mark.start : mark.end] = ";" * (mark.end - mark.start)
        hidden = "".join(shown)
        left = self.kind != "inspect" and _MEASURE_LEFT.search(hidden)
        left = left or (self.kind != "inoculate" and UNKNOWN_NAME.search(hidden))
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
    def is_of_each_day(self) -> bool:
        """Whether one amount is of each of its days: 'Mon and Thu, 15 min each'."""
        return len(self.days) > 1 and _EACH.search(self.text) is not None

    @property
    def is_whole(self) -> bool:
        """Whether its record wants nothing more."""
        must = _MUST.get(self.kind, "")
        named = bool(self.labels & {"stack", "outlet"})
        return bool(self.kind) and named and (not must or must in self.labels)

    @property
    def is_dumped(self) -> bool:
        """Whether it says no more than where all of it went."""
        return _DUMPED.search(self.text) is not None and not self.labels

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
        if kinds == {"rain"} and self.stacks:
            kinds = {"water"}
        if kinds == {"move"} and _ROUND.search(self.text):
            kinds = {"turn"}
        if (
            kinds == {"inspect", "retire"}
            and _DEAD.search(self.text)
            and not _AWAY.search(self.text)
        ):
            kinds = {"inspect"}
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
        # A log weighs so much, and 'gives' nothing; what is off a stack is no log.
        light = light or not is_empty(self.rest) or _OFF.search(self.text) is not None
        return bool(self.stacks) and light and not _KEPT.search(self.rest)

    def is_told_again(self, groups: Sequence[Clause]) -> bool:
        """Whether each of its stacks stands in another part with an amount of its own."""
        later = {name for group in groups if group.amounts for name in group.stacks}
        return {*self.stacks} <= later

    def adds_nothing_to(self, other: Clause) -> bool:
        """Whether it says but whose and how much of what the part before it says."""
        own = {*left_words(SAME.sub(" ", self.rest))}
        if other.kind == "pins":
            own -= DESCRIBING
        return own <= {*left_words(other.rest)} or (
            self.labels <= {"number", "day"} and own <= {"all"}
        )

    def like(self, other: Clause) -> Clause:
        """Return it as of the kind of the part before, of which it says nothing else."""
        both = Clause(self.text, self.parts, other.kinds or {other.kind})
        seen = re.sub(r"\d+|\blogs?\b", "", " ".join(mark.text for mark in other.amounts))
        rest = f"{other.rest} {seen}" if other.kind == "inspect" else other.rest
        both.rest = rest if is_empty(both.rest) else f"{rest} {both.rest}"
        if SAME.search(self.text) and not both.amounts:
            both.rest, both.amounts = other.rest, other.amounts
        return both

    def joined(self, other: Clause) -> Clause | None:
        """Return both as one where the other adds to what this one tells; else nothing."""
        if self.stacks and other.stacks and self.stacks != other.stacks:
            return None
        told = len(once([*self.amounts, *other.amounts])) == len(self.amounts)
        if told and other.amounts and not (other.stacks or other.kinds or other.days):
            return self  # '6 mm ..., six millimetres I should say'
        if self.labels & other.labels & (MEASURED | {"day"}):
            return None
        both = Clause(f"{self.text}, {other.text}", self.parts, self.kinds | other.kinds)
        return both if both.kind or not both.kinds else None

    def _counted(self, kind: str) -> Iterator[Mark]:
        """Yield its amounts, bare numbers as logs where they can count nothing else."""
        for mark in self.amounts:
            after = self.text[mark.end :]
            if mark.label == "number" and kind in _COUNTING and _NO_NOUN.match(after):
                yield mark._replace(label="logs", text=f"{mark.text} logs")
            elif (kind == "inoculate" and is_of_others(mark, self.text)) or (
                kind == "sold" and mark.label == "number" and _TOTAL.search(self.text[: mark.start])
            ):
                continue
            elif not (kind == "pins" and _PINS.match(after)) and not (
                kind == "water" and mark.text.lower().startswith("over")
            ):
                yield mark

    def _weights(self) -> list[str]:
        """Return the weights picked, where several stand beside one stack; none if that is open.

        What the others add up to is all.
        """
        told = [mark for mark in self.amounts if mark.label == "weight"]
        kg = [Phrase(mark.text).take_weight() or 0.0 for mark in told]
        if {mark.label for mark in self.amounts} - {"weight"}:
            return []
        near = 0.02 * max(kg)
        nets = [told[0], told[-1]] if abs(sum(kg) - 2 * max(kg[0], kg[-1])) < near else []
        if len(kg) > 2 and nets:
            return [max(nets, key=lambda mark: kg[told.index(mark)]).text]
        between = [self.text[a.end : b.start] for a, b in itertools.pairwise(told)]
        listed = all(_AND_AGAIN.search(words) and not _OF_IT.search(words) for words in between)
        after = self.text[told[-1].end :]
        return [m.text for m in told] if listed and not _OF_IT.search(after) else []

    def records(self, day: str) -> Iterator[str]:
        """Yield its records in plain words; none where it is open what they are."""
        kind = self.kind
        counted = [*self._counted(kind)]
        labels = [mark.label for mark in counted]
        if kind == "pick" and len(self.stacks) == 1 and labels.count("weight") > 1:
            yield from (f"pick {self.stacks[0]} {weight} {day}" for weight in self._weights())
            return
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
            if not _FOUND.search(f"{self.rest} {amounts}"):
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
    return LOST.search(_NONE.sub(" ", text)) is not None
