"""The yard's weather: fetched from a station, taken in from a file, shown."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from pydantic import Field

from fruitcast.app.doubts import believe_weather
from fruitcast.app.known import horizon_days, read_weather
from fruitcast.atomic import write_all_atomically
from fruitcast.diary.state_from_diary import read_yard_state
from fruitcast.document import Amount, Document
from fruitcast.errors import FruitcastError, InputError, WeatherGapError
from fruitcast.numbers import default_numbers
from fruitcast.progress import Progress, silent
from fruitcast.weather.stations import AS_USUAL, NEAREST, Fetching
from fruitcast.yard.model import Yard
from fruitcast.yard.reading import read_settings
from fruitcast.yard.settings import WEATHER_FILE

if TYPE_CHECKING:
    from fruitcast.arrays import BoolArray
    from fruitcast.weather.daily import DailyWeather
    from fruitcast.weather.stations import Point
    from fruitcast.weather.units import System

BACKUP_SUFFIX = ".before-import"
"""Behind the name of the weather file as it was before the last import."""


_UNITS = (("tmin", "c"), ("tmax", "c"), ("tmean", "c"), ("rain", "mm"), ("rh", "percent"))

NO_FORECAST = (
    "The station has no forecast. For one at the yard's own place, by MET Norway, write your "
    'e-mail address under [weather] in yard.toml, contact = "you@example.org": the service wants '
    "to know who asks."
)


class WeatherYear(Document):
    """What the table has of one calendar year."""

    year: int
    days: int
    missing_temperature_days: int
    missing_rain_days: int
    rain_mm: Amount
    usable: bool = Field(description="whether it can stand for the future")


class WeatherDay(Document):
    """One day; what is missing is null. Each value has its source: observed, filled, ..."""

    on: date = Field(validation_alias="date", serialization_alias="date")
    tmin_c: Amount | None
    tmax_c: Amount | None
    tmean_c: Amount | None
    rain_mm: Amount | None
    rh_percent: Amount | None
    tmin_source: str
    tmax_source: str
    tmean_source: str
    rain_source: str
    rh_source: str


class WeatherTable(Document):
    """What 'weather show', 'weather fetch' and 'weather import' print with --json."""

    today: date
    origin: str
    attribution: str
    first: date
    last: date
    usable_years: tuple[int, ...] = Field(description="past years that can stand for the future")
    obstacle: str | None = Field(description="why no plan can be made; null when one can")
    years: tuple[WeatherYear, ...]
    days: tuple[WeatherDay, ...] = Field(description="the last ones and the forecast")
    notes: tuple[str, ...]
    files: tuple[str, ...] = Field(description="files written")
    new_days: int | None = Field(description="added by an import; null when nothing was imported")
    filled_days: int | None = Field(
        default=None, description="of those there, what they lacked came by an import; else null"
    )


@dataclass(frozen=True)
class WeatherAnswer:
    """A weather table with what can be said of it."""

    yard: Yard
    today: date
    weather: DailyWeather  # as read, nothing filled in
    usable_years: tuple[int, ...]  # past years that can stand for the future
    obstacle: str  # why no plan can be made from it; empty when one can
    notes: tuple[str, ...]  # what the grower should know
    files: tuple[Path, ...] = ()
    new_days: int | None = None  # days that an import added; None when nothing was imported
    # Days that were there, and of which an import brought what they lacked.
    filled_days: int | None = None
    problem: str = ""  # the obstacle without the commands and settings that help

    def years(self) -> tuple[WeatherYear, ...]:
        """Return what the table has of each calendar year."""
        import numpy as np

        rows = []
        for year in range(self.weather.start.year, self.weather.end.year + 1):
            part = self.weather.cut(date(year, 1, 1), date(year + 1, 1, 1))
            cold = np.isnan(part.tmin) | np.isnan(part.tmax)
            rows.append(
                WeatherYear(
                    year=year,
                    days=part.days,
                    missing_temperature_days=int(cold.sum()),
                    missing_rain_days=int(np.isnan(part.rain).sum()),
                    rain_mm=float(np.nansum(part.rain)),
                    usable=year in self.usable_years,
                )
            )
        return tuple(rows)

    def rows(self, days: int) -> tuple[WeatherDay, ...]:
        """Return the last days up to yesterday and the next ones, missing values as None."""
        from fruitcast.weather.daily import Source
        from fruitcast.weather.known import as_known_on

        first = min(self.today, self.weather.end + timedelta(days=1)) - timedelta(days=days)
        past = self.weather.cut(first, self.today)
        coming = self.weather.cut(self.today, self.today)
        if self.weather.start < self.today:
            # What is no forecast is not known yet, and is left out as planning leaves it out.
            known = as_known_on(self.weather, self.today)
            coming = known.cut(self.today, known.end + timedelta(days=1))

        def told(part: DailyWeather, row: int) -> WeatherDay:
            values = {f"{name}_{unit}": float(part.values[name][row]) for name, unit in _UNITS}
            sources = {
                f"{name}_source": Source(int(part.sources[name][row])).name.lower()
                for name, _ in _UNITS
            }
            known = {name: None if math.isnan(value) else value for name, value in values.items()}
            return WeatherDay.model_validate({"on": part.day(row), **known, **sources})

        return tuple(told(part, row) for part in (past, coming) for row in range(part.days))

    def document(self, days: int) -> WeatherTable:
        """Return what is printed as JSON, with so many of the last days."""
        return WeatherTable(
            today=self.today,
            origin=self.weather.origin,
            attribution=self.weather.attribution,
            first=self.weather.start,
            last=self.weather.end,
            usable_years=self.usable_years,
            obstacle=self.obstacle or None,
            years=self.years(),
            days=self.rows(days),
            notes=self.notes,
            files=tuple(str(file) for file in self.files),
            new_days=self.new_days,
            filled_days=self.filled_days,
        )


def show_weather(folder: Path, today: date, *, fetching: Fetching = AS_USUAL) -> WeatherAnswer:
    """Return the yard's weather as its file or station gives it."""
    yard = read_settings(folder)
    return _answer(yard, today, read_weather(yard, today, fetching=fetching))


