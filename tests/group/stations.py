"""Twelve places with real daily weather, as a table for a district's outlook.

    python -m tests.group.stations FOLDER

Eleven come with the package aquacrop (aquacrop/data/NAME_climate.txt), Wageningen with pcse, read
from the installed packages. Their years are moved by whole leap cycles, so that all are known on
one day.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np

from fruitcast.weather.daily import same_day
from tests.biology.real_weather import Series, series

TODAY = date(2027, 5, 3)


@dataclass(frozen=True)
class Station:
    """A place; `moved` years carry its last ones past `TODAY`."""

    name: str
    latitude: float
    longitude: float
    elevation: float
    moved: int


STATIONS = (
    Station("champion", 40.4, -101.7, 1029, 12),
    Station("cordoba", -31.4, -64.2, 390, 8),
    Station("tunis", 36.8, 10.2, 4, 28),
    Station("hyderabad", 17.4, 78.5, 542, 20),
    Station("brussels", 50.8, 4.4, 100, 24),
    Station("wageningen", 52.0, 5.7, 7, 28),
    Station("cambridge", 52.2, 0.1, 13, 8),
    Station("suffolk", 52.2, 1.0, 50, 8),
    Station("norfolk", 52.7, 1.0, 50, 8),
    Station("lincolnshire", 53.1, -0.2, 20, 8),
    Station("north_yorks", 54.2, -1.4, 100, 8),
    Station("northumberland", 55.2, -1.7, 100, 8),
)


def moved_weather(weather: Series, years: int, today: date = TODAY) -> str:
    """Return a place's weather as our own CSV, its years moved, up to the day before `today`."""
    lines = ["date,tmin,tmax,rain"]
    table = np.hstack([weather.tmin, weather.tmax, weather.rain])
    for day, (low, high, rain) in zip(weather.days, table, strict=True):
        on = same_day(day, day.year + years)
        if on >= today:
            break
        lines.append(f"{on},{low:g},{max(high, low):g},{max(rain, 0.0):g}")
    return "\n".join(lines) + "\n"


def write_places(folder: Path, stations: tuple[Station, ...] = STATIONS) -> Path:
    """Write the weather of some stations and the table that names them; return the table."""
    folder.mkdir(parents=True, exist_ok=True)
    rows = ["place,latitude,longitude,elevation_m,file"]
    for at in stations:
        text = moved_weather(series(at.name), at.moved)
        (folder / f"{at.name}.csv").write_text(text, encoding="utf-8")
        called = at.name.replace("_yorks", " Yorkshire").title()
        rows.append(f"{called},{at.latitude},{at.longitude},{at.elevation},{at.name}.csv")
    table = folder / "places.csv"
    table.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return table


if __name__ == "__main__":
    write_places(Path(sys.argv[1]))
