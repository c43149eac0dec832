"""Small weather tables for the tests."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import numpy as np

from fruitcast.weather.daily import VARIABLES, DailyWeather, Source
from fruitcast.weather.formats import read_weather_file
from fruitcast.weather.table import derive_mean

NAN = float("nan")


def table(start: date, origin: str = "weather.csv", **columns) -> DailyWeather:
    """Return a table from lists of values; sources as `rain_source=[...]`, else observed."""
    length = max(len(v) for v in columns.values())
    values, sources = {}, {}
    for name in VARIABLES:
        values[name] = np.array(columns.get(name, [NAN] * length), dtype=float)
        told = columns.get(f"{name}_source", [Source.OBSERVED] * length)
        sources[name] = np.where(np.isnan(values[name]), Source.MISSING, told).astype(np.int8)
    derive_mean(values, sources)
    return DailyWeather(start, values, sources, origin=origin)


def steady(start: date, end: date, tmin=8.0, tmax=18.0, rain=2.0, **options) -> DailyWeather:
    """Return a table of equal days, both ends included."""
    length = (end - start).days + 1
    return table(start, tmin=[tmin] * length, tmax=[tmax] * length, rain=[rain] * length, **options)


def without(weather: DailyWeather, name: str, *days: date) -> DailyWeather:
    """Return a copy in which one variable is missing on some days."""
    values = {key: column.copy() for key, column in weather.values.items()}
    sources = {key: column.copy() for key, column in weather.sources.items()}
    for day in days:
        values[name][weather.index(day)] = np.nan
        sources[name][weather.index(day)] = Source.MISSING
    return DailyWeather(weather.start, values, sources, weather.origin)


def read(folder: Path, content: str | bytes, name: str = "weather.csv", **options) -> DailyWeather:
    """Write a file and read it as weather."""
    path = folder / name
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return read_weather_file(path, **options)


def same(one: DailyWeather, other: DailyWeather) -> bool:
    """Return whether two tables hold the same days, values and sources."""
    return one.start == other.start and all(
        np.array_equal(one.values[name], other.values[name], equal_nan=True)
        and np.array_equal(one.sources[name], other.sources[name])
        for name in VARIABLES
    )
