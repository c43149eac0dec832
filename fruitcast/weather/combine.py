"""Two tables of one site put together: what was there, and what came in."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from fruitcast.weather.daily import VARIABLES, DailyWeather, Source
from fruitcast.weather.fill import stretched
from fruitcast.weather.rawtable import derive_mean
from fruitcast.weather.units import TEMPERATURES

_COMPARED = ("tmin", "tmax", "rain", "rh")


def contradictions(old: DailyWeather, new: DailyWeather) -> npt.NDArray[np.bool_]:
    """Return the days on which both tables say what was observed, and not the same.

    Returns
    -------
    (day,) bool array
        By the rows of `new`.
    """
    start, end = min(old.start, new.start), max(old.end, new.end)
    old, there = stretched(old, start, end), stretched(new, start, end)
    found = np.zeros(there.days, dtype=bool)
    for name in _COMPARED:
        both = (old.sources[name] == Source.OBSERVED) & (there.sources[name] == Source.OBSERVED)
        found |= both & ~np.isclose(old.values[name], there.values[name], atol=1e-6, rtol=0.0)
    first = there.index(new.start)
    return found[first : first + new.days]


def combined(old: DailyWeather, new: DailyWeather) -> DailyWeather:
    """Return one table of the days of both; where both know a value, `new` has it.

    Values keep their sources, and a forecast never replaces what was observed. The temperatures
    of a day are taken together from the table that has both lowest and highest; where neither
    has, they are put together unless they would cross.
    """
    start, end = min(old.start, new.start), max(old.end, new.end)
    old, new = stretched(old, start, end), stretched(new, start, end)
    whole_new, whole_old = _has_both(new), _has_both(old)
    crossed = ~whole_new & ~whole_old & (_either(old, new, "tmin") > _either(old, new, "tmax"))
    values, sources = {}, {}
    for name in VARIABLES:
        ahead = new.sources[name] == Source.FORECAST
        seen = (old.sources[name] != Source.FORECAST) & (old.sources[name] != Source.MISSING)
        take = np.isfinite(new.values[name])
        if name in TEMPERATURES:
            take = whole_new | (take & ~whole_old) | crossed
        take &= ~(ahead & seen)
        values[name] = np.where(take, new.values[name], old.values[name])
        sources[name] = np.where(take, new.sources[name], old.sources[name]).astype(np.int8)
    derive_mean(values, sources)
    credits_ = dict.fromkeys(line for line in (new.attribution, old.attribution) if line)
    return replace(
        old,
        values=values,
        sources=sources,
        attribution="; ".join(credits_),
        notes=(*old.notes, *new.notes),
    )


def _has_both(weather: DailyWeather) -> npt.NDArray[np.bool_]:
    return np.isfinite(weather.tmin) & np.isfinite(weather.tmax)


def _either(old: DailyWeather, new: DailyWeather, name: str) -> npt.NDArray[np.float64]:
    return np.where(np.isfinite(new.values[name]), new.values[name], old.values[name])
