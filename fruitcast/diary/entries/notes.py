"""Notes, entries taken back, and what a later version wrote."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from fruitcast.diary.entries.kind import Kind, Saying
from fruitcast.diary.events import Event
from fruitcast.diary.shares import stacks_in

if TYPE_CHECKING:
    from fruitcast.diary.record_phrase import Given
    from fruitcast.diary.wording import Say


_ABOUT = re.compile(r"\b(?:on|in|at|of|by|over|under|near|behind|around|stack)\s+$", re.IGNORECASE)


class Note(Kind):
    """Anything else."""

    how_to = "Write it like 'note A bark peels' or 'note tank cleaned'"
    other_words = ("noted", "comment", "remark")
    many = True
    signs = (
        Saying(
            r"turned|flipped|restack(?:ed)?|leaned|waxed|weeded|felled|cleaned|(?:un)?covered|cover"
            r"|uncover|turn|flip|tarp|fleece|shade cloth|slug bait|frost(?!\w)|hail|storm|snow"
            r"|heat wave|drought|slugs?|snails?|beetles?|squirrels?|deer|mice|birds?|turkey tail"
            r"|fungus|fungi|conks?|(?:is |are )?(?:too )?dry",
            "-weight",
        ),
    )
    needs = ("note",)
    planned = False

    def read(self, given: Given) -> Event:
        phrase = given.phrase
        phrase.text = phrase.given.lstrip(":,- ")
        stack = phrase.take_name(
            [
                name
                for name in given.stacks
                if re.match(rf"{re.escape(name)}(?![\w/])", phrase.text)
            ],
            at_start=True,
        )
        if not stack and len(marks := stacks_in(phrase.text, given.stacks)) == 1:
            named = marks[0]
            about = _ABOUT.search(phrase.text[: named.start])
            stack = named.text if about and named.text in phrase.text else ""
        on = given.default_day
        dated = re.match(r"^(?:on\s+)?(\d{4}-\d{2}-\d{2}|today|yesterday)\b[:,]?", phrase.text)
        trailing = re.search(r"\s(?:on\s+)?(\d{4}-\d{2}-\d{2})$", phrase.text)
        for found in (dated, trailing):
            if found:
                on = given.part(found[1]).take_day(given.today) or on
                phrase.text = (phrase.text[: found.start()] + phrase.text[found.end() :]).strip()
                break
        text = phrase.text.lstrip("-:, ")
        phrase.text = ""
        return Event(self.name, on, stack or "", note=text)

    def words(self, event: Event, say: Say, cancelled: Event | None) -> str:
        about = event.stack or "the yard"
        return f'Note about {about} on {say.day(event.on)}: "{event.note}".'


class Undo(Kind):
    """An entry taken back."""

    needs = ("cancels",)

    def words(self, event: Event, say: Say, cancelled: Event | None) -> str:
        if cancelled is None:
            return "Cancelled an earlier entry."
        return f"Cancelled: {say.entry(cancelled)}"


class OfALaterVersion(Kind):
    """What a later version wrote: shown as it stands, and without effect here."""

    def deed(self, event: Event, say: Say) -> str:
        figures = ("logs", "kg", "mm", "into", "sample")
        given = [f", {name} {value}" for name in figures if (value := getattr(event, name))]
        about = f" of {event.stack}" if event.stack else ""
        return f"'{event.kind}'{about}, from a later version{''.join(given)},"
