"""A sentence of a grower taken apart into records: the kind of each, and its words.

'pick A 2 lb' says first what it is, 'yesterday: put A and B in the tank' says it last, and 'A out,
B in, 10 logs' is two records. First comes what was not done at all (`not_done`), then the kinds
that the words speak of, piece by piece, then which amount is whose. What can't be told is asked
about: no record is made of a guess.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import NamedTuple

from fruitcast.diary.courtesies import (
    at_its_market,
    text_of,
    with_one_day,
    with_same_day,
    without_greetings,
    without_picker,
)
from fruitcast.diary.entries import kind_named
from fruitcast.diary.entries.picks import PART, SPOILED, with_thief_first
from fruitcast.diary.entries.tank import hours_until, with_hours_between
from fruitcast.diary.events import noted
from fruitcast.diary.kind_by_sight import is_remark, kind_by_sight
from fruitcast.diary.marks import (
    NAMED_BEFORE_ONE,
    Parts,
    marks_in,
    outlets_in,
    stacks_in,
    with_names,
    without,
)
from fruitcast.diary.not_done import refuse_nothing_of, refuse_what_is_not_done, set_aside
from fruitcast.diary.pattern import pattern_of
from fruitcast.diary.phrases import (
    DAY,
    DAY_EXAMPLES,
    HOURS,
    LOGS,
    MONEY,
    NO_BANKNOTE,
    WEIGHT,
    Phrase,
    joined,
    vague_day,
)
from fruitcast.diary.pieces import (
    IN_OR_OUT,
    SEEN,
    each_its_stack,
    from_those,
    pieces_with_heads,
    runs,
)
from fruitcast.diary.plain_words import (
    PART_ALONE,
    PEOPLE,
    QUANTITY,
    UNKNOWN_NAME,
    is_empty,
    plainly,
    with_plain_signs,
    without_fillers,
)
from fruitcast.diary.shares import one_crate, shared_out
from fruitcast.diary.slips import mended
from fruitcast.diary.spoken_kind import (
    CIRCUMSTANCE,
    CLOCK,
    CLOCK_BEFORE_DAY,
    CLOCK_OF_TANK,
    HOUR,
    RAW,
    TOLD_WHOLE,
    Head,
    day_before_kind,
    first_word,
    kind_of_piece,
    kind_of_run,
    known_kind,
    masked,
    two_kinds,
)
from fruitcast.errors import InputError

_YARD = pattern_of(r"\b(?:all|everything|everywhere|yard|lot)\b")
_BY = re.compile(rf"\bby {PEOPLE}")
_PINS_ON_IT = pattern_of(r"\b(?:pins?|pinning|pin ?heads)\b[^,;.]*\bon (?:it|them)\b")
_PROMISE = pattern_of(
    r"(?<=^told )(?P<whom>[\w ]{2,40}?) (?:they|he|she|it)(?:'d| will|'ll| would| can| could)"
    r" (?:have|get|take|expect|count on)\b"
    r"|(?<=^said )[\w ]{2,40}? (?:could|can) have\b|\bbooked\b(?= \d)"
    r"|\b(?:wants?|ordered|wanted)\b(?=.*\b(?:said (?:yes|ok|fine)|promised|told \w+ yes)\b)"
)
_AND_OR_N = re.compile(r"(?<![\w/])([a-zA-Z]) n ([a-zA-Z])(?![\w/'])")
_BACK_IN = pattern_of(
    r"(?:\b(?:it|them)(?: \w+)?|(?-i:\b[A-Z])\w*) back in(?:to)?\b"
    r"(?! (?:place|their|its|the (?:shade|sun|yard)))"
)
_TO_COME = frozenset(("fix", "hold", "release", "promised", "lots"))

_SOAKED_ON = pattern_of(rf"\b(?:soak|dunk)\w*\b[^,;.]{{0,20}}?(?P<on>(?<!\w){DAY.pattern})")
"""Of what came to nothing, the day of the soak is not the day on which it was seen."""

_STOOD = pattern_of(r"\b(?:(?:re-?)?stacked|back)\b")
_EATEN = pattern_of(SPOILED)
_BACK = pattern_of(r"\b(?:back|fruiting|laying)\b")

_JUST_A_NOTE = pattern_of(r"[\s,(-]*\bjust (?:a|for the) (?:note|notes|record)\)?\.?$")

_MEMO = pattern_of(
    r"^(?:remember(?! to\b)|nb|n\.b\.|memo|fyi|reminder|for the record"
    r"|(?:just )?(?:jotting|noting|writing)"
    r"(?: down)?|(?:to )?(?:make|made|take|put(?: in| down)?) a note(?: of)?|note to self"
    r"|(?:please )?(?:note|write) down)\b(?: that\b)?[\s:,-]*"
)
_BRACKETS = re.compile(r"\(([^()]*)\)")

_NOTE_OF = pattern_of(r"^(?:stack )?(\S+(?: \d)?)\s*[:,-]*\s+note\b[\s:,-]+(.+)$")
_NOTE = pattern_of(rf"{NO_BANKNOTE}\s(?:-\s*)?note\b\s*:?\s*(.*)$")

_ALL = pattern_of(
    r"\b(?:all(?: of (?:them|it))?(?: the)?(?: \d)?(?: (?:stacks|logs|of them))?"
    r"|everything(?: in (?:there|it|the tank))?|(?:all |both )?\d stacks|the (?:whole )?lot"
    r"|(?:whole|the) tank(?:ful)?|^tank(?:ful)?(?!\s*:))\b"
)
"""Of a pull that names no stack: all that are in the tank."""

_WHOLE = pattern_of(r"all of (?:it|them)|(?:all )?the (?:whole )?(?:lot|stack)")

_SOLD_ALL = pattern_of(r"\b(?:(?:it|them) all|all of (?:it|them)|the (?:whole )?lot)\b")

_WEIGHED = frozenset(("pick", "weigh", "sold", "discard", "stock", "promised"))
"""Kinds to which a weight beside them belongs; beside others it is a pick: 'A 1 lb, pulled F'."""

_BESIDE = {"pins": "inspect", "fruiting": "inspect", "nothing": "soak"}
"""Whose words say no more beside those of a kind: 'soaked A for nothing'."""


class Said(NamedTuple):
    """One record as it was said."""

    kind: str  # one of `entries.KINDS`
    words: str  # what it says, the stack first: 'A 2 lb yesterday'
    remark: str = ""  # what the grower said beside it, in the grower's own words
    # The stacks of which it is one crate; then none stands in the words
    together: tuple[str, ...] = ()


@dataclass
class Sentence:
    """The records of a sentence, and which words were read as others."""

    records: list[Said]
    mended: dict[str, str] = field(default_factory=dict)
    to_come: str = ""
    """What it says of what is still to come: 'will pull it tomorrow'."""


def records_in(
    text: str,
    stacks: tuple[str, ...],
    today: date,
    in_tank: Sequence[str] = (),
    outlets: tuple[str, ...] = (),
) -> Sentence:
    """Return kind and words of each record in a sentence, in its order.

    `stacks` and `outlets` are names of the yard, `in_tank` those that 'pull everything' means.
    Raises InputError if it does not say what kind of record it is, says it twice, gives one amount
    for several stacks, or tells of what was not done.
    """
    text = with_one_day(without_greetings(with_plain_signs(text)))
    text = at_its_market(with_names(text, stacks), outlets)
    asked, to_come, missing = set_aside(text, stacks)
    if hours := hours_until(asked, to_come, today):
        asked = f"{asked} for {hours:g} h"
    plain = without_fillers(asked, stacks)
    if (counted := with_hours_between(plain, today)) != plain:
        asked = counted
    text = text_of(asked)
    dated = day_before_kind(text)
    first, rest = first_word(text[dated:])
    if known_kind(first) == "note":
        day = Phrase(text[:dated]).take_day(today) if dated else None
        return Sentence([Said("note", f"{day}: {rest}" if day else rest)])
    if (of_one := _NOTE_OF.match(text)) and of_one[1] in stacks:
        return Sentence([Said("note", f"{of_one[1]} {of_one[2]}")])
    if "N" in stacks and (joint := _AND_OR_N.search(text)):
        named = {name.lower() for name in stacks}
        if {joint[1].lower(), joint[2].lower()} <= named:
            raise InputError(f"'{joint[0]}': is n a stack, or 'and'? Write 'N', or 'and'.")
    if (memo := _MEMO.match(text)) and not (
        WEIGHT.search(text) or LOGS.search(text) or stacks_in(text[memo.end() :], stacks)
    ):
        return Sentence(list(_notes(text[memo.end() :], stacks, today)))
    if memo and not memo[0].lower().startswith("remind"):
        text, asked = _MEMO.sub("", text), _MEMO.sub("", asked)
    if just := _JUST_A_NOTE.search(text):
        return Sentence(list(_notes(text[: just.start()], stacks, today)))
    said, note = _without_brackets(text)
    note = noted(to_come, missing, note)
    refuse_what_is_not_done(_PROMISE.sub(" ", _without_brackets(asked)[0]))
    if (vague := vague_day(said)) and known_kind(first) not in _TO_COME:
        raise InputError(f"'{vague}': which day? Write {DAY_EXAMPLES}.")
    plain = with_names(plainly(without_fillers(said, stacks)), stacks)
    plain, told = mended(with_thief_first(plain), (*stacks, *outlets))
    plain = without_fillers(plain, stacks)  # 'some 2 lb' was 'some two pounds'
    found = list(_records(with_same_day(plain), text, Parts(stacks, outlets), today, in_tank))
    if to_come and any(record.kind == "hold" for record in found):
        raise InputError(f"'{to_come}': until when? Write it like 'hold B until 1 Aug'.")
    return Sentence([s._replace(remark=noted(s.remark, note)) for s in found], told, to_come)


def _records(
    text: str, given: str, parts: Parts, today: date, in_tank: Sequence[str]
) -> Iterator[Said]:
    text, who = without_picker(text, parts)
    clauses = _clauses(text, parts)
    if [clause.kind for clause in clauses] == ["note"]:
        if " " not in text:
            raise InputError(f"What of the '{text}'? Write a few words, like 'note {text} torn'.")
        if QUANTITY & {*text.lower().split()} and not stacks_in(text, parts.stacks):
            raise InputError(
                f"'{text[:200]}': of which stack? Name it; 'note ...' keeps the words."
            )
        yield from _notes(given, parts.stacks, today)
        return
    kinds = {clause.kind for clause in clauses}
    refuse_nothing_of(kinds, text)
    if {"inspect", "retire"} <= kinds and any(
        c.kind == "retire" and not LOGS.search(c.words) for c in clauses
    ):
        raise InputError(f"'{text[:200]}': how many were taken out? Write 'retire A 3 logs'.")
    before, soaked, picked = set[str](), set[str](), ""
    if len(clauses) > 1 and not clauses[0].words:  # 'turned and watered C'
        before = {mark.text for mark in stacks_in(clauses[1].words, parts.stacks)}
    for kind, words, remark, _ in _dated(clauses, text, parts.outlets):
        weights = [found[1] for found in WEIGHT.finditer(words)]
        if kind == "sold" and picked and not weights and _SOLD_ALL.search(words):
            words = f"{picked} {_SOLD_ALL.sub(' ', words, count=1)}"
        alone = kind == "pick" and len(weights) == 1 and not PART.search(words)
        picked = weights[0] if alone else ""
        everything = _ALL.search(words) if kind == "pull" and in_tank else None
        named = {mark.text for mark in stacks_in(words, parts.stacks)}
        counted = re.search(r"\d+", everything[0]) if everything else None
        if (counted and int(counted[0]) != len(in_tank)) or (
            everything and "tank" in everything[0] and named and named != {*in_tank}
        ):
            raise InputError(
                f"'{text[:200]}': which came out? In the tank are {', '.join(in_tank)}. Write "
                f"'pull everything' or 'pull {in_tank[0]}'."
            )
        if everything and not named and not LOGS.search(words):
            rest = _ALL.sub(" ", words)
            yield from (Said(kind, f"{name} {rest}", remark) for name in in_tank)
            continue
        if "stack" in kind_named(kind).needs or (kind == "water" and not _YARD.search(words)):
            named = {mark.text for mark in stacks_in(words, parts.stacks)}
            new = kind == "inoculate" and re.search(r"\d", words)  # logs of no stack yet
            if len(clauses) > 1 and not named and not new:
                # Soaked and pulled on one day is neither: the soak was before.
                twice = {"soak", "pull"} <= kinds and not all(DAY.search(c.words) for c in clauses)
                several = kind_named(kind).many and re.search(r"\b(?:them|all)\b", words)
                if not before or twice or (len(before) > 1 and not several):
                    raise two_kinds(text, [clause.kind for clause in clauses])
                words = f"{', '.join(sorted(before))} {words}"  # 'picked 2 lb off A and turned it'
            before = named or before
            soaked |= named if kind == "soak" else set()
            if kind == "pull" and named & soaked and not all(DAY.search(c.words) for c in clauses):
                raise two_kinds(text, ["soak", "pull"])
        if not stacks_in(words, parts.stacks):
            words = re.sub(r"^an?\s+", "", words)
            words = from_those(words, before) if kind == "discard" else words
        by = f", by {who}" if who and kind == "pick" else ""
        remark = noted(remark, "" if by else who)
        crate = one_crate(words, parts) if kind == "pick" else None
        if crate:
            yield Said(kind, f"{crate.words}{by}", remark, crate.stacks)
            continue
        for record in shared_out(kind, words, parts):
            yield Said(kind, f"{record}{by}", remark)


def _clauses(text: str, parts: Parts) -> list[Said]:
    """Return each part of a sentence that is about one kind."""
    shown = masked(text, parts)
    pieces, heads = pieces_with_heads(text, shown, parts)
    kinds = [kind_of_piece(text, own) for own in heads]
    if not any(kinds):
        plain = [text[slice(*p)] for p in pieces if not is_remark(text[slice(*p)], parts)]
        kinds[0] = kind_by_sight(_without_circumstances(", ".join(plain) or text, "")[0], parts)
    now = next(kind for kind in kinds if kind)
    for number, piece in enumerate(pieces):
        now = kinds[number] or now
        labels = {mark.label for mark in marks_in(text[slice(*piece)], parts)}
        if not kinds[number] and now not in _WEIGHED and {"stack", "weight"} <= labels:
            kinds[number] = kind_by_sight(_without_circumstances(text[slice(*piece)], "")[0], parts)
    with_marks = [
        bool(
            marks_in(text[slice(*piece)], parts)
            or _BY.search(text, *piece)
            or _PINS_ON_IT.search(text, *piece)
            or _WHOLE.fullmatch(text, *piece)
        )
        for piece in pieces
    ]
    found = []
    written = [text[slice(*piece)] for piece in pieces]
    for run in each_its_stack(runs(kinds, with_marks), kinds, written, parts):
        kind = kind_of_run([kinds[number] for number in run], text)
        told = {kind, _BESIDE.get(kind, kind)}
        own = [head for number in run for head in heads[number] if head.kind in told]
        last = run[-1]
        if kind not in TOLD_WHOLE:
            last = max((n for n in run if kinds[n] or with_marks[n]), default=last)
        stacks = {mark.start for mark in stacks_in(text, parts.stacks)}
        main = _without_heads(text, pieces[run[0]][0], pieces[last][1], own, stacks)
        remark = text[pieces[last][1] : pieces[run[-1]][1]].strip(" ,;.:-")
        remark = re.sub(r"^(?:and|then|so|but)\s+", "", remark)
        other = known_kind(first_word(remark)[0])
        # 'picked 2 lb off A and pulled it'
        if other and other not in {kind, *SEEN} and not CIRCUMSTANCE.fullmatch(remark):
            raise two_kinds(text, [kind, other])
        if kind != "soak" and _BACK_IN.search(f"{main if kind == 'pull' else ''} {remark}"):
            raise two_kinds(text, [kind, "soak"])
        for number in run[1:]:
            if kind not in ("soak", "pull") and IN_OR_OUT.match(shown, pieces[number][0]):
                raise two_kinds(text, [kind, "soak" if text[pieces[number][0]] in "iI" else "pull"])
        if kind not in {*RAW, "inoculate"} and (name := UNKNOWN_NAME.search(remark)):
            raise InputError(
                f"There is no stack '{name[0]}'. The yard has: {', '.join(parts.stacks)}."
            )
        if PART_ALONE.fullmatch(remark):
            raise InputError(f"'{remark}': of what? Write the whole amount in figures.")
        if kind not in RAW:
            main, kept = _without_circumstances(main, kind)
            remark = noted(kept, "" if is_empty(remark) else remark)
        found.append(Said(kind, main, remark))
    return _without_what_was_before(found, text, parts)


def _without_what_was_before(clauses: list[Said], text: str, parts: Parts) -> list[Said]:
    """Return clauses of which none is only the way to another.

    'Soaked A on Monday, nothing came' is of today, and no soak. 'Emptied the tank, A stacked by the
    fence' is no move.
    """
    found: list[Said] = []
    for clause in clauses:
        before = found[-1] if found else None
        soaked = stacks_in(before.words, parts.stacks) if before and before.kind == "soak" else []
        if clause.kind == "nothing" and (on := _SOAKED_ON.search(text)) and not soaked:
            day = on["on"].strip()
            words = clause.words.replace(day, " ", 1)
            told = "" if words == clause.words else f"soaked {day}"
            clause = clause._replace(words=words, remark=noted(clause.remark, told))
        elif clause.kind == "nothing" and soaked and not stacks_in(clause.words, parts.stacks):
            names = ", ".join(dict.fromkeys(mark.text for mark in soaked))
            rest = without(found.pop().words, soaked)
            remark = noted(f"soaked {rest}".strip(), clause.remark)
            clause = Said("nothing", f"{names} {clause.words}".strip(), remark)
        elif clause.kind == "move" and before and before.kind == "pull" and _STOOD.search(text):
            marks = stacks_in(clause.words, parts.stacks)
            if not stacks_in(before.words, parts.stacks):
                names = ", ".join(dict.fromkeys(mark.text for mark in marks))
                found.pop()
                clause = before._replace(words=f"{names} {before.words}".strip())
            elif not marks and _BACK.search(text) and not UNKNOWN_NAME.search(clause.remark):
                remark = noted(before.remark, clause.words, clause.remark)
                clause = found.pop()._replace(remark=remark)
        elif clause.kind == "discard" and before and before.kind == "pick":
            day = DAY.search(clause.words)
            told = DAY.sub(" ", clause.words, count=1)
            named = marks_in(told, parts) or UNKNOWN_NAME.search(told)
            if _EATEN.search(before.words) and not named:
                remark = noted(before.remark, f"{told.strip()} thrown away".strip(), clause.remark)
                words = f"{DAY.sub(' ', before.words)} {day[0]}" if day else before.words
                clause = found.pop()._replace(words=words, remark=remark)
        elif clause.kind == "soak" and before and before.kind == "nothing":
            on = DAY.search(clause.words)
            again = re.search(r"\b(?:again|today|now)\b", clause.words)
            if on and not again and not soaked and not stacks_in(clause.words, parts.stacks):
                clause = found.pop()._replace(remark=noted(before.remark, f"soaked {on[0]}"))
        found.append(clause)
    return found


def _without_heads(
    text: str, start: int, end: int, heads: Sequence[Head], stacks: Collection[int]
) -> str:
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
        # The article goes with its noun: 'a sprinkle' leaves no 'a', which may be a stack.
        article = re.compile(r"(?<!\w)an?\s*$", re.IGNORECASE).search(text, place, head.start)
        before = article.start() if article and article.start() not in stacks else head.start
        words += [text[place:before], head.kept]
        place = head.end
    words.append(text[place:end])
    return joined(*words).strip(" ,;:")


_OVERNIGHT = pattern_of(r"\bover ?night\b")


def _without_circumstances(text: str, kind: str) -> tuple[str, str]:
    """Return words without what they say of the weather and the hour, and that."""
    kept = []
    if len(DAY.findall(text)) > 1 and (old := _OF_A_DAY.search(text)):
        kept.append(old[0])
        text = text.replace(old[0], " ", 1)
    text = re.sub(r"(?<=day|ing|oon|ght)'s\b", "", text)
    hour = kind not in ("sold", "weigh") and (kind not in ("pick", "") or WEIGHT.search(text))
    hour = hour and not MONEY.search(HOUR.sub(" ", text))
    tank = [CLOCK_OF_TANK] if kind in ("soak", "pull") else []
    ahead = [CLOCK_BEFORE_DAY] if kind == "pick" and WEIGHT.search(text) else []
    if any(re.search(r"\d", day[0]) for day in DAY.finditer(text)):
        tank = []  # '4 May 2031' is no time of day
    night = [_OVERNIGHT] if kind == "pick" else []
    for pattern in (*ahead, CIRCUMSTANCE, CLOCK, *night, *tank, *([HOUR] if hour else [])):
        kept += [found[0] for found in pattern.finditer(text)]
        text = pattern.sub(" ", text)
    return " ".join(text.split()), ", ".join(kept)


_OF_A_DAY = pattern_of(
    rf"\b(?:of |from )?{DAY.pattern}'s (?:left-?overs?|pick(?:ing)?|harvest|crop|market|batch)\b"
)
"""'Saturday's leftovers' beside the day of the record."""


