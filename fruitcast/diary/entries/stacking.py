"""Stacks split, merged, moved and retired."""

from __future__ import annotations

import re
from datetime import date, timedelta
from typing import TYPE_CHECKING

from fruitcast.diary.entries.kind import (
    STACK,
    EntryKind,
    Objection,
    OfStacks,
    Saying,
    impossible,
    in_water,
    logs_in_words,
    not_alive,
    question,
    said,
    shares_logs,
)
from fruitcast.diary.events import INSPECT, Event, in_force, noted
from fruitcast.diary.history import StackHistory, hand_over, shared
from fruitcast.diary.pattern import pattern_of
from fruitcast.diary.phrases import DAY, HOURS, WEIGHT, Phrase
from fruitcast.errors import InputError
from fruitcast.yard.model import SEPARATOR, stack_of

if TYPE_CHECKING:
    from fruitcast.diary.history import YardHistory
    from fruitcast.diary.limits import Limits, Say
    from fruitcast.diary.record_phrase import Given

WHOLE = "whole"
"""A stack that is no longer soaked in lots."""

_LOTS = pattern_of(
    r"\b(?:in(?:to)?\s+)?(?:([2-9])(?:\s+(?:equal\s+)?(?:lots|parts|halves|batches))?|whole)\b"
    r"|\bin(?:to)? (?:half|halves)\b"
)
_NAMED_LOTS = pattern_of(
    r"(?:\b(?:in(?:to)?|as|called|named|being|to make)\s+)?(?<!\S)\(?[A-Z]\w*/1\b(?:(?:[,\s&+]"
    r"|\band\b)+[A-Z]\w*/(?P<last>[2-9])\b\)?)+",
    0,
)
"""'P/1 and P/2' are two lots."""
_LOGS_A_LOT = pattern_of(
    r"[,\s]*\b(?:with |of )?(\d+)(?: logs?)? (?:each(?: way| lot)?|apiece|a lot|in each)\b"
    r"|(?:(?<=lots )|(?<=batches ))of \d+(?: logs?)?(?: each)?(?! ?(?:and|,|or) (?:of )?\d)\b"
    r"|\b(?:half|even(?:ly)?) (?:and half|each)\b"
)
_INTO = pattern_of(
    r"\b(?:into|onto|to|as|with|and|(?:are|is) now)\s+(?:(?:make|form|start|begin)\s+)?(?:new\s+)?"
    r"(?:stack\s+)?(.+)$"
)
_NEW = pattern_of(
    r"(?:\b(?:and|made|make|making|started|starting|set up|into|as|them|it|"
    r"(?-i:a))\s+)*\bnew\s+stack\b,?\s*"
    r"(?:(?:called|named|of)\s+)?(?:it\s+)?(\S+)(?=$|\s+(?:out of|from|with|using)\b)"
)
_NO_NAME = pattern_of(r"\bstacks\b|^[a-z]+ .*\b(?:called|named|stack|them|it)\b", 0)
"""'A separate one of them called K': words that were not understood."""
_CALLED = pattern_of(
    r"[,;]? ?\b(?:and )?(?:call(?:ed|ing)?|nam(?:ed|ing)) (?:it|them|that|those) (?:stack )?(\S+)$"
)
_STACK = pattern_of(
    r"(?:\b(?:as|into|to|and) )?\b(?:a )?(?:(?:separate|second|smaller|small|little) )?stack\s+"
    r"(?:(?:of|with|from|out of) (?:them|it|those)\s+)?(?:called |named )?(\S+)(?: with them)?$"
)
_PLACE = pattern_of(r"(?<!next )\b(?:to|into)\s+(.+)$")
_NO_PLACE = (pattern_of(r"^in (?:from|of|off|on)\b|\band to\b"), WEIGHT, HOURS, DAY)
"""What makes words after 'in' or 'to' no place: something of the record was misread."""

_PLACE_TOO = pattern_of(
    r"\b((?:under|behind|beside|inside|outside|indoors|outdoors|near|against|next to|in|by)\b.*)$"
)


