"""Words of the work that a reading left in a note: they may be a record, so they are asked about.

'Turned G today and noticed pins' makes a turn; that the pins are words only is not for the program
to settle.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from fruitcast.diary.entries.kind import SHEET, THIEVES
from fruitcast.diary.events import Event
from fruitcast.diary.marks import Parts
from fruitcast.diary.pieces import pieces_with_heads
from fruitcast.diary.plain_words import plainly
from fruitcast.diary.spoken_kind import masked

_DEEDS = frozenset(
    "pins cover turn soak pull water hold retire move inoculate weigh sold pick".split()  # noqa: SIM905
)
_SAME = {
    "fruiting": {"pins"},
    "nothing": {"soak", "pins"},
    "uncover": {"cover"},
    "discard": {"pick", "retire"},
    "hold": {"soak"},
    "turn": {"move"},
    "pull": {"move", "retire"},
    "water": {"soak"},
    "soak": {"move", "water"},
}
"""What the words of one kind may say that another records."""

_SHEET = re.compile(rf"\b{SHEET}\b", re.IGNORECASE)
_GONE = re.compile(
    r"\b(?:out|gone|away|taken) for good\b|\b(?:fire ?wood|retired|stove|kindling|bon ?fire)\b"
    r"|\b(?:burn(?:ed|t)|chipped|wrote|written off)\b",
    re.IGNORECASE,
)
EATEN = re.compile(rf"(?<!no )(?<!not a )(?<!the sun )\b{THIEVES}\b.*\b(?:first|feast|ate)\b", re.I)
_OF_NOTHING = re.compile(r"\b[a-z]+ed nothing(?: else)?\b", re.IGNORECASE)
_FOR_TABLE = re.compile(r"\b(?:supper|dinner|tea|lunch|breakfast)\b", re.IGNORECASE)
_AGAIN = re.compile(r"\b(?:same|as much|half|twice) (?:again|as much|amount)\b", re.IGNORECASE)
_REST = re.compile(r"\bto rest\b|\b(?:its|their|on) rest\b", re.IGNORECASE)


def left_in_notes(text: str, events: Sequence[Event], parts: Parts) -> str:
    """Return words of a sentence that say a deed of which it made no record; else nothing.

    Parameters
    ----------
    text : str
        The sentence, names as they are known.
    events : sequence of Event
        What was read in it.
    parts : Parts
        Names that it may hold.
    """
    kinds = {event.kind for event in events}
    if "note" in kinds:
        return ""
    known = kinds.union(*(_SAME.get(kind, ()) for kind in kinds))
    plain = _OF_NOTHING.sub("", plainly(text))
    pieces, heads = pieces_with_heads(plain, masked(plain, parts), parts)
    for (start, end), own in zip(pieces, heads, strict=True):
        if any(head.kind in _DEEDS - known for head in own):
            return plain[start:end].strip(" ,;.")
    for event in events:
        for words in event.note.split("; "):
            if (
                (not kinds & {"cover", "uncover"} and _SHEET.search(words))
                or ("hold" not in kinds and _REST.search(words))
                or ("inspect" in kinds and "retire" not in kinds and _GONE.search(words))
                or (kinds == {"discard"} and _FOR_TABLE.search(words))
                or _AGAIN.search(words)
                or (event.kind == "pick" and not event.lost_kg and EATEN.search(words))
            ):
                return words.strip(" ,;.")
    return ""
