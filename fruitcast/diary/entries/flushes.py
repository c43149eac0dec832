"""Pins and flushes seen, and nothing where a flush was due."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from fruitcast.diary.entries.kind import (
    NOTABLE,
    Form,
    Objection,
    Saying,
    Seen,
    said,
    too_young,
    with_logs_seen,
)
from fruitcast.diary.events import Event, noted
from fruitcast.diary.history import StackHistory
from fruitcast.diary.pattern import pattern_of

if TYPE_CHECKING:
    from fruitcast.diary.limits import Limits
    from fruitcast.diary.record_phrase import Given


_MUSHROOMS = pattern_of(
    r"(?<![\w.,/])(\d{1,3})(?: (?:mushrooms?|caps|shiitakes?))?"
    r" (?:popped|came up|come up|coming|showing|out)"
    r"(?=\s*(?:$|[,;.]|(?:on|off)\b))"
)
_COUNTED = pattern_of(
    r"\b(?:about |around |some )?(\d{1,4})(?: pins)?,? (?:a|per|each|on each|on every) log\b"
)
"""A count of pins, in a record as in a note."""

_ON_MOST = pattern_of(
    r"\b(?:shows? )?(?P<most>on (?:(?:nearly|almost) )?(?:every|each|all the) logs?)\b"
)


class Pins(Seen):
    """Pins seen, counted or not."""

    how_to = "Write it like 'pins A', 'pins A yesterday' or 'pins A about 15 a log'"
    done = "Saw pins on {stack}"
    other_words = ("pinning", "pinned", "pin", "pinheads")
    unless = ("weight",)
    sayings = (
        Saying(
            r"(?:is |are |has |have )?(?:started |begun )?(?:to )?pin(?:n(?:ing|ed))?"
            r"|(?:saw |seen |spotted |found )?(?:baby|tiny|young|little|wee) "
            r"(?:mushrooms|shiitakes?|shrooms|caps)"
            r"|(?:first |saw |seen |has |have |spotted |noticed |found |got |is |are |full of "
            r"|covered (?:in|with) )*"
            r"(?:pins|pin ?heads|primordia|buttons|bumps|nubs|knobs)",
            "-unpinned",
        ),
    )
    form = Form("Pins seen")

    def read(self, given: Given) -> Event:
        phrase = given.phrase
        stack, note = given.stack_at_start(), phrase.take_note()
        counted = phrase.take(_COUNTED)
        on = given.day()
        note = with_logs_seen(phrase, note)
        most = phrase.take(_ON_MOST)
        note = noted(counted and f"about {counted[1]} a log", most and most["most"], note)
        return Event(self.name, on, given.stack_or_guess(stack), note=note)

    def objections(self, event: Event, limits: Limits) -> list[Objection]:
        return super().objections(event, limits) + too_young(
            event, limits, limits.numbers.diary.first_bearing_days, "bear"
        )

    def change_one(self, event: Event, history: StackHistory) -> None:
        history.pins_on = event.on
        if counted := _COUNTED.search(event.note):
            history.pins_counted = (event.on, float(counted[1]))


class Fruiting(Seen):
    """A flush seen in the open."""

    how_to = "Write it like 'fruiting A' or 'fruiting A last Fri'"
    done = "Saw {stack} fruiting"
    other_words = ("fruits", "flush", "flushing")
    unless = ("weight",)
    sayings = said(
        r"""
        (?:is |are |has |have )?(?:started |begun |begin(?:ning)? |coming into )?(?:fruiting
            |fruited|flushing|flushed|bearing(?! up)|in (?:full )?(?:flush|fruit)) :: -weight
        (?:has |have )?(?:started|starting|begun|began|beginning) to (?:bear|fruit|flush) :: -weight
        (?:saw |found |throwing (?:up )?)?(?<!baby )(?<!tiny )(?<!young )(?<!little )(?:(?:a few
            |some|many) )?(?:mushrooms|shrooms
            |shiitakes?|(?:natural |wild )?flush)(?= (?:on|up|out|showing|coming|growing|popped
            |popping)\b)|(?:throwing|pushing|sending)(?: up
            | out)? (?:a few |some |lots of )?(?:mushrooms|shrooms|shiitakes?)|(?:natural|wild
            |unforced) (?:flush|fruiting) :: -weight
        caps (?:are )?opening
        (?:is |are )?(?:loaded|covered|full|heavy) (?:with|of|in) (?:caps|mushrooms
            |shiitakes?) :: -weight
        (?:is |are )?ready to pick
        """
    )
    signs = said(
        r"""
        (?:is |are |has |have )?(?:coming on|coming up|come up|came up|popp(?:ing|ed)(?: up)?
            |sprouting) :: -weight stack -tank
        natural flush|mushrooms :: -weight stack
        """
    )
    form = Form("Seen fruiting")

    def read(self, given: Given) -> Event:
        counted = given.phrase.take(_MUSHROOMS)
        event = super().read(given)
        return replace(event, note=noted(counted and f"{counted[1]} mushrooms", event.note))

    def objections(self, event: Event, limits: Limits) -> list[Objection]:
        return super().objections(event, limits) + too_young(
            event, limits, limits.numbers.diary.first_bearing_days, "bear"
        )

    def change_one(self, event: Event, history: StackHistory) -> None:
        history.see_fruiting(event.on)


class Nothing(Seen):
    """Nothing came of the last soak, or of pins."""

    how_to = "Write it like 'nothing A' or 'nothing A last Fri'"
    done = "Nothing came on {stack}, written down"
    other_words = ("none", "failed")
    unless = ("weight", "gauge", "cold", "well")
    sayings = (
        Saying(
            r"(?:gave|brought|bore|produced|has|had|did|got|saw) (?:us )?nothing(?: at all)?"
            r"|(?:has |have )?never (?:fruited|flushed)|(?:has )?(?:never|did not|didn't|hasn't)"
            r" (?:produced?|gave|given?|fruit(?:ed)?|yield(?:ed)?) (?:anything|a thing|any|one)"
            rf"|nothing(?! {NOTABLE})"
            r"(?: (?:at all )?(?:came|showing|showed|to show))?(?: up)?"
            r"|(?:did not|didn't|didnt) (?:fruit|flush|bear|produce|come|show)"
            r"|(?:did not|didn't|didnt) do (?:anything|a thing)"
            r"|(?:did not|didn't|didnt) come to (?:anything|much)"
            r"|(?:no|zero) (?:mushrooms?|flush|crop|fruits?|show)(?: came)?"
            r"|not (?:one|a(?: single)?) (?:mushroom|shiitake|cap|thing|one)(?: came)?"
            r"|(?:(?:the |its )?(?:last )?soak(?:ing)? )?"
            r"(?:was |is |were |a |an |total |complete )*"
            r"(?:duds?(?: soak)?(?! logs?\b)|flop|bust|failure|blank|washout)"
            r"|(?:soak )?failed|nada|zilch|nowt|zip|barren",
            "-weight -gauge -cold",
        ),
    )

    def change_one(self, event: Event, history: StackHistory) -> None:
        history.see_nothing(event.on)
