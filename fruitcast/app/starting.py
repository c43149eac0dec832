"""Starting a yard."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from fruitcast.units import Units
from fruitcast.yard.starter import write_starter

EXAMPLE = {"latitude": 42.6, "longitude": -73.4, "timezone": "America/New_York"}
"""What a starter yard says of its place as long as nobody has said it better."""


@dataclass(frozen=True)
class Started:
    """A yard just started.

    Attributes
    ----------
    folder : Path
        Its folder.
    files : tuple of Path
        The files written.
    examples : tuple of str
        Settings that are only examples, to be changed by hand.
    needs_weather : bool
        Whether it waits for a weather file.
    """

    folder: Path
    files: tuple[Path, ...]
    examples: tuple[str, ...]
    needs_weather: bool

    def document(self) -> dict[str, Any]:
        """Return it as a document of plain values."""
        return {
            "folder": str(self.folder),
            "files": [str(file) for file in self.files],
            "examples": list(self.examples),
            "needs_weather_file": self.needs_weather,
        }

    def words(self) -> list[str]:
        """Return what was done and what is to do next, a sentence each."""
        settings, stacks = self.files
        found = [f"A yard is started in {self.folder}."]
        if self.examples:
            listed = ", ".join(self.examples)
            found.append(f"Open {settings.name}: these are only examples there: {listed}.")
        found.append(f"Put your own stacks into {stacks.name}, one row each.")
        if self.needs_weather:
            found.append(
                "Take in daily weather with 'fruitcast weather import FILE', or write "
                f'station = "nearest" under [weather] in {settings.name}.'
            )
        found.append(
            "Then 'fruitcast check' lists what is still wrong, and 'fruitcast plan' plans."
        )
        return found


def start_yard(
    folder: Path,
    today: date,
    *,
    name: str | None = None,
    latitude: float | None = None,
    longitude: float | None = None,
    elevation_m: float | None = None,
    timezone: str | None = None,
    units: Units = "us",
    station: str | None = None,
    soak_days: Sequence[str] = (),
    tank_logs: int | None = None,
) -> Started:
    """Write a commented yard.toml and a stacks.csv with example rows.

    What is not given is written as an example and told in the answer. Parameters and errors as
    in `write_starter`.
    """
    folder = folder.expanduser().absolute()
    given = {"latitude": latitude, "longitude": longitude, "timezone": timezone}
    place: dict[str, Any] = {
        key: EXAMPLE[key] if value is None else value for key, value in given.items()
    }
    options: dict[str, Any] = {
        "elevation_m": elevation_m,
        "soak_days": tuple(soak_days) or None,
        "tank_logs": tank_logs,
    }
    files = write_starter(
        folder,
        name=name or folder.name or "My yard",
        units=units,
        today=today,
        station=station,
        **place,
        **{key: value for key, value in options.items() if value is not None},
    )
    examples = [key for key, value in (given | options).items() if value is None]
    return Started(folder, files, tuple(examples), station is None)
