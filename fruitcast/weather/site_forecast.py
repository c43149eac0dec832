"""The forecast for the yard's own place, by MET Norway, where the station has none.

Meteostat knows the service: its address and its licence are taken from there. Its own reader
is not used, because it takes a failure for 'no data' and reads rain by the hour only, which the
forecast gives for the first two or three days. The service asks who is asking: without a line of
contact in the yard's settings nothing is asked.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from email.utils import parsedate_to_datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import meteostat
import numpy as np
import requests
from meteostat.core.providers import provider_service
from meteostat.enumerations import Provider

from fruitcast import __version__
from fruitcast.arrays import FloatArray
from fruitcast.weather.daily import VARIABLES, DailyWeather, Source
from fruitcast.weather.station_files import BadPayloadError, ask, fetched_at, kept_session
from fruitcast.weather.stations import Place
from fruitcast.weather.table import PLAUSIBLE, combined

REFRESH = timedelta(hours=1)
"""Age at which a forecast is asked for again, where the service names no hour. Judgement."""

MOST_OLD = timedelta(days=2)
"""A stored forecast older than this is left out: what it says of today is days old. Judgement."""

MOST_BYTES = 5_000_000
"""Longest answer read; a real one has some 30,000. [byte]"""

DECIMALS = 3
"""Of latitude and longitude, about a hundred metres: the service asks for four at most, and
nobody needs to know the yard more closely."""

_HOUR = 3600.0
_LONGEST_STEP = 6.0
_STORE = "site_forecast.sqlite"


def with_site_forecast(
    weather: DailyWeather,
    site: Place,
    timezone: ZoneInfo,
    contact: str,
    *,
    cache_folder: Path,
    now: datetime,
    offline: bool = False,
) -> DailyWeather:
    """Return a station's weather with a forecast for the site behind it, if it has none.

    Days are those of the yard's zone; the contact, an address or a page, says who asks, the rest
    is as in `station.fetch_station`. The notes tell of an old forecast, or why there is none;
    `attribution` has the service's line too.
    """
    today = now.astimezone(timezone).date()
    if has_forecast(weather, today):
        return weather
    content, failure = _fetch(_address(site), contact, cache_folder, now, offline)
    if content is None:
        return replace(
            weather,
            notes=(
                *weather.notes,
                f"There is no forecast for the yard, because {failure}: what comes is taken from "
                "past years alone.",
            ),
        )
    made, days = daily_forecast(content, timezone)
    ahead = days.cut(today, days.end + timedelta(days=1))
    age = now - made
    if age > MOST_OLD or not ahead.days:
        why = f" ({failure})" if failure else ""
        note = f"The forecast of {made:%Y-%m-%d} for the yard is too old to be used{why}."
        return replace(weather, notes=(*weather.notes, note))
    notes = weather.notes
    if failure:
        hours = round(age.total_seconds() / _HOUR)
        notes = (*notes, f"The forecast for the yard is {hours} hours old, because {failure}.")
    licence = _licence()
    whole = combined(weather, replace(ahead, attribution=f"Forecast: {licence}"))
    return replace(whole, notes=notes)


def has_forecast(weather: DailyWeather, today: date) -> bool:
    """Return whether a table has a forecast of temperature and rain for today or tomorrow."""
    near = weather.cut(today, today + timedelta(days=2))
    told = [near.sources[name] == Source.FORECAST for name in ("tmin", "tmax", "rain")]
    return bool(np.logical_and.reduce(told).any())


def daily_forecast(content: bytes, timezone: ZoneInfo) -> tuple[datetime, DailyWeather]:
    """Return when a forecast was made, and its days by the yard's own clock.

    Rain falls evenly within each step; temperatures go straight from step to step. A lowest or
    highest found in a step longer than an hour is set further out by what such steps miss on the
    days that are told by the hour. Days that are not told whole are left out, and all behind the
    first such day. Raises BadPayloadError if the content is anything else than the service's
    compact answer: GeoJSON, times in UTC, degC, % and mm.
    """
    try:
        made, steps = _steps(content)
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError) as error:
        raise BadPayloadError("no forecast that can be read") from error
    first = datetime.fromtimestamp(steps.time[0], timezone).date()
    found: list[dict[str, float]] = []
    missed: list[tuple[float, float]] = []
    start = None
    for ahead in range(30):
        day = first + timedelta(days=ahead)
        edges = [
            datetime(d.year, d.month, d.day, tzinfo=timezone).timestamp()
            for d in (day, day + timedelta(days=1))
        ]
        whole = steps.day(edges[0], edges[1])
        if whole is None:
            if found:
                break
            continue
        start = start or day
        coarse = steps.every(_LONGEST_STEP).day(edges[0], edges[1])
        if whole["step"] <= 1 and coarse is not None:
            missed.append((whole["tmin"] - coarse["tmin"], whole["tmax"] - coarse["tmax"]))
        found.append(whole)
    if start is None:
        raise BadPayloadError("a forecast without one whole day")
    lower, higher = np.mean(missed, axis=0).tolist() if missed else (0.0, 0.0)
    values = {name: np.array([day[name] for day in found]) for name in VARIABLES}
    values["tmin"] = values["tmin"] + lower * np.array([day["low_step"] > 1 for day in found])
    values["tmax"] = values["tmax"] + higher * np.array([day["high_step"] > 1 for day in found])
    sources = {
        name: np.where(np.isfinite(column), Source.FORECAST, Source.MISSING).astype(np.int8)
        for name, column in values.items()
    }
    return made, DailyWeather(start, values, sources, origin="the forecast for the yard")


@dataclass(frozen=True)
class _Steps:
    """A forecast at its points in time; rain from each point to the next, NaN where unknown."""

    time: FloatArray
    temperature: FloatArray
    humidity: FloatArray
    rain: FloatArray

    def every(self, hours: float) -> _Steps:
        """Return only the points at multiples of some hours, without rain."""
        kept = np.isclose(self.time % (hours * _HOUR), 0)
        some = self.time[kept]
        return _Steps(
            some, self.temperature[kept], self.humidity[kept], np.zeros(max(len(some) - 1, 0))
        )

    def day(self, start: float, end: float) -> dict[str, float] | None:
        """Return what is told of a day; None when that isn't all of it."""
        if len(self.time) < 2 or self.time[0] > start or self.time[-1] < end:
            return None
        inside = (self.time[1:] > start) & (self.time[:-1] < end)
        step = np.diff(self.time)[inside]
        if step.max() > _LONGEST_STEP * _HOUR or not np.isfinite(self.rain[inside]).all():
            return None
        hours = np.arange(start, end + 1, _HOUR)
        own = self.time[(self.time >= start) & (self.time <= end)]
        grid = np.unique(np.concatenate([hours, own, [end]]))
        warm = np.interp(grid, self.time, self.temperature)
        fallen = np.concatenate([[0.0], np.cumsum(np.nan_to_num(self.rain))])
        low, high = np.interp([start, end], self.time, fallen)
        return {
            "tmin": float(warm.min()),
            "tmax": float(warm.max()),
            "tmean": _mean(warm, grid),
            "rain": float(high - low),
            "rh": _mean(np.interp(grid, self.time, self.humidity), grid),
            "step": float(step.max() / _HOUR),
            "low_step": self._step_at(float(grid[warm.argmin()])),
            "high_step": self._step_at(float(grid[warm.argmax()])),
        }

    def _step_at(self, moment: float) -> float:
        """Return the longest step that a moment lies in or beside. [h]"""
        at = int(np.searchsorted(self.time, moment))
        return float(np.diff(self.time)[max(at - 1, 0) : at + 1].max() / _HOUR)


