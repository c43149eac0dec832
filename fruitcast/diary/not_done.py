"""What a sentence says that was not done: a question, a plan, a denial, a correction.

Only what was done or seen is a record. The check comes before any reading, so that 'might soak A'
and 'did not pick A, 2 lb were too few' become no entry whatever else stands in them.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence

from fruitcast.diary.entries.kind import NOTABLE, STACK, THIEVES
from fruitcast.diary.marks import covered, stacks_in
from fruitcast.diary.pattern import pattern_of
from fruitcast.diary.phrases import DAY
from fruitcast.diary.plain_words import (
    ORDINARY,
    VOCABULARY,
    WEEKDAY,
    one_of,
    without_fillers,
    word_set,
)
from fruitcast.diary.slips import is_slip
from fruitcast.errors import InputError

_NO = r"(?:no|without|zero)\s+(?:(?:any|a|an|the|more|other|real|signs? of|trace of)\s+)*"
_NOT_VERY = r"(?<!did )(?<!do )(?<!does )not\s+(?:(?:very|too|so|that|a)\s+)*"
_HARMLESS = one_of(
    rf"""
    nothing {NOTABLE} | ready to pick
    nothing (?:left|worth|fit)(?: to| for)? (?:pick|keep)(?:ing)?
    (?:so|and|but|basket|crate|box|bucket|tray) not (?:counted|weighed|included)(?=\s*(?:$|[,;.]))
    so not (?:sold|for sale|kept)
    (?:not|no money) (?:yet )?paid(?: yet| for)? | (?:not|no money) yet | yet to pay
    not an? (?:single )?{THIEVES}(?: on (?:it|them|any))? | to be seen | owed? (?:us|me) nothing
    nothing wrong with (?:it|them|the \w+) | (?:it|they) can have the (?:drizzle|rain|wet|sun|air)
    (?:can't|cannot|can not) get rid of the(?= (?:\w+ )*mou?ld\b)
    no difference | cans? of water | ready for (?:the )?(?-i:[A-Z])\w+
    ready (?:to|for) (?:be )?(?:soak\w*|forc\w*|(?:the )?tank) | no longer
    (?:watering|water|few|\d) cans? | no (?:charge|money) | for nothing | free of charge
    (?:without (?:being )?|un|never )(?:forc(?:ed|ing)|soaked(?: it)?) | (?<=for )next \w+day
    {_NO}(?:mou?lds?|white ends?|mycelium|(?:loose |peeling )?bark|dead(?: logs?)?|rot)
    {_NO}(?:spawn[- ]run|slugs?|bugs?|damage|soak(?:ing)?|trichoderma|problems?|issues?|changes?)
    (?:\d+(?:st|nd|rd|th)?|\w+(?:th|first|second|third)) (?:of )?may
    could (?:just |only |even )?(?:count|see|make out|push|poke|smell|hear|feel)
    got (?:in)?to (?:it|them|these|those|some|most)(?! (?:done|picked|in|out|up)\b)
    looks? like (?:(?:the )?(?:first|little|tiny|new|good) )?(?:pins|pinheads|pinning)
    (?:was|were) (?:hoping|expecting) (?:for )?(?:more|better)
    had (?:hoped|expected) (?:for )?more
    no idea (?:how (?:long|much|many)|why|when) | no (?:dunking|soaking|water)(?: for it)?
    {_NO}(?:pests?|diseases?|trouble|losses|weeds?|disturbance)
    {_NOT_VERY}(?:healthy|ok|fine|bad|many|much|lot|huge|great|big|mou?ldy|good)
    """
)
"""Denials of what is looked for, which say nothing of what was done."""

_NOTHING = one_of(
    rf"""
    {_NO}(?:pins?|pinheads|pinning|mushrooms?|shiitakes?|flush|crop|fruit|show|rain
        |rainfall)(?: (?:(?:showing|coming|there|on (?:it|them)) )?(?:just )?yet)?
    none
    not\s+(?:one|a(?: single)?)\s+(?:mushroom|shiitake|shroom|cap|thing|pin|one)s?
    nada | zilch | nowt | zip | barren | (?:gave|brought|bore)\s+(?:us\s+)?nothing
    (?:has|had|did|saw|got)\s+(?:us\s+)?nothing
    nothing(?=\s+(?:came|at all|from|on|off|since|again|showing|more|after|to show)\b|$|,)
    nothing (?:(?:showing|coming|there|doing|happening|on (?:it|them)) )?yet
    (?<!.)nothing
    (?:did not|didn't|didnt)\s+(?:fruit|flush|bear|produce|come|show|do (?:a thing|anything))
    failed(?!\s+to) | failed to (?:flush|fruit|bear|produce|show|give)
    (?:never|has not|hasn't|hasnt|haven't)\s+(?:produced|given|fruited|flushed|yielded|shown)
    """
)
"""Denials that are themselves what was seen: nothing came, no rain fell."""

OF_NOTHING = frozenset(("nothing", "inspect", "rain", "note", "stock"))
"""Kinds that may say that there was nothing."""

_WRITTEN = (
    r"(?:that|it|this"
    r"|what i (?:just |last )?(?:wrote|said|entered|typed|put(?: in| down)?|recorded)"
    r"|(?:(?:that|the|my|this|your) )?(?:very )?(?:(?:last|previous|latest)(?: (?:one|entry|record"
    r"|thing|line|note|bit))?|one|entry|record|thing|line|note|bit))"
    r"(?: (?:i|we) (?:just )?(?:wrote|said|entered|typed|made|put(?: in| down)?|recorded))?"
)
_PARDON = (
    r"(?:(?:please|pls|oops|whoops|sorry|no|wrong(?: (?:stack|day|one|weight|amount))?|mistake"
    r"|(?:(?:the|my) )?last (?:one|entry|record) (?:is |was )?wrong"
    r"|my (?:mistake|fault|error)|an error"
    r"|(?:(?:i|it|that)(?:'s| is| was)?|i) (?:got it |all |just )?(?:(?:a|my) )?(?:wrong|mistake"
    r"|error|typo|not right)(?: (?:stack|day|one|weight))?|i got (?:it|that) wrong)[\s,.!:;-]*)"
)
TAKES_BACK = pattern_of(
    rf"{_PARDON}*(?:can you |could you |let's |now )?(?:"
    r"(?:undo|forget|delete|scratch|scrap|cancel|remove|take back|strike|erase|ignore|wipe)"
    rf"(?: {_WRITTEN})?(?: (?:back|off|out))?|take {_WRITTEN} (?:back|off|out))"
    rf"[\s,.!:;-]*{_PARDON}*"
)
"""What takes back the last entry, and says nothing else."""

_CORRECTION = one_of(
    r"""
    (?:scrap|scratch|forget|ignore|delete|undo|cancel|change|correct|redo) (?:that|the last|my last)
    (?:scrap|scratch|forget|ignore|delete|undo|cancel|change|correct|redo) (?:the previous|last|it)
    (?:scrap|scratch|forget|ignore|delete|undo|cancel|change|correct|redo) (?:what i|yesterday's)
    correction | meant? | make that | mistake | mistakenly | oops | sorry | actually | instead of
    should(?: have|'ve|ve| of)? (?:been|said|read) | rather than | not\s+(?:the\s+)?\d+
    not\s+(?:(?-i:[A-Z])|yesterday|today|grams?|pounds?|ounces?|lbs?|oz|kg)
    no(?=,) | no wait | wait | (?<!nothing )wrong(?:ly)? | typo | double[- ]counted | twice by
    entered twice
    """
)
_ENTRY_WORDS = (
    r"(?:(?:pick(?:ing)?|harvest|soak|pull|rain|weigh(?:ing|t)?|pins|sale|sold|inspect(?:ion)?|note"
    r"|discard|split|merge|retire|entry|record|amount|hours)s?)"
)
_OF_AN_ENTRY = (
    r"(?:(?:the|my|that|this|a|an|last|previous|first|yesterday's|today's) )*"
    rf"(?:{STACK}|{_ENTRY_WORDS}(?!\w))"
)
_AMEND = (
    "(?:correct|amend|edit|revise|adjust|modify|rectify|overwrite|update|replace|rewrite|re-?enter"
    "|redo)"
)
_AN_AMOUNT = r"\d ?(?:kg|g|grams?|kilos?|lbs?|pounds?|oz|ounces?|mm|in|h|hrs?|hours?)\b"
_ENTRY_CHANGED = pattern_of(
    r"(?:^|[,;.:]\s*|\b(?:and|then|please|pls|to)\s+)(?:the )?(?P<said>"
    rf"(?:{_AMEND}|delete|erase|undo|retract|strike(?: out)?|take back) {_OF_AN_ENTRY}"
    rf"|(?:{_AMEND}d|{_AMEND}ed|modified) {_OF_AN_ENTRY}(?!'s)(?=.*{_AN_AMOUNT})"
    r"|(?:remove|scrap|scratch|drop|void|withdraw|reverse|cancel|wipe|ignore|take off) "
    rf"(?:(?:the|my|that|last) )*{_ENTRY_WORDS}(?!\w)"
    rf"|(?:change|alter|reduce)d? {_OF_AN_ENTRY}(?=.*\bto (?:about )?\d)(?!.*\blots?\b)"
    rf"|(?:deduct|subtract)(?:ed)? (?=.*{_AN_AMOUNT}.*{STACK})"
    rf"|(?:set|make) {STACK}+ (?:to )?(?=\d.*{_AN_AMOUNT}|{_AN_AMOUNT}))"
    rf"|^(?P<said2>(?:the )?(?:{_ENTRY_WORDS} (?:of |on |from )?)?{STACK}+ (?:{_ENTRY_WORDS} )?"
    r"(?:was|were|is) (?:really|in fact|in truth|in reality) )(?=(?:about )?\d)"
    rf"|(?:{STACK}|{_ENTRY_WORDS}) (?:was |is |now )?"
    rf"(?P<said3>(?:{_AMEND}(?:e?d)?|changed)(?: to)?) (?={STACK}|\d)"
    rf"|{_AN_AMOUNT}[^()]*?[\s(,;]"
    r"(?P<said4>corrected|amended|revised|correction|overwrite|edit|delete|undo|replaces [^,;]*)"
    r"\)?[\s.!]*$"
)
"""'amend H 1.9 kg', 'delete pick H', 'H was really 1.6 kg': about an entry, not about the logs."""

_SAID = ("said", "said2", "said3", "said4")

_WAS = pattern_of(
    r"[(,;] ?(?P<said>(?:it )?was (?:only |just )?\d+(?:[.,]\d+)?(?: ?(?:kg|g|lbs?|oz))?)"
    r"(?:\)|\.?$)"
)
"""'H 1.75 kg (was 1.2)', where a pick is written down that may have been 1.2."""

_OF_A_LOG = pattern_of(r"\b(?:weigh\w*|sample|logs?)\b")
"""A log weighed was heavier before."""

_NOTED = pattern_of(r"(?<!delete )(?<!undo )(?<!erase )\b(?:note|memo)\b.*$")

_QUESTION = pattern_of(
    r"\?|^(?:please )?(?:tell|show) (?:me|us) (?:when|what|how|which|who|where|why|if|whether)\b"
    r"|^(?:(?:so|and|but|ok|well)\s+)?(?:(?:did(?! \d| an? | \S+ and\b"
    r"| (?:my|our|the) (?:[a-z]+ ){0,2}(?:inoculat|plugg|pick|water|turn|weigh)(?:ing|ion)\b)"
    r"|do|does"
    r"|is|are|was|were|am)(?! not\b)|"
    r"(?:can|could|should|shall|would)(?= (?:i|we|you|it|they|he|she|"
    r"someone)\b)|how|what(?!'?s? (?:is )?(?:left|in|on hand|came|we|i)\b.*\d)|when"
    r"|why|who|which|where|whether|have (?:i|we|"
    r"you|they)|has (?:anyone|anybody|it)|"
    r"any idea|anyone|wondering)\b"
)


_INTENT = one_of(
    rf"""
    by (?:(?:this|next) )?{WEEKDAY}\w* | tomorrow(?:'s)? | hopefully
    (?<!managed )(?<!went )(?<!started )(?<!began )(?<!begun )to (?:pick|harvest|turn|cover)
    (?<!than i )(?<!than we )(?<!than )hope[sd]? | or so (?:i|we|he|she|they|it|my|the)
    with (?:any )?luck
    reckon(?:s|ed|ing) | guess(?:work|es) | jok(?:e|es|ing) | kidding
    in (?:my|his|her|our) dreams? | dream(?:ing|t|ed)
    (?:am|i'm|we're|are|was) told
    (?<!.)(?:just )?(?:suppos(?:e|ing)|imagine|pretend(?:ing)?|say) | (?:i |you )?bet you
    i(?:'d| would)? bet | pretend(?:ed|ing) | (?:as )?a joke | for a joke
    (?:decided|opted) to
    then (?:soak|pick|pull|water|turn|move|sell|weigh|cover)
    (?<!\d )(?<!of )may (?:be|go|do|well)
    fixin(?:g|') to | goals? | targets? | quota | hoping | fingers crossed | aim(?:ing|s)? to
    will | wil | gonna
    going to | might | should | shall | would | could | must | ought
    (?<!the )(?<!a )(?<!watering )(?<!rose )(?<!\d )(?<!by )(?<!w )(?<!with )can
    (?<!\d )(?<!\d)may(?=\s+[a-z]{{3,}})(?!\s+(?:this|last|and|from|for|off|was|the|\w+ed|sold)\b)
    intend\w* | hop(?:e|ed|ing) to | wish | (?<!hours )(?<!hrs )(?<!h )wan(?:t|na|ts|ted)(?: to)?
    plan(?:s|ning)?
    (?<!hours )(?<!hrs )(?<!h )planned | need(?:s|ed|ing)? | (?:have|has|got) to | gotta
    (?:supposed|meant|about|due) to | let'?s | thinks? | thinking | thought | reckon
    guess(?:ed|ing)? | seems? | estimate[ds]? | expect(?:ed|ing)? | suspect | believe | supposedly
    if | unless | whether | in case | probably | maybe | perhaps | possibly | likely | looks? like
    or(?! so\b) | (?:nearly|almost)(?! (?:\d|all\b|every|half|ripe|full)) | to be | remind(?:er|ed)?
    remember to | todo | to do | try | trying | tried | time to | ready (?:for|to)
    next(?! (?:to|door)\b) | to (?:go|come) (?:in|into|out|under) | due (?:in|out) | usually
    keep(?:ing)?(?! (?:\S+ ){{1,3}}(?:out of the (?:tank|water)|for|back|aside)\b)(?! for\b| back\b)
    (?<!.)leave | due (?:a|another|for) | later | soon | forecasts? | scheduled? | booked
    \w+'ll
    \w+'d(?! (?:had|been|gone|done|seen|taken|got(?! to)|(?!need|feed|wished)[a-z]{{2,}}ed)\b)
    (?:ill|well)(?=\s+(?:soak|pick|pull|water|put|move|weigh|check|sell)\b)
    """
)
_DENIAL = one_of(
    r"""
    \w+n't | (?:did|does|do|was|were|has|have|had|is|are|could|would|should|wo|ca|ai)nt
    not | never | no | none | nothing | nobody | nor(?! \d) | neither | without | hardly | barely
    unsold
    unable | cannot | skip(?:ped|ping)? | missed | forget | forgot(?:ten)? | fail(?:ed|s)? to
    (?:sent|brought|gave|handed|took) (?:it|them|those|half|some|the lot) (?:all )?back(?! (?:to
        |up|under|behind|on|in|over))
    (?:sent|brought|handed|came) back(?! (?:to|up|under|behind|on|in|over|out))
    refund\w* | returned (?:it|them) | minus (?:the|a|my) | less (?:the|a|my|one) \w+
    (?:basket|crate|box|tray|bag)s? (?:included|and all)
    including the (?:basket|crate|box|tray|bag)
    (?:like|than|unlike|same as) (?:stack )?(?-i:[A-Z])(?![\w'])
    cancel(?:led|ed)? | called off
    (?<!best )(?<!biggest )(?<!pick )(?<!flush )(?<!crop )yet | put off | postponed? | gave up
    instead | except | delayed | abandoned | avoid(?:ed|ing)? | (?:held|holding|hold) off
    too early | nowhere near | waiting | still (?:have|has|to)
    (?:all|every\w*|each)\b[^,;]*\b(?:but|bar|save) | empty\b[^,;]*\b(?:bar|save|apart)
    """
)
_STILL_IN = pattern_of(
    r"\b(?:still|already)\s+(?:in|soaking|at)\b|\b(?:finished|done|stopped|"
    r"ended|over with)\s+(?:the\s+)?soak(?:ing)?\b"
    r"|\bsoak(?:ing)?\s+(?:\w+\s+)?(?:is\s+)?(?:finished|done|over|ended)\b|\bhalf ?way\b"
)
_WORD_GIVEN = pattern_of(r"\b(?:promised?|my word|fix(?:ed)?|hold|said (?:yes|ok)|told)\b")
_BY_DAY = pattern_of(rf"\b(?:by (?=(?:(?:this|next) )?{WEEKDAY})|tomorrow\b)")
_OUT = pattern_of(r"\b(?:out|pulled|lifted)\b")
_NOTE = "write 'note ...' to keep the words"


# What a sentence says besides, of what is still to come or was not there.

_START = r"(?:[,;]|\.\s|\s-+\s|\s(?=(?:and|but|then)\b))\s*(?:(?:and|but|then|so|which)\s+)*"
_THEM = r"(?:it|them|they|these|those|we|i|that|this|(?:the )?(?:rest|others?|logs))"
_TO_COME = (
    r"(?:(?:'ll|will|shall|should|must|may|might|going to|gonna|have to|has to|need to|needs to"
    r"|plan(?:ned|ning|s)?(?: to)?|want(?:s|ed)?(?: (?:it|them))?(?: to)?|intend(?:ing)? to|hope to"
    r"|hoping to|mean(?:t)? to|(?:is |are )?due(?: to)?|to)\s+)"
)
_BASE = (
    "pick|pull|come|take|lift|get|do|finish|leave|see|check|look|turn|soak|water|weigh|go|bring"
    "|sell|start|move|put|be|pay|settle|stay|remain|follow|stop|wait|out"
)
_LATER = pattern_of(
    rf"{_START}(?P<said>(?:{_THEM}\s*)?{_TO_COME}(?:(?:be|then|just|also|all|have)\s+)*"
    rf"(?:{_BASE})(?:ing)?\b[^,;.]*"
    r"|(?:(?:the )?pull(?:ing)?|(?:tak|lift|gett)ing (?:it|them) out|coming|come|out|due)\b[^,;.]*"
    r"\b(?:tomorrow|tonight|due|later|next \w+day|in the morning)\b[^,;.]*"
    r"|more (?:to come|to follow|tomorrow|later)(?: \w+)?)(?=\s*(?:$|[,;.)]))"
)
"""'... , will pull them tomorrow at 8': what is to come of what was done."""

_GUESSED = pattern_of(
    r"\b(?:must|might|may|should|will|'ll)(?: \w+)? be"
    r"(?! (?:\w+ed|\w+ing|out|in|done|back|more|ready)\b| \w*day| to(?:morrow|night))"
)
"""'..., must be the far crib' is no plan."""

_UNTIL = pattern_of(
    r"\s(?P<said>(?:until|till|til|for pulling)\b[^,;.]*\b(?:tomorrow|tonight)"
    r"(?: (?:at )?(?:noon|midday|morning|evening|night|\d{1,2}(?: ?[ap]m)?))?)(?=\s*(?:$|[,;.)]))"
)

_STAY = pattern_of(
    r"(?:[,;.]\s*|\s)(?:(?:and|but|then|so)\s+)*(?:(?:it|they|i|we|which|that|them)\s*)?"
    r"(?:(?:'ll|will|to|should|must|can|going to|want(?:ed)?(?: (?:it|them))?(?: to)?"
    r"|plan(?:ning|ned)? to|due to|intend to|mean(?:t|ing)? to|is to|are to)"
    r"\s+(?:(?:be|have|get|come|go)\s+)*"
    r"(?:stay|remain|leave|left|sit|keep|soak(?:ed)?|stand|out|pull|lift|in|under|get|have|give"
    r"|(?<=ll )be)"
    r"|(?:meant|planned|due) to be|(?:the )?plan(?:ned)?(?! to\b)(?: (?:is|was|for))?"
    r"|target(?: is)?|aim(?:ing)? for|due(?: out)?"
    r"|want(?:ing)? (?:it|them) (?:out|in))"
    r"(?:\s+(?:it|them|in|out|there|under|the|tank|water|soaking|again))*:?"
    r"(?:\s+(?:for|after|in|at|about|of|a full|another))*\s+"
    r"(?=[\w ½./-]{0,24}?[\d\s½](?:h|hrs?|hours?)\b)"
)
"""'... , will leave it in for 24 h': how long a soak is meant to be is a part of it."""

_SOAKS = pattern_of(r"\b(?:soak\w*|dunk\w*|tank\w*|water|submerged|immersed|steep\w*|bath|in)\b")
_NOT_THERE = pattern_of(
    rf"{_START}(?P<said>(?:there (?:was|were) |with |had )?no(?! (?:idea|clue|way|time|chance|doubt"
    r"|need|luck|wait|sorry|mould|mold|dead|white|bark|pins?|rot|rain|flush|mushrooms?)\b) \w{4,}"
    r"[^,;.\d]*|(?:i |we )?forgot to (?:write|note|record|enter|log|mention|put)\b"
    r"(?: (?:it|that|this|them))?(?: (?:down|in|up))?(?: (?:then|yesterday|at the time))?"
    r"|(?:(?:and|but) )?(?:it|they) (?:hasn't|has not|haven't|have not|wasn't|weren't|was not"
    r"|were not|hadn't|had not) (?:been |was )?(?:soaked|forced)(?: yet| this \w+)?"
    r"|(?:(?:and|but) )?(?:we |i )?(?:did not|didn't|never) (?:soak|force)(?:ed|d)? (?:it|them)"
    r"|(?:they have |they've )?not (?:yet )?paid(?: yet| for)?|unpaid|on (?:account|credit)"
    r"|no money yet|sorry (?:it's|its|that it's|for being) late|late entry)(?=\s*(?:$|[,;.)]))"
)
"""'... , no seconds': what was missing of it."""

_OTHERS = pattern_of(
    rf"{_START}(?P<said>(?:left|leaving) {STACK}+ in(?: the tank)?"
    rf"|(?:but )?{STACK}+(?:(?:,| and| &| is| are| was| were| not)* "
    rf"(?:{STACK}+))*(?: is| are| was| were|'s)? (?:(?:i|we)(?:'ll| will| shall) (?:do|get|see"
    r"(?: to)?|lift|pull)(?: out)? (?:after|later|tonight|tomorrow)|not (?:yet|ready|quite|there)"
    r"|(?:is |are )?still (?:in(?: the (?:tank|water|bath|pond|soak))?|soaking|to (?:come|do))"
    r"|stay(?:s|ed|ing)?(?: in)?|left in"
    r"|(?:can|could|may|must|has to|have to) (?:wait|bide|stay|stop"
    r"|sit|have)(?: in)?(?: (?:for|till|until) (?:a while|supper|dinner|dark)"
    r"| (?:another|one more) (?:night|day))?|not(?: (?:yet|pinning"
    r"|fruiting|ready))+)"
    r"(?: (?:(?:until|till) (?:tomorrow|tonight)|for now|now|yet|today))*)"
    r"(?=\s*(?:$|[,;.)]))"
)
"""'..., K still in': stacks of which nothing was done, beside those of which something was."""


def set_aside(text: str, stacks: Sequence[str]) -> tuple[str, str, str]:
    """Return a sentence without plans and what was not there, the plans, and what was not there.

    Only behind the record, in a part of its own, and only where the part has no amount in it and no
    stack of the record: whatever else is planned or denied refuses the whole sentence.
    """
    if "?" in text:
        return text, "", ""
    if _SOAKS.search(text):
        stay = _STAY.search(text)
        if stay and not stacks_in(stay[0], stacks) and stacks_in(text[: stay.start()], stacks):
            text = f"{text[: stay.start()]} for {text[stay.end() :]}"
    to_come: list[str] = []
    missing: list[str] = []
    for pattern in (_LATER, _UNTIL, _NOT_THERE, _OTHERS):
        for found in reversed([*pattern.finditer(shown := _shown(text, stacks))]):
            said = text[slice(*found.span("said"))]
            plain = _HOURS.sub(" ", shown[slice(*found.span("said"))])
            named = {mark.text for mark in stacks_in(said, stacks)}
            rest = f"{text[: found.start()]} {text[found.end() :]}"
            if not rest.strip() or named & {mark.text for mark in stacks_in(rest, stacks)}:
                continue
            if bool(named) != (pattern is _OTHERS) or re.search(r"\d|\bnot$|day tomorrow", plain):
                continue
            if pattern is _OTHERS and not stacks_in(rest, stacks):  # 'pull all, A stays in'
                continue
            if pattern is _LATER and _GUESSED.search(said):
                continue
            own = re.sub(r"^(?:no|(?:(?:it|they|we|i) )?\S+(?: not)?) ", "", said)
            if pattern is _NOT_THERE and (DAY.search(said) or _doubted(_HARMLESS.sub(" ", own))):
                continue
            (to_come if pattern in (_LATER, _UNTIL) else missing).append(said.strip())
            text = rest
    return " ".join(text.split()), "; ".join(reversed(to_come)), "; ".join(reversed(missing))


_HOURS = pattern_of(
    rf"{DAY.pattern}|\b(?:at|by|around|about) \d{{1,2}}(?:[.:]\d\d)?"
    r"(?!\w| ?(?:lbs?|oz|kg|g|logs?)\b)"
    r"|\b\d{1,2}(?:[.:]\d\d)? ?(?:am|pm|o'clock)\b"
)


_DOUBTS = word_set(
    """
    tomorrow should would could might maybe perhaps probably possibly going planning planned intend
    hoping hopefully forgot didn't didnt couldn't couldnt wouldn't haven't havent hasn't wasn't
    wasnt never nothing nobody cancel cancelled mistake mistaken wrong correction thinking guess
    reckon unless whether without instead except skipped missed actually remind wanted needed expect
    suppose likely almost think thought guess wish needs wants
    """
)
"""Words of doubt that are known misspelt."""


_NO_SLIPS = frozenset(("though", "thinning", "hopping", "planting"))
"""Words near to those, and right as they stand."""


def _doubted(text: str) -> bool:
    return any(p.search(text) for p in (_QUESTION, _CORRECTION, _INTENT, _DENIAL))


def doubts_in(text: str) -> list[re.Match[str]]:
    """Return the words that ask, plan, deny or correct, in their order."""
    shown = _HARMLESS.sub(lambda found: " " * len(found[0]), text)
    found = [
        match
        for pattern in (_QUESTION, _CORRECTION, _INTENT, _DENIAL)
        for match in pattern.finditer(shown)
    ]
    return sorted(found, key=lambda match: match.start())


def is_doubted(text: str) -> bool:
    """Return whether words ask, plan, deny or correct, beyond what is harmless."""
    return _doubted(_HARMLESS.sub(" ", text))


def is_near_doubt(text: str) -> bool:
    """Return whether a word of doubt stands in a text that is misspelt."""
    return _near_doubt(text) is not None


def _near_doubt(text: str) -> str | None:
    words = {word.lower() for word in re.findall(r"[A-Za-z']{5,}", text)} - _DOUBTS - ORDINARY
    words -= _NO_SLIPS
    return next(
        (
            word
            for word in sorted(words - VOCABULARY.keys())
            if any(is_slip(word, doubt) for doubt in _DOUBTS)
        ),
        None,
    )


def _shown(text: str, stacks: Sequence[str]) -> str:
    """Return a text of the same length in which stacks are signs."""
    return covered(text, stacks_in(text, stacks), lambda mark: STACK)


def refuse_nothing_of(kinds: Collection[str], text: str) -> None:
    """Refuse a sentence that says there was nothing, of kinds that can't say so.

    `text` is what was said, without its notes.
    """
    found = _NOTHING.search(_HARMLESS.sub(" ", text))
    if found and re.search(r"\byet$", found[0]) and re.search(r"\b(?:soak|dunk)", text, re.I):
        raise _denied(found[0])  # of a soak it is too early to tell
    if found and "nothing" not in kinds and not OF_NOTHING.issuperset(kinds):
        raise _denied(found[0])


def _denied(words: str) -> InputError:
    return InputError(
        f"'{words.strip()}': what was not done is no record. 'nothing A' says that nothing came on "
        f"A; {_NOTE}."
    )


def _corrects(words: str) -> InputError:
    return InputError(
        f"'{words.strip()}': that corrects an entry. 'fruitcast diary show' lists them, "
        "'fruitcast record undo' and its first letters take one back; then write it anew."
    )


def refuse_change_of_entry(text: str, stacks: Sequence[str], picked: Collection[str]) -> None:
    """Refuse a sentence that would change or take back an entry, which would write a second one.

    `picked` are the stacks of which a pick stands in the diary. Raises InputError with the
    words that say so, and what to do instead.
    """
    text = _NOTED.sub("", text)
    if found := _ENTRY_CHANGED.search(_shown(text, stacks)):
        span = next(found.span(name) for name in _SAID if found[name])
        raise _corrects(text[slice(*span)])
    named = {mark.text for mark in stacks_in(text, stacks)}
    if (was := _WAS.search(text)) and named & {*picked} and not _OF_A_LOG.search(text):
        raise _corrects(was["said"])


def refuse_what_is_not_done(text: str) -> None:
    """Refuse a sentence that asks, plans, denies or corrects; `text` is without its notes.

    Raises InputError with the words that say so, and what to write instead.
    """
    if _QUESTION.search(text):
        raise InputError(
            f"'{text[:80]}' asks, and only what was done or seen is recorded. 'fruitcast plan' and "
            f"'fruitcast diary show' answer; {_NOTE}."
        )
    text = without_fillers(text, ())
    if found := _CORRECTION.search(text):
        raise _corrects(found[0])
    plain = _NOTHING.sub(" ", _HARMLESS.sub(" ", text))
    if _WORD_GIVEN.search(plain):
        plain = _BY_DAY.sub(" ", plain)
    if found := _INTENT.search(plain):
        raise InputError(
            f"'{found[0].strip()}': that is not done yet, or not sure. Record it when it is, like "
            f"'soak A 24 h'; 'fix A Tue' tells the plan of a soak to come; {_NOTE}."
        )
    if found := _DENIAL.search(plain):
        raise _denied(found[0])
    if near := _near_doubt(plain):
        raise InputError(f"'{near}': is that done, or still to come? Write it out; {_NOTE}.")
    if (found := _STILL_IN.search(plain)) and not _OUT.search(plain):
        raise InputError(
            f"'{found[0].strip()}': did the logs go in or come out? Write 'soak A yesterday' or "
            "'pull A'."
        )
