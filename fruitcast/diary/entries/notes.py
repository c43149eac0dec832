"""Entries that change nothing in the model: jobs done, notes, entries taken back."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from fruitcast.diary.entries.kind import (
    SHEET,
    THIEVES,
    EntryKind,
    Form,
    Objection,
    Saying,
    Seen,
    impossible,
    said,
)
from fruitcast.diary.events import Event, noted
from fruitcast.diary.history import StackHistory
from fruitcast.diary.marks import stacks_in
from fruitcast.diary.pattern import pattern_of
from fruitcast.diary.phrases import DAY, Phrase, day_in_words
from fruitcast.errors import InputError

if TYPE_CHECKING:
    from fruitcast.diary.limits import Limits, Say
    from fruitcast.diary.record_phrase import Given


# Jobs that change nothing in the model: logs turned, covered, inoculated. They are done by it.


_DEGREES = pattern_of(r"(?:\b(?:through|by)\s+)?\b(?:45|90|180|270|360)\s*(?:degrees|deg|°)")


class _Tended(Seen):
    """A job of which only the day is kept."""

    def read(self, given: Given) -> Event:
        event = super().read(given)
        phrase = given.phrase
        note = noted(phrase.take(_DEGREES), event.note)
        phrase.take_words(
            "(?:over )?and (?:re)?(?:stack|turn)ed", "(?:back )?(?:over|on)", "logs?", "all"
        )
        return replace(event, note=given.rest_as_note(note))

    def change_one(self, event: Event, history: StackHistory) -> None:
        history.tended.append((self.name, event.on))


class Turn(_Tended):
    """Logs turned and restacked."""

    how_to = "Write it like 'turn A' or 'turn A yesterday'"
    other_words = ("turned", "turning", "flip", "flipped", "restack", "restacked", "re-stacked")
    sayings = (
        r"turn(?= (?:all|the|every|both)\b)"
        r"|(?:(?<!they had )(?<!it had )(?<!had all )(?<!they'd )turned|flipped|rotated)"
        r"(?! (?:out|up\b|off|on|brown|black|yellow|soft|bad|slimy|the hose))"
        r"|swapped(?= .*\b(?:top|bottom|round|end for end))|(?:taken|took|pulled) (?:it "
        r"|them )?down and re-?(?:stacked|built)"
        r"|re-?stacked|re-?cribbed|re-?built|re-?piled|upended|rolled"
        r"|(?:got|had|given) (?:its|their) (?P<kept4>(?:\w+ )?)turn(?:ing)?(?! (?:at|in)\b)"
        r"|(?:had|made|let|helped) (?:me|us|him|her|them) (?:to )?(?:re-?stack|turn|flip)"
        r"|(?P<kept>end (?:for|over|to) end|swapped (?:the )?ends)"
        r"|(?:gave|given) (?P<kept2>.*?)\b(?:a |one )?(?P<kept3>(?:half |quarter |full )?turn)"
        r"|(?P<kept5>(?:half|quarter|full) turn)(?= (?:on|to|for)\b)",
    )
    done = "Turned and restacked {stack}"
    form = Form("Turned")


_LAID = "(?:put|threw|laid|spread|drew|slung|flung|pulled|draped|pegged|tucked|got|popped|chucked)"
_ONTO = "(?:back )?(?:on|over|across|round|around)"


class Cover(_Tended):
    """Logs covered against rain."""

    how_to = "Write it like 'cover A'"
    other_words = ("covered",)
    unless = ("off",)
    sayings = said(
        rf"""
        covered(?: up)?(?! in\b)|(?P<kept>fleeced|wrapped|tarped)
        {_LAID} (?:the |a |some )?(?:\w+ )??(?P<kept2>{SHEET})(?= {_ONTO}) :: stack -weight
        (?P<kept5>{SHEET}) (?:re-?)?(?:fitted|fixed|hung|rigged|laid|spread|drawn|put
            |pegged)(?= {_ONTO}) :: stack -weight
        (?P<kept3>{SHEET})(?:'s| is| has| went| goes| gone| now)*(?: back)? (?:on(?: top of)?|over
            |across|round|around)(?= ) :: stack -weight -off
        (?:is |are |now |back )*(?:tucked(?: up)? )?(?P<kept4>under (?:(?:the|a|its|their
            |an old) )?(?:old )?{SHEET}) :: stack -weight -off -moved
        """
    )
    done = "Covered {stack}"

    def read(self, given: Given) -> Event:
        if off := re.search(r"\b(?:uncover(?:ed)?|off)\b", given.phrase.text, re.IGNORECASE):
            raise InputError(f"'{off[0]}': covered or not? Write 'cover A' or 'uncover A'.")
        return super().read(given)

    form = Form("Covered")


_TAKEN = "(?:took|taken|pulled|drew|lifted|peeled|rolled|stripped|whipped|got|threw|folded|removed)"

_ITS = r"(?:all )?(?:the |its |their |that |those |both )?(?:\w+ )??"
_STAYS = pattern_of(r"\b(?:keeps?|kept|stays?|stayed|still|left|except|bar|back on)\b")


class Uncover(_Tended):
    """Logs no longer covered."""

    how_to = "Write it like 'uncover A'"
    other_words = ("uncovered",)
    sayings = said(
        rf"""
        uncovered|(?P<kept>un(?:wrapped|tarped|sheeted))
        {_TAKEN} {_ITS}(?P<kept2>{SHEET})(?: back)? off(?: of)? :: stack -weight
        {_TAKEN} {_ITS}(?P<kept3>{SHEET})(?= (?:from|of)\b) :: stack -weight
        {_TAKEN} off {_ITS}(?P<kept4>{SHEET}) :: stack -weight
        (?P<kept5>{SHEET})(?:'s| is| are| has| have| been| came| come| comes| went| taken| pulled
            | lifted| now| all| back)* off(?: of)? :: stack -weight
        """
    )
    done = "Uncovered {stack}"

    def read(self, given: Given) -> Event:
        if stays := _STAYS.search(given.phrase.text):
            raise InputError(f"'{stays[0]}': which are bare now? Write 'uncover A' for each.")
        return super().read(given)

    form = Form("Uncovered")


_OF_WOOD = (
    r"(?: (?!(?:and|with|using|in|as|that|which|did|on|at|by|for|from|into|up|are|is|were|was|got"
    r"|went|spawn|sawdust|dowels?)\b)[a-z]{3,})"
)
_SO_MANY = rf"(?<![\w.,/])\d+(?:{_OF_WOOD}{{0,3}}? logs?|{_OF_WOOD}{{0,2}})"
_NEW_LOGS = pattern_of(rf"(?:\banother )?{_SO_MANY}(?: of{_OF_WOOD})?(?:(?:,| and| &) {_SO_MANY})*")
"""How many logs of which wood."""


class Inoculate(_Tended):
    """Logs inoculated; the day that counts is that of stacks.csv."""

    how_to = "Write it like 'inoculate A'"
    other_words = ("inoculated", "plugged")
    sayings = said(
        r"""
        got (?:its|their) (?:spawn )?(?:plugs|dowels)
        (?:knocked|hammered|tapped|banged) (?:the )?(?:spawn|plugs|dowels) in(?:to)?
        waxed up|plug(?= \d) :: -weight
        inoculat(?:ed|ing)|inoc(?:'?e?d)?|spawned|plugged|drilled
        waxed|made up|(?P<kept>new logs)|new stack :: logs -stack
        """
    )
    unless = ("stack new",)
    done = "Inoculated {stack}"

    def read(self, given: Given) -> Event:
        phrase = given.phrase
        stack = given.stack_at_start() or given.stack_anywhere()
        if not stack:
            return self._of_no_stack(given)
        note, on = phrase.take_note(), given.day()
        return Event(self.name, on, stack, note=noted(phrase.take(_NEW_LOGS), note))

    def objections(self, event: Event, limits: Limits) -> list[Objection]:
        found = super().objections(event, limits)
        for row in limits.concerned_rows:
            if row.inoculated > event.on:
                found += impossible(
                    f"stacks.csv says that {row.name} is inoculated on "
                    f"{limits.say.day(row.inoculated)}, and plans count from that day. If it was "
                    f"done on {limits.say.day(event.on)}, write {event.on} under inoculated in "
                    "stacks.csv, or on the page in the stack's form; then record it"
                )
        return found

    def _of_no_stack(self, given: Given) -> Event:
        """Ask of which stack new logs are, and keep till then how many of what they are."""
        on, words = given.day(), given.phrase.text
        if DAY.search(words):
            raise InputError(f"'{words}': which day was which? Write one record for each.")
        told = re.sub(r"^\W*(?:(?:and|n|did|the|of|have|are|is)\b\W*)+|[\s,;]+$", "", words)
        logs = _NEW_LOGS.search(told)
        what = logs[0].strip(" ,;") if logs else "logs"
        given.choices.append(
            f"Inoculated {what} on {day_in_words(on)}: of which stack are they? Name it, like "
            f"'inoculate A'. A new stack is first a row of stacks.csv, 'fruitcast inoculation "
            "--help' shows the ways. Till then it would be kept as a note."
        )
        given.phrase.text = ""
        return Event("note", on, note=f"inoculated {told}".strip())


# Notes, entries taken back, and what a later version wrote.

_ABOUT = pattern_of(r"\b(?:for|on|in|at|of|by|over|under|near|behind|around|stack)\s+$")


class Note(EntryKind):
    """Anything else."""

    how_to = "Write it like 'note A bark peels' or 'note tank cleaned'"
    other_words = ("noted", "comment", "remark")
    many = True
    signs = (
        Saying(
            r"turned|flipped|restack(?:ed)?|leaned|waxed|weeded|felled|cleaned|(?:un)?covered"
            rf"|uncover|unwrapped|untarped|turn|flip|{SHEET}|slug bait|frost(?!\w)|hail|storm|snow"
            rf"|heat wave|drought|{THIEVES}|turkey tail|fungus|fungi|conks?"
            r"|(?:been )?(?:chew|gnaw|nibbl|knock|dig)(?:ed|ing)|dug|toppled|fell over|collapsed"
            r"|(?:\w+ )?(?:spots|stuff|growth|slime|goo)|bark"
            r"|hypoxylon|competitors?|pests?|(?:is |are )?(?:too |very )?(?:dry|wet|soggy|damp)",
            "-weight -lost",
        ),
    )
    needs = ("note",)
    planned = False

    def read(self, given: Given) -> Event:
        phrase = given.phrase
        phrase.text = phrase.given.lstrip(":,- ")
        as_written = (n for n in given.stacks if re.match(rf"{re.escape(n)}(?![\w/])", phrase.text))
        stack = phrase.take_name([*as_written], at_start=True)
        if not stack and len(marks := stacks_in(phrase.text, given.stacks)) == 1:
            named = marks[0]
            about = _ABOUT.search(phrase.text[: named.start])
            stack = named.text if about and named.text in phrase.text else ""
        on = given.default_day
        dated = re.match(r"^(?:on\s+)?(\d{4}-\d{2}-\d{2}|today|yesterday)\b[:,]?", phrase.text)
        trailing = re.search(r"\s(?:on\s+)?(\d{4}-\d{2}-\d{2})$", phrase.text)
        for found in (dated, trailing):
            if found:
                on = Phrase(found[1]).take_day(given.today) or on
                phrase.text = (phrase.text[: found.start()] + phrase.text[found.end() :]).strip()
                break
        text = phrase.text.lstrip("-:, ")
        phrase.text = ""
        return Event(self.name, on, stack or "", note=text)

    def words(self, event: Event, say: Say, cancelled: str) -> str:
        about = event.stack or "the yard"
        return f'Note about {about} on {say.day(event.on)}: "{event.note}".'


class Undo(EntryKind):
    """An entry taken back."""

    needs = ("cancels",)

    def words(self, event: Event, say: Say, cancelled: str) -> str:
        return f"Cancelled: {cancelled}" if cancelled else "Cancelled an earlier entry."


class OfALaterVersion(EntryKind):
    """What a later version wrote: shown as it stands, and without effect here."""

    def deed(self, event: Event, say: Say) -> str:
        figures = ("logs", "kg", "mm", "into", "sample")
        given = [f", {name} {value}" for name in figures if (value := getattr(event, name))]
        about = f" of {event.stack}" if event.stack else ""
        return f"'{event.kind}'{about}, from a later version{''.join(given)},"
