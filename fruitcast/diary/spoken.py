"""A sentence, or a sheet of them, read as records: each judged with those before it counted."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property

from fruitcast.diary.asides import EATEN, left_in_notes, with_thousands, without_staying
from fruitcast.diary.courtesies import at_its_market, with_one_day, without_greetings
from fruitcast.diary.crates import AskPlan, expected_on, parted, shares
from fruitcast.diary.events import PASSED_ON, SOAK, Event, noted
from fruitcast.diary.guess import readings, turns_back, uses_all, with_told_lots
from fruitcast.diary.limits import Limits
from fruitcast.diary.marks import Parts, with_names
from fruitcast.diary.not_done import TAKES_BACK, is_near_doubt, refuse_change_of_entry
from fruitcast.diary.pattern import pattern_of
from fruitcast.diary.phrases import DEPTH, LASTED, parse_day
from fruitcast.diary.plain_words import SOMEBODY, with_plain_signs
from fruitcast.diary.recording import (
    NeedsYesError,
    Recorded,
    bare,
    check_record,
    examples_in,
    limits_of,
    outlet_names,
    parse_record,
    refuse_long,
    short_form,
    undo_record,
)
from fruitcast.diary.sentence import Said, records_in
from fruitcast.diary.state import StackState
from fruitcast.diary.state_from_diary import yard_state
from fruitcast.errors import Fault, FaultsError, FruitcastError, InputError
from fruitcast.units import format_weight
from fruitcast.yard.model import Yard, stack_of

_AS_NOTE = pattern_of(r"\b(?:note[ds]?|memo|n\.?b|fyi|remember|remind\w*|jot\w*)\b")
"""Who says so wants no more than words kept."""

_GIVEN = pattern_of(rf"(?<!.)gave(?! (?:us|me)\b)|\b{PASSED_ON}|\d ?[a-z]+\b[^,;]* to {SOMEBODY}")

MAX_SENTENCE = 500
"""Longest record of all kinds but a note. [characters]"""

MAX_LINES = 500
"""Lines of a sheet read at most: a season's, or several sheets at once."""

MOST_OF_A_MESSAGE = 400
"""Characters told of what is wrong in one line of a sheet: it may repeat the line."""

MAX_FAULTS = 50
"""Faults of a sheet listed at most."""


