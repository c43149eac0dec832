"""What stands around a record: who speaks, greetings, who did the work, the market's own day."""

from __future__ import annotations

import re
from collections.abc import Sequence

from fruitcast.diary.marks import Parts, marks_in, outlets_in
from fruitcast.diary.pattern import pattern_of
from fruitcast.diary.phrases import DAY, MONEY, WEIGHT
from fruitcast.diary.plain_words import (
    MONTH,
    ORDINARY,
    PEOPLE,
    VOCABULARY,
    WAS_GIVEN,
    WEEKDAY,
    one_of,
    plainly,
    replaced,
)

_SPEAKER = pattern_of(
    r"^(?:(?:please|pls|i|we|have|just|also|then|ok|okay|so|and"
    r"|(?:finished|done)(?: up)? (?:at|with|by) the (?:tank|yard|logs|stacks)(?=,)"
    r"|(?:finished|done)(?!\s+(?:with\s+)?(?:the\s+)?(?:soak|spawn|run))"
    r"|(?:went|walked|been) round(?: the (?:yard|logs|stacks|wood|lot))?"
    r"(?=[,.]| (?:today|yesterday|(?:this|last) \w+)[,.])"
    r"|(?:a few|a couple of|two|three|four|\d|several) (?:jobs|things)(?: (?:were |got )?done)?"
    r"(?=,| (?:today|yesterday|this \w+),)"
    r"|hi|hello|hey|right|well|today's|good (?:morning|evening|afternoon)|evening all|update|diary"
    r"|swapped(?=:)|tank:(?= (?:put|took|pulled|in|out)\b)"
    r"|(?:just )?(?:(?:i )?want(?:ed)? )?to (?:say|report|record|let you know)(?: that)?"
    r"|(?:record|enter|log|add)(?: that| this|:)(?: (?:we|i))?"
    r"|record(?= \w*ed\b)|can report|for the (?:record|diary|book)s?)[\s,:!.-]+)+(?=\w)"
)
_GOODBYE = pattern_of(
    r"(?:[\s,.;!-]+(?:thanks|thank you|thx|cheers|ta|please|bye)"
    r"|[,.;!-]\s*(?:done|that's (?:all|it)|that'?s (?:my|the|our) (?:rounds?|jobs?|work|day)"
    r" (?:done|over)(?: for (?:today|the day|now))?|all done|over and out|good night))[\s,.!]*$"
)

_COURTESY = one_of(
    r"""
    (?:i'm|i am|we're|we are) (?:so |very |quite )?(?:sorry|ashamed|afraid|pleased|proud|happy
        |glad|sad|delighted|able) to (?:say|report|tell you)(?: that)?
    (?:i|we) can (?:(?:truly|gladly|now|honestly|only) )?(?:say|report|tell you) that
    (?:i'm|i am) afraid | (?:i|we) (?:must|have to|do have to) (?:say|admit|confess)(?: that)?
    would you (?:bel[ie]{1,3}ve(?: it)?|credit it) | (?:if you can )?believe (?:it or not|me)
    if you please | if i say so myself
    if i may say so | if you must know | if you like | bless (?:him|her|them|us|it)
    thank (?:goodness|heavens|god) | needless to say | to be (?:honest|fair|exact|precise)
    mind you | you know
    you'll (?:be (?:pleased|glad|happy|sorry) to (?:hear|know)(?: that)?|laugh|never guess
        |not believe it)
    (?<!.)(?:oh |ah )?(?:sorry|apologies|forgive me|excuse me|pardon me
        |beg(?:ging)? (?:your )?pardon)(?: (?:to|for|about|that|it's|its|i'm|we're|this is
        |if)\b(?-i:[^,;:.?\dB-HJ-Z])*|,? me again| again)
    (?<=[,;.] )(?:sorry|apologies) (?:to|for|about|i'm late|it's late)\b(?-i:[^,;:.?\dB-HJ-Z])*
    (?:i|we) (?:clean |quite |completely )?forgot to (?:write|note|record|enter|log|mention|put
        |say|tell you)(?: (?:it|that|this|them))?(?: (?:down|in|up))?(?: here)?
    (?:so |and )?you (?:may|can) (?:trust|believe) (?:it|me|them|that)
    never mind the (?!\d)[a-z]+ | touch wood
    to the (?:minute|hour|ounce|pound|gram|dot|day|letter) | (?:the )?two of us(?: and a \w+)?
    both of us | forgot to (?:write|note|record|enter|log|put) (?:it|that|this) (?:down|in|up)(?!.)
    """
)
"""Phrases of politeness and of making sure, wherever they stand."""

