"""Yearly files of weather stations: fetched once, kept, and used stale when they must be."""

from __future__ import annotations

import errno
import gzip
import io
import sqlite3
import zlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from pathlib import Path
from typing import Any, cast

import meteostat
import numpy as np
import pandas as pd
import requests
from meteostat.core.providers import provider_service
from meteostat.enumerations import Grade, Granularity, Parameter, Priority, Provider
from meteostat.typing import ProviderRequest, ProviderSpec
from requests_cache import NEVER_EXPIRE, CachedSession

from fruitcast.errors import StationError
from fruitcast.progress import Progress, silent
from fruitcast.weather.daily import DailyWeather, Source, source_of_label
from fruitcast.weather.table import PLAUSIBLE, derive_mean

# One year of one station as Meteostat's bulk files hold it.
#
# A file is CSV, packed with gzip: the columns year, month, day, then one for each variable and one,
# named with `_source` behind it, for the provider or providers that each value comes from.

MOST_BYTES = 5_000_000
"""Longest year read, unpacked; a real one has some 30,000. [byte]"""

MOST_TITLES = 5_000
"""Longest line of titles; a real one has some 200. [byte]"""

_PARTS = ["year", "month", "day"]
_GZIP = b"\x1f\x8b"
_OURS = {"temp": "tmean", "tmin": "tmin", "tmax": "tmax", "rhum": "rh", "prcp": "rain"}


class BadPayloadError(ValueError):
    """What a server sent is not a year of daily weather; the message says what it is."""


@lru_cache(maxsize=64)
def parse_year(content: bytes) -> pd.DataFrame:
    """Return the values of one file by day and source, as Meteostat's own providers give them.

    The table is kept and not to be changed: what a server sends is looked at before it is stored,
    and then read. Raises BadPayloadError if the bytes are a web page, a broken archive, or a table
    of another shape.
    """
    if content.startswith(_GZIP):
        try:
            with gzip.open(io.BytesIO(content)) as archive:
                content = archive.read(MOST_BYTES + 1)
        except (OSError, EOFError, zlib.error) as error:
            raise BadPayloadError("a broken archive, perhaps cut short on the way") from error
    if len(content) > MOST_BYTES:
        raise BadPayloadError("far more than a year of daily weather")
    head = content[:500].lstrip().lower()
    if head.startswith(b"<"):
        raise BadPayloadError("a web page, perhaps the log-in page of a network")
    titles = content.lstrip().partition(b"\n")[0]
    if not head.startswith(b"year,month,day,") or len(titles) > MOST_TITLES:
        raise BadPayloadError("no daily weather table")
    try:
        table = pd.read_csv(io.BytesIO(content), skipinitialspace=True)
        table["time"] = pd.to_datetime(table[_PARTS])
        return _by_source(table)
    except (ValueError, TypeError, KeyError, ArithmeticError) as error:
        raise BadPayloadError("a daily weather table that can't be read") from error


def _by_source(table: pd.DataFrame) -> pd.DataFrame:
    """Return one row for each day and source label, with each value in its source's row."""
    days = table["time"]
    if days.isna().any() or days.duplicated().any():
        raise ValueError("days are missing or told twice")
    pieces = []
    for name in _OURS:
        if name not in table:
            continue
        values = pd.to_numeric(table[name]).to_numpy(dtype=float, na_value=np.nan)
        low, high = PLAUSIBLE[_OURS[name]]
        # What cannot be true is missing: it is then filled, and told, like any other gap.
        with np.errstate(invalid="ignore"):
            known = (values >= low) & (values <= high)
        labels = table.get(f"{name}_source")
        if labels is None:
            labels = pd.Series("unknown", index=table.index)
        source = labels.astype("string").fillna("unknown")[known]
        index = pd.MultiIndex.from_arrays([days[known], source], names=["time", "source"])
        pieces.append(pd.Series(values[known], index=index, name=name))
    if not pieces:
        raise KeyError("no variable is known")
    return pd.concat(pieces, axis=1).sort_index()


# The yearly files of weather stations: fetched once, kept, and used stale when they must be.

REFRESH = timedelta(days=1)
"""Age at which the file of a year that may still change is fetched again."""

REFRESH_ABSENT = timedelta(days=30)
"""Age at which a year that the server did not have is asked for again."""

SETTLING_MONTHS = 2
"""Months after its end in which a year's file may still be mended by late reports. Judgement."""

_TIMEOUT = (5.0, 30.0)
_STORE = "station_files.sqlite"


@dataclass(frozen=True)
class YearFile:
    """One year of one station as it came from the server or from the store."""

    year: int
    # Values by day and source; None when the server has no file of that year
    table: pd.DataFrame | None
    fetched: datetime  # when it was fetched [UTC]
    stale: str = ""  # why an old copy had to do; empty when it did not


class RefusedPayloadError(requests.RequestException):
    """Raised while a response is taken in, so that garbage never reaches the store."""


