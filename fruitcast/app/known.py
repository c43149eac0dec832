"""What is known on a day: the yard, its diary and its weather, read and checked."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from fruitcast.app.changed_model import Before, numbers_of
from fruitcast.app.doubts import doubt_of_clock, doubts
from fruitcast.diary.plan import GoesBy
from fruitcast.diary.state import YardState
from fruitcast.errors import InputError
from fruitcast.numbers import Numbers, default_numbers
from fruitcast.progress import Progress, silent
from fruitcast.weather.stations import AS_USUAL, Fetching
from fruitcast.yard.model import Yard

if TYPE_CHECKING:
    from fruitcast.weather.daily import DailyWeather

DEFAULT_WEEKS = 26
"""Horizon of a plan. [week]"""

CACHE_FOLDER = ".weather"
"""Folder in the yard in which fetched station data are kept."""

EXTRA_YEARS = 4
"""Years of station weather fetched beyond the members': spawn runs look back so far."""


@dataclass(frozen=True)
class KnownYard:
    """All that planning on a day may know."""

    today: date
    yard: Yard  # settings and stacks, with the saleable share that the picks have taught
    state: YardState  # what the diary says
    weather: DailyWeather  # complete up to yesterday, forecasts from today on
    years: tuple[int, ...]  # past years that stand for the possible futures
    numbers: Numbers  # the numbers with the grower's own in place
    warnings: tuple[str, ...]  # what the grower should know
    published: GoesBy | None = None  # the published soaks to go by, see `publication.plan_to_go_by`
    # The plan published before with the model that it was made by; None without one.
    before: Before | None = None


def horizon_days(weeks: int = DEFAULT_WEEKS) -> int:
    """Return how many days from today past years must have weather for to plan so many weeks."""
    from fruitcast.forecast.outlook import days_ahead

    return days_ahead(weeks, tail_days=default_numbers().schedule.tail_days)


def read_weather(
    yard: Yard, today: date, *, fetching: Fetching = AS_USUAL, progress: Progress = silent
) -> DailyWeather:
    """Return the yard's weather as its file or station gives it.

    What a station reports may come in with nobody there to ask: days that can hardly be right
    are set aside.

    `progress` is told of each year of a station.
    """
    if yard.weather.file is not None:
        from fruitcast.weather.formats import read_weather_file
        from fruitcast.weather.stations import file_notes

        weather = read_weather_file(yard.weather.file, as_it_stands=True)
        notes = file_notes(yard.weather.file, yard.site)
        return replace(weather, notes=(*weather.notes, *notes))
    if yard.weather.station is None:
        raise InputError(
            "yard.toml [weather]: neither a file nor a station is named. Write "
            'file = "weather.csv" or station = "nearest".'
        )
    from fruitcast.weather.judge import set_aside
    from fruitcast.weather.station import fetch_station

    first = date(today.year - yard.weather.years - EXTRA_YEARS, 1, 1)
    kept_in = fetching.folder or yard.folder / CACHE_FOLDER
    noon = datetime(today.year, today.month, today.day, 12, tzinfo=yard.site.timezone)
    weather = fetch_station(
        yard.site,
        yard.weather.station,
        first,
        today + timedelta(days=16),
        cache_folder=kept_in,
        now=fetching.now or noon,
        offline=fetching.offline,
        progress=progress,
    )
    weather = set_aside(weather, today, default_numbers().doubt.weather)
    # On a day that was given nobody can say what is forecast for it.
    if yard.weather.contact is None or fetching.now is None:
        return weather
    from fruitcast.weather.site_forecast import with_site_forecast

    return with_site_forecast(
        weather,
        yard.site,
        yard.site.timezone,
        yard.weather.contact,
        cache_folder=kept_in,
        now=fetching.now,
        offline=fetching.offline,
    )


def read_known(
    folder: Path,
    today: date,
    days_ahead: int,
    *,
    fetching: Fetching = AS_USUAL,
    progress: Progress = silent,
) -> KnownYard:
    """Return what is known of a yard on a day.

    For `days_ahead` past years must have weather; the rest as in `read_weather`. Raises InputError
    with all faults at once if the yard or its weather cannot be read; WeatherGapError if the
    weather is too short or too full of gaps.
    """
    from fruitcast.app.publication import plan_before
    from fruitcast.diary.state_from_diary import read_yard_state
    from fruitcast.weather.known import known_weather
    from fruitcast.yard.reading import read_yard

    yard = read_yard(folder, today)
    state = read_yard_state(yard, today)
    if state.losses.flushes:
        yard = yard.with_saleable(state.losses.share)
    state, to_go_by, told = _with_published(yard, state, today)
    weather = read_weather(yard, today, fetching=fetching, progress=progress)
    weather, years = known_weather(weather, today, days_ahead, state.rain_gauge)
    years, numbers = years[-yard.weather.years :], numbers_of(yard)
    warnings = (
        *told,
        *doubt_of_clock(yard, fetching.now),
        *yard.warnings,
        *weather.notes,
        *state.notes,
        *doubts(yard, state, weather, years, today, days_ahead, numbers),
    )
    if weather.attribution:
        warnings = (*warnings, weather.attribution)
    return KnownYard(
        today, yard, state, weather, years, numbers, warnings, to_go_by, plan_before(yard, today)
    )


def _with_published(
    yard: Yard, state: YardState, today: date
) -> tuple[YardState, GoesBy | None, tuple[str, ...]]:
    """Return the state with the published soaks that still bind, all of them, and notes on them."""
    from fruitcast.app.publication import last_plan, plan_to_go_by
    from fruitcast.diary.kept_plan import DamagedPlanError
    from fruitcast.diary.state_from_diary import left_undone, published_soaks, released, unplanned

    try:
        to_go_by = plan_to_go_by(yard, today)
    except DamagedPlanError as error:
        return replace(state, published={}), None, (str(error),)
    if not to_go_by:
        return replace(state, published={}), to_go_by, ()
    # Dates of lots that are parted otherwise now bind nobody, nor does a day let go again.
    new = unplanned(to_go_by.stacks, state)
    loose = new | released(last_plan(yard, today), state)
    soaks = tuple(soak for soak in to_go_by.soaks if soak.stack not in loose)
    coming = published_soaks(soaks, state.stacks, today)
    return (
        replace(state, published=coming, unplanned=new),
        GoesBy(soaks=soaks, stacks=to_go_by.stacks),
        tuple(left_undone(soaks, state.stacks, today)),
    )
