"""Many damaged inputs before one reader, and what they found, each by the least that shows it."""

from __future__ import annotations

import sys
import traceback
from collections import Counter

from tests.breaking.drawing import Stroke, drawn, struck
from tests.breaking.readers import Reader
from tests.breaking.watching import FindingError, outcome

MOST_FINDINGS = 20
"""Different findings after which no more inputs are tried."""


def put_before(reader: Reader, number: int) -> Counter[str]:
    """Put the first inputs of a reader before it and return how many it took and refused.

    Raises
    ------
    FindingError
        With every different finding: the input's number, its strokes and where it broke.
    """
    counts: Counter[str] = Counter()
    found: dict[str, str] = {}
    for which in range(number):
        sample, strokes = drawn(reader.name, reader.samples, reader.kind, which)
        place, words = _broken(reader, struck(sample, strokes), counts)
        if place and place not in found:
            least = _least(reader, sample, strokes, place)
            at = reader.samples.index(sample)
            told = f"{reader.name}, input {which}: {place}: {words}"
            found[place] = f"{told}\n  sample {at} after {least}"
            if len(found) >= MOST_FINDINGS:
                break
    if found:
        raise FindingError("\n".join(found.values()))
    return counts


def _broken(reader: Reader, data: bytes, counts: Counter[str] | None = None) -> tuple[str, str]:
    """Return where a reader broke on an input and how, nothing if it did not."""
    try:
        result = outcome(reader.read, data)
    except Exception as error:
        frames = traceback.extract_tb(sys.exc_info()[2])
        ours = [frame for frame in frames if "site-packages" not in frame.filename]
        place = f"{type(error).__name__} in {ours[-1].name}, line {ours[-1].lineno}"
        return place, ascii(str(error)[:300])
    if counts is not None:
        counts[result] += 1
    return "", ""


def _least(reader: Reader, sample: bytes, strokes: list[Stroke], place: str) -> list[Stroke]:
    """Return what remains of some strokes when none can be left out any more."""
    for at in reversed(range(len(strokes))):
        fewer = strokes[:at] + strokes[at + 1 :]
        if fewer and _broken(reader, struck(sample, fewer))[0] == place:
            strokes = fewer
    return strokes
