"""Whole plans of this version beside those of another checkout: processor time and objective.

FRUITCAST_BEFORE=/path/to/checkout pytest -m benchmark tests/benchmarks/test_search_before.py -s

Each yard is planned by both, one after the other, each as it plans of itself: the versions before
this search proved every plan. Weather: four of the climates that come with the package aquacrop.
"""

from __future__ import annotations

import os
import subprocess
import sys
from itertools import product
from pathlib import Path
from statistics import fmean

import pytest

from tests.benchmarks.figures import Figures
from tests.requires import need_file

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
from fruitcast.weather.formats import read_weather_file
weather = read_weather_file(Path(sys.argv[1]))
# The yards' logs are of 2013 to 2017: each climate's years are moved to end with 2018.
years = yards.TODAY.year - weather.end.year
weather = replace(weather, start=weather.start + timedelta(days=round(365.25 * years)))
yards.champion = lambda: weather
known = yards.known_yard(
    int(sys.argv[2]), logs_per_pound_a_week=float(sys.argv[3]), seed=int(sys.argv[4])
)
document = make_plan(known, seed=int(sys.argv[5])).document
told = resource.getrusage(resource.RUSAGE_SELF)
get = document.__getitem__ if isinstance(document, dict) else lambda name: getattr(document, name)
print(told.ru_utime + told.ru_stime, told.ru_maxrss / 1024, get("objective_kg"), get("demand_kg"))
"""

SEEDS = (1, 2, 3)
"""A plan of either version is luck within some 0.3 % of demand, so the mean of three is told."""

YARDS = [
    (climate, size, LOGS_PER_POUND[number % 3], number)
    for number, (size, climate) in enumerate(product(SIZES, CLIMATES))
]


def planned(checkout: Path, climate: str, size: int, logs: float, yard: int) -> list[float]:
    """Return processor time, memory, objective and demand, the mean over the seeds."""
    each = [_planned(checkout, climate, size, logs, yard, seed) for seed in SEEDS]
    return [fmean(some) for some in zip(*each, strict=True)]


def _planned(
    checkout: Path, climate: str, size: int, logs: float, yard: int, seed: int
) -> list[float]:
    weather = need_file("aquacrop", f"data/{climate}_climate.txt")
    words = [sys.executable, "-c", PLAN, weather, size, logs, yard, seed]
    done = subprocess.run(
        [str(word) for word in words],
        cwd=checkout,
        env={**os.environ, "PYTHONPATH": str(checkout)},
        capture_output=True,
        text=True,
        check=True,
    )
    return [float(word) for word in done.stdout.split()]


def test_twenty_yards_beside_the_version_before(figures: Figures) -> None:
    before = os.environ.get("FRUITCAST_BEFORE")
    if not before:
        pytest.skip("FRUITCAST_BEFORE names no other checkout")
    here = Path(__file__).parents[2]
    planned(here, *YARDS[0])  # compiled before it is timed
    worse = []
    for yard in YARDS:
        now, then = planned(here, *yard), planned(Path(before), *yard)
        assert now[3] == pytest.approx(then[3])
        worse.append(100 * (now[2] - then[2]) / now[3])
        print(
            f"{yard}: {then[0]:.1f} -> {now[0]:.1f} s ({now[0] / then[0]:.2f}), "
            f"{then[1]:.0f} -> {now[1]:.0f} MB, objective {then[2]:.2f} -> {now[2]:.2f}, "
            f"{worse[-1]:+.2f} % of demand",
            flush=True,
        )
    figures.add("search: objective beside the version before", sum(worse) / len(worse), "% worse")
    figures.add("search: worst of 20 yards beside the version before", max(worse), "% worse")
    assert sum(worse) / len(worse) <= 0.0
    assert max(worse) <= 0.5
