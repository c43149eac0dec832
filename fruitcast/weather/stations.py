"""Which weather stations there are, how far from the yard, how much higher or lower."""

from __future__ import annotations

import csv
import math
import os
import sqlite3
from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Protocol

from fruitcast.atomic import write_atomically
from fruitcast.errors import OutputError, StationError

# Which weather stations there are, and how far they are from the yard.

NEAREST = "nearest"
"""Asks for the nearest station that measures temperature and rain."""

REFRESH = timedelta(days=90)
"""Age at which the list of stations is fetched again."""

_STORE = "stations.db"
_TIMEOUT = (5.0, 60.0)
_EARTH_RADIUS = 6371.0
_SQLITE = b"SQLite format 3\x00"
_COLUMNS = """SELECT stations.id, names.name, latitude, longitude, elevation FROM stations
    LEFT JOIN names ON stations.id = names.station AND names.language = 'en'"""

_NAMED = """SELECT stations.id, names.name, country, region, latitude, longitude, elevation
    FROM names JOIN stations ON stations.id = names.station WHERE names.name LIKE ?"""

_MEASURED = ("tmin", "tmax", "prcp")
_INVENTORY = """SELECT lower(parameter), min(start), max(end), max(completeness) FROM inventory
    WHERE station = ? AND lower(parameter) IN ('tmin', 'tmax', 'prcp') GROUP BY 1"""


@dataclass(frozen=True)
class Fetching:
    """How the weather of stations is had: what was fetched before may do."""

    # The instant that decides which stored copies are fresh; noon of the day when None
    now: datetime | None = None
    offline: bool = False  # whether stored copies are used alone
    folder: Path | None = None  # where stored copies are; in the yard when None


AS_USUAL, STORED = Fetching(), Fetching(offline=True)


class Point(Protocol):
    """Anything with a position."""

    @property
    def latitude(self) -> float:
        """North positive. [degree]"""
        ...

    @property
    def longitude(self) -> float:
        """East positive. [degree]"""
        ...


class Place(Point, Protocol):
    """Anything with a position and a height."""

    @property
    def elevation(self) -> float:
        """Height above the sea. [m]"""
        ...


@dataclass(frozen=True)
class Station:
    """One weather station."""

    id: str  # Meteostat's identifier
    name: str = ""  # its name; empty when unknown
    distance: float = math.nan  # from the yard; NaN when unknown [km]
    higher: float = math.nan  # how much higher than the yard it lies; NaN when unknown [m]

    def __str__(self) -> str:
        where = "" if math.isnan(self.distance) else f", {self.distance:.0f} km away"
        return f"Station {self.name or self.id} ({self.id}){where}"


def distance(latitude: float, longitude: float, site: Point) -> float:
    """Return the way over the globe from a point to the site. [km]"""
    north, south = math.radians(latitude), math.radians(site.latitude)
    east = math.radians(longitude - site.longitude)
    half = math.sin((north - south) / 2.0) ** 2
    half += math.cos(north) * math.cos(south) * math.sin(east / 2.0) ** 2
    return 2.0 * _EARTH_RADIUS * math.asin(min(1.0, math.sqrt(half)))


@dataclass(frozen=True)
class Record:
    """What the list of stations says that a station has measured."""

    # First and last day with lowest and highest temperature and rain
    first: date
    last: date
    complete: float = math.nan  # share of the days with all of them; NaN when unknown


@dataclass(frozen=True)
class NamedStation:
    """A weather station as a place to start from."""

    id: str  # Meteostat's identifier
    # Its name, country (ISO 3166) and region; empty when unknown
    name: str
    country: str
    region: str
    latitude: float  # [degree, north and east positive]
    longitude: float  # [degree, north and east positive]
    elevation: float | None  # height above the sea [m]

    def __str__(self) -> str:
        where = ", ".join(part for part in (self.region, self.country) if part)
        return f"{self.name}, {where}" if where else self.name


