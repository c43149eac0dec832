"""The published rotation, whole yards and whole lives of logs, against what growers report."""

from functools import cache

import numpy as np
import pytest

from fruitcast.biology.wood import dry_from_wet
from fruitcast.biology.yields import bearing_life, lifetime_yield, stack_factor
from fruitcast.numbers import default_numbers
from tests.biology.real_weather import watered_series
from tests.reference.rotation_season import DIAMETER, LOGS, LOTS, TREE, Walk
from tests.reference.test_natural_season import real_picks

NUMBERS = default_numbers()
POUND = 0.45359237
LENGTH = 1.02
STATIONS = ("champion", "brussels")


@cache
def seasons(name):
    weather = watered_series(name)
    walk = Walk(weather, NUMBERS)
    return [walk.season(year) for year in range(weather.years[0] + 1, weather.years[-1])]


def factor(bearing_year):
    return float(stack_factor(NUMBERS.tree(TREE), DIAMETER, LENGTH, bearing_year, NUMBERS.yields))


@pytest.mark.parametrize("name", STATIONS)
def test_twelve_logs_a_week_give_three_to_six_pounds_in_years_two_and_three(name):
    # Hill 2011, Univ. of Kentucky FOR-85: the nine-week cycle, 108 logs for 12 a week; a log
    # gives 113-227 g a flush (common practice), so 12 logs 3-6 lb. Soaks from 15 April to
    # 20 October, oak logs of 12.7 x 102 cm watered to the default, natural flushes included.
    pounds = np.array(
        [
            np.mean([season.per_week(factor(year)) for year in (2, 3)]) / POUND
            for season in seasons(name)
        ]
    )
    failed = np.mean([s.failed / s.soaks for s in seasons(name)])
    natural = np.mean([s.natural / (s.natural + s.forced) for s in seasons(name)])
    lead = np.mean(np.concatenate([s.leads for s in seasons(name)]))
    print(
        f"{name}: 12 logs soaked a week give {pounds.mean():.2f} lb a week over the season in "
        f"bearing years two and three (single years {pounds.min():.2f} to {pounds.max():.2f}); "
        f"{failed:.0%} of the soaks fail, {natural:.0%} of the crop is natural, "
        f"{lead:.1f} days from soak to first pick"
    )
    for year in (2, 3):
        mean = np.mean([season.per_week(factor(year)) for season in seasons(name)]) / POUND
        assert 3 <= mean <= 6
    assert 3 <= pounds.mean() <= 6


@pytest.mark.parametrize("name", STATIONS)
def test_a_whole_mixed_age_yard_needs_thirty_to_fifty_three_logs_a_pound(name):
    # Computed from farm reports. As many logs of each age: one year of spawn run, then one
    # cohort for each bearing year of the log's life.
    life = round(bearing_life(DIAMETER, NUMBERS.tree(TREE), NUMBERS.yields))
    cohorts = [factor(year) for year in range(1, life + 1)]
    logs = LOTS * LOGS * (len(cohorts) + 1)
    weekly = np.mean([season.per_week(sum(cohorts)) for season in seasons(name)]) / POUND
    print(f"{name}: {logs / weekly:.1f} logs for 1 lb a week, spawn-run logs counted")
    assert 30 <= logs / weekly <= 53


def test_the_yield_of_a_life_beside_what_trials_report():
    # 9-35 % of the wood's weight, fresh basis: best practice over a log's life, Leatham 1982,
    # Forest Products Journal (abstract). 0-8.8 % biological efficiency: strain and wood
    # species trial, ASHS (abstract). Green wood at 45 % wet.
    volume = np.pi / 4 * DIAMETER**2 * LENGTH
    dry_weight = volume * 1000 * NUMBERS.tree(TREE).specific_gravity
    fresh_weight = dry_weight * (1 + float(dry_from_wet(0.45)))
    kg = lifetime_yield(
        NUMBERS.strain("wide-range").yields.base,
        NUMBERS.tree(TREE),
        DIAMETER,
        LENGTH,
        NUMBERS.yields,
    )
    print(
        f"an oak log of 12.7 x 102 cm gives {kg:.2f} kg in its life: {kg / fresh_weight:.1%} of "
        f"its fresh and {kg / dry_weight:.1%} of its dry weight (best practice 9-35 % fresh, "
        "trial 0-8.8 %)"
    )
    assert 0.09 <= kg / fresh_weight <= 0.35
    assert kg / dry_weight > kg / fresh_weight > 0.088  # above that trial, and we say so


def test_the_life_s_yield_agrees_with_the_seasons_walked():
    # `yield.usual_share` stands for what the rotation loses to rest, heat, cold and failures.
    life = round(bearing_life(DIAMETER, NUMBERS.tree(TREE), NUMBERS.yields))
    whole = sum(factor(year) for year in range(1, life + 1))
    walked = np.mean(
        [(s.forced + s.natural) / LOTS * whole for name in STATIONS for s in seasons(name)]
    )
    stated = lifetime_yield(
        NUMBERS.strain("wide-range").yields.base,
        NUMBERS.tree(TREE),
        DIAMETER,
        LENGTH,
        NUMBERS.yields,
    )
    assert stated == pytest.approx(walked, rel=0.15)


@pytest.mark.parametrize("name", STATIONS)
def test_unsoaked_oak_flushes_about_eight_times_in_its_life_and_red_maple_four_to_five(name):
    # Common practice, no source; flushes a year from the simulated seasons of the station.
    a_year = len(real_picks(name, "wide-range")) / len(seasons(name))
    oak, maple = (
        a_year * bearing_life(DIAMETER, NUMBERS.tree(tree), NUMBERS.yields)
        for tree in (TREE, "red maple")
    )
    print(f"{name}, never soaked: oak {oak:.1f} flushes in its life, red maple {maple:.1f}")
    assert 6 <= oak <= 10
    assert 3.5 <= maple <= 5.5