@dataclass(frozen=True)
class _Reader:
    """What a sentence is read against; see `parse_sentence`."""

    yard: Yard
    events: Sequence[Event]
    today: date
    stacks: Mapping[str, StackState]
    day: date | None
    yes: bool
    plan: AskPlan | None
    aside: list[str] | None = None

    @cached_property
    def parts(self) -> Parts:
        """Names that a sentence may hold."""
        names = dict.fromkeys([*map(stack_of, self.stacks), *self.stacks])
        return Parts(tuple(names), outlet_names(self.yard))

    def read(self, text: str) -> tuple[Recorded, ...]:
        """Return what a sentence means as it is typed; see `parse_sentence`."""
        refuse_long(text)
        text = in_words(text)
        if len(text) > MAX_SENTENCE and not text.lower().lstrip().startswith("note"):
            raise InputError(
                f"That is {len(text)} characters for one record. Write one record a line, or "
                "'note' before it."
            )
        if TAKES_BACK.fullmatch(" ".join(text.split())):
            last = undo_record(self.events, self.yard.units)
            if not last.event.cancels:
                raise InputError(
                    f"'{text}': leave out the line above instead; it is not written yet."
                )
            words = last.understood.partition(": ")[2]
            asked = f"The last entry is taken back: {words} Is it right?"
            return (last if self.yes else replace(last, questions=(asked,)),)
        picked = {event.stack for event in self.events if event.kind == "pick"}
        refuse_change_of_entry(" ".join(text.split()), self.parts.stacks, picked)
        with examples_in(self.yard.units):
            try:
                return self.meant(text)
            except InputError as error:
                error.args = (_as_typed(str(error), text),)
                raise

    def meant(self, text: str) -> tuple[Recorded, ...]:
        """Return what a sentence means, where that is open asked about."""
        try:
            return self.wholly(text, self.records(text))
        except NeedsYesError:
            if without_staying(text, self.parts)[1] and (found := self.leniently(text)):
                return found
            raise
        except InputError as refused:
            # What is not understood as a whole may be a record in much company.
            found = self.leniently(text)
            if found and self.yes:
                raise InputError(f"{found[0].choices[0]} Nothing was recorded.") from refused
            if not found:
                raise
            return found

    @cached_property
    def limits(self) -> Limits:
        """What its records are held against."""
        return limits_of(self.yard, self.events, self.stacks, self.today)

    def records(self, text: str) -> tuple[Recorded, ...]:
        """Return what a sentence means."""
        found: list[Recorded] = []
        in_tank = [name for name, state in self.stacks.items() if state.in_tank]
        sentence = records_in(text, self.parts.stacks, self.today, in_tank, self.parts.outlets)
        for said in sentence.records:
            now = self.after(found)
            if said.together:
                found += now.one_crate(said)
                continue
            record = now.record(said, to_come=bool(sentence.to_come))
            if (
                sentence.to_come
                and record.event.kind == SOAK
                and not (self.yes or LASTED.search(said.words))
            ):
                asked = (
                    f"'{sentence.to_come}': how many hours is that? It is kept as your words only."
                )
                record = replace(record, questions=(*record.questions, asked))
            found.append(record)
        if sentence.mended:
            told = " ".join(
                f"'{word}' was read as '{as_}'." for word, as_ in sentence.mended.items()
            )
            found[0] = replace(found[0], understood=f"{found[0].understood} {told}")
        return tuple(found)

    def after(self, records: Sequence[Recorded]) -> _Reader:
        """Return what goes on reading with some records counted."""
        if not records:
            return self
        known = [*self.events, *(record.event for record in records)]
        return replace(self, events=known, stacks=yard_state(self.yard, known, self.today).stacks)

    def record(self, said: Said, *, to_come: bool = False) -> Recorded:
        """Return what one record of a sentence means."""
        return parse_record(
            said.kind,
            said.words,
            self.limits,
            outlets=outlet_names(self.yard),
            day=self.day,
            remark=said.remark,
            yes=self.yes,
            plan=None if to_come else self.plan,
            aside=self.aside,
        )

    def leniently(self, text: str, *, deeds: bool = False) -> tuple[Recorded, ...]:
        """Return what a sentence that was refused may mean, asked about; nothing if that is open.

        Every stack and outlet in it is in the records, every amount and day is read; with `deeds`
        they are no mere notes.
        """
        plain = with_thousands(self.plainly_named(with_one_day(without_greetings(text))))
        plain, staying = without_staying(plain, self.parts)
        parts = with_told_lots(plain, self.parts)
        if "?" in text or is_near_doubt(text):
            return ()
        given = _GIVEN.search(plain)  # what was given away was picked before
        found: list[tuple[tuple[Recorded, ...], list[str], str]] = []
        needs: NeedsYesError | None = None
        for reading in readings(plain, parts):
            if reading.note and found:
                break
            reader = replace(self, aside=[*reading.aside])
            try:
                records = reader.each(reading.parts)
            except InputError as error:
                if reading.note and isinstance(error, NeedsYesError):
                    needs = needs or error
                continue
            events = [record.event for record in records]
            lost = any(map(EATEN.search, reading.aside))
            if lost and any(event.kind == "pick" and not event.lost_kg for event in events):
                continue
            if given and {event.kind for event in events} & {"pick", "discard"} == {"pick"}:
                continue
            if any(event.kind == "rain" for event in events) and not DEPTH.search(plain):
                continue
            if deeds and all(event.kind == "note" for event in events):
                continue
            left = left_in_notes(plain, events, parts)
            whole = uses_all(plain, events, parts) and (reading.note or not left)
            noted = reading.note and any(
                event.kind == "note" and not event.note.startswith("inoculated") for event in events
            )
            if whole and not noted and not turns_back(events):
                found.append(
                    (records, [reading.note] if reading.note else reader.aside or [], left)
                )
        if needs and not found:
            raise needs
        if len({tuple(bare(one.event) for one in records) for records, *_ in found}) != 1:
            return ()
        records, aside, left = found[0]
        aside = [*aside, staying] if staying else aside
        guessed = any("There is no" in choice for record in records for choice in record.choices)
        left = left if len(left) < len(plain) - 2 else ""
        return () if guessed else self.asked(records, aside, plain, left)

    def wholly(self, text: str, records: tuple[Recorded, ...]) -> tuple[Recorded, ...]:
        """Return records of which a question tells what of a sentence's work is in none of them."""
        plain = self.plainly_named(without_greetings(text))
        left = left_in_notes(plain, [record.event for record in records], self.parts)
        noted = not _AS_NOTE.search(text) and all(one.event.kind == "note" for one in records)
        guessed = any("There is no stack" in choice for one in records for choice in one.choices)
        more: tuple[Recorded, ...] = ()
        with suppress(NeedsYesError):
            more = self.leniently(text, deeds=noted) if left or noted or guessed else ()
        if more and self.yes:
            raise InputError(f"{more[0].choices[0]} Nothing was recorded.")
        if more or not left or self.yes:
            return more or records
        asked = f"'{left}' makes no record, it is kept as words only. Is that right?"
        first = records[0]
        return (replace(first, questions=(asked, *first.questions)), *records[1:])

    def asked(
        self, records: Sequence[Recorded], aside: Sequence[str], text: str, unrecorded: str
    ) -> tuple[Recorded, ...]:
        """Return records of which the first asks whether all of them are meant, and no more."""
        told = " ".join(record.understood for record in records).rstrip(".")
        words = ", ".join(dict.fromkeys(aside))
        left = f" '{words}' was left aside and stays as a note." if words else ""
        left = " All your words stay as a note." if words == text else left
        left = f" '{unrecorded}' makes no record.{left}" if unrecorded else left
        shorts = [self.short_form(record.event) for record in records]
        plain = ", then ".join(f"'{short}'" for short in shorts) if all(shorts) else ""
        asked = f"Is this right: {told}?{left}{f' Plainly it is {plain}.' if plain else ''}"
        first = records[0].event
        return (
            replace(
                records[0],
                event=replace(first, note=noted(first.note, *aside)),
                questions=(asked, *records[0].questions),
                choices=(asked, *records[0].choices),
            ),
            *records[1:],
        )

    def short_form(self, event: Event) -> str:
        """Return a command that is read as an entry without a question of words; else nothing."""
        short = short_form(event, self.yard.units, self.today)
        try:
            (read,) = replace(self, yes=False, plan=None).records(short)
        except (InputError, ValueError):
            return ""
        same = all(
            getattr(event, name) == getattr(read.event, name)
            for name in ("kind", "on", "stack", "logs", "findings", "outlet", "into", "hours")
        )
        weight = abs((event.kg or 0.0) - (read.event.kg or 0.0)) <= 0.01 * (event.kg or 0.0)
        return short if same and weight and not read.choices else ""

    def plainly_named(self, text: str) -> str:
        """Return a sentence with signs and names as they are known."""
        named = with_names(with_plain_signs(text), self.parts.stacks)
        return " ".join(at_its_market(named, self.parts.outlets).split())

    def each(self, texts: Iterable[str]) -> tuple[Recorded, ...]:
        """Return what sentences mean, each judged with those before it counted."""
        records: list[Recorded] = []
        for text in texts:
            records += self.after(records).records(text)
        return tuple(records)

    def one_crate(self, said: Said) -> Iterable[Recorded]:
        """Return the picks of one crate from several stacks, each with its part."""
        # Read as if all were of one stack: what speaks against so much of it is no doubt here.
        one = Said("pick", f"{said.together[0]} {said.words}", said.remark)
        whole = replace(self, events=(), yes=True).record(one).event
        plan = self.plan() if self.plan else None
        parts = shares(said.together, expected_on(plan, whole.on) if plan else {}, self.stacks)
        weight = format_weight(whole.kg or 0.0, self.yard.units)
        for event in parted(whole, said.together, parts, weight):
            yield check_record(event, self.limits, yes=self.yes)


