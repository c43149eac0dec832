"""Beginning a yard on the page, step by step: what was given so far, and what was understood.

What is given is kept in the folder `.begin` until the yard is written, whole, at the end. Every
step may be left out: what it would have said is then guessed, or an example to be changed later.
"""

from __future__ import annotations

import math
import shutil
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from pydantic import TypeAdapter

from fruitcast.app.demo import FOLDER as DEMO_FOLDER
from fruitcast.app.known import horizon_days
from fruitcast.app.starting import (
    Guess,
    Position,
    country_of_zone,
    find_place,
    start_yard,
    usual_units,
    zone_at,
)
from fruitcast.atomic import write_all_atomically, write_atomically
from fruitcast.errors import Fault, FaultsError, FruitcastError, InputError, WeatherGapError
from fruitcast.numbers import default_numbers
from fruitcast.tables.sheet import column_name
from fruitcast.tables.text import decode
from fruitcast.tables.values import WrongValueError, cell_number
from fruitcast.units import UNIT_OF_SIZE, UNIT_OF_WEIGHT, Units, format_elevation
from fruitcast.weather.stations import NEAREST
from fruitcast.words import count_words, percent_words
from fruitcast.yard import keys, stacks
from fruitcast.yard.model import Stack
from fruitcast.yard.reading import read_yard
from fruitcast.yard.settings_text import Value, add_table, set_value
from fruitcast.yard.stacks import parse_stacks, tree_notes
from fruitcast.yard.stacks_text import COLUMNS
from fruitcast.yard.starter import NewYard, columns_of

if TYPE_CHECKING:
    from fruitcast.weather.daily import DailyWeather
    from fruitcast.weather.stations import Record, Station

FOLDER = ".begin"
"""Folder in which what was given so far is kept."""

MOST_STATIONS, WITHIN = 6, 120.0
"""Weather stations offered, and how far they may lie. Judgement. [km]"""

PASTED = ("stack", "logs", "tree", "diameter", "length", "inoculated", "spawn", "strain_class")
"""Order of the cells in lines that are pasted without names of columns."""

_TABLES = (".csv", ".tsv", ".txt", ".dat", ".dly")


@dataclass(frozen=True)
class Draft(NewYard):
    """What was given so far; what is empty or None was left for later.

    Weather is '' or 'file', or a station. Stacks is the text of a stacks.csv; rows are those
    filled in one by one that were not understood yet.
    """

    soak_days: tuple[str, ...] = ()
    weather: str = ""
    stacks: str = ""
    rows: tuple[dict[str, str], ...] = ()
    outlets: tuple[tuple[str, str, str], ...] = ()

    @property
    def position(self) -> Position | None:
        """Where the yard is, None when that was left for later."""
        if self.latitude is None or self.longitude is None:
            return None
        return Position(self.latitude, self.longitude)


_DRAFT = TypeAdapter(Draft)


@dataclass(frozen=True)
class StationNear:
    """A weather station that can be chosen."""

    station: Station  # with its distance
    record: Record | None  # what it has measured; None where that is not told

    def words(self, units: Units) -> str:
        """Return it in a sentence."""
        told = [f"{self.station.distance:.0f} km away"]
        if not math.isnan(self.station.higher):
            height = format_elevation(abs(self.station.higher), units)
            told.append(f"{height} {'higher' if self.station.higher >= 0 else 'lower'}")
        if self.record is None:
            return f"{', '.join(told)}; which years it has the list does not tell"
        told.append(f"{self.record.first.year} to {self.record.last.year}")
        if not math.isnan(self.record.complete):
            told.append(f"{percent_words(1 - self.record.complete)} of the days missing")
        return ", ".join(told)


@dataclass(frozen=True)
class WeatherUnderstood:
    """What was read from a weather file."""

    first: date
    last: date
    days: int  # from the first to the last
    no_temperature: int  # days without lowest or highest temperature
    no_rain: int  # days without rain
    years: int  # past years to plan from
    obstacle: str  # why no plan can be made from it; empty when one can
    notes: tuple[str, ...]  # how it was read
    # Its first and last days: lowest and highest temperature [degC], rain [mm]; NaN where missing.
    rows: tuple[tuple[date, float, float, float], ...]