def kept_session(
    file: Path, read: Callable[[bytes], object], codes: Sequence[int] = (200,)
) -> CachedSession:
    """Return a session that keeps answers of some codes in a file, but none that can't be read.

    `read` raises BadPayloadError for such. Raises OSError or sqlite3.Error if the file can't be
    used.
    """

    def check(response: requests.Response, *_: object, **__: object) -> requests.Response:
        if response.status_code == 200:
            try:
                read(response.content)
            except BadPayloadError as error:
                raise RefusedPayloadError(f"what came was {error}") from error
        return response

    file.parent.mkdir(parents=True, exist_ok=True)
    session = CachedSession(
        file,
        backend="sqlite",
        serializer="json",
        expire_after=NEVER_EXPIRE,
        allowable_codes=codes,
    )
    session.hooks["response"].append(check)
    return session


def fetched_at(response: requests.Response) -> datetime:
    """Return when an answer came from the server."""
    told: datetime = getattr(response, "created_at", None) or datetime.now(UTC)
    return told if told.tzinfo else told.replace(tzinfo=UTC)


_ALL_DOWN = (
    _SILENT := "the server does not answer",
    _UNREACHED := "the network or the server can't be reached",
    _CIRCLES := "the server, or a network's log-in, sends in circles",
)
"""After these the same server need not be asked again."""


def ask(session: CachedSession, url: str, **options: Any) -> tuple[requests.Response | None, str]:
    """Return a server's answer, or None and why there is none."""
    try:
        return session.get(url, timeout=_TIMEOUT, **options), ""
    except RefusedPayloadError as error:
        return None, str(error)
    except requests.Timeout:
        return None, _SILENT
    except requests.ConnectionError:
        return None, _UNREACHED
    except requests.TooManyRedirects:
        return None, _CIRCLES
    except requests.RequestException as error:
        return None, f"the request failed ({type(error).__name__})"
    except ValueError:
        return None, "the server points to what is no address"


class YearFiles:
    """Access to the yearly files, over a persistent store in `folder`.

    Years that are over are fetched once; this year's file, and last year's in its first months,
    is fetched again when it is a day old. Anything that fails falls back on the stored copy.
    """

    def __init__(
        self, folder: Path, now: datetime, offline: bool, progress: Progress = silent
    ) -> None:
        self._folder = folder
        self._progress = progress
        self._now = now.astimezone()
        self._down = "working offline was asked for" if offline else ""
        self._got: dict[tuple[str, int], YearFile] = {}
        try:
            self._session = kept_session(folder / _STORE, parse_year, (200, 404))
        except (OSError, sqlite3.Error) as error:
            raise self._store_error(error) from error

    def __enter__(self) -> YearFiles:
        return self

    def __exit__(self, *_: object) -> None:
        self._session.close()

    def get_years(self, station: str, years: Iterable[int]) -> list[YearFile]:
        """Return the files of several years.

        Raises StationError if one can be had neither from the server nor from the store.
        """
        wanted, found = list(years), []
        for done, year in enumerate(wanted):
            self._progress(f"years of station {station}", done, len(wanted))
            found.append(self.get(station, year))
        return found

    def get(self, station: str, year: int) -> YearFile:
        """Return the file of one year; see `get_years`. One of a year to come may be absent."""
        if (station, year) not in self._got:
            try:
                self._got[station, year] = self._get(station, year)
            except sqlite3.Error as error:
                raise self._store_error(error) from error
        return self._got[station, year]

    def _get(self, station: str, year: int) -> YearFile:
        url = meteostat.config.daily_endpoint.format(station=station, year=year)
        key = self._session.cache.create_key(requests.Request("GET", url))
        stored = self._session.cache.get_response(key)
        copy = _year_file(year, stored)
        if copy is not None and self._is_fresh(copy):
            return copy
        failure = self._down
        if not failure:
            response, failure = ask(self._session, url, force_refresh=True)
            if failure in _ALL_DOWN:
                self._down = failure
            if response is not None:
                fresh = _year_file(year, response)
                if fresh is None:
                    failure = f"the server answered {response.status_code}"
                elif fresh.table is None and stored is not None and copy and copy.table is not None:
                    self._session.cache.save_response(stored, key, None)
                    failure = "the server says it no longer has the file"
                else:
                    return fresh
        if copy is None and year > self._now.year:
            return YearFile(year, None, self._now)
        if copy is None:
            raise StationError(
                f"Station {station}: the weather of {year} can't be fetched, because {failure}, "
                f"and no copy of it is stored in {self._folder}. Try again when the network is "
                "back, or name a weather file in yard.toml."
            )
        return YearFile(year, copy.table, copy.fetched, failure)

    def _is_fresh(self, copy: YearFile) -> bool:
        """Return whether a stored copy does without asking the server."""
        if copy.fetched > datetime.now().astimezone() + REFRESH:
            return False  # fetched while the machine's clock was ahead: its age is not known
        age = self._now - copy.fetched
        settled = date(copy.year + 1, 1 + SETTLING_MONTHS, 1)
        if copy.fetched.date() < settled:
            return age < REFRESH
        return copy.table is not None or age < REFRESH_ABSENT

    def _store_error(self, error: Exception) -> StationError:
        file = self._folder / _STORE
        code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_CORRUPT) & 0xFF
        if isinstance(error, OSError):
            forbidden = error.errno in (errno.EROFS, errno.EACCES, errno.EPERM)
            code = sqlite3.SQLITE_PERM if forbidden else sqlite3.SQLITE_IOERR
        if code in (sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN):
            remedy = "Make room on the disk, check the folder, and fetch the weather again."
        elif code in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM):
            remedy = "Check the folder and its permissions: fetched weather is kept there."
        elif code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
            remedy = "Another program is writing to it: try again when that is done."
        else:
            remedy = "Delete this file and fetch the weather again."
        return StationError(
            f"{file}: the store of station weather can't be used ({error}). {remedy}"
        )


