"""Our provider of daily weather inside Meteostat: its bulk files, by way of our own store.

Meteostat's own provider reads its files past `requests`, so that no stored copy can help when the
network is down, and it takes any failure for 'no data'. This one hands over files that were
fetched beforehand (`year_files`), where failures are told. Registering reaches into
`meteostat.core`, which is not a public interface: the version is pinned and a test guards it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import date
from typing import cast

import meteostat
import numpy as np
import pandas as pd
from meteostat.core.providers import provider_service
from meteostat.enumerations import Grade, Granularity, Parameter, Priority, Provider
from meteostat.typing import ProviderRequest, ProviderSpec

from fruitcast.weather.daily import DailyWeather, Source
from fruitcast.weather.rawtable import derive_mean
from fruitcast.weather.sources import source_of_label
from fruitcast.weather.year_files import YearFile

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
