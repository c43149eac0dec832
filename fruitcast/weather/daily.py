"""The daily weather table of one site: gap-free calendar, a source for each value."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from enum import IntEnum

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

VARIABLES = ("tmin", "tmax", "tmean", "rain", "rh")
"""Minimum, maximum, mean air temperature [degC], rain [mm/day], mean relative humidity [%]."""


class Source(IntEnum):
    """Where one day's value of one variable comes from."""

    MISSING = 0
    OBSERVED = 1
    FILLED = 2
    FORECAST = 3


@dataclass(frozen=True)
class DailyWeather:
    """Daily weather of one site on an unbroken run of days.

    Attributes
    ----------
    start : date
        The first day.
    values : mapping of str to (day,) float array
        One array for each of `VARIABLES`; NaN where missing. [degC, degC, degC, mm/day, %]
    sources : mapping of str to (day,) int8 array
        One array of `Source` codes for each variable.
    origin : str
        Words for people: the file's name, or the station with its distance.
    attribution : str
        The line the data's licence asks to be shown; empty for the grower's own file.
    notes : tuple of str
        What was done on the way that the grower should know (filled days, age of a stored copy).
    doubtful : tuple of date
        Late days whose values were set aside because nobody would believe them.
    """

    start: date
    values: Mapping[str, FloatArray]
    sources: Mapping[str, npt.NDArray[np.int8]]
    origin: str = ""
    attribution: str = ""
    notes: tuple[str, ...] = field(default=())
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


def same_day(day: date, year: int) -> date:
    """Return the same calendar day in another year; 29 February becomes the 28th where needed."""
    if (day.month, day.day) == (2, 29):
        return date(year, 3, 1) - timedelta(days=1)
    return day.replace(year=year)
