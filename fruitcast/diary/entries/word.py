"""The grower's word: a soak fixed for a day, a stack kept back, either let go, a weight promised.

The day that is meant stands in the entry's `into`, as an ISO date; its `on` is the day on which
it was said. Of a stack's words the last one holds.
"""

from __future__ import annotations

import re
from calendar import monthrange
from datetime import date, timedelta
from typing import TYPE_CHECKING, ClassVar, NoReturn

from fruitcast.diary.entries.kind import (
    STACK,
    EntryKind,
    Objection,
    OfStacks,
    Saying,
    impossible,
    not_alive,
    odd_hours,
    question,
    said,
)
from fruitcast.diary.events import Event, in_force, noted
from fruitcast.diary.history import StackHistory
from fruitcast.diary.pattern import pattern_of
from fruitcast.diary.phrases import MONTHS, parse_day
from fruitcast.diary.plain_words import MONTH, WEEKDAY
from fruitcast.errors import InputError

if TYPE_CHECKING:
    from fruitcast.diary.history import YardHistory
    from fruitcast.diary.limits import Limits, Say
    from fruitcast.diary.record_phrase import Given

SEASON = "season"
"""Stands in the place of the day where a stack is kept back for the rest of the season."""

_DAY_NAME = r"(?:mon|tues?|wed(?:nes)?|thu(?:rs)?|fri|sat(?:ur)?|sun)(?:day)?\b"
_WEEKDAY = pattern_of(rf"(?<!\w){_DAY_NAME}(?!\.?,?\s*(?:the\s+)?(?:\d|{MONTH}))")
_GONE_BY = pattern_of(r"(?<!\w)(?:yesterday|last|ago)\b")
_YEAR = timedelta(days=364)
_WEEK = timedelta(days=6)
_MOST_AHEAD = timedelta(days=400)


def coming_day(given: Given) -> date | None:
    """Take a day to come off a wording: 'tuesday' is the next one, '1 aug' too."""
    phrase, today = given.phrase, given.today
    if phrase.take_words("today", "now"):
        return today
    if phrase.take_words("tomorrow"):
        return today + timedelta(days=1)
    if _GONE_BY.search(phrase.text):
        raise InputError(f"'{phrase.given}': that day has gone by. Give a day to come.")
    # Days are read as the last such day before another one: here before one ahead.
    return phrase.take_day(today + (_WEEK if _WEEKDAY.search(phrase.text) else _YEAR))


def day_meant(event: Event) -> date | None:
    """Return the day that a word is for; None where it is for the season or can't be read."""
    try:
        return date.fromisoformat(event.into)
    except ValueError:
        return None


def _ahead(event: Event) -> list[Objection]:
    """Object to a day that has gone by or is far off."""
    day = day_meant(event)
    if day is None or event.on <= day <= event.on + _MOST_AHEAD:
        return []
    when = "has gone by" if day < event.on else "is more than a year away"
    return impossible(f"{day.isoformat()} {when}. Give a day to come")


class _Word(OfStacks):
    """A word about a stack."""

    needs: ClassVar[tuple[str, ...]] = ("stack",)

    def words(self, event: Event, say: Say, cancelled: str) -> str:
        hours = f" for {event.hours:g} h" if event.hours else ""
        note = f'; note: "{event.note}"' if event.note else ""
        return f"{self.deed(event, say)}{hours}, as you said on {say.day(event.on)}{note}."

    def day_faults(self, event: Event) -> list[str]:
        """Return what is wrong with the day that is meant."""
        if not event.into or day_meant(event):
            return []
        return [f"'{event.into}' is not a day like 2027-05-04"]


