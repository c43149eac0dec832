"""Where weather was measured: how far from the yard, and how much higher or lower."""

from __future__ import annotations

import csv
import math
from itertools import pairwise
from pathlib import Path

from fruitcast.weather.stations_index import Place, Point, distance

FAR, HIGH = 50.0, 300.0
"""Distance [km] and difference in height [m] past which a station's weather may not be the
yard's. Judgement."""

_HEAD_BYTES, _HEAD_LINES = 8192, 12


def place_notes(name: str, away: float, higher: float) -> list[str]:
    """Return what to know of weather from far away or from another height.

    Parameters
    ----------
    name : str
        Whose weather it is, in words.
    away : float
        From the yard; NaN when unknown. [km]
    higher : float
        How much higher than the yard it was measured; NaN when unknown. [m]
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
            _number(row.get(name, "")) for name in ("latitude", "longitude", "elevation")
        )
        if abs(latitude) <= 90.0 and abs(longitude) <= 360.0:
            return latitude, longitude, elevation
    return None


def _number(cell: str) -> float:
    try:
        return float(cell.strip().replace(",", "."))
    except ValueError:
        return math.nan
