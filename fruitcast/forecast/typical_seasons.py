"""The typical seasons of a yard: weather, moisture, trees, young logs, and the tables of yields."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cached_property
from typing import Any, cast

import numpy as np

from fruitcast.biology.moisture import MoistureRun
from fruitcast.biology.yields import Hemisphere, hemisphere, season
from fruitcast.forecast.learned import YardLearning, nothing_learned
from fruitcast.forecast.log_weather import LogKind
from fruitcast.forecast.members import Ensemble
from fruitcast.forecast.past_seasons import (
    LOOKBACK_DAYS,
    TreeSeasons,
    inoculation_window,
    past_runs,
    run_water,
    season_grid_start,
    tree_seasons,
)
from fruitcast.forecast.water import Band, band_of
from fruitcast.forecast.yield_tables import (
    SEASON_DAYS,
    TAIL_DAYS,
    SeasonTable,
    YoungLogs,
    season_table,
    young_logs,
)
from fruitcast.numbers import Numbers
from fruitcast.topics import InoculationNumbers, LeafNumbers
from fruitcast.weather.daily import VARIABLES, DailyWeather
from fruitcast.yard.model import Yard

ECHOES = 4
"""How often each weather year is gone through, each time with scatter of its own."""

TOGETHER = 12
"""Climates whose young logs are reckoned side by side: more take no less time, but more memory."""

_ECHO = 10_000  # added to a weather year for each further round


@dataclass(frozen=True)
class Climate:
    """The site's typical seasons, ready for tables of yields; made when asked."""

    yard: Yard  # site, watering and number of weather years
    weather: DailyWeather  # complete up to yesterday
    today: date  # the first day not known
    numbers: Numbers  # the numbers in use
    where: Hemisphere  # hemisphere
    now: int  # this season, as `yields.season` counts
    band: Band  # size of the logs whose moisture stands for all
    runs: Ensemble  # past years from midwinter on
    trees: TreeSeasons  # thaw, leaf-out and so on of the season in which logs are next inoculated
    inoculated: date  # the day on which logs are next inoculated
    learning: YardLearning  # what is known of the yard's own yields and lead times

    @cached_property
    def seasons(self) -> Ensemble:
        """The past years, `ECHOES` columns for each."""
        runs = self.runs
        years = tuple(year + _ECHO * echo for echo in range(ECHOES) for year in runs.years)
        table = {name: np.tile(getattr(runs, name), (1, ECHOES)) for name in VARIABLES}
        return replace(runs, years=years, **cast(dict[str, Any], table))

    @cached_property
    def water(self) -> MoistureRun:
        """Moisture in them."""
        water = run_water([self.runs], self.yard, [self.band], fresh=False, numbers=self.numbers)
        moisture, watered = (np.tile(one, (1, ECHOES)) for one in (water.moisture, water.watered))
        return replace(water, moisture=moisture, watered=watered)

    @cached_property
    def young(self) -> YoungLogs:
        """Logs inoculated on that day."""
        return next(young_together([self]))

    def inoculated_on(self, day: date, diameter: float) -> Climate:
        """Return the same seasons for logs of another day of inoculation and size."""
        number, numbers = season(day, self.where), self.numbers
        trees = tree_seasons(self.runs, number, self.where, numbers.leaf, numbers.inoculation)
        return replace(self, band=band_of(diameter), trees=trees, inoculated=day)

    def kind(self, strain_class: str) -> LogKind:
        """Return the kind that stands for all logs of a class."""
        lead = round(self.learning.lead_of(strain_class), 4)
        return LogKind(strain_class, self.band.diameter, lead)


def young_together(climates: Sequence[Climate]) -> Iterator[YoungLogs]:
    """Yield the young logs of some climates of one yard, which differ in day and size."""
    for first in range(0, len(climates), TOGETHER):
        some = climates[first : first + TOGETHER]
        one = some[0]
        batches = [(each.band, each.inoculated) for each in some]
        yield from young_logs(one.weather, one.yard, batches, one.today, one.numbers)


def climate(
    yard: Yard,
    weather: DailyWeather,
    today: date,
    diameter: float,
    numbers: Numbers,
    *,
    learning: YardLearning | None = None,
    inoculated: date | None = None,
) -> Climate:
    """Return the site's typical seasons, for logs of one diameter over bark. [m]

    The weather is complete up to the day before `today`. Without `learning` nothing is known of the
    yard's own yields and lead times; without a day of inoculation it is the next good one.
    """
    where = hemisphere(yard.site.latitude)
    now = season(today, where)
    begins = season_grid_start(now, where)
    days = SEASON_DAYS + TAIL_DAYS
    runs = past_runs(weather, begins, days, today, most=yard.weather.years, lookback=LOOKBACK_DAYS)
    trees_go_by = numbers.leaf, numbers.inoculation
    if inoculated is None:
        trees, day = _next_inoculation(runs, today, now, where, *trees_go_by)
    else:
        trees = tree_seasons(runs, season(inoculated, where), where, *trees_go_by)
        day = inoculated
    return Climate(
        yard,
        weather,
        today,
        numbers,
        where,
        now,
        band_of(diameter),
        runs,
        trees,
        day,
        learning or nothing_learned(today, yard.site, numbers.spread),
    )


def _next_inoculation(
    runs: Ensemble,
    today: date,
    now: int,
    where: Hemisphere,
    leaf: LeafNumbers,
    inoculation: InoculationNumbers,
) -> tuple[TreeSeasons, date]:
    """Return the next season in which there is still time, and the day to inoculate."""
    for number in (now, now + 1):
        trees = tree_seasons(runs, number, where, leaf, inoculation)
        window = inoculation_window(trees, fresh_days=inoculation.fresh_days)
        if window is not None and window[1] >= today:
            return trees, max(window[0], today)
    # Where leaf-out can't be told from the warmth.
    after_midwinter = timedelta(days=int(inoculation.blind_days))
    return trees, season_grid_start(now + 1, where) + after_midwinter


def class_table(
    strain_class: str,
    climate: Climate,
    yard: Yard,
    starts: Sequence[int],
    saleable: float,
    seed: int,
    numbers: Numbers,
) -> SeasonTable:
    """Return the arcs of one class in this yard, for logs that can bear from some weeks on.

    Days away of one year only don't count. `saleable` is the share of the crop that can be sold
    [0..1], the seed that of the scatter.
    """
    begins = season_grid_start(climate.now, climate.where)
    every_year = [
        away for away in yard.away if isinstance(away.first, tuple) and isinstance(away.last, tuple)
    ]
    runs = climate.seasons
    away = np.array([any(a.covers(runs.date(row)) for a in every_year) for row in range(runs.days)])
    soak_days = [
        day
        for day in range(SEASON_DAYS)
        if yard.soaking.permits(begins + timedelta(days=day)) and not away[runs.lookback + day]
    ]
    luck, shared = climate.learning.usual_luck(runs.years, seed)
    return season_table(
        climate.kind(strain_class),
        runs,
        climate.water,
        soak_days,
        starts,
        saleable * ~away[:, None],
        away,
        under_cover=yard.fruiting.under_cover,
        where=climate.where,
        luck=luck,
        shared=shared,
        seed=seed,
        numbers=numbers,
    )
