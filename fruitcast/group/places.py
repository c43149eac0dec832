"""Reads the places of a district: one row a place, every fault with its line."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from functools import partial
from pathlib import Path
from typing import TypeVar
from zoneinfo import ZoneInfo

from fruitcast.errors import Fault, FaultsError
from fruitcast.numbers import default_numbers
from fruitcast.tables.faults import Findings
from fruitcast.tables.sheet import Row, read_sheet
from fruitcast.tables.textfile import read_text
from fruitcast.tables.values import WrongValueError, cell_number, iso_date, name, number
from fruitcast.units import keys_of, si_from_key
from fruitcast.yard.model import Site, WeatherSource

REQUIRED = (("place",), ("latitude",), ("longitude",), keys_of("elevation"), ("file", "station"))
OPTIONAL = ("inoculated",)

YEARS = 30
"""Past years that stand for the possible futures."""

_HEIGHTS = {"elevation_m": (-430.0, 6000.0, "m"), "elevation_ft": (-1410.0, 19_700.0, "ft")}

Read = TypeVar("Read")


@dataclass(frozen=True)
class Place:
    """A place of a district.

    Attributes
    ----------
    name : str
        Its name.
    site : Site
        Where it lies, under usual shade.
    weather : WeatherSource
        Where its weather comes from.
    inoculated : date or None
        Day on which its logs of this spring were inoculated; None: as is usual.
    """

    name: str
    site: Site
    weather: WeatherSource
    inoculated: date | None = None


def read_places(file: Path) -> tuple[Place, ...]:
    """Return the places of a table; weather files are looked for beside it.

    Raises
    ------
    FaultsError
        If anything in it is wrong: all faults.
    """
    found = Findings()
    try:
        content = read_text(file)
    except WrongValueError as error:
        raise FaultsError([Fault(str(file), error.problem, error.remedy)]) from None
    sheet = read_sheet(content, file.name, REQUIRED, OPTIONAL, found)
    places: dict[str, Place] = {}
    for row in sheet.rows:
        place = _Row(row, file, found).read()
        if place is None:
            continue
        if place.name in places:
            found.fault(
                f"{file.name} line {row.line}, {place.name}",
                "another place has this name",
                "Give each its own.",
            )
        places[place.name] = place
    if not sheet.rows and not found.faults:
        found.fault(file.name, "names no place", "Add one row for each.")
    if found.faults:
        raise FaultsError(found.faults)
    return tuple(places.values())


class _Row:
    """One row, checked cell by cell."""

    def __init__(self, row: Row, file: Path, found: Findings) -> None:
        self._cells, self._folder, self._found = row.cells, file.parent, found
        self._surplus = row.surplus
        self._place = f"{file.name} line {row.line}"
        if row.cells.get("place"):
            self._place += f", {row.cells['place']}"

    def read(self) -> Place | None:
        """Return the place, None when a cell is at fault."""
        if any(self._surplus):
            self._found.fault(
                self._place,
                "has more cells than the first line has columns",
                'Put a number with a decimal comma, or a text with commas, in quotes: "12,5".',
            )
            return None
        before = len(self._found.faults)
        called = self._cell("place", name)
        latitude = self._cell("latitude", partial(_number, -90, 90, "degrees, north positive"))
        longitude = self._cell("longitude", partial(_number, -180, 180, "degrees, east positive"))
        elevation = self._elevation()
        source = self._source()
        inoculated = self._cell("inoculated", iso_date) if self._cells.get("inoculated") else None
        if len(self._found.faults) > before or None in (called, latitude, longitude, source):
            return None
        assert called is not None and latitude is not None and longitude is not None
        assert source is not None
        shade = default_numbers().yard.shade
        site = Site(latitude, longitude, elevation, ZoneInfo("UTC"), shade)
        return Place(called, site, source, inoculated)

    def _cell(self, column: str, check: Callable[[str], Read]) -> Read | None:
        cell = self._cells.get(column)
        if cell is None:
            return None
        try:
            if not cell:
                raise WrongValueError("is empty", "Fill it in.")
            return check(cell)
        except WrongValueError as error:
            self._found.fault(f"{self._place} {column}", error.problem, error.remedy)
            return None

    def _elevation(self) -> float:
        given = [key for key in keys_of("elevation") if self._cells.get(key)]
        if len(given) > 1:
            self._found.fault(self._place, f"gives both {' and '.join(given)}", "Keep one of them.")
        if not given:
            return 0.0
        value = self._cell(given[0], partial(_number, *_HEIGHTS[given[0]]))
        return 0.0 if value is None else si_from_key(given[0], value)

    def _source(self) -> WeatherSource | None:
        file, station = self._cells.get("file", ""), self._cells.get("station", "")
        if bool(file) == bool(station):
            which = "names a file and a station" if file else "names neither a file nor a station"
            self._found.fault(self._place, which, "Its weather comes from one of them.")
            return None
        return WeatherSource(self._folder / file if file else None, station or None, YEARS)


def _number(low: float, high: float, unit: str, cell: str) -> float:
    return number(cell_number(cell), low, high, unit)
