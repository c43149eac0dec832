"""Pins, flushes and picks."""

from __future__ import annotations

import re
from datetime import date, timedelta
from typing import TYPE_CHECKING

from fruitcast.diary.entries.kind import (
    STACK,
    Form,
    Objection,
    OfStacks,
    Saying,
    Seen,
    logs_in_words,
    not_alive,
)
from fruitcast.diary.events import Event
from fruitcast.diary.pick_parts import PEOPLE, take_parts
from fruitcast.diary.stack_history import StackHistory
from fruitcast.diary.state import Pick as PickState
from fruitcast.diary.state import Soak, StackState
from fruitcast.errors import InputError

if TYPE_CHECKING:
    from fruitcast.diary.record_checks import Limits
    from fruitcast.diary.record_phrase import Given
    from fruitcast.diary.state_from_diary import Book
    from fruitcast.diary.wording import Say

CONFIRMED = "confirmed"
"""A pick whose note has this word is right, however odd it looks."""

CRATE = "one crate of"
"""A pick whose note has these words is a part of a crate from several stacks."""

_COUNTED = re.compile(
    r"\b(?:about |around |some )?(\d{1,4})(?: pins)?,? (?:a|per|each|on each|on every) log\b",
    re.IGNORECASE,
)
"""A count of pins, in a record as in a note."""

_SHARE = re.compile(
    r"\b(?:(?:the )?(?:other )?half|most|some|(?:the )?rest|part)\b(?! a\b)", re.IGNORECASE
)
_SOME_SECONDS = re.compile(
    r"\b(?:half|some|mostly|most|part\w*|few|third|quarter)\b[\w ]{0,12}\b(?:seconds|culls)\b",
    re.IGNORECASE,
)
_CAPS = re.compile(
    r"(?<![\w.,/])\d+ (?:big |small |large |nice )?(?:caps|mushrooms|shiitakes?)\b", re.I
)
_ROUND = r"(?:flush|pick(?:ing)?|harvest|round|crop)"
_GRADE = re.compile(r"\bgrade\s+(\S+)|\b(firsts|seconds|culls)\b", re.IGNORECASE)
_WHICH_ROUND = re.compile(
    rf"\b(?:first|second|third|fourth|last|\d(?:st|nd|rd|th))\s+{_ROUND}\b"
    r"(?:\s+(?:of|this)\s+(?:(?:the|this)\s+)?(?:flush|season|year))?",
    re.IGNORECASE,
)
_NO_MUSHROOMS = re.compile(
    r"^up\b|\b(?:spawn|sawdust|wax|plugs?|dowels?|straw|chips|leaves|sticks|firewood|litter|bait)\b",
    re.IGNORECASE,
)
_REMARK = re.compile(r",\s*([^\d,]{3,})$")
_PICKER = re.compile(rf",?\s*\bby ({PEOPLE})(?=$|[,;.])")


