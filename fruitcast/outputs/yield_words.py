"""How the yard's logs bear beside the table, in one sentence."""

from __future__ import annotations

from fruitcast.diary.foretold import LEAST_OUTCOMES
from fruitcast.diary.plan import LearnedChange
from fruitcast.words import day_words

_PARTS = {
    "a tenth": 1 / 10,
    "a fifth": 1 / 5,
    "a quarter": 1 / 4,
    "a third": 1 / 3,
    "two fifths": 2 / 5,
    "half": 1 / 2,
    "two thirds": 2 / 3,
}

_TIMES = 1.75
"""From here on more is told in times."""

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
    if abs(factor - 1.0) < _HARDLY:
        return "Your logs bear about what the table says."
    said = "times what the table says" if factor > _TIMES else "than the table"
    return f"Your logs bear about {_part_words(factor)} {said}; the plan reckons with it."


def learned_change_words(change: LearnedChange | None) -> str:
    """Return how much more or less logs are reckoned to bear than before; empty if they aren't."""
    if change is None:
        return ""
    than = "times what they were" if change.factor > _TIMES else "than"
    ended = {0: "", 1: " 1 flush has ended since."}.get(
        change.flushes, f" {change.flushes} flushes have ended since."
    )
    return (
        f"Logs are reckoned to bear about {_part_words(change.factor)} {than} in the plan of "
        f"{day_words(change.since)}.{ended} Look whether all picks are written down."
    )


def _part_words(factor: float) -> str:
    """Return 'a third less', 'a fifth more' or '2.1'."""
    if factor > _TIMES:
        return f"{factor:.1f}"
    part = min(_PARTS, key=lambda part: abs(_PARTS[part] - abs(factor - 1.0)))
    return f"{part} {'more' if factor > 1.0 else 'less'}"
