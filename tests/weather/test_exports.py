"""A true table goes through a chain of exports: it comes back equal, or is refused or asked about.

A hundred chains each time, a thousand in .ci/run, 100,000 with `-m long`: once for a yard that
knows its own past and once for a new one that knows only its latitude.
"""

from collections import Counter

import pytest

from tests.weather.exports import drawn, is_plain, outcome

FEW, SOME, MANY = 100, 1_000, 100_000


def judged(tmp_path, seeds, *, new_yard):
    """Return how often each outcome came, and the chains that came back wrong."""
    found = Counter()
    wrong = []
    for seed in seeds:
        kind, words = outcome(seed, tmp_path / "weather.csv", new_yard=new_yard)
        found[kind] += 1
        if kind == "wrong":
            wrong.append(words)
    return found, wrong


@pytest.mark.parametrize("new_yard", [False, True])
def test_a_hundred_chains_bring_nothing_wrong(tmp_path, new_yard):
    found, wrong = judged(tmp_path, range(FEW), new_yard=new_yard)
    assert wrong == []
    assert found["equal"] > FEW / 5 and found["asked"] > FEW / 10 and found["refused"] > FEW / 10


@pytest.mark.long
@pytest.mark.parametrize("new_yard", [False, True])
def test_a_thousand_chains_bring_nothing_wrong(tmp_path, new_yard):
    _, wrong = judged(tmp_path, range(MANY, MANY + SOME), new_yard=new_yard)
    assert wrong == []


@pytest.mark.long
@pytest.mark.parametrize("new_yard", [False, True])
def test_a_hundred_thousand_chains_bring_nothing_wrong(tmp_path, new_yard):
    found, wrong = judged(tmp_path, range(MANY), new_yard=new_yard)
    print(f"{'new yard' if new_yard else 'known past'}: {dict(found)}")
    assert wrong == []


@pytest.mark.parametrize("chains", [FEW, pytest.param(MANY // 10, marks=pytest.mark.long)])
def test_plain_tables_are_read(tmp_path, chains):
    seeds = [seed for seed in range(chains) if is_plain(drawn(seed)[2])]
    found, _ = judged(tmp_path, seeds, new_yard=False)
    assert len(seeds) > chains / 12
    assert found["equal"] >= 0.99 * len(seeds)