@dataclass(frozen=True)
class StacksUnderstood:
    """What was read from the stacks given."""

    stacks: tuple[Stack, ...]
    notes: tuple[str, ...]  # what was read all the same, and how


OTHER_WEATHER = "Give another file, or use the stations."
"""What to do about a file that no plan can be made from."""


def is_yard(folder: Path) -> bool:
    """Return whether a folder is a yard already."""
    return (folder / keys.FILE).is_file()


def can_begin(folder: Path) -> bool:
    """Return whether a yard may be begun in a folder: it is empty, but for tables to be taken in.

    In a folder of other things a slip of the path is likelier than the wish to begin there.
    """
    if not folder.is_dir() or is_yard(folder):
        return False
    return all(
        each.name.startswith(".")
        or each.name == DEMO_FOLDER.name
        or (each.is_file() and each.suffix.lower() in _TABLES)
        for each in folder.iterdir()
    )


class Beginning:
    """The yard that is being begun in a folder.

    `environ` holds the computer's time zone and language.
    """

    def __init__(self, folder: Path, environ: Mapping[str, str]) -> None:
        self.folder, self._environ = folder, environ
        self._store = folder / FOLDER
        self._weather = self._store / "weather.csv"

    def draft(self) -> Draft:
        """Return what was given so far."""
        try:
            return _DRAFT.validate_json((self._store / "draft.json").read_bytes())
        except (OSError, ValueError):
            return Draft()

    def keep(self, draft: Draft) -> None:
        """Keep what was given so far, or raise OutputError if it can't be written."""
        write_atomically(self._store / "draft.json", _DRAFT.dump_json(draft))

    def locate(self, told: Draft, place: str, now: datetime) -> Draft:
        """Return what was told with the place as given; a new place drops the weather.

        Raises InputError if there is no such place, or it can't be looked up.
        """
        draft = replace(told, name=_line(told.name), place=_line(place))
        if draft.place == told.place:
            return draft
        stands = find_place(draft.place, self._kept_store(), now) if draft.place else None
        return replace(
            draft,
            latitude=stands.latitude if stands else None,
            longitude=stands.longitude if stands else None,
            elevation_m=getattr(stands, "elevation", None),
            weather=draft.weather if draft.weather == "file" else "",
        )

    def zone(self, draft: Draft) -> str:
        """Return the time zone of the place, empty when the place was left for later."""
        return zone_at(draft.position) if draft.position else ""

    def units(self, draft: Draft) -> Units:
        """Return the units given, else those usual at the place."""
        return draft.units or usual_units(self._environ, country_of_zone(self.zone(draft)))[0]

    def stations(self, draft: Draft, now: datetime) -> list[StationNear]:
        """Return the weather stations near the place, the nearest first.

        Raises StationError if the list of stations can't be had.
        """
        from fruitcast.weather.stations import StationsIndex

        if draft.position is None:
            return []
        site = _Site(draft.position.latitude, draft.position.longitude, draft.elevation_m or 0.0)
        index = StationsIndex(self._kept_store(), now, offline=False)
        near = index.nearest(site, MOST_STATIONS, WITHIN)
        if draft.elevation_m is None:
            near = [replace(each, higher=math.nan) for each in near]
        return [StationNear(each, index.record(each.id)) for each in near]

    def take_weather(self, data: bytes, draft: Draft, today: date, *, as_it_stands: bool) -> None:
        """Keep a weather file if it can be read and planned from.

        Raises FaultsError with what is wrong in it, or must be asked about; InputError if it is too
        old or too short.
        """
        incoming = self._store / "incoming.csv"
        write_atomically(incoming, data)
        try:
            read = self._read_weather(incoming, draft, as_it_stands)
            obstacle = understood_weather(read, today).obstacle
            if obstacle:
                raise InputError(f"{obstacle} {OTHER_WEATHER}")
            incoming.replace(self._weather)
        finally:
            incoming.unlink(missing_ok=True)

    def weather(self, draft: Draft, today: date) -> WeatherUnderstood:
        """Return what was understood of the weather file that is kept.

        Raises FruitcastError if it can't be read any more.
        """
        return understood_weather(self._read_weather(self._weather, draft, True), today)

    def finish(self, today: date, now: datetime) -> tuple[Guess, ...]:
        """Write the yard, whole or not at all, and return what was guessed for it.

        Raises FruitcastError if something given can't be right, or it can't be written.
        """
        if is_yard(self.folder):
            return ()
        draft, made = self.draft(), self._store / "yard"
        shutil.rmtree(made, ignore_errors=True)
        own = draft.weather == "file" and self._weather.is_file()
        told = replace(
            draft,
            name=draft.name or self.folder.name or "My yard",
            place="",
            station=draft.weather if draft.weather not in ("", "file") else None,
            sells=draft.sells and bool(draft.outlets),
        )
        started = start_yard(
            made,
            today,
            told,
            environ=self._environ,
            now=now,
            weather=self._weather if own else None,
            as_it_stands=True,
            asked=False,
        )
        if draft.stacks:
            write_atomically(made / stacks.FILE, draft.stacks.encode())
        if draft.sells and draft.outlets:
            settings = made / keys.FILE
            text = _with_outlets(settings.read_text("utf-8"), draft.outlets, self.units(draft))
            write_atomically(settings, text.encode())
        read_yard(made, today)
        written = [each for each in sorted(made.rglob("*")) if each.is_file()]
        # The settings make the folder a yard, so they are put in place last.
        written.sort(key=lambda each: each.name == keys.FILE)
        write_all_atomically(
            {self.folder / each.relative_to(made): each.read_bytes() for each in written}
        )
        shutil.rmtree(self._store, ignore_errors=True)
        return started.guesses

    def _kept_store(self) -> Path:
        self._store.mkdir(exist_ok=True)
        return self._store

    def _read_weather(self, file: Path, draft: Draft, as_it_stands: bool) -> DailyWeather:
        from fruitcast.app.weather_table import read_new_weather

        return read_new_weather(file, None, draft.position, as_it_stands=as_it_stands)


