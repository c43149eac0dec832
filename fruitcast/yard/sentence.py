"""A sentence of a grower taken apart into records: the kind of each, and its words.

'pick A 2 lb' says first what it is. 'yesterday: put A and B in the tank' is two records and says
it last. What can't be told is left to be asked about: no record is made of a guess.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from datetime import date

from fruitcast.errors import InputError
from fruitcast.yard.entries import KINDS, kind_named
from fruitcast.yard.plain_words import plainly
from fruitcast.yard.words import DAY, WEIGHT, Phrase, nearest

OTHER_WORDS = {word: kind for kind in KINDS for word in kind_named(kind).other_words}
"""Other first words for the kinds of record."""

LONGEST_KIND = 40
"""Longest first word that is looked at, and repeated in a message. [characters]"""

MOST_STACKS = 60
"""Stacks named in one sentence at most."""

_SPEAKER = re.compile(
    r"^(?:(?:please|i|we|have|just|also|then|finished|done)\s+)+(?=\w)", re.IGNORECASE
)
_NEGATED = re.compile(r"\b(?:no|not|never|none|without|nothing)\b|n't\b", re.IGNORECASE)
_BEFORE = r"(?:(?:on|of|from|off|in|at)\s+)?(?:the\s+)?(?:logs\s+of\s+)?(?:stacks?\s+)?"
_BETWEEN = re.compile(r"\s*(?:,\s*(?:and\s+)?|&\s*|\+\s*|\band\s+)|\s+", re.IGNORECASE)
_RANGE = re.compile(r"\s*(?:-|\u2013|\bto\b|\bthrough\b)\s*", re.IGNORECASE)
_ARTICLE = re.compile(
    r"^A\s+(?=(?:late|hard|heavy|light|big|bit|few|lot|frost|hail|storm|slug|snail|deer|bird|mouse|"
    r"squirrel|beetle)\b)"
)
"""'A deer' begins with no stack."""

_HINTS = (
    (
        ("inoculate", "inoculated", "plugged", "new"),
        "A new stack is a row of stacks.csv; 'fruitcast inoculation --help' shows the ways.",
    ),
    (
        ("ate", "eaten", "gave", "gift", "gifted", "dried"),
        "What is no longer for sale: write 'discard 500 g (given away)'.",
    ),
    (("lost",), "Write 'inspect A 3 dead' or 'retire A 3 logs'."),
)
"""First words that are no record, and what to write instead."""

_ALL = re.compile(r"^(?:all(?: (?:stacks|logs))?|everything)\b", re.IGNORECASE)


def records_in(
    text: str, stacks: Sequence[str], today: date, in_tank: Sequence[str] = ()
) -> list[tuple[str, str]]:
    """Return kind and words of each record in a sentence, in its order.

    Parameters
    ----------
    text : str
        As typed: 'pick A 2 lb and B 1 lb yesterday', 'pins on G'.
    stacks : sequence of str
        Names of stacks and lots, in the yard's order.
    today : date
        The day.
    in_tank : sequence of str
        Those that 'pull everything' means.

    Raises
    ------
    InputError
        If it does not say what kind of record it is, says it twice, or gives one amount for
        several stacks.
    """
    kind, words = kind_and_words(text)
    if kind == "note" and _known(_first_word(text_of(text))[0]) != "note":
        return [(kind, note) for note in _notes(words, stacks, today)]
    if not kind_named(kind).many and kind != "pick":
        return [(kind, words)]
    if kind == "pull" and (everything := _ALL.match(words)):
        rest = words[everything.end() :]
        return [(kind, f"{name}{rest}") for name in in_tank] or [(kind, words)]
    if kind == "pick" and (each := list(_each_its_weight(words, stacks))):
        return [(kind, record) for record in each]
    named, rest = _named_at_start(words, stacks)
    if len(named) < 2:
        return [(kind, words)]
    if len(named) > MOST_STACKS:
        raise InputError(f"{len(named)} stacks in one record, at most {MOST_STACKS} are read.")
    if kind not in ("note", "pins"):
        _refuse_one_amount(kind, words, rest, named)
    return [(kind, f"{name} {rest}".strip()) for name in named]


def kind_and_words(text: str) -> tuple[str, str]:
    """Return what kind of record a sentence is, and its words without that.

    Raises
    ------
    InputError
        If it does not say, or says two.
    """
    text = text_of(text)
    first, rest = _first_word(text)
    if kind := _known(first):
        return kind, rest
    dated = DAY.match(text)
    if dated and dated[0].strip():
        after = text[dated.end() :].lstrip(" ,:-")
        verb, rest = _first_word(after)
        if kind := _known(verb):
            return kind, f"{rest} {dated[0].strip()}".strip()
        # 'Saturday market 6 kg sold': what looks like a day may be the beginning of a name.
        if not dated["weekday"] or text[dated.end() :].startswith((":", ",")):
            text = f"{after} {dated[0].strip()}"
    said = list(_said_elsewhere(text))
    kinds = list(dict.fromkeys(kind for kind, _ in said))
    if len(kinds) == 1:
        return said[0]
    if kinds:
        raise InputError(
            f"'{text[:200]}': is it {' or '.join(kinds)}? Write one record for each, like "
            f"'{kinds[0]} ...'."
        )
    hinted = any(first.lower() in words for words, _ in _HINTS)
    if WEIGHT.search(text) and not hinted and nearest(first, KINDS, 0.65) is None:
        raise InputError(
            f"'{text[:200]}': what was done with it? Write 'pick ...', 'sold ...' or 'weigh ...'."
        )
    raise InputError(unknown_kind(first))


def text_of(text: str) -> str:
    """Return a sentence without blanks too many and without who speaks."""
    return _SPEAKER.sub("", " ".join(text.split()))


def _notes(text: str, stacks: Sequence[str], today: date) -> Iterator[str]:
    """Yield the notes that a sentence makes which is no other record: one for each stack."""
    phrase = Phrase(text)
    day = phrase.take_day(today)
    dated = f"{day}: " if day else ""
    said = _ARTICLE.sub("", phrase.text)
    named = [
        name
        for name in stacks
        if re.search(rf"(?<![\w/])(?<!\d\s){re.escape(name)}(?![\w/])", said)
    ]
    for name in named or [""]:
        # The name stands in front already where the sentence begins with it.
        alone = rf"^{re.escape(name)}\b[:,]?\s*" if len(named) == 1 else "(?!)"
        own = re.sub(alone, "", phrase.text)
        yield f"{name} {dated}{own}".strip()


def unknown_kind(word: str) -> str:
    """Return what to say of a first word that is no kind of record."""
    if len(word) > LONGEST_KIND:
        return f"'{word[:LONGEST_KIND]}...' is not a kind of record. Known are: {', '.join(KINDS)}."
    near = nearest(word, KINDS, 0.65)
    hint = f"Did you mean '{near}'?" if near else f"Known are: {', '.join(KINDS)}."
    hint = next((other for words, other in _HINTS if word.lower() in words), hint)
    return f"'{word}' is not a kind of record. {hint}"


def _first_word(text: str) -> tuple[str, str]:
    first, _, rest = text.partition(" ")
    return first.rstrip(":,"), rest


def _known(word: str) -> str:
    word = word.lower()
    kind = OTHER_WORDS.get(word, word)
    return kind if kind in KINDS else ""


def _said_elsewhere(text: str) -> Iterator[tuple[str, str]]:
    """Yield each kind whose own words stand somewhere in a sentence, and what is left of it."""
    denied = _NEGATED.search(text) is not None
    for name in KINDS:
        kind = kind_named(name)
        if denied and name not in ("nothing", "inspect"):
            continue
        for pattern in kind.sayings:
            found = re.search(rf"(?<![\w-])(?:{pattern})(?![\w-])", text, re.IGNORECASE)
            if found:
                kept = found.groupdict().get("kept") or ""
                yield (
                    name,
                    " ".join(f"{text[: found.start()]} {kept} {text[found.end() :]}".split()),
                )
                break
        else:
            for pattern in kind.signs:
                if re.search(rf"(?<![\w-])(?:{pattern})(?![\w-])", text, re.IGNORECASE):
                    yield name, text
                    break


def _named_at_start(words: str, stacks: Sequence[str]) -> tuple[list[str], str]:
    """Return the stacks that words begin with, and the words after them."""
    at = re.match(_BEFORE, words, re.IGNORECASE)
    place = at.end() if at else 0
    found = _name_at(words, 0, stacks, exact=False) or _name_at(words, place, stacks, exact=False)
    if found is None:
        return [], words
    named, place = [found[0]], found[1]
    while between := _RANGE.match(words, place) or _BETWEEN.match(words, place):
        is_range = _RANGE.match(words, place) is not None
        # After a mere blank 'a' is more often the article than a stack.
        found = _name_at(words, between.end(), stacks, exact=not between[0].strip())
        if found is None:
            break
        if is_range:
            first, last = stacks.index(named[-1]), stacks.index(found[0])
            if last < first:
                break
            named += stacks[first + 1 : last + 1]
        else:
            named.append(found[0])
        place = found[1]
    return list(dict.fromkeys(named)), words[place:].strip(" ,:")


def _name_at(
    words: str, place: int, stacks: Iterable[str], *, exact: bool
) -> tuple[str, int] | None:
    for name in sorted(stacks, key=len, reverse=True):
        pattern = re.compile(rf"{re.escape(name)}(?![\w/])", 0 if exact else re.IGNORECASE)
        found = pattern.match(words, place)
        if found:
            return name, found.end()
    return None


def _each_its_weight(words: str, stacks: Sequence[str]) -> Iterator[str]:
    """Yield the records of 'A 1.1 kg, B 700 g yesterday', nothing when there is but one."""
    pairs, place = [], 0
    while found := _name_at(words, place, stacks, exact=False):
        weight = re.compile(r"\s*[:,]?\s*").match(words, found[1])
        amount = WEIGHT.match(words, weight.end() if weight else found[1])
        if not amount:
            break
        pairs.append((found[0], amount[0]))
        between = _BETWEEN.match(words, amount.end())
        place = between.end() if between else amount.end()
    rest = words[place:].strip(" ,")
    if len(pairs) > 1:
        for name, amount_words in pairs:
            yield f"{name} {amount_words} {rest}".strip()


def _refuse_one_amount(kind: str, words: str, rest: str, named: Sequence[str]) -> None:
    """Refuse an amount that may be that of all stacks together or of each."""
    left = Phrase(rest)
    left.take(DAY)
    left.take_hours(bare=False)
    if kind == "water":
        left.take_depth()
    if re.search(r"\d", left.text) or kind == "pick":
        crate = f", or of one crate 'pick {', '.join(named)} together ...'"
        raise InputError(
            f"'{kind} {words}': how much of it is of each? Write one record for each stack, like "
            f"'{kind} {named[0]} ...'{crate if kind == 'pick' else ''}."
        )
