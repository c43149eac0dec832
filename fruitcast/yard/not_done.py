"""What a sentence says that was not done: a question, a plan, a denial, a correction.

Only what was done or seen is a record. The check comes before any reading, so that 'might soak A'
and 'did not pick A, 2 lb were too few' become no entry whatever else stands in them.
"""

from __future__ import annotations

import re
from collections.abc import Collection

from fruitcast.errors import InputError
from fruitcast.yard.small_words import without_fillers

_NO = r"(?:no|without|zero)\s+(?:(?:any|a|an|the|more|other|real|signs? of|trace of)\s+)*"
_HARMLESS = re.compile(
    r"\bnothing (?:dead|wrong|unusual|to report)\b"
    rf"|\b{_NO}(?:mou?lds?|white ends?|mycelium|(?:loose |peeling )?bark|dead(?: logs?)?|rot"
    r"|spawn[- ]run|slugs?|bugs?|damage|soak(?:ing)?|trichoderma|problems?|"
    r"issues?|changes?|difference)\b"
    r"|(?<!did )(?<!do )(?<!does )\bnot\s+(?:(?:very|too|so|that|"
    r"a)\s+)*(?:healthy|ok|fine|bad|many|much|lot|huge|great|big"
    r"|mou?ldy|good)\b|\bready to pick\b",
    re.IGNORECASE,
)
"""Denials of what is looked for, which say nothing of what was done."""

_NOTHING = re.compile(
    rf"\b{_NO}(?:pins?|pinheads|mushrooms?|shiitakes?|flush|crop|fruit|show|rain|rainfall)\b"
    r"|\bnot\s+(?:one|a(?: single)?)\s+(?:mushroom|shiitake|shroom|cap|thing|pin)"
    r"|\b(?:nada|zilch|nowt|zip|barren)\b"
    r"|\b(?:gave|brought|bore|has|had|did|saw|got)\s+(?:us\s+)?nothing\b"
    r"|\bnothing(?=\s+(?:came|at all|from|on|off|since|again|showing|more)\b)"
    r"|\b(?:did not|didn't|didnt)\s+"
    r"(?:fruit|flush|bear|produce|come|show|do (?:a thing|anything))\b"
    r"|\bfailed(?!\s+to)|^nothing\b|\bnothing$|\bnone\b",
    re.IGNORECASE,
)
"""Denials that are themselves what was seen: nothing came, no rain fell."""

OF_NOTHING = frozenset(("nothing", "inspect", "rain", "note", "stock"))
"""Kinds that may say that there was nothing."""

_CORRECTION = re.compile(
    r"\b(?:scrap|scratch|forget|ignore|delete|undo|cancel|change|correct|"
    r"redo)\s+(?:that|the last|my last|"
    r"the previous|last|what i|yesterday's|it)\b|\bcorrection\b|"
    r"\bi meant?\b|\bmeant\b|\bmake that\b|"
    r"\b(?:my )?mistake\b|\bmistakenly\b|\boops\b|\bsorry\b|\bshould(?: have|'ve|ve| of)? "
    r"(?:been|said|read)\b|\bactually\b|\binstead of\b|\brather than\b|\bnot\s+(?:the\s+)?\d|"
    r"\bnot\s+(?:(?-i:[A-Z])\b|yesterday|today|grams?|pounds?|ounces?|lbs?|"
    r"oz|kg)\b|\bno,|\bno wait\b|\bwait\b|"
    r"(?<!nothing )\bwrong(?:ly)?\b|\btypo\b|\bdouble[- ]counted\b|\btwice by\b|\bentered twice\b",
    re.IGNORECASE,
)
_QUESTION = re.compile(
    r"\?|^(?:(?:so|and|but|ok|well)\s+)?(?:(?:did|do|does|is|are|was|were|am)(?! not\b)|"
    r"(?:can|could|should|shall|would)(?= (?:i|we|you|it|they|he|she|"
    r"someone)\b)|how|what|when|why|who|which|where|whether|have (?:i|we|"
    r"you|they)|has (?:anyone|anybody|it)|"
    r"any idea|anyone|wondering)\b",
    re.IGNORECASE,
)


def _any_of(*wordings: str) -> str:
    return rf"\b(?:{'|'.join(wordings)})\b"