class Split(OfStacks):
    """A part becomes a stack of its own."""

    how_to = "Write it like 'split A 10 logs into K'"
    done = "Split {logs} off {stack} into {into}"
    sayings = said(
        r"""
        (?P<kept>new stack)|(?:is |are )?(?:now )?(?:its|their) own (?P<kept2>stack)
            |(?:and |to )?(?:start(?:ed)?|began|begin|make
            |made|called|named) (?P<kept3>(?:a )?(?:(?:separate|second|smaller|small|little) )?stack
            |(?:them|it|those) (?:into )?a (?:separate|new) stack) :: stack -made
        split(?: off)?(?! (?:and|on|at)\b) :: -lots
        """
    )
    unless = ("lots",)
    needs = ("stack", "logs", "into")

    def read(self, given: Given) -> Event:
        phrase, stack, note, on = given.opened()
        phrase.take_words("with (?:them|those|it)$")
        logs = phrase.take_logs(bare=False)
        into = next(filter(None, map(phrase.take, (_NEW, _CALLED, _STACK, _INTO))), None)
        if logs is None:
            logs = phrase.take_logs(bare=True)
        if logs is None and into:
            rest = Phrase(into[1])
            logs = rest.take_logs(bare=True)
            name = rest.text
        else:
            name = into[1] if into else ""
        name = name.strip(" ,:")
        if logs is None or not name or name.isdigit() or _NO_NAME.search(name):
            raise InputError(
                f"'split {phrase.given}': how many logs, into which stack? {self.how_to}."
            )
        if SEPARATOR in name and (of := stack_of(name)) in given.stacks:
            number = name.removeprefix(f"{of}{SEPARATOR}")
            raise InputError(
                f"'{of}{number}' is taken for lot {number} of {of}. Choose another name for the "
                f"new stack, one that is not '{of}' and a number."
            )
        if SEPARATOR in name:
            raise InputError(
                f"'{name}': a stack's name can't hold '{SEPARATOR}', which marks the lots of one. "
                f"Choose another name, or write 'lots {stack or 'A'} 2' to soak it in two lots."
            )
        phrase.take_words("took|take|taken|moved|pulled")
        phrase.take_words("off", "from")
        return Event(self.name, on, given.stack_or_guess(stack), logs=logs, into=name, note=note)

    def faults(self, event: Event) -> list[str]:
        return ["logs is 0, a split needs one or more"] if event.logs == 0 else []

    def objections(self, event: Event, limits: Limits) -> list[Objection]:
        alive = limits.alive
        found = in_water(limits)
        if (event.logs or 0) >= alive:
            found += impossible(
                f"{event.stack} has {alive} logs, {event.logs} can't be split off. Give fewer"
            )
        if any(name == event.into or name.startswith(f"{event.into}/") for name in limits.stacks):
            found += impossible(f"There is a stack {event.into} already. Choose a new name")
        return found

    def change(self, event: Event, histories: list[StackHistory], yard: YardHistory) -> None:
        there = sum(history.logs for history in histories)
        wanted = min(event.logs or 0, there)
        if event.logs != wanted:
            histories[0].notes.append(
                f"{event.stack}: the split of {event.on} wants {event.logs} logs, "
                f"{there} were there"
            )
        targets = yard.named(event.into)
        if not targets:
            targets = yard.begin(event.into, yard.rows[histories[0].row], wanted)
            for target in targets:
                target.logs = 0
        for history, logs in zip(histories, shared(wanted, histories), strict=True):
            hand_over(history, logs, targets)


