"""What a sentence says that was not done: a question, a plan, a denial, a correction.

Only what was done or seen is a record. The check comes before any reading, so that 'might soak A'
and 'did not pick A, 2 lb were too few' become no entry whatever else stands in them.
"""

from __future__ import annotations

import re
from collections.abc import Collection

from fruitcast.diary.plain_words import one_of, without_fillers
from fruitcast.errors import InputError

_NO = r"(?:no|without|zero)\s+(?:(?:any|a|an|the|more|other|real|signs? of|trace of)\s+)*"
_NOT_VERY = r"(?<!did )(?<!do )(?<!does )not\s+(?:(?:very|too|so|that|a)\s+)*"
_HARMLESS = one_of(
    rf"""
    nothing (?:else|dead|wrong|unusual|to report) | ready to pick | no difference | cans? of water
    ready (?:to|for) (?:be )?(?:soak\w*|forc\w*|(?:the )?tank) | no longer
    (?:watering|water|few|\d) cans? | no (?:charge|money) | for nothing | free of charge
    (?:without (?:being )?|un|never )(?:forc(?:ed|ing)|soaked(?: it)?) | (?<=for )next \w+day
    {_NO}(?:mou?lds?|white ends?|mycelium|(?:loose |peeling )?bark|dead(?: logs?)?|rot)
    {_NO}(?:spawn[- ]run|slugs?|bugs?|damage|soak(?:ing)?|trichoderma|problems?|issues?|changes?)
    {_NO}(?:pests?|diseases?|trouble|losses|weeds?|disturbance)
    {_NOT_VERY}(?:healthy|ok|fine|bad|many|much|lot|huge|great|big|mou?ldy|good)
    """
)
"""Denials of what is looked for, which say nothing of what was done."""

_NOTHING = one_of(
    rf"""
    {_NO}(?:pins?|pinheads|mushrooms?|shiitakes?|flush|crop|fruit|show|rain|rainfall) | none
    not\s+(?:one|a(?: single)?)\s+(?:mushroom|shiitake|shroom|cap|thing|pin)s?
    nada | zilch | nowt | zip | barren | (?:gave|brought|bore)\s+(?:us\s+)?nothing
    (?:has|had|did|saw|got)\s+(?:us\s+)?nothing
    nothing(?=\s+(?:came|at all|from|on|off|since|again|showing|more|after|to show)\b|$|,)
    (?<!.)nothing
    (?:did not|didn't|didnt)\s+(?:fruit|flush|bear|produce|come|show|do (?:a thing|anything))
    failed(?!\s+to)
    (?:never|has not|hasn't|hasnt|haven't)\s+(?:produced|given|fruited|flushed|yielded|shown)
    """
)
"""Denials that are themselves what was seen: nothing came, no rain fell."""

OF_NOTHING = frozenset(("nothing", "inspect", "rain", "note", "stock"))
"""Kinds that may say that there was nothing."""

