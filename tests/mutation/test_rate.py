"""The whole run: damages to the model and the scheduler, and how many the tests notice."""

from __future__ import annotations

import subprocess
import sys

import pytest

LOWEST = 0.85
"""Share of the damages that some test must notice."""


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
