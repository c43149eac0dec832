"""What stands around a record: who speaks, greetings, who did the work, the market's own day."""

from __future__ import annotations

import re
from collections.abc import Sequence

from fruitcast.diary.marks import Parts, marks_in
from fruitcast.diary.phrases import DAY
from fruitcast.diary.plain_words import ORDINARY, PEOPLE, VOCABULARY

_SPEAKER = re.compile(
    r"^(?:(?:please|pls|i|we|have|just|also|then|ok|okay|so|and"
    r"|(?:finished|done)(?: up)? (?:at|with|by) the (?:tank|yard|logs|stacks)(?=,)"
    r"|(?:finished|done)(?!\s+(?:the\s+)?soak)"
    r"|(?:went|walked|been) round(?: the (?:yard|logs|stacks|wood|lot))?"
    r"(?=[,.]| (?:today|yesterday|(?:this|last) \w+)[,.])"
    r"|(?:a few|a couple of|two|three|four|\d|several) (?:jobs|things)(?: (?:were |got )?done)?"
    r"(?=,| (?:today|yesterday|this \w+),)"
    r"|hi|hello|hey|right|well|today's|good (?:morning|evening|afternoon)|evening all|update|diary"
    r"|swapped(?=:)|tank:(?= (?:put|took|pulled|in|out)\b)"
    r"|(?:just )?(?:(?:i )?want(?:ed)? )?to (?:say|report|record|let you know)(?: that)?"
    r"|(?:record|enter|log|add)(?: that| this|:)(?: (?:we|i))?"
    r"|record(?= \w*ed\b)|can report|for the (?:record|diary|book)s?)[\s,:!.-]+)+(?=\w)",
    re.IGNORECASE,
)
_GOODBYE = re.compile(
    r"(?:[\s,.;!-]+(?:thanks|thank you|thx|cheers|ta|please|bye)"
    r"|[,.;!-]\s*(?:done|that's (?:all|it)|all done|over and out|good night))[\s,.!]*$",
    re.IGNORECASE,
)

_LATE = re.compile(
    r"^(?:i )?forgot to (?:write|note|record|enter|log|mention)(?: (?:down|this|it|in))*\s*[:,-]",
    re.IGNORECASE,
)
"""It was done all the same."""

_PICKER = re.compile(
    rf"((?:[Mm]e and )?{PEOPLE})\s+(?=(?:picked|harvested|gathered|cut|took|got|brought|pulled|"
    r"soaked|turned|watered|checked|put|sold|found|saw)\b)"
)
_HELPERS = re.compile(
    rf"(?:(?:^|[\s,]+)(?:with|pickers?:?|helpers?:?|picked by|,)|,|\s-)\s+({PEOPLE})"
    r"(?:\s+(?:did|picked|helped|picking)(?: it| them| that)?)?"
    r"(?=\s*(?:$|[,;:.])|\s(?:off|from|today|yesterday|this|on)\b)"
)
"""Who did it, at the beginning of a sentence and elsewhere."""

_NO_NAMES = frozenset(("and", "me", "i", "my", "our", "the"))


_WEEK_AND_DAY = re.compile(
    r"\b(?:last|this|past) week(?:end)?,? (?=(?:on )?(?:\w+day,? )?(?:the )?\d{1,2}"
    r"(?:st|nd|rd|th|(?: of)? (?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec))\w*\b)",
    re.IGNORECASE,
)
"""'Last week, the 22nd' is that day."""

_DAY_AND_DATE = re.compile(
    r"\b(?:(?:last|this) )?((?:mon|tues|wednes|thurs|fri|satur|sun)day),? (?:on )?(?:the )?"
    r"(\d{1,2}(?:st|nd|rd|th)\b)",
    re.IGNORECASE,
)
"""'Friday, the 21st' is one day."""


def with_one_day(text: str) -> str:
    """Return a sentence in which a date stands without the week or the weekday told beside it."""
    return _DAY_AND_DATE.sub(r"\1 \2", _WEEK_AND_DAY.sub(" ", text))


_SAME_DAY = re.compile(
    r"\b(?:on |and )?(?:the |that )?same (?:day|morning|evening|visit)\b"
    r"|\b(?:while|when) (?:(?:i was|we were|i'm|we're) )?(?:there|at it)\b|\bat the same time\b",
    re.IGNORECASE,
)


def with_same_day(text: str) -> str:
    """Return a sentence in which 'the same day' is the day told before it."""
    same = _SAME_DAY.search(text)
    days = [*DAY.finditer(text, 0, same.start())] if same else []
    return text.replace(same[0], days[-1][0]) if same and days else text


def without_greetings(text: str) -> str:
    """Return a sentence without thanks at its end and excuses for being late."""
    return _GOODBYE.sub("", _LATE.sub("", text))


def text_of(text: str) -> str:
    """Return a sentence without blanks too many and without who speaks."""
    return _SPEAKER.sub("", " ".join(text.split()))


def without_picker(text: str, parts: Parts) -> tuple[str, str]:
    """Return words without the people who did it ('Ann and I picked', 'with Bill'), and those."""
    found = [
        match
        for pattern in (_PICKER, _HELPERS)
        for match in pattern.finditer(text)
        if (match.start() == 0 or pattern is _HELPERS)
        and not marks_in(match[1], parts)
        and not (ORDINARY | VOCABULARY.keys()) & ({*match[1].lower().split()} - _NO_NAMES)
    ]
    if len(found) != 1:
        return text, ""
    start, end = found[0].span()
    return f"{text[:start]} {text[end:]}".strip(" ,"), found[0][1].removesuffix(" and")


def at_its_market(text: str, outlets: Sequence[str]) -> str:
    """Return words in which 'last Saturday's market' is the Saturday market on that day."""
    for name in outlets:
        day, _, rest = name.partition(" ")
        if rest and DAY.fullmatch(day):
            own = (
                rf"((?:last |this )(?={day[:3]}\w*(?:'s)? )"
                rf"|(?={day}'?s )){day[:3]}(?:{day[3:]})?(?:'s|s)?"
                rf" (?:{re.escape(rest)}|mkt)\b"
            )
            text = re.sub(rf"\bfor {own}", f"for {name}", text, flags=re.IGNORECASE)
            text = re.sub(rf"\b{own}", rf"{name} on \1{day}", text, flags=re.IGNORECASE)
            later = rf"\bfor (?:tomorrow's {re.escape(rest)}|the {re.escape(rest)} tomorrow)\b"
            text = re.sub(later, f"for {name}", text, flags=re.IGNORECASE)
            weekend = rf"({re.escape(name)}|\b{re.escape(rest)})(.*?)\blast weekend\b"
            text = re.sub(weekend, rf"\1\2 last {day}", text, flags=re.IGNORECASE)
    return text
