"""How the yard's logs bear beside the table, in one sentence."""

from __future__ import annotations

from fruitcast.yard.foretold import LEAST_OUTCOMES

_PARTS = {"a tenth": 1 / 10, "a fifth": 1 / 5, "a quarter": 1 / 4, "a third": 1 / 3, "half": 1 / 2}

_HARDLY = 0.05
"""So near to the table is as the table says."""


def yield_words(factor: float | None, flushes: int) -> str:
    """Return how the yard's logs bear beside the table, in one sentence.

    Parameters
    ----------
    factor : float or None
        What the plan takes them to bear over what the table says; None while no flush is over.
    flushes : int
        Flushes of the diary behind it.
    """
    if factor is None or flushes < LEAST_OUTCOMES:
        seen = {0: "No flush in the diary is", 1: "Only one flush in the diary is"}
        said = seen.get(flushes, f"Only {flushes} flushes in the diary are")
        return f"{said} over: too few to say how your logs bear."
    off = factor - 1.0
    if abs(off) < _HARDLY:
        return "Your logs bear about what the table says."
    way = "more" if off > 0 else "less"
    if off > 0.75:
        said = f"Your logs bear about {factor:.1f} times what the table says"
    else:
        part = min(_PARTS, key=lambda part: abs(_PARTS[part] - abs(off)))
        said = f"Your logs bear about {part} {way} than the table"
    return f"{said}; the plan reckons with it."
