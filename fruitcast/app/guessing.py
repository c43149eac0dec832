"""What a new yard can be told about its place without asking: time zone, units, a first position.

All of it works without a network. The computer's own settings come in as arguments.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from fruitcast.errors import InputError
from fruitcast.units import Units

US_CUSTOMARY = ("US", "LR", "MM")
"""Countries whose people weigh in pounds and measure in inches (ISO 3166)."""

_LOCALE = ("LC_ALL", "LC_MEASUREMENT", "LANG")
_TERRITORY = re.compile(r"^[a-z]{2,3}_([A-Z]{2})\b")
_NUMBER = r"([-+]?\d+(?:\.\d+)?)\s*°?\s*"
_POSITION = re.compile(rf"^{_NUMBER}([NSns]?)\s*[,;\s]\s*{_NUMBER}([EWew]?)$")
_DEGREES = re.compile(r"^([-+])(\d{2})(\d{2})(\d{2})?([-+])(\d{3})(\d{2})(\d{2})?$")
_HALF_TURN = {"latitude": 90.0, "longitude": 180.0}


@dataclass(frozen=True)
class Position:
    """A point on the map.

    Attributes
    ----------
    latitude, longitude : float
        [degree, north and east positive]
    """

    latitude: float
    longitude: float


def parse_position(text: str) -> Position | None:
    """Return the position written as a map shows it: '42.44, -76.5' or '42.44 N 76.5 W'.

    None is returned for anything else: a name.

    Raises
    ------
    InputError
        If it is a position that is not on Earth.
    """
    found = _POSITION.match(text.strip())
    if found is None:
        return None
    values = {"latitude": float(found[1]), "longitude": float(found[3])}
    if found[2] in ("S", "s"):
        values["latitude"] = -abs(values["latitude"])
    if found[4] in ("W", "w"):
        values["longitude"] = -abs(values["longitude"])
    position = Position(**values)
    _check_on_earth(position, text)
    return position


def _check_on_earth(position: Position, given: str) -> None:
    for name, most in _HALF_TURN.items():
        value = getattr(position, name)
        if not abs(value) <= most:
            raise InputError(
                f"'{given}': {name} {value:g} is out of range. Give latitude first, then "
                "longitude, in degrees with decimals, as in '42.44, -76.50'."
            )


def zone_at(position: Position) -> str:
    """Return the time zone of a place, from borders that come with the program.

    Raises
    ------
    InputError
        If there is no such place on Earth.
    """
    _check_on_earth(position, f"{position.latitude:g}, {position.longitude:g}")
    from tzfpy import get_tz

    return str(get_tz(position.longitude, position.latitude))


@cache
def _zones() -> dict[str, tuple[str, Position]]:
    """Country and principal place of every time zone, from the IANA data base."""
    from importlib.resources import files

    table = (files("tzdata") / "zoneinfo" / "zone.tab").read_text(encoding="utf-8")
    zones = {}
    for line in table.splitlines():
        if line and not line.startswith("#"):
            country, position, name = line.split("\t")[:3]
            zones[name] = (country, _position_of(position))
    return zones


def _position_of(text: str) -> Position:
    """Return ISO 6709 degrees, minutes and seconds, without a divider, as decimals."""
    found = _DEGREES.match(text)
    if found is None:
        raise ValueError(text)
    north, east = found.groups()[:4], found.groups()[4:]
    return Position(*(_decimal(*part) for part in (north, east)))


def _decimal(sign: str, degrees: str, minutes: str, seconds: str | None) -> float:
    value = int(degrees) + int(minutes) / 60 + int(seconds or 0) / 3600
    return round(-value if sign == "-" else value, 2)


def place_of_zone(zone: str) -> Position | None:
    """Return the principal place of a time zone, None where it has none, like UTC."""
    return _zones()[zone][1] if zone in _zones() else None


def country_of_zone(zone: str) -> str | None:
    """Return the country of a time zone (ISO 3166), None where it has none."""
    return _zones()[zone][0] if zone in _zones() else None


def computers_zone(
    environ: Mapping[str, str],
    named: Path = Path("/etc/timezone"),
    linked: Path = Path("/etc/localtime"),
) -> str | None:
    """Return the time zone that the computer is set to, None where it has no place or is unknown.

    Parameters
    ----------
    environ : mapping of str to str
        The environment; its TZ goes before the files.
    named, linked : Path
        Where the system writes its zone's name, and what it links to the zone's file.
    """
    found = environ.get("TZ", "").lstrip(":")
    if not found:
        try:
            found = named.read_text(encoding="ascii").strip()
        except (OSError, ValueError):
            found = ""
    if found not in _zones():
        try:
            found = str(linked.readlink()).rpartition("zoneinfo/")[2]
        except OSError:
            return None
    return found if found in _zones() else None


def usual_units(environ: Mapping[str, str], country: str | None) -> tuple[Units, str]:
    """Return the units usual where the computer's language settings, else the place, say it is.

    Returns
    -------
    tuple of ({'us', 'metric'}, str)
        The units, and what they were taken from.
    """
    because = "as usual at the place"
    for name in _LOCALE:
        found = _TERRITORY.match(environ.get(name, ""))
        if found:
            country, because = found[1], f"as usual with {name}={environ[name]}"
            break
    return ("metric" if country and country not in US_CUSTOMARY else "us"), because