class Merge(OfStacks):
    """A stack joins another."""

    how_to = "Write it like 'merge A into B'"
    done = "Merged {stack} into {into}"
    other_words = ("merged",)
    sayings = (
        Saying(
            rf"(?:re-?)?(?:merged|joined|combined|united)|folded|lumped"
            rf"|(?<={STACK} )(?:are |is |went |going )?(?:back )?together(?= as| again|$|[,.;])"
            r"|put (?:what(?: is|'s)|all that(?: is|'s)|the (?:rest|last|remains))(?: left)?"
            rf"(?: of| from)? (?P<kept3>{STACK}+) in(?:to)? (?P<kept4>with)(?= {STACK})"
            r"|(?:put|stacked) (?P<kept>.*?) together(?= with)"
            rf"|(?:put|stacked|made|moved) (?P<kept2>{STACK}.*?{STACK}+) (?:back )?(?:together"
            rf"|(?:in)?to one"
            r"|one(?= stack)|as one|in one)(?: (?:as|in|into) one)?(?: (?:stack|pile|crib|row))?"
            rf"|(?<={STACK} )(?:are |is |now |back )*(?:(?:in)?to |in |as )?one "
            r"(?:stack|pile|crib|row)(?: again)?"
            rf"|added(?= .*{STACK}.* to .*{STACK})",
            "-weight",
        ),
    )
    needs = ("stack", "into")

    def read(self, given: Given) -> Event:
        phrase, stack, note, on = given.opened()
        phrase.take_words(
            "(?:together )?(?:as|(?:in)?to|in) one(?: (?:stack|pile|crib|row))?", "together"
        )
        if "," not in phrase.text:
            phrase.text = re.sub(r" (?=as (?:stack )?\S+$)", ", ", phrase.text)
        into = phrase.take(_INTO)
        name = into[1].strip(" ,:") if into else phrase.text if stack else ""
        rest = ""
        if not re.search(r",.*(?<![A-Za-z] )\d", name):  # a number is no mere remark
            name, _, rest = name.partition(",")
        same = Phrase(rest).take_name([name.strip()], at_start=False) is not None
        if into and stack and not same and Phrase(rest).take_name([stack], at_start=False):
            stack, name, same = given.guess(name.strip()), stack, True  # 'C and F, called C now'
        if not name:
            raise InputError(f"Merge it into which stack? {self.how_to}.")
        whole, _, number = name.strip().rpartition(SEPARATOR)
        whole = whole if number.isdecimal() else name.strip()
        if SEPARATOR in stack and stack_of(stack) == whole:  # another of its lots, or their stack
            phrase.take_words("back", "in(?:to)?", "(?:the )?two")
            return Event("lots", on, stack_of(stack), into=WHOLE, note=note)
        if not into:
            phrase.text = ""
        elif not same and re.match(r"and\b", into[0], re.IGNORECASE):
            given.choices.append(
                "Which of the two joins the other? Write it like 'merge A into B'."
            )
        stack = given.stack_or_guess(stack)
        note = noted(rest.strip(), note)
        return Event(self.name, on, stack, into=given.guess(name.strip()), note=note)

    def objections(self, event: Event, limits: Limits) -> list[Objection]:
        found = not_alive(event, limits) + in_water(limits)
        if event.stack == event.into:
            found += impossible("A stack can't be merged into itself")
        return found

    def change(self, event: Event, histories: list[StackHistory], yard: YardHistory) -> None:
        targets = [target for target in yard.named(event.into) if target not in histories]
        if not targets:
            yard.miss(event.into)
            return
        for history in histories:
            hand_over(history, history.logs, targets)


_JOINED = pattern_of(
    r"\b(?:back )?(?:re-?)?(?:merged|joined|combined|united|together|one(?: stack)?)(?: again)?\b"
)
_LOT_NAMES = pattern_of(r"(?:\band\b|[,&+ ])*\b[A-Z]\w*/[1-9]\b", 0)