_UNSURE = one_of(
    rf"""
    not | tomorrow | think | guess | hope | maybe | perhaps | wish | wrong | mistake
    weeks? | weekend | months? | years? | season | tonight | mornings? | nights?
    \w+days? | {WEEKDAY} | tues
    """
)
"""What may be meant of the record: a phrase with one of these is no mere courtesy."""


_LATE = pattern_of(
    r"^(?:i )?forgot to (?:write|note|record|enter|log|mention)(?: (?:down|this|it|in))*\s*[:,-]"
)
"""It was done all the same."""

_PICKER = re.compile(
    rf"(?!(?i:{WAS_GIVEN})\b)((?:[Mm]e and )?{PEOPLE})\s+(?=(?:picked|harvested|gathered|cut"
    r"|took|got|brought|pulled|soaked|turned|watered|checked|put|sold|found|saw)\b)"
)
_HELPERS = re.compile(
    rf"(?:(?:^|[\s,]+)(?:with|pickers?:?|helpers?:?|picked by|,)|,|\s-)\s+({PEOPLE})"
    r"(?:\s+(?:did|picked|helped|picking)(?: it| them| that)?)?"
    r"(?=\s*(?:$|[,;:.])|\s(?:off|from|today|yesterday|this|on)\b)"
)
"""Who did it, at the beginning of a sentence and elsewhere."""

_LEFT_WITH = pattern_of(r"\bleft\b[^,;]*\d[^,;]*$")
"""Before 'with Ann': who has it now, not who picked it."""

_NO_NAMES = frozenset(("and", "me", "i", "my", "our", "the"))


_WEEK_AND_DAY = pattern_of(
    r"\b(?:last|this|past) week(?:end)?,? (?=(?:on )?(?:\w+day,? )?(?:the )?\d{1,2}"
    rf"(?:st|nd|rd|th|(?: of)? {MONTH})\w*\b)"
)
"""'Last week, the 22nd' is that day."""

_DAY_AND_DATE = pattern_of(
    r"\b(?:(?:last|this) )?((?:mon|tues|wednes|thurs|fri|satur|sun)day),? (?:on )?(?:the )?"
    r"(\d{1,2}(?:st|nd|rd|th)\b)"
)
"""'Friday, the 21st' is one day."""


_DAY_AND_NUMBER = pattern_of(rf"\b({WEEKDAY}[a-z]*)\.? (\d{{1,2}})(?=\s*[-:,] )")
"""'Tues 25 - watered C' is of the 25th."""


_NO_MORE_THAN = pattern_of(
    r"\b(?:nowt|nothing) but (?=[\w./]+ ?(?:lbs?|oz|ounces?|pounds?|kg|kilos?|g|grams?)\b)"
)
"""'Nothing but 5 oz' is 5 oz."""

_HOW_OFTEN = pattern_of(r"\b(?:once|twice|three times|both times) this week\b[,:]?")
"""'Sold twice this week, on Tuesday and yesterday' tells the days."""


def with_one_day(text: str) -> str:
    """Return a sentence in which a date stands without the week or the weekday told beside it."""
    text = replaced(rf"\b{WEEKDAY}[a-z]*,? (?=\d{{1,2}}/\d{{1,2}}\b(?![/ ]?\d))", "", text)
    this_part = r"(?=\d{1,2} this (?:morning|afternoon|evening)\b)"
    text = replaced(rf"\b(?:out|out of|from) the tank {this_part}", r"\g<0>at ", text)
    text = replaced(r"(?<=(?:th|nd|rd)) of this month\b", "", text)
    text = _NO_MORE_THAN.sub("", text)
    bare = _HOW_OFTEN.sub("", text)
    text = bare if DAY.search(bare) else text
    text = _DAY_AND_DATE.sub(r"\1 \2", _WEEK_AND_DAY.sub(" ", text))
    return _DAY_AND_NUMBER.sub(r"\1 \2th", text)


