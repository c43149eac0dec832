"""The answers on four yards are the kept ones, to the letter."""

from pathlib import Path

import pytest

from tests.golden.answers import CASES, KEPT, LONG, Case, answers


def compare(case: Case, folder: Path, leave_out: tuple[str, ...] = ()) -> None:
    given = answers(case, folder, leave_out)
    kept = {
        path.name: path.read_bytes().decode("utf-8")
        for path in sorted((KEPT / case.name).iterdir())
        if path.stem not in leave_out
    }
    assert sorted(given) == sorted(kept)
    for name, text in given.items():
        assert text == kept[name], f"{case.name}/{name} differs from the kept answer"


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_the_answers_are_the_kept_ones(case: Case, tmp_path: Path) -> None:
    """Where a change is meant, 'python -m tests.golden --keep' keeps the new answers."""
    compare(case, tmp_path / "yard", LONG)


@pytest.mark.long
def test_programme_and_hindcast_are_the_kept_ones_too(tmp_path: Path) -> None:
    (case,) = [case for case in CASES if set(case.commands) & set(LONG)]
    compare(case, tmp_path / "yard")