class Fix(_Word):
    """The next soak of a stack is on a day that the grower has chosen."""

    how_to = "Write it like 'fix A Tue' or 'fix A 11 May 24 h'"
    other_words = ("fixed",)
    needs = ("stack", "into")

    def read(self, given: Given) -> Event:
        phrase = given.phrase
        stack, note = given.stack_at_start(), phrase.take_note()
        hours = phrase.take_hours(bare=False)
        phrase.take_words("for(?= |$)", "on", "to")
        day = coming_day(given)
        if day is None:
            raise InputError(f"'fix {phrase.given}': on which day? {self.how_to}.")
        stack = given.stack_or_guess(stack)
        return Event(self.name, given.today, stack, hours=hours, into=str(day), note=note)

    def faults(self, event: Event) -> list[str]:
        return self.day_faults(event)

    def objections(self, event: Event, limits: Limits) -> list[Objection]:
        found = not_alive(event, limits) + _ahead(event)
        found += odd_hours(event, limits, "impossible")
        day, rest = day_meant(event), timedelta(days=int(limits.numbers.schedule.rest_days))
        if day is None:
            return found
        for state in limits.concerned:
            last, until = state.last_soak, state.held_until
            if state.held_since and (until is None or day < until):
                kept = f"until {limits.say.day(until)}" if until else "this season"
                found += question(f"You keep {state.name} back {kept}. Fix it all the same?")
            if last is not None and day < last.on + rest:
                short = (
                    f"{state.name} would rest {(day - last.on).days} days from its soak on "
                    f"{limits.say.day(last.on)}, and {rest.days} are usual: it bears less, and "
                    "the logs wear"
                )
                if state.in_tank:
                    found += impossible(f"{short}. Fix a later day")
                else:
                    found += question(f"{short}. Fix it all the same?")
        return found

    def deed(self, event: Event, say: Say) -> str:
        day = day_meant(event)
        return f"The next soak of {event.stack} is fixed for {say.day(day) if day else event.into}"

    def change_one(self, event: Event, history: StackHistory) -> None:
        day = day_meant(event)
        history.say(fixed=None if day is None else (day, event.hours))