def fetch_weather(
    folder: Path,
    today: date,
    *,
    station: str | None = None,
    file: Path | None = None,
    fetching: Fetching = AS_USUAL,
    as_it_stands: bool = False,
    progress: Progress = silent,
) -> WeatherAnswer:
    """Fetch a station's weather into the yard's store, and write it to a file if one is named.

    Without `station` it is that of the yard, or the nearest; what is in `file` is replaced. With
    `as_it_stands` a station that the yard does not go by is believed without a question. `progress`
    is told of each year. Raises FaultsError if such a station's weather can hardly be the yard's;
    no file is written then.
    """
    from fruitcast.weather.formats import ask, read_weather_file
    from fruitcast.weather.judge import questions
    from fruitcast.weather.table import write_weather_csv

    yard = read_settings(folder)
    name = station or yard.weather.station or NEAREST
    source = replace(yard.weather, file=None, station=name)
    weather = read_weather(
        replace(yard, weather=source), today, fetching=fetching, progress=progress
    )
    if name != yard.weather.station and not as_it_stands:
        own = yard.weather.file
        known = read_weather_file(own, as_it_stands=True) if own and own.exists() else None
        past = weather.cut(weather.start, today)
        limits = default_numbers().doubt.weather
        ask(past, questions(past, limits, known=known, latitude=yard.site.latitude))
    answer = _answer(yard, today, weather)
    if fetching.now is not None and yard.weather.contact is None:
        from fruitcast.weather.site_forecast import has_forecast

        if not has_forecast(answer.weather, today):
            answer = replace(answer, notes=(*answer.notes, NO_FORECAST))
    if file is not None:
        write_weather_csv(answer.weather, file)
        answer = replace(answer, files=(file,))
    if name == yard.weather.station or file == yard.weather.file:
        return answer
    hint = (
        f'The yard goes by {_name_of(yard)}. To go by this station, write station = "{name}" under '
        "[weather] in yard.toml, in place of what stands there."
    )
    return replace(answer, notes=(*answer.notes, hint))


