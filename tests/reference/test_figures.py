"""The figures that the manual carries, in one table; `pytest -s tests/reference/test_figures.py`.

Each stands with its tolerance in the test named beside it. All of it is the model judging
itself against practice and stations, not a trial in a yard.
"""

from __future__ import annotations

import math
from datetime import date, timedelta

import numpy as np
import pytest

from fruitcast.biology.evaporation import open_evaporation
from fruitcast.biology.forced import first_pick, thermal_time
from fruitcast.biology.moisture import drying_rate
from fruitcast.biology.natural import natural_first_pick, trigger_days
from fruitcast.biology.picking import flush_days
from fruitcast.biology.spawn_run import ready_day, required_progress
from fruitcast.biology.wood import dry_from_wet
from fruitcast.biology.yields import lifetime_yield
from fruitcast.numbers import default_numbers
from tests.biology.real_weather import SHADE, series, watered_series
from tests.biology.weathers import daily_progress
from tests.reference.fao56 import dew_point
from tests.reference.test_dead_fuel import WEEKLY
from tests.reference.test_dew_point import read_wageningen
from tests.reference.test_natural_season import (
    AUTUMN,
    SPRING,
    by_year,
    first_picks,
    kept,
    real_picks,
    share,
    shuffled,
)
from tests.reference.test_rotation_yield import (
    DIAMETER,
    LENGTH,
    LOGS,
    LOTS,
    POUND,
    STATIONS,
    TREE,
    bearing_life,
    factor,
    seasons,
)

NUMBERS = default_numbers()


def rotation(name: str) -> list[str]:
    """The published rotation of 108 logs, weather and defaults alone."""
    walked = seasons(name)
    pounds = [np.mean([s.per_week(factor(year)) for year in (2, 3)]) / POUND for s in walked]
    life = round(bearing_life(DIAMETER, NUMBERS.tree(TREE), NUMBERS.yields))
    cohorts = [factor(year) for year in range(1, life + 1)]
    weekly = np.mean([s.per_week(sum(cohorts)) for s in walked]) / POUND
    logs = LOTS * LOGS * (len(cohorts) + 1) / weekly
    assert 3 <= np.mean(pounds) <= 6 and 30 <= logs <= 53
    return [
        f"12 logs soaked a week, years two and three (3-6 lb): {np.mean(pounds):.1f} lb a week, "
        f"single seasons {min(pounds):.1f} to {max(pounds):.1f}",
        f"logs for 1 lb a week, whole yard over the season (30-53): {logs:.0f}",
    ]


def natural(name: str) -> list[str]:
    """Natural flushes of wide-range logs through the whole record."""
    weather, picks = watered_series(name), real_picks(name, "wide-range")
    years = by_year(weather, picks)
    by_month = np.bincount(weather.months[picks], minlength=13)[1:]
    trigger = trigger_days(
        NUMBERS.strain("wide-range").natural,
        weather.tmin,
        weather.tmean,
        weather.rain,
        weather.moisture,
        NUMBERS.natural,
        urgent_below=NUMBERS.watering.urgent_below,
    )
    ripe = natural_first_pick(
        NUMBERS.strain("wide-range").forced.requirement,
        thermal_time(NUMBERS.strain("wide-range"), weather.tmean),
        trigger,
        NUMBERS.natural,
    ).first_pick[:, 0]
    begun = np.array([np.flatnonzero(ripe == pick)[-1] for pick in picks])
    mean = np.array([weather.tmean[b:p, 0].mean() for b, p in zip(begun, picks, strict=True)])
    length = flush_days("natural", mean, NUMBERS.picking, NUMBERS.natural)
    runs = first_picks("wide-range", shuffled(name, "rain"))
    same = np.mean([kept(picks, run) for run in runs])
    in_season = share(weather, picks, SPRING + AUTUMN)
    assert 10 <= np.median(length) <= 14  # about two weeks
    assert in_season >= 2 / 3 and by_month[[11, 0, 1]].sum() == 0
    return [
        f"natural flushes, wide-range: {years.mean():.1f} a year, 1 or 2 in "
        f"{((years >= 1) & (years <= 2)).mean():.0%} of the years; {in_season:.0%} of first picks "
        f"in April-June and September-November, none in December-February; about "
        f"{np.median(length):.0f} days long",
        f"the same with each month's rain in another order: {same:.0%} of those flushes are left",
    ]


