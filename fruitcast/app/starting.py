"""Starting a yard: asked little, guessed well, and told what was guessed."""

from __future__ import annotations

import re
import shlex
import shutil
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from pydantic import Field

from fruitcast.app.known import CACHE_FOLDER
from fruitcast.document import Document
from fruitcast.errors import FaultsError, FruitcastError, InputError
from fruitcast.progress import Step
from fruitcast.units import Units, format_elevation
from fruitcast.weather.stations import NEAREST
from fruitcast.words import count_words
from fruitcast.yard.starter import NewYard, write_starter

if TYPE_CHECKING:
    from fruitcast.weather.stations import NamedStation, StationsIndex


# What a new yard can be told about its place without asking: time zone, units, a first position.
#
# All of it works without a network. The computer's own settings come in as arguments.

US_CUSTOMARY = ("US", "LR", "MM")
"""Countries whose people weigh in pounds and measure in inches (ISO 3166)."""

_LOCALE = ("LC_ALL", "LC_MEASUREMENT", "LANG")
_TERRITORY = re.compile(r"^[a-z]{2,3}_([A-Z]{2})\b")
_NUMBER = r"([-+]?\d+(?:\.\d+)?)\s*°?\s*"
_POSITION = re.compile(rf"^{_NUMBER}([NSns]?)\s*[,;\s]\s*{_NUMBER}([EWew]?)$")
_COMMA_NUMBER = r"([-+]?\d+(?:,\d+)?)\s*°?\s*"
_WITH_COMMAS = re.compile(rf"^{_COMMA_NUMBER}([NSns]?)(?:\s*;\s*|,?\s+){_COMMA_NUMBER}([EWew]?)$")
_DEGREES = re.compile(r"^([-+])(\d{2})(\d{2})(\d{2})?([-+])(\d{3})(\d{2})(\d{2})?$")
_HALF_TURN = {"latitude": 90.0, "longitude": 180.0}


@dataclass(frozen=True)
class Position:
    """A point on the map."""

    latitude: float  # [degree, north positive]
    longitude: float  # [degree, east positive]