class StationsIndex:
    """The list of all stations, fetched rarely and kept in `folder`."""

    def __init__(self, folder: Path, now: datetime, offline: bool) -> None:
        self._path = folder / _STORE
        self._now = now.astimezone()
        self._offline = offline
        self._ready = False
        self.notes: list[str] = []

    def nearest(self, site: Place, most: int, within: float) -> list[Station]:
        """Return the stations within some kilometres, nearest first.

        Raises StationError if the list of stations can't be had.
        """
        north = math.degrees(within / _EARTH_RADIUS)
        rows = self._query(
            f"{_COLUMNS} WHERE latitude BETWEEN ? AND ?",
            (site.latitude - north, site.latitude + north),
        )
        stations = (_station(row, site) for row in rows)
        near = [station for station in stations if station.distance <= within]
        return sorted(near, key=lambda station: (station.distance, station.id))[:most]

    def named(self, name: str) -> list[NamedStation]:
        """Return the stations with a name in any language that holds this one, best first.

        A name that is the whole word comes before one that begins with it, and that before one that
        holds it somewhere; among equals the shorter name is first. Raises StationError if the list
        of stations can't be had.
        """
        rows = self._query(_NAMED, (f"%{name}%",))
        wanted = name.casefold()
        found = [(row[1] or "", _named(row)) for row in rows]

        def order(entry: tuple[str, NamedStation]) -> tuple[bool, bool, int, str]:
            called = entry[0].casefold()
            first = called.replace("/", " ").replace(",", " ").split(" ")
            begins = first[: len(wanted.split())] == wanted.split()
            return called != wanted, not begins, len(called), entry[1].id

        best = {station.id: station for _, station in sorted(found, key=order, reverse=True)}
        return list(best.values())[::-1]

    def record(self, identifier: str) -> Record | None:
        """Return what a station has measured, None where the list does not tell.

        Raises StationError if the list of stations can't be had.
        """
        self._make_ready()
        try:
            with closing(sqlite3.connect(self._path)) as connection:
                rows = connection.execute(_INVENTORY, (identifier,)).fetchall()
            spans = [
                (date.fromisoformat(first[:10]), date.fromisoformat(last[:10]), _number(share))
                for _, first, last, share in rows
            ]
        except (sqlite3.Error, ValueError, TypeError):
            return None
        if len({row[0] for row in rows}) < len(_MEASURED):
            return None
        share = min(each[2] for each in spans)
        return Record(
            max(each[0] for each in spans),
            min(each[1] for each in spans),
            share / 100.0 if share > 1 else share,
        )

    def find(self, identifier: str, site: Place) -> Station | None:
        """Return one station by its identifier, None when the list does not have it.

        Raises StationError if the list of stations can't be had.
        """
        rows = self._query(f"{_COLUMNS} WHERE stations.id = ?", (identifier,))
        return _station(rows[0], site) if rows else None

    def _query(self, sql: str, values: tuple[object, ...]) -> list[tuple]:
        self._make_ready()
        try:
            with closing(sqlite3.connect(self._path)) as connection:
                return connection.execute(sql, values).fetchall()
        except sqlite3.Error as error:
            raise StationError(
                f"{self._path}: the stored list of stations can't be used ({error}). Delete this "
                "file and fetch the weather again."
            ) from error

    def _make_ready(self) -> None:
        if self._ready:
            return
        stored = self._path.exists()
        age = timedelta.max
        if stored:
            age = self._now - datetime.fromtimestamp(self._path.stat().st_mtime).astimezone()
        if age >= REFRESH:
            failure = "working offline was asked for" if self._offline else self._download()
            if failure and not stored:
                raise StationError(
                    f"The list of weather stations can't be fetched, because {failure}, and no "
                    f"copy is stored in {self._path.parent}. Try again when the network is back, "
                    "or take in a file: 'fruitcast weather import FILE', with file = "
                    '"weather.csv" in place of the station under [weather] in yard.toml.'
                )
            if failure:
                self.notes.append(
                    f"The list of stations is {age.days} days old: a newer one can't be fetched, "
                    f"because {failure}."
                )
        self._ready = True

    def _download(self) -> str:
        """Fetch the list; return why it failed, or nothing."""
        import meteostat
        import requests

        failures = []
        for url in meteostat.config.stations_db_endpoints:
            try:
                response = requests.get(url, timeout=_TIMEOUT)
            except requests.RequestException:
                failures.append("the network or the server can't be reached")
                continue
            except ValueError:
                failures.append("the server points to what is no address")
                continue
            if response.status_code != 200:
                failures.append(f"the server answered {response.status_code}")
            elif not response.content.startswith(_SQLITE):
                failures.append(
                    "what came was no list of stations, perhaps a network's log-in page"
                )
            else:
                self._keep(response.content)
                return ""
        # The first address is the usual one; the others are tried for its sake.
        return failures[0] if failures else "no address of the list is known"

    def _keep(self, content: bytes) -> None:
        try:
            write_atomically(self._path, content)
            stamp = self._now.timestamp()
            os.utime(self._path, (stamp, stamp))
        except (OSError, OutputError) as error:
            raise StationError(
                f"The list of weather stations was fetched but can't be kept. {error}"
            ) from error


