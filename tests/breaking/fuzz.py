"""Coverage-guided fuzzing of one reader: python -m tests.breaking.fuzz READER [INPUTS].

Needs atheris (the extra 'fuzz'). It begins from the valid files, keeps every input that reaches a
new branch and damages it further, by our strokes and by its own. The first finding
ends it: the input is left in a file whose name it prints.
"""

from __future__ import annotations

import random
import sys
import tempfile
from pathlib import Path

import atheris

from tests.breaking.drawing import strokes, struck
from tests.breaking.watching import outcome

MOST_BYTES = 20_000
"""Longest input. [byte]"""


def main(name: str, inputs: int) -> None:
    """Put a number of inputs before one reader, then end the process."""
    # Readers import late, so each reads its samples while imports are being instrumented.
    with atheris.instrument_imports(include=["fruitcast"]):
        from tests.breaking.readers import readers

        reader = readers()[name]
        for sample in reader.samples:
            outcome(reader.read, sample)
    corpus = Path(tempfile.mkdtemp(prefix=f"fuzz-{name}-"))
    for number, sample in enumerate(reader.samples):
        corpus.joinpath(f"sample-{number}").write_bytes(sample)

    def mutate(data: bytes, most: int, seed: int) -> bytes:
        chance = random.Random(seed)
        if chance.random() < 0.4:
            return bytes(atheris.Mutate(data, most))
        return struck(data, strokes(reader.kind, chance))[:most]

    def one(data: bytes) -> None:
        outcome(reader.read, data)

    options = [f"-runs={inputs}", f"-max_len={MOST_BYTES}", "-timeout=60", "-rss_limit_mb=2000"]
    options.append(f"-artifact_prefix={corpus}-")
    atheris.Setup([sys.argv[0], *options, str(corpus)], one, custom_mutator=mutate)
    atheris.Fuzz()


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 100_000)
