"""The season that comes true: it is the problem's own, it is causal, and it can differ."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from fruitcast.app.hindcast import carried_out
from fruitcast.biology.picking import dry_cap_share
from fruitcast.forecast.learned import nothing_learned
from fruitcast.hindcast.diary import SimulatedYard
from fruitcast.hindcast.policies import only_member, sensible
from fruitcast.hindcast.truth import CarriedSoak, TrueSeason, Truth, true_season
from fruitcast.soaks.build import build_problem
from fruitcast.soaks.sale_days import outlet_days
from fruitcast.soaks.search import Search
from fruitcast.yard.model import Away
from tests.hindcast.rotations import nine_week
from tests.hindcast.small_yard import QUICK, TODAY, small_yard
from tests.soaks.judge import judge

WEEKS = 24
KNOWN = small_yard(6, WEEKS)
YEAR = KNOWN.years[-2]


def season(truth: Truth | None = None, year: int = YEAR) -> TrueSeason:
    return true_season(
        KNOWN.yard,
        KNOWN.state,
        KNOWN.weather,
        TODAY,
        year,
        truth or Truth(),
        weeks=WEEKS,
        numbers=KNOWN.numbers,
        believed=nothing_learned(TODAY, KNOWN.yard.site, KNOWN.numbers.spread),
    )


def simulated(true: TrueSeason) -> SimulatedYard:
    sales = outlet_days(KNOWN.yard, TODAY, 7 * WEEKS)
    return SimulatedYard(KNOWN.yard, KNOWN.state, true, WEEKS, sales, KNOWN.numbers)


@pytest.mark.parametrize("way", ["search", "nine", "sensible"])
def test_a_plan_comes_true_as_the_problem_of_the_true_year_has_it(way: str) -> None:
    true = season()
    built = build_problem(true.outlook, weeks=WEEKS, seed=1, promise=0.8)
    problem = only_member(built.problem, 0)
    plan = {
        "search": lambda: Search(problem, QUICK).run(),
        "nine": lambda: nine_week(problem),
        "sensible": lambda: sensible(problem),
    }[way]()
    assert any(plan)
    done, _ = carried_out(replace(built, problem=problem), plan, 7 * WEEKS)
    sold = simulated(true).sold_by(done, TODAY + timedelta(days=7 * WEEKS))
    judged = judge(problem, plan)
    inside = [n for n, outlet in enumerate(problem.outlets) if outlet.day < 7 * WEEKS]
    np.testing.assert_allclose(sold.delivered, judged.delivered[inside, 0], rtol=0, atol=1e-6)
    np.testing.assert_allclose(sold.available, judged.available[inside, 0], rtol=0, atol=1e-6)


def test_a_later_soak_changes_nothing_that_was_picked_before_it() -> None:
    true = season()
    first, second = (
        CarriedSoak(TODAY + timedelta(days=3), 1),
        CarriedSoak(TODAY + timedelta(days=80), 1),
    )
    for name in KNOWN.state.stacks:
        alone = picks(true, name, [first])
        both = picks(true, name, [first, second])
        day = second.on
        assert [p for p in alone if p[0] < day] == [p for p in both if p[0] < day]


def picks(true: TrueSeason, name: str, soaks: list[CarriedSoak]) -> list[tuple]:
    return sorted(pick for flush in true.flushes(name, soaks) for pick in flush.picks)


def test_a_true_yield_that_differs_scales_every_flush() -> None:
    soaks = [CarriedSoak(TODAY + timedelta(days=3), 1)]
    usual, lower = season(), season(Truth(yield_factor=0.7))
    total = 0.0
    for name in KNOWN.state.stacks:
        before = picks(usual, name, soaks)
        after = picks(lower, name, soaks)
        assert [day for day, _ in before] == [day for day, _ in after]
        assert [kg for _, kg in after] == pytest.approx([0.7 * kg for _, kg in before])
        total += sum(kg for _, kg in before)
    assert total > 1.0


def test_a_true_lead_time_that_differs_moves_the_first_picks() -> None:
    soaks = [CarriedSoak(TODAY + timedelta(days=3), 1)]
    slow, fast = season(Truth(lead_factor=1.15)), season(Truth(lead_factor=0.85))
    moved = []
    for name in KNOWN.state.stacks:
        late = [f for f in slow.flushes(name, soaks) if f.kind == "forced" and f.picks]
        early = [f for f in fast.flushes(name, soaks) if f.kind == "forced" and f.picks]
        moved += [(a.picks[0][0] - b.picks[0][0]).days for a, b in zip(late, early, strict=True)]
    assert moved and all(days >= 0 for days in moved) and max(moved) >= 2


def test_its_scatter_is_its_own() -> None:
    soaks = [CarriedSoak(TODAY + timedelta(days=3), 1)]
    one, other = season(Truth(seed=7919)), season(Truth(seed=7920))
    weights = [
        [sum(kg for _, kg in picks(true, name, soaks)) for name in KNOWN.state.stacks]
        for true in (one, other)
    ]
    assert weights[0] != pytest.approx(weights[1])
    assert weights[0] == [
        sum(kg for _, kg in picks(season(), n, soaks)) for n in KNOWN.state.stacks
    ]


def test_a_soak_in_a_natural_flush_brings_nothing_of_its_own() -> None:
    found = 0
    for year in KNOWN.years:
        true = season(year=year)
        for name in KNOWN.state.stacks:
            for flush in true.flushes(name, []):
                if flush.kind != "natural" or flush.begun <= TODAY or not flush.picks:
                    continue
                on = flush.picks[0][0]
                if (on - TODAY).days >= 7 * WEEKS or not KNOWN.yard.soaking.permits(on):
                    continue
                found += 1
                after = true.flushes(name, [CarriedSoak(on, 1)])
                (soaked,) = (f for f in after if f.kind == "forced" and f.begun == on)
                assert soaked.kg == 0.0
                assert flush in after
    assert found


def test_nothing_of_a_day_away_is_sold_and_else_what_the_rain_leaves() -> None:
    day = TODAY + timedelta(days=20)
    true = true_season(
        replace(KNOWN.yard, away=(Away(day, day + timedelta(days=1)),), saleable=0.5),
        KNOWN.state,
        KNOWN.weather,
        TODAY,
        YEAR,
        Truth(),
        weeks=WEEKS,
        numbers=KNOWN.numbers,
        believed=nothing_learned(TODAY, KNOWN.yard.site, KNOWN.numbers.spread),
    )
    days = [TODAY + timedelta(days=n) for n in range(60)]
    sold = [true.saleable(day, "forced") for day in days]
    assert sold == [true.saleable(day, "natural") for day in days]
    assert [n for n, share in enumerate(sold) if share == 0] == [20, 21]
    wet = true.outlook.futures.rain[true.outlook.futures.lookback :, 0][:60]
    left = dry_cap_share(wet, KNOWN.numbers.picking)
    assert max(sold) == pytest.approx(0.5) and min(left) < 1
    assert sold == pytest.approx([0 if n in (20, 21) else 0.5 * left[n] for n in range(60)])
