"""A line of a table or of a form put in words: 'stack=N action=water mm=5' is 'water N 5 mm'."""

from __future__ import annotations

import re

_PAIR = re.compile(
    r"(?<!\S)([a-z_]+) ?= ?(?:\"([^\"]*)\"|(.*?))(?=[\s,;|]*(?:$|(?<!\S)[a-z_]+ ?=))", re.I
)
_JOINT = re.compile(r"\s+(?://|\|)\s+|\t+")
_KINDS = {
    "sale": "sold",
    "harvest": "pick",
    "yield": "pick",
    "logweight": "weigh",
    "log_weight": "weigh",
    "sample": "weigh",
    "rest": "hold",
    "loss": "discard",
}
"""Words for a kind that stand in forms, and what is said."""
_NAMES = frozenset(("stack", "lot", "from"))
_DOINGS = frozenset(("action", "kind", "type", "what", "event", "did"))
_WORDS = {
    **dict.fromkeys(
        ("kg", "g", "lb", "oz", "mm", "litres", "hours", "h", "min", "minutes"), "{} {}"
    ),
    **dict.fromkeys(("logs", "dead"), "{} {}"),
    **dict.fromkeys(("weeks", "days", "months"), "for {} {}"),
    **dict.fromkeys(("outlet", "buyer", "customer", "to"), "to {}"),
    **dict.fromkeys(("gbp", "paid", "price", "money"), "for £{}"),
    "eur": "for €{}",
    "usd": "for ${}",
    **dict.fromkeys(("pins", "mould"), "{1} on {0} logs"),
    **dict.fromkeys(("qty", "amount", "weight", "date", "day", "on", "until", "for"), "{}"),
    "time": "at {}",
    "note": "note {}",
}
"""How the value of a field is said, by its name."""


def in_words(text: str) -> str:
    """Return a line of named fields, or of cells, as a sentence; any other line as it is."""
    found = [*_PAIR.finditer(text)]
    fields = {m[1].lower(): (m[2] or m[3] or "").strip(" ,;|") for m in found}
    if len(found) < 2 or text[: found[0].start()].strip() or not _DOINGS & fields.keys():
        return _JOINT.sub(", ", text) if len(_JOINT.findall(text)) > 1 else text
    doing = next(fields.pop(name) for name in (*fields,) if name in _DOINGS)
    stack = next((fields.pop(name) for name in (*fields,) if name in _NAMES), "")
    said = [_said(name, value) for name, value in fields.items() if value]
    return " ".join(filter(None, (_KINDS.get(doing.lower(), doing), stack, *said)))


def _said(name: str, value: str) -> str:
    if value in ("0", "none", "no") and name in ("pins", "mould", "dead"):
        return f"no {name}{' logs' if name == 'dead' else ''},"
    comma = "," if name in ("pins", "mould", "dead") else ""
    return _WORDS.get(name, "({1}: {0})").format(value, name) + comma