@dataclass(frozen=True)
class _Site:
    latitude: float
    longitude: float
    elevation: float


def understood_weather(weather: DailyWeather, today: date) -> WeatherUnderstood:
    """Return what was understood of a weather file, to be shown before it is taken."""
    import numpy as np

    from fruitcast.weather.known import known_weather

    obstacle, years = "", 0
    try:
        years = len(known_weather(weather, today, horizon_days(), {})[1])
    except WeatherGapError as error:
        obstacle = error.problem.replace(weather.origin or "The weather", "The file", 1)
    except FruitcastError as error:
        obstacle = str(error)
    cold = np.isnan(weather.tmin) | np.isnan(weather.tmax)
    shown = [0, 1, weather.days - 2, weather.days - 1] if weather.days > 3 else [0]
    return WeatherUnderstood(
        weather.start,
        weather.end,
        weather.days,
        int(cold.sum()),
        int(np.isnan(weather.rain).sum()),
        years,
        obstacle,
        tuple(note.removeprefix(f"{weather.origin}: ") for note in weather.notes),
        tuple(
            (
                weather.day(row),
                float(weather.tmin[row]),
                float(weather.tmax[row]),
                float(weather.rain[row]),
            )
            for row in shown
        ),
    )


def stacks_text_of(data: bytes) -> str:
    """Return the text of a table of stacks as it is to be kept, with names of columns above it.

    Lines without names of columns are taken in the order of `PASTED`.

    Raises InputError if it can't be read as text.
    """
    try:
        text = decode(data)
    except WrongValueError as error:
        raise InputError(f"What you gave {error.problem}. {error.remedy}") from None
    first = next((line for line in text.split("\n") if line.strip()), "")
    delimiter = max("\t;,|", key=first.count)
    if not first.count(delimiter):
        return text
    cells = [column_name(cell.strip(' "')) for cell in first.split(delimiter)]
    if set(cells) & set(COLUMNS):
        return text
    if len(cells) < len(PASTED) - 1 or any(name in COLUMNS for name in cells):
        return text
    return delimiter.join(PASTED[: len(cells)]) + "\n" + text


def with_size_units(text: str, units: Units) -> str:
    """Return a table of stacks whose columns 'diameter' and 'length' name their unit."""
    first, end, rest = text.partition("\n")
    unit, _ = UNIT_OF_SIZE[units]
    for quantity in ("diameter", "length"):
        first = _with_column(first, quantity, f"{quantity}_{unit}")
    return first + end + rest