class Lots(EntryKind):
    """A stack soaked in lots from now on, or whole again."""

    how_to = "Write it like 'lots A 3' or 'lots A whole'"
    sayings = said(
        rf"""
        (?:split|(?:sub-?)?divid|part|separat|halv)(?:ed|ing)? :: lots -new
        (?<={STACK} )(?:is |are )?now(?= (?:(?:two|2) lots )?(?-i:[A-Z])\w*/1) :: lots
        """
    )
    unless = ("lots-of",)
    needs = ("stack", "into")

    def read(self, given: Given) -> Event:
        phrase, stack, note, on = given.opened()
        if SEPARATOR in stack and _JOINED.search(phrase.text):
            phrase.text = _LOT_NAMES.sub(" ", _JOINED.sub(" ", phrase.text))
            base = stack_of(stack)
            phrase.take_words(rf"(?:(?:as|in(?:to)?|to) )?{re.escape(base)}", "as|in(?:to)?|to")
            note = given.rest_as_note(note)
            return Event(self.name, on, base, into=WHOLE, note=note)
        each = phrase.take(_LOGS_A_LOT)
        named, number = phrase.take(_NAMED_LOTS), phrase.take(_LOTS)
        stack = stack or given.stack_anywhere()
        if number is None and named is None:
            raise InputError(f"How many lots? {self.how_to}.")
        told = {number[1] or ("2" if "hal" in number[0].lower() else WHOLE)} if number else set()
        if named and [f"{stack}/{n}" for n in range(1, int(named["last"]) + 1)] != re.findall(
            r"[A-Z]\w*/\d", named[0]
        ):
            raise InputError(f"'{named[0].strip()}': which lots? {self.how_to}.")
        told |= {named["last"]} if named else set()
        if len(told) > 1:
            raise InputError(f"'{phrase.given}': how many lots? {self.how_to}.")
        into = told.pop()
        phrase.take_words(
            "(?:in(?:to)?|as) lots", "lots", "up", "in(?:to)?", "as of", "equal(?:ly)?"
        )
        phrase.take_words("(?:and )?(?:now|apiece)", "did it")
        note = given.rest_as_note(noted(each, note))
        return Event(self.name, on, given.stack_or_guess(stack), into=into, note=note)

    def faults(self, event: Event) -> list[str]:
        if event.into == WHOLE or re.fullmatch("[2-9]", event.into):
            return []
        return [f"into is '{event.into}', lots are 2 to 9, or '{WHOLE}'"]

    def objections(self, event: Event, limits: Limits) -> list[Objection]:
        found = not_alive(event, limits)
        living = [state for state in limits.concerned if state.logs]
        if SEPARATOR in event.stack:
            found += impossible(f"{event.stack} is a lot already. Name its stack")
        rests = {tuple((s.on, s.pulled_on) for s in state.soaks) for state in living}
        if len(rests) > (1 if event.into == WHOLE else int(event.into)):
            found += impossible(
                f"The logs of {event.stack} did not rest alike, so they can't be "
                f"{'made whole' if event.into == WHOLE else 'in so few lots'}. Soak them "
                "together first"
            )
        if event.into != WHOLE and limits.alive < int(event.into):
            found += impossible(f"{event.stack} has {limits.alive} logs")
        return found

    def deed(self, event: Event, say: Say) -> str:
        if event.into == WHOLE:
            return f"{event.stack} to be soaked whole"
        return f"{event.stack} to be soaked in {event.into} lots"

    def enter(self, event: Event, yard: YardHistory) -> None:
        yard.part(event.stack, 1 if event.into == WHOLE else int(event.into), event.on)


class Move(OfStacks):
    """A stack has a new place."""

    how_to = "Write it like 'move A to the north bank'"
    done = "Moved {stack} to {into}"
    whole = True
    other_words = ("moved", "brought", "carried", "shifted", "relocated")
    unless = ("weight", "tank", "new")
    sayings = said(
        rf"""
        moved(?! (?:it|them|that one) (?:well )?(?:away|apart)\b)|shifted|carried
            |relocated|dragged|brought :: stack place -weight -tank -new
        stacked :: stack place
        re-?stacked(?= [^,;]*\b(?:under|behind|beside|by|next to|against|near|in the
            |on the)\b) :: stack
        (?:took|brought|hauled|lugged|wheeled|carted|drove) (?P<kept2>{STACK}+)(?: up| down| over
            | out)*(?= (?:to|into|behind|under|onto) ) :: -weight -tank -cold
        (?:is |are )?now(?= (?:behind|under|beside|next to|near) ) :: stack -weight -tank -sheet
        (?:put|set) (?P<kept>{STACK}+)(?= (?:under|behind|beside|inside|near|next to|against
            |by|outside|in the)\b) :: -weight -tank -cold
        """
    )
    many = True
    needs = ("stack", "into")

    def read(self, given: Given) -> Event:
        phrase, stack, note, on = given.opened()
        place = phrase.take(_PLACE) or phrase.take(_PLACE_TOO)
        if not place:
            raise InputError(f"Moved where? {self.how_to}.")
        if any(pattern.search(place[1]) for pattern in _NO_PLACE):
            raise InputError(f"'{place[1]}' is no place. {self.how_to}.")
        stack = given.stack_or_guess(stack)
        return Event(self.name, on, stack, into=place[1].strip(" ,"), note=note)

    def change_one(self, event: Event, history: StackHistory) -> None:
        history.place = event.into


_OF_ALL = pattern_of(r"\b(\d+) of (?:the|its|their) \d+ (?=logs?\b)")
_WORN = pattern_of(r"\bworn[- ]out\b")


