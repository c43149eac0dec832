"""Slips of the pen: 'pikced' is 'picked'."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache

from fruitcast.diary.plain_words import ORDINARY, VOCABULARY, word_set

_REAL_WORDS = word_set("pickled pricked pined flashing tuned housed ponds weighted scraped")
"""Words that are no slip, however near they come to one of ours."""

_SURE = {
    **dict.fromkeys(("wensday", "wendsday", "weds"), "wednesday"),
    "satday": "saturday",
    **dict.fromkeys(("yest", "yester", "yesterd"), "yesterday"),
    "pck": "pick",
    "ounzes": "ounces",
    "sld": "sold",
    "gage": "gauge",
    **dict.fromkeys(("tmr", "tommorow"), "tomorrow"),
    "tonite": "tonight",
}
"""Slips too far from the word for the rule below, and meaning nothing else."""

_APART = VOCABULARY | {
    word: word for word in ("seconds", "firsts", "turned", "restacked", "covered", "uncovered")
}
"""Words that a slip may be one of, and what each of them means."""

SLIPS = frozenset(_SURE)
SHORTEST_SLIP = 5
"""Shorter words are never mended: too many others are near them."""


def mended(text: str, names: Iterable[str]) -> tuple[str, dict[str, str]]:
    """Return words with slips mended, and which word was read as which.

    A word near to two meanings is left as it is; `names` of stacks and outlets are right.
    """
    own = {word for name in names for word in re.findall(r"[a-z]+", name.lower())}
    right, told = ORDINARY | own, {}

    def mend(found: re.Match[str]) -> str:
        word = found[0].lower()
        if word in right or word in _APART or word in _REAL_WORDS:
            return found[0]
        near = _SURE.get(word) or _near(word)
        if near is None:
            return found[0]
        told[found[0]] = near
        return near

    return re.sub(r"(?<![\w/'-])[A-Za-z]{3,}(?![\w/'-])", mend, text), told


@lru_cache(maxsize=4096)
def _near(word: str) -> str | None:
    if len(word) < SHORTEST_SLIP:
        return None
    near = [other for other in _APART if is_slip(word, other)]
    return near[0] if len({_APART[other] for other in near}) == 1 else None


def is_slip(word: str, other: str) -> bool:
    """Return whether a word may be a slip of the pen for another.

    Two letters changed places; in words of six letters one is missing or too many, in words of
    eight one is another. The first letter is right: most words that differ in it are real ones.
    """
    if abs(len(word) - len(other)) > 1 or word == other:
        return False
    if len(word) == len(other):
        unlike = [i for i, (a, b) in enumerate(zip(word, other, strict=True)) if a != b]
        if len(unlike) == 2 and unlike[1] == unlike[0] + 1:
            first, second = unlike
            return word[first] == other[second] and word[second] == other[first]
        return len(unlike) == 1 and unlike[0] > 0 and len(word) >= 8
    short, long = sorted((word, other), key=len)
    if len(long) < 6 or short[0] != long[0]:
        return False
    return any(short == long[:i] + long[i + 1 :] for i in range(1, len(long)))
