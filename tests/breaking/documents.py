"""Strokes that damage a JSON document: values of another kind, lost keys, endless nesting."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from copy import deepcopy
from typing import Any

VALUES: tuple[Any, ...] = (
    *(None, True, False, 0, -1, 1, 1.5, 1e308, 10**30, 10**400, float("nan"), float("inf")),
    *("", "x", "A", "2027-05-03", "2027-13-99", "9999-12-31", "0001-01-01", "nan", "\x1b[31m"),
    *("\u2028", "\ud800", "x" * 3000),
    *([], [[]], {}, {"a": {}}, [None], [1, "a"], {"today": 1}, [10**30], ["2027-05-03"]),
)
"""What may stand anywhere in a document."""

STROKES = ("value", "lose", "deep", "double")


def changed(data: bytes, strokes: Sequence[tuple[str, int, int, str]]) -> bytes:
    """Return a document after some strokes; bytes that are none stay as they are."""
    try:
        document = json.loads(data)
    except (ValueError, RecursionError):
        return data
    nested = 0
    for name, where, what, _ in strokes:
        places = list(_places(document))
        if not places:
            break
        holder, key = places[where % len(places)]
        if name == "value":
            holder[key] = deepcopy(VALUES[what % len(VALUES)])
        elif name == "lose":
            del holder[key]
        elif name == "double" and isinstance(holder, list):
            holder.append(holder[key])
        elif name == "deep":
            holder[key] = [[holder[key]]]
            nested = what % 3 * 1500 if where % 10 == 0 else 0
    return ("[" * nested + json.dumps(document) + "]" * nested).encode()


def _places(document: Any) -> Iterator[tuple[Any, Any]]:
    """Yield every place of a document as its holder and key."""
    todo = [document] if isinstance(document, (dict, list)) else []
    while todo:
        holder = todo.pop()
        keys = list(holder) if isinstance(holder, dict) else range(len(holder))
        for key in keys:
            yield holder, key
            if isinstance(holder[key], (dict, list)):
                todo.append(holder[key])
