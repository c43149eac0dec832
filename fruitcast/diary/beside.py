"""What a record's own sentence doubts or denies of other things, put out of the way.

'Hail forecast' plans nothing, 'drier than I thought' doubts no weight. What is read without such
words is always asked about, with the whole sentence as its note.
"""

from __future__ import annotations

import re

from fruitcast.diary.entries.kind import THIEVES, THREW
from fruitcast.diary.marks import Parts, stacks_in
from fruitcast.diary.plain_words import one_of

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
_AHEAD = re.compile(
    r"^(?:did (?=(?:the|my|our) [^,;]*\b(?:delivery|round|run|drop)\b)"
    r"|(?:(?:i|we) )?(?:did|was)(?:n't| not) (?:expect|hop|think)\w*[^,;.\d]{0,30}?,? but "
    r"|when (?=(?:i|we|the|my|it) (?:[a-z]+ )?(?:[a-z]+ed|took|went|came|got|saw|had)\b))",
    re.IGNORECASE,
)
_OF_A_LOSS = one_of(
    r"""
    (?:customers?|chef|they|he|she|shop) sent (?:it |them |those )?back
    (?:would|could)(?:n'?t| not) (?:serve|sell|eat|give|feed|use|offer)
    """
)
_IS_LOST = re.compile(
    rf"\b(?:{THREW}|lost|ruin\w*|spoil\w*|wast\w*|slim\w*|mou?ld\w*|compost|hens|pigs?)\b", re.I
)
_THOUSANDS = re.compile(r"(?<![\d.,])(\d),(\d{3})(?= ?(?:g|gr|grams?)\b)", re.IGNORECASE)


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
    names = "|".join(map(re.escape, sorted(parts.stacks, key=len, reverse=True)))
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


_CAME_OUT = re.compile(r"\b(?:out|pulled|lifted|emptied|fished|hauled)\b", re.IGNORECASE)
