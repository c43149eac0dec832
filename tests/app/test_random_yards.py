"""Plans of yards drawn at random, held to two judges that share nothing with the search.

The corners are drawn often: a tank smaller than a stack, one stack, five outlets on one day, one
week and two years ahead, three weather years.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from functools import cache

import numpy as np
import pytest

from fruitcast.app.known import KnownYard
from fruitcast.app.planning import make_plan
from fruitcast.forecast.outlook import days_ahead
from fruitcast.numbers import default_numbers
from fruitcast.soaks.problem import dump_problem
from fruitcast.soaks.search import SearchParams
from fruitcast.weather.daily import DailyWeather
from fruitcast.weather.known import known_weather
from fruitcast.yard.model import FruitingPlaces, Outlet
from tests.benchmarks.yards import TODAY, invented_yard
from tests.soaks.judge import judge
from tests.soaks.problem_file import load_plan, load_problem
from tests.soaks.rules import judge_published
from tests.weather.invented import invented_weather

NUMBERS = default_numbers()
CORNERS = 6


@cache
def weather() -> DailyWeather:
    return invented_weather(date(2000, 1, 1), date(2018, 4, 30), seed=5)


def outlets(random: np.random.Generator, weekly: float, *, five: bool) -> tuple[Outlet, ...]:
    """Return one outlet or more, some with the weight of another on the same day."""
    count = 5 if five else int(random.integers(1, 4))
    days = [5] * count if five else random.integers(0, 7, size=count).tolist()
    shares = random.dirichlet(np.ones(count))
    weights = random.choice([1.0, 1.0, 2.0], size=count)
    return tuple(
        Outlet(f"Outlet {n}", day, weekly * share, None, None, None, float(weight), frozenset())
        for n, (day, share, weight) in enumerate(zip(days, shares, weights, strict=True))
    )


def drawn(number: int) -> tuple[KnownYard, int]:
    """Return what is known of a yard, and the weeks to plan; each corner comes in its turn."""
    random = np.random.default_rng([number, 7])
    corner = number % (CORNERS + 2)
    stacks = 1 if corner == 0 else int(random.integers(2, 15))
    weeks, members = int(random.choice([6, 12, 26])), 12
    if corner == 1:
        weeks = 1
    if corner == 2:
        weeks, stacks = 104, int(random.integers(1, 5))
    if corner == 3:
        members = 3
    tank = int(random.integers(12, 17)) if corner == 4 else int(random.integers(40, 120))
    yard, state = invented_yard(
        stacks,
        logs_per_pound_a_week=float(random.uniform(15, 80)),
        seed=number,
        soaking_season=bool(random.random() < 0.7),
        lot_logs=tank if corner == 4 else None,
    )
    weekly = sum(outlet.target_kg for outlet in yard.outlets)
    hours = float(random.uniform(1.5, 6.0)) if random.random() < 0.4 else None
    places = int(random.integers(40, 150)) if random.random() < 0.4 else None
    yard = replace(
        yard,
        soaking=replace(yard.soaking, tank_logs=tank, hours_a_day=hours),
        outlets=outlets(random, weekly, five=corner == 5),
        cold_store_days=int(random.integers(2, 15)),
        fruiting=FruitingPlaces(places),
    )
    known, years = known_weather(
        weather(), TODAY, days_ahead(weeks, tail_days=NUMBERS.schedule.tail_days), {}
    )
    return KnownYard(TODAY, yard, state, known, years[-members:], NUMBERS, ()), weeks


def hold(number: int) -> int:
    """Plan a yard, hold the plan to both judges, and return how many soaks it has."""
    known, weeks = drawn(number)
    planned = make_plan(known, weeks=weeks, seed=number, params=SearchParams())
    document = planned.document.plain()
    broken = judge_published(known.yard, known.state, document, TODAY)
    assert not broken, f"yard {number}: {broken}"
    # From the file that `plan --problem` writes, and nothing else.
    kept = dump_problem(planned.built.problem, planned.plan)
    paths = load_plan(kept)
    assert paths is not None
    judged = judge(load_problem(kept), paths)
    assert judged.violations == ()
    assert judged.objective_kg == pytest.approx(document["objective_kg"], abs=1e-6)
    return len(document["soaks"])


def test_each_corner_is_one() -> None:
    one, week, years, few, small, five = (drawn(number) for number in range(CORNERS))
    assert len(one[0].yard.stacks) == 1
    assert week[1] == 1 and years[1] == 104
    assert len(few[0].years) == 3
    tank = small[0].yard.soaking.tank_logs
    assert min(stack.logs for stack in small[0].yard.stacks) > tank
    assert len({outlet.weekday for outlet in five[0].yard.outlets}) == 1


def test_the_judges_find_nothing_in_the_corners() -> None:
    # Two years ahead take as long as all others together: they are among the two hundred.
    soaks = [hold(number) for number in range(CORNERS) if number != 2]
    assert sum(soaks) > 20


@pytest.mark.long
def test_the_judges_find_nothing_in_two_hundred_yards() -> None:
    soaks = [hold(number) for number in range(200)]
    print(f"{sum(soaks)} soaks, {sum(not each for each in soaks)} plans without one")
    assert np.median(soaks) > 2
