"""A site's typical seasons: which weather, which logs, which days to soak, parts made up."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fruitcast.forecast.learned import nothing_learned
from fruitcast.forecast.log_weather import LogKind
from fruitcast.forecast.members import Ensemble
from fruitcast.forecast.past_seasons import season_grid_start
from fruitcast.forecast.typical_seasons import ECHOES, class_table, climate
from fruitcast.forecast.yield_tables import SEASON_DAYS, TAIL_DAYS
from fruitcast.yard.model import Away
from tests.inoculation.yards import NUMBERS
from tests.soaks.test_rules import YARD

AT = "fruitcast.forecast.typical_seasons"
TODAY = date(2027, 5, 3)
GRID = season_grid_start(2027, "north")
LOOKBACK = 30


def runs(years: int = 2) -> Ensemble:
    """Weather rows from thirty days before the season's grid on, of made-up numbers."""
    days = LOOKBACK + SEASON_DAYS + TAIL_DAYS
    rows = np.arange(days)[:, None] + 1000.0 * np.arange(years)
    return Ensemble(
        GRID,
        LOOKBACK,
        tuple(range(2001, 2001 + years)),
        rows,
        rows + 1,
        rows + 2,
        rows + 3,
        rows + 4,
        0,
    )


@dataclass(frozen=True)
class Water:
    moisture: np.ndarray
    watered: np.ndarray
    other: str = "kept"


@pytest.fixture
def made(monkeypatch: pytest.MonkeyPatch) -> Any:
    """A climate, all of it made, whose parts say what they were asked for."""
    asked: dict[str, Any] = {}

    def past_runs(weather: Any, begins: date, days: int, today: date, **options: Any) -> Ensemble:
        asked.update(begins=begins, days=days, today=today, **options)
        return runs()

    def run_water(seasons: Any, yard: Any, bands: Any, **options: Any) -> Water:
        asked.update(band=bands[0], keep_above=yard.keep_above, **options)
        return Water(np.array([[1.0, 2.0]]), np.array([[3.0, 4.0]]))

    def young_logs(weather: Any, yard: Any, batches: Any, today: date, numbers: Any) -> Any:
        asked.update(young=(*batches[0], today))
        return ["young"]

    def tree_seasons(seasons: Any, number: int, where: Any, *_: Any) -> Any:
        return ("trees", season_grid_start(number, where))

    monkeypatch.setattr(f"{AT}.past_runs", past_runs)
    monkeypatch.setattr(f"{AT}.run_water", run_water)
    monkeypatch.setattr(f"{AT}.young_logs", young_logs)
    monkeypatch.setattr(f"{AT}.tree_seasons", tree_seasons)
    monkeypatch.setattr(f"{AT}._next_inoculation", lambda *_: ("next", date(2028, 4, 1)))

    def climate_of(diameter: float = 0.12, **options: Any) -> tuple[Any, dict[str, Any]]:
        yard = options.pop("yard", YARD)
        found = climate(yard, None, TODAY, diameter, NUMBERS, **options)  # type: ignore[arg-type]
        assert found.water is not None
        assert found.young == "young"
        return found, asked

    return climate_of


def test_each_weather_year_is_gone_through_again_under_a_year_of_its_own(made: Any) -> None:
    climate = made()[0]
    found = climate.seasons
    assert len(found.years) == len(set(found.years)) == 2 * ECHOES
    assert [year % 10_000 for year in found.years] == [2001, 2002] * ECHOES
    for name, more in (("tmin", 0), ("tmax", 1), ("tmean", 2), ("rain", 3), ("rh", 4)):
        values = getattr(found, name)
        assert values.shape[1] == 2 * ECHOES
        assert values[5].tolist() == [5.0 + more, 1005.0 + more] * ECHOES
    assert climate.water.moisture.tolist() == [[1.0, 2.0] * ECHOES]
    assert climate.water.watered.tolist() == [[3.0, 4.0] * ECHOES]


def test_moisture_is_that_of_the_nearest_size_of_logs_and_never_of_none(made: Any) -> None:
    for diameter, band in (
        (0.001, 0.025),
        (0.1124, 0.1),
        (0.1126, 0.125),
        (0.12, 0.125),
        (0.3, 0.3),
    ):
        found, asked = made(diameter)
        assert (found.band.diameter, asked["band"]) == (band, found.band)
        assert asked["young"][0] == found.band


def test_seasons_begin_at_this_one_s_midwinter_with_a_tail(made: Any) -> None:
    found, asked = made()
    assert (found.where, found.now) == ("north", 2027)
    assert (asked["begins"], asked["days"], asked["today"]) == (
        GRID,
        SEASON_DAYS + TAIL_DAYS,
        TODAY,
    )
    assert asked["most"] == YARD.weather.years
    assert (asked["keep_above"], asked["fresh"]) == (YARD.keep_above, False)
    assert found.seasons.years[:2] == (2001, 2002)
    south, asked = made(yard=replace(YARD, site=replace(YARD.site, latitude=-40.0)))
    # In May the season of the south is that which began in July.
    assert (south.where, south.now) == ("south", 2026)
    assert asked["begins"] == season_grid_start(2026, "south")


def test_the_day_of_inoculation_is_the_next_good_one_or_the_one_given(made: Any) -> None:
    found, asked = made()
    assert (found.trees, found.inoculated) == ("next", date(2028, 4, 1))
    assert asked["young"][1:] == (date(2028, 4, 1), TODAY)
    given, asked = made(inoculated=date(2029, 3, 1))
    assert given.inoculated == asked["young"][1] == date(2029, 3, 1)
    assert given.trees == ("trees", season_grid_start(2029, "north"))


def test_soak_days_are_the_yard_s_and_days_away_every_year_neither_soak_nor_sell(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def season_table(kind: Any, seasons: Any, water: Any, *found: Any, **_: Any) -> Any:
        return (kind, *found)

    monkeypatch.setattr(f"{AT}.season_table", season_table)
    site = SimpleNamespace(
        now=2027,
        where="north",
        seasons=runs(),
        water=None,
        band=SimpleNamespace(diameter=0.125),
        kind=lambda name: LogKind(name, 0.125),
        learning=nothing_learned(TODAY, YARD.site, NUMBERS.spread),
    )
    # Tuesdays from 15 April to 20 October; away in the first week of June of every year, and once
    # in May, which is of no other year.
    yard = replace(
        YARD,
        soaking=replace(YARD.soaking, days=(1,)),
        away=(Away((6, 1), (6, 7)), Away(date(2027, 5, 1), date(2027, 5, 20))),
    )
    kind, days, starts, sold, away = class_table("wide-range", site, yard, [0, 4], 0.9, 1, NUMBERS)
    assert (kind.strain_class, kind.diameter, starts) == ("wide-range", 0.125, [0, 4])
    on = [GRID + timedelta(days=day) for day in days]
    assert {day.weekday() for day in on} == {1}
    assert (on[0], on[-1]) == (date(2027, 4, 20), date(2027, 10, 19))
    assert date(2027, 6, 1) not in on and date(2027, 6, 8) in on and date(2027, 5, 4) in on
    assert len(on) == 27 - 1
    first = GRID - timedelta(days=LOOKBACK)
    gone = [first + timedelta(days=int(row)) for row in np.flatnonzero(away)]
    assert gone == [date(2027, 6, day) for day in range(1, 8)]
    assert sold.shape == (site.seasons.days, 1)
    assert sold[:, 0].tolist() == [0.0 if gone else 0.9 for gone in away]
