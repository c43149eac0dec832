"""What is said beside a record and has no part in it: excuses, the weather, what somebody thinks.

A clause is an aside where nothing in it could belong to a record: no name, number, unit or day, no
word of the work, no doubt. Where what is left aside is asked about, words of the work may stand in
it, and what denies or wishes something else: 'because it will be hot', 'the knife needs
sharpening'.
"""

from __future__ import annotations

import itertools
import re
from typing import NamedTuple

from fruitcast.diary.entries.kind import SHEET, STACK
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

_WHO = (
    r"(?:i|we|you|he|she|it|they|there|that|this|these|those|my|our|his|her|its|the|an?"
    r"|who|no|nobody|no one|everybody|everyone)"
)
_REASON = (
    r"(?:because|cos|though|although|while|when|which|who|where|in case|thanks to|so that"
    r"|(?:since|as|so)"
    rf"(?= (?:{_WHO}(?:'\w+)?|[A-Z]?[a-z]+ (?:was|were|is|are|had|has|have|did))\b))"
)
_CLAUSE = re.compile(
    r"(?:\s*[;,](?!\d)\s*|\s+-+\s+|(?<=\w\w)[.!:]+\s+)(?:(?:and|but|then)\s+)?"
    rf"|\s+(?:and|but)\s+(?=(?:{_WHO}(?:'\w+)?|nobody|nothing)\b)"
    rf"|\s+(?={_REASON}\b)|\s+(?=(?:just )?(?:in order )?to (?:keep|stop|save|protect|shelter)\b)",
    re.IGNORECASE,
)
"""Where a clause begins; what gives a reason is one."""

_GIVES_REASON = re.compile(
    r"(?:because|cos|since|as|so|in case|though|although|where|(?:just )?(?:in order )?to)\b",
    re.IGNORECASE,
)
_SUBJECT = re.compile(rf"(?:and )?{_WHO}\b", re.IGNORECASE)
_LAST = re.compile(
    r"\b(?:\w+n't|not|never|no|will|would|could|should|might|may|must|can|wants?|needs?|nearly|almost"
    r"|likely|to|be|do|have|had|the|an?)\W*$",
    re.IGNORECASE,
)
"""A clause that breaks off: what it denies or wishes may stand elsewhere."""

_THOUGHT = re.compile(
    r"(?!(?:i|we|that|it)\b)[a-z].* (?:i|we) (?:think|guess|reckon|suppose)$"
    r"|(?:i|we) (?:think|guess|reckon|suppose|expect|suspect) (?:from|because|due to|owing to) \w+"
    r"|not (?:the|my|our|his|her|their) \w+(?:'s)?\W*$",
    re.IGNORECASE,
)
"""'Slowing down I think' doubts nothing of the record, 'I think from the wet' its cause alone."""

_NO_RAIN = re.compile(
    r"(?:(?:there|it|we)(?:'s|'ve| has| have| was| is| had)? )?(?:been |had |seen )*"
    r"(?:no|hardly any|little|without) (?:real |proper )?(?:rain|dew|wind|sun)"
    r"(?: (?:for|since|in) [a-z' ]+)?\W*$",
    re.IGNORECASE,
)
"""'There's been no rain for a week' gives a reason where a deed is told beside it."""

_NOTHING_CAME = re.compile(
    r"(?:because|since|as|cos)\b.*\b(?:nothing|none|no \w+)\b", re.IGNORECASE
)
"""'... because nothing had come since Easter'."""

_THAN = re.compile(r"\bthan (?:me|i|us|anyone|anybody|usual|ever|myself)\b", re.IGNORECASE)
_WHERE = re.compile(r"where (?=(?:i|we|you|nobody)\b)", re.IGNORECASE)
"""No question within a sentence."""

_OF_OTHERS = re.compile(
    r"(?:the|my|our|his|her) \w+\b(?!.*\b(?:it|them|that|those|any|some)\b)", re.I
)
"""'The knife needs sharpening' wishes nothing of the record."""

_OTHERS_WISH = re.compile(
    r"(?:he|she|they|there)\b(?!.*\b(?:it|them|that|those|this|these|any|some|one|more)\b)", re.I
)
"""As does 'they want a wedding'."""

LIGHT = frozenset(
    """
    not n't no never nothing nobody none don't didn't doesn't won't wouldn't couldn't shan't
    shouldn't can't cannot isn't aren't wasn't weren't hasn't haven't hadn't ain't will would could
    should shall might may must can want wants wanted need needs needed nearly almost did does do
    done doing get gets getting got make makes made try trying tried happen happened manage managed
    bother bothered work worked start started know knew tell say said see go went come came so but
    and as though anyway really quite just still him us who what why how yes well oh ah because
    since while when which before happen gone that think thought guess maybe perhaps probably sure
    wrong right mistake forgot forgotten mean meant really actually finished later tomorrow yet
    """.replace("'", "").split()
)
"""Words that say nothing of what else is denied or wished: it may be the record itself."""

TOLD_AS_DONE = re.compile(
    r"\b(?:[a-z]{2,}ed|(?:i|we|i've|we've|have|has) (?:just )?(?:put|cut|set|let)|laid|hung|drew"
    r"|gave|went|took|got|had|came|did|sold|bought|paid|brought|threw|made|found|saw|was|were|is|are|has|bore|ran"
    r"|taken"
    rf"|yesterday|last (?:night|evening)|this (?:morning|afternoon)|ago|{STACK}'s)\b|'s\b",
    re.IGNORECASE,
)
"""What is told as done."""

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


class Reading(NamedTuple):
    """One way to read a sentence: parts, each read by itself, and what is left aside."""

    parts: tuple[str, ...]
    aside: tuple[str, ...] = ()
    note: str = ""


def without_asides(text: str, parts: Parts) -> Reading:
    """Return a sentence without its asides; no part where nothing is left that was done."""
    starts = [(0, 0), *(found.span() for found in _CLAUSE.finditer(text)), (len(text), len(text))]
    clauses = [(text[a:b], text[b:c]) for (a, b), (c, _) in itertools.pairwise(starts)]
    kept, aside = "", list[str]()
    for joint, clause in clauses:
        bare = clause.strip(" ,;:.!")
        but = "but" in joint and is_doubted(bare)  # it may take back all before it
        if bare and not but and may_be_left(bare, parts):
            aside.append(bare)
        elif bare:
            kept += (joint if kept else "") + clause
    kept = kept.strip(" ,;:")
    sure = TOLD_AS_DONE.search(kept) or not any(map(is_doubted, aside))
    return Reading((kept,), tuple(aside)) if kept and sure else Reading(())
