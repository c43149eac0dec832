"""A reading by what stands in a sentence rather than by how it is built.

Whose and how much is told by names and amounts, what was done by the words of the work; all else
is the grower's way to say it and stays a note. 'My mother, as spry as ever, filled two baskets
from P on Tuesday, 3.6 kilos by the kitchen scale' can be but one pick, in whatever order. It is
tried last, and always asked about.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator, Sequence

from fruitcast.diary.asides import TOLD_AS_DONE, Reading
from fruitcast.diary.clause import LOST, SAME, Clause
from fruitcast.diary.clause_marks import all_marks, lots_of_one
from fruitcast.diary.entries.kind import STACK
from fruitcast.diary.marks import Parts
from fruitcast.diary.not_done import is_doubted
from fruitcast.diary.phrases import HOURS, WEIGHT, Phrase, vague_day
from fruitcast.diary.plain_words import plainly
from fruitcast.diary.slips import mended

_CLAUSE = re.compile(
    rf"\s*[;:](?!\d)\s*|(?<!{STACK})\s*,(?!\d)\s*"
    rf"|\s*,(?!\d|\s*{STACK}+\s*(?:,|&|and\b))\s*"
    r"|\s+-+\s+|(?<=\w\w)[.!]+\s+"
    rf"|\s+(?:and|but|so|then|&|\+)\s+(?![\d{STACK}])"
    r"|\s+(?=(?:because|cos|though|although|while|who|which)\b)",
    re.IGNORECASE,
)
_BRACKETS = re.compile(r"\([^()\d]*\)")
_OF_THEM = re.compile(r"\bof (?:it|them|those|that|these)\b", re.IGNORECASE)
_TWICE = re.compile(r"\b(?:twice|both times)\b", re.IGNORECASE)
_NONE_ON = re.compile(r"(?:but |and )?(?:none|nothing|not)\b(?!.*\byet\b)", re.IGNORECASE)
_WEAK = frozenset(("stock", "promised", "merge", "split", "lots", "rain", "pick", "weigh", "sold"))
"""Kinds that are none without a name or an amount."""
_ASIDE = frozenset(("nothing", "fruiting", "note"))
"""Kinds of which a mere mention without a name is a remark."""


def by_marks(text: str, parts: Parts) -> Iterator[Reading]:
    """Yield the reading of a sentence by its names, amounts and words of work, if there is one."""
    plain = _plain(text, parts)
    if parted := _parted(plain, parts):
        yield Reading((parted,), (), text)
        return
    week = vague_day(plain).lower() == "this week"  # no vague day where each part tells its own
    plain = re.sub(r"\bthis week\b", " ", plain, flags=re.IGNORECASE) if week else plain
    clauses = [Clause(words, parts) for words in _clauses(plain, parts)]
    for before, clause in itertools.pairwise(clauses):
        if before.kind == "pins" and clause.stacks and _NONE_ON.match(clause.text):
            clause.kinds = {"nothing"}  # 'pins on C, none on F'
        elif clause.stacks and _NONE_ON.match(clause.text):
            return  # of what there was none there
    if _SEVERAL.search(plain) or any(clause.is_open for clause in clauses) or vague_day(plain):
        return
    done = any(clause.tells and TOLD_AS_DONE.search(clause.text) for clause in clauses)
    if not done and any(is_doubted(c.text) for c in clauses if c.kinds != {"nothing"}):
        return
    groups = _groups(clauses)
    if week and any(group.kind == "nothing" for group in groups):
        return
    if week and not all(group.days for group in groups if group.labels - {"stack"}):
        return
    if said := _records(groups):
        yield Reading(tuple(said), (), text)


def _parted(text: str, parts: Parts) -> str:
    """Return how a stack is parted into lots, or is one again, where a sentence tells but that."""
    marks = all_marks(text, parts)
    days = [mark.text for mark in marks if mark.label == "day" and "2th" not in mark.text]
    lots = lots_of_one(marks)
    merged = _MERGED.search(text)
    if not lots and merged and len({m.text for m in marks if m.label == "stack"}) == 1:
        base = next(m.text for m in marks if m.label == "stack")
        lots = [name for name in parts.stacks if name.startswith(f"{base}/")]
    told = {mark.label for mark in marks} - {"stack", "day", "logs", "number"}
    if not lots and not merged and len(days) < 2 and (into := _INTO.search(text)):
        (*names, _) = (*dict.fromkeys(m.text for m in marks if m.label == "stack"), "")
        if len(names) == 1 and "/" not in names[0] and not (told or is_doubted(text)):
            return f"lots {names[0]} {into[1] or 2} {' '.join(days)}".strip()
    if len(lots) < 2 or told or len(days) > 1 or is_doubted(_NO_MORE.sub(" ", text)):
        return ""
    if not (merged or _PARTED.search(text)):
        return ""
    base = lots[0].rpartition("/")[0]
    if not merged:
        return f"lots {base} {len(lots)} {' '.join(days)}".strip()
    return f"merge {', '.join(lots[:-1])} and {lots[-1]} {' '.join(days)}".strip()


_SAME_MOMENT = re.compile(r"\b(?:at )?the same (?:minute|moment|instant|time)\b", re.IGNORECASE)
_SEVERAL = re.compile(
    r"\b[2-9] (?:waterings?|pick(?:ing)?s?|soaks?|goes|rounds?)\b.*\beach\b", re.I
)
_NO_MORE = re.compile(r"\bno (?:more|longer)\b", re.IGNORECASE)
_INTO = re.compile(
    r"\b(?:split|part(?:ed)?|divid\w+|halv\w+|broke|cut)\b[^,;.]* (?:into|in) "
    r"(?:([2-9]) (?:lots|parts)|halves|half|2\b|two)",
    re.IGNORECASE,
)
_PARTED = re.compile(
    r"\b(?:split\w*|part(?:ed|ing)?|divid\w+|halv\w+|halves|broke\w*|cut|cleft|in two|into 2"
    r"|(?:two|2) lots|apart|now|separat\w+)\b",
    re.IGNORECASE,
)


def _plain(text: str, parts: Parts) -> str:
    """Return a sentence put plainly: slips mended, a unit beside each number, no brackets."""
    plain = _FROM_TILL.sub(_lasting, plainly(text)) if not HOURS.search(text) else text
    plain = _with_unit(_FROM_TILL.sub(" ", plainly(plain)), parts)
    plain, _ = mended(
        _SAME_MOMENT.sub(" ", _BRACKETS.sub(" ", plain)), (*parts.stacks, *parts.outlets)
    )
    plain = _net(plain)
    if len(WEIGHT.findall(plain)) == 2 and _TWICE.search(plain):
        plain = re.sub(r" and (?=\d)", ", ", _TWICE.sub(" ", plain))
    return re.sub(r"\b(?:a single|one)(?= (?:in|on|at) [A-Z])", "1 log", plain)


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


_TARE = re.compile(
    r"\b(?:basket|crate|box|tray|bucket|tub|bag|bowl)s?\b.*"
    r"\b(?:itself|alone|empty|less|minus|take off|without|so|leav\w+|net)\b|\b(?:tare|net)\b",
    re.IGNORECASE,
)


def _groups(clauses: Sequence[Clause]) -> list[Clause]:
    """Return clauses that tell something, those of one record as one."""
    groups: list[Clause] = []
    listed = sum(bool(clause.stacks and not clause.kinds) for clause in clauses) > 1
    for clause in clauses:
        mention = not clause.labels and clause.kinds <= _ASIDE and groups and groups[-1].kind
        if not clause.tells or mention:
            continue
        if clause.labels <= {"day"} and clause.kinds <= _WEAK and groups and groups[-1].is_whole:
            clause.kinds = set()  # 'the fridge tripped on Sunday'
        apart = listed and clause.stacks and not clause.kinds
        before = groups[-2].kinds if len(groups) > 1 and not groups[-1].kinds else None
        other = (before and clause.kinds - before) or (
            "outlet" in clause.labels and _ALL_OF_IT.search(clause.text)
        )
        if groups and not (apart or other) and (both := groups[-1].joined(clause)):
            groups[-1] = both
        else:
            groups.append(clause)
    for group in groups:
        alone = len(WEIGHT.findall(" ".join(clause.text for clause in clauses))) == 1
        lost = any(
            c.tells_of_loss and (not group.kinds or (alone and c.is_dumped)) for c in clauses
        )
        if group.kind == "pick" and lost and group.labels.isdisjoint(("outlet", "money")):
            group.kinds = {"discard"}
    return groups


def _records(groups: Sequence[Clause]) -> list[str]:
    """Return the records of parts in plain words; none where any of them is open."""
    if (days := _days(groups)) is None:
        return []
    said, last = list[str](), None
    topic = groups[0] if _is_topic(groups) else None
    weighed = [mark for group in groups for mark in group.amounts if mark.label == "weight"]
    for group, day in zip(groups, days, strict=True):
        if group is topic:
            last = group
            continue
        same = SAME.search(group.text)
        if not group.kinds and group.labels <= {"day"} and not same:  # "Sunday's crop: ..."
            if group is groups[0] or group.days == ["now"]:
                continue
            return []
        if not group.kinds and group.labels == {"stack"} and group.is_told_again(groups):
            continue
        all_of_it = len(weighed) == 1 and "weight" not in group.labels
        if all_of_it and "outlet" in group.labels and _ALL_OF_IT.search(group.text):
            group.kinds = {"sold"}
            group.amounts += weighed
        if not group.kind:
            of = topic or last or next((later for later in groups if later.kind), None)
            if of is None or not (topic or group.adds_nothing_to(of)):
                return []
            group = group.like(of)
        if not group.stacks and last and group.kind != "inoculate":
            group.stacks = last.stacks
        often = group.days if group.is_of_each_day else [day]
        records = [record for day in often for record in group.records(day)]
        of_it = last and last.kind == group.kind and _OF_THEM.search(group.text)
        if of_it or not records:
            return []
        said += records
        last = group
    return said


def _with_unit(text: str, parts: Parts) -> str:
    """Return a sentence in which bare numbers have the unit that is told once: '(all kg)'."""
    units = [*_UNIT_ALONE.finditer(text)]
    bare = [mark for mark in all_marks(text, parts) if mark.label == "number"]
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


_FROM_TILL = re.compile(
    r"\b(?:from )?(\d{1,2})(?:[:.](\d\d))?(?: ?[ap]m)? (?:till|until) (\d{1,2})"
    r"(?:[:.](\d\d))?(?: ?[ap]m)?\b(?! ?(?:h|min))",
    re.IGNORECASE,
)
_ALL_OF_IT = re.compile(r"\b(?:the (?:whole )?lot|all of (?:it|them)|(?:it|them) all)\b", re.I)
_UNIT_ALONE = re.compile(
    r"(?:[,(]\s*|\s(?=all |both ))(?:all |both |in |they're |it's |its )*"
    r"(?P<unit>kgs?|kilos?|lbs?|pounds?|oz|ounces?|g|grams?|min(?:ute)?s?|hours?|dollars?|quid|euros?"
    r"|mm)(?: (?:that|it|they|those) (?:is|are)| all| both| each)?\s*(?:\)|$|(?=[,.]))",
    re.IGNORECASE,
)


def _is_topic(groups: Sequence[Clause]) -> bool:
    """Return whether the first part says what all the others are of: 'dead logs: N 1, P 2'."""
    if len(groups) < 2 or not groups[0].kinds or groups[0].stacks:
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
    if told[0] and groups[0].day_is_ahead and not any(told[1:]):
        return [told[0]] * len(told)
    if told[-1] and not groups[-1].day_is_ahead and not any(told[:-1]):
        return [told[-1]] * len(told)
    return told if all(day in ("", "today", "this morning") for day in told) else None


def _clauses(text: str, parts: Parts) -> list[str]:
    """Return the clauses of a sentence; no name or amount is cut."""
    shown = list(text)
    for mark in all_marks(text, parts):
        sign = STACK if mark.label == "stack" else "0"
        shown[mark.start : mark.end] = sign * (mark.end - mark.start)
    place, found = 0, []
    for cut in _CLAUSE.finditer("".join(shown)):
        found += _pairs(text[place : cut.start()], parts)
        place = cut.end()
    return [words for words in (*found, *_pairs(text[place:], parts)) if words.strip()]


def _pairs(text: str, parts: Parts) -> list[str]:
    """Return words parted where each of several stacks has its own amount or day."""
    marks = all_marks(text, parts)
    for label in ("weight", "logs", "hours", "depth", "number", "day"):
        both = [mark for mark in marks if mark.label in ("stack", label)]
        half = len(both) // 2
        order = [mark.label for mark in both]
        if half > 1 and order in (["stack", label] * half, [label, "stack"] * half):
            starts = [0, *(mark.start for mark in both[2::2]), len(text)]
            pieces = [text[a:b] for a, b in itertools.pairwise(starts)]
            lost = LOST.search(pieces[-1]) if label == "weight" else None
            return [
                f"{piece} {lost[0]}" if lost and not LOST.search(piece) else piece
                for piece in pieces
            ]
    return [text]


_MERGED = re.compile(
    r"\b(?:(?:put|come|brought|all|back) (?:back )?together|join\w*|merg\w*|reunited|combin\w+"
    r"|consolidat\w+|united|(?:one|single|whole) (?:stack|pile|lot|again)|back (?:as|into?))\b",
    re.IGNORECASE,
)
