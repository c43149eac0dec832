"""Inputs drawn by chance: a valid file after some strokes, the same for a reader and a number."""

from __future__ import annotations

import random
from collections.abc import Sequence

from tests.breaking import documents, forms
from tests.breaking.mutations import BYTES, CELLS, TABLE, TEXT, TOML

Stroke = tuple[str, int, int, str]

KINDS: dict[str, tuple[str, ...]] = {
    "table": (*TABLE, *TABLE, *TEXT, *BYTES),
    "toml": (*TOML, *TOML, *TOML, *TEXT, *BYTES),
    "words": (*TEXT, "byte"),
    "bytes": (*BYTES, "inserted", "cut"),
    "form": (*forms.STROKES, *forms.STROKES, *TEXT, "byte", "zero bytes"),
    "json": ("value", *documents.STROKES),
}
"""Strokes by kind of file; those that hurt most often stand more than once."""

MOST = {"table": 4, "toml": 4, "words": 4, "bytes": 2, "form": 3, "json": 3}
"""Strokes at most."""

_TEXT = {**TABLE, **TEXT, **TOML, **forms.STROKES}


def strokes(kind: str, chance: random.Random) -> list[Stroke]:
    """Return one to a few strokes for a kind of file."""
    if kind == "json" and chance.random() < 0.3:
        kind = "bytes"
    names = KINDS[kind]
    return [
        # The head of a file decides most, so it is hit more often than its length would have it.
        (
            chance.choice(names),
            chance.randrange(4 if chance.random() < 0.15 else 10_000),
            chance.randrange(10_000),
            chance.choice(CELLS),
        )
        for _ in range(chance.randint(1, MOST[kind]))
    ]


def struck(data: bytes, wanted: Sequence[Stroke]) -> bytes:
    """Return a file after some strokes."""
    if wanted and wanted[0][0] in documents.STROKES:
        return documents.changed(data, wanted)
    for name, where, what, word in wanted:
        if name in BYTES:
            data = BYTES[name](data, where, what, word)
        else:
            text = data.decode("utf-8", errors="surrogateescape")
            data = _TEXT[name](text, where, what, word).encode("utf-8", errors="surrogateescape")
    return data


def drawn(
    name: str, samples: Sequence[bytes], kind: str, number: int
) -> tuple[bytes, list[Stroke]]:
    """Return the sample and the strokes that make the input of a number for a reader."""
    chance = random.Random(f"{name} {number}")
    return chance.choice(samples), strokes(kind, chance)