def spawn_run() -> str:
    weather = watered_series("champion")
    progress = daily_progress(
        weather.tmin,
        weather.tmax,
        weather.moisture,
        NUMBERS,
        shade=SHADE,
    )
    need = required_progress(
        "plug",
        0.125,
        NUMBERS.spawn_run,
        class_factor=NUMBERS.strain("wide-range").spawn_run.factor,
        tree_factor=NUMBERS.tree("red oak").starts,
    )
    months = []
    for year in range(1982, 2017):
        row = (date(year, 5, 10) - weather.start).days
        months.append(int(ready_day(progress[row : row + 700], need)[0]) / 30.4)
    return (
        f"May inoculation to the end of the spawn run (about a year): {np.median(months):.0f} "
        f"months, {min(months):.0f} to {max(months):.0f}"
    )


def midsummer() -> str:
    weather = series("champion")
    soak = np.flatnonzero(weather.months == 7)
    thermal = thermal_time(NUMBERS.strain("wide-range"), weather.tmean)
    need = NUMBERS.strain("wide-range").forced.requirement
    days = first_pick(thermal, soak + 1, need)[:, 0] - soak
    return f"24 h soak in July to first pick (within two weeks): {days.min()} to {days.max()} days"


def life() -> str:
    volume = np.pi / 4 * DIAMETER**2 * LENGTH
    dry = volume * 1000 * NUMBERS.tree(TREE).specific_gravity
    fresh = dry * (1 + float(dry_from_wet(0.45)))
    kg = lifetime_yield(
        NUMBERS.strain("wide-range").yields.base,
        NUMBERS.tree(TREE),
        DIAMETER,
        LENGTH,
        NUMBERS.yields,
    )
    return (
        f"lifetime yield of an oak log, 12.7 x 102 cm: {kg:.1f} kg, {kg / fresh:.0%} of its fresh "
        f"(best practice 9-35 %) and {kg / dry:.0%} of its dry weight (a trial: 0-8.8 %)"
    )


def wageningen() -> str:
    tmin, _, pressure = read_wageningen().T
    error = tmin - dew_point(pressure)
    return (
        f"'dew point = Tmin' at Wageningen 1976-1999: {error.mean():+.1f} C on average, standard "
        f"deviation {error.std():.1f} C"
    )


def drying() -> str:
    reference = -7 / math.log(1 - WEEKLY)
    summer = open_evaporation(16.0, 29.0, 22.5, 40.0, np.arange(152, 244)).mean()
    ours = 1 / float(drying_rate(summer, 0.15, NUMBERS.moisture))
    assert 1 <= ours / reference <= 4
    return (
        f"a 15 cm log in its bark dries with {ours:.0f} days where dead wood of that class takes "
        f"{reference:.0f} (1 to 4 times)"
    )


@pytest.mark.long  # a table to read; what it must say is asserted in the other tests
def test_the_figures_in_one_table():
    lines = [wageningen(), drying(), spawn_run(), midsummer(), life()]
    for name in STATIONS:
        first = series(name).start
        last = first + timedelta(days=len(series(name).days) - 1)
        lines += [f"[{name} {first.year}-{last.year}] {line}" for line in rotation(name)]
        lines += [f"[{name} {first.year}-{last.year}] {line}" for line in natural(name)]
    print("\n" + "\n".join(f"- {line}" for line in lines))
    assert all("nan" not in line for line in lines)
