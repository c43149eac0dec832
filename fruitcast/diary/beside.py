"""Doubts and denials in a record's own sentence that are of other things, put out of the way.

'I could hardly carry the basket, nine pounds off B' doubts nothing of the nine pounds. What is
read without such words is always asked about, with the whole sentence as its note, so they may be
many; still none may hold an amount or a name.
"""

from __future__ import annotations

import re

from fruitcast.diary.entries.kind import THREW
from fruitcast.diary.marks import Parts, marks_in
from fruitcast.diary.phrases import DAY, DEPTH, WEIGHT
from fruitcast.diary.plain_words import one_of

_WORK = (
    "(?:soak|dunk|pick|harvest|pull|lift|water|turn|cover|weigh|sell|sold|move|split|merge|retire|be"
    "|been|come|go|put)"
)
_REST = (
    r"(?:(?!\b(?:not|or|if|unless|whether|maybe|tomorrow)\b)[^,;.:\d])*?"
    r"(?=\s*(?:$|[,;.:]|\b(?:and|but|so) (?:i|we|it|they|the)\b))"
)
_GUESS = (
    "(?:probably|maybe|perhaps|possibly|likely|(?:(?:i|we) )?(?:think|guess|reckon|suppose|expect))"
)
_OF_OTHERS = one_of(
    rf"""
    (?:i|we) (?:could|can) (?:hardly|barely|scarcely) (?!{_WORK})[a-z]+{_REST}
    (?:(?:i|we) )?(?:could ?n[o']?t|can ?n[o']?t|can't|cannot|couldnt|cant) (?:sleep|believe
        |complain|reach|stop|wait|stand|say|help|remember|recall|find){_REST}
    (?:(?:which|that) )?(?:(?:is|was|are|were) )?(?:(?:a (?:bit|lot)|much|far|rather) )?(?:\w+er
        |less|more|worse) than (?:(?:i|we)(?:'d| would| had)? ?)?(?:have )?(?:liked?|thought
        |think|hoped|expected|wanted|feared|wished)(?: for)?
    {_GUESS},? (?:from|because of|due to|owing to|down to|caused by|on account of){_REST}
    (?:because of |with |for |as )?(?:the |a )?(?:\w+ )?forecasts?(?: for (?:tonight|tomorrow))?
    (?:frost|rain|hail|snow|storm|wind|gales?|heat|sun) (?:is |was )?(?:forecast|due
        |on (?:the|its) way|coming|expected)(?: (?:tonight|tomorrow|later))?
    (?:(?:i|we)(?:'ve| have)? )?never (?:seen|saw|known|heard) {_REST} | never mind{_REST}
    (?:he|she|they|it) never lets? (?:me|us){_REST}
    (?:please )?don'?t (?:laugh|call|ask|worry|tell|blame|mind|panic|judge|mention){_REST}
    (?:(?:i|we) )?don'?t (?:know|care|like|mind|remember){_REST}
    (?:(?:i|we) )?(?:nearly|almost) (?:fainted|cried|fell|died|slipped|laughed|fell over){_REST}
    the rain ?(?:butt|barrel|water){_REST}
    (?:(?:i|we) )?(?:would|could|should|might|'d) have (?!{_WORK}){_REST}(?: but{_REST})?
    if (?:i|we|my memory) (?:judged?|read|remember|recall|counted|measured|heard|serves?){_REST}
    if (?:i|we) don'?t (?:fall asleep|forget){_REST}
    (?:i|we) (?:should|would|'d) say | just shy of nothing
    by (?:mistake|accident) | instead(?! of\b) | (?:all )?ready for (?:service|sale|delivery
        |collection|dinner|supper|the (?:kitchen|market|shop|table|pan|customers?|chef))
    (?:(?:and|but|which) )?(?:(?:i|we) )?(?:clean |quite )?forgot to (?:put|write|note|enter|log
        |record|mention){_REST}
    (?:and |so )?(?:i|we) (?:shan't|won'?t|will not|shall not) be (?:using|needing|wanting){_REST}
    (?:you|one) can (?:tell|see|imagine){_REST}
    (?:he|she|they) wants? (?:it|that|this) (?:noted|written(?: down)?|recorded|in the book)
    (?:(?:i|we) )?(?:do )?(?:think|reckon) (?:they|he|she) (?:could|should|ought){_REST}
    (?:my|our|the) (?:first|last|second) time to [a-z]+{_REST}
    (?:you|tha|ye) (?:should|ought to) (?:have )?seen?
    without (?:prejudice|fail|doubt|trouble|incident|help|gloves)
    nothing (?:much )?left (?:in|of|on) (?:it|them|those)
    (?:but |except |though )?(?:there (?:was|is|has been) |with )no (?:real )?rain{_REST}
    (?:and |so )?nobody (?:is|was) to {_REST} | (?:so )?there was no need{_REST}
    (?:was |were |is |are )?no (?:good|use)(?: any ?more| now)?
    (?:because|since|as|cos) [^,;.:]*?\b(?:needs?(?! to\b)|seem(?:s|ed)?|keeping|thought){_REST}
    (?:i|we)(?:'ve| have)? (?:told|let) (?:the )?[a-z]+ know(?: already)?,? but
    """
)
"""What is denied, wished or guessed of something else than the record."""