class Retire(OfStacks):
    """Logs taken out for good."""

    how_to = "Write it like 'retire A 3 logs' or 'retire A all'"
    done = "Retired {logs} of {stack}"
    takes_logs = True
    other_words = ("retired", "remove", "removed", "scrap", "scrapped", "burned", "burnt")
    unless = ("weight", "tank", "sheet")
    many = True
    whole = True
    sayings = said(
        r"""
        (?:took|take|pulled|got|tossed|threw|chucked|hauled|dragged|chopped up
            |cleared)(?: out)? :: logs gone stack -weight -tank
        (?:is |are )?(?:spent|finished|done for|past it) :: logs gone -weight -tank
        (?:is |are )?(?:spent|done for(?! (?:today|now|the (?:day|night))\b)) :: -weight -tank
        (?:out of use )?for (?:good|ever)|out of use :: logs stack -weight -tank
        (?:is |are )(?:now )?firewood :: stack -weight -logs
        (?:is |are |was |were )?(?:finished|done) :: burnt -weight -tank
        (?:went |gone |goes )?(?:to|on|onto|in) (?:the )?(?P<kept2>firewood(?: pile)?|bonfire
            |(?:wood|log|burn|brush|scrap) ?(?:pile|heap)) :: stack -weight -tank
        (?:threw|thrown|throw|tossed|chucked) (?P<kept3>.*?)(?:away|out)|discard(?:ed)?
            |got rid of|binned|dumped|composted|ditched|culled
            |(?:ditch|binn|dump|cull|scrapp|retir|burn)ing|struck off
                |written off :: logs -weight -tank
        (?P<kept5>(?:went|gone) on(?:to)? the fire) :: logs stack -weight -tank
        retired?(?: (?:those|them|these|both|it))?|burned|burnt|scrapped
            |removed :: -weight -tank -sheet
        """
    )
    twice_is_odd = True
    needs = ("stack",)

    def read(self, given: Given) -> Event:
        phrase, stack, note, on = given.opened()
        worn = phrase.take(_WORN)
        phrase.text = _OF_ALL.sub(r"\1 ", phrase.text)
        logs = phrase.take_logs(bare=True)
        whole = phrase.take_words(
            "all(?: (?:of (?:it|them)|(?:the )?logs))?", "(?:the )?whole(?: stack)?", "the lot"
        )
        phrase.take_words("(?:out )?of", "from", "taken", "took")
        for_fire = phrase.take_words("(?:as|for) firewood")
        stack = given.stack_or_guess(stack)
        if logs is None and not whole:
            given.questions.append(f"That takes all logs of {stack} out for good. Is it right?")
        note = noted(worn, "firewood" if for_fire else "", note)
        return Event(self.name, on, stack, logs=logs, note=note)

    def objections(self, event: Event, limits: Limits) -> list[Objection]:
        alive = limits.alive
        if (event.logs or 0) > alive:
            return impossible(
                f"{event.stack} has {alive} logs, {event.logs} can't be retired. Give fewer"
            )
        return not_alive(event, limits) + _dead_already_off(event, limits)

    def change(self, event: Event, histories: list[StackHistory], yard: YardHistory) -> None:
        for history, logs in zip(histories, shared(event.logs, histories), strict=True):
            history.lose(event.on, logs)


DEAD_LATELY = timedelta(days=60)
"""Logs found dead so lately may be those that are thrown away now. Judgement."""


def _dead_already_off(event: Event, limits: Limits) -> list[Objection]:
    """Ask whether the logs retired are those found dead, which are off the count already."""
    if not event.logs:
        return []
    of_these = [known for known in in_force(limits.known) if shares_logs(known.stack, event.stack)]
    retired = [known.on for known in of_these if known.kind == event.kind and known.on <= event.on]
    since = max(retired, default=date.min)
    dead = [
        known
        for known in of_these
        if known.kind == INSPECT
        and known.logs
        and max(since, event.on - DEAD_LATELY) <= known.on <= event.on
    ]
    if not dead:
        return []
    count = sum(known.logs or 0 for known in dead)
    them = "one" if event.logs == 1 else "ones"
    return question(
        f"{logs_in_words(count)} of {event.stack} found dead by {limits.say.day(dead[-1].on)} "
        f"{'is' if count == 1 else 'are'} off its count already: it has {limits.alive}. "
        f"{'Is this' if event.logs == 1 else 'Are these'} {event.logs} other {them}, to come "
        "off as well?"
    )