def _mean(values: FloatArray, time: FloatArray) -> float:
    """Return the mean over time of values joined by straight lines."""
    middle = (values[1:] + values[:-1]) / 2
    return float(middle @ np.diff(time) / (time[-1] - time[0]))


def _steps(content: bytes) -> tuple[datetime, _Steps]:
    properties = json.loads(content)["properties"]
    made = datetime.fromisoformat(properties["meta"]["updated_at"])
    series: Sequence[Mapping[str, Any]] = properties["timeseries"]
    time = np.array([datetime.fromisoformat(point["time"]).timestamp() for point in series])
    if made.tzinfo is None or len(time) < 2 or (np.diff(time) <= 0).any():
        raise ValueError("times are missing or don't rise")
    details = [point["data"]["instant"]["details"] for point in series]
    temperature = np.array([float(told["air_temperature"]) for told in details])
    humidity = np.array([float(told.get("relative_humidity", np.nan)) for told in details])
    rain = np.array(
        [
            _rain(point["data"], hours)
            for point, hours in zip(series, np.diff(time) / _HOUR, strict=False)
        ]
    )
    for name, column in (("tmean", temperature), ("rh", humidity), ("rain", rain)):
        low, high = PLAUSIBLE[name]
        if ((column < low) | (column > high)).any():
            raise ValueError(f"{name} can't be true")
    if not np.isfinite(temperature).all():
        raise ValueError("a temperature is missing")
    return made, _Steps(time, temperature, humidity, rain)


