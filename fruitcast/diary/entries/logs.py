"""Logs looked over."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from fruitcast.diary.entries.kind import Objection, OfStacks, Saying, logs_in_words
from fruitcast.diary.events import (
    COMPETITOR_MOULDS,
    DEAD_LOGS,
    FINDINGS,
    HEALTHY,
    LOOSE_BARK,
    PINS,
    SPAWN_RUN_DONE,
    WHITE_ENDS,
    Event,
)
from fruitcast.diary.phrases import WEIGHT
from fruitcast.diary.stack_history import StackHistory, shared
from fruitcast.errors import InputError

if TYPE_CHECKING:
    from fruitcast.diary.record_checks import Limits
    from fruitcast.diary.record_phrase import Given
    from fruitcast.diary.state_from_diary import Book
    from fruitcast.diary.wording import Say

_BARK = "bark(?:'s)? (?:is |gone |going )?"
_FINDING_WORDS = {
    SPAWN_RUN_DONE: (
        "spawn[- ]run (?:is )?(?:done|over|complete|finished)|(?:fully |completely )?coloni[sz]ed"
        "|white ends all over"
    ),
    WHITE_ENDS: (
        "white (?:fuzz |growth |mycelium )?(?:showing )?(?:(?:on|at) )?(?:the |both )?ends?"
        "|ends? (?:are |is )?(?:showing |going |turning |all )?white"
        "|mycelium (?:is )?(?:showing |seen )?(?:at|on) (?:the )?ends?"
    ),
    COMPETITOR_MOULDS: (
        "(?:some |a bit of )?(?:competitor |green |black )?mou?ld(?:s|y)?|trich(?:oderma)?"
    ),
    LOOSE_BARK: (
        rf"(?:loose|peeling) bark|{_BARK}(?:loose|peels|peeling|slipping)"
        rf"|{_BARK}(?:coming|falling|lifting)(?: off| loose)?"
    ),
    HEALTHY: (
        "(?:looks? |is )?healthy|look(?:s|ing|ed)? (?:good|fine|ok|great|well)"
        "|all (?:well|good|fine|ok)|ok|fine"
    ),
}

_DENIED = re.compile(
    r"\b(?:no|not|without)\s+(?:any\s+|yet\s+|signs? of\s+)?"
    r"(?:white ends?|(?:green |black )?mou?lds?|pins?|"
    r"(?:loose|peeling) bark|bark loose|healthy|ok|fine|spawn[- ]run done)\b(?:\s+yet)?",
    re.IGNORECASE,
)
_KEPT = "\ue000"
"""Stands in the place of what was denied while findings are looked for."""

_OVER = re.compile(
    r"^(?:(?:look(?:ed)?|went|gone|going)\s+)?(?:it |them )?over\b[\s,;:.-]*"
    r"|[\s,;]*\b(?:it|them) over\s*$",
    re.IGNORECASE,
)
"""What is left of 'looked A over' and 'fine, checked it over'."""

_BORE = re.compile(r"^(?:has|have|had|shows?)\b[\s,]*(?=[^\s,])", re.IGNORECASE)
"""What is left of 'A has mould, moved it away'."""

_GROWN_THROUGH = re.compile(
    r"(?<!not )(?<!less )\bspringy\b|(?<!not )(?<!no )\bdull\b", re.IGNORECASE
)
"""Signs that beside white ends tell of a finished spawn run (common practice)."""

_ON_LOGS = re.compile(
    r"(?:\b(?:on|in|at|off|with)\s+)?\b(\d+)\s*(?:of\s+(?:the|them|those)\s*)?(?:old\s+)?(?:logs?|ones|)(?!\w|\s*%|\s+per)"
    r"(?:\s+(?:with|have|has|got)\b)?",
    re.IGNORECASE,
)
"""On how many logs something was found."""

_PINS = re.compile(r"^(?:pins?|pinning)$", re.IGNORECASE)
_ELSEWHERE = (
    (WEIGHT, "weigh {} 12 kg"),
    (re.compile(r"\d\s*%"), "weigh {} 12 kg at 42 %"),
    (re.compile(r"\bpins?\b", re.IGNORECASE), "pins {}"),
    (re.compile(r"\bdead\b|\bdied\b", re.IGNORECASE), "inspect {} 2 dead"),
)
"""What an inspection would only keep as words, and the record that counts."""


class Inspect(OfStacks):
    """Signs of the spawn run, enemies and deaths."""

    how_to = "Write it like 'inspect A white ends' or 'inspect A 2 dead, loose bark'"
    other_words = ("inspected", "checked", "check", "looked")
    unless = ("gauge", "cold weight", "sample")
    many = True
    sayings = (
        Saying(
            r"inspected|(?:checked|looked)(?: (?:at|over|in|on))*|examined|went over",
            "-gauge -cold -sample",
        ),
    )
    signs = (
        *_FINDING_WORDS.values(),
        "no (?:signs? of )?pins|mycelium|dead|died",
        rf"{_BARK}(?:soft|springy|cracked|split|hard|firm)",
    )
    twice_is_odd = True
    needs = ("stack",)
    counts_dead = True

    def read(self, given: Given) -> Event:
        phrase = given.phrase
        stack, note = given.stack_at_start() or given.stack_anywhere(), phrase.take_note()
        on = given.day()
        phrase.take(_OVER)
        words, denied = phrase.text, _DENIED.search(phrase.text)
        if denied:
            phrase.text = f"{words[: denied.start()]}{_KEPT}{words[denied.end() :]}"
        dead = phrase.take_dead()
        found = [finding for finding, words in _FINDING_WORDS.items() if phrase.take_words(words)]
        counts = re.findall(r"(?<!\w)\d+", phrase.text)
        if len(counts) > 1 or (counts and len(found) > 1):  # which is whose, the words say
            phrase.text, denied, counts = words, None, []
        counted = phrase.take(_ON_LOGS) if len(found) == 1 and counts else None
        if counted:
            what = "mould" if found[0] == COMPETITOR_MOULDS else found[0]
            logs = logs_in_words(int(counted[1]))
            note = "; ".join(text for text in (f"{what} on {logs}", note) if text)
        if dead:
            found.append(DEAD_LOGS)
        phrase.text = _BORE.sub("", phrase.text.strip(" ,;."))
        stack = given.stack_or_guess(stack)
        if _PINS.match(phrase.text) and not found:
            phrase.text = ""
            return Event(PINS, on, stack, note=note)
        for pattern, other in _ELSEWHERE:
            if pattern.search(phrase.text):
                raise InputError(
                    f"'{phrase.text}': an inspection would keep that as words only. Write "
                    f"'{other.format(stack)}'."
                )
        if denied:
            phrase.text = phrase.text.replace(_KEPT, denied[0])
        note = given.rest_as_note(note)
        if found == [WHITE_ENDS] and not counted and _GROWN_THROUGH.search(note):
            found.append(SPAWN_RUN_DONE)
            given.questions.append(
                "White ends with springy bark or a dull sound are what a finished spawn run shows: "
                "it is written down as done. Is it right? If not, write the white ends alone"
            )
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
