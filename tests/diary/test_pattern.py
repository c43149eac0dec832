"""Patterns of sentences are compiled when a sentence is read, and find what others find."""

from __future__ import annotations

import re
import subprocess
import sys

import pytest

from fruitcast.diary.pattern import pattern_of

COMPILED = """
import re
from fruitcast.diary.entries import KINDS, kind_named
made = []
compile_pattern = re._compiler.compile
re._compiler.compile = lambda text, flags: made.append(text) or compile_pattern(text, flags)
for name in KINDS:
    kind_named(name)
from fruitcast.diary import phrases
loaded = len(made)
phrases.Phrase("A 2 lb yesterday")
assert len(made) > loaded + 10, "the sentence was read without patterns"
print(any(str(one.pattern) in made[:loaded] for one in (phrases.DAY, phrases.WEIGHT)), loaded)
"""


def test_pattern_finds_what_a_compiled_one_finds() -> None:
    late, ready = (make(r"(\d+) LOGS", re.IGNORECASE) for make in (pattern_of, re.compile))
    text = "2 logs and 3 logs"
    assert late.pattern == ready.pattern
    assert late.findall(text) == ready.findall(text) == ["2", "3"]
    assert late.sub("x", text) == ready.sub("x", text)
    assert late.fullmatch(text) is None


def test_faulty_pattern_is_told_when_it_is_used() -> None:
    with pytest.raises(re.error):
        pattern_of("(").search("")


def test_loading_the_kinds_of_entries_compiles_no_pattern_of_a_sentence() -> None:
    run = subprocess.run([sys.executable, "-c", COMPILED], capture_output=True, text=True)
    compiled, loaded = run.stdout.split()
    assert compiled == "False", run.stderr
    assert int(loaded) < 20
