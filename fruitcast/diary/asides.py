"""Words that stay in a note: which may be left aside, and which may be a record after all.

What no reading has used may be left aside, if that is asked about, where nothing in it could belong
to a record: no name, number, unit or day, no word of the work, no doubt. Words of the work that a
reading left in a note are asked about too: 'turned G today and noticed pins' makes a turn; that the
pins are words only is not for the program to settle.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from fruitcast.diary.entries.kind import SHEET, THIEVES
from fruitcast.diary.events import Event
from fruitcast.diary.marks import Parts, marks_in
from fruitcast.diary.not_done import is_doubted, is_near_doubt
from fruitcast.diary.phrases import UNIT_OF_WEIGHT
from fruitcast.diary.pieces import pieces_with_heads
from fruitcast.diary.plain_words import (
    NUMBERS,
    QUANTITY,
    UNKNOWN_NAME,
    VOCABULARY,
    left_words,
    plainly,
)
from fruitcast.diary.slips import SLIPS, is_slip
from fruitcast.diary.spoken_kind import CLOCK, HOUR, masked, speaks_of_deed

_OR = re.compile(
    r"\b(?:or|if|unless|whether|until|till|last (?:week|weekend|month|year)|instead|same"
    r"|ditto|each|again|rather|twice|back|total"
    r"|jan(?:uary)?|feb(?:ruary)?|mar(?:ch)?|apr(?:il)?|may|june?|july?|aug(?:ust)?|sept?(?:ember)?"
    r"|oct(?:ober)?|nov(?:ember)?|dec(?:ember)?"
    r"|to (?:soak|dunk|pick|harvest|pull|lift|water|turn|weigh|sell|cover|move|put|take|get|have)"
    r"|says?|said|tells?|told|he(?:ar|ard|ars)|dream\w*|imagin\w*|pretend\w*|fanc(?:y|ied)"
    r"|claim\w*|accord\w*|suppos\w*|swears?|swore|rumou?r\w*|bet|jok\w+|story|fix\w*)\b",
    re.IGNORECASE,
)
"""Words that point at what was said before, at another reading, at a plan or at hearsay."""


DEED = re.compile(
    r"\b(?:soak|dunk|pick|harvest|pull|lift|haul|water|spray|weigh|turn|restack|cover|sold|sell|threw"
    r"|throw|bin|binn|chuck|toss|dump|compost|retir|burn|scrap|took|take|taking|taken|put|cut|ate|eat"
    r"|gave|give|given|suppl|lost|lose|sent|dried|froze|mov|split|merg|join|inoculat|plugg|swap|steal"
    r"|stole|nick|pinch|spill|drop|pin|dead|died|mou?ld|bark|rot(?=s|t?ing)|flush|fruit)"
    r"(?:s|y|ed|t?ing|en)?\b|(?<!drying )\b(?:in|out)\b(?=\s*(?:$|[,;.]))",
    re.IGNORECASE,
)
"""Verbs of the work: what is done with something may be done with what is recorded."""


_SHEETED = re.compile(rf"\b{SHEET}\b.*\b(?:on|off|over|back)\b", re.IGNORECASE)
_NO_MARK = frozenset(("now", "first", "second"))
_LONG = frozenset(
    ["hour", "hours", "minute", "minutes", "days", "week", "weeks", "month", "months", "ago"]
)
_LOOKED = re.compile(r"\blook(?:s|ed|ing)?\b", re.IGNORECASE)


def may_be_left(words: str, parts: Parts) -> bool:
    """Return whether words that no reading has used may be left aside, if that is asked about."""
    plain = _plain(words)
    return not (
        _may_belong(plain, parts)
        or _has_slip(plain)
        or DEED.search(plain)
        or is_doubted(plain)
        or is_near_doubt(plain)
    )


def _plain(words: str) -> str:
    """Return words with amounts in figures, without the time of day."""
    return HOUR.sub(" ", CLOCK.sub(" ", plainly(words)))


def _may_belong(plain: str, parts: Parts) -> bool:
    """Return whether words may be a part of a record."""
    words = {*left_words(plain)}
    return bool(
        re.search(r"[\d?$£€]", plain)
        or any(mark.text.lower() not in _NO_MARK for mark in marks_in(plain, parts))
        or UNKNOWN_NAME.search(plain)
        or UNIT_OF_WEIGHT.search(plain)
        or _OR.search(plain)
        or _SHEETED.search(plain)
        or (QUANTITY | SLIPS | NUMBERS - _LONG) & words
        or speaks_of_deed(_LOOKED.sub(" ", plain), parts)
    )


def _has_slip(plain: str) -> bool:
    return any(is_slip(word, known) for word in left_words(plain) for known in VOCABULARY)


_DEEDS = frozenset(
    "pins cover turn soak pull water hold retire move inoculate weigh sold pick".split()  # noqa: SIM905
)
_SAME = {
    "fruiting": {"pins"},
    "nothing": {"soak", "pins"},
    "uncover": {"cover"},
    "discard": {"pick", "retire"},
    "hold": {"soak"},
    "turn": {"move"},
    "pull": {"move", "retire"},
    "water": {"soak"},
    "soak": {"move", "water"},
}
"""What the words of one kind may say that another records."""

_SHEET = re.compile(rf"\b{SHEET}\b", re.IGNORECASE)
_GONE = re.compile(
    r"\b(?:out|gone|away|taken) for good\b|\b(?:fire ?wood|retired|stove|kindling|bon ?fire)\b"
    r"|\b(?:burn(?:ed|t)|chipped|wrote|written off)\b",
    re.IGNORECASE,
)
EATEN = re.compile(rf"(?<!no )(?<!not a )(?<!the sun )\b{THIEVES}\b.*\b(?:first|feast|ate)\b", re.I)
_OF_NOTHING = re.compile(r"\b[a-z]+ed nothing(?: else)?\b", re.IGNORECASE)
_FOR_TABLE = re.compile(r"\b(?:supper|dinner|tea|lunch|breakfast)\b", re.IGNORECASE)
_AGAIN = re.compile(r"\b(?:same|as much|half|twice) (?:again|as much|amount)\b", re.IGNORECASE)
_REST = re.compile(r"\bto rest\b|\b(?:its|their|on) rest\b", re.IGNORECASE)


def left_in_notes(text: str, events: Sequence[Event], parts: Parts) -> str:
    """Return words of a sentence that say a deed of which it made no record; else nothing.

    `text` is the sentence, its names as they are known.
    """
    kinds = {event.kind for event in events}
    if "note" in kinds:
        return ""
    known = kinds.union(*(_SAME.get(kind, ()) for kind in kinds))
    plain = _OF_NOTHING.sub("", plainly(text))
    pieces, heads = pieces_with_heads(plain, masked(plain, parts), parts)
    for (start, end), own in zip(pieces, heads, strict=True):
        if any(head.kind in _DEEDS - known for head in own):
            return plain[start:end].strip(" ,;.")
    for event in events:
        for words in event.note.split("; "):
            if (
                (not kinds & {"cover", "uncover"} and _SHEET.search(words))
                or ("hold" not in kinds and _REST.search(words))
                or ("inspect" in kinds and "retire" not in kinds and _GONE.search(words))
                or (kinds == {"discard"} and _FOR_TABLE.search(words))
                or _AGAIN.search(words)
                or (event.kind == "pick" and not event.lost_kg and EATEN.search(words))
            ):
                return words.strip(" ,;.")
    return ""
