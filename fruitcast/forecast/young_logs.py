"""A batch of young logs through past years: spawn run, first natural flush, waterings, crop."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from math import ceil

import numpy as np
import numpy.typing as npt

from fruitcast.biology.moisture import MoistureRun
from fruitcast.biology.natural import flush_chain
from fruitcast.biology.spawn_run import daily_progress, ready_day, required_quantile
from fruitcast.forecast.fruiting import Kind, fruiting
from fruitcast.forecast.members import Futures
from fruitcast.forecast.parts import Luck
from fruitcast.forecast.past_seasons import past_runs, run_water
from fruitcast.forecast.water import COMMON_WOOD, Band
from fruitcast.forecast.yield_tables import SeasonTable
from fruitcast.numbers import Numbers
from fruitcast.weather.daily import DailyWeather
from fruitcast.yard.model import Site

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

YOUNG_DAYS = 1100
"""Days from inoculation on that are looked at: three seasons. [day]"""

CHANCES = (0.1, 0.5, 0.9)
"""Early, middle and late of a range."""

_WOOD_CHANCES = (0.1, 0.3, 0.5, 0.7, 0.9)


@dataclass(frozen=True)
class YoungLogs:
    """Freshly inoculated logs in every past year's weather.

    Attributes
    ----------
    runs : Futures
        Row 0 is the day of inoculation.
    water : MoistureRun
        Moisture and watering, (day, year).
    progress : (day, year) float array
        Daily progress of the spawn run. [day at the optimum]
    """

    runs: Futures
    water: MoistureRun
    progress: FloatArray

    def waterings_by_month(self, days: int) -> dict[int, float]:
        """Return the waterings to expect in the first days, by calendar month."""
        watered = (self.water.watered[:days] > 0).mean(axis=1)
        months = np.array([self.runs.date(row).month for row in range(days)])
        return {
            month: float(watered[months == month].sum()) for month in dict.fromkeys(months.tolist())
        }


def young_logs(
    weather: DailyWeather,
    site: Site,
    band: Band,
    inoculated: date,
    today: date,
    *,
    keep_above: float | None,
    most_years: int,
    numbers: Numbers,
) -> YoungLogs:
    """Return logs inoculated on one day, in the weather that followed that day in past years.

    Parameters
    ----------
    weather : DailyWeather
        Complete up to yesterday.
    site : Site
        Latitude and shade.
    band : Band
        Size of the logs.
    inoculated, today : date
        Day of inoculation, and the first day not known.
    keep_above : float or None
        Moisture below which logs are watered. [kg/kg wet]
    most_years : int
        Most past years to use.
    numbers : Numbers
        The numbers in use.
    """
    runs = past_runs(weather, inoculated, YOUNG_DAYS, today, most=most_years, lookback=0)
    water = run_water(runs, site, band, keep_above=keep_above, fresh=True, numbers=numbers)
    progress = daily_progress(
        runs.tmin,
        runs.tmax,
        water.moisture,
        numbers.mycelium,
        shade=site.shade,
        dead_below=numbers.moisture.dead_below,
        moisture_full=numbers.spawn_run.moisture_full,
    )
    return YoungLogs(runs, water, progress)


def ready_quantiles(
    young: YoungLogs, required: float, chances: tuple[float, ...], *, scatter: float
) -> IntArray:
    """Return by which day the spawn run is done with given chances, over weather and wood.

    Parameters
    ----------
    young : YoungLogs
        The logs.
    required : float
        Middle requirement of such logs. [day at the optimum]
    chances : tuple of float
        The chances asked for. [0..1]
    scatter : float
        [unitless]

    Returns
    -------
    (chance,) int array
        Days from inoculation; `YOUNG_DAYS` when later.
    """
    rows = [
        ready_day(young.progress, required_quantile(required, chance, scatter=scatter))
        for chance in _WOOD_CHANCES
    ]
    found = np.quantile(np.concatenate(rows), chances, method="higher")
    return np.asarray(found, dtype=np.int64)


def first_natural_flush(
    young: YoungLogs, kind: Kind, required: float, luck: Luck, numbers: Numbers, seed: int
) -> IntArray:
    """Return the first pick of the first natural flush after the spawn run.

    Parameters
    ----------
    young : YoungLogs
        The logs.
    kind : Kind
        Class and thickness.
    required : float
        Requirement of the spawn run. [day at the optimum]
    luck : Luck
        What weather doesn't explain.
    numbers : Numbers
        The numbers in use.
    seed : int
        Seed of the scatter.

    Returns
    -------
    (year,) int array
        Days from inoculation; `YOUNG_DAYS` when later.
    """
    natural = fruiting(
        kind,
        young.runs,
        young.water.moisture,
        young.runs.rain + young.water.watered,
        np.zeros(0, dtype=np.int64),
        luck=luck,
        seed=seed,
        numbers=numbers,
        specific_gravity=numbers.tree(COMMON_WOOD).specific_gravity,
        where="north",  # of no account without a soak
    ).natural
    ready = ready_day(young.progress, required)
    rest = int(numbers.natural.rest_days)
    trigger = flush_chain(natural.trigger, natural.pick, rest, ready, 1)[0]
    days = len(natural.trigger)
    years = np.arange(len(ready))
    pick = natural.pick.first_pick[np.minimum(trigger, days - 1), years]
    return np.where(trigger < days, pick, days)


def rotation_crop(table: SeasonTable, start: int, *, rest_days: float) -> FloatArray:
    """Return a season's crop of a log that is soaked in turn with the rest of the yard.

    One turn for each week of the rotation, as many as the rest between soaks has: nine where it
    is not overridden. The turns begin in the first weeks open to the logs, and each log is
    soaked again as soon as its rest is over.

    Parameters
    ----------
    table : SeasonTable
        Arcs of the class.
    start : int
        Index into `table.starts`.
    rest_days : float
        From soak day to soak day. [day]

    Returns
    -------
    (turn, year) float array
        Of a log of factor 1. [kg/log]
    """
    mine = np.flatnonzero(table.first_start == start)
    if not len(mine):
        return np.asarray(table.none[start].sum(axis=0, dtype=np.float64))[None]
    open_weeks = table.soak_weeks[table.first_soak[mine]]
    weeks = ceil(rest_days / 7)
    turns = []
    for arc in mine[open_weeks < open_weeks.min() + weeks]:
        total = table.first[arc].sum(axis=0, dtype=np.float64)
        soak = int(table.first_soak[arc])
        while len(following := np.flatnonzero(table.inner_from == soak)):
            total += table.inner[following[0]].sum(axis=0)
            soak = int(table.inner_to[following[0]])
        turns.append(total + table.last[soak].sum(axis=0))
    return np.array(turns)