def parse_sentence(
    text: str,
    *,
    yard: Yard,
    events: Sequence[Event],
    today: date,
    stacks: Mapping[str, StackState] | None = None,
    day: date | None = None,
    yes: bool = False,
    plan: AskPlan | None = None,
) -> tuple[Recorded, ...]:
    """Return what a sentence means: one record, or one for each stack that it names.

    It is as typed: 'pick A 2 lb', 'yesterday: put A and B in the tank'. `events` are the diary so
    far, `stacks` what it leaves, worked out where that isn't given; each record is judged with
    those before it already counted. A crate from several stacks is shared by what the `plan`
    expected of each on its day, else by their logs. The others are as in `parse_record`, as are
    errors; InputError also if the kind of record is not told, or one amount is given for several
    stacks.
    """
    if stacks is None:
        stacks = yard_state(yard, events, today).stacks
    return _Reader(yard, events, today, stacks, day, yes, plan).read(text)


_QUOTED = re.compile(r"^'(.*?)'(?=: |$)", re.DOTALL)
_NOT_ALL = "not all of it is understood"
_LEFT_OVER = re.compile(r"(?<=': )'(.*?)' is not understood", re.DOTALL)


def _as_typed(message: str, text: str) -> str:
    """Return why a sentence is refused, quoting nothing that does not stand in it."""

    def typed(words: str) -> bool:
        return " ".join(words.split()).lower() in " ".join(text.split()).lower()

    message = _LEFT_OVER.sub(lambda f: f[0] if typed(f[1]) else _NOT_ALL, message, count=1)
    return _QUOTED.sub(lambda f: f[0] if typed(f[1]) else f"'{text[:200]}'", message)