_MAY = (
    r"(?<!\d )(?<!\d)\bmay\b(?=\s+[a-z]{3,})"
    r"(?!\s+(?:this|last|and|from|for|off|was|the|sold|picked|soaked|pulled))"
)
"""'May soak', but not 'on 4 May from A'."""

_INTENT = re.compile(
    "|".join(
        (
            _MAY,
            _any_of("will", "wil", "gonna", "going to", "might", "should", "shall", "would"),
            _any_of(
                "could",
                "can",
                "must",
                "ought",
                r"intend\w*",
                "hop(?:e|ed|ing) to",
                "wish",
            ),
            _any_of(
                "wan(?:t|na|ts|ted)(?: to)?",
                "plan(?:s|ning)?",
                "(?<!hours )(?<!hrs )(?<!h )planned",
                "need(?:s|ed|ing)?",
            ),
            _any_of("(?:have|has|got) to", "gotta", "(?:supposed|meant|about|due) to", "let'?s"),
            _any_of("thinks?", "thinking", "thought", "reckon", "guess(?:ed|ing)?", "seems?"),
            _any_of("estimate[ds]?", "expect(?:ed|ing)?", "suspect", "believe", "supposedly"),
            _any_of("if", "unless", "whether", "in case", "probably", "maybe", "perhaps"),
            r"\bor\b(?! so\b)",
            r"\b(?:nearly|almost)\b(?! (?:\d|all\b|every|half|ripe|full))",
            _any_of(
                "to be",
                "possibly",
                "likely",
                "looks? like",
                "remind",
                "remember to",
                "todo",
                "to do",
            ),
            _any_of(
                "try", "trying", "tried", "time to", "ready (?:for|to)", "(?:almost|nearly) ready"
            ),
            _any_of(
                "next(?! to\\b)",
                "keep(?:ing)?",
                "due (?:a|another|for)",
                "later",
                "soon",
                "forecasts?",
                "scheduled?",
                "booked",
            ),
            r"\b\w+'(?:ll|d)\b",
            r"\b(?:ill|well)\s+(?=(?:soak|pick|pull|water|put|move|weigh|check|sell)\b)",
        )
    ),
    re.IGNORECASE,
)
_DENIAL = re.compile(
    "|".join(
        (
            r"\w+n't\b",
            _any_of("(?:did|does|do|was|were|has|have|had|is|are|could|would|should|wo|ca|ai)nt"),
            _any_of("not", "never", "no", "none", "nothing", "nobody", "nor", "neither", "without"),
            _any_of(
                "hardly", "barely", "unable", "cannot", "skip(?:ped|ping)?", "missed", "forget"
            ),
            _any_of(
                "forgot(?:ten)?",
                "fail(?:ed|s)? to",
                "cancel(?:led|ed)?",
                "called off",
                "(?<!best )(?<!biggest )yet",
            ),
            _any_of(
                "put off", "postponed?", "gave up", "instead", "except", "delayed", "abandoned"
            ),
            _any_of("avoid(?:ed|ing)?", "(?:held|holding|hold) off", "too early", "nowhere near"),
            _any_of("waiting", "still (?:have|has|to)"),
            _any_of(r"(?:all|every\w*|each)\b[^,;]*\b(?:but|bar|save)"),
        )
    ),
    re.IGNORECASE,
)
_STILL_IN = re.compile(
    r"\b(?:still|already)\s+(?:in|soaking|at)\b|\b(?:finished|done|stopped|"
    r"ended|over with)\s+(?:the\s+)?soak(?:ing)?\b"
    r"|\bsoak(?:ing)?\s+(?:\w+\s+)?(?:is\s+)?(?:finished|done|over|ended)\b|\bhalf ?way\b",
    re.IGNORECASE,
)
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
    if found := _INTENT.search(plain):
        raise InputError(
            f"'{found[0].strip()}': that is not done yet, or not sure. Record it when it is, like "
            f"'soak A 24 h'; 'fix A Tue' tells the plan of a soak to come; {_NOTE}."
        )
    if found := _DENIAL.search(plain):
        raise _denied(found[0])
    if found := _STILL_IN.search(plain):
        raise InputError(
            f"'{found[0].strip()}': did the logs go in or come out? Write 'soak A yesterday' or "
            "'pull A'."
        )
