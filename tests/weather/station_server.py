"""A stand-in for the open weather server: files of the real shape, answered by `responses`."""

from __future__ import annotations

import gzip
import sqlite3
from collections.abc import Iterable
from datetime import date, timedelta
from pathlib import Path

import responses

HOST = "https://data.meteostat.net"


def year_csv(
    year: int,
    *,
    until: date | None = None,
    without_rain: Iterable[date] = (),
    forecast_from: date | None = None,
    rain: float = 2.0,
    warmer: float = 0.0,
) -> str:
    """Return one year of one station as the bulk files have it, with sources behind values."""
    columns = ["temp", "tmin", "tmax", "rhum", "prcp", "snwd", "wspd", "pres"]
    lines = [",".join(["year", "month", "day", *columns, *(f"{c}_source" for c in columns)])]
    day = date(year, 1, 1)
    dry = set(without_rain)
    while day.year == year and (until is None or day <= until):
        low = 5.0 + warmer + (day.toordinal() % 7)
        source = "ghcnd"
        if forecast_from and day >= forecast_from:
            source = "dwd_poi dwd_mosmix" if day == forecast_from else "metno_forecast"
        fallen = "" if day in dry else f"{rain if day.toordinal() % 3 == 0 else 0.0}"
        values = [low + 4.5, low, low + 10.0, 70, fallen, "", 11.2, 1015.1]
        sources = [source if value != "" else "" for value in values]
        lines.append(",".join(map(str, [day.year, day.month, day.day, *values, *sources])))
        day += timedelta(days=1)
    return "\n".join(lines) + "\n"


def packed(text: str) -> bytes:
    return gzip.compress(text.encode(), mtime=0)


def serve_year(
    server: responses.RequestsMock, station: str, year: int, body: bytes | None = None, **options
) -> responses.BaseResponse:
    """Let the server answer with one year of one station."""
    if body is None:
        body = packed(year_csv(year, **options))
    return server.get(year_url(station, year), body=body, content_type="application/gzip")


def year_url(station: str, year: int) -> str:
    return f"{HOST}/daily/{year}/{station}.csv.gz"


def stations_db(
    folder: Path,
    rows: Iterable[tuple[str, str, float, float, int | None]],
    inventory: Iterable[tuple[str, str, str, str, str, float]] = (),
) -> bytes:
    """Return a list of stations as the database that the server offers."""
    path = folder / "made.db"
    with sqlite3.connect(path) as connection:
        connection.executescript(
            """CREATE TABLE stations (id TEXT PRIMARY KEY, country TEXT, region TEXT,
                   latitude REAL, longitude REAL, elevation INTEGER, timezone TEXT);
               CREATE TABLE names (station TEXT, language TEXT, name TEXT);
               CREATE TABLE inventory (station TEXT, provider TEXT, parameter TEXT, start TEXT,
                   end TEXT, completeness REAL);"""
        )
        connection.executemany("INSERT INTO inventory VALUES (?, ?, ?, ?, ?, ?)", inventory)
        for identifier, name, latitude, longitude, elevation in rows:
            connection.execute(
                "INSERT INTO stations VALUES (?, 'US', 'NY', ?, ?, ?, 'America/New_York')",
                (identifier, latitude, longitude, elevation),
            )
            connection.execute("INSERT INTO names VALUES (?, 'en', ?)", (identifier, name))
    connection.close()
    body = path.read_bytes()
    path.unlink()
    return body
