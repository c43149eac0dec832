"""Jobs that change nothing in the model: logs turned, covered, inoculated. They are done by it."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar

from fruitcast.diary.entries.kind import Form, Objection, Saying, Seen, not_alive
from fruitcast.diary.events import Event
from fruitcast.diary.stack_history import StackHistory
from fruitcast.errors import InputError

if TYPE_CHECKING:
    from fruitcast.diary.record_checks import Limits
    from fruitcast.diary.record_phrase import Given
    from fruitcast.diary.state_from_diary import Book
    from fruitcast.diary.wording import Say


class _Tended(Seen):
    """A job of which only the day is kept."""

    done: ClassVar[str]

    def read(self, given: Given) -> Event:
        event = super().read(given)
        phrase = given.phrase
        phrase.take_words(
            "(?:over )?and (?:re)?(?:stack|turn)ed", "(?:back )?(?:over|on)", "logs?", "all"
        )
        return replace(event, note=given.rest_as_note(event.note))

    def objections(self, event: Event, limits: Limits) -> list[Objection]:
        return not_alive(event, limits)

    def deed(self, event: Event, say: Say) -> str:
        return f"{self.done} {event.stack}"

    def change(self, event: Event, histories: list[StackHistory], book: Book) -> None:
        for history in histories:
            history.tended.append((self.name, event.on))


class Turn(_Tended):
    """Logs turned and restacked."""

    how_to = "Write it like 'turn A' or 'turn A yesterday'"
    other_words = ("turned", "turning", "flip", "flipped", "restack", "restacked", "re-stacked")
    sayings = (
        r"(?:turned|flipped|rotated)"
        r"(?! (?:out|up\b|off|on|brown|black|yellow|soft|bad|slimy|the hose))"
        r"|re-?stacked",
    )
    done = "Turned and restacked"
    form = Form("Turned")


class Cover(_Tended):
    """Logs covered against rain."""

    how_to = "Write it like 'cover A'"
    other_words = ("covered",)
    sayings = (
        Saying(
            r"covered(?: up)?(?! in\b)|(?P<kept>fleeced|wrapped|tarped)"
            r"|(?:put|threw|laid|spread|pulled) (?:the |a )?"
            r"(?P<kept2>fleece|frost cloth|tarp|shade cloth)(?= (?:back )?(?:on|over))",
            "stack -weight",
        ),
    )
    signs = (
        Saying(
            r"(?P<kept>fleece|frost cloth|tarp)(?: back)? (?:on|over)(?= )", "stack -weight -off"
        ),
    )
    done = "Covered"

    def read(self, given: Given) -> Event:
        if off := re.search(r"\b(?:uncover(?:ed)?|off)\b", given.phrase.text, re.IGNORECASE):
            raise InputError(
                f"'{off[0]}': covered or not? Write 'cover A', or 'note A fleece off'."
            )
        return super().read(given)

    form = Form("Covered")


class Inoculate(_Tended):
    """Logs inoculated; the day that counts is that of stacks.csv."""

    how_to = "Write it like 'inoculate A'"
    other_words = ("inoculated", "plugged")
    done = "Inoculated"

    def read(self, given: Given) -> Event:
        phrase = given.phrase
        stack = given.stack_at_start() or given.stack_anywhere()
        if not stack:
            raise InputError(
                f"'inoculate {phrase.given}': there is no such stack yet. A new stack is a row of "
                "stacks.csv; 'fruitcast inoculation --help' shows the ways."
            )
        note = phrase.take_note()
        return Event(self.name, given.day(), stack, note=note)