class Pick(OfStacks):
    """Mushrooms picked."""

    how_to = "Write it like 'pick A 2 lb 6 oz' or 'pick A 1.1 kg grade 2 for Saturday market'"
    other_words = (
        *("picked", "picking", "harvest", "harvested", "harvesting"),
        *("gathered", "collected"),
    )
    unless = ("tank -weight",)
    sayings = (
        r"picked(?! up)|harvest(?:ed|ing)?|gathered",
        r"(?P<kept>(?:first|second|third|last) pick(?:ing)?)",
        Saying("picking|pick", "-pins"),
        Saying("collected", "weight stack"),
    )
    maybe = (
        Saying(
            r"(?<!storm )(?<!wind )(?<!deer )(?<!slugs )(?<!birds )took|taken|take|pulled|pull|cut"
            r"|got|had|grabbed|snipped|stripped|cleared|finished|fetched|hauled|"
            r"(?:brought|bring|carried|hauled) (?P<kept>.*?)\s*in|brought|came|come",
            "weight stack -tank -seller -money",
        ),
        Saying(
            rf"(?P<kept>{STACK}.*?) (?:gave|yielded|produced|bore|made|did|"
            rf"came (?:to|in at))(?: us| me)?",
            "weight stack -tank",
        ),
        Saying(
            r"weighed(?: in)?(?: the)? (?:basket|crate|tray|bag)(?: from)?", "weight stack -cold"
        ),
    )
    twice_is_odd = True
    needs = ("stack", "kg")
    weight_above_zero = True
    cold_store = "in"
    form = Form("Picked", ("weight", "losses", "outlet"), first=True)

    def read(self, given: Given) -> Event:
        phrase = given.phrase
        stack, note, outlet = given.stack_at_start(), phrase.take_note(), given.known_outlet()
        if found := _NO_MUSHROOMS.search(phrase.text):
            raise InputError(
                f"'{found[0]}': is it a pick of mushrooms? Write it like 'pick A 2 lb'."
            )
        if phrase.take_words("handfuls?", "few handfuls", "nothing", "none"):
            raise InputError(
                "A pick needs a weight: weigh it, or write 'nothing A' when nothing came."
            )
        if found := _SOME_SECONDS.search(phrase.text):
            raise InputError(f"'{found[0]}': how much of it? Write it like '200 g seconds'.")
        share = phrase.take(_SHARE)
        logs, caps = phrase.take_logs(bare=False), phrase.take(_CAPS)
        which = phrase.take(_WHICH_ROUND)
        parts = take_parts(phrase)
        grade = phrase.take(_GRADE)
        on = given.day()
        by = phrase.take(_PICKER)
        kg = given.weight() + parts.on_top_kg
        outlet = outlet or given.other_outlet()
        remark = phrase.take(_REMARK)
        told = (
            share and share[0],
            which and which[0],
            logs and logs_in_words(logs),
            caps and caps[0],
            remark and remark[1],
            note,
        )
        note = "; ".join(text.strip() for text in told if text)
        return Event(
            self.name,
            on,
            given.stack_or_guess(stack),
            kg=kg,
            grade=(grade[1] or grade[2]).lower() if grade else "",
            outlet=outlet,
            second_kg=parts.second_kg,
            lost_kg=parts.lost_kg,
            cause=parts.cause,
            by=by[1] if by else "",
            note=note,
        )

    def objections(self, event: Event, limits: Limits) -> list[Objection]:
        found = []
        logs = limits.alive
        if not logs:
            found.append(
                Objection(f"{event.stack} has no logs left. Is it the right stack?", "question")
            )
        bearing = logs
        flush_kg = event.kg or 0.0
        window = timedelta(days=limits.numbers.diary.flush_days)
        for state in limits.concerned:
            soak = _soak_before(state, event.on)
            if soak is not None:
                bearing -= max(0, state.logs - soak.logs)
            flush_kg += sum(
                pick.kg for pick in state.picks if _same_flush(pick, event.on, soak, window)
            )
            if any(
                s.on < event.on and (s.pulled_on is None or event.on < s.pulled_on)
                for s in state.soaks
            ):
                found.append(
                    Objection(
                        f"{state.name} is in the tank. Was it picked all the same?", "question"
                    )
                )
        if bearing > 0:
            say, per_log = limits.say, flush_kg / bearing
            amount = (
                f"{say.weight(flush_kg)} in this flush from {bearing} logs is "
                f"{say.weight(per_log)} a log"
            )
            if per_log > limits.numbers.diary.impossible_yield:
                most = say.weight(limits.numbers.diary.impossible_yield)
                found.append(
                    Objection(f"{amount}, more than {most}. Check weight and stack", "refused")
                )
            elif per_log > limits.numbers.yields.most_a_flush:
                found.append(Objection(f"{amount}, very much. Is it right?", "question"))
            elif odd := _far_above_all_others(event.kg or 0.0, bearing, limits):
                found.append(odd)
        return found

    def deed(self, event: Event, say: Say) -> str:
        return f"Picked {say.weight(event.kg)} from {event.stack}"

    def change(self, event: Event, histories: list[StackHistory], book: Book) -> None:
        kg = event.kg or 0.0
        # Written for the whole stack, it comes from the lots that are in flush.
        histories = [history for history in histories if history.in_flush(event.on)] or histories
        logs = sum(history.logs for history in histories)
        confirmed = CONFIRMED in re.findall(r"\w+", event.note.casefold())
        for history in histories:
            share = history.logs / logs if logs else 1 / len(histories)
            history.pick(event.on, kg * share, confirmed=confirmed, shared=CRATE in event.note)


def _far_above_all_others(kg: float, logs: int, limits: Limits) -> Objection | None:
    """Ask about a pick far above the largest that a log of this yard has given: a tenth's slip."""
    given = [
        pick.kg / state.logs
        for state in limits.stacks.values()
        for pick in state.picks
        if state.logs and not pick.confirmed
    ]
    diary = limits.numbers.diary
    if len(given) < diary.fewest_picks or kg / logs <= diary.odd_pick * max(given):
        return None
    say = limits.say
    return Objection(
        f"{say.weight(kg)} from {logs} logs is {kg / logs / max(given):.0f} times the largest "
        "pick so far, log for log. Is it right?",
        "question",
    )


def _soak_before(state: StackState, on: date) -> Soak | None:
    """Return the last soak pulled before a day."""
    pulled = [s for s in state.soaks if s.pulled_on is not None and s.pulled_on <= on]
    return pulled[-1] if pulled else None