def _station(row: Sequence, site: Place) -> Station:
    identifier, name, latitude, longitude, elevation = row
    north, east = _number(latitude), _number(longitude)
    known = not math.isnan(north + east)
    away = distance(north, east, site) if known else math.nan
    return Station(str(identifier), str(name or ""), away, _number(elevation) - site.elevation)


def _number(value: object) -> float:
    """Return a number of the list, NaN where it has none."""
    return float(value) if isinstance(value, (int, float)) else math.nan


def _named(row: Sequence) -> NamedStation:
    identifier, name, country, region, latitude, longitude, elevation = row
    height = _number(elevation)
    return NamedStation(
        str(identifier),
        name or "",
        country or "",
        region or "",
        _number(latitude),
        _number(longitude),
        None if math.isnan(height) else height,
    )


# Where weather was measured: how far from the yard, and how much higher or lower.

FAR, HIGH = 50.0, 300.0
"""Distance [km] and difference in height [m] past which a station's weather may not be the
yard's. Judgement."""

_HEAD_BYTES, _HEAD_LINES = 8192, 12


def place_notes(name: str, away: float, higher: float) -> list[str]:
    """Return what to know of weather from far away [km] or from another height [m].

    The name says whose weather it is; NaN is unknown.
    """
    notes = []
    if away > FAR:
        notes.append(
            f"{name}: rain may differ much from the yard's; a rain gauge of "
            "your own helps ('fruitcast record rain')."
        )
    if abs(higher) > HIGH:
        way = "higher" if higher > 0 else "lower"
        notes.append(
            f"{name} lies {abs(higher):.0f} m {way} than the yard: "
            "expect it to be colder or warmer there."
        )
    return notes


def measured_away(path: Path, site: Point) -> float:
    """Return how far from the yard a file says that it was measured; NaN when it doesn't. [km]"""
    found = _place_in(path)
    return math.nan if found is None else distance(found[0], found[1], site)


def file_notes(path: Path, site: Place) -> list[str]:
    """Return what to know of a weather file that says where it was measured.

    Many downloads do, in columns of their own or in lines above the table. What says nothing of
    it, or is not to be read, gives no notes.
    """
    found = _place_in(path)
    if found is None:
        return []
    latitude, longitude, elevation = found
    away = distance(latitude, longitude, site)
    return place_notes(
        f"{path.name}, measured {away:.0f} km away", away, elevation - site.elevation
    )


def _place_in(path: Path) -> tuple[float, float, float] | None:
    """Return latitude, longitude and height told at the top of a file."""
    with path.open("rb") as stream:
        head = stream.read(_HEAD_BYTES).decode("utf-8-sig", errors="replace")
    lines = [line for line in head.splitlines() if line.strip()][:_HEAD_LINES]
    for titles, values in pairwise(lines):
        delimiter = max(",;\t", key=titles.count)
        names = [cell.strip().lower() for cell in next(csv.reader([titles], delimiter=delimiter))]
        if "latitude" not in names or "longitude" not in names:
            continue
        cells = next(csv.reader([values], delimiter=delimiter))
        row = dict(zip(names, cells, strict=False))
        latitude, longitude, elevation = (
            _cell_number(row.get(name, "")) for name in ("latitude", "longitude", "elevation")
        )
        if abs(latitude) <= 90.0 and abs(longitude) <= 360.0:
            return latitude, longitude, elevation
    return None


def _cell_number(cell: str) -> float:
    try:
        return float(cell.strip().replace(",", "."))
    except ValueError:
        return math.nan
