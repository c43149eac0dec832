"""Past years from one calendar day on, each year a member, and the trees' seasons in them.

Unlike the members of a plan these share nothing with the present: they stand for years still
far ahead. A run that would reach past the record repeats the record's last year.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from fruitcast.arrays import IntArray
from fruitcast.biology.moisture import MoistureRun
from fruitcast.biology.tree_seasons import last_frost_day, leaf_fall_day, leaf_out_day, thawed_day
from fruitcast.biology.wood import dry_from_wet, fresh_moisture
from fruitcast.biology.yields import Hemisphere, season_begins
from fruitcast.diary.plan import LikelyDays
from fruitcast.errors import WeatherGapError
from fruitcast.forecast.members import Ensemble
from fruitcast.forecast.water import COMMON_WOOD, Band, moisture_in
from fruitcast.numbers import Numbers
from fruitcast.topics import InoculationNumbers, LeafNumbers
from fruitcast.weather.daily import LONGER_RECORD, VARIABLES, DailyWeather, Source, same_day
from fruitcast.weather.known import FEWEST_YEARS
from fruitcast.weather.table import count_days
from fruitcast.yard.model import Yard

# The site's seasons out of past years: thaw, last frost, leaf-out and leaf fall, with ranges.


CHANCES = (0.1, 0.5, 0.9)
"""Early, middle and late of a range: so many of the years."""

_YEAR = timedelta(days=365)


@dataclass(frozen=True)
class TreeSeasons:
    """One year's dates, as past years had them."""

    thawed: LikelyDays
    last_frost: LikelyDays
    leaf_out: LikelyDays
    leaf_fall: LikelyDays


def likely_days(days: Sequence[date | None]) -> LikelyDays:
    """Return a range of its early, middle and late day; None when it doesn't come."""
    early, middle, late = days
    return LikelyDays(p10=early, p50=middle, p90=late)


def tree_seasons(
    runs: Ensemble,
    number: int,
    where: Hemisphere,
    leaf: LeafNumbers,
    inoculation: InoculationNumbers,
) -> TreeSeasons:
    """Return the dates of a growing season, by past years from midwinter on."""
    begins = season_grid_start(number, where)
    tmean, tmin = runs.tmean[runs.lookback :], runs.tmin[runs.lookback :]

    def dates(day: IntArray) -> LikelyDays:
        found = np.quantile(day, CHANCES, method="nearest").astype(np.int64).tolist()
        return likely_days(
            [begins + timedelta(days=n) if 0 <= n < len(tmean) else None for n in found]
        )

    return TreeSeasons(
        thawed=dates(thawed_day(tmean, inoculation)),
        last_frost=dates(last_frost_day(tmin)),
        leaf_out=dates(leaf_out_day(tmean, leaf)),
        leaf_fall=dates(leaf_fall_day(tmean, leaf)),
    )


def inoculation_window(trees: TreeSeasons, *, fresh_days: float) -> tuple[date, date] | None:
    """Return the first and the last good day of spring to inoculate: thawed, and fresh wood.

    The last logs are felled by the leaf-out of an early year and inoculated while fresh: at most
    `fresh_days` after.
    """
    begin, felled, fall = trees.thawed.p50, trees.leaf_out.p10, trees.leaf_fall.p50
    if begin is None or felled is None:
        return None
    if fall is not None:
        begin = max(begin, fall - _YEAR)  # where winters are mild leaves fall past midwinter
    last = felled + timedelta(days=int(fresh_days))
    return min(begin, felled), last


def growing_season(trees: TreeSeasons, born: date) -> tuple[date, date]:
    """Return the growing season; the whole year of a day where leaves don't tell it."""
    out, fall = trees.leaf_out.p50, trees.leaf_fall.p50
    if out is None or fall is None:
        return date(born.year, 1, 1), date(born.year, 12, 31)
    return out, fall


# Past years' weather from one calendar day on, each year a member: what a typical season brings.

LOOKBACK_DAYS = 120
"""Days in front of a run, so that moisture and rules that look back have settled. [day]"""

_YEAR_DAYS = 365
_MOST_MADE_UP = 0.2


def season_grid_start(year: int, where: Hemisphere) -> date:
    """Return the Monday on or before the start of a growing season.

    Seasons counted from a Monday have their soak days and sales on the same days of the grid
    every year.
    """
    first = season_begins(year, where)
    return first - timedelta(days=first.weekday())


def past_runs(
    weather: DailyWeather, start: date, days: int, today: date, *, most: int, lookback: int
) -> Ensemble:
    """Return the weather of the past years from one calendar day on, one column for each year.

    Row `lookback` is `start`, which may lie in the future, and `days` follow from it on. Only days
    before `today` count, up to which the weather is complete; of more years than `most` the latest
    are taken. Raises WeatherGapError if fewer than three are usable.
    """
    known = min(weather.index(today), weather.days)
    made_up = np.asarray(weather.sources["rain"]) != Source.OBSERVED
    years: list[int] = []
    runs: list[IntArray] = []
    for year in range(weather.start.year, today.year + 1):
        begin = weather.index(same_day(start, year))
        rows = np.arange(begin - lookback, begin + days)
        if rows[0] < 0 or begin + min(days, _YEAR_DAYS) > known:
            continue
        past = np.maximum(rows - known + 1, 0)
        rows = rows - -(-past // _YEAR_DAYS) * _YEAR_DAYS
        if rows.min() < 0 or made_up[rows].mean() > _MOST_MADE_UP:
            continue
        years.append(year)
        runs.append(rows)
    if len(runs) < FEWEST_YEARS:
        raise WeatherGapError(
            f"{weather.origin or 'The weather'} ({weather.start} to {weather.end}) holds the days "
            f"around {start:%d %B} and the {count_days(min(days, _YEAR_DAYS))} behind them in "
            f"{len(runs)} {'year' if len(runs) == 1 else 'years'}, and {FEWEST_YEARS} are the "
            f"least. {LONGER_RECORD}."
        )
    every = np.stack(runs[-most:], axis=1)
    tmin, tmax, tmean, rain, rh = (weather.values[name][every] for name in VARIABLES)
    return Ensemble(start, lookback, tuple(years[-most:]), tmin, tmax, tmean, rain, rh)


def run_water(
    runs: Sequence[Ensemble], yard: Yard, bands: Sequence[Band], *, fresh: bool, numbers: Numbers
) -> MoistureRun:
    """Return moisture and watering of logs through past years' weather, as watered in a yard.

    (day, year), the years of one of the runs, all of one length, after those of another; `bands`
    has the size of the logs in each. The first row finds them freshly felled, or settled.
    """
    gravity = numbers.tree(COMMON_WOOD).specific_gravity
    if fresh:
        initial = float(fresh_moisture(numbers.tree(COMMON_WOOD).density, gravity))
    else:
        initial = float(dry_from_wet(yard.keep_above or numbers.moisture.settled))
    years = [len(run.years) for run in runs]
    return moisture_in(yard.site, numbers)(
        np.full(sum(years), initial),
        **{name: np.hstack([getattr(run, name) for run in runs]) for name in VARIABLES},
        day_of_year=np.repeat([run.day_of_year for run in runs], years, axis=0).T,
        diameter=np.repeat([band.diameter for band in bands], years),
        specific_gravity=gravity,
        keep_above_wet=yard.keep_above,
    )
