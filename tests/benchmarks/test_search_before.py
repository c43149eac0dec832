"""Whole plans of this version beside those of another checkout: processor time and objective.

FRUITCAST_BEFORE=/path/to/checkout pytest -m benchmark tests/benchmarks/test_search_before.py -s

Each yard is planned by both, one after the other, each as it plans of itself: the versions before
this search proved every plan. The objectives are of the older version's problem, searched by both,
so that the model may have changed. Weather: four of the climates that come with the package
aquacrop.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from itertools import product
from pathlib import Path
from statistics import fmean

import pytest

from fruitcast.soaks.problem import FORMAT
from fruitcast.soaks.search import Search
from tests.benchmarks.figures import Figures
from tests.requires import need_file
from tests.soaks.problem_file import load_plan, load_problem

pytestmark = pytest.mark.benchmark

CLIMATES = ("champion", "brussels", "tunis", "hyderabad")
SIZES = (12, 14, 24, 40, 200)
LOGS_PER_POUND = (200.0, 80.0, 30.0)
"""Targets that are low, just met and out of reach."""

PLAN = """
import resource, sys
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
import tests.benchmarks.yards as yards
from fruitcast.app.planning import make_plan
from fruitcast.soaks.problem import dump_problem
from fruitcast.weather.formats import read_weather_file
weather = read_weather_file(Path(sys.argv[1]))
# The yards' logs are of 2013 to 2017: each climate's years are moved to end with 2018.
years = yards.TODAY.year - weather.end.year
weather = replace(weather, start=weather.start + timedelta(days=round(365.25 * years)))
yards.champion = lambda: weather
known = yards.known_yard(
    int(sys.argv[2]), logs_per_pound_a_week=float(sys.argv[3]), seed=int(sys.argv[4])
)
planned = make_plan(known, seed=int(sys.argv[5]))
told = resource.getrusage(resource.RUSAGE_SELF)
Path(sys.argv[6]).write_text(dump_problem(planned.built.problem, planned.plan))
print(told.ru_utime + told.ru_stime)
"""

SEEDS = (1, 2, 3)
"""A plan of either version is luck within some 0.3 % of demand, so the mean of three is told."""

YARDS = [
    (climate, size, LOGS_PER_POUND[number % 3], number)
    for number, (size, climate) in enumerate(product(SIZES, CLIMATES))
]


def planned(
    checkout: Path, climate: str, size: int, logs: float, yard: int, seed: int, file: Path
) -> float:
    """Write problem and plan to a file; return the processor time. [s]"""
    weather = need_file("aquacrop", f"data/{climate}_climate.txt")
    words = [sys.executable, "-c", PLAN, weather, size, logs, yard, seed, file]
    done = subprocess.run(
        [str(word) for word in words],
        cwd=checkout,
        env={**os.environ, "PYTHONPATH": str(checkout)},
        capture_output=True,
        text=True,
        check=True,
    )
    return float(done.stdout)


def as_now(text: str) -> str:
    """Return an older version's problem with what problems have had since: no limit of places."""
    document = json.loads(text)
    document["format"] = FORMAT
    document.setdefault("places", None)
    for kind in document["types"]:
        kind.setdefault("standing", [0] * len(document["soak_days"]))
    for stack in document["stacks"]:
        stack.setdefault("fixed_standing", 0)
        stack.setdefault("handling", 0.0)
    return json.dumps(document)


def worse_by(file: Path) -> float:
    """Return by how much this version's plan of a kept problem is worse. [% of demand]"""
    text = as_now(file.read_text())
    problem = load_problem(text)
    search = Search(problem)
    costs = [search.tables.cost(plan) for plan in (search.run(), load_plan(text))]
    return 100 * (costs[0] - costs[1]) / problem.demand


def test_twenty_yards_beside_the_version_before(figures: Figures, tmp_path: Path) -> None:
    before = os.environ.get("FRUITCAST_BEFORE")
    if not before:
        pytest.skip("FRUITCAST_BEFORE names no other checkout")
    here, file = Path(__file__).parents[2], tmp_path / "problem.json"
    planned(here, *YARDS[0], 1, file)  # compiled before it is timed
    worse = []
    for yard in YARDS:
        each = []
        for seed in SEEDS:
            now = planned(here, *yard, seed, file)
            then = planned(Path(before), *yard, seed, file)
            each.append((now, then, worse_by(file)))
        now, then, gap = map(fmean, zip(*each, strict=True))
        worse.append(gap)
        print(
            f"{yard}: {then:.1f} -> {now:.1f} s ({now / then:.2f}), {gap:+.2f} % of demand",
            flush=True,
        )
    figures.add("search: objective beside the version before", fmean(worse), "% worse")
    figures.add("search: worst of 20 yards beside the version before", max(worse), "% worse")
    assert fmean(worse) <= 0.0
    assert max(worse) <= 0.5
