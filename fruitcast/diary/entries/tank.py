"""Soaks and pulls."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from datetime import date, timedelta
from typing import TYPE_CHECKING

from fruitcast.diary.entries.kind import (
    ASIDE,
    STACK,
    Form,
    Objection,
    OfStacks,
    Saying,
    Seen,
    impossible,
    logs_in_words,
    not_alive,
    odd_hours,
    question,
    refused,
    said,
    too_young,
)
from fruitcast.diary.events import Event, noted
from fruitcast.diary.history import StackHistory, shared
from fruitcast.diary.pattern import pattern_of
from fruitcast.diary.phrases import DAY, HOURS, WEIGHT, parse_day
from fruitcast.diary.plain_words import WEEKDAY
from fruitcast.diary.state import Soak as SoakState
from fruitcast.diary.state import StackState, first_picks
from fruitcast.errors import InputError

if TYPE_CHECKING:
    from fruitcast.diary.history import YardHistory
    from fruitcast.diary.limits import Limits, Say
    from fruitcast.diary.record_phrase import Given


_VESSEL = "(?:soak|tank|water|bath(?: ?tub)?|pond|trough|tub|barrel|vat|creek|river)"
_INTO_WATER = (
    r"in(?:to| to)? (?:the |our |a |my )?"
    rf"(?:(?:soak(?:ing)?|dunk(?:ing)?|stock|water|big|old) )?{_VESSEL}|in to soak|under ?water"
    "|swimming|for a swim|in the drink"
)
_ALONE = (
    rf"(?=\s*(?:$|[,;.:{ASIDE}]|-\s|and\b|overnight|today|yesterday|last\s|this\s|on\s|for\s|at\s|since\s|from\s|now\b|tonight\b|straight\b|right\b|again\b|instead\b"
    rf"|\d+\s?(?:h|logs|am|pm)|\d{{4}}\b|{WEEKDAY}))"
)
"""'B in' and 'A out' say no more than that."""

_OUT_OF_WATER = rf"(?:out(?: of)?|from) (?:the |its |their )?{_VESSEL}"
_DEGREES = (
    r"-?\d+(?:[.,]\d+)?\s*"
    r"(?:(?:°|deg(?:rees)?)(?:\s*(?:[CF]|celsius|fahrenheit))?|[CF]|celsius|fahrenheit)"
)
_WATER = pattern_of(
    r"\b(?:with|in)\s+(?:ice |very )?(?:cold|cool|ice|rain|well|pond|tap|creek|warm)\s+water\b"
    r"|(?:\b(?:in|with)\s+)?\b(?:the\s+)?(?:(?:tank|pond|bath|water)(?:'s)?\s+)+"
    rf"(?:(?:temp(?:erature)?|was|is|of|at|about|only)[\s:]+)*{_DEGREES}(?!\w)"
    rf"|(?:\b(?:in|with)\s+)?(?<![\w.,/]){_DEGREES}\s+water\b"
)
"""How warm the water was: kept as a note."""


_LEFT_IN = pattern_of(r"^(?:in )?for (\d{1,2})$")
"""'Put A in for 24': logs are not what it was in for."""


_CLOCK = pattern_of(
    r"(?:\b(?:at|since|from|about|around|by)\s+(?P<hour>\d{1,2})(?:[:.](?P<minute>[0-5]\d))?"
    r"|(?<![\w.,/])(?P<hour2>\d{1,2})(?:[:.](?P<minute2>[0-5]\d))?(?=\s*(?:am|pm|o'clock)\b))"
    r"(?![\w/]|\s*(?:h|hrs?|hours?|lbs?|oz|kg|logs?)\b)"
    r"|\b(?P<named>noon|midday|midnight)\b"
)
_BEFORE_NOON = pattern_of(r"\b(?:morning|\d?\d ?am|breakfast|dawn|midnight)\b")
_AFTER_NOON = pattern_of(r"\b(?:afternoon|evening|night|tonight|\d?\d ?pm|noon|midday)\b")


def hours_until(went_in: str, out: str, today: date) -> float | None:
    """Return the hours from when logs went in until they are to come out, where both are told. [h]

    'At 6 last night' and 'out at 6 tonight' are 24 h; of 'at 8' and 'tomorrow at 6' it is open
    whether it is morning or evening.
    """
    moments = []
    for words, default in ((went_in, 0), (out, None)):
        clocks, days = [*_CLOCK.finditer(words)], [*DAY.finditer(words)]
        if len(clocks) != 1 or len(days) > 1 or HOURS.search(words):
            return None
        found = clocks[0]
        hour = int(found["hour"] or found["hour2"] or 12 * (found["named"].lower() != "midnight"))
        half = (bool(_BEFORE_NOON.search(words)), bool(_AFTER_NOON.search(words)))
        day = (parse_day(days[0][0].strip(), today) - today).days if days else default
        if half == (True, True) or hour > 24 or day is None:
            return None
        minute = int(found["minute"] or found["minute2"] or 0) / 60
        moments.append((day, hour % 12 if any(half) else hour, minute, half))
    (day, hour, minute, half), (day2, hour2, minute2, half2) = moments
    if half == (False, False) and half2 == (False, False):
        if hour != hour2:
            return None
    else:
        half, half2 = (half if any(half) else half2), (half2 if any(half2) else half)
        hour, hour2 = hour % 12 + 12 * half[1], hour2 % 12 + 12 * half2[1]
    hours = 24 * (day2 - day) + hour2 + minute2 - hour - minute
    sure = all(any(moment[3]) for moment in moments) or hours == 24
    return hours if sure and 0.25 <= hours <= 72 else None


_FROM_TILL = pattern_of(
    r"\b(?P<begin>(?:from |(?=\d{1,2}(?:[:.]\d\d)? ?[ap]m\b))[^,;]*?)"
    r" (?:till|until|til|to) (?P<end>[^,;.]*?)(?=\s*(?:[,;.]|$))"
)
_PART_OF_DAY = pattern_of(r"\s(?:early |late )?(?:morning|afternoon|evening|night)$")


def with_hours_between(text: str, today: date) -> str:
    """Return words in which 'from 6 pm Monday till 4 pm Tuesday' is 'from 6 pm Monday for 22 h'."""
    found = _FROM_TILL.search(text)
    if not found or WEIGHT.search(text):
        return text
    begin, end = found["begin"], found["end"]
    beside = DAY.sub(" ", _CLOCK.sub(" ", f"at {end}"))
    if re.sub(r"\b(?:at|[ap]m|o'clock)\b", " ", beside, flags=re.IGNORECASE).strip():
        return text  # it says more than an hour
    first, last = DAY.search(begin), DAY.search(end)
    if not (first and last):  # both on one day
        day = first or last
        told = _PART_OF_DAY.sub("", day[0].strip()) if day else "today"
        first_said, last_said = (
            f"{w} {told}" if not d else w for w, d in ((begin, first), (end, last))
        )
    else:
        first_said, last_said = begin, end
    hours = hours_until(first_said, f"at {last_said}", today)
    if hours is None:
        return text
    said = begin if first or not last else first_said
    said = re.sub(r"^from (?=\d)", "at ", said, flags=re.IGNORECASE)
    return f"{text[: found.start()]}{said} for {hours:g} h{text[found.end() :]}"


_CAME_OUT = pattern_of(
    r"\b(?:came|come|taken|lifted|pulled|hauled|back|and|then|is|are|was|were) out\b|[,;] ?out\b"
)
_OF_THEM = pattern_of(r",? *\b(\d+) of (?:them|it)$")


class Soak(OfStacks):
    """Logs went into the tank."""

    how_to = "Write it like 'soak A 24 h' or 'soak A 12 logs overnight'"
    done = "Put {logs} of {stack} into the tank"
    other_words = ("soaked", "soaking", "dunk", "dunked", "force", "forced", "submerged")
    many = True
    sayings = said(
        rf"""
        (?:put|dropped|tipped|threw|chucked|loaded|got|popped|stuck|set|lowered|moved|slid
            |rolled|laid|plunged|heaved) (?P<kept>.*?)\s*{_INTO_WATER}
        (?:the )?{_VESSEL} (?:was |is )?(?:loaded|filled) with|(?:loaded
            |filled) (?:the |our )?{_VESSEL} with
        (?:is |are |went |put )?(?P<kept7>in (?:(?:ice|cold|cool|rain) )+water)
        (?P<kept6>{STACK}+)(?: is| are| went| all| now)* under{_ALONE} :: -weight
        (?:went |gone |goes |is |are |put |got |dropped |tipped |loaded |sunk |sank )*{_INTO_WATER}
        (?:is |are )?having (?:its|their|a) soak :: -hose
        (?:began |begun |started |put (?P<kept2>.*?)\s*to |set (?P<kept3>.*?)\s*to )?soak(?:ed
            |ing)? :: -hose
        (?<!no )dunk(?:ed|ing)?|steep(?:ed|ing)?|submerg(?:ed|ing)|immersed|sunk|sank|forced|drowned
            |tanked|plunged|dipped|gave (?P<kept4>.*?) (?:a|an|its
            |their) (?P<kept5>(?:\w+ ){{0,3}})(?:soak|dunk(?:ing)?|bath)
        (?<![a-z{STACK}] )in(?=\W*:\W*{STACK}) :: -weight
        (?<![a-z{STACK}] )in (?:with|went)(?=\W+(?:both |all of )?{STACK}) :: -weight
        (?P<kept>{STACK}+)(?:'s|:|,)?(?: is| are| went| gone| all| now
            | both)* in{_ALONE} :: -weight
        (?:put|threw|chucked|popped|stuck|dropped|got
            |loaded|laid) (?P<kept>.*?{STACK}+.*?) in(?: it| there| (?:its|their) (?:place
            |stead))?{_ALONE} :: -weight
        (?:put|threw|chucked|popped|dropped|got) in (?P<kept8>{STACK}+) :: -weight -off
        (?:put|stuck|threw|slung|\w+ed) (?:it
            |them) (?:straight |right )?back in(?:to (?:the )?{_VESSEL})?{_ALONE} :: -weight
        """
    )
    signs = (
        Saying(f"(?:the )?{_VESSEL}(?: is| was| full| with|:)*", "stack hours -weight -minutes"),
    )
    unless = ("weight", "hose")
    whole = True
    needs = ("stack",)
    form = Form("Soaked", ("logs", "hours"))

    def read(self, given: Given) -> Event:
        phrase, stack, note, on = given.opened()
        note = noted(phrase.take(_WATER), note)
        hours = phrase.take_hours(bare=False)
        hours = phrase.take_days_long() if hours is None else hours
        if hours is None and phrase.take_words("(?:left |leaving )?(?:them |it )?over ?night"):
            hours = given.numbers.forced.overnight_hours
        of_them = phrase.take(_OF_THEM)
        logs = int(of_them[1]) if of_them else phrase.take_logs(bare=False)
        while phrase.take_words("all(?: logs)?", "whole", "logs"):
            pass
        if hours is None and (left := phrase.take(_LEFT_IN)):
            hours = float(left[1])
        if re.fullmatch(r"(?:for )?\d+", phrase.text) and stack:
            raise InputError(
                f"'{phrase.text}': hours or logs? Write '{phrase.text} h' or '{phrase.text} logs'."
            )
        if logs is not None:
            phrase.take_words("(?:about )?(?:half|part|some|most)(?: of)?")
        if out := _CAME_OUT.search(phrase.text):
            raise InputError(
                f"'{out[0]}': for how long was it in? Write it like 'soak {stack or 'A'} yesterday "
                "16 h', or the soak and the pull each by itself."
            )
        phrase.take_words("(?:wanted|planned|meant|intended)(?: (?:on|for) (?:them|it))?")
        phrase.take_words("for", "of", "in(?:to)? (?:the )?tank", "since", "from")
        stack = given.stack_or_guess(stack)
        return Event(self.name, on, stack, logs=logs, hours=hours, note=note)

    def objections(self, event: Event, limits: Limits) -> list[Objection]:
        say = limits.say
        found = not_alive(event, limits)
        after_days = limits.numbers.forced.first_after_days
        found += too_young(event, limits, after_days, "are first soaked")
        alive = limits.alive
        if event.logs is not None and event.logs > alive:
            found += refused(f"{event.stack} has {alive} logs, not {event.logs}. Check the number")
        if event.logs == 0:
            found += impossible("A soak of 0 logs is no soak")
        for state in limits.concerned:
            soak = _in_water(state, event.on)
            if soak is not None and soak.on == event.on and soak.logs >= state.logs:
                # A form sent again after going back would book soak and pull once more.
                found += impossible(
                    f"That {state.name} was put into the tank on {say.day(event.on)} is "
                    "written down already. To change it, undo that entry first"
                )
            elif soak is not None:
                found += refused(
                    f"{state.name} is already in the tank on {say.day(event.on)}, since "
                    f"{say.day(soak.on)}. Record the pull first"
                )
            else:
                found += _too_soon(event, state, limits) or _too_soon_before(event, state, limits)
            if state.pins_on is not None and state.pins_on <= event.on:
                found += question(
                    f"Pins were seen on {state.name} on {say.day(state.pins_on)}; a soak "
                    "would drown them. Was it soaked all the same?"
                )
        found += _too_many_for_the_tank(event, limits)
        return found + odd_hours(event, limits, "refused")

    def change(self, event: Event, histories: list[StackHistory], yard: YardHistory) -> None:
        for history, logs in zip(histories, shared(event.logs, histories), strict=True):
            if logs:
                history.soak(event.on, min(logs, history.logs), event.hours)


def _too_soon(event: Event, state: StackState, limits: Limits) -> list[Objection]:
    """Ask about a soak so soon after a soak or a first pick that next to nothing comes of it."""
    say, numbers = limits.say, limits.numbers
    since = event.on - timedelta(days=int(numbers.yields.rest_none))
    logs = state.logs if event.logs is None else event.logs
    soaks = [s for s in state.soaks if since < s.on < event.on and s.logs + logs > state.logs]
    if soaks and not soaks[-1].pull_recorded:
        return question(
            f"{state.name} went into the tank on {say.day(soaks[-1].on)}, and no pull is "
            "recorded. Did it come out and go in again?"
        )
    firsts = first_picks(state.picks, flush_days=numbers.diary.flush_days)
    picked = [pick.on for pick in firsts if since < pick.on <= event.on]
    if soaks:
        before = f"soaked on {say.day(soaks[-1].on)}"
    elif picked:
        before = f"first picked on {say.day(picked[-1])}"
    else:
        return []
    return question(
        f"{state.name} was {before}; soaked so soon after it, logs bring next to nothing. "
        "Was it soaked all the same?"
    )


def _too_soon_before(event: Event, state: StackState, limits: Limits) -> list[Objection]:
    """Object to a soak written down after the next one, which it leaves no time for."""
    until = event.on + timedelta(days=int(limits.numbers.yields.rest_none))
    logs = state.logs if event.logs is None else event.logs
    later = [s.on for s in state.soaks if event.on < s.on < until and s.logs + logs > state.logs]
    if not later:
        return []
    again = limits.say.day(later[0])
    if later[0] <= event.on + timedelta(days=math.ceil((event.hours or 24) / 24)):
        return refused(
            f"{state.name} went into the tank on {again}, and by this soak it was in the water "
            "until then. Check days and hours, and undo the entry that is wrong"
        )
    return question(
        f"{state.name} was soaked on {again} too; soaked so soon after one another, logs bring "
        "next to nothing. Was it soaked all the same?"
    )


def _too_many_for_the_tank(event: Event, limits: Limits) -> list[Objection]:
    """Ask when more logs would be in the water than the tank holds."""
    if limits.tank_logs is None:
        return []
    names = {state.name for state in limits.concerned}
    others = [state for state in limits.stacks.values() if state.name not in names]
    last = _surely_in_until(event)
    days = {event.on} | {
        soak.on for state in others for soak in state.soaks if event.on < soak.on <= last
    }
    fullest: dict[str, int] = {}
    for day in sorted(days):  # what went in while these were in counts as well
        held = {
            state.name: sum(s.logs for s in state.soaks if _holds(day, s.on, s.pulled_on))
            for state in others
        }
        fullest = max(fullest, held, key=lambda each: sum(each.values()))
    there = {name: logs for name, logs in fullest.items() if logs}
    new = limits.alive if event.logs is None else event.logs
    total = new + sum(there.values())
    if total <= limits.tank_logs or not new:
        return []
    beside = f" beside {', '.join(there)}" if there else ""
    return question(
        f"With {event.stack}{beside} {total} logs would be in the tank, which holds "
        f"{limits.tank_logs}. Is it right? A pull that was not recorded may be missing"
    )


def _surely_in_until(event: Event) -> date:
    """Return the last day at whose end logs are in the water, as far as a record of them tells.

    Without hours nobody said that they came out the next morning: that day counts too.
    """
    if event.hours is None:
        return event.on + timedelta(days=1)
    return event.on + timedelta(days=max(0, math.ceil(event.hours / 24) - 1))


def _holds(on: date, first: date, last: date | None) -> bool:
    """Return whether a soak holds the tank at the end of a day."""
    return first <= on and (last is None or on < last)


def _in_water(state: StackState, on: date) -> SoakState | None:
    """Return the soak that holds a whole stack in the water on a day."""
    for soak in state.soaks:
        if soak.on == on or _holds(on, soak.on, soak.pulled_on):
            if soak.logs < state.logs and soak.on != on:
                continue  # a part of the stack: the rest may follow
            return soak
    return None


_SOAKED_FOR = pattern_of(
    rf"(?:\bafter\s+)?(?:\b(?:a|the) )?{HOURS.pattern}\s*(?:in(?: the {_VESSEL})?\b"
    r"|(?:soak(?:ed|ing)?|done|up|later|total|all told)\b)?"
)


_STAYED = pattern_of(r"\b(?:stay\w*|kept|remain\w*|still|left)\b")


class Pull(Seen):
    """Logs came out of the tank."""

    how_to = "Write it like 'pull A' or 'pull A yesterday'"
    other_words = ("pulled", "unsoak", "unsoaked")
    sayings = said(
        rf"""
        (?:took|take|taken|got|brought|drew|[a-z]+ed) (?P<kept>.*?)\s*{_OUT_OF_WATER}
        (?:is |are |came |come |went |was |were |pulled |taken )*{_OUT_OF_WATER}
        (?:emptied|drained|unloaded|cleared(?: out)?) (?P<kept2>(?:the |our )?{_VESSEL})
        (?:was|were|came|come|got) (?:back )?out of it(?: again)? :: -weight
        (?:came |come |is |are |now )*off (?:its |the |their )?(?:soak|dunk)(?:ing)?
        (?:took|take|taken|lifted|fished|pulled|hauled|got|lugged|heaved|dragged
            |brought) (?P<kept>.*?)\s*out(?! \d+(?! ?[ap]m)) :: stack -weight -gone -ill -new -sheet
        (?:hauled|lifted|fetched|heaved|pulled|hoisted|winched|fished
            |dragged) (?P<kept6>{STACK}[{STACK}, and&+]*) up{_ALONE} :: -weight
        (?:is |are |was |were |been )*(?:hauled|lifted|fetched|heaved|hoisted|winched|fished
            |dragged) (?:up|out){_ALONE} :: stack -weight -gone
        (?P<kept>{STACK}+)(?:'s|:|,)?(?: is| are| came| come| went| all| now| both
            | back)* out{_ALONE} :: -weight
        out(?=\W+{STACK}) :: -weight
        (?<![a-z{STACK}] )out (?:with|came)(?=\W+(?:both |all of )?{STACK}) :: -weight
        (?P<kept5>(?:the |our )?{_VESSEL}) (?:(?:was|is|got|now|all) )*(?:emptied|drained|unloaded
            |cleared)(?: out)?
        (?:after|on|when|while) (?:i |we )?pull(?:ing|ed)(?: it| them)?(?: out)?
        pulled|unsoaked|unloaded|drained :: stack -weight -off -gone -sheet
        """
    )
    maybe = (
        Saying(rf"(?:came |come |now |all )*out{_ALONE}", "stack -weight -ill -sheet"),
        Saying("(?:came|come) up", "stack tank -weight"),
        Saying("lifted|fished|hauled", "stack -weight -place -gone -sheet"),
        Saying(
            r"(?P<kept>all(?: of (?:it|them))?|everything(?: in the tank)?|all \d stacks"
            r"|the (?:whole )?lot)"
            rf"(?: is| are| came| went|'s)* (?:out|pulled|up){_ALONE}",
            "-weight -stack",
        ),
    )
    unless = ("weight", "off", "gone", "sheet")
    whole = True
    form = Form("Pulled")

    def read(self, given: Given) -> Event:
        logs = given.phrase.take_logs(bare=False)
        given.phrase.take_words("all(?: the)?(?: logs)?", "whole", f"(?:the |our ){_VESSEL}")
        if stayed := _STAYED.search(given.phrase.text):
            raise InputError(
                f"'{stayed[0]}': which came out, and which stayed in? Write 'pull A' of those that "
                "came out."
            )
        lasted = given.phrase.take(_SOAKED_FOR)
        event = super().read(given)
        return replace(event, logs=logs, note=noted(lasted, event.note))

    def objections(self, event: Event, limits: Limits) -> list[Objection]:
        there = [
            soak.logs
            for state in limits.concerned
            for soak in state.soaks
            if soak.on <= event.on and (soak.pulled_on is None or not soak.pull_recorded)
        ]
        if event.logs is not None and there and event.logs != sum(there):
            return impossible(
                f"{sum(there)} logs of {event.stack} are in the tank, not {event.logs}, and a "
                f"pull is of all of them. Write 'pull {event.stack}' when the last are out"
            )
        if there:
            return []
        say = limits.say
        last = max((s.on for state in limits.concerned for s in state.soaks), default=None)
        since = f"its last soak was on {say.day(last)}" if last else "no soak of it is recorded"
        return refused(
            f"{event.stack} is not in the tank on {say.day(event.on)}: {since}. Record the "
            "soak first"
        )

    def deed(self, event: Event, say: Say) -> str:
        of_logs = "" if event.logs is None else f"{logs_in_words(event.logs)} of "
        return f"Pulled {of_logs}{event.stack} from the tank"

    def change(self, event: Event, histories: list[StackHistory], yard: YardHistory) -> None:
        in_water = [history for history in histories if history.in_water]
        for history in in_water or histories:
            history.pull(event.on)