def _days(words: str, outlets: Sequence[str]) -> list[re.Match[str]]:
    """Return the days in words; 'Saturday market' is none."""
    names = outlets_in(words, outlets)
    return [
        day
        for day in DAY.finditer(words)
        if not any(name.start <= day.start() < name.end for name in names)
    ]


_TODAY = pattern_of(r"today(?: \w+)?|this \w+|tonight|now")


def _dated(clauses: list[Said], text: str, outlets: Sequence[str]) -> list[Said]:
    """Return clauses of which each has its day: 'yesterday A out, B in' is of one day."""
    days = [_days(clause.words, outlets) for clause in clauses]
    with_day = [number for number, found in enumerate(days) if found]
    if len(with_day) in (0, len(clauses)):
        return clauses
    number = with_day[0]
    words, day = clauses[number].words, days[number][0]
    ahead = number == 0 and not words[: day.start()].strip()
    behind = number == len(clauses) - 1 and not words[day.end() :].strip(" .")
    of_today = _TODAY.fullmatch(day[0].strip()) is not None  # as are those of which no day is told
    if len(with_day) > 1 or not (ahead or behind or of_today):
        raise InputError(f"'{text[:200]}': which day was which? Write one record for each.")
    return [
        clause if clause.words == words else clause._replace(words=f"{clause.words} {day[0]}")
        for clause in clauses
    ]


