"""Doubts and denials in a record's own sentence that are of other things, put out of the way.

'I could hardly carry the basket, nine pounds off B' doubts nothing of the nine pounds. What is
read without such words is always asked about, with the whole sentence as its note, so they may be
many; still none may hold an amount or a name.
"""

from __future__ import annotations

import re

from fruitcast.diary.asides import DEED, TOLD_AS_DONE, is_of_others
from fruitcast.diary.entries.kind import THREW
from fruitcast.diary.marks import Parts, marks_in, stacks_in
from fruitcast.diary.not_done import doubts_in, is_doubted, is_planned
from fruitcast.diary.phrases import DAY, DEPTH, WEIGHT
from fruitcast.diary.plain_words import one_of
from fruitcast.diary.spoken_kind import speaks_of_deed

_WORK = (
    "(?:soak|dunk|pick|harvest|pull|lift|water|turn|cover|weigh|sell|sold|move|split|merge|retire|be"
    "|been|come|go|put)"
)
_REST = (
    r"(?:(?!\b(?:not|or|if|unless|whether|maybe|tomorrow)\b)[^,;.:])*?"
    r"(?=\s*(?:$|[,;.:]|\b(?:and|but|so) (?:i|we|it|they|the)\b))"
)
_GUESS = (
    "(?:probably|maybe|perhaps|possibly|likely|(?:(?:i|we) )?(?:think|guess|reckon|suppose|expect))"
)
_THAN_HOPED = (
    r"(?:than|as)(?: (?:i|we)(?:'d| would| had)?)?(?: have)?"
    r" (?:liked?|thought|think|hoped|expected|wanted|feared|wished)(?: for)?"
)
_OF_OTHERS = one_of(
    rf"""
    (?:\w+er|less|more|worse) {_THAN_HOPED} | (?:not )?(?:quite )?(?:as|so) \w+ {_THAN_HOPED}
    if (?:i|we|my memory) (?:judged?|read|remember|recall|counted|measured|heard|serves?){_REST}
    if (?:i|we) don'?t (?:fall asleep|forget){_REST}
    (?:(?:i|we) )?(?:would|could|should|might|'d) have (?!{_WORK}){_REST}(?: but{_REST})?
    (?:because of |with |for |as )?(?:the |a )?(?:\w+ )?forecasts?(?: for (?:tonight|tomorrow))?
    (?:frost|rain|hail|snow|storm|wind|gales?|heat|sun) (?:is |was )?(?:forecast|due
        |on (?:the|its) way|coming|expected)(?: (?:tonight|tomorrow|later))?
    (?:(?:i|we)(?:'ve| have)? )?never (?:seen|saw|known|heard) {_REST} | never mind{_REST}
    (?:he|she|they|it) never lets? (?:me|us){_REST} | (?:i|we)(?: should| would|'d) say
    (?:(?:i|we) )?(?:could ?n[o']?t|can ?n[o']?t|can't|cannot|couldnt|cant) (?:sleep|believe
        |complain|reach|stop|wait|stand|say|help|remember|recall|find){_REST}
    (?:please )?don'?t (?:laugh|call|ask|worry|tell|blame|mind|panic|judge|mention){_REST}
    {_GUESS},? (?:from|because of|due to|owing to|down to|caused by|on account of){_REST}
    without (?:prejudice|fail|doubt|trouble|incident|help|gloves) | what an? [a-z]+{_REST}
    (?:(?:i|we) )?(?:did not|didn'?t|never) (?:time|measure|count|note) (?:it|them|that)\b{_REST}
    no (?:more |real |great )?(?:use|life|sense|point|heart|strength|worry|matter|bother){_REST}
    nothing to (?:fret|worry|shout|write)\b{_REST}
    [a-z]+ (?:i am|i'm|we are|we're) told
    just shy of nothing | by (?:mistake|accident) | instead(?! of\b) | (?:you|one) can (?:tell|see)
    (?:all )?ready for (?:service|sale|delivery|collection|dinner|supper|the (?!tank\b)\w+)
    (?:(?:and|but|which) )?(?:(?:i|we) )?(?:clean |quite )?forgot to (?:put|write|note|enter|log
        |record|mention){_REST}
    (?:and |so )?(?:i|we) (?:shan't|won'?t|will not|shall not) be (?:using|needing|wanting){_REST}
    (?:he|she|they) wants? (?:it|that|this) (?:noted|written(?: down)?|recorded|in the book)
    (?:(?:i|we) )?(?:do )?(?:think|reckon) (?:they|he|she) (?:could|should|ought){_REST}
    (?:you|tha|ye) (?:should|ought to) (?:have )?seen? | came back(?= with\b)
    (?:was |were |is |are )?no (?:good|use)(?: any ?more| now)? | (?:so )?there was no need{_REST}
    (?:but |except |though )?(?:there (?:was|is|has been) |with )no (?:real )?rain{_REST}
    """
)
"""What is denied, wished or guessed of something else than the record."""

