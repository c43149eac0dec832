"""Which amount is whose: 'A 1 lb, B 13 oz' is two records, 'A and B 2 lb' is asked about."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from fruitcast.diary.entries import kind_named
from fruitcast.diary.entries.picks import FIRSTS, PART
from fruitcast.diary.marks import Mark, Parts, marks_in, of_label, outlets_in, stacks_in, without
from fruitcast.diary.pattern import pattern_of
from fruitcast.diary.phrases import DAY, DEPTH, LITRES, Phrase
from fruitcast.diary.plain_words import is_empty, replaced
from fruitcast.errors import InputError
from fruitcast.yard.model import stack_of

SEEN_ON = frozenset(("pins", "fruiting", "nothing", "inspect"))
"""Kinds that say what was seen on a stack."""

MOST_STACKS = 60
"""Stacks named in one sentence at most."""

_JOINT = pattern_of(
    r"\s*(?:,|&|\+|/|\band\b|\bplus\b|\bboth\b|\bstacks?\b|\bon\b|\bfrom\b|\boff\b|\bof\b|\s)*"
)
_ON = pattern_of(r"\bon(?:to)?\s*$")
_LISTED = pattern_of(
    r"(?:[\s,;&+-]|\b(?:and|also|as well as|so\b.*(?:does|has|is)|on|in|of|at|to|through|then|both"
    r"|the|all|over|stacks?|logs?|lots?|too|plus)\b)*"
)
"""What may stand between stacks on which the same was seen."""

_HAS = pattern_of(r"\s*(?:'s|has|is|shows|got)\b")
_LOOKED_AT = pattern_of(r"\b(?:bark|ends?|mou?ld\w*|dead)\b")
_RANGE = pattern_of(r"\s*(?:-|\bto\b|\bthrough\b)\s*(?:stack\s+)?")
_EACH = pattern_of(r"\b(?:each|apiece|per stack|every one)\b")
_TOGETHER = pattern_of(
    r"(?<!\w)(?:(?:all|both)\s+)?(?:together|in\s+one\s+crate|in\s+all|altogether|combined"
    r"|between\s+(?:them|the\s+two|both))(?!\w)[:,]?"
)
"""One weight of several stacks is that of all of them."""


class Crate(NamedTuple):
    """What a sentence says of one crate from several stacks."""

    stacks: tuple[str, ...]  # stacks or lots that it came from, two or more
    words: str  # all else: weight, day, outlet


def one_crate(words: str, parts: Parts) -> Crate | None:
    """Return the crate that the words of a pick speak of, None when they speak of none."""
    marks = marks_in(words, parts)
    there = of_label(marks, "stack")
    names = _names(words, there, parts.stacks)
    rest, times = _TOGETHER.subn(" ", _rest(words, there))
    weights = sum(mark.label == "weight" for mark in marks)
    if len(names) < 2 or times != 1 or weights > 1:
        return None
    return Crate(tuple(names), _trimmed(" ".join(rest.split())))


_AMOUNTS = {
    **dict.fromkeys(("pick", "weigh"), "weight"),
    **dict.fromkeys(("soak", "pull", "retire"), "logs"),
    "water": "hours",
    "rain": "depth",
}
"""What may be given several times in the words of one kind."""


def shared_out(kind: str, words: str, parts: Parts) -> Iterator[str]:
    """Yield the words of each record that the words of one kind make, its stack first.

    Raises InputError if one amount is given for several stacks, or it is open which is whose.
    """
    amount = _AMOUNTS.get(kind)
    outlets = len({mark.text for mark in outlets_in(words, parts.outlets)})
    stacks = stacks_in(words, parts.stacks)
    if kind in ("sold", "promised"):
        yield from _each_its_buyer(words, parts)
    elif kind == "pick" and outlets > 1 and len({mark.text for mark in stacks}) == 1:
        for part in _each_its_buyer(_rest(words, stacks), parts):
            yield f"{stacks[0].text} {part}"
    elif kind == "rain" and len(DEPTH.findall(words)) < 2:
        yield words  # of the whole yard, whatever is named
    elif amount:
        yield from _paired(kind, words, parts, amount)
    elif kind_named(kind).many:
        names, rest = _names(words, stacks, parts.stacks), _rest(words, stacks)
        turned = r"\bbut\b" if kind != "cover" else r"\b(?:but|off)\b"
        again = kind == "uncover" and any(_ON.search(words[: mark.start]) for mark in stacks[1:])
        apart = kind in SEEN_ON and _seen_apart(kind, words, stacks)
        if len(names) > 1 and (again or apart or re.search(turned, words)):
            raise _open(kind, words, *names)
        if len(names) > 1 and kind not in ("note", "pins"):
            _refuse_one_amount(kind, words, rest, names)
        yield from ([f"{name} {rest}".strip() for name in names] or [words])
    else:
        yield words


def _seen_apart(kind: str, words: str, marks: Sequence[Mark]) -> bool:
    """Return whether stacks are not one list, or words are of one of them alone."""
    gaps = [words[one.end : other.start] for one, other in itertools.pairwise(marks)]
    if not all(_LISTED.fullmatch(gap) for gap in gaps):
        return True
    of_the_last = gaps and "," in gaps[-1] and _HAS.match(words[marks[-1].end :])
    return bool(of_the_last or (kind == "pins" and _LOOKED_AT.search(words)))


def _names(words: str, marks: Sequence[Mark], stacks: Sequence[str]) -> list[str]:
    """Return the stacks that are named, all of 'A to C'."""
    names: list[str] = []
    last: Mark | None = None
    for mark in marks:
        if last and _RANGE.fullmatch(words[last.end : mark.start]):
            first, end = stacks.index(last.text), stacks.index(mark.text)
            if end < first:
                raise InputError(f"'{words[last.start : mark.end]}': which stacks? Name each.")
            names += stacks[first + 1 : end]
        names.append(mark.text)
        last = mark
    names = list(dict.fromkeys(names))
    if len(names) > MOST_STACKS:
        raise InputError(f"{len(names)} stacks in one record, at most {MOST_STACKS} are read.")
    return names


def _rest(words: str, marks: Sequence[Mark]) -> str:
    """Return words without the stacks and what joins them."""
    joints = [
        Mark("joint", a.end, b.start, "")
        for a, b in itertools.pairwise(marks)
        if _JOINT.fullmatch(words[a.end : b.start]) or _RANGE.fullmatch(words[a.end : b.start])
    ]
    return _trimmed(without(words, [*marks, *joints]))


def _trimmed(text: str) -> str:
    """Return words without what parted them from others; '-3' keeps its sign."""
    return re.sub(r"^(?:[\s,:;&+]|-\s)+|(?:[\s,:;&+]|\s-|\band$|\bplus$)+$", "", text)


def _without_topic(words: str, parts: Parts) -> str:
    """Return words without stacks named ahead of all amounts and then each with its own.

    'Picked B and N. B came to 2 lb, N to 3 lb.'
    """
    marks = stacks_in(words, parts.stacks)
    told = next((m.start for m in marks_in(words, parts) if m.label not in _OF_TOPIC), len(words))
    for number, mark in enumerate(marks[1:], start=1):
        ahead = {before.text for before in marks[:number]}
        after = {later.text for later in marks[number:]}
        whole = {*map(stack_of, after)}
        place = min(mark.start, told)  # '2 lb from B' begins with its amount
        if place < marks[number - 1].end or not ahead <= after | whole:
            continue
        if place < mark.start and len(ahead) == 1:
            continue
        if all(name in ahead or stack_of(name) in ahead for name in after):
            return f"{_rest(words[:place], marks[:number])} {words[place:]}".strip(" ,.;:")
    return words


_OF_TOPIC = frozenset(("stack", "day"))


def _paired(kind: str, words: str, parts: Parts, label: str) -> Iterator[str]:
    words = _without_topic(words, parts)
    marks = [*marks_in(words, parts)]
    lasted = of_label(marks, "hours") if kind == "soak" else []
    told = {_hours(mark) for mark in lasted} - {None}
    if len(told) == 1 and len(lasted) > 1:  # 'for a full day, 24 hours', 'overnight, 14 h'
        kept = next(mark for mark in lasted if _hours(mark) is not None)
        words = without(words, [mark for mark in lasted if mark is not kept])
        marks = [*marks_in(words, parts)]
    elif len(lasted) > 1:
        label = "hours"
    if label == "depth":
        marks += [Mark(label, *match.span(), match[0]) for match in DEPTH.finditer(words)]
        marks.sort(key=lambda mark: mark.start)
    if label in ("logs", "weight"):
        marks = [_logs_of(mark, words, marks) for mark in marks]
    there = of_label(marks, "stack")
    names = _names(words, there, parts.stacks)
    if kind == "pick" and sum(mark.label == label for mark in marks) > max(1, len(names)):
        spans = [found.span() for p in (PART, FIRSTS) for found in p.finditer(words)]
        if spans and len(names) > 1:
            raise _open(kind, words, *names)
        whole = [m for m in marks if not any(a <= m.start < b for a, b in spans)]
        marks = whole if any(mark.label == label for mark in whole) else there
    bare = of_label(marks, "number")
    if label in ("weight", "hours") and bare and len(names) > 1:
        words, marks = _with_unit(words, marks, bare, label, len(names))
        bare = of_label(marks, "number")
    amounts = of_label(marks, label)
    if label in ("weight", "depth") and not amounts and len(bare) > 1:  # 'B 2.25, C 1.5'
        days = of_label(marks, "day")
        if len(bare) == len(names if label == "weight" else days):
            marks = [
                Mark(label, m.start, m.start + len(m.text.rstrip(",;")), m.text.rstrip(",;"))
                if m.label == "number"
                else m
                for m in marks
            ]
            amounts = of_label(marks, label)
    if label == "weight" and not amounts and (logs := of_label(marks, "logs")):
        raise InputError(f"'{words}': {logs[0].text.split()[0]} of what? Write its unit.")
    if len(names) > 1 and len(amounts) > 1:
        yield from _each_its_own(kind, words, marks, label)
    elif len(amounts) > 1:
        yield from _again(words, marks, label)
    elif len(names) > 1:
        rest = _rest(words, there)
        rest = _OF_THEM.sub(lambda m: "" if int(m[1]) == len(names) else m[0], rest)
        if not _EACH.search(rest):
            _refuse_one_amount(kind, words, rest, names)
        rest = rest if LITRES.search(rest) else _trimmed(_EACH.sub("", rest))
        yield from (f"{name} {rest}".strip() for name in names)
    else:
        yield f"{names[0]} {_rest(words, there)}" if names else words


def _with_unit(
    words: str, marks: list[Mark], bare: Sequence[Mark], label: str, names: int
) -> tuple[str, list[Mark]]:
    """Return words and marks in which 'B 5.3, F 4.9 kg' has one unit, as 'N 15 minutes, F 10' has.

    A total that the others add up to ('11 lb in all: B 6, F 3, P 2') is no amount of its own.
    """
    given = of_label(marks, label)
    units = {found[0].lower() for mark in given if (found := _UNIT.search(mark.text))}
    numbers = [mark.text.rstrip(",;.") for mark in bare]
    if len(units) != 1 or not all(re.fullmatch(r"\d+(?:\.\d+)?", number) for number in numbers):
        return words, marks
    unit = units.pop()
    values = [float(number) for number in numbers]
    stated = [
        float(m[0]) for mark in given if (m := re.match(r"\d+(?:\.\d+)?(?= ?[a-z]+$)", mark.text))
    ]
    all_bare = len(given) == 1 and len(bare) == names
    total = given[0] if all_bare and stated and abs(sum(values) - stated[0]) < 1e-6 else None
    if len(bare) + len(given) - (total is not None) != names or not stated:
        return words, marks
    last = max([*given, *bare], key=lambda mark: mark.start)
    if total is None and label == "weight" and last in bare:
        return words, marks  # 'E 2.2 lb, N 0.9' may be 0.9 of anything
    if total is None and not all(1 / 4 <= value / stated[0] <= 4 for value in values):
        return words, marks
    kept = [mark for mark in marks if mark is not total]
    kept = [
        mark._replace(label=label, text=f"{number} {unit}", end=mark.start + len(number))
        if (number := mark.text.rstrip(",;.")) and mark in bare
        else mark
        for mark in kept
    ]
    if total:
        blank = " " * (total.end - total.start)
        words = words[: total.start] + blank + words[total.end :]
        words = _IN_ALL.sub(lambda found: " " * len(found[0]), words)
    return words, kept


_UNIT = pattern_of(r"[a-z#]+\.?$")
_IN_ALL = pattern_of(r"\b(?:in all|in total|all told|altogether)\b:?")


def _logs_of(mark: Mark, words: str, marks: Sequence[Mark]) -> Mark:
    """Return '8' in '8 from E' as a number of logs."""
    if mark.label != "number" or not mark.text.isdigit():
        return mark
    of_stack = any(
        other.label == "stack"
        and re.fullmatch(
            r"\s+(?:of|from|off)\s+(?:the\s+)?(?:stack\s+)?", words[mark.end : other.start]
        )
        for other in marks
    )
    return Mark("logs", mark.start, mark.end, f"{mark.text} logs") if of_stack else mark


def _each_its_own(kind: str, words: str, marks: Sequence[Mark], label: str) -> Iterator[str]:
    order = [mark.label for mark in marks if mark.label in ("stack", label)]
    half = len(order) // 2
    sides = (["stack"] * half + [label] * half, [label] * half + ["stack"] * half)
    if order in sides and (ordered := _IN_ORDER.search(words)):
        yield from _in_order(kind, words, marks, label, ordered[0])
        return
    if order not in (["stack", label] * half, [label, "stack"] * half):
        raise _open(kind, words, next(mark.text for mark in marks if mark.label == "stack"))
    firsts = [mark.start for mark in marks if mark.label == order[0]]
    starts = [firsts[0], *firsts[1:], len(words)]
    lead = without(
        words[: firsts[0]], [m for m in marks if m.label == "day" and m.start < firsts[0]]
    )
    runs = [
        [mark for mark in marks if start <= mark.start < end]
        for start, end in itertools.pairwise(starts)
    ]
    days = [of_label(run, "day") for run in runs]
    ahead = [mark for mark in marks if mark.label == "day" and mark.start < firsts[0]]
    day_of_all = ahead[0].text if len(ahead) == 1 else ""
    told = [len(ahead), *map(len, days)]
    if told == [0] * len(runs) + [1]:  # the last one has the day of all
        day_of_all = days[-1][0].text
    elif told == [1] * len(runs) + [0] and all(
        re.fullmatch(r"[\s:]*(?:on )?", words[day[0].end : start], re.IGNORECASE)
        for day, start in zip([ahead, *days[:-1]], firsts, strict=True)
    ):  # 'Mon C 2 lb, Tue N 1 lb'
        day_of_all, days = "", [ahead, *days[:-1]]
    elif told not in ([0] * len(told), [1] + [0] * len(runs), [0] + [1] * len(runs)):
        raise InputError(f"'{words}': which day was which? Write one record for each.")
    said = []
    for number, run in enumerate(runs):
        base, end = starts[number], starts[number + 1]
        own = of_label(run, "stack", label, "day")
        moved = [mark._replace(start=mark.start - base, end=mark.end - base) for mark in own]
        rest = _trimmed(without(words[base:end], moved))
        name = next(mark.text for mark in own if mark.label == "stack")
        amount = next(mark.text for mark in own if mark.label == label)
        on = day_of_all or next((mark.text for mark in days[number]), "")
        said.append((name, amount, on, rest))
    if any(mark.label in ("outlet", "grade") for run in runs[:-1] for mark in run):
        yield from _with_own_rest(kind, words, said, [mark for run in runs for mark in run])
        return
    if not all(is_empty(rest) for *_, rest in said[:-1]):
        raise _open(kind, words, said[0][0])
    rest = " ".join("" if is_empty(part) else _trimmed(part) for part in (said[-1][3], lead))
    yield from (" ".join(f"{name} {amount} {on} {rest}".split()) for name, amount, on, _ in said)


def _with_own_rest(
    kind: str, words: str, said: Sequence[tuple[str, str, str, str]], marks: Sequence[Mark]
) -> Iterator[str]:
    """Yield the records of 'C 2 lb for the Bull and B 1 lb seconds', each with its own rest."""
    own = [re.escape(mark.text) for mark in marks if mark.label in ("outlet", "grade")]
    for name, amount, on, rest in said:
        if not is_empty(re.sub("|".join(own), " ", rest, flags=re.IGNORECASE)):
            raise _open(kind, words, name)
        yield " ".join(f"{name} {amount} {on} {rest}".split())


_IN_ORDER = pattern_of(r"\b(?:in (?:that|this) order|respectively|in order)\b")


def _in_order(kind: str, words: str, marks: Sequence[Mark], label: str, told: str) -> Iterator[str]:
    """Yield the records of 'B and C: 1 lb and 2 lb, in that order'."""
    names = [mark.text for mark in marks if mark.label == "stack"]
    amounts = of_label(marks, label)
    rest = _rest(words, of_label(marks, "stack", label)).replace(told, "")
    if re.search(r"\d", Phrase(rest).text) and not DAY.fullmatch(rest.strip(" ,.")):
        raise _open(kind, words, *names)
    rest = "" if is_empty(rest) else rest.strip(" ,.:;")
    for name, amount in zip(names, amounts, strict=True):
        yield f"{name} {amount.text} {rest}".strip()


def _hours(mark: Mark) -> float | None:
    phrase = Phrase(mark.text)
    hours = phrase.take_hours(bare=False)
    return phrase.take_days_long() if hours is None else hours


def _again(words: str, marks: Sequence[Mark], label: str) -> Iterator[str]:
    """Yield the records of 'C yesterday 1 lb and again today 11 oz': one stack, two days."""
    names = [mark.text for mark in marks if mark.label == "stack"]
    order = [mark.label for mark in marks if mark.label in ("day", label)]
    half = len(order) // 2
    rest = without(words, of_label(marks, "stack", "day", label))
    if order not in (["day", label] * half, [label, "day"] * half) or not is_empty(rest):
        amounts = " or ".join(mark.text.strip() for mark in marks if mark.label == label)
        raise InputError(f"'{words}': {amounts}? Write one record for each.")
    days = [mark.text for mark in marks if mark.label == "day"]
    amounts_ = [mark.text for mark in marks if mark.label == label]
    name = names[0] if names else ""
    yield from (f"{name} {a} {d}".strip() for a, d in zip(amounts_, days, strict=True))


_OF_BOTH = pattern_of(r"[\s,;]*\b(?:both|all)(?: of them)?(?: paid)?(?: at| for)?\s*$")
_A_WEIGHT = pattern_of(r"\b(?:an?|per|the)\b|/")


def _each_its_buyer(words: str, parts: Parts) -> Iterator[str]:
    """Yield each part of '3 lb to the shop and 5 lb at the market'."""
    marks, price, of_all = marks_in(words, parts), "", ""
    weights, buyers = of_label(marks, "weight"), of_label(marks, "outlet")
    paid = of_label(marks, "money")
    if len(weights) == 1 and len(buyers) > 1 and _EACH.search(words):
        rest = _EACH.sub(" ", _rest(words, buyers))
        yield from (f"{rest} {buyer.text}" for buyer in buyers)
        return
    if len(weights) < 2:
        yield words
        return
    if len(paid) == 1 and (of_both := _OF_BOTH.search(words[: paid[0].start])):
        if not _A_WEIGHT.search(paid[0].text):
            raise InputError(f"'{words[:200]}': who paid what? Write one record for each.")
        price, words = paid[0].text, words[: of_both.start()] + words[paid[0].end :]
        marks, paid = marks_in(words, parts), []
        weights, buyers = of_label(marks, "weight"), of_label(marks, "outlet")
    order = [mark.label for mark in marks if mark.label in ("weight", "outlet")]
    half = len(order) // 2
    graded = sum(mark.label == "grade" for mark in marks) == len(weights) and not paid
    aside = buyers and not weights[0].start < buyers[0].start < weights[-1].start
    to_one = len(buyers) == 1 and aside
    if to_one and (graded or len(paid) == len(weights)):  # '3 lb at 10, 2 lb at 6'
        of_all, words = buyers[0].text, without(words, buyers)
        marks = marks_in(words, parts)
        firsts = of_label(marks, "weight")
    elif order in (["weight", "outlet"] * half, ["outlet", "weight"] * half):
        firsts = weights if order[0] == "weight" else buyers
    elif halves := _halves(words, parts):
        yield from halves
        return
    else:
        raise InputError(f"'{words[:200]}': how much to whom? Write one record for each.")
    starts = [0, *(mark.start for mark in firsts[1:]), len(words)]
    spans = list(itertools.pairwise(starts))
    days = of_label(marks, "day")
    both = len(spans) == 2 and re.search(r"\band\s*$", words[: firsts[1].start], re.IGNORECASE)
    told = [sum(start <= day.start < end for day in days) for start, end in spans]
    if told != [1] * len(spans) and (
        len(days) > 1 or (days and firsts[0].start < days[0].start < firsts[-1].start and not both)
    ):
        raise InputError(f"'{words[:200]}': which day was which? Write one record for each.")
    on = days[0].text if len(days) == 1 else ""
    for start, end in spans:
        own = words[start:end]
        if on and start <= days[0].start < end:
            own = own.replace(on, " ", 1)
        own = replaced(r"[\s,]*(?:&|\+|\b(?:and|plus|to|at|the)\b|\s|,)*$", "", own)
        yield " ".join(f"{own} {of_all} {price} {on}".split())


def _halves(words: str, parts: Parts) -> list[str]:
    """Return parts, joined by 'and' or a comma, of which each has its weight and its buyer."""
    halves = [half for half in re.split(r"\s*(?:,|;|\band\b)\s+", words) if half.strip()]
    labels = [[mark.label for mark in marks_in(half, parts)] for half in halves]
    whole = all(own.count("weight") == own.count("outlet") == 1 for own in labels)
    days = {own.count("day") for own in labels}
    return halves if whole and len(days) == 1 else []


def _refuse_one_amount(kind: str, words: str, rest: str, names: Sequence[str]) -> None:
    """Refuse an amount that may be that of all stacks together or of each."""
    left = Phrase(rest)
    left.take(DAY)
    left.take_hours(bare=False)
    if kind == "water":
        left.take_depth()
    if re.search(r"\d", left.text) or kind in ("pick", "weigh"):
        raise _open(kind, words, *names)


_OF_THEM = pattern_of(r"\b(?:all|both|the) (\d)\b(?! ?[a-z]*(?:lb|oz|kg|g|h|logs?)\b)")


def _open(kind: str, words: str, *names: str) -> InputError:
    crate = f", or of one crate 'pick {', '.join(names)} together ...'"
    return InputError(
        f"'{kind} {words}': how much of it is of each? Write one record for each stack, like "
        f"'{kind} {names[0]} ...'{crate if kind == 'pick' and len(names) > 1 else ''}."
    )