def _without_brackets(text: str) -> tuple[str, str]:
    """Return a sentence and the notes that stand in brackets; a day in brackets is none."""
    text = _BRACKETS.sub(lambda found: _is_mark(found[1]) or found[0], text)
    notes = "; ".join(found[1].strip() for found in _BRACKETS.finditer(text))
    text = " ".join(_BRACKETS.sub(" ", text).split())
    tail = _NOTE.search(text)
    if tail:
        notes = noted(tail[1].strip(), notes)
        text = text[: tail.start()]
    return text, notes


_ONLY_A_PART = pattern_of(r"\b(?:half|part|most|some|few|rest|not|only|except)\b.*\b(?:it|them)\b")


def _is_mark(text: str) -> str:
    """Return what stands in brackets where it is a part of the record, else nothing."""
    plain = plainly(text).strip()
    dated = DAY.search(plain) and re.search(r"\d", DAY.sub(" ", plain))
    if PART.fullmatch(plain) or _ONLY_A_PART.search(plain):
        return f", {text}"
    marks = (DAY, WEIGHT, HOURS, LOGS, MONEY)
    return text if dated or any(p.fullmatch(plain) for p in marks) else ""


def _notes(text: str, stacks: Sequence[str], today: date) -> Iterator[Said]:
    """Yield the notes that a sentence makes which is no other record: one for each stack."""
    phrase = Phrase(text)
    day = phrase.take_day(today)
    dated = f"{day}: " if day else ""
    said = re.sub(rf"^A\s+(?={NAMED_BEFORE_ONE.pattern[1:]})", "", phrase.text)  # 'A deer'
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
