"""Words beside a record: left out before it is read, left aside of it, or a record after all.

What a sentence doubts or denies of other things is put out of the way: 'hail forecast' plans
nothing, 'drier than I thought' doubts no weight. What is read without such words is always asked
about, with the whole sentence as its note.

What no reading has used may be left aside, if that is asked about, where nothing in it could belong
to a record: no name, number, unit or day, no word of the work, no doubt. Words of the work that a
reading left in a note are asked about too: 'turned G today and noticed pins' makes a turn; that the
pins are words only is not for the program to settle.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from fruitcast.diary.entries.kind import SHEET, THIEVES, THREW
from fruitcast.diary.events import Event
from fruitcast.diary.marks import Parts, any_name, marks_in, stacks_in
from fruitcast.diary.not_done import is_doubted, is_near_doubt
from fruitcast.diary.pattern import pattern_of
from fruitcast.diary.phrases import UNIT_OF_WEIGHT
from fruitcast.diary.pieces import pieces_with_heads
from fruitcast.diary.plain_words import (
    NUMBERS,
    QUANTITY,
    UNKNOWN_NAME,
    VOCABULARY,
    left_words,
    one_of,
    plainly,
    word_set,
)
from fruitcast.diary.slips import SLIPS, is_slip
from fruitcast.diary.spoken_kind import CLOCK, HOUR, masked, speaks_of_deed

_OR = pattern_of(
    r"\b(?:or|if|unless|whether|until|till|last (?:week|weekend|month|year)|instead|same"
    r"|ditto|each|again|rather|twice|back|total"
    r"|jan(?:uary)?|feb(?:ruary)?|mar(?:ch)?|apr(?:il)?|may|june?|july?|aug(?:ust)?|sept?(?:ember)?"
    r"|oct(?:ober)?|nov(?:ember)?|dec(?:ember)?"
    r"|to (?:soak|dunk|pick|harvest|pull|lift|water|turn|weigh|sell|cover|move|put|take|get|have)"
    r"|says?|said|tells?|told|he(?:ar|ard|ars)|dream\w*|imagin\w*|pretend\w*|fanc(?:y|ied)"
    r"|claim\w*|accord\w*|suppos\w*|swears?|swore|rumou?r\w*|bet|jok\w+|story|fix\w*)\b"
)
"""Words that point at what was said before, at another reading, at a plan or at hearsay."""


DEED = pattern_of(
    r"\b(?:soak|dunk|pick|harvest|pull|lift|haul|water|spray|weigh|turn|restack|cover|sold|sell|threw"
    r"|throw|bin|binn|chuck|toss|dump|compost|retir|burn|scrap|took|take|taking|taken|put|cut|ate|eat"
    r"|gave|give|given|suppl|lost|lose|sent|dried|froze|mov|split|merg|join|inoculat|plugg|swap|steal"
    r"|stole|nick|pinch|spill|drop|pin|dead|died|mou?ld|bark|rot(?=s|t?ing)|flush|fruit)"
    r"(?:s|y|ed|t?ing|en)?\b|(?<!drying )\b(?:in|out)\b(?=\s*(?:$|[,;.]))"
)
"""Verbs of the work: what is done with something may be done with what is recorded."""


_SHEETED = pattern_of(rf"\b{SHEET}\b.*\b(?:on|off|over|back)\b")
_NO_MARK = frozenset(("now", "first", "second"))
_LONG = frozenset(
    ["hour", "hours", "minute", "minutes", "days", "week", "weeks", "month", "months", "ago"]
)
_LOOKED = pattern_of(r"\blook(?:s|ed|ing)?\b")


def may_be_left(words: str, parts: Parts) -> bool:
    """Return whether words that no reading has used may be left aside, if that is asked about."""
    plain = _plain(words)
    return not (
        _may_belong(plain, parts)
        or any(is_slip(word, known) for word in left_words(plain) for known in VOCABULARY)
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


_DEEDS = word_set("pins cover turn soak pull water hold retire move inoculate weigh sold pick")
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

_SHEET = pattern_of(rf"\b{SHEET}\b")
_GONE = pattern_of(
    r"\b(?:out|gone|away|taken) for good\b|\b(?:fire ?wood|retired|stove|kindling|bon ?fire)\b"
    r"|\b(?:burn(?:ed|t)|chipped|wrote|written off)\b"
)
EATEN = pattern_of(rf"(?<!no )(?<!not a )(?<!the sun )\b{THIEVES}\b.*\b(?:first|feast|ate)\b")
_OF_NOTHING = pattern_of(r"\b[a-z]+ed nothing(?: else)?\b")
_FOR_TABLE = pattern_of(r"\b(?:supper|dinner|tea|lunch|breakfast)\b")
_AGAIN = pattern_of(r"\b(?:same|as much|half|twice) (?:again|as much|amount)\b")
_REST = pattern_of(r"\bto rest\b|\b(?:its|their|on) rest\b")


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


# What is left out before it is read.

_HOPED = r"(?:thought|think|hoped|expected|wanted|feared|wished)(?: for)?"
_WRITE = r"(?:write|note|record|enter|log|mention|put|say|tell|add|book)"
_GUESS = r"(?:probably|maybe|perhaps|possibly|likely|(?:(?:i|we) )?(?:think|guess|reckon|suppose))"
_BESIDE = one_of(
    rf"""
    (?:than|as)(?: (?:i|we)(?:'d| had)?)? (?:{_HOPED}|would have liked|liked) | not(?= as \w+ as\b)
    (?:because of |with |for |as )?(?:the |a )?forecasts?(?: for tonight)?
    (?:frost|rain|hail|snow|storm|wind|gales?|heat|sun) (?:is |was )?(?:forecast|due|expected
        |on (?:the|its) way|coming)(?: tonight)?
    if (?:i|we|my memory) (?:judged?|read|remember|recall|counted|measured|heard|serves?)
    {_GUESS},?(?= (?:from|because of|due to|owing to|down to|caused by)\b)
    (?:and )?(?:(?:i|we) )?(?:clean |quite )?forgot to {_WRITE}(?: (?:it|this|that|you|down|in|up))*
    (?:i am|i'm|we are|we're) told | i mean(?=\s*(?:$|[,;.]))
    (?:i|we)(?: should| would|'d) say | what an?
    (?:(?:i|we) )?(?:did not|didn'?t|never) (?:time|measure|count|note) (?:it|them|that)
    instead(?: of (?:an?|the|my|our) [a-z]+)? | rather than (?:an?|the|my|our) [a-z]+
    (?:, )?must have been(?= (?:about )?\d)
    (?<=on )(?:maybe|perhaps|probably|possibly)(?= (?:about )?\d+\b)
    (?:not|never)(?: to be)? (?:touched|disturbed) | to be(?= (?:named |called )?\w+/\d)
    came back with(?= (?:(?:about )?\d|[£$€])) | by (?:mistake|accident) | wanted(?= .*[£$€])
    never (?:seen|saw|known|heard)(?= (?:that|this|it|such|one|so)\b)
    (?:he|she|they|it) never lets? (?:me|us) forget(?: it)?
    (?:was |were |is |are )no (?:good|use)(?: any ?more| now)?
    {THIEVES}(?: had)? got (?:in)?to | the next(?= \d+ (?:weeks?|months?)\b)
    did (?:it|that|them)(?= (?:before|after|at|on|this|by|in|with)\b) | i should think
    guess what | (?<=hours )(?:should|ought to) do it
    nothing to (?:fret|worry|shout|write|brag|boast)(?: home)?(?: over| about)?(?: yet)?
    so (?:that )?(?:the|my|our|no) [a-z]+ (?:can|could|will|would|might)(?:n't)?(?:(?! or\b)[^,;.])*
    (?:he|she|they) wants? (?:it|that|this) (?:noted|written(?: down)?|recorded|in the book)
    please don'?t [^,;.]* | don'?t (?:laugh|call|ask|worry|tell|blame|mind|panic|judge)[^,;.]*
    [a-z]+ed nothing(?: else)? | (?:have|has) to(?= say\b) | looks? like(?= (?:trich|mou?ld|rot))
    (?:can|could|would|will) you (?:please )?{_WRITE}(?: (?:me|us|this|that|it|down|in|for|as))*
    (?:must|have to|had to|need to)(?= (?:write off|report|record|note|enter|log|put down)\b)
    (?:as far as|from what) (?:i|we) can (?:tell|see|judge) | (?:sorry|i mean),?(?= \d)
    (?<=hours )(?:is |are )?(?:intended|planned|meant|should see (?:it|them) right)
    (?:it|they|she|he) needs? (?:the|a|its|their|some) rest | needs? (?:it|that)(?=\s*(?:$|[,;.]))
    (?:won't|will not|wouldn't) (?:fruit|bear|flush)(?: (?:again|any ?more))?
    shall (?=(?:remain|stay|be in)\b) | (?:is |are )?to be left (?:in peace|alone),?
    no sense [a-z]+ing [^,;.]*
    """
)
_AHEAD = pattern_of(
    r"^(?:did (?=(?:the|my|our) [^,;]*\b(?:delivery|round|run|drop)\b)"
    r"|(?:(?:i|we) )?(?:did|was)(?:n't| not) (?:expect|hop|think)\w*[^,;.\d]{0,30}?,? but "
    r"|when (?=(?:i|we|the|my|it) (?:[a-z]+ )?(?:[a-z]+ed|took|went|came|got|saw|had)\b))"
)
_OF_A_LOSS = one_of(
    r"""
    (?:customers?|chef|they|he|she|shop) sent (?:it |them |those )?back
    (?:would|could)(?:n'?t| not) (?:serve|sell|eat|give|feed|use|offer)
    """
)
_IS_LOST = pattern_of(
    rf"\b(?:{THREW}|lost|ruin\w*|spoil\w*|wast\w*|slim\w*|mou?ld\w*|compost|hens|pigs?)\b"
)
_THOUSANDS = pattern_of(r"(?<![\d.,])(\d),(\d{3})(?= ?(?:g|gr|grams?)\b)")


def without_beside(text: str) -> str:
    """Return a sentence without words that doubt, deny or wish something of other things."""
    text = _BESIDE.sub(" ", _AHEAD.sub("", text))
    text = _OF_A_LOSS.sub(" ", text) if _IS_LOST.search(text) else text
    return " ".join(text.split())


def with_thousands(text: str) -> str:
    """Return a sentence in which '2,400 g' is 2400 g: nobody weighs two and a half grams."""
    return _THOUSANDS.sub(r"\1\2", text)


def without_staying(text: str, parts: Parts) -> tuple[str, str]:
    """Return a sentence of logs that came out without those that stayed in, and what it said so."""
    names = any_name(parts.stacks)
    some = rf"(?-i:(?:{names})(?:(?:, | and | & )(?:{names}))*)"
    stays = re.compile(
        rf"[\s,;]+(?:(?:and|but|then) )?(?:(?:left|leaving) {some} (?:in\b|where|alone|for)"
        rf"|{some}(?:'s| is| are)? (?:stay(?:s|ing)?|still (?:in|under)|left in|remains?)\b"
        rf"|{some} (?:can|may|could|will|has to) (?:have|wait|bide|stay|stop|sit)\b)[^,;.]*",
        re.IGNORECASE,
    )
    found = stays.search(text) if _CAME_OUT.search(text) else None
    rest = f"{text[: found.start()]}{text[found.end() :]}" if found else text
    return (rest, found[0].strip(" ,;")) if found and stacks_in(rest, parts.stacks) else (text, "")


_CAME_OUT = pattern_of(r"\b(?:out|pulled|lifted|emptied|fished|hauled)\b")
