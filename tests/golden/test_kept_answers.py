"""The answers on four yards are the kept ones, to the letter."""

from pathlib import Path

import pytest

from tests.golden.answers import CASES, KEPT, Case, answers


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_the_answers_are_the_kept_ones(case: Case, tmp_path: Path) -> None:
    """Where a change is meant, 'python -m tests.golden --keep' keeps the new answers."""
    given = answers(case, tmp_path / "yard")
    kept = {
        path.name: path.read_bytes().decode("utf-8")
        for path in sorted((KEPT / case.name).iterdir())
    }
    assert sorted(given) == sorted(kept)
    for name, text in given.items():
        assert text == kept[name], f"{case.name}/{name} differs from the kept answer"