TAKES_BACK = re.compile(
    r"(?:please |oops,? |sorry,? )*(?:undo|forget|delete|scratch|cancel|remove|take back|strike)"
    r"(?: (?:that|it|(?:that|the|my) last(?: (?:one|entry|record|thing))?)(?: i (?:wrote|said))?)?"
    r"(?:,? (?:please|(?:it|that) was (?:a mistake|wrong)|sorry))*[.!]?",
    re.IGNORECASE,
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
_QUESTION = re.compile(
    r"\?|^(?:(?:so|and|but|ok|well)\s+)?(?:(?:did(?! \d)|do|does|is|are|was|were|am)(?! not\b)|"
    r"(?:can|could|should|shall|would)(?= (?:i|we|you|it|they|he|she|"
    r"someone)\b)|how|what|when|why|who|which|where|whether|have (?:i|we|"
    r"you|they)|has (?:anyone|anybody|it)|"
    r"any idea|anyone|wondering)\b",
    re.IGNORECASE,
)


_INTENT = one_of(
    r"""
    by (?:(?:this|next) )?(?:mon|tues?|wed|thu|fri|sat|sun)\w* | tomorrow(?:'s)? | hopefully
    (?<!managed )(?<!went )(?<!started )(?<!began )(?<!begun )to (?:pick|harvest|turn|cover)
    goals? | targets? | quota | hoping | fingers crossed | aim(?:ing|s)? to | will | wil | gonna
    going to | might | should | shall | would | could | can | must | ought
    (?<!\d )(?<!\d)may(?=\s+[a-z]{3,})(?!\s+(?:this|last|and|from|for|off|was|the|\w+ed|sold)\b)
    intend\w* | hop(?:e|ed|ing) to | wish | wan(?:t|na|ts|ted)(?: to)? | plan(?:s|ning)?
    (?<!hours )(?<!hrs )(?<!h )planned | need(?:s|ed|ing)? | (?:have|has|got) to | gotta
    (?:supposed|meant|about|due) to | let'?s | thinks? | thinking | thought | reckon
    guess(?:ed|ing)? | seems? | estimate[ds]? | expect(?:ed|ing)? | suspect | believe | supposedly
    if | unless | whether | in case | probably | maybe | perhaps | possibly | likely | looks? like
    or(?! so\b) | (?:nearly|almost)(?! (?:\d|all\b|every|half|ripe|full)) | to be | remind
    remember to | todo | to do | try | trying | tried | time to | ready (?:for|to) | next(?! to\b)
    keep(?:ing)? | due (?:a|another|for) | later | soon | forecasts? | scheduled? | booked
    \w+'(?:ll|d) | (?:ill|well)(?=\s+(?:soak|pick|pull|water|put|move|weigh|check|sell)\b)
    """
)
_DENIAL = one_of(
    r"""
    \w+n't | (?:did|does|do|was|were|has|have|had|is|are|could|would|should|wo|ca|ai)nt
    not | never | no | none | nothing | nobody | nor | neither | without | hardly | barely
    unable | cannot | skip(?:ped|ping)? | missed | forget | forgot(?:ten)? | fail(?:ed|s)? to
    cancel(?:led|ed)? | called off
    (?<!best )(?<!biggest )(?<!pick )(?<!flush )(?<!crop )yet | put off | postponed? | gave up
    instead | except | delayed | abandoned | avoid(?:ed|ing)? | (?:held|holding|hold) off
    too early | nowhere near | waiting | still (?:have|has|to)
    (?:all|every\w*|each)\b[^,;]*\b(?:but|bar|save)
    """
)
_STILL_IN = re.compile(
    r"\b(?:still|already)\s+(?:in|soaking|at)\b|\b(?:finished|done|stopped|"
    r"ended|over with)\s+(?:the\s+)?soak(?:ing)?\b"
    r"|\bsoak(?:ing)?\s+(?:\w+\s+)?(?:is\s+)?(?:finished|done|over|ended)\b|\bhalf ?way\b",
    re.IGNORECASE,
)
_WORD_GIVEN = re.compile(
    r"\b(?:promised?|my word|fix(?:ed)?|hold|said (?:yes|ok)|told)\b", re.IGNORECASE
)
_BY_DAY = re.compile(
    r"\b(?:by (?=(?:(?:this|next) )?(?:mon|tue|wed|thu|fri|sat|sun))|tomorrow\b)", re.IGNORECASE
)
_OUT = re.compile(r"\b(?:out|pulled|lifted)\b", re.IGNORECASE)
_NOTE = "write 'note ...' to keep the words"


def refuse_nothing_of(kinds: Collection[str], text: str) -> None:
    """Refuse a sentence that says there was nothing, of kinds that can't say so.

    Parameters
    ----------
    kinds : collection of str
        The kinds of record in it.
    text : str
        What was said, without its notes.
    """
    found = _NOTHING.search(text)
    if "nothing" in kinds:  # 'A nothing, B 2 lb'
        kinds = set(kinds) - {"pick"}
    if found and not OF_NOTHING.issuperset(kinds):
        raise _denied(found[0])


def _denied(words: str) -> InputError:
    return InputError(
        f"'{words.strip()}': what was not done is no record. 'nothing A' says that nothing came on "
        f"A; {_NOTE}."
    )


def refuse_what_is_not_done(text: str) -> None:
    """Refuse a sentence that asks, plans, denies or corrects.

    Parameters
    ----------
    text : str
        What was said, without its notes.

    Raises
    ------
    InputError
        With the words that say so, and what to write instead.
    """
    if _QUESTION.search(text):
        raise InputError(
            f"'{text[:80]}' asks, and only what was done or seen is recorded. 'fruitcast plan' and "
            f"'fruitcast diary show' answer; {_NOTE}."
        )
    text = without_fillers(text, ())
    if found := _CORRECTION.search(text):
        raise InputError(
            f"'{found[0].strip()}': that corrects an entry. 'fruitcast diary show' lists them, "
            "'fruitcast record undo' and its first letters take one back; then write it anew."
        )
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
    if (found := _STILL_IN.search(plain)) and not _OUT.search(plain):
        raise InputError(
            f"'{found[0].strip()}': did the logs go in or come out? Write 'soak A yesterday' or "
            "'pull A'."
        )
