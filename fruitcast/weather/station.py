"""Daily weather of the nearest stations, or of given ones, from Meteostat's open data."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from fruitcast.errors import StationError
from fruitcast.progress import Progress, silent
from fruitcast.weather.daily import NEEDED, DailyWeather, Source
from fruitcast.weather.stations import NEAREST, Place, Station, StationsIndex, place_notes
from fruitcast.weather.table import count_days, merge, stretched

if TYPE_CHECKING:
    from fruitcast.weather.station_files import YearFile, YearFiles

WIDEST = 150.0
"""How far the nearest station is looked for. Judgement. [km]"""

MOST_TRIED, MOST_MERGED = 8, 3
"""How many stations near by are asked, and how many are put together. Judgement."""

COMPLETE = 0.99
"""Share of days with temperature and rain from which no further station is asked. Judgement."""


def fetch_station(
    site: Place,
    station: str,
    first: date,
    last: date,
    *,
    cache_folder: Path,
    now: datetime,
    offline: bool = False,
    progress: Progress = silent,
) -> DailyWeather:
    """Return the daily weather at or near a site, from the first to the last day with any value.

    The station is 'nearest', or an identifier, or several with commas between: gaps of the first
    are then filled from the others, those of the nearest from up to two others near by. `last`
    may lie ahead of today, for the forecast; `now` decides which stored copies in the folder are
    fresh. Notes tell of stale copies, distance and filled days, `attribution` what the data's
    licence asks to be shown. Raises StationError if there is no station, or its weather can be
    had neither from the network nor from the store. A failure is never taken for dry weather.
    """
    from fruitcast.weather.station_files import YearFiles

    index = StationsIndex(cache_folder, now, offline)
    notes: list[str] = []
    with YearFiles(cache_folder, now, offline, progress) as files:
        read = partial(_read_station, first=first, last=last, files=files, now=now)
        if station == NEAREST:
            yesterday = min(last, now.date() - timedelta(days=1))
            tables = _read_nearest(index, site, yesterday, files, read, notes)
        else:
            named = (identifier.strip() for identifier in station.split(","))
            tables = [read(_look_up(index, identifier, site, notes)) for identifier in named]
    merged = merge(tables[0], tables[1:])
    return replace(merged, notes=(*index.notes, *notes, *merged.notes))


def _look_up(index: StationsIndex, identifier: str, site: Place, notes: list[str]) -> Station:
    """Return a given station with its distance, or without where no list tells it."""
    try:
        found = index.find(identifier, site)
    except StationError:
        notes.append(
            f"How far station {identifier} is away is not known: the list of stations "
            "can't be had just now."
        )
        return Station(identifier)
    if found is None:
        notes.append(f"The list of stations does not have station {identifier}.")
    return found or Station(identifier)


def _read_nearest(
    index: StationsIndex,
    site: Place,
    yesterday: date,
    files: YearFiles,
    read: Callable[[Station], DailyWeather],
    notes: list[str],
) -> list[DailyWeather]:
    """Return the tables of the nearest stations, as many as it takes to leave few gaps."""
    near = index.nearest(site, MOST_TRIED, WIDEST)
    if not near:
        raise StationError(
            f"There is no weather station within {WIDEST:g} km of {site.latitude:g}, "
            f"{site.longitude:g}. Check latitude and longitude in yard.toml [site], or name a "
            "weather file."
        )
    tables: list[DailyWeather] = []
    failure: StationError | None = None
    for station in near:
        try:
            if not _reports(station, yesterday, files):
                continue
            table = read(station)
        except StationError as error:
            failure = failure or error
            notes.append(f"Passed over: {error}")
            continue
        if not tables and not all(np.isfinite(table.values[name]).any() for name in NEEDED):
            continue
        tables.append(table)
        merged = merge(tables[0], tables[1:])
        complete = stretched(merged, merged.start, yesterday).whole.mean()
        if len(tables) == MOST_MERGED or complete >= COMPLETE:
            break
    if tables:
        return tables
    raise failure or StationError(
        f"None of the {len(near)} weather stations nearest to {site.latitude:g}, "
        f"{site.longitude:g} reports temperature and rain. Give a station's identifier, or name "
        "a weather file in yard.toml."
    )


def _reports(station: Station, day: date, files: YearFiles) -> bool:
    """Return whether a station reports this year or did last year, and rain among it."""
    recent = files.get_years(station.id, (day.year, day.year - 1))
    return any(
        file.table is not None and {"tmin", "tmax", "prcp"} <= set(file.table.columns)
        for file in recent
    )


def _read_station(
    station: Station, first: date, last: date, files: YearFiles, now: datetime
) -> DailyWeather:
    """Return the table of one station with its notes."""
    from fruitcast.weather.station_files import read_daily

    years = files.get_years(station.id, range(first.year, last.year + 1))
    weather = read_daily(station.id, years, first, last)
    if weather is None:
        raise StationError(
            f"{station}: there is no daily weather between {first} and {last}. Check the "
            "identifier, or take 'nearest'."
        )
    weather = replace(weather, origin=str(station))
    return _drop_crossed(replace(weather, notes=tuple(_notes(station, years, now))))


def _drop_crossed(weather: DailyWeather) -> DailyWeather:
    """Return the table without days whose lowest temperature is above the highest."""
    crossed = weather.tmin > weather.tmax
    if not crossed.any():
        return weather
    values, sources = weather.copies()
    for name in ("tmin", "tmax", "tmean"):
        values[name][crossed] = np.nan
        sources[name][crossed] = Source.MISSING
    note = (
        f"{weather.origin}: tmin is above tmax on {count_days(int(crossed.sum()))}; the "
        "temperature of these days is taken as missing."
    )
    return replace(weather, values=values, sources=sources, notes=(*weather.notes, note))


def _notes(station: Station, years: Sequence[YearFile], now: datetime) -> list[str]:
    """Return what the grower should know of a station and of the copies in use."""
    notes = place_notes(str(station), station.distance, station.higher)
    stale = [year for year in years if year.stale]
    if stale:
        oldest = min(year.fetched for year in stale)
        age = max((now.astimezone() - oldest).days, 0)
        names = _spans([year.year for year in stale])
        notes.append(
            f"{station}: the stored copy of {names} is {count_days(age)} old "
            f"(fetched {oldest:%Y-%m-%d}), because {stale[0].stale}."
        )
    absent = [year.year for year in years if year.table is None and year.year <= now.year]
    if absent:
        notes.append(f"{station}: there is no file of {_spans(absent)}.")
    return notes


def _spans(years: Sequence[int]) -> str:
    """Return years in words, runs of them shortened: '1997-2002, 2005'."""
    runs: list[list[int]] = []
    for year in years:
        if runs and year == runs[-1][1] + 1:
            runs[-1][1] = year
        else:
            runs.append([year, year])
    return ", ".join(str(a) if a == b else f"{a}-{b}" for a, b in runs)
