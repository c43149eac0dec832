"""Logs looked over."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fruitcast.yard.entries.kind import Objection, OfStacks
from fruitcast.yard.events import (
    COMPETITOR_MOULDS,
    DEAD_LOGS,
    FINDINGS,
    HEALTHY,
    LOOSE_BARK,
    SPAWN_RUN_DONE,
    WHITE_ENDS,
    Event,
)
from fruitcast.yard.stack_history import StackHistory, shared

if TYPE_CHECKING:
    from fruitcast.yard.record_checks import Limits
    from fruitcast.yard.record_phrase import Given
    from fruitcast.yard.state_from_diary import Book
    from fruitcast.yard.wording import Say

_FINDING_WORDS = {
    SPAWN_RUN_DONE: ("spawn[- ]run (?:is )?(?:done|over|complete)", "white ends all over"),
    WHITE_ENDS: ("white (?:at the )?ends?",),
    COMPETITOR_MOULDS: ("(?:competitor |green |black )?mou?lds?",),
    LOOSE_BARK: ("(?:loose|peeling) bark", "bark (?:is )?(?:loose|peels|peeling)"),
    HEALTHY: ("healthy", "all well", "ok"),
}


class Inspect(OfStacks):
    """Signs of the spawn run, enemies and deaths."""

    how_to = "Write it like 'inspect A white ends' or 'inspect A 2 dead, loose bark'"
    other_words = ("inspected",)
    needs = ("stack",)
    counts_dead = True

    def read(self, given: Given) -> Event:
        phrase = given.phrase
        stack, note = given.stack_at_start(), phrase.take_note()
        on = given.day()
        dead = phrase.take_dead()
        found = [finding for finding, words in _FINDING_WORDS.items() if phrase.take_words(*words)]
        if dead:
            found.append(DEAD_LOGS)
        phrase.take_words("and", "seen", "found")
        phrase.text = phrase.text.strip(" ,;.")
        if not stack:
            stack = given.stack_or_guess(stack)
        note = given.rest_as_note(note)
        ordered = tuple(finding for finding in FINDINGS if finding in found)
        return Event(self.name, on, stack, logs=dead, findings=ordered, note=note)

    def objections(self, event: Event, limits: Limits) -> list[Objection]:
        alive = limits.alive
        if (event.logs or 0) > alive:
            return [
                Objection(
                    f"{event.stack} has {alive} living logs, {event.logs} can't have died. Check "
                    "the number",
                    "impossible",
                )
            ]
        if event.logs and event.logs * 2 > alive:
            return [Objection(f"{event.logs} of {alive} logs dead. Is it right?", "question")]
        return []

    def deed(self, event: Event, say: Say) -> str:
        return f"Inspected {event.stack}"

    def change(self, event: Event, histories: list[StackHistory], book: Book) -> None:
        for history, dead in zip(histories, shared(event.logs or 0, histories), strict=True):
            history.inspect(event.on, event.findings, dead)