_OF_A_LOSS = one_of(
    rf"""
    (?:and |so )?(?:(?:i|we) )?(?:would|could)(?:n'?t| not) (?:serve|sell|eat|give|feed|use
        |offer){_REST}
    """
)
_IS_LOST = re.compile(
    rf"\b(?:{THREW}|lost|ruin\w*|spoil\w*|wast\w*|slim\w*|mou?ld\w*|compost|bin)\b", re.I
)
_SAID_OTHERWISE = tuple(
    (re.compile(pattern, re.IGNORECASE), plain)
    for pattern, plain in (
        (
            r"^when (?=(?:i|we|the|my|it) (?:[a-z]+ )?(?:[a-z]+ed|took|went|came|got|saw|had)\b)",
            "",
        ),
        (
            r"^what (?=(?:(?:i|we) )?(?:went|came|got|picked|soaked|pulled|turned|watered)\b)"
            r"(.*?) (?:was|were) ",
            r"\1 ",
        ),
        (r"\b(?:is |are )?to be (?=left (?:alone|idle)|resting)", ""),
        (
            r"\b(?:i |we )?(?:won'?t|will not) (?:soak|force|touch|pick)(?: (?:it|them))?"
            r"(?= (?:un)?till? )",
            "",
        ),
        (r"^did (?=(?:the|my|our) [^,;]*\b(?:delivery|round|run|drop)\b)", ""),
        (r"\blogweight\b", "log weight"),
        (r"\blooks? like (?:a (?:bit|touch) of |some )?(?=trich|mou?ld|rot|slug)", ""),
        (r"\b(?:i|we) (?:reckon|guess|figure)(?= (?:about )?\d)", ""),
        (r"\b(?:i|we) mean\b,?", ""),
        (
            r"\b(?:wanted|asked for|rang (?:\w+day )?for|needed)(?= .*\b(?:paid|handed|gave) )",
            "bought",
        ),
        (r"\bwanted (?:extra|more|some)\b[^,;.\d]*", ""),
    )
)
"""What tells of the record itself in words of a question, a plan or a wish, and what it says."""

_RATHER = re.compile(
    r"[\s,;-]*\b(?:no,? wait|wait,? no|make (?:that|it)|sorry|correction|or rather|i mean),?:? "
    rf"(?={WEIGHT.pattern})",
    re.IGNORECASE,
)


_THOUSANDS = re.compile(r"(?<![\d.,])(\d),(\d{3})(?= ?(?:g|gr|grams?)\b)", re.IGNORECASE)


def with_thousands(text: str) -> str:
    """Return a sentence in which '2,400 g' is 2400 g: nobody weighs two and a half grams."""
    return _THOUSANDS.sub(r"\1\2", text)


def without_beside(text: str, parts: Parts) -> str:
    """Return a sentence without what it doubts, denies or corrects of other things.

    Parameters
    ----------
    text : str
        The sentence, names as they are known, amounts in figures.
    parts : Parts
        Names that it may hold.
    """
    text = _with_last_weight(text)
    for pattern, plain in _SAID_OTHERWISE:
        text = pattern.sub(plain, text)
    harmless = (_OF_OTHERS, _OF_A_LOSS) if _IS_LOST.search(text) else (_OF_OTHERS,)
    for pattern in harmless:
        text = pattern.sub(lambda found: _kept(found, parts), text)
    return re.sub(r"(?:\s*,)+(?=\s*[,;.])|^[\s,;.]+|\s+(?=,)", "", " ".join(text.split()))


def _kept(found: re.Match[str], parts: Parts) -> str:
    """Return what is left of words that doubt: the day in them, or all if a name is in them."""
    labels = {mark.label for mark in marks_in(found[0], parts)}
    if labels - {"day", "number"} or (DEPTH.search(found.string) and "forecast" in found[0]):
        return found[0]
    day = DAY.search(found[0])
    return f" {day[0]}," if day else ","


def _with_last_weight(text: str) -> str:
    """Return a sentence in which a weight that was put right is the one that counts."""
    found = _RATHER.search(text)
    before = [*WEIGHT.finditer(text, 0, found.start())] if found else []
    if not found or len(before) != 1:
        return text
    return (
        f"{text[: before[0].start()]}{text[before[0].end() : found.start()]} {text[found.end() :]}"
    )
