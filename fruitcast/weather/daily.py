"""The daily weather of one site: a gap-free calendar, and where each value comes from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import IntEnum

import numpy as np
import numpy.typing as npt

from fruitcast.arrays import BoolArray, FloatArray
from fruitcast.tables.faults import FaultList, quoted

VARIABLES = ("tmin", "tmax", "tmean", "rain", "rh")
"""Minimum, maximum, mean air temperature [degC], rain [mm/day], mean relative humidity [%]."""

NEEDED = ("tmin", "tmax", "rain")
"""Those without which a day is not known."""

YEAR = 366
"""Days of the longest. [day]"""


class Source(IntEnum):
    """Where one day's value of one variable comes from."""

    MISSING = 0
    OBSERVED = 1
    FILLED = 2
    FORECAST = 3
    AWAITED = 4
    """Of a late day that isn't known yet: what is usual stands there, and each future departs."""


@dataclass(frozen=True)
class DailyWeather:
    """Daily weather of one site on an unbroken run of days."""

    start: date
    # One array for each of `VARIABLES`; NaN where missing [degC, degC, degC, mm/day, %]
    values: Mapping[str, FloatArray]
    sources: Mapping[str, npt.NDArray[np.int8]]  # one array of `Source` codes for each variable
    origin: str = ""  # words for people: the file's name, or the station with its distance
    # The line the data's licence asks to be shown; empty for the grower's own file
    attribution: str = ""
    # What was done on the way that the grower should know (filled days, age of a stored copy)
    notes: tuple[str, ...] = ()
    # Late days whose values were set aside because nobody would believe them
    doubtful: tuple[date, ...] = ()

    @property
    def days(self) -> int:
        """Number of days in the table."""
        return len(self.values["tmin"])

    @property
    def end(self) -> date:
        """The last day in the table."""
        return self.start + timedelta(days=self.days - 1)

    @property
    def tmin(self) -> FloatArray:
        """Daily minimum temperature. [degC]"""
        return self.values["tmin"]

    @property
    def tmax(self) -> FloatArray:
        """Daily maximum temperature. [degC]"""
        return self.values["tmax"]

    @property
    def tmean(self) -> FloatArray:
        """Daily mean temperature. [degC]"""
        return self.values["tmean"]

    @property
    def rain(self) -> FloatArray:
        """Daily rain; NaN where nobody knows. [mm/day]"""
        return self.values["rain"]

    @property
    def rh(self) -> FloatArray:
        """Daily mean relative humidity. [%]"""
        return self.values["rh"]

    @property
    def whole(self) -> BoolArray:
        """The days with all of `NEEDED`."""
        return np.asarray(np.isfinite([self.values[name] for name in NEEDED]).all(axis=0))

    def copies(self) -> tuple[dict[str, FloatArray], dict[str, npt.NDArray[np.int8]]]:
        """Return values and sources that can be changed."""
        return (
            {name: column.copy() for name, column in self.values.items()},
            {name: column.copy() for name, column in self.sources.items()},
        )

    def index(self, day: date) -> int:
        """Return the row of a day (negative or past the end when outside the table)."""
        return (day - self.start).days

    def day(self, index: int) -> date:
        """Return the date of a row."""
        return self.start + timedelta(days=index)

    def cut(self, first: date, past: date) -> DailyWeather:
        """Return the days from `first` up to, not including, `past`."""
        lo = min(max(self.index(first), 0), self.days)
        hi = max(min(self.index(past), self.days), lo)
        return replace(
            self,
            start=self.day(lo),
            values={name: column[lo:hi] for name, column in self.values.items()},
            sources={name: column[lo:hi] for name, column in self.sources.items()},
        )


def awaited_days(weather: DailyWeather, today: date) -> int:
    """Return how many days before `today`, one after the other, are awaited. [day]"""
    end = weather.index(today)
    codes = np.stack([weather.sources[name][:end] for name in NEEDED])
    known = np.flatnonzero((codes != Source.AWAITED).all(axis=0))
    return end - (int(known[-1]) + 1 if len(known) else 0)


def last_observed(weather: DailyWeather, today: date) -> date | None:
    """Return the last day before `today` of which all that plans need was observed."""
    end = max(weather.index(today), 0)
    codes = np.stack([weather.sources[name][:end] for name in NEEDED])
    seen = np.flatnonzero((codes == Source.OBSERVED).all(axis=0))
    return weather.day(int(seen[-1])) if len(seen) else None


def same_day(day: date, year: int) -> date:
    """Return the same calendar day in another year; 29 February becomes the 28th where needed."""
    if (day.month, day.day) == (2, 29):
        return date(year, 3, 1) - timedelta(days=1)
    return day.replace(year=year)


# What a weather file says about where its values come from.

FORECAST_PROVIDERS = frozenset(("dwd_mosmix", "metno_forecast"))
"""Meteostat's providers whose values are forecasts. A label may name several providers."""

_WORDS = {
    "observed": Source.OBSERVED,
    "": Source.OBSERVED,
    "filled": Source.FILLED,
    "forecast": Source.FORECAST,
}


def source_of_label(label: str) -> Source:
    """Return the source that a label of one value tells: a forecast if any of its words does."""
    words = label.lower().split()
    if "forecast" in words or not FORECAST_PROVIDERS.isdisjoint(words):
        return Source.FORECAST
    return Source.FILLED if "filled" in words else Source.OBSERVED


def parse_sources(
    columns: Mapping[str, Sequence[str]], lines: Sequence[int], faults: FaultList
) -> dict[str, npt.NDArray[np.int8]]:
    """Return the source codes of each variable that the file tells them for.

    A column 'source' speaks for the whole row and knows the words observed, filled and forecast;
    a column such as 'rain_source' for one variable, in our words or in the names of providers.
    """
    found: dict[str, npt.NDArray[np.int8]] = {}
    if "source" in columns:
        of_word = {cell: _WORDS.get(cell.strip().lower()) for cell in set(columns["source"])}
        for row, cell in enumerate(columns["source"]):
            if of_word[cell] is None:
                faults.add(
                    "sources",
                    f"source {quoted(cell)} is not a word we know",
                    "Write observed, filled or forecast, or leave it empty",
                    line=lines[row],
                )
        codes = np.array([of_word[c] or Source.OBSERVED for c in columns["source"]], dtype=np.int8)
        found = dict.fromkeys(VARIABLES, codes)
    for name in VARIABLES:
        cells = columns.get(f"{name}_source")
        if cells is not None:
            of_label = {label: source_of_label(label) for label in set(cells)}
            found[name] = np.array([of_label[cell] for cell in cells], dtype=np.int8)
    return found


# What a grower can do about weather that does not reach, in the words of the messages.

TAKE_IN = "'fruitcast weather import FILE'"
BY_STATION = 'station = "nearest" under [weather] in yard.toml'
LONGER_RECORD = f"Take in a longer record ({TAKE_IN}), or go by a station: {BY_STATION}"
