"""Yards of a handful of logs from which nothing is sold, on real station weather.

Where the weather comes from is told in `tests/biology/real_weather.py`. A southern yard has a
northern station's weather half a year later: there is no southern record among them.
"""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

from tests.biology.real_weather import LATITUDES, series

SITES = {
    "champion": (-101.7, "America/Denver"),
    "brussels": (4.4, "Europe/Brussels"),
    "wageningen": (5.7, "Europe/Amsterdam"),
    "tunis": (10.2, "Africa/Tunis"),
}
"""Longitude and time zone."""

TODAY = date(1998, 4, 20)
HALF_A_YEAR = timedelta(days=184)

SETTINGS = """\
name = "Kitchen yard"
units = "metric"
[site]
latitude = {latitude}
longitude = {longitude}
elevation_m = 100
timezone = "{zone}"
[weather]
file = "weather.csv"
[soaking]
days = ["Sat"]
tank_logs = 6
"""

Row = tuple[str, str, int, date]
"""Stack, class, logs, day of inoculation."""

HANDFUL: tuple[Row, ...] = (
    ("A", "wide-range", 4, date(1995, 4, 1)),
    ("B", "wide-range", 4, date(1996, 4, 1)),
    ("C", "cold-weather", 4, date(1995, 4, 1)),
    ("N", "wide-range", 6, date(1998, 4, 1)),
    ("P", "cold-weather", 4, date(1998, 4, 10)),
)
"""12 logs that bear and 10 new ones."""


def write_table_yard(
    folder: Path, site: str, rows: tuple[Row, ...] = HANDFUL, *, south: bool = False
) -> Path:
    """Write a yard as it stands on `TODAY`, half a year later in the south."""
    folder.mkdir(parents=True, exist_ok=True)
    later = HALF_A_YEAR if south else timedelta()
    weather = series(site)
    lines = ["date,tmin,tmax,rain"]
    for day, *values in zip(
        weather.days, weather.tmin[:, 0], weather.tmax[:, 0], weather.rain[:, 0], strict=True
    ):
        if day < TODAY:
            lines.append(",".join([str(day + later), *(f"{value:.1f}" for value in values)]))
    (folder / "weather.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    longitude, zone = SITES[site]
    settings = SETTINGS.format(
        latitude=-LATITUDES[site] if south else LATITUDES[site],
        longitude=151.2 if south else longitude,
        zone="Australia/Sydney" if south else zone,
    )
    (folder / "yard.toml").write_text(settings, encoding="utf-8")
    stacks = ["stack,strain_class,strain,tree,logs,diameter_cm,length_cm,inoculated,spawn,note"]
    stacks += [
        f"{name},{kind},,white oak,{logs},12,100,{born + later},plug,"
        for name, kind, logs, born in rows
    ]
    (folder / "stacks.csv").write_text("\n".join(stacks) + "\n", encoding="utf-8")
    return folder