_SAME_DAY = pattern_of(
    r"\b(?:on |and )?(?:the |that )?same (?:day|morning|evening|visit)\b"
    r"|\b(?:straight|right|directly|just) after(?:wards)?(?=\s*(?:$|[,;.]))"
    r"|\b(?:while|when) (?:(?:i was|we were|i'm|we're) )?(?:there|at it)\b|\bat the same time\b"
)


def with_same_day(text: str) -> str:
    """Return a sentence in which 'the same day' is the day told before it."""
    same = _SAME_DAY.search(text)
    days = [*DAY.finditer(text, 0, same.start())] if same else []
    return text.replace(same[0], days[-1][0]) if same and days else text


def without_greetings(text: str) -> str:
    """Return a sentence without thanks at its end, courtesies and excuses for being late."""
    text = _COURTESY.sub(lambda found: found[0] if _UNSURE.search(found[0]) else ",", text)
    return _GOODBYE.sub("", _LATE.sub("", re.sub(r"^[\s,;.]+|[\s,;.]+$", "", text)))


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
        and not _LEFT_WITH.search(text[: match.start()])
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
            text = replaced(rf"\bfor {own}", f"for {name}", text)
            text = replaced(rf"\b{own}", rf"{name} on \1{day}", text)
            later = rf"\bfor (?:tomorrow's {re.escape(rest)}|the {re.escape(rest)} tomorrow)\b"
            text = replaced(later, f"for {name}", text)
            if re.search(r"\blast week(?:end)?\b|\bthe weekend\b", text, re.IGNORECASE):
                short = rf"\b(?:{day[:3]}(?:{day[3:]})?(?:'s)? )?mkt\b"
                text = replaced(short, name, text)
            bare = replaced(rf"\b{re.escape(name)}\b", " ", text)
            if bare == text and not re.search(rf"\b{re.escape(rest)}\b", text, re.IGNORECASE):
                continue
            if DAY.search(plainly(bare)):
                continue
            weekend = r"\b(?:last weekend|(?:at|over|on) the weekend)\b"
            text = replaced(weekend, f"last {day}", text)
            text = replaced(r"\blast week\b", f"last week's {day}", text)
    return _with_money(text, outlets)


_PAID = pattern_of(
    r"\b(?:paid|pays?|gave|handed|settled|took|taken?|takings|made|came|cash|in the|left|got"
    r"|charged)\b"
)


_PENCE = pattern_of(
    r"\b(\d+) pounds? (\d\d)(?=\s*(?:$|[,;]|\.(?:\s|$)|(?:in (?:the tin|cash|my)|cash)\b))"
)
"""'42 pounds 50 in the tin' is money."""

_BROUGHT_IN = pattern_of(r"\b(?:brought in|took in|takings? (?:was|were|of)|made)\s*$")


def _with_money(text: str, outlets: Sequence[str]) -> str:
    """Return a sale in which the second of two amounts in pounds is what was paid.

    'Sold 3 lb to the Bull and he gave me 27 pounds' has one weight.
    """
    plain = plainly(text)
    if outlets_in(plain, outlets) and (pence := _PENCE.sub(r"\1.\2 quid", plain)) != plain:
        return pence
    weights = [*WEIGHT.finditer(plain)]
    if len(weights) != 2 or not outlets_in(plain, outlets) or MONEY.search(plain):
        return text
    first, last = (re.fullmatch(r"(\d+(?:\.\d+)?) pounds?", w[1].strip()) for w in weights)
    if first and _BROUGHT_IN.search(plain[: weights[0].start()]):
        return f"{plain[: weights[0].start()]}{first[1]} quid{plain[weights[0].end() :]}"
    beside = plain[weights[0].end() : weights[1].start()] + plain[weights[1].end() :]
    other = not re.search(r"pound", weights[0][1], re.IGNORECASE)
    if not last or not (other or _PAID.search(beside)):
        return text
    before, after = plain[: weights[1].start()], plain[weights[1].end() :]
    if re.search(r"\b(?:at|@)\s*$", before):  # a pound's price, unless it is said to be all
        if not re.match(r"\s*(?:in )?(?:total|all|altogether|the lot)\b", after, re.IGNORECASE):
            return text
        before = re.sub(r"(?:at|@)\s*$", "for ", before)
    return f"{before}{last[1]} quid{after}"