def parse_sheet(
    lines: Iterable[str],
    *,
    yard: Yard,
    events: Sequence[Event],
    today: date,
    yes: bool = False,
    plan: AskPlan | None = None,
) -> tuple[Recorded, ...]:
    """Return what a filled-in tick sheet means: many records, several days, all or none.

    A line is a record ('picked A 2 lb'). A line with nothing but a day sets the day of the
    records below it that name none. Blank lines and lines that begin with '#' are passed
    over. Each record is judged with those above it already counted; all else is as in
    `parse_sentence`. Raises FaultsError with every line that can't be read or be true.
    """
    lines = list(lines)
    if len(lines) > MAX_LINES:
        raise InputError(
            f"The sheet has {len(lines)} lines, at most {MAX_LINES} are read. Cut it into several "
            "sheets; nothing was recorded."
        )
    records: list[Recorded] = []
    faults: list[Fault] = []
    stacks = yard_state(yard, events, today).stacks
    reader = _Reader(yard, events, today, stacks, today, yes, plan)
    for number, line in enumerate(lines, start=1):
        text = line.strip()
        if not text or text.startswith("#"):
            continue
        with suppress(InputError):
            reader = replace(reader, day=parse_day(text.rstrip(":"), today))
            continue
        try:
            understood = reader.read(text)
        except FruitcastError as error:
            problem = str(error).rstrip(".")
            if len(problem) > MOST_OF_A_MESSAGE:
                problem = f"{problem[:MOST_OF_A_MESSAGE]}..."
            place, remedy = f"line {number}, '{text[:60]}'", "Nothing of the sheet was recorded"
            faults.append(Fault(place, problem, remedy))
            if len(faults) >= MAX_FAULTS:
                break
        else:
            records += understood
            reader = reader.after(understood)
    if faults:
        raise FaultsError(faults)
    if not records:
        raise InputError("The sheet holds no record. Write one on each line, like 'pick A 2 lb'.")
    return tuple(records)


# A line of a table or of a form put in words: 'stack=N action=water mm=5' is 'water N 5 mm'.

_PAIR = pattern_of(
    r"(?<!\S)([a-z_]+) ?= ?(?:\"([^\"]*)\"|(.*?))(?=[\s,;|]*(?:$|(?<!\S)[a-z_]+ ?=))"
)
_JOINT = re.compile(r"\s+(?://|\|)\s+|\t+")
_KINDS_IN_FORMS = {
    "sale": "sold",
    "harvest": "pick",
    "yield": "pick",
    "logweight": "weigh",
    "log_weight": "weigh",
    "sample": "weigh",
    "rest": "hold",
    "loss": "discard",
}
"""Words for a kind that stand in forms, and what is said."""
_NAMES_IN_FORMS = frozenset(("stack", "lot", "from"))
_DOINGS = frozenset(("action", "kind", "type", "what", "event", "did"))
_SAID_AS = {
    **dict.fromkeys(
        ("kg", "g", "lb", "oz", "mm", "litres", "hours", "h", "min", "minutes"), "{} {}"
    ),
    **dict.fromkeys(("logs", "dead"), "{} {}"),
    **dict.fromkeys(("weeks", "days", "months"), "for {} {}"),
    **dict.fromkeys(("outlet", "buyer", "customer", "to"), "to {}"),
    **dict.fromkeys(("gbp", "paid", "price", "money"), "for £{}"),
    "eur": "for €{}",
    "usd": "for ${}",
    **dict.fromkeys(("pins", "mould"), "{1} on {0} logs"),
    **dict.fromkeys(("qty", "amount", "weight", "date", "day", "on", "until", "for"), "{}"),
    "time": "at {}",
    "note": "note {}",
}
"""How the value of a field is said, by its name."""


def in_words(text: str) -> str:
    """Return a line of named fields, or of cells, as a sentence; any other line as it is."""
    found = [*_PAIR.finditer(text)]
    fields = {m[1].lower(): (m[2] or m[3] or "").strip(" ,;|") for m in found}
    if len(found) < 2 or text[: found[0].start()].strip() or not _DOINGS & fields.keys():
        return _JOINT.sub(", ", text) if len(_JOINT.findall(text)) > 1 else text
    doing = next(fields.pop(name) for name in (*fields,) if name in _DOINGS)
    stack = next((fields.pop(name) for name in (*fields,) if name in _NAMES_IN_FORMS), "")
    said = [_field_said(name, value) for name, value in fields.items() if value]
    return " ".join(filter(None, (_KINDS_IN_FORMS.get(doing.lower(), doing), stack, *said)))


def _field_said(name: str, value: str) -> str:
    if value in ("0", "none", "no") and name in ("pins", "mould", "dead"):
        return f"no {name}{' logs' if name == 'dead' else ''},"
    comma = "," if name in ("pins", "mould", "dead") else ""
    return _SAID_AS.get(name, "({1}: {0})").format(value, name) + comma
