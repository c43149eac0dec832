"""A clause told by its names and amounts, and by the kinds for which its words speak.

It is read only where all is asked about, so what is doubted or denied of other things is put aside.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Collection, Iterator, Sequence
from functools import cached_property

from fruitcast.diary.cues import (
    COUNTING,
    FRAMES,
    MEASURED,
    NO_PINS,
    agree,
    allowed,
    best_of,
    kinds_said,
    must_have,
    scores_of,
)
from fruitcast.diary.entries.kind import THIEVES
from fruitcast.diary.marks import Mark, Parts, covered, marks_in, of_label
from fruitcast.diary.not_done import doubts_in
from fruitcast.diary.pattern import pattern_of
from fruitcast.diary.phrases import DEPTH, LITRES, Phrase
from fruitcast.diary.plain_words import (
    DESCRIBING,
    UNKNOWN_NAME,
    WEEKDAY,
    is_empty,
    left_words,
    one_of,
)
from fruitcast.diary.spoken_kind import CLOCK, CLOCK_OF_TANK, HOUR
from fruitcast.yard.model import stack_of

# Its marks: names, amounts and days, but for clocks and what counts other things.


def lots_of_one(marks: Sequence[Mark]) -> list[str]:
    """Return the lots named, where they are two or more of one stack and no other is named."""
    names = dict.fromkeys(mark.text for mark in marks if mark.label == "stack")
    lots = [name for name in names if "/" in name]
    bases = {*map(stack_of, lots)}
    return lots if len(lots) > 1 and len(bases) == 1 and {*names} <= {*lots, *bases} else []


def counts_others(mark: Mark, text: str) -> bool:
    """Return whether a number counts what is none of the work: 'between 2 showers'."""
    return mark.label == "number" and _OTHER_NOUN.match(text, mark.end) is not None


_OTHER_NOUN = re.compile(
    r"\s+(?!(?:of|from|off|in|on|at|and|or|for|to|by|with|more|each|apiece|all|out|up|left|dead|went|had"
    r"|has|have|was|were|is|are|came|got|gone|sold|picked|the|weeks?|months?|days?|today|yesterday|tonight|this|last)\b)(?:[a-z]{3,}|cm\b)",
)


def once(marks: list[Mark]) -> list[Mark]:
    """Return amounts of which none is said twice: 'six mil, six millimetres'."""
    found: dict[tuple[str, ...], Mark] = {}
    told = [mark.text.strip() for mark in marks]
    if len({*told}) < len(told):  # '15 min this morning and 15 min tonight' are two
        return marks
    for mark in marks:
        if mark.label == "weight" and (kg := Phrase(mark.text).take_weight()):
            found.setdefault(("weight", f"{kg:.3g}"), mark)
            continue
        amount = re.search(r"(\d[\d./]*)\s*([a-z]?)", mark.text, re.IGNORECASE)
        found.setdefault((mark.label, *(amount.groups() if amount else (mark.text,))), mark)
    figures = {number for key in found if key[0] == "logs" for number in key[1:2]}
    return [mark for key, mark in found.items() if key[0] != "number" or key[1] not in figures]


def without_clock(text: str) -> str:
    """Return words with blanks in the place of the time of day."""
    for pattern in (CLOCK, HOUR, CLOCK_OF_TANK, _ABOUT_HOUR):
        text = pattern.sub(lambda found: " " * len(found[0]), text)
    return text


_ABOUT_HOUR = pattern_of(
    r"\b(?:at|by|from|since|around|about|before|after|till|until) (?:[1-9]|1[0-2])(?:-?ish)?"
    r"(?=\s*(?:$|[,;.](?!\d)|(?:at|in|on|and|we|i|the|then|with|sharp|while|when|so)\b))"
    r"|\b\d{1,2}-ish\b|\b(?:number|no\.?|nr|#) ?\d+\b"
)
"""'From 6', 'number 7': neither is an amount."""


def all_marks(text: str, parts: Parts) -> list[Mark]:
    """Return the marks in words, depths and litres too, but for the time of day."""
    text = without_clock(text)
    marks = [
        mark._replace(end=mark.start + len(mark.text.rstrip(".,;:")), text=mark.text.rstrip(".,;:"))
        if mark.label == "number"
        else mark
        for mark in marks_in(text, parts)
    ]
    marks = [mark for mark in marks if mark.text.lower() not in ("first", "second")]
    names = of_label(marks, "stack")
    more = [
        Mark(label, *found.span(), found[0])
        for label, pattern in (("depth", DEPTH), ("litres", LITRES))
        for found in pattern.finditer(text)
        if not (label == "depth" and (found[0].endswith("cm") or _INSIDE.match(text, found.end())))
        and not any(name.start <= found.start() < name.end for name in names)
    ]
    covered = [mark for mark in marks if not any(one.start <= mark.start < one.end for one in more)]
    return sorted([*covered, *more], key=lambda mark: mark.start)


_INSIDE = re.compile(r"(?<= in) (?:the (?!gauge)|an? |my |our |his |her |all\b|total|cash|[A-Z])")
"""'25 in the second' is no depth."""


def without_marks(text: str, marks: Sequence[Mark]) -> str:
    """Return words without marks of theirs."""
    kept, place = [], 0
    for mark in marks:
        kept.append(text[place : mark.start])
        place = mark.end
    return " ".join(" ".join([*kept, text[place:]]).split())


# What it tells.

LIGHT = frozenset(
    """
    not n't no never nothing nobody none don't didn't doesn't won't wouldn't couldn't shan't
    shouldn't can't cannot isn't aren't wasn't weren't hasn't haven't hadn't ain't will would could
    should shall might may must can want wants wanted need needs needed nearly almost did does do
    done doing get gets getting got make makes made try trying tried happen happened manage managed
    bother bothered work worked start started know knew tell say said see go went come came so but
    and as though anyway really quite just still him us who what why how yes well oh ah because
    since while when which before happen gone that think thought guess maybe perhaps probably sure
    wrong right mistake forgot forgotten mean meant really actually finished later tomorrow yet
    """.replace("'", "").split()
)
"""Words that say nothing of what else is denied or wished: it may be the record itself."""
_OPEN = one_of(
    rf"""
    nil | den(?:y|ied|ies) | pending | await\w* | fixing? | hypothe\w+ | refus\w+ | declin\w+
    pretend\w* | turned down | chang\w+ (?:\w+ )?mind | back in(?:to)?
    (?:asked|told|ordered|want|offer\w*|promis\w*) (?:\w+ )?to
    as (?:if|though) | versus | compared | plan\w* | idea | to-?do
    come (?={WEEKDAY})
    ahead of | first of (?:them|the)
    (?<!beside )(?<!with )(?<!like )(?<!to )(?<!by )the others?(?! (?:ends?|sides?|way)\b)
    same as | each other | share[ds]?
    half of | part of | rest of | per cent | (?:says?|claims?|reckons?|swears?) | dream\w*
    """
)
"""What may turn a meaning that is read in so loose a way."""
MILD = pattern_of(
    r"no|not|never|nothing|nobody|none|without|hardly|barely|(?!would|need|shan)\w+n't|could|can|should"
    r"|cannot|unable|missed|keep\w*|still (?:has|have)|is|are|was|were|when|where|what|how|who"
)
"""What says nothing of a record beside it that tells of no deed: '4 oz off N, hardly worth it'."""
_LOCAL = pattern_of(rf"{MILD.pattern}|\w+n't|would|must|want(?:s|ed)?|needs?|why|\w+'d|lets?")
"""What doubts no more than its own clause."""
BARE = pattern_of(
    r"\W*(?:will|shall|should|would|could|can|may|might|must|(?:did|does|was|were|has|have|had)"
    r"(?:n't| not))\b"
)
"""Who begins so doubts all that follows."""
_BREAKS_OFF = pattern_of(
    r"\b(?:not|never|no|nor|n't|did|didn't|done)\W*$|\bdo (?:it|that|them|this)\b"
)
_WHEN = pattern_of(r"^(?:because|cos|though|although|while|who|which|when|only)\b ")
PURPOSE = pattern_of(
    r"(?:just )?(?:in order )?to (?:keep|stop|save|protect|shelter)\b|don't\b"
    r"|(?:because|cos|as|since) (?:they|he|she|it|the|there|nobody|nothing)\b(?!.* (?:want|need))"
)
_BE = frozenset(("is", "are", "was", "were"))
_SEEN = frozenset(("inspect", "nothing", "pins"))
"""What may be looked for and not found."""
_UNREAD = pattern_of(
    r"\b(?:hours?|hrs?|minutes?|mins?|pounds?|lbs?|oz|ounces?|kilos?|kgs?|grams?|mm|inch(?:es)?|litres?"
    r"|gallons?|weeks?|months?|dozen|couple|few|several|half(?! (?:spin|turn))|quarter|third|most"
    r"|twice|double)\b"
)
"""An amount that nobody has read."""
NONE_ON = pattern_of(r"(?:but |and )?(?:none|nothing|not|nowt)\b(?!.*\byet\b)")
SAME = pattern_of(r"\b(?:same|ditto|likewise)\b")
_EACH = pattern_of(r"\b(?:each|both|every time)\b")
_TOTAL = pattern_of(r"\b(?:so|makes?|total|altogether|in all)\W*$|=\s*$")
_DEAD = pattern_of(r"\b(?:dead|died|goners?|had it|no life)\b")
_ARE_DEAD = pattern_of(r"\s*(?:(?:are|is|were|was|have|has) )?(?:dead|died|goners?|had it)\b")
_FOUND = pattern_of(
    r"\b(?:dead|died|goners?|had it|mou?ld\w*|trich\w*|bark|ends?|white|rot\w*|crack\w*|mycelium"
    r"|fung\w+|healthy|coloni[sz]\w+|spawn run|contaminat\w*|condition)\b"
)
_NO_NOUN = pattern_of(
    r"\s*(?:$|[,;.]|(?:goners?|duds?|rotten|in|on|of|out|from|off|more|fresh|new|dead|there|too|have|has|had)\b)"
)
_PINS = pattern_of(r" (?:\w+ )?(?:pins?|pin ?heads?|primordia|bumps|knobs|buttons|nubs)\b")
_FROM_NOW = pattern_of(r"(?:today|now|this )")
_THIEF = pattern_of(rf"\b({THIEVES}) (?:(?:had|has|have) )?(?:had|ate|eaten|got|took|taken)\b")
_TILL = pattern_of(r"\b(?:until|till?|up to)\b")
_UNTIL = pattern_of(r"\b(?:until|till?|up to) (?:the )?$")
_WEEKS = pattern_of(r" (week|month|day)(?:s'?|'s)?\b")
_KEPT = pattern_of(
    r"\b(?:packed|stored|fro[sz]en?|freez\w*|dried|drying|cook\w*|slic\w*|sort\w*|wash\w*|us(?:ed|ing)"
    r"|order\w*|deliver\w*|sen[dt]|gave away|given away|pinch\w*|nicked|stole\w*|lent|fed|made"
    r"|bought|spent|logs?|spawn|sawdust|\w*weigh\w*)\b|\bwent to\b|\bto go\b|\bput\b(?! down)"
)
"""What is done with mushrooms that may have been picked long before, or is weighed and none."""
_THEN = pattern_of(r"\b(?:pulled|popped|put|soaked|dunked|turned) (?:it|them)\b")
_TOOK_OUT = pattern_of(r"\b(?:took|taken|pulled|lifted|came)(?: \w+)? out\b")
_IN_ALL = pattern_of(r"\b(?:so|total\w*|makes?|all|\w*together|net|that's|left)\b|=")
_AND_AGAIN = pattern_of(r"\b(?:and|then|plus|another|again)\b|[,+&;]")
_OF_IT = pattern_of(
    r"\b(?:of|which|less|minus|or|not|no|that's|makes?|so|from|to|seconds|firsts|good|bad|was|were|is"
    r"|last|before|against|only)\b|%"
)
_BY_THEMSELVES = frozenset(("pins", "inspect", "cover", "uncover", "turn", "water", "pull"))
"""Kinds that are whole with a name."""


def _as_end(mark: Mark, text: str) -> Mark:
    """Return the day until which something lasts as an amount of it."""
    if mark.label == "day" and _UNTIL.search(text, 0, mark.start):
        return mark._replace(label="until", text=f"until {mark.text}")
    weeks = _WEEKS.match(text, mark.end) if mark.label == "number" else None
    return mark._replace(label="until", text=f"for {mark.text} {weeks[1]}s") if weeks else mark


class Clause:
    """A clause, or several of one record: its names and amounts, and what kinds it speaks for."""

    def __init__(
        self,
        text: str,
        parts: Parts,
        scores: dict[str, int] | None = None,
        said: Collection[str] | None = None,
    ) -> None:
        self.text, self.parts = text, parts
        self.said = kinds_said(text, parts) if said is None else said
        marks = all_marks(text, parts)
        marks = [mark for mark in marks if mark.text.strip().lower() != "now"]
        own = [mark for mark in marks if not counts_others(mark, text)]
        labels = {mark.label for mark in own}
        self.scores = scores_of(text, labels, self.said, parts) if scores is None else scores
        self.kind = best_of(self.scores)
        self.marks = marks if self.kind in COUNTING else own
        if self.kind == "hold":
            self.marks = [_as_end(mark, text) for mark in marks]
        self.labels = {mark.label for mark in self.marks}
        named = dict.fromkeys(mark.text for mark in of_label(self.marks, "stack"))
        bases = {stack_of(name) for name in named if "/" in name}  # of 'G, its lot G/2' the lot
        self.stacks = [name for name in named if name not in bases]
        self.amounts = once([m for m in self.marks if m.label not in ("stack", "day")])
        days = (m.text.strip().lower() for m in self.marks if m.label == "day")
        self.days = list(dict.fromkeys(re.sub(r"^(?:on|since) ", "", day) for day in days))
        self.rest = without_clock(without_marks(text, self.marks))

    def only(self, kinds: Collection[str]) -> None:
        """Let it speak for none but some kinds."""
        self.scores = {kind: points for kind, points in self.scores.items() if kind in kinds}
        self.kind = best_of(self.scores)

    @property
    def told(self) -> set[str]:
        """The kinds for which its words speak."""
        return {kind for kind, points in self.scores.items() if points >= 3}

    @property
    def is_told(self) -> bool:
        """Whether its words speak for a kind, and not its amounts alone."""
        return bool(self.told)

    @property
    def tells(self) -> bool:
        """Whether anything of a record is in it."""
        return bool(self.labels) or self.is_told

    def is_open(self, *, first: bool) -> bool:
        """Return whether it may turn what it or another tells."""
        if self._is_doubted(first=first):
            return True
        if not self.tells:
            return False
        hidden = covered(self.text, self.marks, lambda mark: ";")
        counted = self.labels and self.kind not in ("inspect", "hold")
        left = bool(counted and _UNREAD.search(hidden))
        left = left or (self.kind != "inoculate" and bool(UNKNOWN_NAME.search(hidden)))
        joint = any(self.text[m.start] == "n" == m.text.lower() for m in self.marks)
        return bool(_OPEN.search(hidden) or "%" in hidden or left or joint)

    @cached_property
    def doubts(self) -> list[str]:
        """Words that doubt or deny more than a thing that is none of the work."""
        if PURPOSE.match(self.text) and not (self.labels or self.is_told or self._is_light):
            return []
        text = NO_PINS.sub(" ", self.text) if self.kind == "nothing" else self.text
        text = _WHEN.sub("", NONE_ON.sub(" ", text, 1) if self.kind == "nothing" else text)
        return [d[0].strip() for d in doubts_in(text) if not self._is_beside(d, text)]

    def _is_doubted(self, *, first: bool) -> bool:
        """Return whether a doubt in it may be of the record: of its deed or amount, or of all."""
        doubts = [d for d in self.doubts if first or d.lower() not in _BE]
        if not doubts:
            return False
        if BARE.match(self.text) or _BREAKS_OFF.search(self.text):
            return True
        if _UNREAD.search(self.text) or self.labels - {"stack", "day", "outlet"}:
            return True
        if self.told - {"sold", "discard"}:
            return True
        return self._is_light or not all(map(_LOCAL.fullmatch, doubts))

    @property
    def _is_light(self) -> bool:
        """Whether its words say nothing of what else is denied or wished."""
        return not {word.replace("'", "") for word in left_words(self.text)} - LIGHT

    def without_doubts(self) -> Clause:
        """Return it with no more than its names and days, where it doubts something else."""
        if not doubts_in(self.text) or self.kind == "nothing":
            return self
        said = {self.kind: 9} if self.labels - {"stack", "day"} else {}
        kept = " ".join(self.text[mark.start : mark.end] for mark in self.marks)
        return self if said else Clause(kept, self.parts, {})

    def _is_beside(self, doubt: re.Match[str], text: str) -> bool:
        """Return whether a denial is of a thing that is none of the work: 'no word for it'."""
        if doubt[0].lower() not in ("no", "not", "without"):
            return False
        behind = re.match(
            r"(?: (?:an?|one|any|single|other|more|real))* ([a-z]{3,})\b", text[doubt.end() :]
        )
        noun = behind[1] if behind else ""
        if noun in ("rain", "dew", "wind", "sun"):
            return True
        if (
            not noun
            or noun in LIGHT
            or (doubt[0].lower() == "not" and behind and behind[0] == f" {noun}")
        ):
            return False
        told = Clause(noun, self.parts).told
        return not told or (not self.labels and told <= _SEEN)

    @property
    def is_of_each_day(self) -> bool:
        """Whether one amount is of each of its days: 'Mon and Thu, 15 min each'."""
        return len(self.days) > 1 and _EACH.search(self.text) is not None

    @property
    def is_whole(self) -> bool:
        """Whether its record wants nothing more."""
        named = bool(self.labels & {"stack", "outlet"})
        return bool(self.kind) and named and must_have(self.kind) <= self.labels

    @property
    def is_day(self) -> bool:
        """Whether it is a day alone."""
        return self.labels == {"day"} and is_empty(self.rest)

    @property
    def day_is_ahead(self) -> bool:
        """Whether its day stands before its amounts, or before the names of all else."""
        starts = [m.start for m in self.marks if m.label == "day"]
        others = [m.start for m in self.amounts] or [
            m.start for m in self.marks if m.label == "stack"
        ]
        return bool(starts) and (not others or starts[0] < others[0])

    def adds_nothing_to(self, other: Clause) -> bool:
        """Whether it says but whose and how much of what the part before it says."""
        own = {*left_words(SAME.sub(" ", self.rest))}
        own -= DESCRIBING if other.kind == "pins" else set()
        same = {*left_words(other.rest)}
        return own <= same or (self.labels <= {"number", "day"} and own <= {"all"})

    def like(self, other: Clause) -> Clause:
        """Return it as of the kind of another, of which it says nothing else."""
        both = Clause(self.text, self.parts, {other.kind: 9})
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
        if told and other.amounts and not (other.stacks or other.is_told or other.days):
            return self  # '6 mm ..., six millimetres I should say'
        if self.labels & other.labels & (MEASURED | {"number", "outlet", "day"}):
            return None
        text = f"{self.text}, {other.text}"
        if self.told and other.told and not agree(self.told, other.told):
            return None
        if "turn" in self.told and "inspect" in other.told and other.labels:
            return None
        apart = self.kind in _BY_THEMSELVES and self.is_whole and not other.stacks
        if apart and self.told and not other.labels & MEASURED <= allowed(self.kind):
            return None  # 'B is pinning, took 600 g off it'
        both = Clause(text, self.parts, said={*self.said, *other.said})
        return both if both.kind or not both.is_told else None

    def records(self, day: str) -> Iterator[str]:
        """Yield its records in plain words; none where it is open what they are."""
        kind = self.kind
        counted = [*self._counted(kind)]
        labels = [mark.label for mark in counted]
        if kind == "pick" and len(self.stacks) == 1 and labels.count("weight") > 1:
            yield from (f"pick {self.stacks[0]} {weight} {day}" for weight in self._weights())
            return
        if kind not in FRAMES or not {*labels} <= allowed(kind):
            return
        if len({*labels}) != len(labels) or not must_have(kind) <= {*labels}:
            return
        if not self.stacks and kind not in ("sold", "inoculate", "discard"):
            return
        more = {"pick": _THEN, "weigh": _TOOK_OUT}.get(kind)
        if (more and more.search(self.rest)) or (
            len(self.stacks) > 1 and {*labels} & {"weight", "logs"}
        ):
            return
        if kind == "pick" and not self.is_told and _KEPT.search(self.rest):
            return
        if (
            kind == "hold"
            and day
            and "until for" in " ".join(m.label + " " + m.text for m in counted)
        ):
            return  # so long from when?
        if kind == "sold":
            counted.sort(key=lambda mark: ("weight", "grade", "outlet", "money").index(mark.label))
        after = "after " if kind == "pull" and "hours" in labels else ""
        amounts = after + " ".join(mark.text for mark in counted)
        if kind == "inspect":
            dead = any(_DEAD.search(m.text) or _ARE_DEAD.match(self.text, m.end) for m in counted)
            if not (amounts := _seen(self.rest, amounts, dead=dead)):
                return
        if kind == "discard" and self.stacks and (thief := _THIEF.search(self.text)):
            yield f"pick {self.stacks[0]} {amounts} lost to {thief[1]} {day}"
            return
        source = "from " if kind == "discard" and self.stacks else ""
        if kind == "hold" and "until" not in labels and _TILL.search(self.text):
            return  # until when is not read
        if kind == "hold" and ("until" in labels or _FROM_NOW.match(day)):
            day = ""
        since = "since " if kind == "hold" and day else ""
        for name in self.stacks or [""]:
            yield " ".join(f"{kind} {source}{name} {amounts} {since}{day}".split())

    def _counted(self, kind: str) -> Iterator[Mark]:
        """Yield its amounts, bare numbers as logs where they can count nothing else."""
        for mark in self.amounts:
            after = self.text[mark.end :]
            if mark.label == "number" and kind in COUNTING and _NO_NOUN.match(after):
                yield mark._replace(label="logs", text=f"{mark.text} logs")
            elif (kind == "inoculate" and counts_others(mark, self.text)) or (
                kind == "sold" and mark.label == "number" and _TOTAL.search(self.text[: mark.start])
            ):
                continue
            elif mark.label == "number" and mark.text == str(len(self.stacks)) != "1":
                continue  # 'all 3 are out, A, E and K'
            elif mark.text == "1" and "weight" in self.labels and after.startswith(" from the "):
                continue  # 'a quick one from the yard'
            elif not (kind == "pins" and _PINS.match(after)) and not (
                kind == "water" and mark.text.lower().startswith("over")
            ):
                yield mark

    def _weights(self) -> list[str]:
        """Return the weights picked, where several stand beside one stack; none if that is open.

        What the others add up to is all.
        """
        told = of_label(self.amounts, "weight")
        kg = [Phrase(mark.text).take_weight() or 0.0 for mark in told]
        if {mark.label for mark in self.amounts} - {"weight"}:
            return []
        near = 0.02 * max(kg)
        nets = [told[0], told[-1]] if abs(sum(kg) - 2 * max(kg[0], kg[-1])) < near else []
        if len(kg) > 2 and nets and _IN_ALL.search(self.text):
            return [max(nets, key=lambda mark: kg[told.index(mark)]).text]
        between = [self.text[a.end : b.start] for a, b in itertools.pairwise(told)]
        listed = all(_AND_AGAIN.search(words) and not _OF_IT.search(words) for words in between)
        after = self.text[told[-1].end :]
        return [m.text for m in told] if listed and not _OF_IT.search(after) else []


_STAIN = pattern_of(
    r"\b(?:green|black|orange|grey) (?:stuff|fuzz|fur|patch\w*|spots?|slime|growth)\b"
)
"""What is asked about as a mould."""


def _seen(found: str, counted: str, *, dead: bool) -> str:
    """Return what was found on how many logs, as an inspection is written."""
    found = _STAIN.sub("mould", found)
    if not _FOUND.search(f"{found} {counted}"):
        return ""
    number = "".join(re.findall(r"\d+", counted))
    if not number:
        return found
    more = _DEAD.sub(" ", found)
    if _FOUND.search(more) and not dead and _DEAD.search(found):
        return ""  # of which is it the number?
    if not _DEAD.search(f"{found} {counted}"):
        return f"{found} {re.sub(r'[0-9]+|logs?', '', counted).strip()} on {number} logs"
    return f"{number} dead logs{f', {more}' if _FOUND.search(more) else ''}"