def parse_position(text: str) -> Position | None:
    """Return the position written as a map shows it: '42.44, -76.5', '42.44 N 76.5 W', '56,1 14,3'.

    None is returned for anything else: a name.

    Raises InputError if it is a position that is not on Earth.
    """
    found = _WITH_COMMAS.match(text.strip()) or _POSITION.match(text.strip())
    if found is None:
        return None
    latitude, longitude = (float(found[n].replace(",", ".")) for n in (1, 3))
    values = {"latitude": latitude, "longitude": longitude}
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

    Raises InputError if there is no such place on Earth.
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

    `environ` is the environment, whose TZ goes before the files: `named`, where the system writes
    its zone's name, and `linked`, what it links to the zone's file.
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

    Returned beside them is what they were taken from.
    """
    because = "as usual at the place"
    for name in _LOCALE:
        found = _TERRITORY.match(environ.get(name, ""))
        if found:
            country, because = found[1], f"as usual with {name}={environ[name]}"
            break
    return ("metric" if country and country not in US_CUSTOMARY else "us"), because


EXAMPLE = Position(42.6, -73.4)
"""What a starter yard says of its place as long as nothing tells it better."""

_IN_WORDS = {"soak_days": "the soak days"}
_SAME_TOWN = 40.0
_LISTED = 6


@dataclass(frozen=True)
class Guess:
    """A setting that nobody gave.

    Attributes
    ----------
    setting : str
        Its key in yard.toml.
    value : str
        What was written.
    because : str
        What it was taken from.
    """

    setting: str
    value: str
    because: str


@dataclass(frozen=True)
class Started:
    """A yard just started."""

    folder: Path
    files: tuple[Path, ...]
    guesses: tuple[Guess, ...]  # settings guessed, to be looked over
    examples: tuple[str, ...]  # settings that are only examples, to be changed by hand
    station: str | None  # the weather station it goes by; None for a weather file
    weather_days: int  # days of weather taken in from a file
    obstacle: str  # why no plan can be made from that file yet; empty when one can
    sells: bool = True  # whether mushrooms are to be sold

    @property
    def needs_weather(self) -> bool:
        """Whether it waits for a weather file."""
        return self.station is None and not self.weather_days

    def document(self, steps: Sequence[Step]) -> YardStarted:
        """Return what is printed as JSON."""
        return YardStarted(
            folder=str(self.folder),
            files=tuple(str(file) for file in self.files),
            guesses=self.guesses,
            examples=self.examples,
            needs_weather_file=self.needs_weather,
            next=tuple(steps),
        )

    def words(self) -> list[str]:
        """Return what was done, a sentence each."""
        found = [f"A yard is started in {self.folder}."]
        for guess in self.guesses:
            found.append(f"Guessed: {guess.setting} {guess.value}, {guess.because}.")
        if self.weather_days:
            found.append(f"{count_words(self.weather_days, 'day')} of weather were taken in.")
            if self.obstacle:
                found.append(self.obstacle)
        elif self.station:
            found.append(
                "Its weather comes from the open station data of Meteostat, over the network."
            )
        examples = (_IN_WORDS.get(example, example) for example in self.examples)
        listed = ", ".join((*examples, *(("the outlet",) if self.sells else ())))
        settings = f"to be changed in yard.toml: {listed}; and " if listed else ""
        found.append(f"Only examples, {settings}the stacks in stacks.csv.")
        return found

    def steps(self) -> tuple[Step, ...]:
        """Return what to do next."""
        into = Step(f"cd {shlex.quote(str(self.folder))}", "go there; then edit the two files")
        check = Step("fruitcast check", "look for slips, each with its place and remedy")
        plan = Step("fruitcast plan", "plan with what stands there")
        if self.needs_weather:
            does = (
                "take in a daily table; or, with a network, write station = "
                '"nearest" in place of the file under [weather]'
            )
        elif self.obstacle:
            does = "take in more weather: see above"
        else:
            return into, check, plan
        return into, Step("fruitcast weather import FILE", does), check, plan


def start_yard(
    folder: Path,
    today: date,
    told: NewYard,
    *,
    environ: Mapping[str, str],
    now: datetime | None,
    weather: Path | None,
    as_it_stands: bool,
    asked: bool = True,
) -> Started:
    """Write a commented yard.toml and a stacks.csv with example rows that can be planned at once.

    The examples are dated around `today`; `environ` holds the computer's time zone and language,
    and `now` None is noon of `today`. A `weather` file is taken in; `as_it_stands` says that it is
    believed without a question, `asked` that this is the grower's answer, kept for later. Raises
    InputError if the place is unknown or ambiguous, or the folder is a yard already; StationError
    if a town can't be looked up; FaultsError if a value or the weather file is wrong, or the file
    can hardly be true of the place; nothing is written then.
    """
    folder = folder.expanduser().absolute()
    if weather is not None and told.station is not None:
        raise InputError("Weather comes from a station or from a file: leave one of them out.")
    guesses: list[Guess] = []
    with tempfile.TemporaryDirectory() as store:
        noon = datetime.combine(today, time(12), UTC)
        stands = find_place(told.place, Path(store), now or noon) if told.place else None
        position, known = _position(told, stands, environ, guesses)
        timezone = told.timezone
        if timezone is None:
            timezone = zone_at(position)
            if known:
                guesses.append(Guess("timezone", timezone, "that of the place"))
        units = told.units
        if units is None:
            units, because = usual_units(environ, country_of_zone(timezone))
            guesses.append(Guess("units", units, because))
        elevation_m = told.elevation_m
        if elevation_m is None and stands is not None and not isinstance(stands, Position):
            elevation_m = stands.elevation
            if elevation_m is not None:
                height = format_elevation(elevation_m, units)
                guesses.append(Guess("elevation", height, "that of the weather station"))
        station = told.station
        if weather is None and station is None and known:
            station = NEAREST
        days, read_as = 0, None
        if weather is not None:  # read first, so that a bad one stops all before it begins
            site = position if known else None
            days, read_as = _readable(weather, site, told.units, as_it_stands)
        yard = replace(
            told,
            name=told.name or folder.name or "My yard",
            latitude=position.latitude,
            longitude=position.longitude,
            timezone=timezone,
            units=units,
            elevation_m=elevation_m,
            station=station,
            soak_days=told.soak_days or None,
        )
        files: tuple[Path, ...] = write_starter(folder, yard, today)
        _keep_list(Path(store), folder)
    obstacle = ""
    if weather is not None:
        from fruitcast.app.weather_table import import_weather

        taken = import_weather(
            folder,
            today,
            weather,
            units=read_as,
            as_it_stands=True,
            asked=asked and as_it_stands,
        )
        files, obstacle = (*files, *taken.files), taken.obstacle
    examples = [] if known else ["latitude", "longitude", "timezone"]
    if elevation_m is None:
        examples.append("elevation_ft" if units == "us" else "elevation_m")
    examples += [] if told.soak_days else ["soak_days"]
    examples += ["tank_logs"] if told.tank_logs is None else []
    return Started(
        folder, files, tuple(guesses), tuple(examples), station, days, obstacle, told.sells
    )


def _readable(
    file: Path, site: Position | None, units: Units | None, as_it_stands: bool
) -> tuple[int, Units | None]:
    """Return how many days a weather file has values of, and the units it had to be told.

    The yard's units are tried only where the file is refused for want of them: most files tell
    theirs. Raises FaultsError if it can't be read.
    """
    from fruitcast.app.weather_table import days_with_values, read_new_weather

    try:
        read, told = read_new_weather(file, None, site, as_it_stands=as_it_stands), None
    except FaultsError as error:
        if units is None or f"--units {units}" not in str(error):
            raise
        told = units
        read = read_new_weather(file, None, site, units=units, as_it_stands=as_it_stands)
    return int(days_with_values(read).sum()), told


def _position(
    told: NewYard,
    stands: NamedStation | Position | None,
    environ: Mapping[str, str],
    guesses: list[Guess],
) -> tuple[Position, bool]:
    """Return where the yard is, and whether that is more than an example."""
    latitude, longitude = told.latitude, told.longitude
    if stands is not None:
        latitude = stands.latitude if latitude is None else latitude
        longitude = stands.longitude if longitude is None else longitude
    if (latitude is None) != (longitude is None):
        missing = "longitude" if longitude is None else "latitude"
        raise InputError(f"Of the place, the {missing} is missing: give both, or neither.")
    if latitude is not None and longitude is not None:
        position = Position(latitude, longitude)
        if stands is not None and not isinstance(stands, Position):
            words = f"{latitude:g}, {longitude:g}"
            guesses.append(Guess("place", words, f"that of the weather station {stands}"))
        return position, True
    zone = computers_zone(environ)
    found = place_of_zone(zone) if zone else None
    if found is None:
        return EXAMPLE, False
    words = f"{found.latitude:g}, {found.longitude:g}"
    guesses.append(Guess("place", words, f"the middle of the computer's time zone, {zone}"))
    return found, True


def find_place(place: str, store: Path, now: datetime) -> NamedStation | Position:
    """Return what a place as a grower writes it means: a position, or a town's weather station.

    Towns are looked up over the network; `store` is the folder in which the list of stations is
    kept. Raises InputError if there is no such place, or several, or towns can't be looked up.
    """
    position = parse_position(place)
    if position is not None:
        return position
    from fruitcast.weather.stations import StationsIndex

    try:
        return _station_named(place, StationsIndex(store, now, offline=False))
    except InputError:
        raise
    except FruitcastError as error:
        raise InputError(
            f"'{place}' can't be looked up: towns are found by their weather station, over the "
            "network, and it can't be reached. Give the place as a map shows it, as in "
            "--place '42.44, -76.50'."
        ) from error


def _station_named(place: str, index: StationsIndex) -> NamedStation:
    """Return the one station that a town's name means; 'Ithaca, NY' narrows it."""
    from fruitcast.weather.stations import distance

    town, *where = (part.strip() for part in place.split(","))
    narrowed = {part.upper() for part in where if part}
    found = [
        station
        for station in index.named(town)
        if narrowed <= {station.country.upper(), station.region.upper()}
    ]
    if not found:
        raise InputError(
            f"No weather station is called '{place}'. Give a larger town near by, or the place as "
            "a map shows it, as in --place '42.44, -76.50'."
        )
    first = found[0]
    exact = [station for station in found if station.name.casefold() == town.casefold()]
    rivals = [
        station
        for station in exact or found
        if distance(station.latitude, station.longitude, first) > _SAME_TOWN
    ]
    if rivals:
        listed = "; ".join(
            f"{each} ({each.latitude:.1f}, {each.longitude:.1f})"
            for each in [first, *rivals][:_LISTED]
        )
        raise InputError(
            f"'{place}' is the name of several places: {listed}. Add the region or country, as in "
            "--place 'Ithaca, NY', or give the place as a map shows it, as in "
            "--place '42.44, -76.50'."
        )
    return first


def _keep_list(store: Path, folder: Path) -> None:
    """Keep the list of stations that was fetched, so that the first plan need not."""
    kept = folder / CACHE_FOLDER
    for file in store.iterdir():
        kept.mkdir(exist_ok=True)
        shutil.copy2(file, kept / file.name)


class YardStarted(Document):
    """What 'new --json' prints."""

    folder: str
    files: tuple[str, ...]
    guesses: tuple[Guess, ...] = Field(description="settings guessed, to be looked over")
    examples: tuple[str, ...] = Field(description="settings to be changed by hand")
    needs_weather_file: bool
    next: tuple[Step, ...]