def import_weather(
    folder: Path,
    today: date,
    file: Path,
    *,
    units: System | None = None,
    replace_values: bool = False,
    as_it_stands: bool = False,
    asked: bool = True,
) -> WeatherAnswer:
    """Take a weather file of any readable form into the yard's own weather file.

    Days already there stay, and the file as it was is kept beside; with `replace_values` the new
    ones replace others observed on the same days. `units` ('metric', 'us' or 'tenths') are those of
    columns that name none. `as_it_stands` says that the file is believed without a question,
    `asked` that this is the grower's answer: then nothing asks about these days again. Raises
    InputError if the two files say different things of a day; nothing is written then; FaultsError
    if one of them cannot be read, or the new one can hardly be true of the yard.
    """
    from fruitcast.weather.formats import read_weather_file
    from fruitcast.weather.known import without_future
    from fruitcast.weather.stations import file_notes
    from fruitcast.weather.table import combined, contradictions, count_days, list_days, weather_csv

    yard = read_settings(folder)
    target = yard.weather.file or yard.folder / WEATHER_FILE
    before = read_weather_file(target, as_it_stands=True) if target.exists() else None
    weather = read_new_weather(file, before, yard.site, units=units, as_it_stands=as_it_stands)
    notes = file_notes(file, yard.site)
    if not as_it_stands:
        weather, left_out = without_future(weather, today)
        notes += left_out
    new_days, filled, files = int(days_with_values(weather).sum()), 0, {target: b""}
    if before is not None:
        differ = contradictions(before, weather)
        if differ.any() and not replace_values:
            raise InputError(
                f"{file}: {count_days(int(differ.sum()))} differ from what {target.name} has "
                f"({list_days(weather, differ, 3)}). Add --replace to take these values in their "
                "place, or leave those days out."
            )
        weather = replace(combined(before, weather), origin=target.name)
        there = weather.cut(before.start, before.end + timedelta(days=1))
        new_days = int(days_with_values(weather).sum() - days_with_values(there).sum())
        filled = _filled(before, weather)
        files[target.with_name(target.name + BACKUP_SUFFIX)] = target.read_bytes()
    files[target] = weather_csv(weather).encode()
    write_all_atomically(files)
    if as_it_stands and asked:
        believe_weather(yard, today, weather.end)
    answer = replace(_answer(yard, today, weather), files=tuple(files))
    answer = replace(answer, new_days=new_days, filled_days=filled)
    answer = replace(answer, notes=(*notes, *answer.notes))
    if yard.weather.file is not None:
        return answer
    hint = (
        f"The yard goes by {_name_of(yard)}. To go by this file, write "
        f'file = "{WEATHER_FILE}" under [weather] in yard.toml, in place of the station.'
    )
    return replace(answer, notes=(*answer.notes, hint))


def days_with_values(weather: DailyWeather) -> BoolArray:
    """Return the days of which a table has any value."""
    import numpy as np

    found = np.zeros(weather.days, dtype=bool)
    for column in weather.values.values():
        found |= np.isfinite(column)
    return found


def _filled(before: DailyWeather, after: DailyWeather) -> int:
    """Return of how many days of a table a longer one knows what the first lacked."""
    import numpy as np

    from fruitcast.weather.daily import NEEDED

    there = after.cut(before.start, before.end + timedelta(days=1))
    filled = np.zeros(before.days, dtype=bool)
    for name in NEEDED:
        filled |= np.isnan(before.values[name]) & np.isfinite(there.values[name])
    return int(filled.sum())


def read_new_weather(
    file: Path,
    before: DailyWeather | None,
    site: Point | None,
    *,
    units: System | None = None,
    as_it_stands: bool = False,
) -> DailyWeather:
    """Return the weather in a file that a yard has not had so far, if it can be the yard's.

    `before` is what the yard has, `site` where it is, if that is more than an example; the others
    as in `import_weather`. Raises FaultsError if it cannot be read, or something in it must be
    asked about.
    """
    from fruitcast.tables.faults import Question
    from fruitcast.weather.formats import ask, read_weather_file
    from fruitcast.weather.stations import measured_away

    latitude = None if site is None else site.latitude
    weather = read_weather_file(
        file, units=units, as_it_stands=as_it_stands, known=before, latitude=latitude
    )
    away = math.nan if site is None or as_it_stands else measured_away(file, site)
    if away > default_numbers().doubt.weather.far:
        far = f"it says that it was measured {away:.0f} km from the yard"
        remedy = "See whose weather it is, and latitude and longitude in yard.toml"
        ask(weather, (Question(far, remedy),))
    return weather


def _name_of(yard: Yard) -> str:
    source = yard.weather
    return source.file.name if source.file is not None else f"station {source.station}"


def _answer(yard: Yard, today: date, weather: DailyWeather) -> WeatherAnswer:
    from fruitcast.weather.known import known_weather

    years: tuple[int, ...] = ()
    obstacle, problem, notes = "", "", (*yard.warnings, *weather.notes)
    gauge = read_yard_state(yard, today).rain_gauge
    try:
        known, years = known_weather(weather, today, horizon_days(), gauge)
        years = years[-yard.weather.years :]
        notes = (*yard.warnings, *known.notes)
    except FruitcastError as error:
        obstacle = str(error)
        problem = error.problem if isinstance(error, WeatherGapError) else obstacle
    return WeatherAnswer(yard, today, weather, years, obstacle, notes, problem=problem)
