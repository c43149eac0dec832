"""The readings of what was refused: nearly as it stands, without harmless doubts, last guessed.

What comes of them is never taken silently: it is asked about, with what was left aside. Every name,
amount and day that was told must be in the records.

In a guess, whose and how much is told by names and amounts; what was done by words that speak for a
kind, each with its weight, and by what amounts that kind can have. The best kind must win clearly
and every name, amount and day must have its place; all else is the grower's way to say it and stays
a note. 'My mother, as spry as ever, filled two baskets from P on Tuesday, 3.6 kilos by the kitchen
scale' can be but one pick, in whatever order.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from fruitcast.diary.asides import without_beside
from fruitcast.diary.clause import (
    BARE,
    LIGHT,
    MILD,
    NONE_ON,
    PURPOSE,
    SAME,
    Clause,
    all_marks,
    lots_of_one,
)
from fruitcast.diary.cues import MEASURED, allowed, is_denied, is_lost, must_have
from fruitcast.diary.entries.kind import STACK
from fruitcast.diary.events import HOLD, LOTS, PULL, SOAK, Event
from fruitcast.diary.marks import (
    Mark,
    Parts,
    any_name,
    covered,
    marks_in,
    of_label,
    stacks_in,
    with_names,
)
from fruitcast.diary.not_done import is_doubted
from fruitcast.diary.pattern import pattern_of
from fruitcast.diary.phrases import DAY, HOURS, MONEY, WEIGHT, Phrase, vague_day
from fruitcast.diary.plain_words import ORDINARY, is_empty, plainly
from fruitcast.diary.slips import mended
from fruitcast.diary.spoken_kind import CLOCK, CLOCK_OF_TANK, HOUR
from fruitcast.yard.model import stack_of

TOLD_AS_DONE = pattern_of(
    r"\b(?:[a-z]{2,}ed|(?:i|we|i've|we've|have|has) (?:just )?(?:put|cut|set|let)|laid|hung|drew"
    r"|gave|went|took|got|had|came|did|sold|bought|paid|brought|threw|made|found|saw|was|were|is|are|has|bore|ran"
    r"|taken"
    rf"|yesterday|last (?:night|evening)|this (?:morning|afternoon)|ago|{STACK}'s)\b|'s\b"
)
"""What is told as done."""
_CLAUSE = pattern_of(
    rf"\s*[;:](?!\d)\s*|(?<!{STACK})\s*,(?!\d)\s*"
    rf"|\s*,(?!\d|\s*{STACK}+\s*(?:,|&|and\b))\s*"
    r"|\s+-+\s+|(?<=\w\w)[.!]+\s+"
    rf"|\s+(?:and|(?<!been )(?<!was )(?<!is )(?<!are )so|then|&|\+)\s+(?![\d{STACK}])|,?\s+but\s+"
    r"|(?<!\bi)(?<!\bwe)(?<!\bhe)(?<!\bshe)(?<!\bthey)\s+(?=couldn't\b)"
    r"|\s+(?=(?:as|since) (?:they|he|she|it|the|there|nobody|nothing)\b)"
    r"|\s+(?=(?:because|cos|though|although|while|who|which|when|only(?= (?:my|the|it|they)\b)"
    r"|(?:just )?(?:in order )?to (?:keep|stop|save|protect|shelter)"
    r"|that (?:i|we|he|she)(?:'d| had))\b)"
)
_ENDS_IN_DOUBT = pattern_of(r"(?:\b(?:not|never)|n't)\W*$")
_TOOK = pattern_of(r"(?:it |which )?(?:took|taking|spent)\b")
_BUYS = pattern_of(r" (?:had|has|took|bought|paid|gave|got)\b")
_REST = pattern_of(r"\bthe rest (?:was|were|is|got)\b|\w+ the rest\b")
_OF_THEM = pattern_of(r"\bof (?:it|them|those|that|these)\b")
_SEVERAL = pattern_of(r"\b[2-9] (?:waterings?|pick(?:ing)?s?|soaks?|goes|rounds?)\b.*\beach\b")
_ALL_OF_IT = pattern_of(r"\b(?:the (?:whole )?lot|all of (?:it|them)|(?:it|them) all)\b")
_OFF = pattern_of(r"(?:and )?off\b")
_ON = pattern_of(r"(?:and )?(?:back )?on\b")
_WEAK = frozenset(("weigh", "sold", "pick", "inoculate"))
"""Kinds that are none without a name or an amount."""
_ASIDE = frozenset(("nothing", "fruiting", "pins", "inspect", "water"))
"""Kinds of which a mere mention without a name is a remark."""


class Reading(NamedTuple):
    """One way to read a sentence: parts, each read by itself, and what is left aside."""

    parts: tuple[str, ...]
    aside: tuple[str, ...] = ()
    note: str = ""


def readings(text: str, parts: Parts) -> Iterator[Reading]:
    """Yield the ways to read a sentence, the nearest to its words first."""
    yield Reading((text,))
    plain = plainly(text)
    if (sure := without_beside(plain)) != plain:
        yield Reading((sure,), (), text)
    yield from guesses(text, parts)


def guesses(text: str, parts: Parts) -> Iterator[Reading]:
    """Yield the reading of a sentence by its cues, if there is one that is clear."""
    plain = with_plain_amounts(text, parts)
    first, _, then = plain.partition(", then ")
    if apart := lots_told(first, parts):
        rest = next(guesses(then, parts), Reading(())).parts if then else ()
        if rest or not then:
            yield Reading((apart, *rest), (), text)
            return
    week = vague_day(plain).lower() == "this week"  # no vague day where each part tells its own
    plain = re.sub(r"\bthis week\b", " ", plain, flags=re.IGNORECASE) if week else plain
    plain = without_beside(plain)
    plain = _without_article(plain, parts)
    clauses = [Clause(words, parts) for words in _clauses(plain, parts)]
    told = {label for clause in clauses for label in clause.labels}
    told |= {"logs"} if "number" in told else set()
    for clause in clauses:  # no kind of which an amount is told nowhere
        clause.only({kind for kind in clause.scores if must_have(kind) <= told})
    for before, clause in itertools.pairwise(clauses):
        if clause.stacks and NONE_ON.match(clause.text):
            if before.kind == "inspect" and is_denied(before.text):
                clause.rest, clause.doubts = before.rest, []  # 'no mould on C, none on F'
            elif before.kind != "pins":
                return  # of what there was none there
            clause.kind = "nothing" if before.kind == "pins" else "inspect"
            clause.scores = {clause.kind: 9}
    if _ENDS_IN_DOUBT.search(text) or _SEVERAL.search(plain) or BARE.match(plain):
        return
    if vague_day(", ".join(one.text for one in clauses if not PURPOSE.match(one.text))):
        return
    if any(clause.is_open(first=clause is clauses[0]) for clause in clauses):
        return
    sure = any(clause.tells and TOLD_AS_DONE.search(clause.text) for clause in clauses)
    if not (sure or all(MILD.fullmatch(doubt) for clause in clauses for doubt in clause.doubts)):
        return
    clauses = [clause.without_doubts() for clause in clauses]
    groups = _groups(clauses)
    if _REST.search(plain) and any(group.kind == "discard" for group in groups):
        return  # 'ate 1 lb and dried the rest' may be two
    if week and not all(group.days for group in groups if group.labels - {"stack"}):
        return
    if week and any(group.kind == "nothing" for group in groups):
        return
    if said := _records(groups):
        yield Reading(tuple(said), (), text)


def _without_article(text: str, parts: Parts) -> str:
    """Return a sentence in which 'A mate helped' names no stack A, where it names another."""
    word = re.match(r"A ([a-z]{3,}) ", text)
    if not word or word[1] in ORDINARY | LIGHT or Clause(word[1], parts).scores:
        return text
    return f"a{text[1:]}" if stacks_in(text[2:], parts.stacks) else text


def _groups(clauses: Sequence[Clause]) -> list[Clause]:
    """Return clauses that tell something, those of one record as one."""
    groups: list[Clause] = []
    listed = sum(bool(clause.stacks and not clause.is_told) for clause in clauses) > 1
    ahead = bool(clauses) and clauses[0].is_day
    for clause in clauses:
        last = groups[-1] if groups else None
        if not clause.tells:
            continue
        if ahead and clause.is_day:
            groups.append(clause)  # '24 May: F 1 lb. 25 May: F 10 oz'
            continue
        if clause.labels == {"hours"} and _TOOK.match(clause.text):
            continue  # how long the work took
        if clause.labels <= {"day"} and clause.kind in _WEAK and last and last.is_whole:
            clause.scores, clause.kind = {}, ""  # 'the fridge tripped on Sunday'
            if not clause.labels:
                continue
        if (
            last
            and len(groups) > 1
            and not (clause.labels or last.told or last.labels == {"stack"})
            and clause.kind in _ASIDE
        ):
            continue  # '3 out of B and 2 out of C, too rotten to lift'
        if last and not clause.told and clause.labels == {"stack"}:
            for pattern, kind in ((_OFF, "uncover"), (_ON, "cover")):
                if last.kind in ("cover", "uncover") and pattern.match(clause.text):
                    clause.scores, clause.kind = {kind: 9}, kind  # 'tarps on B, off F'
        if last and last.labels == {"stack"} and clause.stacks and is_empty(last.rest):
            named = Clause(f"{last.text}, {clause.text}", clause.parts)  # 'B, C, N each got ...'
            if named.kind == clause.kind:
                groups.pop()
                clause, last = named, None
        apart = listed and clause.stacks and not (clause.is_told or (last and last.is_day))
        sold = "outlet" in clause.labels and _ALL_OF_IT.search(clause.text)
        if last and not (apart or sold) and (both := last.joined(clause)):
            groups[-1] = both
        elif not (last and last.kind and not clause.labels and clause.kind in _ASIDE):
            groups.append(clause)
    alone = len(WEIGHT.findall(" ".join(clause.text for clause in clauses))) == 1
    amounts = {label for group in groups for label in group.labels & MEASURED}
    if len(groups) > 1 and groups[0].labels <= {"day"} and not amounts <= allowed(groups[0].kind):
        groups[0].scores, groups[0].kind = {}, ""  # 'out at dawn today: ...'
    for group in groups:
        lost = any(is_lost(c.text) for c in clauses if "weight" not in c.labels)
        lost = lost and (alone or not group.is_told)
        if group.kind == "pick" and lost and group.labels.isdisjoint(("outlet", "money")):
            group.kind = "discard"
    return groups


def _records(groups: Sequence[Clause]) -> list[str]:
    """Return the records of parts in plain words; none where any of them is open."""
    if (days := _days(groups)) is None:
        return []
    said, last = list[str](), None
    topic = groups[0] if _is_topic(groups) else None
    weighed = [mark for group in groups for mark in group.amounts if mark.label == "weight"]
    named = {name for group in groups if group.amounts for name in group.stacks}
    for group, day in zip(groups, days, strict=True):
        if group is topic:
            last = group
            continue
        same = SAME.search(group.text)
        if not group.is_told and group.labels <= {"day"} and not same:  # "Sunday's crop: ..."
            if group is groups[0] or group.days == ["now"]:
                continue
            return []
        if not group.is_told and group.labels == {"stack"} and {*group.stacks} <= named:
            continue  # each is told again, with an amount
        if len(weighed) == 1 and "outlet" in group.labels and "weight" not in group.labels:
            if not _ALL_OF_IT.search(group.text):
                return []
            group.kind = "sold"
            group.amounts += weighed
        if not (group.kind and (group.is_told or last is None)):
            of = topic or last or next((later for later in groups if later.kind), None)
            if of and (topic or group.adds_nothing_to(of)):
                group = group.like(of)
        if not group.kind:
            return []
        if not group.stacks and last and group.kind != "inoculate":
            group.stacks = last.stacks
        records = [
            record
            for own in (group.days if group.is_of_each_day else [day])
            for record in group.records(own)
        ]
        of_it = last and last.kind == group.kind and _OF_THEM.search(group.text)
        if of_it or not records:
            return []
        said += records
        last = group
    return said


def _is_topic(groups: Sequence[Clause]) -> bool:
    """Return whether the first part says what all the others are of: 'dead logs: N 1, P 2'."""
    if len(groups) < 2 or not groups[0].kind or groups[0].stacks:
        return False
    counts = [
        [float(number) for m in group.amounts for number in re.findall(r"^\d+(?:\.\d+)?", m.text)]
        for group in groups
    ]
    in_all = len(counts[0]) == 1 and counts[0][0] == sum(map(sum, counts[1:]))
    return not groups[0].labels - {"day"} or in_all


def _days(groups: Sequence[Clause]) -> list[str] | None:
    """Return the day of each part; None where it is open which is whose."""
    days = [[] if group.is_of_each_day else group.days for group in groups]
    if any(len(own) > 1 for own in days):
        return None
    told = [own[0] if own else "" for own in days]
    if all(told) or not any(told):
        return told
    ahead = {group.day_is_ahead for group in groups if group.days}
    if told[0] and ahead == {True}:  # of each that follows it
        return _filled(told)
    first = next(number for number, day in enumerate(told) if day)
    if all(told[first:]) and ahead == {False}:  # of each ahead of it
        return _filled(told[::-1])[::-1]
    return told if all(day in ("", "today", "this morning") for day in told) else None


def _filled(days: Sequence[str]) -> list[str]:
    """Return days of which each that is not told is the one before it."""
    found = [*days[:1]]
    for day in days[1:]:
        found.append(day or found[-1])
    return found


def _clauses(text: str, parts: Parts) -> list[str]:
    """Return the clauses of a sentence; no name or amount is cut."""

    def sign(mark: Mark) -> str:
        buys = mark.label == "outlet" and _BUYS.match(text, mark.end)
        return STACK if mark.label == "stack" else "y" if buys else "0"

    place, found = 0, []
    for cut in _CLAUSE.finditer(covered(text, all_marks(text, parts), sign)):
        found += _pairs(text[place : cut.start()], parts)
        place = cut.end()
    return [words for words in (*found, *_pairs(text[place:], parts)) if words.strip()]


def _pairs(text: str, parts: Parts) -> list[str]:
    """Return words parted where each of several stacks has its own amount or day."""
    marks = all_marks(text, parts)
    for label in ("weight", "logs", "hours", "depth", "number", "day"):
        both = [
            mark._replace(label=label) if label == "logs" and mark.label == "number" else mark
            for mark in marks
        ]
        both = of_label(both, "stack", label)
        half = len(both) // 2
        order = [mark.label for mark in both]
        if half > 1 and order in (["stack", label] * half, [label, "stack"] * half):
            starts = [0, *(mark.start for mark in both[2::2]), len(text)]
            pieces = [text[a:b] for a, b in itertools.pairwise(starts)]
            lost = label == "weight" and is_lost(pieces[-1])
            return [f"{piece} lost" if lost and not is_lost(piece) else piece for piece in pieces]
    return [text]


_NO_MORE = pattern_of(r"\bno (?:more|longer)\b|\bkeeping\b")
_INTO = pattern_of(
    r"\b(?:split|part(?:ed)?|divid\w+|halv\w+|broke|cut|made|separat\w+)\b[^,;.]* (?:into|in) "
    r"(?:(?P<into>[2-9])(?: (?:lots|parts)\b|(?=\s*(?:$|[,;.])))|halves|half|2\b|two)"
    r"|\b(?:is|run|now) (?:run )?(?:as|in) (?P<run>[2-9]) (?:lots|parts)\b|\bhalved\b"
    r"|\bmade (?P<made>[2-9]) lots of\b"
)
_PARTED = pattern_of(
    r"\b(?:split\w*|part(?:ed|ing)?|divid\w+|halv\w+|broke\w*|cut|cleft|in two|into 2"
    r"|(?:two|2) lots|apart|now|separat\w+|lot of (?:its|their) own)\b"
)
_MERGED = pattern_of(
    r"\b(?:(?:put|come|brought|all|back|stuck) (?:back )?together|join\w*|merg\w*|reunited"
    r"|combin\w+"
    r"|consolidat\w+|united|(?:one|single|whole) (?:stack|pile|lot|again)|back (?:as|into?))\b"
)


def lots_told(text: str, parts: Parts) -> str:
    """Return how a stack is parted into lots, or is one again, where a sentence tells but that."""
    marks = all_marks(text, parts)
    days = [mark.text for mark in marks if mark.label == "day" and "2th" not in mark.text]
    days = [day for day in days if day.strip().lower() != "now"]
    lots = lots_of_one(marks)
    merged = _MERGED.search(text)
    if not lots and merged and len({m.text for m in marks if m.label == "stack"}) == 1:
        base = next(m.text for m in marks if m.label == "stack")
        lots = [name for name in parts.stacks if name.startswith(f"{base}/")]
    told = {mark.label for mark in marks} - {"stack", "day", "logs", "number"}
    if not lots and not merged and len(days) < 2 and (into := _INTO.search(text)):
        (*names, _) = (*dict.fromkeys(m.text for m in marks if m.label == "stack"), "")
        if len(names) == 1 and "/" not in names[0] and not (told or is_doubted(text)):
            count = into["into"] or into["run"] or into["made"] or 2
            return f"lots {names[0]} {count} {' '.join(days)}".strip()
    if len(lots) < 2 or told or len(days) > 1 or is_doubted(_NO_MORE.sub(" ", text)):
        return ""
    if not (merged or _PARTED.search(text)):
        return ""
    base = stack_of(lots[0])
    if not merged:
        return f"lots {base} {len(lots)} {' '.join(days)}".strip()
    return f"merge {', '.join(lots[:-1])} and {lots[-1]} {' '.join(days)}".strip()


_OF_LOGS = pattern_of(
    r"\b(?:on )?\d+ (?:\w+ ){0,2}logs?\b|water for [\d.]+ (?:h|min)\b"
    r"|after \d+ ?h\w*|one crate of .*"
)
"""What a note may say in figures."""


def uses_all(text: str, events: Sequence[Event], parts: Parts) -> bool:
    """Return whether records use every stack, outlet, amount and day that a sentence names."""
    marks = marks_in(plainly(text), parts)
    named = {mark.text for mark in marks if mark.label == "stack"}
    told = {name for event in events for name in (event.stack, event.into)}
    told |= {
        name
        for event in events
        for name in parts.stacks
        if event.kind == LOTS and not event.into.isdigit() and name.startswith(f"{event.stack}/")
    }
    told |= {
        f"{event.stack}/{number}"
        for event in events
        if event.kind == LOTS and event.into.isdigit()
        for number in range(1, int(event.into) + 1)
    }
    if not named <= told.union(map(stack_of, told)) or not all(
        name in told or any(name in event.note for event in events) for name in named
    ):
        return False
    outlets = {mark.text for mark in marks if mark.label == "outlet"}
    if not outlets <= {event.outlet for event in events}:
        return False
    money = any(mark.label == "money" for mark in marks)
    if money and not any(event.paid for event in events) and MONEY.search(text):
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
    bases = [stack_of(lot) for lot in dict.fromkeys(lots)]
    lots = [lot for lot in lots if bases.count(stack_of(lot)) > 1]
    return parts._replace(stacks=tuple(dict.fromkeys((*parts.stacks, *lots))))


# Amounts told in several steps, put as one: '900 g in the one and 750 g in the other'.

_BRACKETS = re.compile(r"\([^()\d]*\)")
_TWICE = pattern_of(r"\b(?:twice|both times)\b")
_SAME_MOMENT = pattern_of(r"\b(?:at )?the same (?:minute|moment|instant|time)\b")
_AND_OTHER = pattern_of(
    r" in (?:the )?(?:one|1|first)(?: (?:basket|tray|crate|box|bag))?,? (?=(?:and|then|,)? ?\d)"
    r"| in (?:the )?(?:other|second|next)(?: (?:basket|tray|crate|box|bag))?\b"
)
_DAY_ONE = pattern_of(r"\bday (?:one|two|three|[1-3])\b:?")
_TARE = pattern_of(
    r"\b(?:basket|crate|box|tray|bucket|tub|bag|bowl)s?\b.*"
    r"\b(?:itself|alone|empty|less|minus|take off|without|so|leav\w+|net)\b|\b(?:tare|net)\b"
)
_FROM_TILL = pattern_of(
    r"\b(?:from )?(\d{1,2})(?:[:.](\d\d))?(?: ?[ap]m)? (?:till|until|to) (\d{1,2})"
    r"(?:[:.](\d\d))?(?: ?[ap]m)?\b(?! ?(?:h|min|kg|g|lb|oz|logs?|mm)\b)(?![./]\d)"
)
_UNIT_ALONE = pattern_of(
    r"(?:[,(]\s*|\s(?=all |both ))(?:all |both |in |they're |it's |its )*"
    r"(?P<unit>kgs?|kilos?|lbs?|pounds?|oz|ounces?|g|grams?|min(?:ute)?s?|hours?|dollars?|quid|euros?"
    r"|mm)(?: (?:that|it|they|those) (?:is|are)| all| both| each)?\s*(?:\)|$|(?=[,.]))"
)
_AS_MONEY = pattern_of(r"\bfor (\d+(?:\.\d\d)?)(?=\s*(?:$|[,;.](?!\d)|the (?:lot|both)))")


_RATHER = pattern_of(
    r"[\s,;-]*\b(?:(?:no|wait|er|um|oh),? )*(?:no,? wait|wait,? no|make (?:that|it)|sorry"
    r"|correction|or rather|i mean|scrub that|scratch that),?:? (?:it'?s |it was )?"
    rf"(?={WEIGHT.pattern})"
)


_POUNDS = pattern_of(r"\b(\d+) pounds? (?=for (?:the|them|it|both))")
_BAGS = pattern_of(r"\b(\d+) (half|quarter)[- ](kilo|pound|lb)s?\b")
_EACH = pattern_of(
    r"\b(\d+) (?:[a-z]+ )?(?:bags?|punnets?|boxes|trays?|crates?|baskets?|tubs?|packs?)"
    r"(?: of|,| at)? (\d+(?:\.\d+)?) ?(k?g|kilos?|grams?|lbs?|pounds?|oz|ounces?)"
    r"(?: each| apiece| a \w+)\b"
)
_ONE_DEAD = pattern_of(r"\b(?:an?|one|1) dead '?(?:un|one)\b")
_PIECES = pattern_of(r"\b(\d+) (?:pieces|billets|bolts)\b")
_AND_A_BIT = pattern_of(
    r"(?:\b(?:nigh on|near(?:ly)?|almost|just (?:over|under)|around|about) )?"
    r"\b\d+ (kilo|kg|pound|lb)s?(?:,? (?:and a bit|or so|odd))?,? (\d+\.\d+)(?! ?(?:k|g|l|o))\b"
)


def with_plain_amounts(text: str, parts: Parts) -> str:
    """Return a sentence put plainly: slips mended, a unit beside each number, net weights alone."""
    text = re.sub(r"(?<=[A-Za-z\d])\.\s+(?=[A-Z\d])", "; ", text)
    text = with_names(_DAY_ONE.sub(" ", _AND_OTHER.sub(" ", plainly(text))), parts.stacks)
    text = re.sub(
        rf"\b(\d+ [a-z]+) (?-i:({any_name(parts.stacks)})) logs\b", r"\1 logs of \2", text
    )
    text = re.sub(r"([£$€]\d+(?:\.\d+)?) for (?=\d)", r"\1, ", text)
    text = _with_last_weight(_AND_A_BIT.sub(r"\2 \1", text))
    text = _BAGS.sub(lambda bag: f"{int(bag[1]) / (2 if bag[2] == 'half' else 4):g} {bag[3]}", text)
    text = _EACH.sub(lambda bag: f"{int(bag[1]) * float(bag[2]):g} {bag[3]}", text)
    text = _PIECES.sub(r"\1 logs", text)
    text = _ONE_DEAD.sub("1 dead log", text)
    text = _FROM_TILL.sub(" " if HOURS.search(text) else _lasting, text)
    text = _with_unit(text, parts)
    text, _ = mended(
        _SAME_MOMENT.sub(" ", _BRACKETS.sub(" ", text)), (*parts.stacks, *parts.outlets)
    )
    text = _net(text)
    if len(WEIGHT.findall(text)) == 2 and _TWICE.search(text):
        text = re.sub(r" and (?=\d)", ", ", _TWICE.sub(" ", text))
    labels = {mark.label for mark in all_marks(text, parts)}
    if labels >= {"outlet", "weight"}:
        text = _POUNDS.sub(r"\1 quid ", _AS_MONEY.sub(r"for \1 quid", text))
    return re.sub(r"\b(?:a single|one)(?= (?:in|on|at) [A-Z])", "1 log", text)


def _with_last_weight(text: str) -> str:
    """Return a sentence in which a weight that was put right is the one that counts."""
    found = _RATHER.search(text)
    before = [*WEIGHT.finditer(text, 0, found.start())] if found else []
    if not found or len(before) != 1:
        return text
    return (
        f"{text[: before[0].start()]}{text[before[0].end() : found.start()]} {text[found.end() :]}"
    )


def _net(text: str) -> str:
    """Return a sentence with the net weight alone: 'basket 3.2 kg, itself 0.4, so 2.8 kg'."""
    told = [*WEIGHT.finditer(text)]
    if len(told) < 2 or not _TARE.search(text):
        return text
    numbers = re.findall(
        r"(?<![\w.])\d+(?:\.\d+)?(?![\w.])", text[told[0].end() : told[-1].start()]
    )
    unit = re.sub(r"^[\d\s./,]+", "", told[0][0].strip())
    tares = [m[0] for m in told[1:-1]] or [f"{number} {unit}" for number in numbers]
    whole, *tare, net = (Phrase(w).take_weight() or 0.0 for w in (told[0][0], *tares, told[-1][0]))
    if not tare or abs(whole - sum(tare) - net) > 0.02 * whole:
        return text
    between = text[told[0].end() : told[-1].start()]
    for weight in tares:
        between = re.sub(rf"\b{re.escape(weight.removesuffix(f' {unit}'))}\b", " ", between)
    return f"{text[: told[0].start()]}{between}{text[told[-1].start() :]}"


def _with_unit(text: str, parts: Parts) -> str:
    """Return a sentence in which bare numbers have the unit that is told once: '(all kg)'."""
    marks = all_marks(text, parts)
    units = [*_UNIT_ALONE.finditer(text)]
    bare = of_label(marks, "number")
    weights = [mark.text for mark in marks if mark.label == "weight"]
    if weights and bare and not units:  # '640 grams from G/1, and 820 from G/2'
        unit = re.fullmatch(r"\d+(?:\.\d+)? ?([a-z]+)", weights[0].strip())
        alike = unit and all(weight.strip().endswith(unit[1]) for weight in weights)
        like = r"\d{3}" if unit and unit[1] in ("g", "grams", "gr") else r"\d+\.\d+"
        if unit and alike and all(re.fullmatch(like, mark.text) for mark in bare):
            for mark in reversed(bare):
                text = f"{text[: mark.end]} {unit[1]}{text[mark.end :]}"
        return text
    if len(units) != 1 or not bare:
        return text
    pieces, place = list[str](), 0
    for mark in bare:
        pieces += [text[place : mark.end], f" {units[0]['unit']}"]
        place = mark.end
    told = "".join([*pieces, text[place:]])
    return told.replace(units[0][0], " ", 1)


def _lasting(found: re.Match[str]) -> str:
    """Return how long it is from one time of day to another: '6 till 6.40' is 40 minutes."""
    begin, end = (60 * int(found[n]) + int(found[n + 1] or 0) for n in (1, 3))
    return f" {end - begin} min " if 0 < end - begin <= 240 else " "