class Hold(_Word):
    """A stack is kept out of the tank until a day, or for the season."""

    how_to = "Write it like 'hold B until 1 Aug' or 'hold B this season'"
    other_words = ("held",)
    many = True
    sayings = said(
        rf"""
        (?:keep|kept|keeping) (?P<kept>{STACK}+) (?:out of|from) the (?:tank|water)
        (?:is |are |being )?rest(?:ing|ed) :: stack -weight -tank
        (?:(?:is |are |been )?(?:set|put|laid) aside(?: to rest)?(?=:? {STACK}|\s*$| for
            | (?:until|till|from|as of|since|today|now)\b)
            |(?:set (?P<kept4>{STACK}+) )?to rest\b
            |(?<={STACK} )(?:is )?(?:now )?rest now) :: stack -weight -tank
        (?:parked(?= {STACK})|(?:setting|set|put) (?P<kept2>{STACK}+) aside) :: stack -weight -tank
        (?:let(?:ting)?|giv(?:ing|en)|gave|leaving) (?P<kept3>{STACK}+) (?:have )?(?:alone|rest
            |an? (?:\w+ )?(?:rest|holiday|break)) :: -weight -tank
        (?:is |are |gone |going |now )*(?:on (?:(?:its|their|a) )?(?:hols|holidays?|rest|break)
            |off (?:the )?rota|having a rest|laid up) :: stack -weight
        (?P<kept6>began|begun|started|starting) (?:its|their|a) (?:long )?(?:rest|holiday
            |break) :: stack -weight -tank
        (?<!.)(?:a )?rest for (?P<kept5>{STACK}+) :: stack -weight -tank
        (?<={STACK} )rests(?= (?:until|till|for|from)\b) :: stack -weight -tank
        (?:laid|laying) (?P<kept7>{STACK}+) up(?: to rest)? :: -weight -tank
        (?:is |was )?put to rest(?= (?:on|for|until|till|from|since|today)\b) :: stack -weight -tank
        """
    )
    needs = ("stack", "into")

    def read(self, given: Given) -> Event:
        phrase = given.phrase
        stack, note = given.stack_at_start(), phrase.take_note()
        if phrase.take_words("(?:for )?(?:this|the|all|the whole)(?: the)? (?:season|summer)"):
            into = SEASON
        else:
            now = phrase.take_words(_FOR_NOW)
            phrase.take_words("(?:(?:as )?(?:from|of) )?(?:today|now)(?: on)?")
            since = phrase.take(_SINCE)
            if not since and (begun := _BEGUN.search(phrase.text)):
                raise InputError(f"'{begun[0].strip()}': until when? {self.how_to}.")
            if not since and _SO_LONG.search(phrase.text):
                since = phrase.take(_ON_DAY)  # 'on Sunday for five weeks'
            begun_on = given.today
            if since and _SO_LONG.search(phrase.text):
                begun_on = parse_day(_DAY_OF_SINCE.sub("", since[0]), given.today)
            day = _end_of_month(given) or _after_so_long(given, begun_on)
            if day and begun_on != given.today:
                given.choices.append(
                    f"Is {stack or 'it'} kept back until {day:%d %b}, counted from "
                    f"{begun_on:%d %b}?"
                )
            phrase.take_words("to rest", "for a rest")
            until = phrase.take_words("until", "till", "to")
            if not (day or until) and _ON_A_DAY.search(phrase.text):  # it may be when it began
                raise InputError(f"'hold {phrase.given}': until when? {self.how_to}.")
            day = day or coming_day(given)
            if (
                day is None
                and not now
                and re.search(r"\b(?:until|till|to|for)\b(?! (?:a )?rest)", phrase.given)
            ):
                raise InputError(f"'hold {phrase.given}': until when? {self.how_to}.")
            if day is None:
                given.choices.append(
                    f"'{phrase.given}': until when? It would be kept back this season."
                )
            into = str(day) if day else SEASON
            note = noted(since, note)
        stack = given.stack_or_guess(stack)
        note = given.rest_as_note(note)
        return Event(self.name, given.today, stack, into=into, note=note)

    def faults(self, event: Event) -> list[str]:
        return [] if event.into == SEASON else self.day_faults(event)

    def objections(self, event: Event, limits: Limits) -> list[Objection]:
        return not_alive(event, limits) + _ahead(event)

    def deed(self, event: Event, say: Say) -> str:
        day = day_meant(event)
        until = f"until {say.day(day)}" if day else "this season"
        return f"{event.stack} is kept out of the tank {until}"

    def change_one(self, event: Event, history: StackHistory) -> None:
        history.say(held_until=day_meant(event), held_since=event.on)


_FOR_NOW = "for (?:now|the (?:moment|time being)|a (?:while|bit))"
_SO_LONG = pattern_of(
    r"\b(?:(?:from (?:today|now)(?: on)?),? )?(?:for )?(?:about )?(?P<number>\d+|an?"
    r"|one) (?P<unit>day|week|month|fortnight)s?\b"
)
_BEGUN = pattern_of(r"\bsince\b.*")
_SINCE = pattern_of(
    r"\b(?:(?:as )?(?:from|since)|as of|began|begun|started|starting)(?: on)?"
    r" (?:yesterday|last night|the \d{1,2}(?:st|nd|rd|th)|(?:the )?\d{1,2}(?:st|nd|rd|th)?"
    rf"(?: of)? {MONTH}|(?:last )?{WEEKDAY})[a-z]*(?: on(?:wards)?)?\b"
)
"""From when a stack is kept back: never until when."""

_DAY_OF_SINCE = pattern_of(
    r"^(?:(?:as )?(?:from|since|of)|began|begun|started|starting)?(?: ?on)? |\bonwards?$"
)
_ON_DAY = pattern_of(rf"\bon (?:last )?{_DAY_NAME}")
_ON_A_DAY = pattern_of(rf"\b{WEEKDAY}[a-z]*\b")
_MONTH_ALONE = pattern_of(rf"\b(?:until|till) (?P<month>{MONTH})[a-z]*\b(?! \d)")