def _with_column(header: str, old: str, new: str) -> str:
    delimiter = max("\t;,|", key=header.count)
    cells = header.split(delimiter)
    return delimiter.join(new if cell.strip(' "').casefold() == old else cell for cell in cells)


def rows_text(rows: Sequence[Mapping[str, str]], units: Units) -> str:
    """Return rows filled in one by one as the text of a stacks.csv; empty rows are left out."""
    import csv
    import io

    unit, columns = UNIT_OF_SIZE[units][0], columns_of(units)
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    for row in rows:
        if row.get("stack", "").strip() or row.get("logs", "").strip():
            named = {**row, **{f"{size}_{unit}": row.get(size, "") for size in _SIZES}}
            writer.writerow([_line(named.get(column, "")) for column in columns])
    return out.getvalue()


_SIZES = ("diameter", "length")


def rows_of(text: str, units: Units) -> list[dict[str, str]]:
    """Return the rows of a text made by `rows_text`; none of any other table."""
    import csv
    import io

    lines = list(csv.reader(io.StringIO(text)))
    if not lines or text.partition("\n")[0] != rows_text((), units).strip():
        return []
    unit, _ = UNIT_OF_SIZE[units]
    header = [name.removesuffix(f"_{unit}") for name in lines[0]]
    return [dict(zip(header, cells, strict=True)) for cells in lines[1:]]


def understood_stacks(text: str, today: date) -> StacksUnderstood:
    """Return the stacks in a text, or raise FaultsError with every fault in it."""
    found, findings = parse_stacks(text, default_numbers(), today)
    if findings.faults:
        raise FaultsError(findings.faults)
    notes = tree_notes([stack.tree for stack in found], default_numbers().trees)
    return StacksUnderstood(found, (*findings.warnings, *notes))


def check_outlets(outlets: Sequence[tuple[str, str, str]]) -> None:
    """Raise FaultsError for outlets without a name, a day or an amount."""
    faults = []
    for name, day, target in outlets:
        place = name or "A market"
        if not name or not day:
            what = "has no name" if not name else "has no day"
            faults.append(Fault(place, what, "Fill it in, or leave the whole market empty."))
        try:
            if not 0 <= cell_number(target) < 10_000:
                raise WrongValueError(f"wants {target}, out of range", "Give a weight.")
        except WrongValueError as error:
            faults.append(Fault(place, error.problem, "Give what it takes each time, like 5."))
    if len({name.casefold() for name, _, _ in outlets}) < len(outlets):
        faults.append(Fault("Markets", "two have one name", "Put the day into the name."))
    if faults:
        raise FaultsError(faults)


def _with_outlets(text: str, outlets: Sequence[tuple[str, str, str]], units: Units) -> str:
    """Put the grower's outlets in the place of the example."""
    import tomllib

    key = f"target_{UNIT_OF_WEIGHT[units][0]}"
    for end in ("from", "to"):  # the example's season is nobody's
        if end in tomllib.loads(text)["outlet"][0]:
            text = set_value(text, ("outlet", 0, end), None)
    for number, (name, day, target) in enumerate(outlets):
        values: dict[str, Value] = {"name": name, "day": day, key: _amount(target)}
        if number == 0:
            for each, value in values.items():
                text = set_value(text, ("outlet", 0, each), value)
        else:
            text = add_table(text, "outlet", values)
    return text


def _amount(text: str) -> int | float:
    value = cell_number(text)
    return int(value) if value.is_integer() else value


def weather_words(found: WeatherUnderstood) -> list[str]:
    """Return what a weather file has, in sentences."""
    words = [
        f"{count_words(found.days, 'day')}, from {found.first} to {found.last}.",
        f"{count_words(found.no_temperature, 'day')} without temperature, "
        f"{count_words(found.no_rain, 'day')} without rain.",
    ]
    if found.obstacle:
        words.append(found.obstacle)
    else:
        words.append(f"{count_words(found.years, 'past year')} to plan from.")
    return words


def nearest_of(stations: Sequence[StationNear], chosen: str) -> str:
    """Return the station chosen, 'nearest' for any that is not offered."""
    return chosen if chosen in {each.station.id for each in stations} else NEAREST


def _line(text: str) -> str:
    return " ".join(text.split())