_DOUBTS_ALL = re.compile(
    r"if|unless|whether|or|nor|in case|next.*|later|soon|wish|.*\bdream.*|.*\bpretend.*|.*\bjok.*"
    r"|kidding|imagine|suppose|.*\bbet|.*\btold|yet|cancel.*|refund.*|.*\bback|returned.*|scrap.*"
    r"|scratch.*|correction|mistake.*|typo|too early|tomorrow.*",
    re.IGNORECASE,
)
"""What doubts the whole sentence, whatever stands behind it."""

_END = re.compile(
    r"[,;:!.]|\s-+\s|\b(?:and|but|so|because|cos|since|though|although|while|which|who)\b", re.I
)
_POINTS = re.compile(
    r"\b(?:it|them|that|those|this|these|one|ones|any|some|more|much|lot|rest|all|both|anything"
    r"|everything)\b",
    re.I,
)
"""What a doubt may say of the record itself."""

_SO_THAT = re.compile(
    rf"[,\s]*\bso (?:that )?(?:the|my|our|no) (?:[a-z]+ ){{1,3}}(?:can|could|will|would|might)"
    rf"(?:n'?t| not)?\b(?! {_WORK}\b){_REST}",
    re.IGNORECASE,
)
"""'... so the rain can get at it': what for."""

_ITSELF = re.compile(r"(?:^|.* )(?:it|they|this|these|those|that|them|all|rest)\s*$", re.I)
_IS_IT = re.compile(r"\s*(?:be|have|been)\b", re.IGNORECASE)
_HELPS = re.compile(r"\b(?:do|does|did|was|were|is|are|has|have|had)\s*$", re.IGNORECASE)
_OF_A_NOUN = re.compile(r" (?!of\b|in\b|from\b|off\b)[a-z]{4,}")
_WHO = re.compile(
    r"(?:^|\s)(?:i|we|you|he|she|they|(?:the|my|our|his|her) [a-z]+(?: [a-z]+)?"
    r"|(?-i:[A-Z][a-z]+))\s*$",
    re.IGNORECASE,
)
_SLIGHT = ("hardly", "barely", "scarcely", "no")
_NEXT = re.compile(r"\b(?:tomorrow|tonight|next)\b", re.IGNORECASE)
_OTHER_PERSON = re.compile(r"\s*(?:the|they|he|she|my|our|his|her)\b(?! own)", re.IGNORECASE)
_BUT = re.compile(r"\s*,?\s*\bbut\s", re.IGNORECASE)


_WISHED = re.compile(r"^\s*(?:not|did not|didn't)\b|\b(?:wish|hop|dream|would)", re.IGNORECASE)


def _without_others(text: str, parts: Parts) -> str:
    """Return a sentence without the doubts of which the words behind them tell what they doubt.

    A doubt goes on to the end of its clause: 'I couldn't find the scales, 3 lb off B' doubts no
    pound.
    """
    text = _SO_THAT.sub(lambda found: _kept(found, parts), text)
    for doubt in reversed(doubts_in(text)):
        if doubt.start() >= len(text) or _DOUBTS_ALL.fullmatch(doubt[0].strip()):
            continue
        ends = [0, *(found.end() for found in _END.finditer(text, 0, doubt.start()))]
        stop = _END.search(text, doubt.end())
        start, end = ends[-1], stop.start() if stop else len(text)
        before, scope = text[start : doubt.start()], text[doubt.end() : end]
        if not (
            _is_beside(doubt[0], before, scope, parts)
            or _gives_way(text[start:end], text[end:], parts)
        ):
            continue
        if not (marks_in(before, parts) or speaks_of_deed(before, parts) or doubts_in(before)):
            before = ""
        day = None if is_planned(doubt[0]) else DAY.search(scope)
        text = f"{text[:start]}{before}{f' {day[0]}' if day else ''}, {text[end:]}"
    return text


def _is_beside(doubt: str, before: str, scope: str, parts: Parts) -> bool:
    """Return whether a doubt between words is of something that is told behind it."""
    by_whom = _WHO.search(_HELPS.sub("", before))
    if not (
        by_whom or doubt.lower() in _SLIGHT or doubt.endswith("ing") or doubt.lower() == "sorry"
    ):
        return False  # 'could not get at C': whose doubt it is stands ahead
    named = marks_in(before, parts)
    of_it = _ITSELF.match(before) or (named and not before[named[-1].end :].strip())
    own = DAY.sub(" ", scope)
    if _NEXT.search(scope) and not _OTHER_PERSON.match(before):
        return False
    return not (
        (of_it and not doubt.endswith("ing"))
        or _IS_IT.match(own)
        or (doubt.lower() != "no" and _POINTS.search(own))
    ) and is_of_others(own, parts)