_END_OF_MONTH = pattern_of(
    r"\b(?:until|till|to|through) (?:the )?(?P<part>end|middle|start|beginning) of"
    rf" (?P<month>{MONTH})[a-z]*\b"
)


def _coming_month(given: Given, name: str) -> tuple[int, int]:
    """Return year and month of the next month that begins with some letters."""
    number = [month[:3].lower() for month in MONTHS].index(name[:3].lower()) + 1
    return given.today.year + (number < given.today.month), number


def _end_of_month(given: Given) -> date | None:
    """Take 'till the end of June' and return that day."""
    if not (found := given.phrase.take(_END_OF_MONTH)):
        return None
    year, month = _coming_month(given, found["month"])
    days = {"end": monthrange(year, month)[1], "middle": 15}
    return date(year, month, days.get(found["part"].lower(), 1))


def _after_so_long(given: Given, begun: date) -> date | None:
    """Take 'for six weeks' or 'till July' and return the day on which that is over."""
    if month := given.phrase.take(_MONTH_ALONE):
        year, number = _coming_month(given, month["month"])
        return date(year + (number == given.today.month), number, 1)
    if not (found := given.phrase.take(_SO_LONG)):
        return None
    count = int(found["number"]) if found["number"].isdigit() else 1
    if found["unit"].lower() != "month":
        days = {"day": 1, "week": 7, "fortnight": 14}[found["unit"].lower()]
        return begun + timedelta(days=days * count)
    months = begun.month - 1 + count
    year, month_ = begun.year + months // 12, months % 12 + 1
    return date(year, month_, min(begun.day, monthrange(year, month_)[1]))


class Release(_Word):
    """What was fixed or kept back is the plan's again, what was promised is promised no more."""

    how_to = "Write it like 'release A', or with an outlet and the day of its promise"
    other_words = ("released",)
    needs: ClassVar[tuple[str, ...]] = ()

    def read(self, given: Given) -> Event:
        phrase = given.phrase
        stack, note = given.stack_at_start(), phrase.take_note()
        outlet = "" if stack else given.known_outlet()
        if not outlet:
            return Event(self.name, given.today, given.stack_or_guess(stack), note=note)
        phrase.take_words("for", "on", "by")
        day = coming_day(given)
        into = "" if day is None else str(day)
        return Event(self.name, given.today, outlet=outlet, into=into, note=note)

    def faults(self, event: Event) -> list[str]:
        if event.stack or event.outlet:
            return self.day_faults(event)
        return [f"a {self.name} entry needs 'stack' or 'outlet'"]

    def objections(self, event: Event, limits: Limits) -> list[Objection]:
        if not event.outlet:
            return []
        standing: Promises = {}
        for known in in_force(limits.known):
            _promise(standing, known)
        if _let_go(standing, event):
            return []
        day = day_meant(event)
        on = f" for {limits.say.day(day)}" if day else ""
        return impossible(f"Nothing is promised to {event.outlet}{on}")

    def deed(self, event: Event, say: Say) -> str:
        if event.outlet:
            day = day_meant(event)
            what = f"for {say.day(day)} is" if day else "to come are"
            promise = f"The promise to {event.outlet}" if day else f"All promises to {event.outlet}"
            return f"{promise} {what} taken off"
        return f"{event.stack} is released: the plan chooses again"

    def enter(self, event: Event, yard: YardHistory) -> None:
        if event.outlet:
            _promise(yard.promised, event)
        else:
            super().enter(event, yard)

    def change_one(self, event: Event, history: StackHistory) -> None:
        history.say()


Promises = dict[tuple[str, date], float]
"""What is promised to whom for which day. [kg]"""


