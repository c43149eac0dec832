"""What the wordings of all records have in common: stack, day, outlet, examples."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

from fruitcast.errors import InputError
from fruitcast.numbers import Numbers
from fruitcast.units import Units
from fruitcast.yard.events import (
    DISCARD,
    FRUITING,
    INSPECT,
    MERGE,
    MOVE,
    NOTE,
    PICK,
    PINS,
    PULL,
    RAIN,
    RETIRE,
    SOAK,
    SOLD,
    SPLIT,
    STOCK,
    WATER,
    WEIGH,
)
from fruitcast.yard.words import DAY_EXAMPLES, Phrase, nearest

HOW_TO = {
    SOAK: "Write it like 'soak A 24 h' or 'soak A 12 logs overnight'",
    PULL: "Write it like 'pull A' or 'pull A yesterday'",
    PICK: "Write it like 'pick A 2 lb 6 oz' or 'pick A 1.1 kg grade 2 for Saturday market'",
    PINS: "Write it like 'pins A' or 'pins A yesterday'",
    FRUITING: "Write it like 'fruiting A' or 'fruiting A last Fri'",
    WATER: "Write it like 'water A', 'water A 1 in', 'water all 20 mm' or 'water A 400 litres'",
    RAIN: "Write it like 'rain 0.6 in yesterday' or 'rain 15 mm'",
    WEIGH: "Write it like 'weigh A 29 lb', the first time 'weigh A 35 lb at 42 %'",
    INSPECT: "Write it like 'inspect A white ends' or 'inspect A 2 dead, loose bark'",
    STOCK: "Write it like 'stock 5 lb'",
    SOLD: "Write it like 'sold 5 lb Saturday market' or 'sold 2 kg to Inn from A'",
    DISCARD: "Write it like 'discard 1 lb' or 'discard 300 g from A'",
    SPLIT: "Write it like 'split A 10 logs into K'",
    MERGE: "Write it like 'merge A into B'",
    MOVE: "Write it like 'move A to the north bank'",
    RETIRE: "Write it like 'retire A' or 'retire A 3 logs'",
    NOTE: "Write it like 'note A bark peels' or 'note tank cleaned'",
}
"""One sentence of example for each kind."""

_PICKED = re.compile(r"\bpicked\s+(?:on\s+)?", re.IGNORECASE)
_FOR = re.compile(r"\b(?:for|to|at)\s+(.+)$", re.IGNORECASE)


@dataclass
class Given:
    """What a wording is read against, and the doubts met on the way."""

    phrase: Phrase
    today: date
    default_day: date
    units: Units
    outlets: Sequence[str]
    stacks: Sequence[str]
    numbers: Numbers
    questions: list[str] = field(default_factory=list)

    def stack_at_start(self) -> str:
        """Take a known stack off the beginning, else nothing."""
        self.phrase.take_words(r"(?<!\S)stack(?=\s)")
        return self.phrase.take_name(self.stacks, at_start=True) or ""

    def stack_or_guess(self, stack: str, kind: str) -> str:
        """Return the stack found, or ask about the nearest to the words left over."""
        if stack:
            return stack
        stack = self.stack_at_start()
        if stack:
            return stack
        left = self.phrase.text.strip(" ,:")
        if not left:
            raise InputError(f"Which stack? {HOW_TO[kind]}.")
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
        self.questions.append(f"There is no stack '{name}'. Is {near} meant?")
        return near

    def day(self) -> date:
        """Take the day; the default one when none is named."""
        day = self.phrase.take_day(self.today)
        return self.default_day if day is None else day

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
        name = self.phrase.take_name(self.outlets, at_start=False)
        if name is None:
            return ""
        self.phrase.take(re.compile(r"(?<!\w)(?:for|to|at)(?:\s+the)?(?!\w)", re.IGNORECASE))
        return name

    def weight(self, kind: str) -> float:
        """Take the weight, which must be there. [kg]"""
        kg = self.phrase.take_weight(self.units)
        if kg is None:
            raise InputError(f"What weight? {HOW_TO[kind]}.")
        return kg

    def other_outlet(self) -> str:
        """Take the name of a buyer that is no outlet of the yard, after 'to' or 'for'."""
        found = self.phrase.take(_FOR)
        if not found:
            return ""
        name = found[1].strip(" ,.")
        near = nearest(name, self.outlets)
        hint = f" Is {near} meant?" if near else ""
        self.questions.append(
            f"There is no outlet '{name}' in yard.toml; it would be recorded as written.{hint}"
        )
        return name


def unread_words(kind: str, left: str, given: str) -> str:
    """Return the message for words that fit nowhere."""
    return (
        f"'{kind} {given}': '{left}' is not understood. {HOW_TO[kind]}; a day is written like "
        f"{DAY_EXAMPLES}."
    )
