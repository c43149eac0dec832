"""A district's outlook: its places, and what a standard log of each class does there."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, time, timedelta
from functools import partial
from pathlib import Path
from typing import TypeVar
from zoneinfo import ZoneInfo

import numpy as np
from pydantic import Field

from fruitcast.arrays import IntArray
from fruitcast.biology.wood import dry_from_wet, wet_from_dry
from fruitcast.biology.yields import REFERENCE_DIAMETER, REFERENCE_LENGTH, hemisphere, season
from fruitcast.diary.plan import LikelyDays
from fruitcast.diary.state import StackState, YardState
from fruitcast.document import Count, Day, Document, Number
from fruitcast.errors import Fault, FaultsError
from fruitcast.forecast.flushes import follow
from fruitcast.forecast.outlook import YardOutlook, outlook
from fruitcast.forecast.past_seasons import season_grid_start
from fruitcast.forecast.stacks import StackOutlook
from fruitcast.group.round import WEEK_DAYS
from fruitcast.numbers import default_numbers
from fruitcast.soaks.expected import MOST_CHANCE_SAID
from fruitcast.tables.faults import FaultsFound
from fruitcast.tables.sheet import SheetRow, read_sheet, too_many_cells
from fruitcast.tables.text import read_text
from fruitcast.tables.values import WrongValueError, cell_number, iso_date, name, number
from fruitcast.topics import STRAIN_CLASSES, InoculationNumbers, YardNumbers
from fruitcast.units import Units, keys_of, si_from_key
from fruitcast.weather.daily import DailyWeather, last_observed
from fruitcast.yard.model import Site, Soaking, Stack, WeatherSource, Yard

# Reads the places of a district: one row a place, every fault with its line.

REQUIRED = (("place",), ("latitude",), ("longitude",), keys_of("elevation"), ("file", "station"))
OPTIONAL = ("inoculated",)

YEARS = 30
"""Past years that stand for the possible futures."""

_HEIGHTS = {"elevation_m": (-430.0, 6000.0, "m"), "elevation_ft": (-1410.0, 19_700.0, "ft")}

Read = TypeVar("Read")


@dataclass(frozen=True)
class Place:
    """A place of a district."""

    name: str
    site: Site  # under usual shade
    weather: WeatherSource  # where its weather comes from
    # Day on which its logs of this spring were inoculated; None: as is usual.
    inoculated: date | None = None


def read_places(file: Path) -> tuple[Place, ...]:
    """Return the places of a table; weather files are looked for beside it.

    Raises FaultsError if anything in it is wrong: all faults.
    """
    found = FaultsFound()
    try:
        content = read_text(file)
    except WrongValueError as error:
        raise FaultsError([Fault(str(file), error.problem, error.remedy)]) from None
    rows = read_sheet(content, file.name, REQUIRED, OPTIONAL, found)
    places: dict[str, Place] = {}
    for row in rows:
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
    if not rows and not found.faults:
        found.fault(file.name, "names no place", "Add one row for each.")
    if found.faults:
        raise FaultsError(found.faults)
    return tuple(places.values())


class _Row:
    """One row, checked cell by cell."""

    def __init__(self, row: SheetRow, file: Path, found: FaultsFound) -> None:
        self._cells, self._folder, self._found = row.cells, file.parent, found
        self._surplus = row.surplus
        self._place = f"{file.name} line {row.line}"
        if row.cells.get("place"):
            self._place += f", {row.cells['place']}"

    def read(self) -> Place | None:
        """Return the place, None when a cell is at fault."""
        if any(self._surplus):
            too_many_cells(self._place, self._found)
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


# What a standard log of each class does at one place: spawn run, moisture, flushes, soaks.

AHEAD_DAYS = 21
"""A chance of a natural flush is told for so long: further ahead the weather says nothing. [day]"""

RAIN_DAYS = 14
"""Rain is told of so many days. [day]"""

WEEKS = 104
"""Spawn runs are followed so far ahead. [week]"""

TREE = "red oak"
"""The standard log is of this tree and of the reference log's size; inoculated with plugs."""


class SoakDays(Document):
    """Days from the soak to the first pick, of soaks that bring anything."""

    p10: Count
    p50: Count
    p90: Count


class ClassOutlook(Document):
    """A standard log of one class at one place."""

    strain_class: str
    spawn_progress: Number = Field(
        description="of the logs of this spring: share of the spawn run that is done"
    )
    spawn_ready: LikelyDays = Field(description="when it will be done, over weather and wood")
    natural_chance: Number = Field(
        description="of a natural flush, first pick within three weeks, on a rested log that bears"
    )
    soak_allowed: bool = Field(description="whether class and season allow a soak this week")
    soak_comes: Number = Field(description="share of the weather years in which it brings anything")
    soak_days: SoakDays | None = Field(description="null where it would bring nothing")


class PlaceOutlook(Document):
    """One place."""

    place: str
    faults: tuple[str, ...] = Field(
        default=(), description="why nothing can be said of it; then there is nothing else"
    )
    weather_until: Day | None = None
    weather_years: Count = 0
    rain_mm: Number | None = Field(default=None, description="of the last 14 days")
    moisture_wet: Number | None = Field(
        default=None,
        description="today, of a log that was well wet four weeks ago and had rain alone since",
    )
    inoculated: Day | None = Field(default=None, description="the logs of this spring")
    classes: tuple[ClassOutlook, ...] = ()
    notes: tuple[str, ...] = ()

    def of(self, strain_class: str) -> ClassOutlook:
        """Return what is told of one class."""
        return next(one for one in self.classes if one.strain_class == strain_class)


