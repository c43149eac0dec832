"""Figures of the schedule: how near the best possible, how fast, how much memory.

Run with ``pytest -m benchmark tests/benchmarks/test_schedule_figures.py -s``. Nothing here
passes or fails on speed; the main figures go into the one table. The yards are invented, the
weather is real (see `yards.py`).
"""

from __future__ import annotations

import subprocess
import sys
import time

import pytest

from fruitcast.app.choosing import build
from fruitcast.soaks.bound import relax
from fruitcast.soaks.search import Search
from tests.benchmarks.figures import Figures
from tests.benchmarks.yards import known_yard
from tests.soaks.exact import solve_exact
from tests.soaks.judge import judge

pytestmark = pytest.mark.benchmark

JUST_MET, OUT_OF_REACH = 80.0, 30.0
"""Logs for each pound a week: the shortfall is then a few percent, or half, of the demand."""


SMALL_LOTS = 6
"""Logs of a lot where stacks are soaked in parts: the bound soaks any part of a stack."""


@pytest.mark.parametrize("stacks", [20, 40, 200])
@pytest.mark.parametrize("logs_per_pound", [JUST_MET, OUT_OF_REACH])
@pytest.mark.parametrize("lot_logs", [None, SMALL_LOTS])
def test_gap_to_the_bound(
    stacks: int, logs_per_pound: float, lot_logs: int | None, figures: Figures
) -> None:
    known = known_yard(stacks, logs_per_pound_a_week=logs_per_pound, lot_logs=lot_logs)
    started = time.perf_counter()
    problem = build(known).problem
    built = time.perf_counter() - started
    started = time.perf_counter()
    search = Search(problem)
    found = search.run()
    searched = time.perf_counter() - started
    started = time.perf_counter()
    bound = relax(problem)
    bounded = time.perf_counter() - started
    judgement = judge(problem, found)
    assert judgement.violations == ()
    assert judgement.objective_kg >= bound
    gap = 100 * (judgement.objective_kg - bound) / problem.demand
    missing = 100 * judgement.objective["shortfall"] / problem.demand
    parts = f"in lots of {lot_logs}" if lot_logs else "whole"
    name = f"{stacks} stacks soaked {parts}, {logs_per_pound:g} logs a pound a week"
    figures.add(f"{name}: plan", built + searched, "s")
    figures.add(f"{name}: bound", bounded, "s")
    figures.add(f"{name}: gap", gap, "% of demand")
    print(
        f"\n{stacks} stacks soaked {parts} x 26 weeks x {problem.members} members, "
        f"{logs_per_pound:g} logs a pound a week: demand {problem.demand:.0f} kg, "
        f"shortfall {missing:.1f} %, objective {judgement.objective_kg:.2f}, "
        f"bound {bound:.2f}, gap {gap:.2f} % of demand; build "
        f"{built:.1f} s, search {searched:.1f} s, bound {bounded:.1f} s"
    )
    if stacks <= 40 and lot_logs is None:
        started = time.perf_counter()
        try:
            exact = solve_exact(problem, seconds=60, rounds=1)
        except Exception as error:  # the solver may find no plan at all in that time
            print(f"  mixed-integer program, 60 s: {error}")
            return
        spent = time.perf_counter() - started
        print(
            f"  mixed-integer program, {spent:.0f} s: objective {exact.objective:.2f}, its own "
            f"bound {exact.bound:.2f}"
        )


WHOLE_PLAN = """
import sys, time
from pathlib import Path
from tests.benchmarks.yards import known_yard
from fruitcast.app.planning import make_plan
stacks, weeks, bound = int(sys.argv[1]), int(sys.argv[2]), sys.argv[3] == "bound"
known = known_yard(stacks, logs_per_pound_a_week=45.0, weeks=weeks)
started = time.perf_counter()
make_plan(known, weeks=weeks, bound=bound)
told = Path("/proc/self/status").read_text().partition("VmHWM:")[2]
memory = int(told.split()[0]) / 1024
print(f"{time.perf_counter() - started:.2f} {memory:.0f}")
"""


@pytest.mark.parametrize(
    ("stacks", "weeks", "bound"),
    [
        (40, 26, "no bound"),
        (40, 26, "bound"),
        (200, 26, "bound"),
        (50, 26, "no bound"),
        (500, 26, "no bound"),
        (500, 52, "no bound"),
    ],
)
def test_time_and_memory_of_a_whole_plan(
    stacks: int, weeks: int, bound: str, figures: Figures
) -> None:
    done = subprocess.run(
        [sys.executable, "-c", WHOLE_PLAN, str(stacks), str(weeks), bound],
        capture_output=True,
        text=True,
        check=True,
    )
    seconds, memory = done.stdout.split()
    print(f"\n{stacks} stacks x {weeks} weeks x 30 members: {seconds} s, {memory} MB, {bound}")
    assert float(seconds) > 0 and float(memory) > 0
    name = f"{stacks} stacks x {weeks} weeks, {bound}"
    figures.add(f"{name}: whole plan", float(seconds), "s")
    figures.add(f"{name}: peak memory", float(memory), "MB")
