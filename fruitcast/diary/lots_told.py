"""How a stack is parted into lots, or is one again, in whatever words."""

from __future__ import annotations

import re

from fruitcast.diary.clause_marks import all_marks, lots_of_one
from fruitcast.diary.marks import Parts
from fruitcast.diary.not_done import is_doubted

_NO_MORE = re.compile(r"\bno (?:more|longer)\b|\bkeeping\b", re.IGNORECASE)
_INTO = re.compile(
    r"\b(?:split|part(?:ed)?|divid\w+|halv\w+|broke|cut|made|separat\w+)\b[^,;.]* (?:into|in) "
    r"(?:(?P<into>[2-9])(?: (?:lots|parts)\b|(?=\s*(?:$|[,;.])))|halves|half|2\b|two)"
    r"|\b(?:is|run|now) (?:run )?(?:as|in) (?P<run>[2-9]) (?:lots|parts)\b|\bhalved\b"
    r"|\bmade (?P<made>[2-9]) lots of\b",
    re.IGNORECASE,
)
_PARTED = re.compile(
    r"\b(?:split\w*|part(?:ed|ing)?|divid\w+|halv\w+|halves|broke\w*|cut|cleft|in two|into 2"
    r"|(?:two|2) lots|apart|now|separat\w+|lot of (?:its|their) own)\b",
    re.IGNORECASE,
)
_MERGED = re.compile(
    r"\b(?:(?:put|come|brought|all|back|stuck) (?:back )?together|join\w*|merg\w*|reunited"
    r"|combin\w+"
    r"|consolidat\w+|united|(?:one|single|whole) (?:stack|pile|lot|again)|back (?:as|into?)"
    r"|back together)\b",
    re.IGNORECASE,
)


def parted(text: str, parts: Parts) -> str:
    """Return how a stack is parted into lots, or is one again, where a sentence tells but that."""
    marks = all_marks(text, parts)
    days = [mark.text for mark in marks if mark.label == "day" and "2th" not in mark.text]
    days = [day for day in days if day.strip().lower() != "now"]
    lots = lots_of_one(marks)
    merged = _MERGED.search(text)
    if not lots and merged and len({m.text for m in marks if m.label == "stack"}) == 1:
        base = next(m.text for m in marks if m.label == "stack")
        lots = [name for name in parts.stacks if name.startswith(f"{base}/")]
    told = {mark.label for mark in marks} - {"stack", "day", "logs", "number"}
    if not lots and not merged and len(days) < 2 and (into := _INTO.search(text)):
        (*names, _) = (*dict.fromkeys(m.text for m in marks if m.label == "stack"), "")
        if len(names) == 1 and "/" not in names[0] and not (told or is_doubted(text)):
            count = into["into"] or into["run"] or into["made"] or 2
            return f"lots {names[0]} {count} {' '.join(days)}".strip()
    if len(lots) < 2 or told or len(days) > 1 or is_doubted(_NO_MORE.sub(" ", text)):
        return ""
    if not (merged or _PARTED.search(text)):
        return ""
    base = lots[0].rpartition("/")[0]
    if not merged:
        return f"lots {base} {len(lots)} {' '.join(days)}".strip()
    return f"merge {', '.join(lots[:-1])} and {lots[-1]} {' '.join(days)}".strip()