def _promise(standing: Promises, event: Event) -> None:
    """Let an entry change what is promised."""
    day = day_meant(event)
    if event.kind == "promised" and day is not None and event.kg:
        standing[event.outlet, day] = event.kg
    elif event.kind == "release":
        for promise in _let_go(standing, event):
            del standing[promise]


def _let_go(standing: Promises, event: Event) -> list[tuple[str, date]]:
    """Return the promises that a release takes off: that of its day, or all from its day on."""
    day = day_meant(event)
    return [
        (outlet, on)
        for outlet, on in standing
        if outlet == event.outlet and (on == day if day else on >= event.on)
    ]


class Promised(EntryKind):
    """A weight that somebody was promised for a day."""

    how_to = "Write it like 'promised Saturday market 2 lb|1 kg Fri'"
    other_words = ("promise",)
    sayings = (
        Saying(
            "promised|committed|owe(?= (?:the )?\u00b7)|(?<=\u00b7 )booked"
            "|said(?= \u00b7+ (?:could|can) have)"
            "|told(?: \\w+ yes)?|(?:gave|given) (?:my|our) word|said (?:yes|ok|fine)"
            "|(?<=\u00b7 )(?:is )?(?:down|booked) for"
            "|(?<=\u00b7 )(?:wants?|wanted|order(?:ed)?(?: is| for)?)",
            "weight outlet -money -delivered",
        ),
    )
    needs = ("outlet", "kg", "into")
    weight_above_zero = True

    def read(self, given: Given) -> Event:
        phrase = given.phrase
        note, outlet = phrase.take_note(), given.known_outlet()
        kg = given.weight()
        if kg == 0:
            to = f" {outlet}" if outlet else ""
            raise InputError(
                f"A promise needs a weight above 0. 'release{to or ' Bull'} 18 May' takes one off."
            )
        phrase.take_words(
            "(?:that )?(?:they|he|she|it|you|)(?:'d| ?can| ?could| ?will|'ll| ?would)"
            " (?:have|get|take)"
        )
        phrase.take_words("that's a promise", "(?:and )?(?:i )?promised(?: it| that)?")
        phrase.take_words("for", "on", "by")
        day = coming_day(given)
        if day is None:
            raise InputError(f"'promised {phrase.given}': for which day? {given.how_to}.")
        if not outlet:
            self.refuse_unknown(given)
        return Event(self.name, given.today, kg=kg, outlet=outlet, into=str(day), note=note)

    def refuse_unknown(self, given: Given) -> NoReturn:
        """Refuse a promise to nobody, or to somebody of whom the plan would know nothing."""
        name = re.sub(r"^(?:to|for|at)\b\s*", "", given.phrase.text.strip(" ,."))
        whom = f"there is no outlet '{name}'" if name else "promised to whom"
        if given.outlets:
            told = f"The yard sells to {', '.join(given.outlets)}: write one of them, or add"
        else:
            told = "The yard has no outlet yet: add"
        raise InputError(
            f"'promised {given.phrase.given}': {whom}. {told} an [[outlet]] to yard.toml, so that "
            "the plan minds the promise; 'note ...' keeps the words."
        )

    def faults(self, event: Event) -> list[str]:
        found = super().faults(event)
        if event.into and day_meant(event) is None:
            found.append(f"'{event.into}' is not a day like 2027-05-04")
        return found

    def objections(self, event: Event, limits: Limits) -> list[Objection]:
        return _ahead(event)

    def deed(self, event: Event, say: Say) -> str:
        day = day_meant(event)
        return f"Promised {say.weight(event.kg)} for {say.day(day) if day else event.into}"

    def words(self, event: Event, say: Say, cancelled: str) -> str:
        note = f'; note: "{event.note}"' if event.note else ""
        return (
            f"{self.deed(event, say)} to {event.outlet}, as you said on {say.day(event.on)}{note}."
        )

    def enter(self, event: Event, yard: YardHistory) -> None:
        _promise(yard.promised, event)
