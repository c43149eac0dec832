"""The site's seasons out of past years: thaw, last frost, leaf-out and leaf fall, with ranges."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import numpy.typing as npt

from fruitcast.biology.tree_seasons import last_frost_day, leaf_fall_day, leaf_out_day, thawed_day
from fruitcast.forecast.members import Futures
from fruitcast.topics import InoculationNumbers, LeafNumbers

IntArray = npt.NDArray[np.int64]

DayRange = tuple[date | None, date | None, date | None]
"""Early, middle and late (10, 50 and 90 of 100 years); None when it doesn't come."""

_CHANCES = (0.1, 0.5, 0.9)
_YEAR = timedelta(days=365)


@dataclass(frozen=True)
class TreeSeasons:
    """One year's dates, as past years had them."""

    thawed: DayRange
    last_frost: DayRange
    leaf_out: DayRange
    leaf_fall: DayRange


def tree_seasons(
    seasons: Futures, begins: date, leaf: LeafNumbers, inoculation: InoculationNumbers
) -> TreeSeasons:
    """Return the dates of one season.

    Parameters
    ----------
    seasons : Futures
        Past years from midwinter on, see `past_seasons.past_runs`.
    begins : date
        The first day of the season that the dates are wanted for.
    leaf : LeafNumbers
        Numbers of leaf-out and leaf fall.
    inoculation : InoculationNumbers
        Numbers of inoculation.
    """
    tmean, tmin = seasons.tmean[seasons.lookback :], seasons.tmin[seasons.lookback :]

    def dates(day: IntArray) -> DayRange:
        found = np.quantile(day, _CHANCES, method="nearest").astype(np.int64).tolist()
        early, middle, late = (
            begins + timedelta(days=n) if 0 <= n < len(tmean) else None for n in found
        )
        return early, middle, late

    return TreeSeasons(
        thawed=dates(
            thawed_day(
                tmean, thaw_days=inoculation.thaw_days, thawed_above=inoculation.thawed_above
            )
        ),
        last_frost=dates(last_frost_day(tmin)),
        leaf_out=dates(leaf_out_day(tmean, leaf)),
        leaf_fall=dates(leaf_fall_day(tmean, leaf)),
    )


def inoculation_window(trees: TreeSeasons, *, fresh_days: float) -> tuple[date, date] | None:
    """Return the first and the last good day of spring to inoculate: thawed, and fresh wood.

    The last logs are felled by the leaf-out of an early year and inoculated while fresh.

    Parameters
    ----------
    trees : TreeSeasons
        The site's seasons.
    fresh_days : float
        From felling to inoculation at most. [day]
    """
    begin, felled, fall = trees.thawed[1], trees.leaf_out[0], trees.leaf_fall[1]
    if begin is None or felled is None:
        return None
    if fall is not None:
        begin = max(begin, fall - _YEAR)  # where winters are mild leaves fall past midwinter
    last = felled + timedelta(days=int(fresh_days))
    return min(begin, felled), last


def growing_season(trees: TreeSeasons, born: date) -> tuple[date, date]:
    """Return the growing season; the whole year of a day where leaves don't tell it."""
    out, fall = trees.leaf_out[1], trees.leaf_fall[1]
    if out is None or fall is None:
        return date(born.year, 1, 1), date(born.year, 12, 31)
    return out, fall