def _year_file(year: int, response: requests.Response | None) -> YearFile | None:
    """Return what a response holds, None when it is no answer to the question."""
    if response is None:
        return None
    fetched = fetched_at(response)
    if response.status_code == 404:
        return YearFile(year, None, fetched)
    if response.status_code != 200:
        return None
    try:
        return YearFile(year, parse_year(response.content), fetched)
    except BadPayloadError:
        return None


# Our provider of daily weather inside Meteostat: its bulk files, by way of our own store.
#
# Meteostat's own provider reads its files past `requests`, so that no stored copy can help when the
# network is down, and it takes any failure for 'no data'. This one hands over files that were
# fetched beforehand (above), where failures are told. Registering reaches into
# `meteostat.core`, which is not a public interface: the version is pinned and a test guards it.

PROVIDER = "fruitcast_daily"
"""The name under which Meteostat knows this provider."""

PARAMETERS = [Parameter.TEMP, Parameter.TMIN, Parameter.TMAX, Parameter.RHUM, Parameter.PRCP]

_COLUMNS = {"tmin": "tmin", "tmax": "tmax", "tmean": "temp", "rain": "prcp", "rh": "rhum"}

_files: ContextVar[Sequence[YearFile]] = ContextVar("files")


def register() -> None:
    """Make this module known to Meteostat, once, and switch its own cache and limits off."""
    meteostat.config.cache_enable = False
    meteostat.config.block_large_requests = False
    if provider_service.get_provider(PROVIDER) is None:
        provider_service.register(
            ProviderSpec(
                id=PROVIDER,
                name="Meteostat daily bulk files by way of a local store",
                granularity=Granularity.DAILY,
                priority=Priority.HIGHEST,
                grade=Grade.RECORD,
                license=None,
                parameters=PARAMETERS,
                start=date(1781, 1, 1),
                module=__name__,
            )
        )


@contextmanager
def serving(files: Sequence[YearFile]) -> Iterator[None]:
    """Let `fetch` hand over these files while the context lasts."""
    token = _files.set(files)
    try:
        yield
    finally:
        _files.reset(token)


def read_daily(
    station: str, files: Sequence[YearFile], first: date, last: date
) -> DailyWeather | None:
    """Return one station's weather by way of Meteostat, None when there is none in these days."""
    register()
    with serving(files):
        series = meteostat.daily(
            meteostat.Station(id=station),
            first,
            last,
            parameters=PARAMETERS,
            providers=[cast(Provider, PROVIDER)],
        )
    table = None if series.empty else series.fetch(sources=True)
    if table is None or table.empty:
        return None
    givers = sorted({licence.attribution for licence in series.licenses if licence.attribution})
    credit = "Weather data: Meteostat (CC BY 4.0)"
    return _to_daily(table, f"{credit}, from {', '.join(givers)}" if givers else credit)


def _to_daily(table: pd.DataFrame, attribution: str) -> DailyWeather:
    """Return Meteostat's table as ours."""
    days = table.index.get_level_values("time").to_numpy().astype("datetime64[D]")
    start = days.min()
    at = (days - start).astype(np.int64)
    length = int(at.max()) + 1
    values, sources = {}, {}
    for name, column in _COLUMNS.items():
        values[name] = np.full(length, np.nan)
        values[name][at] = table[column].to_numpy(dtype=float, na_value=np.nan)
        labels = table[f"{column}_source"].astype("string").fillna("").tolist()
        codes = np.zeros(length, dtype=np.int8)
        codes[at] = [source_of_label(label) for label in labels]
        sources[name] = np.where(np.isnan(values[name]), Source.MISSING, codes).astype(np.int8)
    derive_mean(values, sources)
    return DailyWeather(start.item(), values, sources, attribution=attribution)


def fetch(request: ProviderRequest) -> pd.DataFrame | None:
    """Return the values by day and source; called by Meteostat."""
    tables = [file.table for file in _files.get() if file.table is not None]
    return pd.concat(tables) if tables else None
