"""What the wordings of all records have in common: stack, day, weight, outlet."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import date

from fruitcast.diary.events import noted
from fruitcast.diary.pattern import pattern_of
from fruitcast.diary.phrases import DAY, HOURS, LOGS, WEIGHT, Phrase, nearest
from fruitcast.diary.plain_words import ORDINARY, UNKNOWN_NAME, is_empty, without_ends
from fruitcast.errors import InputError
from fruitcast.numbers import Numbers
from fruitcast.tables.values import WEEKDAYS
from fruitcast.units import Units

_BARE_MOST: dict[Units, float] = {"us": 10.0, "metric": 20.0}
"""A weight without a unit up to this is in lb or kg; above, ounces or grams may be meant."""

_PLACED = r"(?<!\w)(?:(?:from|off|of|on|in|to|around)\s+)?(?:the\s+)?(?:logs\s+of\s+)?(?:stack\s+)?"
_TO = r"(?<![\w/])(?:(?:for|to|at)\s+)?(?:the\s+)?"
_DEAD = pattern_of(r"\b(?:dead|died)\b")
_WEEKDAY_WORDS = frozenset(name.lower() for name in WEEKDAYS)
_WEEKDAY_STARTS = frozenset(name[:3] for name in _WEEKDAY_WORDS)
_PICKED = pattern_of(rf"\bpicked\s+(?:on\s+)?|\bfrom\s+(?!on\b)(?={DAY.pattern})")
_PICKED_FOR = pattern_of(r"\b(?:for|to)\s+(\w[^\s,;.]*(?: [^\s,;.]+){0,2})(?=\s*(?:$|[,;.]))")
_FOR = pattern_of(r"\b(?:for|to|at)\s+(.+)$")


def _tidied(text: str) -> str:
    """Return words without the commas and 'and' that stood beside what was taken out of them."""
    text = re.sub(r"\s*([,;:])(?:\s*[,;:])+", r"\1", text)
    text = re.sub(r"\s+([,;:.])", r"\1", text).strip(" ,;.:-")
    return re.sub(r"^(?:and|but)\b[\s,;:]*|[\s,]*\b(?:and|but)$", "", text, flags=re.IGNORECASE)


@dataclass
class Given:
    """What a wording is read against, and the doubts met on the way."""

    phrase: Phrase
    how_to: str
    today: date
    default_day: date
    units: Units
    outlets: tuple[str, ...]
    stacks: tuple[str, ...]
    numbers: Numbers
    whole: bool = False
    """Whether it is about all logs of the stack: then 'the other half' may not be passed over."""
    questions: list[str] = field(default_factory=list)
    choices: list[str] = field(default_factory=list)
    """Which of several readings is meant: no option answers that."""
    hints: list[str] = field(default_factory=list)
    """What is said beside what was understood, to be passed over."""

    def opened(self) -> tuple[Phrase, str, str, date]:
        """Take what most records begin and end with: the words, then stack, note and day."""
        return self.phrase, self.stack_at_start(), self.phrase.take_note(), self.day()

    def stack_at_start(self) -> str:
        """Take a known stack off the beginning, else nothing."""
        named = self.phrase.take_name(self.stacks, at_start=True)
        if named is None:  # a stack may bear the word in its name
            self.phrase.take_words(r"^(?:log )?stack(?=\s)")
            named = self.phrase.take_name(self.stacks, at_start=True)
        return named or ""

    def stack_anywhere(self) -> str:
        """Take a known stack wherever it stands; a single letter as it is written ('a' is none)."""
        for name in sorted(self.stacks, key=len, reverse=True):
            written = re.escape(name) if len(name) > 1 else f"(?-i:{re.escape(name)})"
            if self.phrase.take(
                re.compile(rf"{_PLACED}(?<![\w/°])(?<!\d\s){written}(?![\w/])", re.IGNORECASE)
            ):
                return name
        return ""

    def stack_or_guess(self, stack: str) -> str:
        """Return the stack found, or ask about the nearest to the words left over."""
        if stack:
            return stack
        self.phrase.text = self.phrase.text.strip(" ,:;.")
        stack = self.stack_at_start() or self.stack_anywhere()
        if stack:
            return stack
        left = without_ends(self.phrase.text.strip(" ,:"))
        if not left:
            raise InputError(f"Which stack? {self.how_to}.")
        self.phrase.text = ""
        return self.guess(left)

    def guess(self, name: str) -> str:
        """Return the stack nearest to a name, asking whether it is meant."""
        exact = Phrase(name).take_name(self.stacks, at_start=True)
        if exact and exact.lower() == name.lower():
            return exact
        near = nearest(name, self.stacks)
        if near is None:
            raise InputError(
                f"There is no stack '{name}'. The yard has: {', '.join(self.stacks) or 'none'}."
            )
        self.choices.append(f"There is no stack '{name}'. Is {near} meant?")
        return near

    def day(self) -> date:
        """Take the day; the default one when none is named."""
        day = self.phrase.take_day(self.today)
        return self.default_day if day is None else day

    def rest_as_note(self, note: str, *, counts: bool = False) -> str:
        """Return a note with all words that are left: they are kept as the grower's own.

        A second weight or day is none, nor what may be a stack, nor a number but of logs or, with
        `counts`, of what was counted: it is left, and so refused.
        """
        left = self.phrase.text
        if any(p.search(left) for p in (WEIGHT, DAY, UNKNOWN_NAME, _DEAD, HOURS)):
            return note
        if not counts and re.search(r"\d", LOGS.sub(" ", left)):
            return note
        left, self.phrase.text = _tidied(self.phrase.text), ""
        return noted("" if is_empty(left) else left, note)

    def picked_on(self) -> date | None:
        """Take the day of the pick that something comes from ('picked yesterday')."""
        found = _PICKED.search(self.phrase.text)
        if not found:
            return None
        rest = Phrase(self.phrase.text[found.end() :])
        day = rest.take_day(self.today)
        if day is None:
            raise InputError(f"'{self.phrase.given}': picked when? Write it like 'picked Fri'.")
        self.phrase.text = f"{self.phrase.text[: found.start()]} {rest.text}".strip()
        return day

    def known_outlet(self) -> str:
        """Take the name of an outlet of the yard."""
        for name in sorted(self.outlets, key=len, reverse=True):
            if self.phrase.take(re.compile(_TO + re.escape(name) + r"(?![\w/])", re.IGNORECASE)):
                return name
        return self._outlet_by_a_word()

    def _outlet_by_a_word(self) -> str:
        """Take a word that stands in the name of an outlet and in no other ('market')."""
        words = {name: set(re.findall(r"[^\W\d_]{3,}", name.lower())) for name in self.outlets}
        text = self.phrase.text.lower()
        for word in re.findall(r"[^\W\d_]{3,}", text):
            fitting = [name for name in words if word in words[name] - _WEEKDAY_WORDS]
            if not fitting or word == "the":
                continue
            # 'sat market' names the day of the market; another day's is another market.
            day = re.search(rf"\b({'|'.join(_WEEKDAY_STARTS)})\w*\s+{word}\b", text)
            own = {name for name in fitting if day and day[1] in {w[:3] for w in words[name]}}
            if day and not own:
                continue
            fitting = sorted(own) or fitting
            if len(fitting) > 1:
                raise InputError(f"'{word}' may be {' or '.join(fitting)}. Write the whole name.")
            named = rf"{day[1]}\w*\s+{word}" if day else word
            self.phrase.take(re.compile(rf"{_TO}{named}(?!\w)", re.IGNORECASE))
            return fitting[0]
        return ""

    def weight(self) -> float:
        """Take the weight, which must be there. [kg]"""
        kg = self.phrase.take_weight(self.units, _BARE_MOST[self.units])
        if kg is None:
            raise InputError(f"What weight? {self.how_to}.")
        return kg

    def other_outlet(self, *, of_pick: bool = False) -> str:
        """Take the name of a buyer that is no outlet of the yard, after 'to' or 'for'.

        Mushrooms are picked for somebody, in a few words that say nothing else.
        """
        found = _PICKED_FOR.search(self.phrase.text) if of_pick else _FOR.search(self.phrase.text)
        name = found[1].strip(" ,.") if found else ""
        if not found or not name or (of_pick and {*name.lower().split()} & (ORDINARY - {"the"})):
            return ""
        self.phrase.take(found.re)
        near = nearest(name, self.outlets)
        asked = f"There is no outlet '{name}' in yard.toml; it would be recorded as written."
        if near:
            self.choices.append(f"{asked} Is {near} meant?")
        else:
            self.questions.append(asked)
        return name
