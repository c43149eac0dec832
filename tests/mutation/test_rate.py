"""The whole run: damages to the model and the scheduler, and how many the tests notice."""

from __future__ import annotations

import subprocess
import sys

import pytest

LOWEST = 0.65
"""Share of any 400 damages that some test must notice: of a seed that no test was written for
70 % were; 85 % are wanted."""


@pytest.mark.long
def test_most_damages_are_noticed():
    run = subprocess.run(
        [sys.executable, "-m", "tests.mutation", "--mutants", "400", "--seed", "1"],
        stdout=subprocess.PIPE,
        text=True,
        check=True,
    )
    print(run.stdout)
    row = next(line for line in run.stdout.splitlines() if line.startswith("all "))
    _, mutants, killed, *_ = row.replace("%", "").split()
    assert int(mutants) == 400
    assert int(killed) >= LOWEST * int(mutants), run.stdout
