"""The answers on four yards are the kept ones, to the letter."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.golden.answers import CASES, KEPT, LONG, Case, answers

NEAR = {"inoculation.json": 1e-5}
"""How near numbers must come where a linear program ends within a tolerance, as a share of each
or to a millionth: an interior point stops at another digit on another processor."""


def leaves(document: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    """Yield each value of a JSON document with its place."""
    if isinstance(document, dict | list):
        named = document.items() if isinstance(document, dict) else enumerate(document)
        for name, value in named:
            yield from leaves(value, f"{path}/{name}")
    else:
        yield path, document


def same(given: str, kept: str, near: float) -> bool:
    """Return whether two documents have the same places, words and, nearly, numbers."""
    ours, theirs = (list(leaves(json.loads(text))) for text in (given, kept))
    if [path for path, _ in ours] != [path for path, _ in theirs]:
        return False
    return all(
        one == pytest.approx(other, rel=near, abs=1e-6)
        if isinstance(other, float)
        else one == other
        for (_, one), (_, other) in zip(ours, theirs, strict=True)
    )


def test_numbers_are_near_or_not() -> None:
    assert same('{"a": [1.000001, "b"]}', '{"a": [1.0, "b"]}', 1e-5)
    for other in (
        '{"a": [1.00003, "b"]}',
        '{"a": [1.0, "c"]}',
        '{"a": [1.0]}',
        '{"b": [1.0, "b"]}',
    ):
        assert not same('{"a": [1.0, "b"]}', other, 1e-5)


def compare(case: Case, folder: Path, leave_out: tuple[str, ...] = ()) -> None:
    given = answers(case, folder, leave_out)
    kept = {
        path.name: path.read_bytes().decode("utf-8")
        for path in sorted((KEPT / case.name).iterdir())
        if path.stem not in leave_out
    }
    assert sorted(given) == sorted(kept)
    for name, text in given.items():
        near = NEAR.get(name)
        right = text == kept[name] if near is None else same(text, kept[name], near)
        assert right, f"{case.name}/{name} differs from the kept answer"


TWO = [case for case in CASES if "report" in case.commands]
"""Both yards and both systems of units; .ci/run looks at the other two as well."""


@pytest.mark.parametrize(
    "case",
    [pytest.param(c, id=c.name, marks=() if c in TWO else pytest.mark.long) for c in CASES],
)
def test_the_answers_are_the_kept_ones(case: Case, tmp_path: Path) -> None:
    """Where a change is meant, 'python -m tests.golden --keep' keeps the new answers."""
    compare(case, tmp_path / "yard", LONG)


@pytest.mark.long
def test_programme_and_hindcast_are_the_kept_ones_too(tmp_path: Path) -> None:
    (case,) = [case for case in CASES if set(case.commands) & set(LONG)]
    compare(case, tmp_path / "yard")