def _rain(data: Mapping[str, Any], hours: float) -> float:
    """Return the rain of one step; NaN where it isn't told. [mm]"""
    for length in (1.0, 6.0):
        told = data.get(f"next_{length:g}_hours", {}).get("details", {})
        if "precipitation_amount" in told and hours <= length:
            return float(told["precipitation_amount"]) * hours / length
    return float("nan")


def _address(site: Place) -> str:
    url = meteostat.config.metno_forecast_endpoint.format(
        latitude=round(site.latitude, DECIMALS),
        longitude=round(site.longitude, DECIMALS),
        elevation=round(site.elevation),
    )
    # Of a yard whose height is not known the service takes that of its own map.
    return url if site.elevation else url.partition("&altitude")[0]


def _licence() -> str:
    spec = provider_service.get_provider(Provider.METNO_FORECAST)
    if spec is None or spec.license is None:
        return "MET Norway"
    return f"{spec.license.attribution} ({spec.license.name})"


def _fetch(
    url: str, contact: str, folder: Path, now: datetime, offline: bool
) -> tuple[bytes | None, str]:
    """Return the answer that is to be used, and why no newer one can be had."""
    try:
        with kept_session(folder / _STORE, _read) as session:
            session.headers["User-Agent"] = f"fruitcast/{__version__} {contact}"
            key = session.cache.create_key(requests.Request("GET", url))
            stored = session.cache.get_response(key)
            if stored is not None and now < _good_until(stored):
                return stored.content, ""
            failure = "working offline was asked for"
            if not offline:
                # Asked with the date of the stored one: the service sends nothing twice.
                since = None if stored is None else stored.headers.get("Last-Modified")
                headers = {"If-Modified-Since": since} if since else {}
                response, failure = ask(session, url, force_refresh=True, headers=headers)
                if response is not None and response.status_code == 200:
                    return response.content, ""
                if response is not None and response.status_code == 304 and stored is not None:
                    stored.headers.update(response.headers)
                    session.cache.save_response(stored, key, None)
                    return stored.content, ""
                if response is not None:
                    failure = f"the service answered {response.status_code}"
            return (None if stored is None else stored.content), failure
    except (OSError, sqlite3.Error) as error:
        return None, f"its store can't be used ({error})"


def _good_until(response: requests.Response) -> datetime:
    """Return until when a stored answer does without asking again."""
    told = response.headers.get("Expires")
    try:
        if told:
            until = parsedate_to_datetime(told)
            return until if until.tzinfo else until.replace(tzinfo=UTC)
    except ValueError:
        pass
    return fetched_at(response) + REFRESH


def _read(content: bytes) -> None:
    """Read a forecast; raises BadPayloadError if it is none."""
    if len(content) > MOST_BYTES:
        raise BadPayloadError("far more than a forecast")
    daily_forecast(content, ZoneInfo("UTC"))