def _gives_way(words: str, rest: str, parts: Parts) -> bool:
    """Return whether doubt of other things stands ahead of a 'but' and what was done."""
    labels = {mark.label for mark in marks_in(rest, parts)}
    return (
        not (marks_in(words, parts) or DEED.search(words) or _WISHED.search(words))
        and _BUT.match(rest) is not None
        and bool(labels & {"stack", "outlet"})
        and TOLD_AS_DONE.search(rest) is not None
        and not is_doubted(rest)
    )


_OF_A_LOSS = one_of(
    rf"""
    (?:and |so )?(?:(?:i|we) )?(?:would|could)(?:n'?t| not) (?:serve|sell|eat|give|feed|use
        |offer)\b{_REST}
    not (?:fit|worth|good|safe)\b{_REST} | unsold
    (?:customers?|chef|they|he|she|shop) sent (?:it |them |those )?back{_REST}
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
        (
            r"(?:(?<=\bon )(?:maybe|perhaps|probably|possibly)|(?<=, )must have been)"
            r"(?= (?:about )?\d+\b(?! ?(?:h|hrs?|hours?|days?)\b))",
            "",
        ),
        (r"\b(?:to be|to become)(?: called| named| known as)? (?=\w+/\d)", ""),
        (r"\b(?:instead of|rather than) (?:an?|the|my|our) [a-z]+\b", ""),
        (r"\b(?:not|never)(?: to be)? (?:touched|disturbed)\b", ""),
        (r"\bstill (?=no|none|nothing)", ""),
        (r"[,;] (?:and )?[a-z]+ed nothing(?: else)?(?=\s*(?:$|[,;.]))", ""),
        (r"\b(?:beside|alongside|with|like|next to|after|before) the others?\b", ""),
        (
            r"^forgot to (?:say|tell|mention|add|write|put|note|log|enter|book)"
            r"(?: you| down| in)?\b[,: ]*",
            "",
        ),
        (r"\b(?:i|we) mean\b,?", ""),
        (
            r"\b(?:wanted|asked for|rang (?:\w+day )?for|needed)"
            r"(?= .*(?:\b(?:paid|handed|gave) |[£$€]))",
            "bought",
        ),
        (r"\bwanted (?:extra|more|some)\b[^,;.\d]*", ""),
    )
)
"""What tells of the record itself in words of a question, a plan or a wish, and what it says."""

_RATHER = re.compile(
    r"[\s,;-]*\b(?:(?:no|wait|er|um|oh),? )*(?:no,? wait|wait,? no|make (?:that|it)|sorry"
    r"|correction|or rather|i mean|scrub that|scratch that),?:? (?:it'?s |it was )?"
    rf"(?={WEIGHT.pattern})",
    re.IGNORECASE,
)


_THOUSANDS = re.compile(r"(?<![\d.,])(\d),(\d{3})(?= ?(?:g|gr|grams?)\b)", re.IGNORECASE)


def with_thousands(text: str) -> str:
    """Return a sentence in which '2,400 g' is 2400 g: nobody weighs two and a half grams."""
    return _THOUSANDS.sub(r"\1\2", text)


def without_staying(text: str, parts: Parts) -> tuple[str, str]:
    """Return a sentence of logs that came out without those that stayed in, and what it said so."""
    names = "|".join(map(re.escape, sorted(parts.stacks, key=len, reverse=True)))
    some = rf"(?-i:(?:{names})(?:(?:, | and | & )(?:{names}))*)"
    stays = re.compile(
        rf"[\s,;]+(?:(?:and|but|then) )?(?:(?:left|leaving) {some} (?:in\b|where|alone|for)"
        rf"|{some}(?:'s| is| are)? (?:stay(?:s|ing)?|still in|left in|remains?)\b"
        rf"|{some} (?:can|may|could|will|has to) (?:have|wait|bide|stay|stop|sit)\b)[^,;.]*",
        re.IGNORECASE,
    )
    found = stays.search(text) if _CAME_OUT.search(text) else None
    rest = f"{text[: found.start()]}{text[found.end() :]}" if found else text
    return (rest, found[0].strip(" ,;")) if found and stacks_in(rest, parts.stacks) else (text, "")


_CAME_OUT = re.compile(r"\b(?:out|pulled|lifted|emptied|fished|hauled)\b", re.IGNORECASE)


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
    text = _without_others(text, parts)
    return re.sub(r"(?:\s*,)+(?=\s*[,;.])|^[\s,;.]+|\s+(?=,)", "", " ".join(text.split()))


def _kept(found: re.Match[str], parts: Parts) -> str:
    """Return what is left of words that doubt: the day in them, or all if a name is in them."""
    labels = {m.label for m in marks_in(found[0], parts) if not _OF_A_NOUN.match(found[0], m.end)}
    if labels - {"day"} or (DEPTH.search(found.string) and "forecast" in found[0]):
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
