"""Thousands of damaged files for each reader: a result or one clear message, and nothing else."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.breaking.mutations import damaged, damaged_json, many
from tests.breaking.readers import Reader, readers
from tests.breaking.watching import outcome
from tests.requires import need

IN_CI, IN_ALL, A_RUN = 1_000, 100_000, 5_000
"""Inputs for a reader in every run of the tests, in a long one, and in one of its parts."""

READERS = list(readers())


def inputs(reader: Reader) -> st.SearchStrategy[bytes]:
    if reader.kind == "json":
        return damaged_json(reader.samples)
    return damaged(reader.samples, reader.kind)


def run(reader: Reader, number: int, start: int) -> Counter[str]:
    """Put a number of inputs before a reader and return how many it took and refused."""
    counts: Counter[str] = Counter()

    @many(number, start)
    @given(inputs(reader))
    def read(data: bytes) -> None:
        counts[outcome(reader.read, data)] += 1

    read()
    return counts


@pytest.mark.parametrize("name", READERS)
def test_the_undamaged_files_are_read(name):
    reader = readers()[name]
    assert [outcome(reader.read, sample) for sample in reader.samples] == ["read"] * len(
        reader.samples
    )


@pytest.mark.parametrize("name", READERS)
def test_a_thousand_damaged_files(name):
    counts = run(readers()[name], IN_CI, 1)
    assert sum(counts.values()) >= IN_CI
    # Neither is all damage noticed, nor is everything refused: both ways are walked.
    assert min(counts["read"], counts["refused"]) > 10, counts


@pytest.mark.long
@pytest.mark.parametrize("name", READERS)
def test_a_hundred_thousand_damaged_files(name, capsys):
    reader, counts, began = readers()[name], Counter(), time.process_time()
    for part in range(IN_ALL // A_RUN):
        counts += run(reader, A_RUN, 1000 + part)
    seconds = time.process_time() - began
    with capsys.disabled():
        print(f"\n{name}: {sum(counts.values())} inputs in {seconds:.0f} s, {dict(counts)}")
    assert sum(counts.values()) >= IN_ALL


@pytest.mark.long
@pytest.mark.parametrize("name", READERS)
def test_inputs_guided_by_coverage(name, tmp_path):
    need("atheris")
    run = subprocess.run(
        [sys.executable, "-m", "tests.breaking.fuzz", name, "2000"],
        capture_output=True,
        text=True,
        env={**os.environ, "TMPDIR": str(tmp_path)},
        check=False,
    )
    assert run.returncode == 0, run.stderr[-3000:]
    assert "Done 2000 runs" in run.stderr
