"""Strokes that damage what a browser sends: a line with the path, a line with the type, a body."""

from __future__ import annotations

from collections.abc import Callable
from urllib.parse import quote_plus

FIELDS = (
    *("day", "other_day", "stack", "logs", "hours", "large", "small", "depth", "outlet", "note"),
    *("uuid", "yes", "change", "words", "entry", "next", "check", "written", "token", ""),
)
PATHS = (
    *("POST /record/pick", "POST /record/soak", "POST /record/pull", "POST /record/pins"),
    *("POST /record/water", "POST /record/rain", "POST /record/words", "POST /undo"),
    *("POST /record/none", "POST /signin", "GET /record/pick", "GET /signin", "GET /", "GET /week"),
)
TYPES = (
    "application/x-www-form-urlencoded",
    "application/x-www-form-urlencoded; charset=utf-16",
    "multipart/form-data; boundary=b",
    "multipart/form-data",
    "application/json",
    "",
)


def _in_body(change: Callable[[list[str], int, int, str], None]) -> Callable[..., str]:
    def stroke(text: str, where: int, what: int, word: str) -> str:
        head, mark, body = text.rpartition("\n")
        fields = body.split("&")
        change(fields, where, what, quote_plus(word.encode(errors="replace")))
        return head + mark + "&".join(fields)

    return stroke


def _value(fields: list[str], where: int, what: int, word: str) -> None:
    at = where % len(fields)
    fields[at] = f"{fields[at].partition('=')[0]}={word}"


def _new(fields: list[str], where: int, what: int, word: str) -> None:
    fields.insert(where % len(fields), f"{FIELDS[what % len(FIELDS)]}={word}")


def _lost(fields: list[str], where: int, what: int, word: str) -> None:
    del fields[where % len(fields)]


def _named(fields: list[str], where: int, what: int, word: str) -> None:
    at = where % len(fields)
    fields[at] = f"{FIELDS[what % len(FIELDS)]}={fields[at].partition('=')[2]}"


def _in_head(line: int, choice: tuple[str, ...]) -> Callable[..., str]:
    def stroke(text: str, where: int, what: int, word: str) -> str:
        lines = text.split("\n")
        lines[line % len(lines)] = choice[what % len(choice)]
        return "\n".join(lines)

    return stroke


STROKES: dict[str, Callable[..., str]] = {
    "field value": _in_body(_value),
    "field value again": _in_body(_value),
    "field new": _in_body(_new),
    "field lost": _in_body(_lost),
    "field named": _in_body(_named),
    "path": _in_head(0, PATHS),
    "type": _in_head(1, TYPES),
}