def _same_flush(pick: PickState, on: date, soak: Soak | None, window: timedelta) -> bool:
    if not on - window <= pick.on <= on:
        return False
    # A soak between two picks begins another flush.
    return soak is None or pick.on > soak.on


class Pins(Seen):
    """Pins seen, counted or not."""

    how_to = "Write it like 'pins A', 'pins A yesterday' or 'pins A about 15 a log'"
    other_words = ("pinning", "pinned", "pin", "pinheads")
    unless = ("weight",)
    sayings = (
        Saying(
            r"(?:is |are |has |have )?(?:started |begun )?(?:to )?pin(?:n(?:ing|ed))?"
            r"|(?:first |saw |seen |has |have |spotted |noticed |found |got )*"
            r"(?:pins|pinheads|primordia|buttons|bumps|nubs)",
            "-unpinned",
        ),
    )
    form = Form("Pins seen")

    def read(self, given: Given) -> Event:
        phrase = given.phrase
        stack, note = given.stack_at_start(), phrase.take_note()
        counted = phrase.take(_COUNTED)
        on = given.day()
        if counted:
            note = "; ".join(text for text in (f"about {counted[1]} a log", note) if text)
        return Event(self.name, on, given.stack_or_guess(stack), note=note)

    def objections(self, event: Event, limits: Limits) -> list[Objection]:
        return not_alive(event, limits)

    def deed(self, event: Event, say: Say) -> str:
        return f"Saw pins on {event.stack}"

    def change(self, event: Event, histories: list[StackHistory], book: Book) -> None:
        counted = _COUNTED.search(event.note)
        for history in histories:
            history.pins_on = event.on
            if counted:
                history.pins_counted = (event.on, float(counted[1]))


class Fruiting(Seen):
    """A flush seen in the open."""

    how_to = "Write it like 'fruiting A' or 'fruiting A last Fri'"
    other_words = ("fruits", "flush", "flushing")
    unless = ("weight",)
    sayings = (
        Saying(
            r"(?:is |are |has |have )?(?:started |begun |begin(?:ning)? |"
            r"coming into )?(?:fruiting|flushing|in (?:full )?flush)",
            "-weight",
        ),
        Saying(r"(?:saw )?(?:mushrooms|(?:natural |wild )?flush)(?= on )", "-weight"),
        r"caps (?:are )?opening",
        r"(?:is |are )?ready to pick",
    )
    signs = (
        Saying(
            r"(?:is |are |has |have )?(?:coming on|coming up|come up|came up|"
            r"popping(?: up)?|sprouting)",
            "-weight stack",
        ),
        Saying(r"natural flush|mushrooms", "-weight stack"),
    )
    form = Form("Seen fruiting")

    def objections(self, event: Event, limits: Limits) -> list[Objection]:
        return not_alive(event, limits)

    def deed(self, event: Event, say: Say) -> str:
        return f"Saw {event.stack} fruiting"

    def change(self, event: Event, histories: list[StackHistory], book: Book) -> None:
        for history in histories:
            history.see_fruiting(event.on)


class Nothing(Seen):
    """Nothing came of the last soak, or of pins."""

    how_to = "Write it like 'nothing A' or 'nothing A last Fri'"
    other_words = ("none", "failed")
    unless = ("weight", "gauge", "cold", "well")
    sayings = (
        Saying(
            r"(?:gave|brought|bore|has|had|did|got|saw) (?:us )?nothing(?: at all)?"
            r"|nothing(?! dead| wrong| unusual| to report)"
            r"(?: (?:at all )?(?:came|showing|showed|to show))?(?: up)?"
            r"|(?:did not|didn't|didnt) (?:fruit|flush|bear|produce|come|show)"
            r"|(?:did not|didn't|didnt) do (?:anything|a thing)"
            r"|no (?:mushrooms?|flush|crop|fruits?|show)(?: came)?"
            r"|not (?:one|a(?: single)?) (?:mushroom|shiitake|cap|thing)(?: came)?"
            r"|(?:(?:the |its )?(?:last )?soak(?:ing)? )?"
            r"(?:was |is |were |a |an |total |complete )*"
            r"(?:duds?(?! logs?\b)|flop|bust|failure|blank|washout)"
            r"|(?:soak )?failed|nada|zilch|nowt|zip|barren",
            "-weight -gauge -cold",
        ),
    )

    def objections(self, event: Event, limits: Limits) -> list[Objection]:
        return not_alive(event, limits)

    def deed(self, event: Event, say: Say) -> str:
        return f"Nothing came on {event.stack}, written down"

    def change(self, event: Event, histories: list[StackHistory], book: Book) -> None:
        for history in histories:
            history.see_nothing(event.on)
