"""Past days that nobody measured: the same calendar day of another year stands in.

The policy for rain that is still missing in a usable year: it is never zero and never a mean
(which would make every such day damp), but what fell on that calendar day in the nearest usable
year that knows. So wet and dry days come as often as they do. The same serves for temperature in
longer gaps, where the past of old logs has to be reckoned through.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

import numpy as np

from fruitcast.errors import WeatherGapError
from fruitcast.weather.daily import DailyWeather, Source, same_day
from fruitcast.weather.fill import count_days
from fruitcast.weather.rawtable import derive_mean
from fruitcast.weather.remedies import LONGER_RECORD

_WIDEST_SEARCH = 15
"""How many calendar days off a stand-in may lie when no year knows the very day. Judgement."""


def rain_for_members(weather: DailyWeather, years: Sequence[int], today: date) -> DailyWeather:
    """Return the weather with missing rain before `today` taken from the nearest usable year.

    Parameters
    ----------
    years : sequence of int
        The usable years.

    Raises
    ------
    WeatherGapError
        If no usable year knows the rain within 15 days of that calendar day.
    """
    return _borrow(weather, ("rain",), years, today, "rain")


def complete_past(weather: DailyWeather, years: Sequence[int], today: date) -> DailyWeather:
    """Return the weather with every day before `today` known: rain and temperature.

    Parameters and errors as in `rain_for_members`.
    """
    completed = _borrow(weather, ("tmin", "tmax"), years, today, "temperature")
    derive_mean(completed.values, completed.sources)
    return rain_for_members(completed, years, today)


def _borrow(
    weather: DailyWeather, names: tuple[str, ...], years: Sequence[int], today: date, what: str
) -> DailyWeather:
    values = {name: column.copy() for name, column in weather.values.items()}
    sources = {name: column.copy() for name, column in weather.sources.items()}
    unknown = np.zeros(weather.days, dtype=bool)
    for name in names:
        unknown |= np.isnan(weather.values[name])
    unknown[max(weather.index(today), 0) :] = False
    rows = np.flatnonzero(unknown).tolist()
    known = ~unknown
    known[max(weather.index(today), 0) :] = False
    for row in rows:
        donor = _donor(weather, weather.day(row), years, known)
        if donor is None:
            raise WeatherGapError(
                f"{weather.origin or 'The weather'}: no usable year knows the {what} around "
                f"{weather.day(row):%d %B}. {LONGER_RECORD}."
            )
        for name in names:
            values[name][row] = weather.values[name][donor]
            sources[name][row] = Source.FILLED
        if "tmin" in names:
            values["tmean"][row] = np.nan
    if not rows:
        return replace(weather, values=values, sources=sources)
    note = (
        f"Missing {what} of {count_days(len(rows))} is that of the same calendar day in the "
        "nearest usable year."
    )
    return replace(weather, values=values, sources=sources, notes=(*weather.notes, note))


def _donor(weather: DailyWeather, day: date, years: Sequence[int], known: np.ndarray) -> int | None:
    """Return the row of the nearest usable year that knows this calendar day, or one near it."""
    nearest = sorted(years, key=lambda year: (abs(year - day.year), year))
    offsets = sorted(range(-_WIDEST_SEARCH, _WIDEST_SEARCH + 1), key=lambda o: (abs(o), o))
    for offset in offsets:
        for year in nearest:
            row = weather.index(same_day(day, year) + timedelta(days=offset))
            if 0 <= row < weather.days and known[row]:
                return row
    return None