class District(Document):
    """What 'outlook --json' prints."""

    today: Day
    units: Units
    places: tuple[PlaceOutlook, ...]
    paragraph: str = Field(description="for a newsletter")


def place_outlook(
    place: Place, weather: DailyWeather, years: tuple[int, ...], today: date, seed: int
) -> PlaceOutlook:
    """Return the outlook of a place.

    `years` are the weather years of the members, with `WEEKS` weeks and more after today's date in
    each; the seed is that of the scatter.
    """
    numbers = default_numbers()
    standard = numbers.standard_log
    born = place.inoculated or usual_inoculation(place.site.latitude, today, numbers.inoculation)
    old = date(born.year - int(standard.older_years), born.month, min(born.day, 28))
    week = [today + timedelta(days=n) for n in range(WEEK_DAYS)]
    wet = dry_from_wet(numbers.yard.keep_above + standard.wet_above)

    def looked_at(
        yard: Yard, soaks: list[date], weighed: tuple[tuple[date, float], ...] = ()
    ) -> YardOutlook:
        state = YardState(
            stacks={s.name: StackState(s.name, 1, moisture_seen=weighed) for s in yard.stacks},
            lot_of={s.name: s.name for s in yard.stacks},
        )
        return outlook(
            yard, state, weather, today, years, soaks, weeks=WEEKS, seed=seed, numbers=numbers
        )

    young = looked_at(standard_yard(place, born, numbers.yard), [])
    dry = replace(standard_yard(place, old, numbers.yard, bearing=True), keep_above=None)
    look = looked_at(dry, week, ((today - timedelta(days=standard.wet_days), float(wet)),))
    at = weather.index(today)
    return PlaceOutlook(
        place=place.name,
        weather_until=last_observed(weather, today),
        weather_years=len(years),
        rain_mm=float(weather.rain[max(at - RAIN_DAYS, 0) : at].sum()),
        moisture_wet=float(wet_from_dry(look.past.by_stack[-1, 0])),
        inoculated=born,
        classes=tuple(
            _class_outlook(look, new, bears)
            for new, bears in zip(young.stacks, look.stacks, strict=True)
        ),
        notes=weather.notes,
    )


def usual_inoculation(latitude: float, today: date, inoculation: InoculationNumbers) -> date:
    """Return the last day up to today on which logs are taken to have been inoculated."""
    where = hemisphere(latitude)
    now = season(today, where)
    after_midwinter = timedelta(days=int(inoculation.blind_days))
    days = (season_grid_start(number, where) + after_midwinter for number in (now, now - 1))
    return next(day for day in days if day <= today)


def standard_yard(
    place: Place, inoculated: date, numbers: YardNumbers, *, bearing: bool = False
) -> Yard:
    """Return a yard of one standard log of each class, inoculated on one day.

    Where they are `bearing`, they have borne since a year after.
    """
    since = date(inoculated.year + 1, inoculated.month, inoculated.day) if bearing else None
    stacks = [
        Stack(
            name,
            name,
            "",
            TREE,
            1,
            REFERENCE_DIAMETER,
            REFERENCE_LENGTH,
            inoculated,
            "plug",
            "",
            since,
        )
        for name in STRAIN_CLASSES
    ]
    return Yard(
        folder=Path(),
        name=place.name,
        units="metric",
        site=place.site,
        weather=place.weather,
        soaking=Soaking(tuple(range(7)), 100, time(8), None, None, None),
        keep_above=numbers.keep_above,
        cold_store_days=int(numbers.cold_store_days),
        saleable=numbers.saleable,
        promise=numbers.promise,
        outlets=(),
        orders=(),
        away=(),
        stacks=tuple(stacks),
    )


def _class_outlook(look: YardOutlook, young: StackOutlook, old: StackOutlook) -> ClassOutlook:
    logs, today = look.kinds[old.kind], look.futures.lookback
    members = len(look.futures.years)
    rested, ready = np.full((1, members), -np.inf), np.zeros((1, members), dtype=np.int64)
    following = follow(logs, rested, ready, today)
    coming = (following.kg > 0) & (following.pick >= today) & (following.pick < today + AHEAD_DAYS)
    forced = logs.forced
    bears = forced.bears & forced.allowed[:, None]
    after = (forced.pick_row - forced.soak_row[:, None])[bears]
    allowed = forced.allowed
    return ClassOutlook(
        strain_class=old.name,
        spawn_progress=young.spawn.progress,
        spawn_ready=young.spawn.ready,
        natural_chance=min(float(coming.any(axis=(0, 1)).mean()), MOST_CHANCE_SAID),
        soak_allowed=bool(allowed.any()),
        soak_comes=float(bears[allowed].mean()) * (1 - look.learned.fails)
        if allowed.any()
        else 0.0,
        soak_days=_soak_days(after) if len(after) else None,
    )


def _soak_days(after: IntArray) -> SoakDays:
    p10, p50, p90 = np.quantile(after, (0.1, 0.5, 0.9), method="inverted_cdf")
    return SoakDays(p10=int(p10), p50=int(p50), p90=int(p90))
