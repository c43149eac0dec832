"""Damaged files for each reader: a result or one clear message, and nothing else."""

from __future__ import annotations

import os
import subprocess
import sys
import time

import pytest

from tests.breaking.readers import Reader, readers
from tests.breaking.running import put_before
from tests.breaking.watching import FindingError, outcome
from tests.requires import need

IN_CI, IN_ALL, GUIDED = 100, 100_000, 2_000
"""Inputs for a reader in every run of the tests, in a long one, and guided by coverage."""

READERS = list(readers())


@pytest.mark.parametrize("name", READERS)
def test_the_undamaged_files_are_read(name):
    reader = readers()[name]
    assert [outcome(reader.read, sample) for sample in reader.samples] == ["read"] * len(
        reader.samples
    )


@pytest.mark.parametrize("name", READERS)
def test_hundreds_of_damaged_files(name):
    counts = put_before(readers()[name], IN_CI)
    assert sum(counts.values()) == IN_CI
    # Neither is all damage noticed, nor is everything refused: both ways are walked.
    assert min(counts["read"], counts["refused"]) > 3, counts


@pytest.mark.long
@pytest.mark.parametrize("name", READERS)
def test_a_hundred_thousand_damaged_files(name, capsys):
    began = time.process_time()
    counts = put_before(readers()[name], IN_ALL)
    seconds = time.process_time() - began
    with capsys.disabled():
        print(f"\n{name}: {sum(counts.values())} inputs in {seconds:.0f} s, {dict(counts)}")
    assert sum(counts.values()) == IN_ALL


def test_a_finding_tells_the_least_damage_that_shows_it():
    def read(data: bytes) -> None:
        if b"#REF!" in data:
            raise KeyError("day")

    with pytest.raises(FindingError, match=r"^tried, input \d+: KeyError in read, .*'day'") as told:
        put_before(Reader("tried", read, (b"a,b\n1,2\n",), "table"), 2_000)
    assert "sample 0 after [(" in str(told.value) and str(told.value).count("#REF!") == 1


@pytest.mark.long
@pytest.mark.parametrize("name", READERS)
def test_inputs_guided_by_coverage(name, tmp_path):
    need("atheris")
    run = subprocess.run(
        [sys.executable, "-m", "tests.breaking.fuzz", name, str(GUIDED)],
        capture_output=True,
        text=True,
        env={**os.environ, "TMPDIR": str(tmp_path)},
        check=False,
    )
    assert run.returncode == 0, run.stderr[-3000:]
    assert f"Done {GUIDED} runs" in run.stderr
