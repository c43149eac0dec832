"""What a plan says of its own shortfall, against luck that nobody has seen.

Run with ``pytest -m benchmark tests/benchmarks/test_fresh_luck.py -s`` for three yards, half a
minute, or ``-m long`` for twenty. The yards are invented, the weather is real (see `yards.py`).

Two judges. Other fresh paths, ten times as many under another seed: what is said must be right
to half a point of demand, mean of all yards. And seasons that come true as in the hindcast, which
share no code with the paths but the biology's rules: they are shown with their standard error.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np
import pytest

from fruitcast.app.choosing import build
from fruitcast.app.hindcast import carried_out, season_days
from fruitcast.app.known import KnownYard
from fruitcast.hindcast.diary import SimulatedYard
from fruitcast.hindcast.truth import Truth, true_season
from fruitcast.numbers import default_numbers
from fruitcast.soaks.build import BuiltProblem
from fruitcast.soaks.expected import LEAST_PATHS, fresh_ledger
from fruitcast.soaks.problem import Plan
from fruitcast.soaks.sale_days import outlet_days
from fruitcast.soaks.search import Search, SearchParams
from fruitcast.soaks.supply import check_days, evaluate, expected_shortfall, reached
from fruitcast.weather.known import known_weather
from tests.benchmarks.figures import Figures
from tests.benchmarks.yards import TODAY, champion, invented_yard

WEEKS, STACKS, MEMBERS = 26, 10, 30
TRUTHS = 30
"""Seasons that come true for each yard."""

PARAMS = SearchParams()

PROMISES = (0.6, 0.8, 0.9)


@dataclass(frozen=True)
class Said:
    """A yard's shortfall as said and as it came, in points of demand; promises kept."""

    in_sample: float
    fresh: float
    new_luck: float
    came_true: float
    kept: tuple[float, ...]


def yard_of(number: int) -> KnownYard:
    numbers = default_numbers()
    pounds = (60, 80, 100)[number % 3]
    yard, state = invented_yard(STACKS, logs_per_pound_a_week=pounds, seed=100 + number)
    ahead = season_days(WEEKS, tail_days=numbers.schedule.tail_days)
    weather, years = known_weather(champion(), TODAY, ahead, {})
    return KnownYard(TODAY, yard, state, weather, years[-MEMBERS:], numbers, ())


def came_true(known: KnownYard, built: BuiltProblem, plan: Plan, number: int) -> list[float]:
    """Return the shortfall of some true seasons in which the plan is carried out. [kg]

    Each yard has luck of its own, so that the mean of all is as sure as their spread says.
    """
    soaks, _ = carried_out(built, plan, 7 * WEEKS)
    sales = outlet_days(known.yard, TODAY, 7 * WEEKS)
    short = []
    for n in range(TRUTHS):
        season = true_season(
            known.yard,
            known.state,
            known.weather,
            TODAY,
            known.years[n % len(known.years)],
            Truth(seed=5000 + 1000 * number + n),
            weeks=WEEKS,
            numbers=known.numbers,
            believed=built.outlook.learned,
        )
        true = SimulatedYard(known.yard, known.state, season, WEEKS, sales, known.numbers)
        sold = true.sold_by(soaks, TODAY + timedelta(weeks=WEEKS))
        short.append(built.problem.demand - sum(sold.delivered))
    return short


def said_of(number: int) -> Said:
    known = yard_of(number)
    built = build(known, weeks=WEEKS)
    problem = built.problem
    plan = Search(problem, PARAMS).run()
    _, ledger = evaluate(problem, plan, check_days(problem))
    said = fresh_ledger(built, plan)
    other = replace(built, problem=replace(problem, seed=problem.seed + 1000))
    new = fresh_ledger(other, plan, 10 * LEAST_PATHS)
    points = 100 / problem.demand
    inside = [n for n, sale in enumerate(problem.outlets) if sale.day < problem.horizon_days]
    kept = []
    for share in PROMISES:
        promised = reached(said.available[inside], share)
        some = promised > 0
        kept.append(float((new.available[inside] >= promised[:, None])[some].mean()))
    return Said(
        points * expected_shortfall(problem, ledger),
        points * expected_shortfall(problem, said),
        points * expected_shortfall(problem, new),
        points * float(np.mean(came_true(known, built, plan, number))),
        tuple(kept),
    )


@pytest.mark.parametrize(
    "yards",
    [pytest.param(3, marks=pytest.mark.benchmark), pytest.param(20, marks=pytest.mark.long)],
)
def test_a_plan_says_its_shortfall_as_it_is_on_new_luck(yards: int, figures: Figures) -> None:
    found = [said_of(number) for number in range(yards)]
    table = np.array([(s.in_sample, s.fresh, s.new_luck, s.came_true) for s in found])
    kept = np.array([s.kept for s in found]).mean(axis=0)
    off = table[:, 3] - table[:, 1]
    error = off.std(ddof=1) / np.sqrt(yards)
    print(np.round(table, 1))
    print(f"came true less said {off.mean():.2f} +- {error:.2f} points; kept {np.round(kept, 3)}")
    names = ("to its members", "said", "on new luck", "come true")
    for name, points in zip(names, table.mean(axis=0), strict=True):
        figures.add(f"shortfall {name}, {yards} yards", float(points), "% of demand")
    for share, holds in zip(PROMISES, kept, strict=True):
        figures.add(f"promises of {share:.0%} kept on new luck, {yards} yards", holds, "share")
    assert abs((table[:, 1] - table[:, 2]).mean()) <= 0.5
    # The plan's own members flatter it, which is why they are not asked.
    assert table[:, 0].mean() < table[:, 2].mean()
    assert np.abs(kept - PROMISES).max() < 0.02
