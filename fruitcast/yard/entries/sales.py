"""Mushrooms on hand, sold and thrown away."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, ClassVar

from fruitcast.errors import InputError
from fruitcast.yard.entries.kind import Kind, Objection
from fruitcast.yard.events import Event

if TYPE_CHECKING:
    from fruitcast.yard.record_checks import Limits
    from fruitcast.yard.record_phrase import Given
    from fruitcast.yard.wording import Say

_LABEL = re.compile(r"(?:\blot\s+)?(?<!\S)(\S+)-(\d{4}-\d{2}-\d{2})(?!\S)", re.IGNORECASE)
_MONEY = re.compile(
    r"(?:(?:for|at|@)\s*)?[$€£]\s*\d+(?:[.,]\d+)?(?:\s*(?:/|per|an?)\s*(?:kg|kilo|lb|pound)s?\b)?"
    r"|(?:for|at|@)\s*\d+(?:[.,]\d+)?\s*(?:[$€£]|dollars?|euros?|(?:/|per|an?)\s*"
    r"(?:kg|kilo|lb|pound)s?\b)|(?:for|at|@)\s*\d+(?:[.,]\d+)?(?=$|\s+(?:to|at)\b)",
    re.IGNORECASE,
)
"""What was paid: kept as a note."""

_SOURCE = re.compile(r"\b(?:from|of)\s+(.+)$", re.IGNORECASE)


class Stock(Kind):
    """Mushrooms on hand, counted."""

    how_to = "Write it like 'stock 5 lb'"
    other_words = ("counted",)
    needs = ("kg",)
    says_source = True
    cold_store = "count"

    def read(self, given: Given) -> Event:
        phrase = given.phrase
        note, picked_on = phrase.take_note(), given.picked_on()
        on = given.day()
        kg = 0.0 if phrase.take_words("none", "nothing") else given.weight()
        phrase.take_words("on hand", "in the cold store")
        return Event(self.name, on, kg=kg, picked_on=picked_on, note=note)

    def deed(self, event: Event, say: Say) -> str:
        return f"Counted {say.weight(event.kg)} on hand"


class Discard(Kind):
    """Mushrooms thrown away."""

    how_to = "Write it like 'discard 1 lb' or 'discard 300 g from A'"
    other_words: ClassVar[tuple[str, ...]] = ("discarded", "composted")
    sayings: ClassVar[tuple[str, ...]] = (
        r"(?:threw|thrown|throw|tossed) (?:away|out)(?! \d+ logs)",
    )
    needs = ("kg",)
    weight_above_zero = True
    says_source = True
    cold_store = "out"

    def read(self, given: Given) -> Event:
        phrase = given.phrase
        note, outlet = phrase.take_note(), given.known_outlet()
        stack, picked_on = "", given.picked_on()
        label = phrase.take(_LABEL)
        if label:
            stack, picked_on = given.guess(label[1]), given.day_of(label[2])
        on = given.day()
        if phrase.take_logs(bare=False) is not None:
            raise InputError("Logs that go are retired: write 'retire A 3 logs'.")
        money = " ".join(found[0].strip() for found in iter(lambda: phrase.take(_MONEY), None))
        note = "; ".join(text for text in (money, note) if text)
        kg = given.weight()
        source = phrase.take(_SOURCE)
        if source:
            rest = given.part(source[1])
            stack = rest.take_name(given.stacks, at_start=True) or ""
            if stack:
                phrase.text = f"{phrase.text} {rest.text}".strip()
            else:
                stack = given.guess(source[1])
        outlet, note = self.what_is_left(given, outlet, note)
        return Event(self.name, on, stack, kg=kg, picked_on=picked_on, outlet=outlet, note=note)

    def what_is_left(self, given: Given, outlet: str, note: str) -> tuple[str, str]:
        """Return outlet and note with what the words left over say."""
        return outlet, given.rest_as_note(note)

    def objections(self, event: Event, limits: Limits) -> list[Objection]:
        there = None if limits.on_hand is None else limits.on_hand(event.on)
        if there is None or (event.kg or 0.0) <= there + limits.numbers.diary.weighing_slack:
            return []
        say = limits.say
        return [
            Objection(
                f"{say.weight(event.kg)}, and by the diary {say.weight(there)} were on hand on "
                f"{say.day(event.on)}. Is a pick missing, or the weight wrong?",
                "question",
            )
        ]

    def deed(self, event: Event, say: Say) -> str:
        return f"Threw away {say.weight(event.kg)}"


class Sold(Discard):
    """Mushrooms sold."""

    how_to = "Write it like 'sold 5 lb Saturday market' or 'sold 2 kg to Inn from A'"
    other_words = ("sell", "sale", "sales", "selling", "delivered")
    sayings = ("sold",)
    for_outlet = "to"

    def what_is_left(self, given: Given, outlet: str, note: str) -> tuple[str, str]:
        """See `Discard.what_is_left`; here it is a buyer."""
        return outlet or given.other_outlet(), note

    def objections(self, event: Event, limits: Limits) -> list[Objection]:
        found = super().objections(event, limits)
        before = limits.prices.get(event.outlet)
        if before and event.paid and event.kg:
            times = event.paid / event.kg / before
            if times >= limits.numbers.diary.odd_price:
                say = limits.say
                found.append(
                    Objection(
                        f"{say.price(event.paid / event.kg)} is {times:.0f} times the most that "
                        f"{event.outlet or 'anybody'} has paid, {say.price(before)}. Is it right?",
                        "question",
                    )
                )
        return found

    def deed(self, event: Event, say: Say) -> str:
        return f"Sold {say.weight(event.kg)}"
