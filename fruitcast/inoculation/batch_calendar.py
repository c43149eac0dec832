"""When a batch of logs is felled, inoculated, turned, ready, soaked first, and first bears."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from fruitcast.biology.spawn_run import required_progress
from fruitcast.biology.tree_seasons import turning_days
from fruitcast.forecast.tree_seasons import (
    DayRange,
    TreeSeasons,
    growing_season,
    inoculation_window,
)
from fruitcast.forecast.typical_seasons import Climate
from fruitcast.forecast.young_logs import (
    CHANCES,
    YOUNG_DAYS,
    first_natural_flush,
    ready_quantiles,
)
from fruitcast.inoculation.programme_logs import LogKind
from fruitcast.numbers import Numbers
from fruitcast.soaks.permitted import may_soak
from fruitcast.yard.model import Yard

_YEAR = 365
_SEARCH_DAYS = 400  # days past the earliest soak in which a permitted soak day is looked for


@dataclass(frozen=True, kw_only=True)
class BatchCalendar:
    """The dates of a batch, by this site's past years.

    Attributes
    ----------
    inoculated : date
        The day of inoculation that everything is counted from.
    trees : TreeSeasons
        Thaw, last frost, leaf-out and leaf fall of that year.
    felling : (date, date) or None
        First and last day to fell: from leaf fall to the leaf-out of an early year.
    window : (date, date) or None
        First and last good day to inoculate.
    turning : tuple of date
        Days to turn and restack.
    waterings : dict of int to float
        Waterings to expect in the first year, by calendar month.
    ready : DayRange
        End of the spawn run.
    sure : date
        Day by which it is done with the chance that plans go by.
    first_soak : date
        Past that and the first year.
    in_time : bool
        Whether that is within three seasons.
    earliest_soak : date or None
        First permitted soak day from `first_soak` on; None when that is not within three seasons.
    first_natural : DayRange
        First natural flush, if nothing is soaked.
    """

    inoculated: date
    trees: TreeSeasons
    felling: tuple[date, date] | None
    window: tuple[date, date] | None
    turning: tuple[date, ...]
    waterings: dict[int, float]
    ready: DayRange
    sure: date
    first_soak: date
    in_time: bool
    earliest_soak: date | None
    first_natural: DayRange


def batch_calendar(
    kind: LogKind, site: Climate, yard: Yard, seed: int, numbers: Numbers
) -> BatchCalendar:
    """Return the dates of a batch that is inoculated on the day of a climate.

    Parameters
    ----------
    kind : LogKind
        Class, tree, size and spawn.
    site : Climate
        The site's typical seasons, with young logs from the day of inoculation on.
    yard : Yard
        Watering and soak days.
    seed : int
        Seed of the scatter.
    numbers : Numbers
        The numbers in use.
    """
    born = site.inoculated
    required = required_progress(
        kind.spawn,
        kind.diameter,
        numbers.spawn_run,
        class_factor=numbers.strain(kind.strain_class).spawn_run.factor,
        tree_factor=numbers.tree(kind.tree).starts,
    )
    chance = numbers.schedule.ready_chance
    *span, sure = ready_quantiles(
        site.young, required, (*CHANCES, chance), scatter=numbers.spawn_run.scatter
    ).tolist()
    in_time = sure < YOUNG_DAYS
    first_soak = born + timedelta(days=max(sure, int(numbers.forced.first_after_days)))
    luck, _ = site.learning.usual_luck(site.young.runs.years, seed)
    natural = first_natural_flush(
        site.young,
        site.kind(kind.strain_class),
        required,
        luck,
        numbers,
        seed,
    )
    middle = born + timedelta(days=int(span[1]))
    return BatchCalendar(
        inoculated=born,
        trees=site.trees,
        felling=_felling(site.trees),
        window=inoculation_window(site.trees, fresh_days=numbers.inoculation.fresh_days),
        turning=turning_days(
            born, middle, growing_season(site.trees, born), turn_days=numbers.inoculation.turn_days
        ),
        waterings={} if yard.keep_above is None else site.young.waterings_by_month(_YEAR),
        ready=_days(born, span),
        sure=born + timedelta(days=sure),
        first_soak=first_soak,
        in_time=in_time,
        earliest_soak=next_soak_day(yard, first_soak) if in_time else None,
        first_natural=_days(born, np.quantile(natural, CHANCES, method="nearest").tolist()),
    )


def next_soak_day(yard: Yard, first: date) -> date | None:
    """Return the first permitted soak day from a day on; None when there is none in a year."""
    days = (first + timedelta(days=n) for n in range(_SEARCH_DAYS))
    return next((day for day in days if may_soak(yard, day)), None)


def _days(born: date, rows: Sequence[float]) -> DayRange:
    early, middle, late = (
        born + timedelta(days=int(row)) if row < YOUNG_DAYS else None for row in rows
    )
    return early, middle, late


def _felling(trees: TreeSeasons) -> tuple[date, date] | None:
    """Return the dormant season before leaf-out: from the leaf fall of the year before."""
    fall, out = trees.leaf_fall[1], trees.leaf_out[0]
    if fall is None or out is None:
        return None
    return fall - timedelta(days=_YEAR), out
