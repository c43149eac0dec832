"""Words that no reading has used, and that may be left aside if that is asked about.

Nothing in them could belong to a record: no name, number, unit or day, no word of the work, no
doubt.
"""

from __future__ import annotations

import re

from fruitcast.diary.entries.kind import SHEET
from fruitcast.diary.marks import Parts, marks_in
from fruitcast.diary.not_done import is_doubted, is_near_doubt
from fruitcast.diary.phrases import UNIT_OF_WEIGHT
from fruitcast.diary.plain_words import (
    NUMBERS,
    QUANTITY,
    UNKNOWN_NAME,
    VOCABULARY,
    left_words,
    plainly,
)
from fruitcast.diary.slips import SLIPS, is_slip
from fruitcast.diary.spoken_kind import CLOCK, HOUR, speaks_of_deed

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
    """Return whether words may be left aside, if that is asked about.

    Parameters
    ----------
    words : str
        What no reading has used.
    parts : Parts
        Names of the yard.
    """
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
