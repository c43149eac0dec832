"""Pieces of a sentence, each of which may be a record or a part of one, and which go together."""

from __future__ import annotations

import itertools
import re
from collections.abc import Collection, Sequence

from fruitcast.diary.entries.kind import ASIDE, STACK
from fruitcast.diary.marks import Parts, marks_in, stacks_in, without
from fruitcast.diary.pattern import pattern_of
from fruitcast.diary.plain_words import is_empty
from fruitcast.diary.spoken_kind import Head, heads_in
from fruitcast.errors import InputError

SEEN = frozenset(("pins", "fruiting", "nothing", "inspect", "note"))
"""Kinds of which a mere mention beside another record is the grower's remark."""

_PIECE = pattern_of(
    r"\s*;\s*|\s*,(?!\d)\s*|\s+-+\s+|(?:(?<=\w\w)|(?<=\d h))\.\s+(?=[A-Za-z§])|\s*:(?!\d)\s*"
    r"|(?<=\w\w)(?<!lb)(?<!lbs)(?<!oz)(?<!kg)(?<!hrs)(?<!hr)(?<!approx)(?<!no)\.\s+(?=\d)"
    r"|\s+(?=(?:after|when|while) (?:i |we )?pull(?:ing|ed)\b)"
    rf"|(?:(?<={STACK} out)|(?<={STACK} in))\s+(?={STACK})"
    r"|\s+(?:and(?! weighed\b)|then|but|because|so|although|though|while|plus|&|\+)\s+"
)
"""What parts a sentence into pieces, each of which may be a record or a part of one."""

_ONLY_STACKS = pattern_of(rf"(?:^|[;,.]\s+)(?:stack )?{STACK}[ {STACK}]*$")
"""'North: pins' is of one piece."""

_DONE = re.compile(r"[a-z]ed\b")
_DONE_TO = re.compile(rf"{STACK}+ (?:was |were )?[a-z]+ed\b")
"""'Watered N, B picked 1 lb' is of two pieces."""

IN_OR_OUT = pattern_of(
    rf"(?:in|out)(?=\s*$|\s+(?:{ASIDE}|(?:at|by|since|this|last|today|yesterday|for)\b))"
)
"""'G, in at 7' is of one piece."""


def pieces_with_heads(
    text: str, shown: str, parts: Parts
) -> tuple[list[tuple[int, int]], list[list[Head]]]:
    """Return the pieces of a sentence, and the words in each that say a kind; see `heads_in`."""
    pieces = pieces_of(shown)
    heads = heads_in(text, shown, pieces, parts)
    if (cut := _run_on(text, pieces, heads, parts)) != pieces:
        pieces, heads = cut, heads_in(text, shown, cut, parts)
    return pieces, heads


def _run_on(
    text: str, pieces: list[tuple[int, int]], heads: Sequence[Sequence[Head]], parts: Parts
) -> list[tuple[int, int]]:
    """Return pieces parted where one runs on into a deed of another kind: 'B 1 kg picked sold it'.

    Only where either side names what it is about.
    """
    found: list[tuple[int, int]] = []
    for (start, end), own in zip(pieces, heads, strict=True):
        ordered = sorted(own, key=lambda head: head.start)
        turns = [b for a, b in itertools.pairwise(ordered) if a.kind != b.kind and a.end <= b.start]
        if {head.kind for head in own} & _RUNS_ON != {head.kind for head in own} or len(turns) != 1:
            found.append((start, end))
            continue
        place = turns[0].start
        labels = [
            {mark.label for mark in marks_in(text[a:b], parts)} & {"stack", "weight", "outlet"}
            for a, b in ((start, place), (place, end))
        ]
        apart = all(labels) and ("stack" in labels[1] or labels[1] >= {"weight", "outlet"})
        apart = apart and "stack" in labels[0]
        found += [(start, place), (place, end)] if apart else [(start, end)]
    return found


_RUNS_ON = frozenset(
    ("soak", "pull", "pick", "water", "turn", "cover", "uncover", "weigh", "sold", "discard")
)


def runs(kinds: Sequence[str], with_marks: Sequence[bool]) -> list[list[int]]:
    """Return which pieces belong together: another kind begins anew, but for what is remarked."""
    runs: list[list[int]] = [[]]
    now = ""
    for number, (kind, marked) in enumerate(zip(kinds, with_marks, strict=True)):
        of_soak = (now, kind) == ("soak", "nothing")
        if kind and now and kind != now and (marked or of_soak or kind not in SEEN):
            runs.append([])
            now = ""
        now = now or kind
        runs[-1].append(number)
    return runs


def pieces_of(text: str) -> list[tuple[int, int]]:
    """Return where the pieces of a sentence begin and end; two stacks stay together."""
    ends = [
        match.span()
        for match in _PIECE.finditer(text)
        if not (
            text[: match.start()].endswith(STACK)
            and text[match.end() :].startswith(STACK)
            and not (_DONE_TO.match(text, match.end()) and _DONE.search(text[: match.start()]))
        )
        and not (":" in match[0] and _ONLY_STACKS.search(text[: match.start()]))
        and not (_ONLY_STACKS.search(text[: match.start()]) and IN_OR_OUT.match(text, match.end()))
    ]
    starts = [0, *(end for _, end in ends)]
    return list(zip(starts, [*(start for start, _ in ends), len(text)], strict=True))


def each_its_stack(
    found: Sequence[list[int]], kinds: Sequence[str], told: Sequence[str], parts: Parts
) -> list[list[int]]:
    """Return runs parted where something is seen on one stack, and something on another.

    `found` says which pieces belong together, `kinds` the kind that each says, empty where none,
    `told` are the pieces. Raises InputError if a piece names another stack and says of it what is
    not understood.
    """
    named = [stacks_in(piece, parts.stacks) for piece in told]
    plain = [
        bool(own) and not re.search(r"\d", piece) for own, piece in zip(named, told, strict=True)
    ]
    parted: list[list[int]] = []
    for run in found:
        own, inspected = [run[0]], "inspect" in {kinds[number] for number in run}
        for number in run[1:]:
            if inspected and plain[number] and plain[own[0]]:
                if kinds[number] == kinds[own[0]] == "inspect":
                    parted.append(own)
                    own = []
                elif not is_empty(without(told[number], named[number])):
                    raise InputError(
                        f"'{told[number]}': what was seen on which? Write one record for each "
                        "stack, like 'inspect A white ends'."
                    )
            own.append(number)
        parted.append(own)
    return parted


_OF_THOSE = pattern_of(
    r"\b(?:of|from|off|out of) (?:it|there|them|those|these|that)\b"
    r"|\bthere\b|(?<=\w )\bones\b(?! (?:in|from|of|off)\b)"
)
"""What is thrown away of these comes from the stack that was picked before."""


def from_those(words: str, before: Collection[str]) -> str:
    """Return what is thrown away 'of those' as from the stack named before, if it is one."""
    theirs = _OF_THOSE.sub(" ", words)
    return f"{theirs} from {min(before)}" if theirs != words and len(before) == 1 else words
