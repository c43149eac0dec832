"""What stands beside a record and is none: excuses, the weather, what somebody thinks of it.

'Dear me, the kettle's on, but F gave us 2 lb and he never lets me forget it' is a pick of F with
two asides. A clause is an aside where nothing in it could belong to a record: no name, number, unit
or day, no word of the work, of a part of an amount, of doubt or of another time. One that denies or
wishes must besides say of what, and stand beside something told as done: 'we shan't use them again'
does, 'but we did not' denies the record. The grower's words stay in the note.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable

from fruitcast.diary.entries.kind import STACK, THIEVES
from fruitcast.diary.marks import Parts, marks_in
from fruitcast.diary.not_done import is_corrected, is_doubted
from fruitcast.diary.plain_words import (
    NUMBERS,
    QUANTITY,
    SLIPS,
    UNIT,
    UNKNOWN_NAME,
    VOCABULARY,
    left_words,
    one_of,
    plainly,
)
from fruitcast.diary.spoken_kind import CLOCK, HOUR

_WHO = r"(?:i|we|you|he|she|it|they|there|that|this|these|those|my|our|his|her|its|the|an?|who|no)"
_SUBJECT = rf"(?={_WHO}(?:'\w+)?\b|(?-i:[A-Z])[a-z]{{2,}}\b)"
_CLAUSE = re.compile(
    r"(?:\s*[;,](?!\d)\s*|\s+-+\s+|(?<=\w\w)[.!:]+\s+)(?:(?:and|but|so|then|as|because|though)\s+)?"
    rf"|\s+(?:and|but|so|as(?! an? )|because|since|though|although|while)\s+{_SUBJECT}"
    r"|\s+(?:as|because|since|though|cos)\s+(?=[a-z]+ (?:was|were|is|are|had|has|have)\b)"
    r"|\s+(?:and|but)\s+(?=(?:not an?|no)\b)"
    rf"|\s+(?:which|who)\s+(?=(?!\d)\w)|\s+(?=(?:just )?(?:in order )?to (?:keep|stop|save|protect"
    r"|shelter|help|beat|spare|please|let)\b)",
    re.IGNORECASE,
)
"""Where a clause begins."""

_COURTESY = one_of(
    r"""
    (?:i'm|i am|we're|we are) (?:so |very |quite )?(?:sorry|ashamed|afraid|pleased|proud|happy
        |glad|sad|delighted) to (?:say|report|tell you)(?: that)?
    (?:i'm|i am) afraid | (?:i|we) (?:must|have to|do have to) (?:say|admit|confess)(?: that)?
    would you (?:believe(?: it)?|credit it) | (?:if you can )?believe (?:it or not|me)
    if you please | if i say so myself
    if i may say so | if you must know | if you like | bless (?:him|her|them|us|it)
    thank (?:goodness|heavens|god) | needless to say | to be (?:honest|fair|exact|precise)
    mind you | you know
    you'll (?:be (?:pleased|glad|happy|sorry) to (?:hear|know)(?: that)?|laugh|never guess
        |not believe it)
    (?<!.)(?:oh |ah )?(?:sorry|apologies|forgive me|excuse me|pardon me
        |beg(?:ging)? (?:your )?pardon)(?: (?:to|for|about|that|it's|its|i'm|we're|this is
        |if)\b[^,;:.?]*|,? me again| again)
    (?<=[,;.] )(?:sorry|apologies) (?:to|for|about|it's late|i'm late|that it's late)\b[^,;:.?]*
    (?:i|we) (?:clean |quite |completely )?forgot to (?:write|note|record|enter|log|mention|put
        |say|tell you)(?: (?:it|that|this|them))?(?: (?:down|in|up))?(?: here)?
    (?:so |and )?you (?:may|can) (?:trust|believe) (?:it|me|them|that)
    never mind the (?!\d)[a-z]+ | touch wood
    to the (?:minute|hour|ounce|pound|gram|dot|day|letter) | (?:the )?two of us(?: and a \w+)?
    both of us
    """
)
"""Phrases of politeness and of making sure, wherever they stand."""

_CARE = one_of(
    rf"""
    {UNIT} | {THIEVES} | \d | if | unless | whether | or | either | until | till | when | once
    as soon as | instead
    except | apart | besides | only | same | again | another | each | both | all | none | any
    enough | full
    (?:in|out|up|off)\s+harmless
    (?:in|out) again | and again | back | as if | like before | as usual | as ever | always
    usually | normally | every | ever | used to
    soak\w* | dunk\w* | tank\w* | pick\w* | harvest\w* | gather\w* | cut | pull\w* | water\w*
    weigh\w* | weights?
    count\w* | measur\w* | turn(?:ed|s)? | cover\w* | sold | sell\w* | sales? | buy\w* | bought
    pa(?:y|id|ys|ying)
    stocks? | splits? | merg\w* | mov(?:e|ed|es|ing) | lots | retir\w* | held | hold\w* | fix\w*
    releas\w* | promis\w*
    dead | die[ds]? | rot\w* | mould\w* | mold\w* | bin | binned | compost\w* | thr[eo]w\w*
    chuck\w* | toss\w*
    dump\w* | slung | scrap\w* | burn\w* | bonfire | los[et]\w* | eat\w* | ate | dr(?:y|ied|ying)
    froze\w* | g[ai]v\w*
    to?ok | tak\w+ | put\w* | bring\w* | brought | fetch\w* | left | leav\w* | stay\w* | remain\w*
    kept | spare\w*
    return\w* | refund\w* | swap\w* | mix\w* | send\w* | sent | carr\w+ | plug\w* | inoculat\w*
    spawn\w* | pins? | pinn\w*
    flush\w* | fruit(?:ed|ing|s)? | crop\w* | mushrooms? | shiitakes? | caps? | logs? | stacks?
    piles? | cribs? | rows?
    hens? | chickens | pigs | fridge | cooler | freezer | store | market | gauge | rain\w*
    samples? | scales?
    sure | certain\w* | maybe | perhaps | possibly | probably | th(?:ink|ought|inks|inking)
    guess\w* | reckon\w*
    believ\w* | suppos\w* | suspect\w* | doubt\w* | remember\w* | recall\w* | forg[eo]t\w*
    check\w* | true | truth
    right | wrong\w* | correct\w* | mistake\w* | l(?:ie|ied|ying) | jok\w+ | kidding | pretend\w*
    dream\w* | imagin\w*
    wish\w* | hop(?:e|es|ed|ing) | plan\w* | inten\w+ | mean\w* | exact\w* | accurate\w*
    estimat\w* | roughly | about
    apparently | supposedly | allegedly | seem\w* | look(?:s|ed)? like | rumou?r\w* | practice
    tests? | trial | example
    ignore\w* | undo | delete\w* | erase\w* | cancel\w* | scratch | void | change\w* | edit\w*
    tomorrow | later | soon | next
    last | first | second | years? | months? | weeks? | weekend | spring | summer | autumn
    winter | fall | easter | christmas
    ago | earlier | previous\w* | then | yesterday | today | tonight | before | schedul\w*
    booked | due | ready
    (?:it|them|those|these|some|one|ones) (?:straight |right )?(?:in|out|off|away|down) | yet
    to come | to do | to go
    (?:may|might|could|must|should|would|will|can|ought to)(?: well| not|n't)?(?: have)? be(?:en)?
    """
)
"""What may belong to a record, or turn its meaning: a clause with one of these is no aside."""

_SAFE = one_of(
    rf"""
    (?:not an?|no|without an?) (?:single )?{THIEVES}(?: on (?:it|them|any))? | first thing
    at last | all the same
    (?:less|more|better|fewer|worse|earlier|later) than (?:(?:i|we)(?:'d| had)? )?(?:hoped
        |expected|feared|thought|usual|wanted)
    (?:(?:the|our) )?(?:tank|pump|barrow) (?:wants|needs|could do with) (?:a )?(?:good )?(?:clean
        |scrub|mend|fix|repair|fill)(?:ing)?
    (?:it|they) (?:wants?|needs?|could do with) (?:a|some|another) (?:drink|rest
        |feed)(?: i (?:should )?think)?
    to (?:keep|stop|save|protect|shelter) (?:the )?(?:{THIEVES}|rain|cold|wet|weather
        |worst) (?:off|out|away|from)(?: (?:it|them))?
    (?:it|rain|frosts?|gales?|storms?|snow|hail) (?:is|was|were|are) (?:forecast|expected|due)
    did (?:it|them|this|that) | still counts
    (?:they|it|we) can have the (?:drizzle|rain|wet|sun|air|light)
    to be seen | no spawn
    (?:could|should|ought to) pay (?:us )?(?:more|better)
    (?:owe[sd]?|costs?) (?:us|me|him|her|them) nothing | rain butt | water butt
    lets? (?:me|us|him|her) forget(?: it)?
    (?:was|were|been) (?:hoping|expecting) (?:for )?(?:more|better) | hoped for (?:more|better)
    must (?:be|have been) (?:all )?(?:the|that|this|those) (?:\w+ )?(?:{THIEVES}|rain|cold|wet|damp
        |warmth|warm|weather|humidity|thunder|soak)
    looks? like (?:an? )?(?:good|great|fine|decent|strong|big|bumper) (?:one|year|crop|flush
        |season|start)(?: (?:coming|to come|to me|this year))?
    (?:most|best|least|first) (?:(?:it|they|i|we)(?:'s|'ve| has| have) )?ever (?:given|done|had|made
        |seen)
    moved (?:it|them|that one) (?:well )?(?:away|apart)(?: from the (?:rest|others))?
    after all | of all | all (?:things )?considered | before (?:i|we|he|she|they|the)
    not (?:bad|before time)
    of the (?:year|season) | (?:thing|stuff|matter) (?:like )?that | the look of
    look(?:s|ing|ed)? (?:at )?(?:it|them)
    """
)
"""What looks like one of them and is harmless."""

_UNSURE = one_of("not | tomorrow | think | guess | hope | maybe | perhaps | wish | wrong | mistake")
_PLAIN = frozenset(
    """
    not n't no never nothing nobody none don't didn't doesn't won't wouldn't couldn't
    shan't shouldn't can't cannot isn't aren't wasn't weren't hasn't haven't hadn't ain't
    will would could should shall might may must can want wants wanted
    need needs needed keep keeps keeping going nearly
    almost do did does done doing get gets getting got make makes made try trying tried happen
    happened manage managed bother bothered work works worked start started know knows knew tell
    say says said see go went come came so but and as though anyway though really quite just still
    him us who what why how yes well oh ah good
    """.split()  # noqa: SIM905
)
"""Words that say nothing of what else is denied or wished."""

_NOW = re.compile(r"\bnow\b", re.IGNORECASE)
_TURNS = (
    r"(?:\w+n't|not|never|no|nothing|nobody|will|would|could|should|shall|might|may|must|can|ought"
    r"|wants?|wanted|needs?|needed|keep(?:s|ing)?|nearly|almost|likely|to be|\w+'(?:ll|d))"
)
_TURNED = frozenset(("nearly", "almost"))
_LAST = re.compile(
    rf"(?:\b(?:{_TURNS}|tomorrow|have|had|to|be|been|do|the|an?)|\?)\W*$", re.IGNORECASE
)
_OF_ITS_OWN = re.compile(
    rf"(?:{_WHO}\b(?!'(?:ll|d))[^,;]*?\b{_TURNS}|{_WHO}'(?:ll|d)|no|not an?|to keep)\b"
    r"(?! (?:had|got|was|were|has|did|gone|came|took|gave|saw|found|\w+ed)\b) ?(?P<of>.+)",
    re.IGNORECASE,
)
"""A clause with a subject of its own that denies or wishes: 'he never lets me forget it'."""

_DONE = re.compile(
    r"\b(?:[a-z]{2,}ed|gave|went|took|got|had|came|did|sold|brought|threw|made|was|were|is|are|has"
    rf"|bore|tips|out|yesterday|this morning|last (?:night|evening)|ago|{STACK}'s)\b|'s\b",
    re.IGNORECASE,
)
"""What is told as done: 'put' and 'cut' may be a wish."""


def without_company(text: str, parts: Parts, speaks: Callable[[str], bool]) -> tuple[str, str]:
    """Return a sentence without what is said beside its records, and that.

    Parameters
    ----------
    text : str
        As typed.
    parts : Parts
        Names that it may hold.
    speaks : callable
        Whether words speak of another time or of another kind of record.
    """
    said: list[tuple[int, str]] = []
    for found in [*_COURTESY.finditer(text)]:
        if not _UNSURE.search(found[0]):
            said.append((found.start(), found[0]))
            text = text[: found.start()] + "\u00b6" * len(found[0]) + text[found.end() :]
    starts = [(0, 0), *(found.span() for found in _CLAUSE.finditer(text)), (len(text), len(text))]
    clauses = [(text[a:b], text[b:c], b) for (a, b), (c, _) in itertools.pairwise(starts)]
    bare = [clause.replace("\u00b6", "").strip(" ,;:.!") for _, clause, _ in clauses]
    asides = [not words or _is_aside(words, parts, speaks) for words in bare]
    hedged = [aside and is_doubted(words) for aside, words in zip(asides, bare, strict=True)]
    core = [number for number, aside in enumerate(asides) if not aside]
    told = core[0] if core else len(bare)  # what is wished ahead of all may be the record's own
    asides = [
        aside and not (doubt and number < told)
        for number, (aside, doubt) in enumerate(zip(asides, hedged, strict=True))
    ]
    if any(hedged) and not any(
        _DONE.search(words) for words, aside in zip(bare, asides, strict=True) if not aside
    ):
        asides = [aside and not doubt for aside, doubt in zip(asides, hedged, strict=True)]
    kept: list[str] = []
    for (joint, clause, start), words, aside in zip(clauses, bare, asides, strict=True):
        if aside:
            if words:
                said.append((start, words))
            continue
        kept += [joint, clause] if kept else [clause]
    text = " ".join("".join(kept).replace("\u00b6", " ").split())
    return re.sub(r"\s+([,;.])", r"\1", text).strip(" ,;:"), "; ".join(w for _, w in sorted(said))


def _is_aside(clause: str, parts: Parts, speaks: Callable[[str], bool]) -> bool:
    """Return whether a clause can have no part in a record."""
    plain = HOUR.sub(" harmless ", CLOCK.sub(" harmless ", _NOW.sub(" ", plainly(clause))))
    if marks_in(plain, parts) or UNKNOWN_NAME.search(plain) or re.search(r"[\d?$]", plain):
        return False
    own = _SAFE.sub(" harmless ", plain)
    words = left_words(own)
    if (
        _CARE.search(own)
        or (VOCABULARY.keys() | QUANTITY | SLIPS | NUMBERS - _TURNED) & {*words}
        or speaks(own)
    ):
        return False
    if not is_doubted(own):
        return (len(plain.split()) > 1 or plain.islower()) and not re.match(
            r"(?:not|never)\b(?! an?\b)", own, re.I
        )
    turned = None if _LAST.search(own) else _OF_ITS_OWN.match(own)
    return (
        turned is not None and not is_corrected(own) and bool({*left_words(turned["of"])} - _PLAIN)
    )
